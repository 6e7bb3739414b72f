//! Every change rehearsed on the first draws of the plan, and what it saves there.
//!
//! The oven of a draw is the same with a change and without, so a saving is a difference on one oven
//! at a time and a few draws tell it well. Nothing is said of what was not rehearsed.

use super::change::{self, Change, Trial};
use super::draws::truth;
use super::lags::Lag;
use super::statistics::{median, quantile};
use super::{ADVICE_DRAWS, Drawn, Progress, Wanted, is_good, many};
use crate::files::{Refusal, Setup};
use crate::interrupt;
use crate::plant::Draw;
use crate::rehearse::{Bench, Case};

/// Draws on which variants of one kind compete; a change that does nothing on any of them is rehearsed on
/// no others.
const SCREEN_DRAWS: usize = 4;
/// A change that saves less does nothing, s.
pub const NOTHING_S: f64 = 60.0;

/// A change and what came of it.
#[derive(Clone, Debug, PartialEq)]
pub struct Advice {
    /// What to do.
    pub change: String,
    /// What it costs.
    pub costs: String,
    /// Done in half of the draws by then, s; `None` if fewer pass.
    pub finish_s: Option<f64>,
    /// Median saving over the draws that pass with it and without, s; `None` if none does.
    pub saves_s: Option<f64>,
    /// Draws that pass with it …
    pub passes: usize,
    /// … and without it …
    pub passes_without: usize,
    /// … of so many.
    pub draws: usize,
}

impl Advice {
    /// More draws pass, or as many and sooner.
    #[must_use]
    pub fn helps(&self) -> bool {
        self.passes > self.passes_without
            || (self.passes == self.passes_without && self.saved_s() >= NOTHING_S)
    }

    /// As many draws pass, no sooner and no later.
    #[must_use]
    pub fn does_nothing(&self) -> bool {
        self.passes == self.passes_without && self.saved_s().abs() < NOTHING_S
    }

    fn saved_s(&self) -> f64 {
        self.saves_s.unwrap_or(0.0)
    }

    /// Greater is better.
    fn rank(&self) -> (i64, f64) {
        (self.passes as i64 - self.passes_without as i64, self.saved_s())
    }

    fn is_better_than(&self, other: &Self) -> bool {
        let (gained, saved_s) = self.rank();
        let (other_gained, other_saved_s) = other.rank();
        gained.cmp(&other_gained).then(saved_s.total_cmp(&other_saved_s)).is_gt()
    }
}

/// Rehearses every change; the best first.
pub(super) fn advise(
    wanted: &Wanted<'_>,
    drawn: &[Drawn],
    lags: &[Lag],
    progress: &dyn Progress,
) -> Vec<Advice> {
    let without = &drawn[..drawn.len().min(ADVICE_DRAWS)];
    let kinds = change::kinds(wanted, lags);
    progress.begin("changes", kinds.len());
    let mut advice: Vec<Advice> = Vec::new();
    for kind in &kinds {
        if interrupt::asked() || without.is_empty() {
            break;
        }
        let said = best_of(wanted, without, kind);
        progress.step();
        // What was cut off on its way tells nothing.
        advice.extend(said.filter(|_| !interrupt::asked()));
    }
    advice.sort_by(|a, b| {
        let ((a_gained, a_s), (b_gained, b_s)) = (a.rank(), b.rank());
        b_gained.cmp(&a_gained).then(b_s.total_cmp(&a_s))
    });
    advice
}

/// The best variant of one kind, rehearsed on all the draws; only on the first where all pass anyway
/// and it does nothing on any of those. `None` where none can be.
fn best_of(wanted: &Wanted<'_>, without: &[Drawn], kind: &[Change]) -> Option<Advice> {
    let screen = &without[..without.len().min(SCREEN_DRAWS)];
    let mut best: Option<(Advice, Tried<'_>)> = None;
    for change in kind {
        let Some(tried) = Tried::on(wanted, screen, change) else { continue };
        let advice = tried.advice(screen);
        if best.as_ref().is_none_or(|(best, _)| advice.is_better_than(best)) {
            best = Some((advice, tried));
        }
    }
    let (advice, mut tried) = best?;
    let in_vain = without.iter().all(Drawn::is_good) && tried.is_in_vain(screen);
    let advice = if in_vain { advice } else { tried.on_all(wanted, without)? };
    (advice.helps() || !tried.change.only_if_it_helps).then_some(advice)
}

/// A change on the first of the draws: when each is done with it, and with what it leaves out.
struct Tried<'a> {
    change: &'a Change,
    with: Vec<Option<f64>>,
    left_out: Option<Vec<Option<f64>>>,
}

impl<'a> Tried<'a> {
    /// `None` where a rehearsal of it is refused.
    fn on(wanted: &Wanted<'_>, draws: &[Drawn], change: &'a Change) -> Option<Self> {
        let with = finishes(wanted, draws, &change.trial)?;
        let left_out = match &change.second {
            Some(second) => Some(finishes(wanted, draws, &second.trial)?),
            None => None,
        };
        Some(Self { change, with, left_out })
    }

    /// The same on the draws that are left, and what all of them say.
    fn on_all(&mut self, wanted: &Wanted<'_>, draws: &[Drawn]) -> Option<Advice> {
        let rest = Self::on(wanted, draws.get(self.with.len()..)?, self.change)?;
        self.with.extend(rest.with);
        if let (Some(left_out), Some(more)) = (&mut self.left_out, rest.left_out) {
            left_out.extend(more);
        }
        Some(self.advice(draws))
    }

    /// Every one of the draws passes with it, no sooner and no later.
    fn is_in_vain(&self, without: &[Drawn]) -> bool {
        let near = |(a_s, b_s): (f64, f64)| (a_s - b_s).abs() < NOTHING_S;
        let mut pairs = without.iter().zip(&self.with);
        self.left_out.is_none()
            && pairs.all(|(drawn, with_s)| drawn.finish_s().zip(*with_s).is_some_and(near))
    }

    fn advice(&self, without: &[Drawn]) -> Advice {
        let (Some(second), Some(other)) = (&self.change.second, &self.left_out) else {
            return compare(without, &self.with, self.change);
        };
        let both = |(first, other): (&Option<f64>, &Option<f64>)| Some((*first)? + (*other)?);
        let both: Vec<Option<f64>> = self.with.iter().zip(other).map(both).collect();
        let suits = 2 * other.iter().flatten().count() >= other.len();
        if suits {
            return compare(without, &both, self.change);
        }
        // What is left out has no bake yet: the rest is told alone.
        let mut advice = compare(without, &self.with, self.change);
        advice.change.clone_from(&second.what_if_unsuited);
        advice.costs.clone_from(&second.costs_if_unsuited);
        advice
    }
}

/// When each draw is done; `None` where a rehearsal is refused.
fn finishes(wanted: &Wanted<'_>, draws: &[Drawn], trial: &Trial) -> Option<Vec<Option<f64>>> {
    let truth_setup = match trial {
        Trial::Files(setup) => setup,
        Trial::Known(_) | Trial::Truth(_) => wanted.setup,
    };
    // What is known differs from oven to oven, and so do its tables.
    let common = Bench::new(truth_setup).ok()?;
    let finishes = many::each(draws.len(), wanted.threads, |index| {
        let draw = Draw::nth(&wanted.setup.oven, draws[index].number);
        match trial {
            Trial::Files(_) => finish_s(&common, truth_setup, draw, wanted.seed),
            Trial::Truth(other) => finish_s(&common, truth_setup, other(draw), wanted.seed),
            Trial::Known(learn) => match learn(wanted.setup, &draw) {
                // An oven known better may turn out to be one that the bake does not suit.
                Some(known) => match Bench::new(&known) {
                    Ok(bench) => finish_s(&bench, truth_setup, draw, wanted.seed),
                    Err(_) => Ok(None),
                },
                // Nothing was found out on this oven.
                None => Ok(draws[index].finish_s()),
            },
        }
    });
    finishes.ok()
}

/// The bake of one draw: when it is done; `None` where it does not pass.
fn finish_s(
    bench: &Bench<'_>,
    truth_setup: &Setup,
    draw: Draw,
    seed: u64,
) -> Result<Option<f64>, Refusal> {
    let case = Case { truth: truth_setup, draw, seed };
    let mut trace = bench.trace(&case, false);
    let ran = bench.bake(&case, &mut trace)?;
    let result = bench.result(&case, &ran, &mut trace);
    Ok(is_good(result.verdict, truth(&result)).then_some(result.duration_s))
}

fn compare(without: &[Drawn], with: &[Option<f64>], change: &Change) -> Advice {
    let good: Vec<f64> = with.iter().copied().flatten().collect();
    let pairs = without.iter().zip(with);
    let saved: Vec<f64> =
        pairs.filter_map(|(drawn, with_s)| Some(drawn.finish_s()? - (*with_s)?)).collect();
    Advice {
        change: change.what.clone(),
        costs: change.costs.clone(),
        finish_s: quantile(&good, with.len(), 0.5),
        saves_s: median(&saved),
        passes: good.len(),
        passes_without: without.iter().take(with.len()).filter(|drawn| drawn.is_good()).count(),
        draws: with.len(),
    }
}
