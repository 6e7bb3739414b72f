//! Which parts are in the oven.

use super::model::{CLASSES_MAX, Model};

/// What is inside: a set of part classes, and the rack.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub struct Present {
    /// One bit a class, the first class lowest.
    pub classes: u8,
    /// The rack is in.
    pub rack: bool,
}

impl Present {
    /// An empty oven.
    pub const NOTHING: Self = Self { classes: 0, rack: false };

    /// Everything the model knows.
    #[must_use]
    pub fn everything(model: &Model) -> Self {
        Self { classes: Self::bits(model, |_| true), rack: model.rack.is_some() }
    }

    /// What hangs in a gas-out soak.
    #[must_use]
    pub fn gas_out(model: &Model) -> Self {
        Self {
            classes: Self::bits(model, |index| {
                model.classes.get(index).is_some_and(|class| class.gas_out)
            }),
            rack: model.rack.is_some(),
        }
    }

    /// True when this class is in.
    #[must_use]
    pub fn has(self, class: usize) -> bool {
        class < CLASSES_MAX && self.classes >> class & 1 == 1
    }

    /// True when no part is in (the rack alone is no part).
    #[must_use]
    pub fn is_empty(self) -> bool {
        self.classes == 0
    }

    /// What is in either.
    #[must_use]
    pub fn or(self, other: Self) -> Self {
        Self { classes: self.classes | other.classes, rack: self.rack || other.rack }
    }

    fn bits(model: &Model, chosen: impl Fn(usize) -> bool) -> u8 {
        (0..model.classes.len().min(CLASSES_MAX))
            .filter(|&index| chosen(index))
            .fold(0, |bits, index| bits | 1 << index)
    }
}

/// The load as the rows of a track need it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Load {
    /// Inside; while loading, everything that may be.
    pub(super) present: Present,
    /// Parts carry their coating: the cure's emissivities hold.
    pub(super) coated: bool,
    /// The door is open for loading: anything present may be in or out.
    pub(super) loading: bool,
}
