//! The board's tick against a clock that knows nothing of it: credit is time.

use super::View;

/// Window of the comparison, ticks.
const WINDOW: u32 = 100;
/// Largest difference in it, ticks: 2 %.
const DIFFERENCE: u32 = 2;

/// Own and independent ticks at the start of a window, and what the last whole window said.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Clock {
    start: Option<(u32, u32)>,
    wrong: bool,
}

impl Clock {
    /// The two went apart; never where none is fitted.
    pub(super) fn is_wrong(&mut self, view: &View<'_>) -> bool {
        let Some(independent) = view.inputs.independent_ticks else { return false };
        let (own_start, independent_start) = *self.start.get_or_insert((view.now.0, independent));
        let own = view.now.0.wrapping_sub(own_start);
        if own >= WINDOW {
            self.start = Some((view.now.0, independent));
            let counted = independent.wrapping_sub(independent_start);
            self.wrong = own.abs_diff(counted) > DIFFERENCE;
        }
        self.wrong
    }
}
