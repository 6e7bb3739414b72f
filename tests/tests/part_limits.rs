//! Parts that stand little more than their window asks of them.
//!
//! Goal: with nothing wrong none of these bakes ends in a trip. Method: the three of 5,864 that did
//! while the governor took the liner as it was: full power had it warm on past the window's end. Then
//! bakes made at random, each on a plant at a corner and on one inside; `TRUESOAK_DRAWS` sets how many.

#[path = "bounds_support/patient.rs"]
mod patient;

use patient::tight;
use truesoak::rehearse::{Bench, Case};
use truesoak::trial::plant;
use truesoak_tests::draws;

/// Bakes made at random that are tried.
const BAKES: u64 = 12;
/// Plants of each.
const PLANTS: u64 = 2;
/// Where their numbers begin.
const FIRST: u64 = 7_100_000;

/// What tripped in one bake on one plant.
fn trips(number: u64) -> Vec<String> {
    let setup = tight(number / PLANTS);
    // Of the drawn bakes the desk refuses some.
    let Ok(bench) = Bench::new(&setup) else { return Vec::new() };
    let case = Case { truth: &setup, draw: plant(&setup, number), seed: number + 1 };
    let mut trace = bench.trace(&case, false);
    let Ok(ran) = bench.bake(&case, &mut trace) else { return Vec::new() };
    let result = bench.result(&case, &ran, &mut trace);
    result.trips.into_iter().map(|trip| trip.kind).collect()
}

#[test]
fn a_liner_that_still_warms_carries_no_part_past_what_it_stands() {
    for number in [14_002_440, 14_003_110, 14_005_710] {
        assert_eq!(trips(number), Vec::<String>::new(), "plant {number}");
    }
}

#[test]
fn bakes_whose_parts_stand_little_more_than_their_window_do_not_trip() {
    for number in PLANTS * FIRST..PLANTS * (FIRST + draws(BAKES)) {
        assert_eq!(trips(number), Vec::<String>::new(), "plant {number}");
    }
}
