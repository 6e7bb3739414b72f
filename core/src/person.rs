//! The two buttons at the oven: GO held says yes, STOP never leads to heat.
//!
//! GO held 2 s and let go is one press with one meaning, whatever is asked. One that is not let go
//! within 10 s says nothing: a contact that sticks must not answer for a person. STOP held 5 s answers
//! "fail" where a question knows that answer; released earlier it ends the bake.

use crate::units::TICKS_PER_SECOND;

/// GO must be held so long before it is let go, ticks …
pub const GO_TICKS: u32 = 2 * TICKS_PER_SECOND;
/// … and no longer than this.
pub const GO_MAX_TICKS: u32 = 10 * TICKS_PER_SECOND;
/// STOP must be held so long to mean "fail", ticks.
pub const FAIL_TICKS: u32 = 5 * TICKS_PER_SECOND;

/// What a button has said.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Press {
    /// GO was held long enough, and let go.
    Go,
    /// STOP was held long enough to mean "fail".
    Fail,
    /// STOP was pressed and released.
    Stop,
}

/// Follows both buttons.
#[derive(Clone, Copy, Debug, Default)]
pub struct Buttons {
    go_ticks: u32,
    stop_ticks: u32,
}

impl Buttons {
    /// Takes this tick's contacts.
    pub fn tick(&mut self, go: bool, stop: bool) -> Option<Press> {
        if !(go || stop) && self.go_ticks == 0 && self.stop_ticks == 0 {
            // Nearly every tick.
            return None;
        }
        let released_after = if stop { 0 } else { self.stop_ticks };
        // Closed in the first tick and open in this: the one between them is the last it was held in.
        let let_go_after = if go || stop { 0 } else { self.go_ticks.saturating_add(1) };
        self.stop_ticks = if stop { self.stop_ticks.saturating_add(1) } else { 0 };
        self.go_ticks = if go && !stop { self.go_ticks.saturating_add(1) } else { 0 };
        if self.stop_ticks == FAIL_TICKS {
            Some(Press::Fail)
        } else if released_after > 0 && released_after < FAIL_TICKS {
            Some(Press::Stop)
        } else if (GO_TICKS..=GO_MAX_TICKS).contains(&let_go_after) {
            Some(Press::Go)
        } else {
            None
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn presses(go: bool, stop: bool, ticks: u32, buttons: &mut Buttons) -> u32 {
        (0..ticks).filter(|_| buttons.tick(go, stop).is_some()).count() as u32
    }

    #[test]
    fn go_speaks_once_it_is_let_go_after_two_seconds() {
        let mut buttons = Buttons::default();
        assert_eq!(presses(true, false, 18, &mut buttons), 0);
        assert_eq!(buttons.tick(false, false), None, "too short");
        assert_eq!(presses(true, false, 19, &mut buttons), 0);
        assert_eq!(buttons.tick(false, false), Some(Press::Go));
        assert_eq!(presses(false, false, 500, &mut buttons), 0);
    }

    #[test]
    fn go_that_sticks_says_nothing_not_even_once_it_comes_free() {
        let mut buttons = Buttons::default();
        assert_eq!(presses(true, false, 100, &mut buttons), 0);
        assert_eq!(presses(false, false, 100, &mut buttons), 0);
        assert_eq!(presses(true, false, 99, &mut buttons), 0);
        assert_eq!(buttons.tick(false, false), Some(Press::Go), "the longest that is a press");
    }

    #[test]
    fn stop_held_means_fail_and_stop_tapped_means_stop() {
        let mut buttons = Buttons::default();
        assert_eq!(presses(false, true, 49, &mut buttons), 0);
        assert_eq!(buttons.tick(false, true), Some(Press::Fail));
        assert_eq!(buttons.tick(false, false), None);
        assert_eq!(buttons.tick(false, true), None);
        assert_eq!(buttons.tick(false, false), Some(Press::Stop));
    }

    #[test]
    fn go_with_stop_pressed_says_nothing() {
        let mut buttons = Buttons::default();
        assert_eq!(presses(true, true, 49, &mut buttons), 0);
        assert_eq!(buttons.tick(true, false), Some(Press::Stop));
        assert_eq!(buttons.tick(false, false), None);
    }
}
