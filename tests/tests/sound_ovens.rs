//! Sound ovens end no bake: plants that tripped once with nothing wrong.
//!
//! Goal: none of these bakes ends in a trip, nor do fresh ones whose parts stand little more than
//! their window asks of them. Each plant here had tripped once, one to three of some thousands made at
//! random; the name of its test says what it came by. `TRUESOAK_DRAWS` sets how many are fresh.

#[path = "bounds_support/patient.rs"]
mod patient;

use patient::{patient, tight};
use truesoak::files::Setup;
use truesoak::rehearse::{Bench, Case};
use truesoak::trial::plant;
use truesoak_tests::draws;

/// Bakes made at random that are tried.
const BAKES: u64 = 12;
/// Plants of each.
const PLANTS: u64 = 2;
/// Where their numbers begin.
const FIRST: u64 = 7_100_000;

/// No trip ends the bake that a plant is of; false where the desk refuses it.
fn holds(number: u64, made: fn(u64) -> Setup) -> bool {
    let setup = made(number / PLANTS);
    let Ok(bench) = Bench::new(&setup) else { return false };
    let case = Case { truth: &setup, draw: plant(&setup, number), seed: number + 1 };
    let mut trace = bench.trace(&case, false);
    let Ok(ran) = bench.bake(&case, &mut trace) else { return false };
    let trips = bench.result(&case, &ran, &mut trace).trips;
    let kinds: Vec<_> = trips.iter().map(|trip| trip.kind.as_str()).collect();
    assert_eq!(kinds, Vec::<&str>::new(), "plant {number}");
    true
}

#[test]
fn a_liner_that_still_warms_carries_no_part_past_what_it_stands() {
    assert!([14_002_440, 14_003_110, 14_005_710].into_iter().all(|number| holds(number, tight)));
}

#[test]
fn air_that_comes_past_its_predicted_peak_carries_no_part_past_what_it_stands() {
    assert!(holds(1_600_004_562, tight));
}

#[test]
fn a_rise_that_noise_keeps_from_slowing_for_some_seconds_is_no_weld() {
    let plants = [280_001_132, 280_006_176, 400_007_750];
    assert!(plants.into_iter().all(|number| holds(number, patient)));
}

#[test]
fn a_liner_that_warms_the_air_slowly_on_for_minutes_is_no_weld() {
    assert!(holds(1_680_002_518, tight) && holds(1_720_003_392, patient));
}

#[test]
fn a_reading_that_comes_up_from_where_its_element_left_it_misses_no_heat() {
    assert!(holds(280_000_406, patient));
}

#[test]
fn air_that_stands_just_below_its_limit_is_not_past_it_by_the_noise_of_a_second() {
    assert!([1_360_000_560, 1_480_009_304].into_iter().all(|number| holds(number, patient)));
}

#[test]
fn bakes_whose_parts_stand_little_more_than_their_window_do_not_trip() {
    let plants = PLANTS * FIRST..PLANTS * (FIRST + draws(BAKES));
    assert!(plants.filter(|number| holds(*number, tight)).count() > 0);
}
