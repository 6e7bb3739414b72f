//! The result of a bake as JSON, `truesoak.result/1`, the same for a rehearsal and a recount.
//!
//! Keys are fixed; more may be added. Temperatures are °C, differences K, times seconds since the
//! bake's start unless they are durations; what never happened is null. Values are rounded where
//! they leave (times to 0.1 s, temperatures to 0.001 K), so that the same seed gives the same
//! bytes and no digit claims more than the model knows.

use serde::{Deserialize, Serialize, Serializer};

/// Name and version of the format.
pub const SCHEMA: &str = "truesoak.result/1";

/// How a bake ended, worst first: the least of several is what holds for all.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Verdict {
    /// A trip was latched.
    Tripped,
    /// Some point of a part went over its limit.
    Overheated,
    /// The bake ended before its last step.
    Unfinished,
    /// Some part had less than its minutes in the window.
    Short,
    /// Every part had its minutes.
    Pass,
}

impl Verdict {
    /// The word, as JSON and screens have it.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Tripped => "tripped",
            Self::Overheated => "overheated",
            Self::Unfinished => "unfinished",
            Self::Short => "short",
            Self::Pass => "pass",
        }
    }
}

/// What a claim rests on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Basis {
    /// One air sensor: a sensor that moved is not seen.
    OneSensor,
    /// Two air sensors that agree.
    TwoSensors,
    /// A probe on a part that agrees with the bounds of that part.
    PartProbe,
}

/// A rehearsal or a recount.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct BakeResult {
    /// [`SCHEMA`].
    pub schema: String,
    /// What the controller claims.
    pub verdict: Verdict,
    /// What the parts really had; rehearsals only.
    pub truth: Option<Verdict>,
    /// The verdict in a sentence.
    pub reason: String,
    /// What the claim rests on.
    pub basis: Basis,
    /// From start to end, s.
    #[serde(serialize_with = "seconds")]
    pub duration_s: f64,
    /// Heat put in, kWh; not a number, and null in JSON, where it is not known.
    #[serde(serialize_with = "kilowatt_hours")]
    pub energy_kwh: f64,
    /// The air.
    pub air: Air,
    /// Parts, in the order of the load file: the last try of the soak that came closest to failing.
    pub parts: Vec<Part>,
    /// Door openings.
    pub doors: Vec<DoorEvent>,
    /// Steps as they were run, repeats included.
    pub steps: Vec<StepRun>,
    /// Trips.
    pub trips: Vec<Trip>,
    /// Questions and their answers.
    pub answers: Vec<Answered>,
    /// The best that could have been done; only when asked for.
    pub oracle: Option<Oracle>,
    /// Recounts only: why a part was not proven in its window, for every soak it was in.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub why: Vec<Why>,
    /// Recounts only: what was found of the log itself.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub record: Vec<Found>,
}

/// What kept seconds of one soak from being proven of one part.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Why {
    /// Name of the part.
    pub part: String,
    /// Step, from 1.
    pub step: usize,
    /// Which time the step was run, from 1.
    #[serde(rename = "try")]
    pub round: u32,
    /// Time in which it may have been below the window, s.
    #[serde(serialize_with = "seconds")]
    pub too_cold_s: f64,
    /// Time in which it may have been above, s.
    #[serde(serialize_with = "seconds")]
    pub too_hot_s: f64,
    /// Time in the window in which nothing counts, because of what the log or a person does not
    /// say, s.
    #[serde(serialize_with = "seconds")]
    pub doubted_s: f64,
    /// The most its coldest bound came to, °C.
    #[serde(serialize_with = "celsius_or_null")]
    pub coldest_most_c: Option<f64>,
    /// The most its hottest bound came to, °C.
    #[serde(serialize_with = "celsius_or_null")]
    pub hottest_most_c: Option<f64>,
}

/// What was found of a log itself.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Found {
    /// Line of the log, from 1; null where it is of no one line.
    pub line: Option<usize>,
    /// One word of what it is.
    pub kind: Flaw,
    /// A sentence for a person.
    pub what: String,
}

/// What a log can lack.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Flaw {
    /// It breaks off.
    TornEnd,
    /// Seconds are missing, or its clock jumped.
    Gap,
    /// It says of bounds or credit what its own readings do not give.
    Edited,
    /// The board ran with other tables than those recounted with.
    OtherTables,
    /// It was not written by a board that counts.
    NotCounted,
    /// Something about the oven was not logged, and the worst of it was taken.
    NotLogged,
    /// The door must have been open, by the air's own fall.
    Door,
}

/// The air through a bake.
#[derive(Clone, Copy, Debug, PartialEq, Default, Serialize, Deserialize)]
pub struct Air {
    /// Hottest reading, °C; none was usable: null.
    #[serde(serialize_with = "celsius_or_null")]
    pub peak_c: Option<f64>,
    /// Most above the setpoint while a soak was held, K.
    #[serde(serialize_with = "kelvins")]
    pub overshoot_k: f64,
    /// Mean of reading less setpoint while a soak was steady, K; none was: null.
    #[serde(serialize_with = "kelvins_or_null")]
    pub soak_mean_error_k: Option<f64>,
    /// Standard deviation of the same, K.
    #[serde(serialize_with = "kelvins_or_null")]
    pub soak_sd_k: Option<f64>,
}

/// One kind of part.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Part {
    /// Name.
    pub name: String,
    /// How many.
    pub count: u32,
    /// When the slowest reached the window, s since the bake's start.
    #[serde(serialize_with = "seconds_or_null")]
    pub reached_s: Option<f64>,
    /// Time with slowest and fastest in the window, s.
    #[serde(serialize_with = "seconds")]
    pub in_window_s: f64,
    /// Time its own class was proven in the window, s.
    #[serde(serialize_with = "seconds")]
    pub credited_s: f64,
    /// Hottest the fastest was, °C; never in the oven: null.
    #[serde(serialize_with = "celsius_or_null")]
    pub peak_c: Option<f64>,
    /// Hottest it stands, °C.
    #[serde(serialize_with = "celsius")]
    pub limit_c: f64,
    /// Time at the coating's data-sheet temperature that would have cured alike, s.
    #[serde(serialize_with = "seconds_or_null")]
    pub equivalent_s: Option<f64>,
    /// What it truly had when a clock would have said done, s.
    #[serde(serialize_with = "seconds_or_null")]
    pub clock_s: Option<f64>,
    /// Pass, short or overheated.
    pub verdict: Verdict,
    /// Every soak it was in, every try.
    pub soaks: Vec<PartSoak>,
}

/// One kind of part in one soak.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PartSoak {
    /// Step, from 1.
    pub step: usize,
    /// Which time the step was run, from 1.
    #[serde(rename = "try")]
    pub round: u32,
    /// See [`Part::reached_s`].
    #[serde(serialize_with = "seconds_or_null")]
    pub reached_s: Option<f64>,
    /// See [`Part::in_window_s`].
    #[serde(serialize_with = "seconds")]
    pub in_window_s: f64,
    /// See [`Part::credited_s`].
    #[serde(serialize_with = "seconds")]
    pub credited_s: f64,
    /// Time some point was above the window's lower end, on the way there and after it too, s; 0
    /// where the soak does not limit it.
    #[serde(skip)]
    pub above_s: f64,
    /// Hottest the fastest was in this soak, °C.
    #[serde(serialize_with = "celsius")]
    pub peak_c: f64,
    /// See [`Part::clock_s`].
    #[serde(serialize_with = "seconds_or_null")]
    pub clock_s: Option<f64>,
    /// From the load-in door's closing to the soak's end, less what the soak asks for, s.
    #[serde(serialize_with = "seconds_or_null")]
    pub lead_s: Option<f64>,
    /// Pass, short or overheated.
    pub verdict: Verdict,
}

/// A door opening.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct DoorEvent {
    /// s.
    #[serde(serialize_with = "seconds")]
    pub opened_s: f64,
    /// s.
    #[serde(serialize_with = "seconds_or_null")]
    pub closed_s: Option<f64>,
    /// Lowest reading from opening to recovery, °C.
    #[serde(serialize_with = "celsius_or_null")]
    pub reading_low_c: Option<f64>,
    /// Start of the first 30 s within 1 K of the setpoint, s.
    #[serde(serialize_with = "seconds_or_null")]
    pub recovered_s: Option<f64>,
}

/// One run of one step.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct StepRun {
    /// Step, from 1.
    pub index: usize,
    /// Name; empty where the file gives none.
    pub name: String,
    /// `ramp`, `soak`, `cool`, `load_in`, `check` or `wait`.
    pub kind: String,
    /// Which time, from 1.
    #[serde(rename = "try")]
    pub round: u32,
    /// s.
    #[serde(serialize_with = "seconds")]
    pub started_s: f64,
    /// s.
    #[serde(serialize_with = "seconds_or_null")]
    pub ended_s: Option<f64>,
    /// Credit of a soak, s.
    #[serde(serialize_with = "seconds")]
    pub credit_s: f64,
}

/// A latched trip.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Trip {
    /// A word of the fault table.
    pub kind: String,
    /// When the fault began, s; null unless it was scripted.
    #[serde(serialize_with = "seconds_or_null")]
    pub at_s: Option<f64>,
    /// When it latched, s.
    #[serde(serialize_with = "seconds")]
    pub detected_s: f64,
}

/// A question and its answer.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Answered {
    /// Step, from 1.
    pub step: usize,
    /// What was asked, in the log's word: `load-in`, `check`, `wait`, `anything-new`, …
    pub question: String,
    /// s.
    #[serde(serialize_with = "seconds")]
    pub asked_s: f64,
    /// s.
    #[serde(serialize_with = "seconds_or_null")]
    pub answered_s: Option<f64>,
    /// The word given; null when nobody answered.
    pub said: Option<String>,
}

/// What a controller that knows everything would have needed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Oracle {
    /// From start to end, s.
    #[serde(serialize_with = "seconds")]
    pub duration_s: f64,
    /// The longest of its soaks' last tries; see [`PartSoak::lead_s`].
    #[serde(serialize_with = "seconds_or_null")]
    pub lead_s: Option<f64>,
    /// What its parts would have had.
    pub verdict: Verdict,
    /// Every soak, every try.
    pub soaks: Vec<OracleSoak>,
}

/// One run of one soak by a controller that knows everything.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct OracleSoak {
    /// Step, from 1.
    pub step: usize,
    /// Which time the step was run, from 1.
    #[serde(rename = "try")]
    pub round: u32,
    /// See [`PartSoak::lead_s`].
    #[serde(serialize_with = "seconds_or_null")]
    pub lead_s: Option<f64>,
}

impl From<&crate::rehearse::Oracle> for Oracle {
    fn from(known: &crate::rehearse::Oracle) -> Self {
        let soak = |soak: &crate::rehearse::SoakLead| OracleSoak {
            step: soak.step,
            round: soak.round,
            lead_s: soak.lead_s,
        };
        Self {
            duration_s: known.duration_s,
            lead_s: known.lead_s(),
            verdict: known.verdict(),
            soaks: known.soaks.iter().map(soak).collect(),
        }
    }
}

impl BakeResult {
    /// The JSON, on one line, ending in a line end.
    #[must_use]
    pub fn to_json(&self) -> String {
        // Writing plain structures to memory cannot fail: no maps with odd keys are inside.
        let mut text = serde_json::to_string(self).unwrap_or_default();
        text.push('\n');
        text
    }

    /// The claim is a pass and, where it is known, so is the truth.
    #[must_use]
    pub fn is_good(&self) -> bool {
        self.verdict == Verdict::Pass && self.truth.is_none_or(|truth| truth == Verdict::Pass)
    }
}

/// Rounds to so many units in one; never gives a negative zero.
pub(super) fn rounded(value: f64, per_unit: f64) -> f64 {
    libm::round(value * per_unit) / per_unit + 0.0
}

pub(super) fn seconds<S: Serializer>(value: &f64, out: S) -> Result<S::Ok, S::Error> {
    out.serialize_f64(rounded(*value, 10.0))
}

fn celsius<S: Serializer>(value: &f64, out: S) -> Result<S::Ok, S::Error> {
    out.serialize_f64(rounded(*value, 1e3))
}

fn kelvins<S: Serializer>(value: &f64, out: S) -> Result<S::Ok, S::Error> {
    celsius(value, out)
}

fn kilowatt_hours<S: Serializer>(value: &f64, out: S) -> Result<S::Ok, S::Error> {
    out.serialize_f64(rounded(*value, 1e4))
}

pub(super) fn seconds_or_null<S: Serializer>(
    value: &Option<f64>,
    out: S,
) -> Result<S::Ok, S::Error> {
    out.serialize_some(&value.map(|value| rounded(value, 10.0)))
}

fn celsius_or_null<S: Serializer>(value: &Option<f64>, out: S) -> Result<S::Ok, S::Error> {
    out.serialize_some(&value.map(|value| rounded(value, 1e3)))
}

fn kelvins_or_null<S: Serializer>(value: &Option<f64>, out: S) -> Result<S::Ok, S::Error> {
    celsius_or_null(value, out)
}
