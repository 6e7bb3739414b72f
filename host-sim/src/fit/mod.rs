//! What logged bakes say of an oven: losses, walls, power, sensor and, with a probe, its parts.
//!
//! The plant of a rehearsal is driven by what a log says was done ([`Course`]), and its unknowns are
//! moved until it foretells what was read (`least.rs`). An interval holds three things: the
//! scatter of the residuals, counted by what they are worth ([`Worth`]); what else is not known, each
//! to its own spread; and an allowance for a real oven not being this plant. Only what comes out
//! clearly narrower than the file's spread is taken over; everything else keeps what the file says,
//! and the step test that would tell it is named. Refuses logs no such oven follows.

mod course;
mod follow;
mod judge;
mod least;
mod noise;
mod unknowns;
mod write;

pub use course::Course;
pub use judge::{Estimate, Standing};
pub use noise::Worth;
pub use unknowns::Quantity;
pub use write::{Change, rewritten};

use crate::files::Refusal;
use crate::files::failure_text;
use crate::files::oven::Oven;
use least::{Case, Rest, solve};
use std::fmt;

/// Most logs of one fit.
pub const LOGS_MAX: usize = 12;
/// A plant whose residuals are greater than this does not follow its log, K.
const FOLLOWS_K: f64 = 8.0;

/// Why nothing could be fitted.
#[derive(Clone, Debug, PartialEq)]
pub enum Unfit {
    /// What the log carries of bake and load does not read.
    Files(Refusal),
    /// The log itself.
    Log {
        /// What is wrong.
        what: String,
        /// The log.
        place: String,
        /// What was expected.
        expected: String,
        /// What to do next.
        next: String,
    },
}

impl Unfit {
    pub(crate) fn log(place: &str, what: String, expected: &str) -> Self {
        Self::Log {
            what,
            place: place.to_owned(),
            expected: expected.to_owned(),
            next: STEP_TEST.to_owned(),
        }
    }

    fn not_followed(courses: &[Course]) -> Self {
        let names: Vec<&str> = courses.iter().map(|course| course.name.as_str()).collect();
        Self::Log {
            what: "no oven of this kind follows the log".to_owned(),
            place: names.join(", "),
            expected: "readings that an oven with this file's sizes could give".to_owned(),
            next: "check that the oven's file and the log belong together, and power, cavity and \
                   insulation in the file"
                .to_owned(),
        }
    }
}

impl fmt::Display for Unfit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Files(refusal) => refusal.fmt(f),
            Self::Log { what, place, expected, next } => {
                f.write_str(&failure_text(what, place, expected, next))
            }
        }
    }
}

impl std::error::Error for Unfit {}

/// The test that tells most of an oven.
pub const STEP_TEST: &str = "make a step test: the empty oven from cold at full power to 150 °C, \
    held there for 60 min, then heater off and door shut for 60 min, logged throughout";

/// One point of what was left over.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Leftover {
    /// s from the log's first row.
    pub t_s: f64,
    /// Read, °C: mean over ten seconds.
    pub read_c: f64,
    /// Read less foretold, K.
    pub residual_k: f64,
}

/// What was left over of one log.
#[derive(Clone, Debug, PartialEq)]
pub struct LeftOver {
    /// The log.
    pub name: String,
    /// Air sensor.
    pub air: Vec<Leftover>,
    /// Part probe.
    pub probe: Vec<Leftover>,
}

/// What logs said.
#[derive(Clone, Debug, PartialEq)]
pub struct Fitted {
    /// Everything asked, in the order of [`Quantity::ALL`].
    pub estimates: Vec<Estimate>,
    /// Factor on the film between air and liner that goes with them, where it is told.
    pub liner_exchange: Option<f64>,
    /// What is left over of the air sensor.
    pub air: Worth,
    /// The same of the part probe.
    pub probe: Worth,
    /// Directions among the unknowns that the logs tell more of than was known.
    pub told_directions: usize,
    /// Unknowns there were, those that are not asked included.
    pub unknowns: usize,
    /// What was left over, log by log.
    pub left_over: Vec<LeftOver>,
    /// What a person should know of how the logs were used.
    pub notes: Vec<String>,
}

impl Fitted {
    /// What was told.
    pub fn told(&self) -> impl Iterator<Item = &Estimate> {
        self.estimates.iter().filter(|estimate| estimate.is_told())
    }
}

/// Fits an oven to its logs.
///
/// # Errors
/// Logs that no such oven follows.
pub fn fit(oven: &Oven, courses: &[Course]) -> Result<Fitted, Unfit> {
    let probed = courses.iter().any(judge::probe_rises);
    let priors = unknowns::unknowns(oven, courses, probed);
    let courses: Vec<Course> = courses
        .iter()
        .map(|course| Course {
            probe: if probed { course.probe.clone() } else { Vec::new() },
            ..course.clone()
        })
        .collect();
    let case = Case { oven, courses: &courses, priors: &priors };
    let rest = solve(&case)?;
    if rest.air.rms_k > FOLLOWS_K {
        return Err(Unfit::not_followed(&courses));
    }
    let judged = judge::judge(&case, &rest, probed);
    let eigenvalues = rest.information.clone().symmetric_eigenvalues();
    Ok(Fitted {
        estimates: judged.estimates,
        liner_exchange: judged.liner_exchange,
        air: rest.air,
        probe: rest.probe,
        told_directions: eigenvalues.iter().filter(|value| **value > 1.0).count(),
        unknowns: priors.len(),
        left_over: left_over(&courses, &rest),
        notes: courses.iter().flat_map(|course| course.notes.clone()).collect(),
    })
}

fn left_over(courses: &[Course], rest: &Rest) -> Vec<LeftOver> {
    let points = |samples: &[course::Sample], residuals: &[f64]| {
        let means = follow::means_c(samples);
        let times = follow::times_s(samples).into_iter().zip(means).zip(residuals);
        times
            .map(|((t_s, read_c), residual_k)| Leftover { t_s, read_c, residual_k: *residual_k })
            .collect()
    };
    let of = |(course, left): (&Course, &follow::Residuals)| LeftOver {
        name: course.name.clone(),
        air: points(&course.air, &left.air),
        probe: points(&course.probe, &left.probe),
    };
    courses.iter().zip(&rest.residuals).map(of).collect()
}
