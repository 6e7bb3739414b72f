//! When a bake under way will be done: the same bake, rehearsed on many ovens it may be in, from the
//! point where each of them had come as far.
//!
//! *As far* is, within the same step and round: the same minutes counted; while none are, the
//! coldest bound as high; on the way up or down, the reading there; where a person is waited for,
//! as long in the step. People are taken to answer as the bake's file says, or after ten minutes.

use crate::files::{Refusal, Setup};
use crate::log::Row;
use crate::plan::statistics::quantile;
use crate::plant::Draw;
use crate::rehearse::{Bench, Case, Observer, Runner, World};
use crate::report::units::Units;
use truesoak_core::event::{Ending, Event};
use truesoak_core::record::{Phase, Record};
use truesoak_core::units::TICKS_PER_SECOND;

/// A sample of a course is kept so often, s.
const EVERY_S: u32 = 10;

/// Minutes, and temperatures as shown.
pub(super) type Curve = Vec<(f64, f64)>;

/// Where a bake stands.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Standing {
    /// Step, from 1.
    pub step: u8,
    /// The how-manieth time it is gone through, from 1.
    pub round: u8,
    /// Time in it, s.
    pub in_step_s: f64,
    /// Credit of the soak, s.
    pub credit_s: u32,
    /// Coldest bound, °C.
    pub coldest_c: Option<f64>,
    /// Air reading, °C.
    pub reading_c: Option<f64>,
}

/// What is still to come.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Foreseen {
    /// Done in so many seconds, in half of the ovens.
    pub half_s: f64,
    /// The same in 19 of 20; `None` where fewer come to their end at all.
    pub most_s: Option<f64>,
    /// Counting begins in so many, in half of the ovens that still have to begin.
    pub counting_s: Option<f64>,
}

/// One moment of a rehearsed bake.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Sample {
    at_s: f32,
    step: u8,
    round: u8,
    phase: Phase,
    in_step_s: f32,
    credit_s: u32,
    coldest_c: f32,
    reading_c: f32,
}

/// One rehearsed bake.
#[derive(Clone, Debug, Default)]
struct Course {
    samples: Vec<Sample>,
    step: u8,
    rounds: [u8; truesoak_core::bake::STEPS_MAX],
    began_s: f32,
    /// It came to its end by itself, at this second.
    done_s: Option<f64>,
}

/// A bake rehearsed on many ovens.
#[derive(Clone, Debug)]
pub struct Foresight {
    nominal: Course,
    courses: Vec<Course>,
}

impl Foresight {
    /// Rehearses a bake, with the people of its script and none of its faults, on the oven as its
    /// file says and on so many draws.
    ///
    /// # Errors
    /// A bake that cannot be rehearsed.
    pub fn of(setup: &Setup, draws: u64) -> Result<Self, Refusal> {
        let mut sound = setup.clone();
        sound.bake.faults.clear();
        let bench = Bench::new(&sound)?;
        let course = |draw: Draw| {
            let mut course = Course::default();
            bench.bake(&Case { truth: &sound, draw, seed: 1 }, &mut course).map(|_| course)
        };
        let nominal = course(Draw::nominal(&sound.oven))?;
        let courses = (1..=draws).map(|number| course(Draw::nth(&sound.oven, number)));
        Ok(Self { nominal, courses: courses.collect::<Result<_, _>>()? })
    }

    /// From the logs of rehearsals that were made already: on the oven as its file says, and on
    /// others it may be.
    #[must_use]
    pub fn of_rehearsals(nominal: &[Row], others: &[&[Row]]) -> Self {
        let courses = others.iter().map(|rows| Course::of_rows(rows)).collect();
        Self { nominal: Course::of_rows(nominal), courses }
    }

    /// What is still to come of a bake that stands there; `None` where no oven came so far.
    #[must_use]
    pub fn from(&self, standing: &Standing) -> Option<Foreseen> {
        let reached: Vec<(&Course, f64)> = self
            .courses
            .iter()
            .filter_map(|course| Some((course, course.reached_s(standing)?)))
            .collect();
        let left = |(course, at_s): &(&Course, f64)| course.done_s.map(|done_s| done_s - at_s);
        let lefts: Vec<f64> = reached.iter().filter_map(left).collect();
        let begins: Vec<f64> = reached
            .iter()
            .filter_map(|(course, at_s)| Some(course.counts_s(standing)? - at_s))
            .filter(|in_s| *in_s > 0.0)
            .collect();
        Some(Foreseen {
            half_s: quantile(&lefts, reached.len(), 0.5)?,
            most_s: quantile(&lefts, reached.len(), 0.95),
            counting_s: quantile(&begins, begins.len(), 0.5),
        })
    }

    /// The rehearsed reading and coldest bound on the oven as its file says: minutes, and
    /// temperatures as shown.
    #[must_use]
    pub(super) fn curves(&self, units: Units) -> (Curve, Curve) {
        let curve = |of: fn(&Sample) -> f32| {
            let samples = self.nominal.samples.iter();
            let known = samples.filter(move |sample| of(sample).is_finite());
            known
                .map(move |sample| {
                    let shown = units.from_celsius(f64::from(of(sample)));
                    (f64::from(sample.at_s) / 60.0, shown)
                })
                .collect()
        };
        (curve(|sample| sample.reading_c), curve(|sample| sample.coldest_c))
    }

    /// How long the rehearsal on the oven as its file says takes, s.
    #[must_use]
    pub fn nominal_s(&self) -> f64 {
        self.nominal.samples.last().map_or(0.0, |sample| f64::from(sample.at_s))
    }
}

impl Course {
    /// Of a rehearsal's log.
    fn of_rows(rows: &[Row]) -> Self {
        let mut course = Self::default();
        for row in rows.iter().filter(|row| row.event.is_empty()) {
            course.pass(&Sample {
                at_s: row.t_s() as f32,
                step: row.step,
                round: 0,
                phase: row.phase,
                in_step_s: 0.0,
                credit_s: row.credit_s,
                coldest_c: row.coldest_c.map_or(f32::NAN, |bound_c| bound_c as f32),
                reading_c: row.air.map_or(f32::NAN, |air| air.to_celsius().0),
            });
        }
        course.done_s = rows.last().map(Row::t_s);
        course
    }

    /// A second has passed; its round and its time in the step are found here.
    fn pass(&mut self, second: &Sample) {
        let step = second.step.max(1);
        if step != self.step {
            self.step = step;
            self.began_s = second.at_s;
            if let Some(round) = self.rounds.get_mut(usize::from(step) - 1) {
                *round += 1;
            }
        }
        let in_step_s = second.at_s - self.began_s;
        if (second.at_s as u32).is_multiple_of(EVERY_S) {
            let round = self.rounds.get(usize::from(step) - 1).copied().unwrap_or(1);
            self.samples.push(Sample { step, round, in_step_s, ..*second });
        }
    }

    /// The samples of a step's round; of the last one there is, where it was gone through less often.
    fn within(&self, standing: &Standing) -> impl Iterator<Item = &Sample> {
        let of_step = move |sample: &&Sample| sample.step == standing.step;
        let rounds = self.samples.iter().filter(of_step).map(|sample| sample.round);
        let round = rounds.max().unwrap_or(0).min(standing.round);
        self.samples
            .iter()
            .filter(move |sample| sample.step == standing.step && sample.round == round)
    }

    /// When it had come as far, s.
    fn reached_s(&self, standing: &Standing) -> Option<f64> {
        let last = self.within(standing).last()?;
        let at = self.within(standing).find(|sample| sample.is_as_far_as(standing));
        Some(f64::from(at.unwrap_or(last).at_s))
    }

    /// When the step's first second was counted, s.
    fn counts_s(&self, standing: &Standing) -> Option<f64> {
        let counted = self.within(standing).find(|sample| sample.credit_s > 0);
        counted.map(|sample| f64::from(sample.at_s) - f64::from(sample.credit_s.min(EVERY_S)))
    }
}

impl Sample {
    fn is_as_far_as(&self, standing: &Standing) -> bool {
        let reached = |value: f32, wanted: Option<f64>| {
            wanted.is_none_or(|wanted_c| f64::from(value) >= wanted_c)
        };
        match self.phase {
            Phase::Soak | Phase::Approach | Phase::Recover if standing.credit_s > 0 => {
                self.credit_s >= standing.credit_s
            }
            Phase::Soak | Phase::Approach | Phase::Recover if standing.coldest_c.is_some() => {
                self.credit_s > 0 || reached(self.coldest_c, standing.coldest_c)
            }
            Phase::Ramp | Phase::Recover => reached(self.reading_c, standing.reading_c),
            Phase::Cool => {
                standing.reading_c.is_none_or(|now_c| f64::from(self.reading_c) <= now_c)
            }
            _ => f64::from(self.in_step_s) >= standing.in_step_s,
        }
    }
}

impl Observer for Course {
    fn event(&mut self, now: u32, event: Event, _runner: &dyn Runner, _world: &World) {
        if event == Event::Ended(Ending::Finished) {
            self.done_s = Some(f64::from(now) / f64::from(TICKS_PER_SECOND));
        }
    }

    fn second(&mut self, now: u32, record: &Record, _runner: &dyn Runner) {
        self.pass(&Sample {
            at_s: now as f32 / TICKS_PER_SECOND as f32,
            step: record.step,
            round: 0,
            phase: record.phase,
            in_step_s: 0.0,
            credit_s: record.credit_s,
            coldest_c: record.coldest.map_or(f32::NAN, |bound| bound.0),
            reading_c: record.reading.map_or(f32::NAN, |reading| reading.to_celsius().0),
        });
    }

    fn truth(&mut self, _now: u32, _done: u32, _world: &World) {}
}
