//! A log of another maker made into one of ours, with the worst taken of all it does not say.
//!
//! Such a table says when the air read what, and little else. What it leaves open goes into the
//! tables and the rows as follows, so that the controller's own bounds can count it:
//!
//! * **Between two rows** the reading was somewhere from the least to the greatest of the rows
//!   around. The lower side takes the one, the upper the other, as of two sensors either of which
//!   may be right. An age of a reading of up to one interval is inside that; so is the sensor's lag,
//!   since a part's end temperature grows with the reading at every time before. Rows further apart
//!   than [`INTERVAL_MAX_S`] are refused, a longer stretch without any is a hole like any other.
//! * **The heater** may have been off for the lower side and on all the time for the upper one, at
//!   most as a duty column says between its rows.
//! * **The step** of the reading is at least the one the column is written in.
//! * **The door** is told by the air's fall, and after each fall everything inside may be new: it
//!   comes in cold and the count begins again. Where a load goes into a cold oven, or the bake has no
//!   load_in, it was in at the log's start.
//!
//! Not covered, and said in the result: an opening too short for the air to show, and a sensor unlike
//! the one in the oven's file. Refused: a bake whose parts come out between its soaks, since such a
//! log does not tell which of its rounds is which.

mod door;
mod table;
mod teller;

use super::Tables;
use crate::files::Setup;
use crate::log::{End, Header, Log, LogError, Source, bytes_of};
use crate::report::result::{Flaw, Found};
use crate::report::units::{Units, duration};
use door::falls;
use std::path::Path;
use table::{Sample, Table};
use teller::Teller;
use truesoak_core::bake::{Bake, Step};
use truesoak_core::units::Span;

/// Rows further apart are not judged, s: a door could be opened and shut between them unseen.
pub const INTERVAL_MAX_S: f64 = 60.0;
/// Longest log of another maker, s.
const LONGEST_S: f64 = 7.0 * 86_400.0;

/// Which of its columns is what.
#[derive(Clone, Debug, PartialEq)]
pub struct Columns {
    /// Time.
    pub time: String,
    /// Air temperature.
    pub air: String,
    /// Share of full power.
    pub duty: Option<String>,
    /// Units of the air's column; none: its name tells.
    pub units: Option<Units>,
}

/// A log made into one of ours.
#[derive(Clone, Debug)]
pub struct OtherLog {
    /// The log.
    pub log: Log,
    /// What it is counted by.
    pub tables: Tables,
    /// What it does not say, and what was taken instead.
    pub taken: Vec<Found>,
}

/// Reads it.
///
/// # Errors
/// A table that does not read, and one that cannot be judged.
pub fn read(path: &Path, columns: &Columns, setup: Setup) -> Result<OtherLog, LogError> {
    refuse_rounds(&setup.bake.bake).map_err(|error| error.at(path))?;
    let table =
        Table::parse(&bytes_of(path, table::EXPECTED)?, columns).map_err(|error| error.at(path))?;
    let interval_s = interval(&table).map_err(|error| error.at(path))?;
    let tables = loosened(setup, table.step_k).map_err(|what| {
        LogError::new(None, what, "files that compile", "check the bake").at(path)
    })?;
    let taken = taken(columns, &table, interval_s, &tables);
    let seconds = seconds(&table.samples);
    let falls = falls(&seconds);
    let mut log = Log {
        header: Header::carrying(Source::Other, &tables.setup),
        rows: Vec::new(),
        truth: Vec::new(),
        end: match table.torn {
            Some(line) => {
                let what = format!("the table breaks off in line {line}; all before it is kept");
                End::Torn { line, what }
            }
            None => End::Complete,
        },
    };
    log.rows = Teller::new(&log.header, &tables, &falls).rows(&seconds);
    Ok(OtherLog { log, tables, taken })
}

/// Parts that come out and in again between soaks cannot be followed.
fn refuse_rounds(bake: &Bake) -> Result<(), LogError> {
    let is_soak = |step: &Step| matches!(step, Step::Soak(_));
    let Some(first) = bake.steps.iter().position(is_soak) else { return Ok(()) };
    let Some(last) = bake.steps.iter().rposition(is_soak) else { return Ok(()) };
    let between = bake.steps.iter().take(last).skip(first);
    let comes_out = |step: &Step| matches!(step, Step::LoadIn(_) | Step::Check(_) | Step::Wait(_));
    if between.into_iter().any(comes_out) {
        return Err(LogError::new(
            None,
            "parts of this bake come out between its soaks, and a log of another maker does not \
             tell which round is which"
                .to_owned(),
            "a bake of one round",
            "cut the log, and give a bake with the steps of that piece",
        ));
    }
    Ok(())
}

/// The usual interval of the rows, s.
fn interval(table: &Table) -> Result<f64, LogError> {
    let refused =
        |what: String, expected: &str, next: &str| Err(LogError::new(None, what, expected, next));
    let mut steps: Vec<f64> = table.samples.windows(2).map(|two| two[1].t_s - two[0].t_s).collect();
    steps.sort_by(f64::total_cmp);
    let (Some(last), Some(usual_s)) = (table.samples.last(), steps.get(steps.len() / 2).copied())
    else {
        let what = "the table has fewer than two readings".to_owned();
        return refused(what, "a reading at least every minute", "check the names of the columns");
    };
    if last.t_s > LONGEST_S {
        let what = format!("the table is {} long", duration(last.t_s));
        return refused(what, "at most a week", "cut out the bake, or check the time's column");
    }
    if usual_s > INTERVAL_MAX_S {
        let what = format!(
            "its rows are {} apart: a door could be opened and shut between them unseen",
            duration(usual_s)
        );
        return refused(what, "a reading at least every minute", "log more often");
    }
    Ok(usual_s)
}

/// Tables that hold whatever the table does not say.
fn loosened(mut setup: Setup, step_k: f64) -> Result<Tables, String> {
    setup.oven.sensor_b = None;
    let mut model = crate::rehearse::model_of(&setup).map_err(|refusal| refusal.to_string())?;
    let power = model.element.power;
    model.element.power = Span { low: 0.0, high: power.high };
    model.sensor.resolution_k = model.sensor.resolution_k.max(step_k as f32);
    model.sensor_b = Some(model.sensor);
    model.probe = None;
    model.air.airflow_proof = false;
    Ok(Tables { setup, model, agree: false })
}

fn taken(columns: &Columns, table: &Table, interval_s: f64, tables: &Tables) -> Vec<Found> {
    let found = |what: String| Found { line: None, kind: Flaw::NotLogged, what };
    let step = f64::from(tables.model.sensor.resolution_k);
    let heater = match &columns.duty {
        Some(name) => format!(
            "of the heater only column \"{name}\" is known: off for the coldest bound, on as much \
             as that says for the hottest"
        ),
        None => "the heater was not logged: it may have been off all the time for the coldest \
                 bound, and on at full power for the hottest, which widens that most; a column with \
                 the share of full power (--duty-column) narrows it"
            .to_owned(),
    };
    let mut all = vec![
        found(heater),
        found(format!(
            "between rows {} apart the air is taken from the least to the greatest of those around, \
             in steps of {step:.2} K",
            duration(interval_s)
        )),
        found(
            "the door was not logged: it is told by the air's fall, and after each the count \
             begins again; an opening too short to show is not covered"
                .to_owned(),
        ),
        found(
            "the sensor is taken to be the one in the oven's file; another lag or offset is not \
             covered"
                .to_owned(),
        ),
    ];
    let holes = table.samples.windows(2).filter(|two| two[1].t_s - two[0].t_s > INTERVAL_MAX_S);
    all.extend(holes.map(|two| Found {
        line: Some(two[1].line),
        kind: Flaw::Gap,
        what: format!(
            "{} without a reading before this line: the count begins again, as if all of the load \
             had then come in cold",
            duration(two[1].t_s - two[0].t_s)
        ),
    }));
    all
}

/// One second of a table.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Second {
    /// Since the first row, s.
    t_s: u32,
    /// The reading was in these, °C.
    air_c: (f64, f64),
    /// Most the heater was on, 0..1.
    duty: f64,
}

/// Every second that lies between rows no further apart than may be.
fn seconds(samples: &[Sample]) -> Vec<Second> {
    let is_near = |a: &Sample, b: &Sample| b.t_s - a.t_s <= INTERVAL_MAX_S;
    let around = |index: usize| {
        let here = samples[index];
        let before = index.checked_sub(1).map(|at| samples[at]).filter(|at| is_near(at, &here));
        let after = samples.get(index + 1).copied().filter(|at| is_near(&here, at));
        let near = || [before, Some(here), after].into_iter().flatten();
        let low = near().map(|sample| sample.air_c.0).fold(f64::INFINITY, f64::min);
        let high = near().map(|sample| sample.air_c.1).fold(f64::NEG_INFINITY, f64::max);
        (low, high)
    };
    let mut all: Vec<Second> = Vec::new();
    for (index, two) in samples.windows(2).enumerate().filter(|(_, two)| is_near(&two[0], &two[1]))
    {
        let ((low, high), (next_low, next_high)) = (around(index), around(index + 1));
        let duty = two.iter().map(|sample| sample.duty.unwrap_or(1.0)).fold(0.0, f64::max);
        let first = libm::ceil(two[0].t_s) as u32;
        let fresh = all.last().map_or(0, |last| last.t_s + 1);
        for t_s in first.max(fresh)..=libm::floor(two[1].t_s) as u32 {
            let share = (f64::from(t_s) - two[0].t_s) / (two[1].t_s - two[0].t_s);
            let between = |a: f64, b: f64| a + share * (b - a);
            all.push(Second {
                t_s,
                air_c: (between(low, next_low), between(high, next_high)),
                duty,
            });
        }
    }
    all
}
