//! No part is ever colder or hotter than the controller says.
//!
//! Goal: over many plants the spread allows, half of them at its corners, the coldest and hottest
//! bounds enclose every cell of every part at every second of every shipped bake. Method: rehearse,
//! then compare the log's bounds with the plant's own temperatures. The draws differ from those any
//! figure of the bounds was found on. `TRUESOAK_DRAWS` sets how many plants a bake is tried on.

#[path = "bounds_support/enclosed.rs"]
mod enclosed;

use enclosed::margins;
use truesoak::rehearse::Request;
use truesoak::report::result::Verdict;
use truesoak::trial::plant;
use truesoak_tests::{draws, quick, rehearsed, setup};

/// Plants each is tried on.
const PLANTS: u64 = 6;

fn holds(bake: &str, set: &[&str]) {
    holds_where(bake, set, &[]);
}

/// The same where more is true than the controller is told.
fn holds_where(bake: &str, set: &[&str], true_besides: &[&str]) {
    let setup = setup(bake, set);
    let truth = truesoak_tests::setup(bake, &[set, true_besides].concat());
    let (mut worst_cold, mut worst_hot) = (f64::INFINITY, f64::INFINITY);
    let (mut passes, mut trips) = (0, Vec::new());
    for number in 0..draws(PLANTS) {
        let request = Request {
            truth: &truth,
            exactly: Some(plant(&setup, number)),
            seed: number + 1,
            ..quick(&setup)
        };
        let rehearsal = rehearsed(&request);
        let (cold, hot) = margins(&rehearsal.trace);
        worst_cold = worst_cold.min(cold);
        worst_hot = worst_hot.min(hot);
        let result = &rehearsal.result;
        assert!(
            cold >= 0.0 && hot >= 0.0,
            "{bake} {set:?} {true_besides:?}, plant {number}: bounds off by {cold:.3} and {hot:.3} K"
        );
        let false_pass = result.verdict == Verdict::Pass && result.truth != Some(Verdict::Pass);
        assert!(!false_pass, "{bake} {set:?} {true_besides:?}, plant {number}: a false pass");
        passes += u64::from(result.verdict == Verdict::Pass);
        // A sensor that has truly moved may be found out.
        let right = |kind: &str| kind == "sensor-moved" && !true_besides.is_empty();
        let false_trips = result.trips.iter().filter(|trip| !right(&trip.kind));
        trips.extend(false_trips.map(|trip| (number, trip.kind.clone())));
    }
    println!(
        "{bake} {set:?} {true_besides:?}: {} plants, coldest bound at least {worst_cold:.2} K below, hottest at \
         least {worst_hot:.2} K above, {passes} passed, false trips {trips:?}",
        draws(PLANTS)
    );
    assert!(trips.is_empty(), "{bake} {set:?} {true_besides:?}: false trips {trips:?}");
}

#[test]
fn gas_out_in_natural_convection() {
    holds("gas-out-hubs.toml", &[]);
}

#[test]
fn cure_from_cold() {
    holds("cure-hubs.toml", &[]);
}

#[test]
fn cure_in_an_oven_started_hot() {
    holds("cure-hubs.toml", &["bake.oven_starts_at=\"100 °C\""]);
}

#[test]
fn a_heavy_rack_and_thin_parts() {
    holds("gas-out-chain-guards-300f.toml", &[]);
}

#[test]
fn doors_from_short_to_long_in_the_middle_of_a_soak() {
    for open_for in ["10 s", "60 s", "240 s"] {
        holds("door-mid-soak.toml", &[&format!("bake.door.1.open_for=\"{open_for}\"")]);
    }
}

#[test]
fn an_oven_without_a_door_switch() {
    holds("door-mid-soak.toml", &["oven.door.switch=false"]);
}

#[test]
fn a_thick_lump_with_thin_clips() {
    holds("gas-out-crown.toml", &["bake.step.\"gas-out\".soak.for=\"5 min\""]);
}

#[test]
fn a_polymer_in_cells_behind_a_fan() {
    holds("low-cure-pedals.toml", &["bake.step.\"low cure\".soak.for=\"20 min\""]);
}

#[test]
fn mixed_metals_over_a_whole_day() {
    holds("whole-day.toml", &[]);
}

#[test]
fn loads_from_light_to_heavy() {
    holds("gas-out-hubs.toml", &["load.part.1.count=1", "load.part.2.count=1"]);
    holds("gas-out-hubs.toml", &["load.part.1.count=10", "load.part.2.count=60"]);
}

#[test]
fn parts_that_see_the_element() {
    let wider = "bake.step.\"gas-out\".soak.at_least=\"145 °C\"";
    holds("gas-out-hubs.toml", &["oven.heater.heater_view=0.05", wider]);
}

#[test]
fn a_fan_oven_whose_door_stands_open_for_an_hour() {
    holds("whole-day.toml", &["bake.door.2.open_for=\"60 min\""]);
}

#[test]
fn sheet_so_thin_that_it_falls_by_kelvins_in_a_second_of_an_opened_fan_oven() {
    let sheet = "{ weighed = { mass = \"20 g\", thickest = \"0.6 mm\", thinnest = \"0.3 mm\" } }";
    let sheet = format!("load.part.2.shape={sheet}");
    holds("whole-day.toml", &["bake.door.2.open_for=\"60 min\"", &sheet]);
}

#[test]
fn two_sensors_of_which_one_has_moved() {
    let two = ["oven.sensor_b.lag=\"30 s\"", "oven.sensor_b.wall_view=0.25"];
    holds("gas-out-hubs.toml", &two);
    for moved in ["sensor", "sensor_b"] {
        for by in ["-5 °C", "5 °C"] {
            let correction = format!("oven.{moved}.correction=\"{by}\"");
            holds_where("gas-out-hubs.toml", &two, &[&correction]);
            holds_where("low-cure-pedals.toml", &two, &[&correction]);
        }
    }
}
