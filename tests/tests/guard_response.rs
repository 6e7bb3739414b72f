//! Heat that does not arrive: the trip held against the instant at which it is due.
//!
//! Goal: `no-response` comes within a minute of the instant at which the slowest oven of the spread,
//! fed the duty that was commanded, would have risen 8 K further than the reading did. Method: that
//! instant is found by the plants, not by the controller. Every corner of the spread that makes an
//! oven slow bakes up to the fault with a sound heater; from there on it gets the logged on-ticks of
//! the bake in which the heat is gone. The least rise among all was due; what the element still held
//! rises too, and that part of it was seen.
//! `TRUESOAK_DRAWS` sets on how many draws of the oven each fault is tried.

use truesoak::files::Setup;
use truesoak::files::bake::{FaultScript, Moment};
use truesoak::log::Row;
use truesoak::plant::{Draw, Plant};
use truesoak::rehearse::{Bench, Case, Observer, Request, Runner, World};
use truesoak_core::event::Event;
use truesoak_core::record::Record;
use truesoak_tests::{draws, quick, rehearsed, setup};

/// Draws each fault is tried on, besides the nominal plant.
const PLANTS: u64 = 6;

/// Rise that is due before anything is missing, K.
const DUE_K: f64 = 8.0;
/// The row's time from there, s.
const ROW_S: usize = 60;
/// Ticks of a second.
const TICKS: u32 = 10;
/// Step of the bake that soaks, from 0.
const SOAK: u8 = 2;

/// A small cabinet without a fan, and a large oven with one.
const STILL: &str = "gas-out-hubs.toml";
const FAN: &str = "whole-day.toml";

/// When the heat goes.
#[derive(Clone, Copy, Debug)]
enum When {
    /// s after the bake's start.
    Start(u32),
    /// s after the soak began.
    Soak(u32),
}

impl When {
    fn moment(self) -> Moment {
        match self {
            Self::Start(seconds) => Moment::SinceStart(f64::from(seconds)),
            Self::Soak(seconds) => Moment::SinceStep(usize::from(SOAK), f64::from(seconds)),
        }
    }
}

/// Corners that make an oven slow to answer: the weakest heater, the heaviest walls and the slowest
/// sensor, with every end of losses, exchange, radiant share and wall view.
fn slow_ovens(setup: &Setup) -> Vec<Draw> {
    let corner = |bits: usize| {
        Draw::at(&setup.oven, |field| match field {
            0 => (bits & 1) as f64,
            2 => (bits >> 1 & 1) as f64,
            4 => (bits >> 2 & 1) as f64,
            5 => (bits >> 3 & 1) as f64,
            1 | 6 => 1.0,
            3 => 0.0,
            _ => 0.5,
        })
    };
    (0..16).map(corner).collect()
}

/// Takes the plant of a sound bake at the moment the heat will go.
struct Catch {
    when: When,
    soak_began: Option<u32>,
    caught: Option<Plant>,
}

impl Catch {
    fn due(&self) -> Option<u32> {
        match self.when {
            When::Start(seconds) => Some(seconds * TICKS),
            When::Soak(seconds) => self.soak_began.map(|tick| tick + seconds * TICKS),
        }
    }
}

impl Observer for Catch {
    fn event(&mut self, now: u32, event: Event, _runner: &dyn Runner, _world: &World) {
        if event == Event::StepBegan(SOAK) {
            self.soak_began = Some(now);
        }
    }

    fn second(&mut self, _now: u32, _record: &Record, _runner: &dyn Runner) {}

    fn truth(&mut self, now: u32, done: u32, world: &World) {
        if self.caught.is_none() && self.due().is_some_and(|due| now >= due) {
            let mut plant = world.plant.clone();
            plant.take(done);
            self.caught = Some(plant);
        }
    }
}

/// An oven of the spread with a sound heater, at the moment the other's heat goes.
#[derive(Clone)]
struct Sound {
    plant: Plant,
    power_w: f64,
}

impl Sound {
    fn at(bench: &Bench<'_>, setup: &Setup, draw: Draw, when: When) -> Self {
        let mut catch = Catch { when, soak_began: None, caught: None };
        let case = Case { truth: setup, draw, seed: 1 };
        bench.bake(&case, &mut catch).unwrap_or_else(|refusal| panic!("{refusal}"));
        let plant = catch.caught.expect("the bake gets there");
        Self { plant, power_w: setup.oven.heater.power_w * draw.heater_power }
    }

    /// Rise of what the sensor shows, K, second by second under the on-ticks that were commanded.
    fn rises(mut self, on_ticks: &[u8]) -> Vec<f64> {
        let from_c = self.plant.shown_at(0).air_c;
        let second = |on: &u8| {
            for tick in 0..TICKS {
                self.plant.set_power(if tick < u32::from(*on) { self.power_w } else { 0.0 });
                let done = self.plant.attempt(1);
                self.plant.take(done);
            }
            self.plant.shown_at(0).air_c - from_c
        };
        on_ticks.iter().map(second).collect()
    }
}

/// A bake whose heat goes, second by second from the fault to the trip.
struct Heatless {
    /// Ticks the heater was commanded on.
    on_ticks: Vec<u8>,
    /// Rise of the reading since the fault, K; a fall is none.
    seen_k: Vec<f64>,
    /// From the fault to the trip, s.
    took_s: f64,
}

fn without_heat(setup: &Setup, kind: &str, when: When, draw: Option<u64>) -> Heatless {
    let mut faulty = setup.clone();
    faulty.bake.faults =
        vec![FaultScript { at: when.moment(), kind: kind.to_owned(), for_s: None, by_k: None }];
    let rehearsal = rehearsed(&Request { draw, ..quick(&faulty) });
    let trip = &rehearsal.result.trips[0];
    assert_eq!(trip.kind, "no-response", "{kind} {when:?} on draw {draw:?}");
    let at_s = trip.at_s.expect("scripted");
    let rows = rehearsal.trace.rows.iter().filter(|row| row.event.is_empty());
    let read_c = |row: &Row| row.air.map_or(f64::NAN, |air| f64::from(air.to_celsius().0));
    let before = rows.clone().take_while(|row| row.t_s() <= at_s.max(1.0)).last();
    let from_c = before.map_or(f64::NAN, read_c);
    let since = rows.filter(|row| row.t_s() > at_s && row.t_s() <= trip.detected_s);
    Heatless {
        on_ticks: since.clone().map(|row| row.on_ticks).collect(),
        seen_k: since.map(|row| (read_c(row) - from_c).max(0.0)).collect(),
        took_s: trip.detected_s - at_s,
    }
}

/// Runs a fault on every plant and holds its trip against the instant it was due.
fn trips_in_time(bake: &str, kind: &str, when: When) {
    let setup = setup(bake, &[]);
    let bench = Bench::new(&setup).unwrap_or_else(|refusal| panic!("{refusal}"));
    let slow: Vec<Sound> =
        slow_ovens(&setup).into_iter().map(|draw| Sound::at(&bench, &setup, draw, when)).collect();
    let mut latest_s = f64::NEG_INFINITY;
    let (mut longest_s, mut before) = (0.0_f64, 0);
    for draw in std::iter::once(None).chain((1..=draws(PLANTS)).map(Some)) {
        let Heatless { on_ticks, seen_k, took_s } = without_heat(&setup, kind, when, draw);
        let rises: Vec<_> = slow.iter().map(|oven| oven.clone().rises(&on_ticks)).collect();
        let unseen_k = |second: &usize| {
            rises.iter().map(|rise| rise[*second]).fold(f64::MAX, f64::min) - seen_k[*second]
        };
        longest_s = longest_s.max(took_s);
        let Some(due_s) = (0..on_ticks.len()).find(|second| unseen_k(second) >= DUE_K) else {
            before += 1;
            continue;
        };
        let late_s = took_s - (due_s + 1) as f64;
        assert!(late_s <= ROW_S as f64, "{kind} {when:?} on draw {draw:?}: {late_s} s after due");
        latest_s = latest_s.max(late_s);
    }
    println!(
        "{bake} {kind} {when:?}: at most {longest_s:.1} s after the fault, {latest_s:.1} s after {DUE_K} K \
         were due (of {ROW_S}); before that on {before} of {} plants",
        draws(PLANTS) + 1
    );
}

#[test]
fn a_dead_heater_trips_within_a_minute_of_the_rise_that_is_due() {
    for when in [When::Start(0), When::Start(20), When::Start(120), When::Start(600)] {
        trips_in_time(STILL, "heater-dead", when);
    }
    for minutes in [5, 40, 100] {
        trips_in_time(STILL, "heater-dead", When::Soak(60 * minutes));
    }
    for when in [When::Start(0), When::Start(120), When::Soak(5 * 60), When::Soak(40 * 60)] {
        trips_in_time(FAN, "heater-dead", when);
    }
}

#[test]
fn a_sensor_that_came_off_trips_within_a_minute_of_the_rise_that_is_due() {
    for when in [When::Start(0), When::Start(20), When::Start(600), When::Soak(40 * 60)] {
        trips_in_time(STILL, "sensor-detached", when);
    }
}
