//! Temperatures of the bound models as integers, so that a slow state never stalls and a log
//! replays to the same bits.
//!
//! WHY: a plain `f32` lag of 2000 s stops a third of a kelvin short, because its increments fall
//! below half a unit in the last place. Increments are `f32`, sums are integer micro-kelvin.

use crate::units::Celsius;

/// Micro-kelvin in one kelvin.
const PER_KELVIN: f32 = 1_000_000.0;
/// A micro-kelvin, K: multiplying by it costs a fraction of a division.
const STEP_K: f32 = 1.0 / PER_KELVIN;
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
        Self(whole_steps(value.0)).held()
    }

    /// The temperature, °C.
    pub(super) fn celsius(self) -> f32 {
        self.0 as f32 * STEP_K
    }

    /// Half way between two.
    pub(super) fn middle(first: Self, second: Self) -> Self {
        // Neither half overflows, and a micro-kelvin lost to rounding is none.
        Self(first.0 / 2 + second.0 / 2)
    }

    /// Further away from another by a sixteenth of what lies between.
    pub(super) fn beyond(self, other: Self) -> Self {
        // Neither sixteenth overflows, nor does their sum with what is in range.
        Self(self.0 + (self.0 / 16 - other.0 / 16)).held()
    }

    /// Adds a change, K; not-a-number adds nothing, too much ends at the range's end.
    pub(super) fn change(&mut self, by_k: f32) {
        // In 64 bits no sum passes its end: cheaper than a sum that stops there, and its end after that.
        let moved = i64::from(self.0) + i64::from(whole_steps(by_k));
        *self = Self(moved.clamp(LEAST.into(), GREATEST.into()) as i32);
    }

    fn held(self) -> Self {
        Self(self.0.clamp(LEAST, GREATEST))
    }
}

/// Nearest whole number of micro-kelvins; past 4 K, where an `f32` holds no half of one, within one
/// of it. The cast cuts off, saturates, and turns a not-a-number into 0.
fn whole_steps(kelvins: f32) -> i32 {
    let steps = kelvins * PER_KELVIN;
    (steps + libm::copysignf(0.5, steps)) as i32
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

    #[test]
    fn steps_are_rounded_as_the_library_rounds() {
        for step in -20_000..20_000 {
            let small = step as f32 * 0.3 * STEP_K;
            assert_eq!(whole_steps(small), libm::roundf(small * PER_KELVIN) as i32);
            let large = step as f32 * 0.013;
            let off = whole_steps(large) - libm::roundf(large * PER_KELVIN) as i32;
            assert!(off.abs() <= 1, "{large}: {off}");
        }
    }
}
