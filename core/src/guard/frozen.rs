//! A frame of which no bit changes, the cold junction's included, where the oven's reading must have.
//!
//! What the nominal oven moves by is asked at once. What the lowest and the highest of the spread do
//! is asked once the frame has stood for so long that this alone is strange: while heat is on they
//! move in seconds that a coarse converter does not show.

use super::View;
use crate::judge::Reason;
use crate::units::{Celsius, TICKS_PER_SECOND};

/// Rise or fall of a model's reading that an unchanged frame is allowed, K …
const FROZEN_K: f32 = 1.0;
/// … or in steps of the converter.
const FROZEN_STEPS: f32 = 4.0;
/// An unchanged frame is not called frozen before, ticks.
const FROZEN_TICKS: u32 = 2 * TICKS_PER_SECOND;
/// One that stands for so long is strange, ticks: noise alone would change it.
const STRANGE_TICKS: u32 = 60 * TICKS_PER_SECOND;

/// Follows the models while the frame stands.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Frozen {
    /// The nominal, lowest and highest reading as the frame last changed.
    from: Option<[Celsius; 3]>,
}

impl Frozen {
    /// True when a model has moved by more than a frame that stands can hide.
    pub(super) fn is_frozen(&mut self, view: &View<'_>) -> bool {
        let Some(expectation) = view.expectation else { return false };
        let models =
            [expectation.reading_nominal, expectation.reading_lowest, expectation.reading_highest];
        let stood_ticks = view.air.unchanged_ticks;
        // What nobody has read anew is stale.
        let stale = view.air.doubt.is_some_and(|doubt| doubt.reason == Reason::Stale);
        if stale || stood_ticks < TICKS_PER_SECOND {
            self.from = None;
            return false;
        }
        let from = *self.from.get_or_insert(models);
        let asked = if stood_ticks < STRANGE_TICKS { 1 } else { models.len() };
        let moved = models.iter().zip(&from).take(asked).map(|(now, from)| (*now - *from).0.abs());
        let allowed_k = FROZEN_K.max(FROZEN_STEPS * view.standing.resolution.0);
        moved.fold(0.0, f32::max) >= allowed_k && stood_ticks >= FROZEN_TICKS && view.baking
    }
}
