//! A fit as JSON, `truesoak.fit/1`.
//!
//! Keys are fixed; more may be added. Factors are on what the file's sizes say, times are seconds;
//! spreads and standard errors are fractions of the value, those of `wall_view` the share itself.

use super::result::rounded;
use crate::fit::{Estimate, Fitted, Quantity, Standing, Worth};
use serde::Serialize;

/// Name and version of the format.
pub const SCHEMA: &str = "truesoak.fit/1";
/// Numbers leave with so many parts of one.
const PARTS: f64 = 1e5;

/// One quantity.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Asked {
    /// Its key in `[spread]`.
    pub name: &'static str,
    /// `s` for a time, `1` else.
    pub unit: &'static str,
    /// It is taken over.
    pub told: bool,
    /// By the logs.
    pub value: f64,
    /// Of the value; of the wall view the share itself.
    pub standard_error: f64,
    /// Allowed for the plant's own error, the same way.
    pub mismatch_allowance: f64,
    /// 95 % interval, the allowance in it.
    pub low: f64,
    /// See `low`.
    pub high: f64,
    /// By the file.
    pub was_value: f64,
    /// Its spread by the file.
    pub was_spread: f64,
    /// Its spread now: narrower where it is told, as it was else.
    pub spread: f64,
    /// The value lies outside what the file said.
    pub outside_file: bool,
    /// Why it is not told; null where it is.
    pub why_not: Option<String>,
    /// The test that would tell it; null where it is told.
    pub step_test: Option<String>,
}

/// What a sensor's residuals come to.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Left {
    /// K.
    pub rms_k: f64,
    /// Means of ten seconds.
    pub readings: usize,
    /// What they are worth, correlated as they are.
    pub effective_readings: f64,
}

/// A fit.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FitResult {
    /// [`SCHEMA`].
    pub schema: &'static str,
    /// Everything asked.
    pub quantities: Vec<Asked>,
    /// Factor on the film between air and liner that goes with them; null where it is not told.
    pub liner_exchange: Option<f64>,
    /// Air sensor.
    pub air: Left,
    /// Part probe; null without one.
    pub part_probe: Option<Left>,
    /// Directions among the unknowns that the logs tell more of than was known.
    pub told_directions: usize,
    /// Unknowns.
    pub unknowns: usize,
    /// How intervals were made.
    pub method: &'static str,
    /// What a person should know.
    pub notes: Vec<String>,
}

impl FitResult {
    /// From a fit.
    #[must_use]
    pub fn of(fitted: &Fitted) -> Self {
        Self {
            schema: SCHEMA,
            quantities: fitted.estimates.iter().map(asked).collect(),
            liner_exchange: fitted.liner_exchange.map(|factor| rounded(factor, PARTS)),
            air: left(&fitted.air),
            part_probe: (fitted.probe.count > 0).then(|| left(&fitted.probe)),
            told_directions: fitted.told_directions,
            unknowns: fitted.unknowns,
            method: "Levenberg-Marquardt; 1.96 standard errors from the Jacobian by effective \
                     sample size, and the mismatch allowance",
            notes: fitted.notes.clone(),
        }
    }

    /// The JSON, on one line, ending in a line end.
    #[must_use]
    pub fn to_json(&self) -> String {
        // Writing plain structures to memory cannot fail: no maps with odd keys are inside.
        let mut text = serde_json::to_string(self).unwrap_or_default();
        text.push('\n');
        text
    }
}

fn left(worth: &Worth) -> Left {
    Left {
        rms_k: rounded(worth.rms_k, PARTS),
        readings: worth.count,
        effective_readings: rounded(worth.effective(), 10.0),
    }
}

fn asked(estimate: &Estimate) -> Asked {
    let (why_not, step_test) = match &estimate.standing {
        Standing::Told => (None, None),
        Standing::NotTold { why, next } => (Some(why.clone()), Some(next.clone())),
    };
    let spread = if estimate.is_told() { estimate.half() } else { estimate.was.1 };
    Asked {
        name: estimate.quantity.key(),
        unit: if estimate.quantity == Quantity::SensorLag { "s" } else { "1" },
        told: estimate.is_told(),
        value: rounded(estimate.value, PARTS),
        standard_error: rounded(estimate.standard_error, PARTS),
        mismatch_allowance: rounded(estimate.allowance, PARTS),
        low: rounded(estimate.interval.0, PARTS),
        high: rounded(estimate.interval.1, PARTS),
        was_value: rounded(estimate.was.0, PARTS),
        was_spread: rounded(estimate.was.1, PARTS),
        spread: rounded(spread, PARTS),
        outside_file: estimate.is_surprising(),
        why_not,
        step_test,
    }
}
