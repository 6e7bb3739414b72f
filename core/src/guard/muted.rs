//! Rows made blind, to show that the fault campaign notices: tests only.

use super::{Guard, TripKind};

/// A row that finds nothing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Muted {
    /// Whatever would trip under this kind.
    Trip(TripKind),
    /// The air's answer is never found outside the spread.
    OutsideModel,
    /// The part probe is never found to disagree.
    ProbeDisagrees,
}

impl Guard {
    /// This row finds nothing from now on.
    pub fn mute(&mut self, row: Muted) {
        self.muted = Some(row);
    }

    /// The row that finds nothing.
    pub(crate) fn is_muted(&self, row: Muted) -> bool {
        self.muted == Some(row)
    }
}
