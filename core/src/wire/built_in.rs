//! Bakes a board has of its own, for commissioning and to learn an oven from: a step test, a hold.
//!
//! Neither has a load, so neither needs a document of its own; but both heat, and the guard judges
//! heat by the oven's model. So they take the oven, gains and limits of the document that was sent
//! and put the board's steps and an empty cabinet in place of its own ([`BuiltIn::apply`]). Without
//! a document there is no model, and nothing heats.

use super::compiled::Compiled;
use crate::bake::{Cool, CoolOn, Ramp, Step};
use crate::units::{Celsius, Kelvins};
use heapless::Vec;
use serde::{Deserialize, Serialize};

/// Highest air of a step test, as the wiring guide's step 22 asks.
const STEP_TEST_TO: Celsius = Celsius(60.0);
/// Both end this far above the room, K …
const COOL_ABOVE_ROOM_K: f32 = 10.0;
/// … or here, whichever is higher.
const COOL_TO: Celsius = Celsius(40.0);
/// A hold stays this far below the bake's air limit. The governor keeps the air's upper bound 5 K clear
/// of it, and that lies above the reading by all that is not known of sensor and wall.
const HOLD_BELOW_LIMIT: Kelvins = Kelvins(20.0);
/// A hold creeps up by this, so that it ends by itself …
const HOLD_CREEPS: Kelvins = Kelvins(2.0);
/// … after so long, min.
const HOLD_MIN: f32 = 120.0;
/// Most time with heat, s: twice what a hold takes.
const BAKE_MAX_S: u32 = 4 * 3600;

/// A bake of the board's own.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum BuiltIn {
    /// Heats as hard as the limits allow to 60 °C, then cools: what an oven answers to a step. The
    /// loop does not close before the last kelvins, so `fit` reads power, air and walls from it.
    StepTest,
    /// Heats to 20 K below the bake's air limit and stays there for two hours, within 2 K; then
    /// cools: what an oven loses.
    Hold,
}

impl BuiltIn {
    /// Puts the board's steps and an empty cabinet in place of the document's.
    pub fn apply(self, compiled: &mut Compiled) {
        let Compiled { bake, model, .. } = compiled;
        model.classes.clear();
        model.rack = None;
        model.probe = None;
        let room = model.ambient;
        let least = room + Kelvins(2.0 * COOL_ABOVE_ROOM_K);
        let highest = bake.limits.air_max - HOLD_BELOW_LIMIT;
        let cool = Cool { to: COOL_TO.max(room + Kelvins(COOL_ABOVE_ROOM_K)), on: CoolOn::Air };
        let steps: Vec<Step, 3> = match self {
            Self::StepTest => {
                let to = STEP_TEST_TO.max(least).min(highest);
                [ramp(to, None), Step::Cool(cool)].into_iter().collect()
            }
            Self::Hold => {
                let rate = Kelvins(HOLD_CREEPS.0 / HOLD_MIN);
                let from = highest - HOLD_CREEPS;
                [ramp(from, None), ramp(highest, Some(rate)), Step::Cool(cool)]
                    .into_iter()
                    .collect()
            }
        };
        bake.steps.clear();
        // Three steps fit where 24 do.
        let _ = bake.steps.extend_from_slice(&steps);
        bake.limits.bake_max_s = BAKE_MAX_S;
    }
}

fn ramp(to: Celsius, rate_k_per_min: Option<Kelvins>) -> Step {
    Step::Ramp(Ramp { to, rate_k_per_min })
}
