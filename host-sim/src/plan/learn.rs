//! What a person could find out about an oven, and what the controller would then believe of it.
//!
//! Each way of finding out is played on the true oven of a draw: what is found is that oven's own,
//! as well as it can be known, and the spread left is what the way of finding out leaves.

use crate::files::Setup;
use crate::plant::{Draw, observed};
use truesoak_core::bake::Step;

/// GUESS: what a survey with several probes leaves unknown of a spot, K.
const SURVEY_K: f64 = 1.0;
/// GUESS: what a check in ice and in boiling water leaves unknown of a sensor, K: the water's
/// pressure, the bath, the display.
const CHECK_K: f64 = 0.7;
/// A correction is written down to a tenth, K.
const CORRECTION_STEP_K: f64 = 0.1;
/// A cool-down is timed to this share of the way back to the room.
const COOLED: f64 = 0.58;

/// A way of finding out: what is believed afterwards; `None` where it finds nothing out.
pub(super) type Learn = fn(&Setup, &Draw) -> Option<Setup>;

/// An empty heat-up and cool-down, timed with a kitchen clock.
pub(super) fn timing(setup: &Setup, draw: &Draw) -> Option<Setup> {
    let room_c = setup.oven.ambient_c;
    let hot_c = setup.bake.bake.steps.iter().find_map(|step| match step {
        Step::Soak(soak) => Some(f64::from(soak.at_least.0)),
        _ => None,
    })?;
    let cooled_c = hot_c - COOLED * (hot_c - room_c);
    let mut learned = setup.clone();
    learned.oven.observed = observed::timed(&setup.oven, draw, hot_c.round(), cooled_c.round())?;
    // A time that no oven of the spread explains teaches nothing.
    observed::apply(&mut learned.oven).ok()?;
    Some(learned)
}

/// The sensor checked in ice and in boiling water.
pub(super) fn sensor_check(setup: &Setup, draw: &Draw) -> Option<Setup> {
    let mut learned = setup.clone();
    let wrong_k = draw.sensor_offset_k;
    learned.oven.sensor.correction_k -=
        libm::round(wrong_k / CORRECTION_STEP_K) * CORRECTION_STEP_K;
    learned.oven.spread.sensor_offset_k = CHECK_K;
    (CHECK_K < setup.oven.spread.sensor_offset_k).then_some(learned)
}

/// The cold and the hot place found.
pub(super) fn survey(setup: &Setup, draw: &Draw) -> Option<Setup> {
    let mut learned = setup.clone();
    let (was, spread) = (&setup.oven.spread, &mut learned.oven.spread);
    spread.cold_spot_k = was.cold_spot_k.min(draw.cold_spot_k + SURVEY_K);
    spread.hot_spot_k = was.hot_spot_k.min(draw.hot_spot_k + SURVEY_K);
    Some(learned)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::files;
    use std::path::Path;

    fn shipped() -> Setup {
        let bakes = Path::new(env!("CARGO_MANIFEST_DIR")).join("../profiles/bakes");
        let bake = bakes.join("gas-out-hubs.toml");
        files::read(&bake, &[]).unwrap_or_else(|refusal| panic!("{refusal}"))
    }

    /// What is believed after a survey or a check is less, and still holds the true oven.
    #[test]
    fn what_is_learned_of_a_draw_leaves_that_draw_inside() {
        let setup = shipped();
        let was = setup.oven.spread;
        for number in 1..=200 {
            let draw = Draw::nth(&setup.oven, number);
            let surveyed = survey(&setup, &draw).expect("spots").oven.spread;
            assert!((draw.cold_spot_k..=was.cold_spot_k).contains(&surveyed.cold_spot_k));
            assert!((draw.hot_spot_k..=was.hot_spot_k).contains(&surveyed.hot_spot_k));
            let checked = sensor_check(&setup, &draw).expect("an offset").oven;
            let left_k = draw.sensor_offset_k + checked.sensor.correction_k;
            assert!(left_k.abs() <= 0.5 * CORRECTION_STEP_K + 1e-9, "{left_k} K is left");
            assert!(checked.spread.sensor_offset_k < was.sensor_offset_k);
        }
    }

    #[test]
    fn a_sensor_known_well_has_nothing_to_learn_from_a_check() {
        let mut setup = shipped();
        setup.oven.spread.sensor_offset_k = CHECK_K;
        let draw = Draw::nominal(&setup.oven);
        assert!(sensor_check(&setup, &draw).is_none());
    }

    #[test]
    fn a_timing_is_that_of_the_draw_it_was_made_on() {
        let setup = shipped();
        let mut slow = Draw::nominal(&setup.oven);
        let quick = slow;
        slow.wall_heat_capacity *= 1.2;
        let takes_s = |draw: &Draw| {
            let learned = timing(&setup, draw).expect("it gets there");
            learned.oven.observed.heats.expect("timed").in_s
        };
        let ratio = takes_s(&slow) / takes_s(&quick);
        assert!(ratio > 1.05 && ratio < 1.2, "{ratio}");
    }
}
