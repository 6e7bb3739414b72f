//! What to expect of a bake before the heat is on, and what to change.
//!
//! The bake is rehearsed on many draws of what is not known about the oven, the first of them by the
//! clock too and by an oracle that knows everything; then every change worth a thought is rehearsed
//! on the first of the same draws, so that what it saves is a difference on the same ovens. The answer
//! depends on files, runs and seed alone, never on the number of threads. Refuses what a rehearsal
//! refuses, with the same words; prints nothing.

mod advice;
mod change;
mod draws;
mod lags;
mod learn;
pub(crate) mod many;
mod preheat;
pub mod statistics;

pub use advice::Advice;
pub use draws::{ByTheClock, CLOCK_EXTRA_S, COURSE_EVERY_S, ClockHad, Course, Drawn};
pub use lags::Lag;

use crate::files::{Override, Refusal, Setup};
use crate::interrupt;
use crate::rehearse::{Bench, Request, rehearse};
use crate::report::result::Verdict;
use crate::report::units::Units;
use statistics::{Interval, quantile};
use std::path::Path;

/// Most draws a change is rehearsed on.
const ADVICE_DRAWS: usize = 16;
/// Most draws run by the clock and by the oracle too: their shares are told well enough by these.
const BESIDE_DRAWS: u64 = 100;
/// Most draws a picture's fan is made of: a day's bake keeps 12 kB for each.
const COURSE_DRAWS: u64 = 1000;

/// What is planned.
#[derive(Clone, Copy, Debug)]
pub struct Wanted<'a> {
    /// The bake file, for changes written into it.
    pub path: &'a Path,
    /// What was set on top of it.
    pub set: &'a [Override],
    /// The two, read.
    pub setup: &'a Setup,
    /// Draws, from the first on.
    pub runs: usize,
    /// Seed of the noise.
    pub seed: u64,
    /// Threads to use; the answer is the same.
    pub threads: usize,
    /// Keep what the parts were at, for a picture.
    pub keeps_courses: bool,
    /// Units of the words.
    pub units: Units,
}

/// Hears how far a plan is.
pub trait Progress: Sync {
    /// So many rehearsals of one kind begin.
    fn begin(&self, what: &str, count: usize);
    /// One is done.
    fn step(&self);
}

impl Progress for () {
    fn begin(&self, _what: &str, _count: usize) {}
    fn step(&self) {}
}

/// What to expect and what to change.
#[derive(Clone, Debug)]
pub struct Plan {
    /// Every draw that was rehearsed to its end, in order.
    pub drawn: Vec<Drawn>,
    /// How quickly each part follows the oven.
    pub lags: Vec<Lag>,
    /// Every change that was rehearsed, best first.
    pub advice: Vec<Advice>,
    /// A person stopped it: there is less than was asked for.
    pub interrupted: bool,
}

/// Plans a bake.
///
/// # Errors
/// What a rehearsal refuses: no window left, a heater too weak, parts a weld would harm.
pub fn plan(wanted: &Wanted<'_>, progress: &dyn Progress) -> Result<Plan, Refusal> {
    let bench = prepare(wanted)?;
    let lags = lags::of(wanted.setup, bench.model());
    let drawn = draw(wanted, &bench, BESIDE_DRAWS, progress)?;
    let advice = advice::advise(wanted, &drawn, &lags, progress);
    Ok(Plan { drawn, lags, advice, interrupted: interrupt::asked() })
}

/// The same without advice and without the clock and the oracle beside: how long, and how sure.
///
/// # Errors
/// As [`plan`].
pub fn sketch(wanted: &Wanted<'_>, progress: &dyn Progress) -> Result<Plan, Refusal> {
    let bench = prepare(wanted)?;
    let drawn = draw(wanted, &bench, 0, progress)?;
    Ok(Plan { drawn, lags: Vec::new(), advice: Vec::new(), interrupted: interrupt::asked() })
}

/// The tables, after a rehearsal on the nominal oven: it refuses a bake that a welded drive would
/// spoil.
fn prepare<'a>(wanted: &Wanted<'a>) -> Result<Bench<'a>, Refusal> {
    let bench = Bench::new(wanted.setup)?;
    rehearse(&Request {
        believed: wanted.setup,
        truth: wanted.setup,
        draw: None,
        exactly: None,
        seed: wanted.seed,
        by_the_clock: false,
        quick: false,
    })?;
    Ok(bench)
}

fn draw(
    wanted: &Wanted<'_>,
    bench: &Bench<'_>,
    beside: u64,
    progress: &dyn Progress,
) -> Result<Vec<Drawn>, Refusal> {
    progress.begin("draws", wanted.runs);
    many::each(wanted.runs, wanted.threads, |index| {
        let drawn = draws::rehearse(wanted, bench, index as u64 + 1, beside);
        progress.step();
        drawn
    })
}

impl Plan {
    /// Draws that were baked as they should.
    #[must_use]
    pub fn passes(&self) -> usize {
        self.drawn.iter().filter(|drawn| drawn.is_good()).count()
    }

    /// Share of draws that pass.
    #[must_use]
    pub fn pass_probability(&self) -> f64 {
        share(self.passes(), self.drawn.len())
    }

    /// What that share may be of all draws, 19 times in 20.
    #[must_use]
    pub fn pass_interval(&self) -> Interval {
        statistics::wilson(self.passes(), self.drawn.len())
    }

    /// Draws that were run by the clock too.
    #[must_use]
    pub fn clocked(&self) -> usize {
        self.drawn.iter().filter(|drawn| drawn.clock.is_some()).count()
    }

    /// Draws in which the clock, its extra minutes included, gives every part its own.
    #[must_use]
    pub fn clock_passes(&self) -> usize {
        let passes = |drawn: &&Drawn| drawn.clock.as_ref().is_some_and(|clock| clock.passes);
        self.drawn.iter().filter(passes).count()
    }

    /// Their share.
    #[must_use]
    pub fn clock_pass_probability(&self) -> f64 {
        share(self.clock_passes(), self.clocked())
    }

    /// Share of draws that end in a trip with nothing wrong.
    #[must_use]
    pub fn false_trip_probability(&self) -> f64 {
        share(self.drawn.iter().filter(|drawn| drawn.is_false_trip).count(), self.drawn.len())
    }

    /// Done by then in this share of all draws, s; `None` where fewer pass at all.
    #[must_use]
    pub fn finish_s(&self, share: f64) -> Option<f64> {
        let finishes: Vec<f64> = self.drawn.iter().filter_map(Drawn::finish_s).collect();
        quantile(&finishes, self.drawn.len(), share)
    }

    /// Done by then in this share of all draws were everything known of the oven, s; `None` where
    /// fewer pass even then.
    #[must_use]
    pub fn oracle_finish_s(&self, share: f64) -> Option<f64> {
        let oracles: Vec<_> = self.drawn.iter().filter_map(|drawn| drawn.oracle.as_ref()).collect();
        let passing = oracles.iter().filter(|oracle| oracle.passes());
        let finishes: Vec<f64> = passing.map(|oracle| oracle.duration_s).collect();
        quantile(&finishes, oracles.len(), share)
    }

    /// The draw that came out worst: by its verdict, then by its time.
    #[must_use]
    pub fn worst(&self) -> Option<&Drawn> {
        let rank = |drawn: &Drawn| (drawn.verdict.min(drawn.truth), drawn.verdict);
        self.drawn.iter().min_by(|a, b| {
            let longer = b.duration_s.total_cmp(&a.duration_s);
            rank(a).cmp(&rank(b)).then(longer).then(a.number.cmp(&b.number))
        })
    }

    /// What the clock gives one part over the draws.
    #[must_use]
    pub fn clock_had(&self, part: usize) -> Option<ClockShare> {
        let clocks = self.drawn.iter().filter_map(|drawn| drawn.clock.as_ref());
        let had: Vec<ClockHad> =
            clocks.filter_map(|clock| clock.had.get(part).copied().flatten()).collect();
        let seconds: Vec<f64> = had.iter().map(|had| had.had_s).collect();
        Some(ClockShare {
            median_s: quantile(&seconds, seconds.len(), 0.5)?,
            least_s: seconds.iter().copied().reduce(f64::min)?,
            wanted_s: had.first()?.wanted_s,
            enough: share(had.iter().filter(|had| had.had_s >= had.wanted_s).count(), had.len()),
        })
    }
}

/// What the clock gives one part.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ClockShare {
    /// In the window, in half of the draws at most, s.
    pub median_s: f64,
    /// In the worst draw, s.
    pub least_s: f64,
    /// Wanted, s.
    pub wanted_s: f64,
    /// Share of draws in which it had enough.
    pub enough: f64,
}

fn share(some: usize, all: usize) -> f64 {
    if all == 0 { 0.0 } else { some as f64 / all as f64 }
}

/// Worse of claim and truth.
fn is_good(verdict: Verdict, truth: Verdict) -> bool {
    verdict == Verdict::Pass && truth == Verdict::Pass
}
