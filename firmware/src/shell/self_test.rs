//! The self-test: what must be seen before heat is possible.
//!
//! | what | when | seen by |
//! |---|---|---|
//! | memory | boot, then once a minute | the board's pattern |
//! | program | boot | the board's checksum |
//! | store | boot | it opens and takes a write |
//! | settings | boot, then once a minute | read back, the same as in use |
//! | permit | two seconds from boot | the contactor's feedback says open, as nothing toggled it |
//! | clock | the same two seconds | the independent one counts as many ticks |
//!
//! That sensors answer is looked at in every tick. Until the two seconds are over nothing starts.
//! What is not fitted, by the settings, is not tested.

use truesoak_core::io::Inputs;
use truesoak_core::units::{TICKS_PER_SECOND, Tick};

/// How long permit and clock are looked at. The pump holds the contactor for at most 0.7 s after a
/// reset in a bake, and 50 ms more go by until its mirror contact says so.
pub(super) const TEST_TICKS: u32 = 2 * TICKS_PER_SECOND;
/// Ticks two sound clocks may be apart after them: each may be in the middle of one.
const APART_MAX: u32 = 2;

/// What permit and clock showed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Shown {
    pub permit_open: bool,
    pub clocks_agree: bool,
}

/// The self-test.
#[derive(Clone, Copy, Debug)]
pub(super) struct SelfTest {
    /// Memory and program.
    pub memory: bool,
    /// The settings in the store are those in use.
    pub settings: bool,
    begun: Option<(Tick, Option<u32>)>,
    shown: Option<Shown>,
}

impl SelfTest {
    /// Begun; memory and program have been looked at.
    pub fn new(memory: bool) -> Self {
        Self { memory, settings: true, begun: None, shown: None }
    }

    /// Takes a tick's inputs; looks at none once the two seconds are over.
    pub fn tick(&mut self, now: Tick, inputs: &Inputs) {
        let (begun, independent) = *self.begun.get_or_insert((now, inputs.independent_ticks));
        let own = now.since(begun);
        if self.shown.is_some() || own < TEST_TICKS {
            return;
        }
        let counted = inputs.independent_ticks.zip(independent);
        let counted = counted.map(|(now, begun)| now.wrapping_sub(begun));
        self.shown = Some(Shown {
            permit_open: inputs.permit_feedback != Some(true),
            clocks_agree: counted.is_none_or(|counted| own.abs_diff(counted) <= APART_MAX),
        });
    }

    /// Other parts are fitted: permit and clock are looked at again.
    pub fn again(&mut self) {
        (self.begun, self.shown) = (None, None);
    }

    /// What permit and clock showed; `None` while they are looked at.
    pub fn shown(&self) -> Option<Shown> {
        self.shown
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn after(ticks: u32, inputs: impl Fn(u32) -> Inputs) -> Option<Shown> {
        let mut test = SelfTest::new(true);
        for tick in 0..ticks {
            test.tick(Tick(tick), &inputs(tick));
        }
        test.shown()
    }

    fn clocked(independent: u32) -> Inputs {
        let permit_feedback = Some(false);
        Inputs { independent_ticks: Some(independent), permit_feedback, ..Inputs::NOTHING }
    }

    #[test]
    fn nothing_is_known_before_two_seconds_and_then_all_is() {
        assert_eq!(after(TEST_TICKS, clocked), None);
        let well = Some(Shown { permit_open: true, clocks_agree: true });
        assert_eq!(after(TEST_TICKS + 1, clocked), well);
        assert_eq!(
            after(TEST_TICKS + 1, |_| Inputs::NOTHING),
            well,
            "what is not fitted is not tested"
        );
    }

    #[test]
    fn a_clock_that_stands_or_is_of_another_frequency_does_not_agree() {
        for wrong in [|_| 7, |tick| tick * 5 / 6, |tick| tick * 6 / 5] {
            let shown = after(TEST_TICKS + 1, |tick| clocked(wrong(tick))).unwrap();
            assert!(!shown.clocks_agree);
        }
    }

    #[test]
    fn a_contactor_that_is_closed_is_seen_and_one_that_lets_go_in_time_is_not() {
        let closed_for = |ticks| {
            let inputs =
                move |tick| Inputs { permit_feedback: Some(tick < ticks), ..Inputs::NOTHING };
            after(TEST_TICKS + 1, inputs).unwrap().permit_open
        };
        assert!(closed_for(8));
        assert!(!closed_for(TEST_TICKS + 1));
    }
}
