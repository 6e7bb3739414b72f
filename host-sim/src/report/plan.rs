//! A plan as JSON, `truesoak.plan/1`.
//!
//! Keys are fixed; more may be added. Times are seconds since the bake's start unless they are
//! durations; what fewer draws reach than it takes is null. Values are rounded where they leave.

use super::result::{Verdict, seconds, seconds_or_null};
use crate::plan::Plan;
use serde::{Serialize, Serializer};

/// Name and version of the format.
pub const SCHEMA: &str = "truesoak.plan/1";

/// A time half of the draws, and 19 in 20 of them, do not exceed.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Quantiles {
    /// Half.
    #[serde(serialize_with = "seconds_or_null")]
    pub p50: Option<f64>,
    /// 19 in 20.
    #[serde(serialize_with = "seconds_or_null")]
    pub p95: Option<f64>,
}

/// An interval of a probability.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Interval {
    /// How it was found.
    pub method: &'static str,
    /// Lower end.
    #[serde(serialize_with = "share")]
    pub low: f64,
    /// Upper end.
    #[serde(serialize_with = "share")]
    pub high: f64,
}

/// How quickly a part follows the oven.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Lag {
    /// Name.
    pub part: String,
    /// Greatest lag of its slowest point, s.
    #[serde(serialize_with = "seconds")]
    pub coldest_s: f64,
    /// Least lag of its fastest point, s.
    #[serde(serialize_with = "seconds")]
    pub hottest_s: f64,
}

/// What a clock gives a part, the trade's extra minutes included.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Clock {
    /// Name.
    pub part: String,
    /// Wanted, s.
    #[serde(serialize_with = "seconds")]
    pub wanted_s: f64,
    /// In the window in half of the draws at most, s.
    #[serde(serialize_with = "seconds")]
    pub median_s: f64,
    /// In the worst draw, s.
    #[serde(serialize_with = "seconds")]
    pub least_s: f64,
    /// Share of draws in which it had enough.
    #[serde(serialize_with = "share")]
    pub pass_probability: f64,
}

/// A change and what it saves.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Advice {
    /// What to do.
    pub change: String,
    /// Done in half of the draws by then.
    #[serde(serialize_with = "seconds_or_null")]
    pub finish_s: Option<f64>,
    /// Median saving; negative: it takes longer.
    #[serde(serialize_with = "seconds_or_null")]
    pub saves_s: Option<f64>,
    /// What it costs.
    pub costs: String,
    /// Share of its draws that pass with it.
    #[serde(serialize_with = "share")]
    pub pass_probability: f64,
    /// Draws it was rehearsed on.
    pub draws: usize,
}

/// The draw that came out worst.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Worst {
    /// For `simulate --draw`.
    pub draw: u64,
    /// What the controller claims.
    pub verdict: Verdict,
    /// What the parts had.
    pub truth: Verdict,
    /// From start to end, s.
    #[serde(serialize_with = "seconds")]
    pub duration_s: f64,
}

/// A plan.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PlanResult {
    /// [`SCHEMA`].
    pub schema: &'static str,
    /// Draws rehearsed.
    pub runs: usize,
    /// Done and good by then; a draw that does not pass is never done.
    pub finish_s: Quantiles,
    /// Share of draws that pass.
    #[serde(serialize_with = "share")]
    pub pass_probability: f64,
    /// What it may be of all draws, 19 times in 20.
    pub pass_interval: Interval,
    /// Share of draws in which the clock gives every part its minutes.
    #[serde(serialize_with = "share")]
    pub clock_pass_probability: f64,
    /// Share of draws that end in a trip with nothing wrong.
    #[serde(serialize_with = "share")]
    pub false_trip_probability: f64,
    /// The least it could take, knowing everything.
    pub oracle_finish_s: Quantiles,
    /// Lags of the parts, in the load's order.
    pub lags: Vec<Lag>,
    /// What the clock gives each part, in the load's order.
    pub clock: Vec<Clock>,
    /// Changes, best first.
    pub advice: Vec<Advice>,
    /// The worst draw; null where none was rehearsed.
    pub worst: Option<Worst>,
}

impl PlanResult {
    /// From a plan.
    #[must_use]
    pub fn of(plan: &Plan) -> Self {
        let quantiles = |of: &dyn Fn(f64) -> Option<f64>| Quantiles { p50: of(0.5), p95: of(0.95) };
        let interval = plan.pass_interval();
        let parts = plan.lags.iter().enumerate();
        let clock = parts.filter_map(|(index, lag)| {
            let had = plan.clock_had(index)?;
            Some(Clock {
                part: lag.part.clone(),
                wanted_s: had.wanted_s,
                median_s: had.median_s,
                least_s: had.least_s,
                pass_probability: had.enough,
            })
        });
        Self {
            schema: SCHEMA,
            runs: plan.drawn.len(),
            finish_s: quantiles(&|share| plan.finish_s(share)),
            pass_probability: plan.pass_probability(),
            pass_interval: Interval {
                method: "Wilson, 95 %",
                low: interval.low,
                high: interval.high,
            },
            clock_pass_probability: plan.clock_pass_probability(),
            false_trip_probability: plan.false_trip_probability(),
            oracle_finish_s: quantiles(&|share| plan.oracle_finish_s(share)),
            lags: plan.lags.iter().map(lag).collect(),
            clock: clock.collect(),
            advice: plan.advice.iter().map(advice).collect(),
            worst: plan.worst().map(|drawn| Worst {
                draw: drawn.number,
                verdict: drawn.verdict,
                truth: drawn.truth,
                duration_s: drawn.duration_s,
            }),
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

fn lag(lag: &crate::plan::Lag) -> Lag {
    Lag { part: lag.part.clone(), coldest_s: lag.coldest_s, hottest_s: lag.hottest_s }
}

fn advice(advice: &crate::plan::Advice) -> Advice {
    Advice {
        change: advice.change.clone(),
        finish_s: advice.finish_s,
        saves_s: advice.saves_s,
        costs: advice.costs.clone(),
        pass_probability: advice.passes as f64 / advice.draws.max(1) as f64,
        draws: advice.draws,
    }
}

fn share<S: Serializer>(value: &f64, out: S) -> Result<S::Ok, S::Error> {
    out.serialize_f64(super::result::rounded(*value, 1e4))
}
