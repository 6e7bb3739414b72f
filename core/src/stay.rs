//! How long parts have been above the lower end of a soak's window, where the soak limits that.
//!
//! Counted for every class while its hottest bound is not below `at_least`: from the ramp or load-in
//! that leads to the soak, through it, and on while it cools; what hangs in the oven does not know
//! of steps. A soak without `no_longer_than` costs one comparison a second.
//!
//! It counts and foresees; that heat ends in time is the sequence's business, that thin parts wait
//! for thick ones the governor's.

use crate::bake::{Bake, Step};
use crate::bounds::Bounds;
use crate::bounds::model::{CLASSES_MAX, Model};
use crate::record::CHECKPOINT_S;
use crate::units::Celsius;

/// A second that has passed is not through yet, s.
const UNDER_WAY_S: f32 = 1.0;

/// Where a step stands to the soak that its parts' stay belongs to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Leg {
    /// It leads there.
    Before,
    /// It is the soak.
    During,
    /// Parts cool from it.
    After,
}

/// The soak a step's stay belongs to, and where the step stands to it: ramps and load-ins lead to
/// the next soak, everything else follows the last one.
#[must_use]
pub fn belongs(bake: &Bake, step: u8) -> Option<(u8, Leg)> {
    let here = usize::from(step);
    let is_soak = |step: &Step| matches!(step, Step::Soak(_));
    let next = || {
        let ahead = bake.steps.iter().skip(here + 1).position(is_soak)?;
        Some((u8::try_from(here + 1 + ahead).ok()?, Leg::Before))
    };
    let last = || {
        let behind = bake.steps.iter().take(here).rposition(is_soak)?;
        Some((u8::try_from(behind).ok()?, Leg::After))
    };
    match bake.steps.get(here)? {
        Step::Soak(_) => Some((step, Leg::During)),
        Step::Ramp(_) | Step::LoadIn(_) => next().or_else(last),
        Step::Cool(_) | Step::Check(_) | Step::Wait(_) => last().or_else(next),
    }
}

/// What a soak with `no_longer_than` asks for.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Asked {
    limit_s: u32,
    at_least: Celsius,
    at_most: Celsius,
}

/// The stay of what is inside.
#[derive(Clone, Debug, PartialEq)]
pub struct Stay {
    belongs: Option<(u8, Leg)>,
    asked: Option<Asked>,
    spent_s: [u32; CLASSES_MAX],
    /// What each class will take to cool; unknown, so for ever, until it was its turn.
    cooling_s: [f32; CLASSES_MAX],
    /// Longest lag of each class that is inside.
    lag_s: [f32; CLASSES_MAX],
    turn: usize,
    /// What a lost supply has cost is still being found out.
    is_returning: bool,
}

impl Default for Stay {
    fn default() -> Self {
        Self {
            belongs: None,
            asked: None,
            spent_s: [0; CLASSES_MAX],
            cooling_s: [f32::INFINITY; CLASSES_MAX],
            lag_s: [0.0; CLASSES_MAX],
            turn: 0,
            is_returning: false,
        }
    }
}

impl Stay {
    /// A step begins; a stay goes on from leg to leg of one run of its soak.
    pub fn begin_step(&mut self, bake: &Bake, step: u8) {
        let belongs = belongs(bake, step);
        let goes_on = match (self.belongs, belongs) {
            (Some((old, was)), Some((new, is))) => {
                old == new && is >= was && (was, is) != (Leg::During, Leg::During)
            }
            _ => false,
        };
        if !goes_on {
            let soak = belongs.and_then(|(soak, _)| bake.steps.get(usize::from(soak)));
            *self = Self { asked: soak.and_then(asked), ..Self::default() };
        }
        self.belongs = belongs;
    }

    /// One second on.
    pub fn second(&mut self, bounds: &Bounds) {
        let Some(asked) = self.asked else { return };
        for (index, spent_s) in self.spent_s.iter_mut().enumerate() {
            let more_s = u32::from(is_above(bounds, index, asked.at_least));
            *spent_s = spent_s.saturating_add(more_s);
        }
    }

    /// One class a second: how long it lags, and how long it will cool, from where it is or, before it was above, from
    /// the top of the window.
    pub fn foresee(&mut self, model: &Model, bounds: &Bounds) {
        let Some(asked) = self.asked else { return };
        let index = self.turn;
        self.turn = if index + 1 < model.classes.len() { index + 1 } else { 0 };
        let foreseen = self.cooling_s.get_mut(index).zip(self.lag_s.get_mut(index));
        let (Some((cooling_s, lag_s)), Some(spent_s)) = (foreseen, self.spent_s.get(index)) else {
            return;
        };
        if bounds.class(index).is_none() {
            (*cooling_s, *lag_s) = (0.0, 0.0);
            return;
        }
        *lag_s = bounds.slowest_s(model, index, asked.at_least);
        *cooling_s = if *spent_s == 0 {
            bounds.cooling_from_s(model, index, asked.at_most, asked.at_least)
        } else {
            bounds.cooling_s(model, index, asked.at_least)
        };
    }

    /// Seconds that may still pass before heat must end so that no part stays too long; `None`
    /// where that is not limited.
    #[must_use]
    pub fn left_s(&self, model: &Model) -> Option<f32> {
        let asked = self.asked?;
        let each = self.spent_s.iter().zip(&self.cooling_s).take(model.classes.len());
        let longest_s = each.map(|(spent_s, cooling_s)| *spent_s as f32 + cooling_s);
        Some(asked.limit_s as f32 - UNDER_WAY_S - longest_s.fold(0.0, f32::max))
    }

    /// Longest lag of any part inside, s.
    #[must_use]
    pub fn slowest_s(&self) -> f32 {
        self.lag_s.iter().copied().fold(0.0, f32::max)
    }

    /// The soak whose parts may stay no longer: heat must end now, or should have.
    #[must_use]
    pub fn is_used_up(&self) -> Option<u8> {
        let asked = self.asked?;
        let (soak, leg) = self.belongs?;
        let used_up = self.spent_s.iter().zip(&self.cooling_s).any(|(spent_s, cooling_s)| {
            // What is not known yet ends nothing.
            let cooling_s = if cooling_s.is_finite() { *cooling_s } else { 0.0 };
            let ahead_s = UNDER_WAY_S + cooling_s;
            let foreseen_s = if leg == Leg::During && *spent_s > 0 { ahead_s } else { 0.0 };
            *spent_s as f32 + foreseen_s > asked.limit_s as f32
        });
        (used_up && leg != Leg::Before).then_some(soak)
    }

    /// Longest any class has spent, s: what a checkpoint keeps. For ever, until it is found out what
    /// a lost supply has cost.
    #[must_use]
    pub fn longest_s(&self) -> u32 {
        if self.is_returning && self.asked.is_some() {
            return u32::MAX;
        }
        self.spent_s.iter().copied().max().unwrap_or(0)
    }

    /// What a checkpoint kept, for every class.
    pub fn restore(&mut self, longest_s: u32) {
        self.spent_s = [longest_s; CLASSES_MAX];
    }

    /// The supply was away, nobody knows how long: what can have been above stayed for as long as
    /// it takes to cool from the hottest it can have been, which the bounds have restarted at. That
    /// is found out of one class at a time ([`Stay::was_away`]), and then it is known.
    pub fn supply_returns(&mut self, is_returning: bool) {
        self.is_returning = is_returning;
    }

    /// What one class has spent while the supply was away.
    pub fn was_away(&mut self, model: &Model, bounds: &Bounds, class: usize) {
        let (Some(asked), Some(spent_s)) = (self.asked, self.spent_s.get_mut(class)) else {
            return;
        };
        if is_above(bounds, class, asked.at_least) {
            let away_s = bounds.cooling_s(model, class, asked.at_least);
            // Saturating cast: what never cools has spent all there is.
            *spent_s = spent_s.saturating_add(CHECKPOINT_S).saturating_add(away_s as u32);
        }
    }
}

/// Some part of a class may be above; a not-a-number is not known to be below.
fn is_above(bounds: &Bounds, class: usize, at_least: Celsius) -> bool {
    bounds.class(class).is_some_and(|(_, hottest)| !(hottest.0.is_finite() && hottest < at_least))
}

fn asked(step: &Step) -> Option<Asked> {
    let Step::Soak(soak) = step else { return None };
    let (at_least, at_most) = (soak.at_least, soak.at_most);
    soak.no_longer_than_s.map(|limit_s| Asked { limit_s, at_least, at_most })
}
