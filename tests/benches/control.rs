//! How well the shipped bakes are controlled, on their nominal plants: `cargo bench -p
//! truesoak-tests --bench control`. Prints; judges nothing.
//!
//! A recovery is measured against the fastest single switch: full power from the door's closing,
//! and from one instant on the power that will have the air's reading at the setpoint half a minute
//! later. The switch comes as late, to a second, as the reading's peak allows, 2 K above the
//! setpoint. It knows the plant and no noise; the controller knows neither.

use truesoak::compile::{self, tuning::tune};
use truesoak::files::Setup;
use truesoak::plant::{Draw, Plant};
use truesoak::rehearse::{Board, Observer, Runner, Trace, World, model_of, run};
use truesoak_core::Controller;
use truesoak_core::event::Event;
use truesoak_core::record::Record;
use truesoak_tests::setup;

/// Most the reading may pass the setpoint by after the switch, K.
const PEAK_ABOVE_K: f64 = 2.0;
/// A reading this close to its setpoint is back, K …
const BACK_K: f64 = 1.0;
/// … for so long, s.
const BACK_S: u32 = 30;
/// The peak comes within so long of the switch, s.
const PEAK_WITHIN_S: u32 = 300;
/// The power after the switch is chosen for the reading so much later, s.
const AHEAD_S: u32 = 30;
/// No recovery takes longer, s.
const LONGEST_S: u32 = 2_048;
/// Noises every bake is run with.
const SEEDS: u64 = 10;
/// Ticks in a second.
const TICKS: u32 = 10;

const BAKES: [&str; 8] = [
    "gas-out-hubs",
    "cure-hubs",
    "low-cure-pedals",
    "whole-day",
    "door-mid-soak",
    "gas-out-chain-guards-300f",
    "gas-out-crown",
    "give-up",
];

fn main() {
    println!("the reading in the last 20 min of the longest soak, and in any soak");
    println!("{:28}{:>14}{:>14}{:>14}", "bake", "mean error K", "true air sd K", "overshoot K");
    let courses: Vec<Course> =
        BAKES.iter().flat_map(|bake| (1..=SEEDS).map(|seed| Course::of(bake, seed))).collect();
    for course in courses.iter().step_by(SEEDS as usize) {
        let (mean_k, sd_k, overshoot_k) = course.trace.steadiness();
        let shown = |value: Option<f64>| value.map_or("-".to_owned(), |v| format!("{v:+.3}"));
        println!("{:28}{:>14}{:>14}{overshoot_k:>14.2}", course.name, shown(mean_k), shown(sd_k));
    }
    println!("\nback within 1 K of the setpoint after a door, s from its closing, {SEEDS} noises");
    println!(
        "{:28}{:>9}{:>12}{:>16}{:>8}{:>8}",
        "bake", "closed", "controller", "single switch", "ratio", "worst"
    );
    for courses in courses.chunks(SEEDS as usize) {
        print_recoveries(courses);
    }
}

/// One bake run, and the plant as it was each time the door closed.
struct Course {
    name: &'static str,
    setup: Setup,
    trace: Trace,
    closings: Vec<(f64, Plant)>,
}

/// Keeps the plant at every closing beside what is kept anyway.
struct Watcher {
    trace: Trace,
    closings: Vec<(f64, Plant)>,
}

impl Observer for Watcher {
    fn event(&mut self, now: u32, event: Event, runner: &dyn Runner, world: &World) {
        if event == Event::DoorClosed {
            self.closings.push((f64::from(now) / f64::from(TICKS), world.plant.clone()));
        }
        self.trace.event(now, event, runner, world);
    }
    fn second(&mut self, now: u32, record: &Record, runner: &dyn Runner) {
        self.trace.second(now, record, runner);
    }
    fn truth(&mut self, now: u32, done: u32, world: &World) {
        self.trace.truth(now, done, world);
    }
}

impl Course {
    fn of(name: &'static str, seed: u64) -> Self {
        let setup = setup(name, &[]);
        let model = model_of(&setup).expect("a model");
        let settings = compile::settings(&setup.oven, tune(&setup, &model).tuning);
        let draw = Draw::nominal(&setup.oven);
        let mut world = World::new(&setup.bake, &setup.oven, &setup.load, &draw, &setup.oven, seed);
        let mut board = Board::new(Controller::new(setup.bake.bake.clone(), model, settings));
        let trace = Trace::new(&setup.bake, &setup.load, true);
        let mut watcher = Watcher { trace, closings: Vec::new() };
        run(&mut board, &mut world, false, &mut watcher);
        watcher.trace.chronicle.judge_doors(&watcher.trace.rows);
        Self { name, setup, trace: watcher.trace, closings: watcher.closings }
    }

    /// Every recovery: when the door closed, how long the controller took and how long the fastest
    /// single switch, s.
    fn recoveries(&self) -> Vec<(f64, f64, Option<u32>)> {
        let doors = &self.trace.chronicle.doors;
        let mut recoveries = Vec::new();
        for (closed_s, plant) in &self.closings {
            let door = doors.iter().find(|door| door.closed_s == Some(*closed_s));
            let Some(back_s) = door.and_then(|door| door.recovered_s) else { continue };
            let Some(setpoint_c) = self.setpoint_at(back_s) else { continue };
            let best = fastest_switch(plant, &self.setup, setpoint_c);
            recoveries.push((*closed_s, back_s - closed_s, best));
        }
        recoveries
    }

    fn setpoint_at(&self, second: f64) -> Option<f64> {
        self.trace.rows.iter().find(|row| row.t_s() >= second).and_then(|row| row.setpoint_c)
    }
}

/// Of every door the recoveries with all noises, the slowest by ratio beside the mean.
fn print_recoveries(courses: &[Course]) {
    let all: Vec<Vec<(f64, f64, Option<u32>)>> = courses.iter().map(Course::recoveries).collect();
    let Some(first) = all.first() else { return };
    for (door, (closed_s, ..)) in first.iter().enumerate() {
        let of_door = all.iter().filter_map(|recoveries| recoveries.get(door));
        let with_best: Vec<(f64, f64)> =
            of_door.filter_map(|(_, took_s, best)| Some((*took_s, f64::from((*best)?)))).collect();
        let count = with_best.len() as f64;
        let mean = |of: fn(&(f64, f64)) -> f64| with_best.iter().map(of).sum::<f64>() / count;
        let (took_s, best_s) = (mean(|pair| pair.0), mean(|pair| pair.1));
        let worst = with_best.iter().map(|(took_s, best_s)| took_s / best_s).fold(0.0, f64::max);
        let name = courses.first().map_or("", |course| course.name);
        println!(
            "{name:28}{closed_s:>9.0}{took_s:>12.0}{best_s:>16.0}{:>8.2}{worst:>8.2}",
            took_s / best_s
        );
    }
}

/// Seconds from the closing to being back for the latest switch whose peak is allowed; none where
/// it does not bring the reading back. The later the switch, the higher the peak and the sooner the
/// reading is back.
fn fastest_switch(plant: &Plant, setup: &Setup, setpoint_c: f64) -> Option<u32> {
    let power_w = setup.oven.heater.power_w;
    let mut heated = vec![plant.clone()];
    for _ in 1..LONGEST_S {
        let mut next = heated.last().expect("one at least").clone();
        next.set_power(power_w);
        let reading_c = second(&mut next);
        heated.push(next);
        if reading_c > setpoint_c + PEAK_ABOVE_K {
            break;
        }
    }
    let hold = |switch_s: usize| hold(heated[switch_s].clone(), power_w, setpoint_c);
    let (mut allowed_s, mut too_late_s) = (0, heated.len() - 1);
    while too_late_s - allowed_s > 1 {
        let middle_s = usize::midpoint(allowed_s, too_late_s);
        if hold(middle_s).0 <= setpoint_c + PEAK_ABOVE_K {
            allowed_s = middle_s;
        } else {
            too_late_s = middle_s;
        }
    }
    hold(allowed_s).1.map(|back_s| back_s + u32::try_from(allowed_s).expect("an hour at most"))
}

/// The highest reading from a switch on, °C, and when the reading was back, s from the switch.
fn hold(mut plant: Plant, full_w: f64, setpoint_c: f64) -> (f64, Option<u32>) {
    let (mut peak_c, mut streak, mut back_s) = (f64::NEG_INFINITY, 0, None);
    for after_s in 1..=PEAK_WITHIN_S {
        let power_w = holding_power(&plant, full_w, setpoint_c);
        plant.set_power(power_w);
        let reading_c = second(&mut plant);
        peak_c = peak_c.max(reading_c);
        streak = if (reading_c - setpoint_c).abs() <= BACK_K { streak + 1 } else { 0 };
        if streak == BACK_S && back_s.is_none() {
            back_s = Some(after_s.saturating_sub(BACK_S));
        }
    }
    (peak_c, back_s)
}

/// Power that will have the reading at the setpoint some seconds ahead: linear between none and full.
fn holding_power(plant: &Plant, full_w: f64, setpoint_c: f64) -> f64 {
    let ahead = |watts: f64| {
        let mut plant = plant.clone();
        plant.set_power(watts);
        (0..AHEAD_S).map(|_| second(&mut plant)).last().unwrap_or(f64::NAN)
    };
    let (none_c, full_c) = (ahead(0.0), ahead(full_w));
    full_w * ((setpoint_c - none_c) / (full_c - none_c)).clamp(0.0, 1.0)
}

/// One second on; what the sensor shows without its noise, °C.
fn second(plant: &mut Plant) -> f64 {
    let mut left = TICKS;
    while left > 0 {
        let taken = plant.attempt(left);
        plant.take(taken);
        left -= taken;
    }
    plant.shown_at(0).air_c
}
