//! The governor: from a window for the parts to a setpoint for the air.
//!
//! Every five seconds the bounds give the least and greatest temperature any point would settle at
//! with the air and liner as they are. Their distance from the reading is what stands between the
//! reading and the parts: liner, wall view, spots, sensor error, all of it, signed. `lo` and `hi`
//! are the readings that would keep the slowest part just above `at_least` and the fastest just
//! below `at_most`.

use crate::bake::Soak;
use crate::units::{Celsius, Kelvins};

/// Seconds between two looks at the equilibria.
const LOOK_S: u8 = 5;
/// Share of a new look in the smoothed value.
const SMOOTHING: f32 = 0.15;
/// Held this far under `hi` while parts lag, K.
const UNDER_HI_K: f32 = 0.5;
/// Boost per K the hottest part is still below `at_most`.
const BOOST_FACTOR: f32 = 0.5;
/// The hottest part is kept this far below `at_most` by the boost, K.
const BOOST_MARGIN_K: f32 = 1.0;
/// The coldest must fall this far below `at_least` to be out again, K.
const OUT_AGAIN_K: f32 = 0.5;

/// State of the governor within one soak.
#[derive(Clone, Copy, Debug, Default)]
pub struct Governor {
    below_k: Option<f32>,
    above_k: Option<f32>,
    seconds: u8,
    is_in: bool,
}

/// What the governor looks at.
#[derive(Clone, Copy, Debug)]
pub struct Look {
    /// Reading the equilibria are judged at.
    pub held: Celsius,
    /// Least and greatest equilibrium of any point at that reading, liner as it is.
    pub equilibria: Option<(Celsius, Celsius)>,
    /// Coldest bound.
    pub coldest: Celsius,
    /// Hottest bound, predicted with the heater off.
    pub hottest_ahead: Celsius,
}

impl Governor {
    /// True when the equilibria are wanted this second.
    #[must_use]
    pub fn wants_equilibria(&self) -> bool {
        self.seconds == 0
    }

    /// Coldest part in the window.
    #[must_use]
    pub fn is_in(&self) -> bool {
        self.is_in
    }

    /// One second: the setpoint.
    pub fn second(&mut self, soak: &Soak, look: &Look) -> Celsius {
        if let Some((least, greatest)) = look.equilibria {
            smooth(&mut self.below_k, (look.held - least).0);
            smooth(&mut self.above_k, (greatest - look.held).0);
        }
        self.seconds = if self.seconds + 1 >= LOOK_S { 0 } else { self.seconds + 1 };
        let at_least =
            if self.is_in { soak.at_least - Kelvins(OUT_AGAIN_K) } else { soak.at_least };
        self.is_in = look.coldest >= at_least;
        let lo = soak.at_least + Kelvins(self.below_k.unwrap_or(0.0));
        let hi = soak.at_most - Kelvins(self.above_k.unwrap_or(0.0));
        // However far the parts stay below the air, the air goes no further than it was allowed.
        let ceiling = soak.at_most + soak.boost;
        if self.is_in {
            // Where the span is too narrow, `hi` wins: a part too hot is lost, one too cold waits.
            return Celsius(0.5 * (lo.0 + hi.0)).min(hi).min(ceiling);
        }
        let room_k = (soak.at_most - look.hottest_ahead).0 - BOOST_MARGIN_K;
        let boost_k = if soak.boost.0 > 0.0 { BOOST_FACTOR * room_k.max(0.0) } else { 0.0 };
        (hi + Kelvins(boost_k - UNDER_HI_K)).min(ceiling)
    }
}

fn smooth(value: &mut Option<f32>, new: f32) {
    if new.is_finite() {
        *value = Some(value.map_or(new, |old| old + SMOOTHING * (new - old)));
    }
}
