//! How much heat, for how long: as much as the limits bear, or as little as the window needs.
//!
//! More heat at any time leaves nothing colder at any later time, so what may be done is told by one
//! trial: full power is borne as long as, with the heater off from then on for good, nothing passes
//! its limit. That makes full power up to a switch, found to a second, a coast that touches the
//! limit, and from there the greatest power that keeps to it, found anew every few seconds. The
//! least heat is the mirror image: none as long as, with what the limits bear from then on, the
//! coldest part stays in its window.
//!
//! It knows no step and no door but the next opening, and never asks what anybody believes.

use super::land;

/// Ticks of a second.
pub(super) const SECOND: u32 = 10;
/// Longest stretch of one power that is tried, ticks.
const LONGEST: u32 = 256 * SECOND;
/// Shares no further apart keep to a limit for long.
const STEADY: f64 = 0.1;
/// A part that must not get colder is heated for so long before none is tried again, ticks …
const WARMED: u32 = 60 * SECOND;
/// … and none is given for so long at least.
const UNHEATED: u32 = 8 * SECOND;
/// Share that keeps an oven at a limit before it is known better.
const USUAL: f64 = 0.3;
/// Longest step of a trial, ticks: a part's peak between two of them is missed by some thousandths
/// of a K.
const STEP: u32 = 20 * SECOND;
/// A trial that has not come to its peak by then is not worth more, ticks.
const TRIAL: u32 = 3600 * SECOND;

/// Something heated that can be tried.
pub trait Body: Clone {
    /// Heats with this share of full power from now on.
    fn heat(&mut self, share: f64);
    /// Tries a step of at most so many ticks; its length.
    fn attempt(&mut self, ticks_max: u32) -> u32;
    /// What it is at, at a tick of the tried step; tick 0 is now.
    fn seen_at(&mut self, tick: u32) -> Seen;
    /// What the air sensor shows then, °C; the same as above, and cheap.
    fn reading_at(&self, tick: u32) -> f64;
    /// Takes so many ticks of the tried step.
    fn take(&mut self, ticks: u32);
}

/// What is limited, °C.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Seen {
    /// What the air sensor shows, its constant error included.
    pub reading_c: f64,
    /// True air at it.
    pub air_c: f64,
    /// Coldest point of the parts inside; infinite without any.
    pub coldest_c: f64,
    /// Hottest point of the parts inside; minus infinite without any.
    pub hottest_c: f64,
    /// The air draws no part above this …
    pub pull_c: f64,
    /// … nor below this.
    pub draw_c: f64,
}

/// What nothing may pass.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limits {
    /// Of the reading.
    pub reading: Ceiling,
    /// Of the true air, °C.
    pub air_c: f64,
    /// Of the hottest point of the parts, °C.
    pub part_c: f64,
}

/// A limit that may rise with time up to a greatest value.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ceiling {
    /// Now, °C.
    pub now_c: f64,
    /// K/s.
    pub k_per_s: f64,
    /// Greatest, °C.
    pub most_c: f64,
}

impl Ceiling {
    /// One that stays.
    #[must_use]
    pub fn flat(celsius: f64) -> Self {
        Self { now_c: celsius, k_per_s: 0.0, most_c: celsius }
    }

    pub(super) fn at(&self, ticks: u32) -> f64 {
        let risen_c = self.now_c + self.k_per_s * f64::from(ticks) / f64::from(SECOND);
        risen_c.min(self.most_c)
    }
}

/// A power and how long it is kept.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stretch {
    /// Share of full power.
    pub share: f64,
    /// Ticks.
    pub ticks: u32,
}

/// Against what heat is tried.
#[derive(Clone, Copy, Debug)]
enum Trial<'a> {
    /// Nothing passes these if the heater goes off afterwards.
    Limits(&'a Limits),
    /// The coldest stays above this, °C, with this share afterwards.
    Floor(f64, f64),
}

impl Trial<'_> {
    fn afterwards(&self) -> f64 {
        if let Self::Floor(_, share) = self { *share } else { 0.0 }
    }

    /// How far past what it may be something is, K.
    fn past_k(&self, seen: &Seen, reading_peak_c: f64, ticks: u32) -> f64 {
        match self {
            Self::Limits(limits) => {
                let reading_k = reading_peak_c - limits.reading.at(ticks);
                reading_k.max(seen.air_c - limits.air_c).max(seen.hottest_c - limits.part_c)
            }
            Self::Floor(floor_c, _) => floor_c - seen.coldest_c,
        }
    }

    /// Nothing comes nearer to its limit any more.
    fn is_over(&self, before: &Seen, now: &Seen) -> bool {
        match self {
            Self::Limits(limits) => {
                let air_falls = now.reading_c <= before.reading_c && now.air_c <= before.air_c;
                let parts_fall = now.hottest_c <= before.hottest_c || now.pull_c <= limits.part_c;
                air_falls && parts_fall
            }
            Self::Floor(..) => now.coldest_c >= before.coldest_c && now.draw_c >= now.coldest_c,
        }
    }
}

/// How long one power serves.
#[derive(Clone, Copy, Debug)]
struct Whole {
    share: f64,
    /// It is given for so long at least, ticks.
    shortest: u32,
    /// Tried for so long next, ticks; none: it does not serve even for the shortest time.
    ticks: Option<u32>,
}

impl Whole {
    const fn of(share: f64, shortest: u32) -> Self {
        Self { share, shortest, ticks: Some(64 * SECOND) }
    }

    fn next(&mut self, body: &impl Body, trial: &Trial<'_>, end: u32) -> Option<Stretch> {
        let mut ticks = self.ticks?;
        while past_k(body, trial, Stretch { share: self.share, ticks }, end) > 0.0 {
            if ticks <= self.shortest {
                self.ticks = None;
                return None;
            }
            ticks = (ticks / 2).next_multiple_of(self.shortest);
        }
        self.ticks = Some((2 * ticks).min(LONGEST));
        Some(Stretch { share: self.share, ticks })
    }
}

/// How far past its limit anything comes with one stretch and then the other extreme, K.
fn past_k(body: &impl Body, trial: &Trial<'_>, stretch: Stretch, end: u32) -> f64 {
    let mut body = body.clone();
    let mut most_k = f64::NEG_INFINITY;
    let mut before = body.seen_at(0);
    let mut at = 0;
    let mut switched = false;
    body.heat(stretch.share);
    while at < end.min(TRIAL) {
        if !switched && at >= stretch.ticks {
            body.heat(trial.afterwards());
            switched = true;
        }
        let left = if switched { STEP } else { STEP.min(stretch.ticks - at) };
        let length = body.attempt(left.min(end - at));
        let samples = (1..=length).filter(|tick| tick % SECOND == 0 || *tick == length);
        let peak_c = samples.map(|tick| body.reading_at(tick)).fold(f64::NEG_INFINITY, f64::max);
        body.take(length);
        at += length;
        let now = body.seen_at(0);
        most_k = most_k.max(trial.past_k(&now, peak_c, at));
        if switched && trial.is_over(&before, &now) {
            break;
        }
        before = now;
    }
    most_k
}

/// Chooses the heat of an oven whose state is known.
#[derive(Clone, Debug)]
pub struct Chooser {
    full: Whole,
    none: Whole,
    /// Share that was last given along a limit.
    along: f64,
    /// Share the limits bear for long, once the oven has come to one; all of it before.
    bears: f64,
    /// Moves along these limits that are still to be made, the last first.
    moves: Vec<Stretch>,
    limits: Option<Limits>,
}

impl Default for Chooser {
    fn default() -> Self {
        let (full, none) = (Whole::of(1.0, SECOND), Whole::of(0.0, UNHEATED));
        Self { full, none, along: USUAL, bears: 1.0, moves: Vec::new(), limits: None }
    }
}

impl Chooser {
    /// As much heat as the limits bear; what comes after `end` ticks does not matter.
    pub fn most(&mut self, body: &impl Body, limits: &Limits, end: u32) -> Stretch {
        if let Some(next) = self.planned(limits) {
            return next;
        }
        if let Some(full) = self.full.next(body, &Trial::Limits(limits), end) {
            return full;
        }
        self.moves = land::moves(body, limits, self.along);
        if self.moves.iter().all(|stretch| stretch.share > 0.999) {
            self.full.ticks = Some(SECOND);
        }
        let next = self.moves.pop().unwrap_or(Stretch { share: 0.0, ticks: SECOND });
        let is_steady = |stretch: &Stretch| (stretch.share - next.share).abs() < STEADY;
        // None at all is a coast, not a share to live on.
        if next.share > 0.1 * STEADY && self.moves.iter().all(is_steady) {
            self.bears = next.share;
        }
        self.along = next.share;
        next
    }

    /// As little heat as keeps the coldest at or above `floor_c` for `end` ticks, within the limits:
    /// none for as long as it can be, then for a while what the limits bear.
    pub fn least(&mut self, body: &impl Body, limits: &Limits, floor_c: f64, end: u32) -> Stretch {
        if let Some(none) = self.none.next(body, &Trial::Floor(floor_c, self.bears), end) {
            self.moves.clear();
            return none;
        }
        self.none.ticks = Some(4 * UNHEATED);
        let Stretch { share, ticks } = self.most(body, limits, u32::MAX);
        Stretch { share: share.min(self.bears), ticks: ticks.min(WARMED) }
    }

    fn planned(&mut self, limits: &Limits) -> Option<Stretch> {
        if self.limits.replace(*limits) != Some(*limits) {
            self.moves.clear();
        }
        self.moves.pop()
    }
}
