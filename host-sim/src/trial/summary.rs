//! What a campaign comes to.

use super::{Broken, End, Fate, Found, Untold, allowed_ticks};
use crate::plan::statistics::median;
use crate::rehearse::FaultKind;
use std::collections::BTreeMap;

/// One kind of fault over all seeds.
#[derive(Clone, Debug, PartialEq)]
pub struct KindLine {
    /// Its word.
    pub kind: &'static str,
    /// Seeds that drew it.
    pub drawn: u64,
    /// Strikes: a bake may be over first.
    pub struck: u64,
    /// … reported under their own kind.
    pub seen: u64,
    /// … that kept the bake from starting.
    pub no_start: u64,
    /// … after which another kind tripped first.
    pub other: u64,
    /// … that never showed for as long as their row may take.
    pub unseen: u64,
    /// … that their row missed.
    pub missed: u64,
    /// From showing to the report, of those with nothing else wrong, s.
    pub median_s: Option<f64>,
    /// The longest, s.
    pub worst_s: Option<f64>,
    /// What the row may take, s.
    pub allowed_s: Option<f64>,
    /// How those bakes ended.
    pub ends: BTreeMap<End, u64>,
}

/// Bakes with something the contract does not cover.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct UntoldLine {
    /// Bakes.
    pub runs: u64,
    /// Called a pass.
    pub passes: u64,
    /// … without its minutes.
    pub false_passes: u64,
    /// Some part more than a kelvin past what it stands.
    pub overheated: u64,
    /// Tripped.
    pub tripped: u64,
}

/// All of it.
#[derive(Clone, Debug, PartialEq)]
pub struct Summary {
    /// The first seed.
    pub from: u64,
    /// Seeds tried.
    pub seeds: u64,
    /// Seeds that gave a bake; the others contradicted themselves however often they were drawn.
    pub runs: u64,
    /// Bakes drawn that contradicted themselves.
    pub redrawn: u64,
    /// How bakes ended.
    pub ends: BTreeMap<End, u64>,
    /// Passes that the contract covers.
    pub passes: u64,
    /// … without their minutes.
    pub false_passes: u64,
    /// Bakes with nothing wrong.
    pub fault_free: u64,
    /// … that tripped.
    pub false_trips: u64,
    /// … in which nothing was counted any more.
    pub gave_up_counting: u64,
    /// Bakes with faults of several kinds.
    pub crowded: u64,
    /// … that took a part more than a kelvin past what it stands: the contract holds for one fault.
    pub crowded_overheated: u64,
    /// Kinds of faults.
    pub kinds: Vec<KindLine>,
    /// What the contract does not cover.
    pub untold: BTreeMap<&'static str, UntoldLine>,
    /// Seeds and what does not hold.
    pub broken: Vec<(u64, Broken)>,
}

/// Counts of one kind, times apart.
#[derive(Clone, Debug, Default)]
struct Counted {
    drawn: u64,
    struck: u64,
    fates: [u64; 5],
    times_s: Vec<f64>,
    ends: BTreeMap<End, u64>,
}

impl Summary {
    /// Of the seeds tried from one on, what was found.
    pub(super) fn of(from: u64, seeds: u64, all: impl Iterator<Item = Found>) -> Self {
        let mut summary = Self::nothing(from, seeds);
        let mut kinds = vec![Counted::default(); FaultKind::ALL.len()];
        for found in all {
            summary.add(&found);
            for kind in &found.drawn {
                if let Some(counted) = kinds.get_mut(*kind as usize) {
                    counted.drawn += 1;
                }
            }
            for (index, counted) in kinds.iter_mut().enumerate() {
                counted.add(index, &found);
            }
            summary.broken.extend(found.broken.into_iter().map(|one| (found.seed, one)));
        }
        let lines = FaultKind::ALL.iter().zip(kinds);
        summary.kinds = lines.map(|((kind, _), counted)| counted.line(*kind)).collect();
        summary
    }

    fn nothing(from: u64, seeds: u64) -> Self {
        Self {
            from,
            seeds,
            runs: 0,
            redrawn: 0,
            ends: BTreeMap::new(),
            passes: 0,
            false_passes: 0,
            fault_free: 0,
            false_trips: 0,
            gave_up_counting: 0,
            crowded: 0,
            crowded_overheated: 0,
            kinds: Vec::new(),
            untold: BTreeMap::new(),
            broken: Vec::new(),
        }
    }

    fn add(&mut self, found: &Found) {
        self.runs += 1;
        self.redrawn += found.redrawn;
        *self.ends.entry(found.end).or_default() += 1;
        let passed = found.end == End::Passed;
        let uncovered = found.untold.map(Untold::words);
        let uncovered = uncovered.or(found.is_uncovered.then_some("sensor-moved-unseen"));
        if let Some(words) = uncovered {
            let line = self.untold.entry(words).or_default();
            line.runs += 1;
            line.passes += u64::from(passed);
            line.false_passes += u64::from(passed && !found.had_its_minutes);
            line.overheated += u64::from(found.overheated);
            line.tripped += u64::from(found.tripped.is_some());
            return;
        }
        self.passes += u64::from(passed);
        self.false_passes += u64::from(passed && !found.had_its_minutes);
        if found.faults.is_empty() {
            self.fault_free += 1;
            self.false_trips += u64::from(found.tripped.is_some());
            self.gave_up_counting += u64::from(found.outside_model);
        }
        if found.is_crowded {
            self.crowded += 1;
            self.crowded_overheated += u64::from(found.overheated);
        }
    }

    /// Most false passes in a pass, with 95 % confidence, when none was found: the rule of three.
    #[must_use]
    pub fn false_pass_bound(&self) -> Option<f64> {
        (self.passes > 0 && self.false_passes == 0).then(|| 3.0 / self.passes as f64)
    }

    /// Every invariant holds.
    #[must_use]
    pub fn is_good(&self) -> bool {
        self.broken.is_empty()
    }
}

impl Counted {
    fn add(&mut self, index: usize, found: &Found) {
        let of_kind = found.faults.iter().filter(|(fault, _)| fault.kind as usize == index);
        let mut struck = 0;
        for (_, fate) in of_kind {
            struck += 1;
            let place = match fate {
                Fate::Seen(ticks) => {
                    if let Some(ticks) = ticks.filter(|_| !found.is_crowded) {
                        self.times_s.push(f64::from(ticks) / 10.0);
                    }
                    0
                }
                Fate::NoStart => 1,
                Fate::OtherTrip(_) => 2,
                Fate::NothingToSee => 3,
                Fate::Missed => 4,
            };
            if let Some(count) = self.fates.get_mut(place) {
                *count += 1;
            }
        }
        self.struck += struck;
        if struck > 0 {
            *self.ends.entry(found.end).or_default() += 1;
        }
    }

    fn line(self, kind: FaultKind) -> KindLine {
        let [seen, no_start, other, unseen, missed] = self.fates;
        KindLine {
            kind: kind.word(),
            drawn: self.drawn,
            struck: self.struck,
            seen,
            no_start,
            other,
            unseen,
            missed,
            median_s: median(&self.times_s),
            worst_s: self.times_s.iter().copied().reduce(f64::max),
            allowed_s: allowed_ticks(kind).map(|ticks| f64::from(ticks) / 10.0),
            ends: self.ends,
        }
    }
}
