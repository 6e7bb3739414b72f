//! Temperatures of the bound models as integers, so that a slow state never stalls and a log
//! replays to the same bits.
//!
//! WHY: a plain `f32` lag of 2000 s stops a third of a kelvin short, because its increments fall
//! below half a unit in the last place. Increments are `f32`, sums are integer micro-kelvin.

use crate::units::Celsius;

/// Micro-kelvin in one kelvin.
const PER_KELVIN: f32 = 1_000_000.0;
/// Coldest value a state may take, µ°C: far below any room.
const LEAST: i32 = -200_000_000;
/// Hottest value a state may take, µ°C: far above any sheathed element.
const GREATEST: i32 = 2_000_000_000;

/// One temperature in micro-degrees Celsius.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Default)]
pub(super) struct State(i32);

impl State {
    /// Rounds to the micro-kelvin; not-a-number becomes 0 °C, out of range the nearest end.
    pub(super) fn at(value: Celsius) -> Self {
        Self(libm::roundf(value.0 * PER_KELVIN) as i32).held()
    }

    /// The temperature, °C.
    pub(super) fn celsius(self) -> f32 {
        self.0 as f32 / PER_KELVIN
    }

    /// Adds a change, K; not-a-number adds nothing, too much ends at the range's end.
    pub(super) fn change(&mut self, by_k: f32) {
        *self = Self(self.0.saturating_add(libm::roundf(by_k * PER_KELVIN) as i32)).held();
    }

    fn held(self) -> Self {
        Self(self.0.clamp(LEAST, GREATEST))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_lag_of_two_hours_arrives_within_five_millikelvin() {
        let mut state = State::at(Celsius(20.0));
        for _ in 0..200_000 {
            state.change((150.0 - state.celsius()) / 7200.0);
        }
        assert!((state.celsius() - 150.0).abs() < 0.005, "{}", state.celsius());
    }

    #[test]
    fn nothing_overflows_or_becomes_not_a_number() {
        let mut state = State::at(Celsius(f32::NAN));
        assert_eq!(state, State(0));
        state.change(f32::NAN);
        assert_eq!(state, State(0));
        state.change(f32::INFINITY);
        assert_eq!(state, State(GREATEST));
        state.change(f32::NEG_INFINITY);
        state.change(f32::NEG_INFINITY);
        assert_eq!(state, State(LEAST));
    }
}
