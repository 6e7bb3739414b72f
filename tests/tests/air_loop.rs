//! The air loop's tuning, held against the plant and against python-control.
//!
//! Goal: the gains of every shipped bake leave a maximum sensitivity M_s of at most 1.6 on every
//! plant of the spread. Method: plants are held empty and loaded, linearised from their own flows,
//! and their M_s worked out by the tuning's arithmetic; the same plants are in
//! `snapshots/air-loops.csv` with the M_s that python-control finds for the exact sampled loop.

mod air_loop_support;

use air_loop_support::{AirLoop, BAKES, Case};
use std::f64::consts::TAU;
use truesoak::compile::check::findings;
use truesoak::compile::tuning::{SENSITIVITY_MAX, Tuned, drive_delay_s, note};
use truesoak::files::Setup;
use truesoak::files::oven::Drive;
use truesoak::plant::Draw;
use truesoak::rehearse::{Bench, model_of};
use truesoak_core::bake::Step;
use truesoak_core::regulate::modulate::Modulator;
use truesoak_tests::setup;

/// Most by which M_s may differ from the reference's: what lies between plant and controller is
/// taken as continuous here.
const APART: f64 = 0.001;
/// Draws of each bake besides its corners.
const DRAWS: u64 = 6;

/// Corners of the spread by what they do to the loop, as shares in the order of a draw's fields:
/// losses, wall heat capacity, exchange, power, radiant share, wall view, sensor lag. Quick and slow
/// is the sensor.
const CORNERS: [(&str, [f64; 7]); 5] = [
    ("nominal", [0.5; 7]),
    ("strong and quick", [0.0, 0.5, 0.0, 1.0, 0.0, 0.0, 0.0]),
    ("strong and slow", [0.0, 0.5, 0.0, 1.0, 0.0, 0.0, 1.0]),
    ("weak and quick", [1.0, 0.5, 1.0, 0.0, 1.0, 1.0, 0.0]),
    ("weak and slow", [1.0, 0.5, 1.0, 0.0, 1.0, 1.0, 1.0]),
];

/// Lowest and highest temperature a bake holds with heat, °C.
fn ends_c(case: &Case) -> (f64, f64) {
    let held = case.setup.bake.bake.steps.iter().filter_map(|step| match step {
        Step::Soak(soak) => Some((soak.at_least.0, soak.at_most.0)),
        _ => None,
    });
    let all = held.reduce(|all, one| (all.0.min(one.0), all.1.max(one.1))).expect("a soak");
    (f64::from(all.0), f64::from(all.1))
}

fn corner_loops() -> Vec<AirLoop> {
    let mut all = Vec::new();
    for bake in BAKES {
        let case = Case::of(bake);
        for (name, shares) in CORNERS {
            let share = |index: usize| shares.get(index).copied().unwrap_or(0.5);
            let draw = Draw::at(&case.setup.oven, share);
            all.extend(case.loops(name, &draw, ends_c(&case)));
        }
    }
    all
}

#[test]
fn the_sensitivity_of_every_shipped_loop_is_python_controls_and_at_most_1_6() {
    let table = include_str!("../snapshots/air-loops.csv");
    let mut rows = table.lines().filter(|line| !line.starts_with('#')).skip(1);
    let (mut apart, mut greatest) = (0.0_f64, 0.0_f64);
    for one in corner_loops() {
        let row = rows.next().expect("a row for each loop: write the table anew");
        let (name, numbers) = row.split_once(',').expect("a name and numbers");
        assert_eq!(name, one.name);
        let numbers: Vec<f64> =
            numbers.split(',').map(|number| number.parse().expect("a number")).collect();
        let tuning = &one.tuned.tuning;
        let gains = [tuning.gain_per_k, tuning.integral_time_s, tuning.derivative_time_s];
        for (ours, theirs) in gains.iter().zip(&numbers) {
            let off = (f64::from(*ours) / theirs - 1.0).abs();
            assert!(off < 1e-3, "{name}: {gains:?} now, write air-loops.csv anew as it says");
        }
        let (ours, theirs) = (one.sensitivity(), numbers[3]);
        println!("{name:60} {ours:.4} {theirs:.4}, tables at worst {:.4}", one.tuned.sensitivity);
        assert!((ours - theirs).abs() < APART, "{name}: {ours} against {theirs}");
        assert!(theirs <= SENSITIVITY_MAX, "{name}: {theirs}");
        apart = apart.max((ours - theirs).abs());
        greatest = greatest.max(theirs);
    }
    assert!(rows.next().is_none(), "more rows than loops: write the table anew");
    println!("largest deviation {apart:.4}, greatest M_s {greatest:.4}");
}

#[test]
fn no_draw_of_the_spread_is_more_sensitive() {
    for bake in BAKES {
        let case = Case::of(bake);
        let greatest = (1..=DRAWS)
            .flat_map(|number| {
                let draw = Draw::nth(&case.setup.oven, number);
                case.loops(&format!("draw {number}"), &draw, ends_c(&case))
            })
            .map(|one| one.sensitivity())
            .fold(0.0, f64::max);
        println!("{bake:28} {greatest:.3} on {DRAWS} draws");
        assert!(greatest <= SENSITIVITY_MAX, "{bake}: {greatest}");
    }
}

/// Gains of a person's own are taken; what they would do is said, and a loop that never settles is
/// refused.
#[test]
fn own_gains_are_noted_or_refused() {
    let with_gain = |gain: &str| {
        let gain = format!("oven.tuning.gain={gain} %/K");
        let times = ["oven.tuning.integral_time=150 s", "oven.tuning.derivative_time=10 s"];
        setup("gas-out-hubs", &[&gain, times[0], times[1]])
    };
    let noted = |setup: &Setup| note(setup, &model_of(setup).expect("compiles"));
    assert_eq!(noted(&with_gain("4")), None);
    let said = noted(&with_gain("15")).expect("a note");
    assert!(said.contains("M_s up to") && said.contains("gain = \""), "{said}");
    assert!(Bench::new(&with_gain("15")).is_ok());
    // What is proposed can be written back, and is calm.
    let computed = Case::of("gas-out-hubs").tuned.words();
    let values = computed.map(|(key, value)| format!("oven.tuning.{key}={value}"));
    assert_eq!(noted(&setup("gas-out-hubs", &values.each_ref().map(String::as_str))), None);
    let refused = Bench::new(&with_gain("200")).expect_err("never settles").to_string();
    assert!(refused.contains("swings without end") && refused.contains("gain"), "{refused}");
}

/// An oven no gains keep calm is refused with what would help.
#[test]
fn an_oven_that_no_gains_keep_calm_is_refused() {
    let case = Case::of("gas-out-hubs");
    let model = model_of(&case.setup).expect("compiles");
    let judged = |sensitivity: f64| {
        let tuned = Tuned { sensitivity, ..case.tuned };
        case.setup.refuse(findings(&case.setup, &model, &tuned)).to_string()
    };
    assert_eq!(judged(SENSITIVITY_MAX), "");
    assert!(judged(1.7).contains("shorten minimum_on and minimum_off"), "{}", judged(1.7));
}

/// Writes what `snapshots/air-loops.py` reads.
#[test]
#[ignore = "writes a file for the reference"]
fn writes_the_loops() {
    let path = std::env::var("TRUESOAK_LOOPS").expect("TRUESOAK_LOOPS names the file to write");
    let loops: Vec<_> = corner_loops().iter().map(AirLoop::json).collect();
    std::fs::write(path, serde_json::to_string(&loops).expect("numbers")).expect("can be written");
}

/// A small swing of the duty comes out of the drive no later than the tuning counts.
#[test]
fn the_drive_is_no_later_than_is_counted() {
    for (minimum_on_s, minimum_off_s) in [(1.0, 1.0), (1.0, 3.0), (3.0, 1.0), (0.1, 0.1)] {
        let counted_s = drive_delay_s(&Drive { minimum_on_s, minimum_off_s });
        let mut latest_s = f64::NEG_INFINITY;
        for duty in [0.1, 0.2, 0.35, 0.5, 0.7, 0.9] {
            for period_s in [90.0, 120.0, 300.0] {
                latest_s =
                    latest_s.max(drive_is_late_s(minimum_on_s, minimum_off_s, duty, period_s));
            }
        }
        println!("on {minimum_on_s} s, off {minimum_off_s} s: {latest_s:.2} s of {counted_s} s");
        assert!(latest_s <= counted_s + 0.05, "{minimum_on_s} {minimum_off_s}: {latest_s}");
    }
}

/// How late the drive is with a swing of half the duty either way: the phase of its fundamental.
fn drive_is_late_s(minimum_on_s: f64, minimum_off_s: f64, duty: f64, period_s: f64) -> f64 {
    let mut drive = Modulator::new(minimum_on_s as f32, minimum_off_s as f32);
    let swing = 0.5 * f64::min(duty, 1.0 - duty);
    let [mut asked, mut done] = [[0.0; 2]; 2];
    for tick in 0..(200.0 * 10.0 * period_s) as u32 {
        let second = f64::from(tick / 10);
        let now = duty + swing * (TAU * second / period_s).sin();
        let on = if drive.tick(now as f32) { 1.0 } else { 0.0 };
        let (sine, cosine) = (TAU * 0.1 * f64::from(tick) / period_s).sin_cos();
        for (sum, value) in [(&mut asked, now), (&mut done, on)] {
            sum[0] += (value - duty) * sine;
            sum[1] += (value - duty) * cosine;
        }
    }
    let phase = |sum: [f64; 2]| sum[1].atan2(sum[0]);
    (phase(asked) - phase(done)) * period_s / TAU
}
