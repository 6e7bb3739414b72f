//! Heat that was commanded and is not seen.
//!
//! The nominal oven's reading is driven by the commanded duty alone, its liner by the reading that
//! was seen. Above that liner both readings rise and fall together on every oven of the spread, the
//! slowest two thirds as far as the nominal one. Where one rises and the other does not, no heat
//! arrives, or none of it at the sensor.

use super::{Expectation, View};
use crate::persist::Persist;
use crate::units::{Celsius, Kelvins, TICKS_PER_SECOND, Tick};

/// Rise of the nominal reading that must show, K: two thirds of it are 8 K …
const DUE_K: f32 = 12.0;
/// … a rise of the reading that shows it, K …
const SEEN_K: f32 = 2.0;
/// … within so long: one sample is kept every so many seconds …
const SAMPLE_S: u32 = 10;
/// … and so many are.
const SAMPLES: usize = 18;
/// A rise that is due may stay unseen for so long, s.
const UNSEEN_S: u32 = 60;
/// A door or a fan moves the air in ways the nominal oven does not follow for so long, ticks.
const SETTLE_TICKS: u32 = 120 * TICKS_PER_SECOND;

/// Follows both readings while heat is allowed.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Response {
    past: [Option<Above>; SAMPLES],
    seconds: u32,
    disturbed: Option<Tick>,
    missing: Persist,
}

/// Both readings above the nominal liner.
#[derive(Clone, Copy, Debug)]
struct Above {
    due: Kelvins,
    seen: Kelvins,
}

impl Above {
    fn of(expectation: &Expectation, reading: Celsius) -> Self {
        let liner = expectation.liner;
        Self { due: expectation.reading_nominal - liner, seen: reading - liner }
    }

    /// A rise was due since `past` and is not seen.
    fn is_unseen_since(self, past: Self) -> bool {
        (self.due - past.due).0 >= DUE_K && (self.seen - past.seen).0 < SEEN_K
    }
}

impl Response {
    /// True when a rise that was due has been missing for its time.
    pub(super) fn is_missing(&mut self, view: &View<'_>) -> bool {
        let moved = view.door.open || view.door.air_falls || view.inputs.airflow == Some(false);
        if moved {
            self.disturbed = Some(view.now);
        }
        let settled = self.disturbed.is_none_or(|when| view.now.since(when) >= SETTLE_TICKS);
        let judged = view.baking && view.commanded.is_allowed() && view.standing.fan_is_known;
        let expectation = view.expectation.filter(|_| judged && settled);
        let Some((expectation, reading)) = expectation.and_then(|all| Some((all, all.reading?)))
        else {
            *self = Self { disturbed: self.disturbed, ..Self::default() };
            return false;
        };
        let unseen = self.is_unseen(Above::of(expectation, reading));
        self.missing.held(unseen, UNSEEN_S)
    }

    fn is_unseen(&mut self, now: Above) -> bool {
        let unseen = self.past.iter().flatten().any(|past| now.is_unseen_since(*past));
        if self.seconds.is_multiple_of(SAMPLE_S) {
            self.past.rotate_right(1);
            self.past[0] = Some(now);
        }
        self.seconds = self.seconds.wrapping_add(1);
        unseen
    }
}
