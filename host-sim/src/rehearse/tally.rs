//! What every part truly had: its minutes in each window, its peak, its verdict.
//!
//! Counted once a second on the plant's own temperatures, over both of a part's points: a second
//! counts when the coldest cell is at or above `at_least` and the hottest at or below `at_most`.

use crate::files::load::{Coating, Load};
use crate::report::result::{Part, PartSoak, Verdict};
use truesoak_core::bake::{Bake, Soak, Step};
use truesoak_core::stay::{Leg, belongs};

/// Gas constant, J/(mol K) (CODATA 2018).
const GAS_CONSTANT: f64 = 8.314_462_618;
/// 0 °C in kelvins.
const ZERO_CELSIUS_K: f64 = 273.15;

/// One part's temperatures at an instant.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PartNow {
    /// In the oven.
    pub inside: bool,
    /// Slowest point, its coldest cell, °C.
    pub slowest_c: f64,
    /// Coldest cell of both points, °C.
    pub coldest_c: f64,
    /// Hottest cell of both points, °C.
    pub hottest_c: f64,
}

/// One run of one soak.
#[derive(Clone, Debug)]
struct SoakRun {
    step: usize,
    round: u32,
    soak: Soak,
    lead_from_s: f64,
    parts: Vec<PartRun>,
    ended_s: Option<f64>,
}

/// One part in one run of a soak.
#[derive(Clone, Copy, Debug)]
struct PartRun {
    inside: bool,
    reached_s: Option<f64>,
    in_window_s: u32,
    credited_s: u32,
    /// Above the window's lower end, on the way to the soak, in it and after it.
    above_s: u32,
    peak_c: f64,
    equivalent_s: f64,
}

impl PartRun {
    /// Long enough in the window, and not too long above its lower end.
    fn meets(&self, asked: &Soak) -> bool {
        let too_long = asked.no_longer_than_s.is_some_and(|limit_s| self.above_s > limit_s);
        self.in_window_s >= asked.for_s && !too_long
    }
}

/// Counts through a bake.
#[derive(Clone, Debug)]
pub struct Tally {
    runs: Vec<SoakRun>,
    current: bool,
    /// The soak the present step leads to, and how long each part has been above its lower end.
    ahead: Option<(Soak, Vec<u32>)>,
    load_closed_s: Option<f64>,
    peaks_c: Vec<f64>,
    limits_c: Vec<f64>,
    nearest: Option<(f64, f64)>,
    kinetics: Option<Kinetics>,
}

/// Rate of a cure by Arrhenius' law, from two schedules of a data sheet that cure alike.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Kinetics {
    /// Activation energy over the gas constant, K.
    pub activation_k: f64,
    /// Temperature the equivalent time refers to, K.
    pub reference_k: f64,
}

impl Kinetics {
    /// From a coating: `ln(t1/t2) = (E/R)·(1/T1 - 1/T2)`, referred to the first schedule; `None`
    /// unless the two schedules differ.
    #[must_use]
    pub fn of(coating: &Coating) -> Option<Self> {
        let [first, second] = coating.cures.as_slice() else { return None };
        let (t1, t2) = (first.at_c + ZERO_CELSIUS_K, second.at_c + ZERO_CELSIUS_K);
        let inverse = 1.0 / t1 - 1.0 / t2;
        let activation_k = libm::log(first.for_s / second.for_s) / inverse;
        let usable = activation_k.is_finite() && activation_k > 0.0;
        usable.then_some(Self { activation_k, reference_k: t1 })
    }

    /// Activation energy, J/mol.
    #[must_use]
    pub fn activation_j_per_mol(&self) -> f64 {
        self.activation_k * GAS_CONSTANT
    }

    /// Equivalent seconds one second at `celsius` is worth.
    #[must_use]
    pub fn rate(&self, celsius: f64) -> f64 {
        let inverse = 1.0 / (celsius + ZERO_CELSIUS_K) - 1.0 / self.reference_k;
        libm::exp(-self.activation_k * inverse)
    }
}

impl Tally {
    /// Nothing counted yet.
    #[must_use]
    pub fn new(load: &Load) -> Self {
        Self {
            runs: Vec::new(),
            current: false,
            ahead: None,
            load_closed_s: None,
            peaks_c: vec![f64::NEG_INFINITY; load.parts.len()],
            limits_c: load.parts.iter().map(|part| part.max_c).collect(),
            nearest: None,
            kinetics: load.coating.as_ref().and_then(Kinetics::of),
        }
    }

    /// A load_in's door closed.
    pub fn load_closed(&mut self, now_s: f64) {
        self.load_closed_s = Some(now_s);
    }

    /// A step begins; credits are those of the step before.
    pub fn step_began(&mut self, bake: &Bake, index: usize, now_s: f64, credits_s: &[u32]) {
        self.step_ended(now_s, credits_s);
        let Some(Step::Soak(soak)) = bake.steps.get(index) else {
            self.led_on(bake, index);
            return;
        };
        let round = 1 + self.runs.iter().filter(|run| run.step == index).count() as u32;
        // The first soak after a load_in is led by it, a later one by its own start.
        let lead_from_s = self.load_closed_s.take().unwrap_or(now_s);
        let idle = PartRun {
            inside: false,
            reached_s: None,
            in_window_s: 0,
            credited_s: 0,
            above_s: 0,
            peak_c: f64::NEG_INFINITY,
            equivalent_s: 0.0,
        };
        let mut parts = vec![idle; self.peaks_c.len()];
        for (part, above_s) in parts.iter_mut().zip(self.ahead.take().iter().flat_map(|(_, s)| s)) {
            part.above_s = *above_s;
        }
        self.runs.push(SoakRun {
            step: index,
            round,
            soak: *soak,
            lead_from_s,
            parts,
            ended_s: None,
        });
        self.current = true;
    }

    /// A step that is no soak leads to one or follows one.
    fn led_on(&mut self, bake: &Bake, index: usize) {
        let led_to = match u8::try_from(index).ok().and_then(|index| belongs(bake, index)) {
            Some((soak, Leg::Before)) => bake.steps.get(usize::from(soak)),
            _ => None,
        };
        self.ahead = match (led_to, self.ahead.take()) {
            (Some(Step::Soak(soak)), Some(ahead)) if ahead.0 == *soak => Some(ahead),
            (Some(Step::Soak(soak)), _) if is_limited(soak) => {
                Some((*soak, vec![0; self.peaks_c.len()]))
            }
            _ => None,
        };
    }

    /// One second more above the lower end for what is, where a soak limits that.
    fn stay_on(&mut self, parts: &[PartNow]) {
        let is_above = |part: &PartNow, soak: &Soak| {
            part.inside && part.hottest_c >= f64::from(soak.at_least.0)
        };
        if let Some((soak, above_s)) = &mut self.ahead {
            for (above_s, part) in above_s.iter_mut().zip(parts) {
                *above_s += u32::from(is_above(part, soak));
            }
        } else if let Some(run) = self.runs.last_mut().filter(|run| is_limited(&run.soak)) {
            for (kept, part) in run.parts.iter_mut().zip(parts) {
                kept.above_s += u32::from(is_above(part, &run.soak));
            }
        }
    }

    /// Whatever was counted in the present soak was of parts that may be others by now.
    pub fn begin_again(&mut self) {
        let Some(run) = self.runs.last_mut().filter(|_| self.current) else { return };
        for part in &mut run.parts {
            (part.reached_s, part.in_window_s, part.equivalent_s) = (None, 0, 0.0);
        }
    }

    /// The present step is over.
    pub fn step_ended(&mut self, now_s: f64, credits_s: &[u32]) {
        if !core::mem::take(&mut self.current) {
            return;
        }
        if let Some(run) = self.runs.last_mut() {
            run.ended_s = Some(now_s);
            for (part, credit_s) in run.parts.iter_mut().zip(credits_s) {
                part.credited_s = *credit_s;
            }
        }
    }

    /// One second of truth.
    pub fn second(&mut self, now_s: f64, parts: &[PartNow]) {
        let each = self.peaks_c.iter_mut().zip(&self.limits_c).zip(parts);
        for ((peak_c, limit_c), part) in each.filter(|(_, part)| part.inside) {
            *peak_c = if part.hottest_c > *peak_c { part.hottest_c } else { *peak_c };
            let excess_k = part.hottest_c - limit_c;
            if self.nearest.is_none_or(|(most_k, _)| excess_k > most_k) {
                self.nearest = Some((excess_k, now_s));
            }
        }
        self.stay_on(parts);
        let kinetics = self.kinetics;
        let Some(run) = self.runs.last_mut().filter(|_| self.current) else { return };
        let (at_least, at_most) = (f64::from(run.soak.at_least.0), f64::from(run.soak.at_most.0));
        for (kept, part) in run.parts.iter_mut().zip(parts).filter(|(_, part)| part.inside) {
            kept.inside = true;
            kept.peak_c = kept.peak_c.max(part.hottest_c);
            if kept.reached_s.is_none() && part.slowest_c >= at_least {
                kept.reached_s = Some(now_s);
            }
            if part.coldest_c >= at_least && part.hottest_c <= at_most {
                kept.in_window_s += 1;
            }
            kept.equivalent_s += kinetics.map_or(0.0, |kinetics| kinetics.rate(part.coldest_c));
        }
    }

    /// In the order of the load: every part with its soaks; `clock` is the tally of the practice.
    #[must_use]
    pub fn parts(&self, load: &Load, clock: Option<&Self>) -> Vec<Part> {
        load.parts
            .iter()
            .enumerate()
            .map(|(index, part)| {
                let overheated = self.peaks_c.get(index).is_some_and(|peak_c| *peak_c > part.max_c);
                let soaks: Vec<_> = self
                    .runs
                    .iter()
                    .filter_map(|run| part_soak(run, index, clock, part.max_c))
                    .collect();
                let worst = self.closest_to_failing(&soaks);
                let of = |get: fn(&PartSoak) -> Option<f64>| worst.and_then(get);
                Part {
                    name: part.name.clone(),
                    count: part.count,
                    reached_s: of(|soak| soak.reached_s),
                    in_window_s: of(|soak| Some(soak.in_window_s)).unwrap_or(0.0),
                    credited_s: of(|soak| Some(soak.credited_s)).unwrap_or(0.0),
                    peak_c: self.peaks_c.get(index).copied().filter(|c| c.is_finite()),
                    limit_c: part.max_c,
                    equivalent_s: self.kinetics.and(self.equivalent_s(index)),
                    clock_s: of(|soak| soak.clock_s),
                    verdict: match worst.map(|soak| soak.verdict) {
                        _ if overheated => Verdict::Overheated,
                        Some(verdict) => verdict,
                        None => Verdict::Short,
                    },
                    soaks,
                }
            })
            .collect()
    }

    /// The last tries' truth for the whole load.
    #[must_use]
    pub fn truth(&self, load: &Load, bake: &Bake) -> Verdict {
        let over = |(peak_c, part): (&f64, &crate::files::load::Part)| *peak_c > part.max_c;
        if self.peaks_c.iter().zip(&load.parts).any(over) {
            return Verdict::Overheated;
        }
        if self.had_its_minutes(bake) { Verdict::Pass } else { Verdict::Short }
    }

    /// In the last try of every soak every part inside had its minutes in the window, whatever it
    /// stands.
    #[must_use]
    pub fn had_its_minutes(&self, bake: &Bake) -> bool {
        bake.steps.iter().enumerate().all(|(index, step)| {
            let last = self.runs.iter().rev().find(|run| run.step == index);
            match step {
                Step::Soak(soak) => last.is_some_and(|run| run.met(soak)),
                _ => true,
            }
        })
    }

    /// By how much the longest stay of any part passes its limit in each run of a soak that has one,
    /// s; negative: it holds.
    pub fn stays_past_s(&self) -> impl Iterator<Item = i64> {
        self.runs.iter().filter_map(|run| {
            let limit_s = run.soak.no_longer_than_s?;
            let longest_s = run.parts.iter().map(|part| part.above_s).max()?;
            Some(i64::from(longest_s) - i64::from(limit_s))
        })
    }

    /// When some part came nearest to what it stands, s.
    #[must_use]
    pub fn nearest_to_limit_s(&self) -> Option<f64> {
        self.nearest.map(|(_, at_s)| at_s)
    }

    /// The part that went furthest past what it stands, and by how much, K (negative: below).
    #[must_use]
    pub fn worst_excess(&self, load: &Load) -> Option<(usize, f64)> {
        let excess = self.peaks_c.iter().zip(&load.parts).map(|(peak_c, part)| peak_c - part.max_c);
        excess.enumerate().max_by(|(_, a), (_, b)| a.total_cmp(b))
    }

    fn closest_to_failing<'a>(&self, soaks: &'a [PartSoak]) -> Option<&'a PartSoak> {
        let asked_s = |soak: &PartSoak| {
            let run = self.runs.iter().find(|run| run.step + 1 == soak.step);
            run.map_or(0.0, |run| f64::from(run.soak.for_s))
        };
        let is_last_try = |soak: &&PartSoak| {
            !soaks.iter().any(|other| other.step == soak.step && other.round > soak.round)
        };
        let spare_s = |soak: &PartSoak| soak.in_window_s - asked_s(soak);
        soaks.iter().filter(is_last_try).min_by(|a, b| spare_s(a).total_cmp(&spare_s(b)))
    }

    fn equivalent_s(&self, part: usize) -> Option<f64> {
        let run =
            self.runs.iter().rev().find(|run| run.parts.get(part).is_some_and(|p| p.inside))?;
        run.parts.get(part).map(|part| part.equivalent_s)
    }
}

/// A soak limits how long its parts may stay.
fn is_limited(soak: &Soak) -> bool {
    soak.no_longer_than_s.is_some()
}

impl SoakRun {
    /// A clock may have been set to more than the soak asks for.
    fn met(&self, asked: &Soak) -> bool {
        self.parts.iter().filter(|part| part.inside).all(|part| part.meets(asked))
            && self.ended_s.is_some()
    }
}

fn part_soak(run: &SoakRun, part: usize, clock: Option<&Tally>, max_c: f64) -> Option<PartSoak> {
    let kept = run.parts.get(part).filter(|kept| kept.inside)?;
    let by_clock = clock.and_then(|tally| {
        let run =
            tally.runs.iter().find(|other| other.step == run.step && other.round == run.round)?;
        run.parts.get(part).map(|part| f64::from(part.in_window_s))
    });
    let asked_s = f64::from(run.soak.for_s);
    let verdict = if kept.peak_c > max_c {
        Verdict::Overheated
    } else if kept.meets(&run.soak) {
        Verdict::Pass
    } else {
        Verdict::Short
    };
    Some(PartSoak {
        step: run.step + 1,
        round: run.round,
        reached_s: kept.reached_s,
        in_window_s: f64::from(kept.in_window_s),
        credited_s: f64::from(kept.credited_s),
        above_s: f64::from(kept.above_s),
        peak_c: kept.peak_c,
        clock_s: by_clock,
        // A soak that was cut off has no lead.
        lead_s: run
            .ended_s
            .map(|ended_s| ended_s - run.lead_from_s - asked_s)
            .filter(|lead_s| *lead_s >= 0.0),
        verdict,
    })
}
