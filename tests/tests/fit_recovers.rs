//! A fit finds what is true of an oven: of ovens made by another program, and of the plant's own.
//!
//! The logs in `snapshots/fit-logs` are integrated by SciPy, from ovens that differ from the
//! project's plant on purpose; `snapshots/fit-logs.py` beside them says how. `benches/fit.rs` prints
//! the same for any number of them.

mod fit_support;

use fit_support::{PLATES, STEP_TEST, fitted, logged, of, oven};
use serde_json::Value;
use truesoak::fit::{Course, Quantity, fit};
use truesoak::log;
use truesoak::plant::Draw;
use truesoak_tests::path;

#[test]
fn intervals_hold_the_truth_of_ovens_made_by_another_program() {
    let folder = path("tests/snapshots/fit-logs");
    let text = std::fs::read_to_string(folder.join("truths.json")).unwrap();
    let truths: Vec<Value> = serde_json::from_str(&text).unwrap();
    let (mut all, mut held, mut told) = (0, 0, 0);
    for truth in &truths {
        let name = truth["log"].as_str().unwrap();
        let course = Course::of(&log::read(&folder.join(name)).unwrap(), name, &oven()).unwrap();
        let fitted = fit(&oven(), &[course]).unwrap();
        // Noise is 0.03 K; the rest is that these ovens are no such plant.
        assert!((0.02..0.5).contains(&fitted.air.rms_k), "{name}: {:?}", fitted.air);
        for estimate in &fitted.estimates {
            let key = estimate.quantity.key();
            let (low, high) = estimate.interval;
            let is_held = (low..=high).contains(&truth[key].as_f64().unwrap());
            (all, held) = (all + 1, held + usize::from(is_held));
            told += usize::from(estimate.is_told());
            if !is_held {
                println!("{name}: {key} is {}, not {low} to {high}", truth[key]);
            }
        }
        let losses = of(&fitted, Quantity::Losses);
        assert!(losses.is_told(), "{name}: {losses:?}");
    }
    assert_eq!(truths.len(), 12);
    assert!(held * 100 >= 93 * all, "{held} of {all}");
    // A fit that tells nothing holds the truth too.
    assert!(told >= 18, "{told} of {all}");
}

/// Another oven than the file says: what is asked is off by a good part of its spread.
fn other() -> Draw {
    let mut draw = Draw::nominal(&oven());
    draw.losses = 1.2;
    draw.wall_heat_capacity = 0.88;
    draw.part_exchange = 1.25;
    draw.heater_power = 0.94;
    draw.sensor_lag = 1.2;
    draw.wall_view = 0.07;
    draw
}

#[test]
fn the_plants_own_log_with_a_probe_tells_everything_and_truly() {
    let fitted = fitted(&[logged(&oven(), Some(PLATES), &other(), &STEP_TEST)]);
    let truth = other();
    assert!(fitted.air.rms_k < 0.02 && fitted.probe.rms_k < 0.02, "{fitted:?}");
    for (quantity, truth) in [
        (Quantity::Losses, truth.losses),
        (Quantity::WallHeatCapacity, truth.wall_heat_capacity),
        (Quantity::PartExchange, truth.part_exchange),
        (Quantity::HeaterPower, truth.heater_power),
        (Quantity::SensorLag, 12.0 * truth.sensor_lag),
        (Quantity::WallView, truth.wall_view),
    ] {
        let estimate = of(&fitted, quantity);
        let scale = if quantity.is_factor() { truth } else { 1.0 };
        assert!((estimate.value - truth).abs() / scale < 0.03, "{truth} by {estimate:?}");
        assert!(estimate.is_told(), "{estimate:?}");
        assert!(estimate.half() < estimate.was.1, "{estimate:?}");
    }
}

#[test]
fn without_a_probe_losses_and_walls_are_found_on_the_files_own_power() {
    let fitted = fitted(&[logged(&oven(), None, &other(), &STEP_TEST)]);
    let truth = other();
    // Twice of losses, walls and power is the same course: what is found is their ratio.
    for (quantity, truth) in [
        (Quantity::Losses, truth.losses / truth.heater_power),
        (Quantity::WallHeatCapacity, truth.wall_heat_capacity / truth.heater_power),
    ] {
        let estimate = of(&fitted, quantity);
        assert!((estimate.value / truth - 1.0).abs() < 0.03, "{truth} by {estimate:?}");
        let (low, high) = estimate.interval;
        assert!(low < truth * truth_power() && truth * truth_power() < high, "{estimate:?}");
    }
    assert!(of(&fitted, Quantity::SensorLag).is_told());
}

fn truth_power() -> f64 {
    other().heater_power
}

#[test]
fn a_sensor_that_is_off_and_a_warmer_room_move_nothing_out_of_its_interval() {
    let mut shifted = logged(&oven(), Some(PLATES), &other(), &STEP_TEST);
    for row in &mut shifted.rows {
        // 1.5 K, by the sensor or by the room: both are one to whoever reads it.
        row.air = row.air.map(|air| log::Reading(air.0 + 192));
    }
    let fitted = fitted(&[shifted]);
    for (quantity, truth) in [
        (Quantity::Losses, other().losses),
        (Quantity::HeaterPower, other().heater_power),
        (Quantity::PartExchange, other().part_exchange),
    ] {
        let (low, high) = of(&fitted, quantity).interval;
        assert!((low..=high).contains(&truth), "{truth}: {:?}", of(&fitted, quantity));
    }
}

#[test]
fn two_logs_tell_no_less_than_one() {
    let one = logged(&oven(), Some(PLATES), &other(), &STEP_TEST);
    let two = logged(&oven(), None, &other(), &STEP_TEST);
    let alone = fitted(std::slice::from_ref(&one));
    let both = fitted(&[one, two]);
    for quantity in Quantity::ALL {
        let (alone, both) = (of(&alone, quantity), of(&both, quantity));
        assert!(both.standard_error < 1.1 * alone.standard_error, "{alone:?} {both:?}");
    }
}
