//! The eight invariants of the safety contract, each a small function over what truly happened.
//!
//! They look at the plant, at what was commanded and at the log's events; of the controller's own
//! beliefs they use only what it logs as a claim. Each gives what is wrong in words, or nothing.

use super::named::{Scenery, is_own_beside};
use super::scene::Scene;
use crate::rehearse::{FaultKind, Tally};
use truesoak_core::event::Ending;
use truesoak_core::guard::TripKind;
use truesoak_core::io::Question;

/// A part may pass its limit by this much for a single fault, K.
const OVER_K: f64 = 1.0;
/// The pump holds the contactor after the last toggle for at most so long, ticks (0.8 s, and one).
const HOLD_TICKS: u32 = 9;

/// One that does not hold.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Broken {
    /// Its number, 1 to 8.
    pub invariant: u8,
    /// When, ticks since the start.
    pub tick: u32,
    /// What happened.
    pub what: String,
}

/// How a run ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum End {
    /// The bake came to its end with every minute counted.
    Passed,
    /// The bake came to its end, some soak short.
    Short,
    /// Stopped by a person, too long, or a check failed.
    Unfinished,
    /// A trip.
    Tripped,
    /// It waits for a person who will not come.
    Waits,
    /// It would not start.
    NotStarted,
    /// None of these.
    Nowhere,
}

impl End {
    /// Its word.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Passed => "pass",
            Self::Short => "short",
            Self::Unfinished => "unfinished",
            Self::Tripped => "tripped",
            Self::Waits => "waits",
            Self::NotStarted => "no-start",
            Self::Nowhere => "nowhere",
        }
    }

    /// From how the bake ended, whether some soak was short, what is waited for in vain, and whether
    /// anything was ever begun.
    #[must_use]
    pub(super) fn of(
        ending: Option<Ending>,
        is_short: bool,
        waits: Option<Question>,
        begun: bool,
    ) -> Self {
        match ending {
            Some(Ending::Finished) if is_short => Self::Short,
            Some(Ending::Finished) => Self::Passed,
            Some(Ending::Tripped(_)) => Self::Tripped,
            Some(Ending::Stopped | Ending::TooLong | Ending::CheckFailed) => Self::Unfinished,
            None if waits.is_some() => Self::Waits,
            None if !begun => Self::NotStarted,
            None => Self::Nowhere,
        }
    }
}

/// INV-1: no heat is commanded one tick after a trip is latched, and none flows once the pump has
/// let go, unless the contactor itself is welded.
pub(super) fn no_heat_after_a_trip(
    since_trip: u32,
    allowed: bool,
    flows: bool,
    welded: bool,
) -> Option<String> {
    if since_trip >= 1 && allowed {
        return Some("heat was allowed with a trip latched".to_owned());
    }
    (since_trip > HOLD_TICKS && flows && !welded)
        .then(|| "current flows through the heater with a trip latched".to_owned())
}

/// INV-2: no bake is called a pass unless every part truly had its minutes in its window.
pub(super) fn no_false_pass(end: End, had_its_minutes: bool) -> Option<String> {
    (end == End::Passed && !had_its_minutes)
        .then(|| "called a pass, and some part had less than its minutes".to_owned())
}

/// INV-3: no part goes more than 1 K past its limit for any single fault, the coast included.
pub(super) fn no_part_over(scene: &Scene, tally: &Tally) -> Option<String> {
    let load = &scene.truth.load;
    let (part, over_k) = tally.worst_excess(load)?;
    let name = load.parts.get(part).map_or("", |part| part.name.as_str());
    (over_k > OVER_K).then(|| format!("\"{name}\" went {over_k:.1} K past what it stands"))
}

/// INV-4: nothing makes it panic.
pub(super) fn no_panic(said: Option<&str>) -> Option<String> {
    said.map(|said| format!("it panicked: {said}"))
}

/// INV-5: what is recounted from the rows and events that are logged is what the board counted.
pub(super) fn recounts(counted_s: u32, recounted_s: u32, bounds_agree: bool) -> Option<String> {
    if counted_s != recounted_s {
        return Some(format!("the board counted {counted_s} s, the recount {recounted_s} s"));
    }
    (!bounds_agree).then(|| "the recount has other bounds than the board".to_owned())
}

/// INV-6: every run ends: done, waiting for a person, or tripped with a reason.
pub(super) fn ends(end: End, may_not_start: bool) -> Option<String> {
    match end {
        End::Nowhere => Some("it neither ended nor waits for anybody".to_owned()),
        End::NotStarted if !may_not_start => Some("it did not start, for no reason".to_owned()),
        _ => None,
    }
}

/// INV-7: a fault-free bake inside the spread never trips.
pub(super) fn no_false_trip(tripped: TripKind, faults: usize) -> Option<String> {
    (faults == 0).then(|| format!("tripped {tripped} with nothing wrong"))
}

/// INV-8, its name: a fault on its own is reported under its own kind or not at all.
pub(super) fn own_kind(alone: FaultKind, tripped: TripKind, scenery: Scenery) -> Option<String> {
    let word = alone.word();
    (!is_own_beside(alone, tripped, scenery)).then(|| format!("{word} was reported as {tripped}"))
}

/// INV-8, its time: a fault that shows for longer than its row may take was missed.
pub(super) fn in_its_time(kind: FaultKind, shown_ticks: u32, by: &str) -> String {
    let word = kind.word();
    let shown_s = f64::from(shown_ticks) / 10.0;
    format!("{word} showed for {shown_s:.1} s and {by}")
}
