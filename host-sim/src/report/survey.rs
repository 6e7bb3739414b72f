//! A survey as JSON, `truesoak.survey/1`.
//!
//! Keys are fixed; more may be added. Temperatures are °C, deviations K, times seconds since the
//! table's first row; `steady` is null where there is none.

use super::result::{rounded, seconds};
use super::survey_words::SurveyStory;
use crate::survey::{Place, Settled};
use serde::Serialize;

/// Name and version of the format.
pub const SCHEMA: &str = "truesoak.survey/1";

/// One place in the steady interval.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PlaceResult {
    /// Its name.
    pub name: String,
    /// Mean.
    pub mean_c: f64,
    /// Mean less the control sensor's.
    pub deviation_k: f64,
    /// Least of five-minute means.
    pub least_k: f64,
    /// Greatest.
    pub greatest_k: f64,
    /// Over the whole interval.
    pub drift_k: f64,
}

/// The steady interval.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Steady {
    /// From.
    #[serde(serialize_with = "seconds")]
    pub from_s: f64,
    /// To.
    #[serde(serialize_with = "seconds")]
    pub to_s: f64,
    /// Control sensor's mean.
    pub control_c: f64,
    /// Every place, in the table's order.
    pub places: Vec<PlaceResult>,
    /// Name of the coldest.
    pub coldest: Option<String>,
    /// Name of the hottest.
    pub hottest: Option<String>,
    /// For `[spread]`.
    pub cold_spot_k: f64,
    /// For `[spread]`.
    pub hot_spot_k: f64,
}

/// A survey.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SurveyResult {
    /// [`SCHEMA`].
    pub schema: &'static str,
    /// The steady interval; null where there is none.
    pub steady: Option<Steady>,
    /// Why there is none; null where there is.
    pub why_not: Option<String>,
    /// What a survey sensor may be off; beyond the oven's `sensor_offset` it is added to both spots.
    pub sensor_error_k: f64,
}

impl SurveyResult {
    /// From a survey.
    #[must_use]
    pub fn of(story: &SurveyStory<'_>) -> Self {
        let steady = story.found.as_ref().ok().map(|found| steady(found, story.worse_k()));
        Self {
            schema: SCHEMA,
            steady,
            why_not: story.found.as_ref().err().map(|why| why.what.clone()),
            sensor_error_k: thousandths(story.sensor_error_k),
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

fn thousandths(value: f64) -> f64 {
    rounded(value, 1000.0)
}

fn steady(found: &Settled, worse_k: f64) -> Steady {
    let name = |place: Option<&Place>| place.map(|place| place.name.clone());
    let place = |place: &Place| PlaceResult {
        name: place.name.clone(),
        mean_c: thousandths(place.mean_c),
        deviation_k: thousandths(place.deviation_k),
        least_k: thousandths(place.least_k),
        greatest_k: thousandths(place.greatest_k),
        drift_k: thousandths(place.drift_k),
    };
    Steady {
        from_s: found.from_s,
        to_s: found.to_s,
        control_c: thousandths(found.control_c),
        places: found.places.iter().map(place).collect(),
        coldest: name(found.coldest()),
        hottest: name(found.hottest()),
        cold_spot_k: thousandths(found.cold_spot_k(worse_k)),
        hot_spot_k: thousandths(found.hot_spot_k(worse_k)),
    }
}
