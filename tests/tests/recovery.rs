//! After a door the air is back about as soon as one switch of full power can have it back.
//!
//! Goal: a recovery takes at most 1.10 of what the fastest single switch takes that knows the plant
//! and no noise. Method: shipped bakes whose doors tried the loop most, each with its own noises; the
//! switch's seconds are those `cargo bench -p truesoak-tests --bench control` finds on the plant as
//! it was when the door closed.

use truesoak::rehearse::Request;
use truesoak_tests::{quick, rehearsed, setup};

/// Most a recovery takes of the fastest single switch's time.
const SLOWER: f64 = 1.10;
/// Noises each bake is run with.
const SEEDS: u64 = 6;

/// Seconds from the closing of a door, counted from 0, to the reading being back.
fn back_s(bake: &str, door: usize, seed: u64) -> f64 {
    let setup = setup(bake, &[]);
    let rehearsal = rehearsed(&Request { seed, ..quick(&setup) });
    let door = rehearsal.result.doors.get(door).expect("a door");
    door.recovered_s.expect("back again") - door.closed_s.expect("closed again")
}

/// The setpoint falls by 3.5 K a minute as the reading comes to it, because the liner warms.
#[test]
fn a_setpoint_that_comes_down_meanwhile_does_not_hold_it_up() {
    const SWITCH_S: f64 = 312.0;
    for seed in 1..=SEEDS {
        let took_s = back_s("gas-out-hubs", 0, seed);
        assert!(took_s <= SLOWER * SWITCH_S, "seed {seed}: {took_s} s of {SWITCH_S}");
    }
}

/// A sensor that has cooled among warm walls rises so fast at first that its peak is guessed high.
#[test]
fn full_power_given_up_too_soon_is_taken_up_again() {
    const SWITCH_S: f64 = 122.0;
    for seed in 1..=SEEDS {
        let took_s = back_s("door-mid-soak", 1, seed);
        assert!(took_s <= SLOWER * SWITCH_S, "seed {seed}: {took_s} s of {SWITCH_S}");
    }
}
