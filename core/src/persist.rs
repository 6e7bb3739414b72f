//! A condition that must last before it is believed.

/// Counts the looks in a row, one a tick or one a second, at which a condition held.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Persist {
    count: u32,
}

impl Persist {
    /// Takes one look's condition; true once it has held at `looks` in a row.
    #[inline(never)] // a call is less than what it does, and a chip has a score of them
    pub fn held(&mut self, condition: bool, looks: u32) -> bool {
        self.count = if condition { self.count.saturating_add(1) } else { 0 };
        condition && self.count >= looks
    }

    /// Looks in a row so far.
    #[must_use]
    pub fn count(self) -> u32 {
        self.count
    }

    /// Starts again at nothing.
    pub fn clear(&mut self) {
        self.count = 0;
    }
}
