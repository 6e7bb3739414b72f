//! A condition that must last before it is believed.

/// Counts ticks in a row for which a condition held.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Persist {
    ticks: u32,
}

impl Persist {
    /// Takes this tick's condition; true once it has held for `ticks` ticks in a row.
    pub fn held(&mut self, condition: bool, ticks: u32) -> bool {
        self.ticks = if condition { self.ticks.saturating_add(1) } else { 0 };
        condition && self.ticks >= ticks
    }

    /// Ticks in a row so far.
    #[must_use]
    pub fn ticks(self) -> u32 {
        self.ticks
    }

    /// Starts again at nothing.
    pub fn clear(&mut self) {
        self.ticks = 0;
    }
}
