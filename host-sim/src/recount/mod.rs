//! A verdict from a log alone: what is proven of every part, on what basis, and what is not and why.
//!
//! The logged integers and events go through the controller's own bounds and ledger
//! ([`crate::replay`]), with tables compiled from the files the log carries; what the log itself
//! says of bounds and credit is only compared. Nothing is counted across what the log does not
//! show: after a hole everything inside may be another load at room temperature (`hole.rs`), and from
//! a row on that does not follow from its own readings nothing counts at all.
//!
//! Refuses a log whose files do not read, or whose tables are not those the board ran with. A log
//! of another maker is first made into one of ours, with the worst taken of all it does not say
//! ([`other`]).

mod course;
mod hole;
pub mod other;
mod parts;
mod tables;

pub use tables::{RecountError, Tables};

use crate::chronicle::{Chronicle, steadiness};
use crate::files::bake::BakeFile;
use crate::log::{Log, Row};
use crate::report::result::{Air, BakeResult, Basis, Flaw, Found, SCHEMA, Verdict};
use course::Course;
use truesoak_core::event::Event;
use truesoak_core::units::Celsius;

/// Lines before the first row: the header and the names of the columns.
const LINES_BEFORE: usize = 3;

/// Line of a row, from 1.
#[must_use]
pub fn line_of(row: usize) -> usize {
    row + LINES_BEFORE
}

/// What a recount comes to.
#[derive(Clone, Debug, PartialEq)]
pub struct Recount {
    /// The verdict and everything told with it.
    pub result: BakeResult,
    /// Bounds and credit beside every row.
    rows: Vec<Beside>,
}

/// What a recount has beside one row.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
struct Beside {
    coldest: Option<Celsius>,
    hottest: Option<Celsius>,
    credit_s: u32,
}

impl Recount {
    /// Puts what was recounted in the place of what the log says itself, to be shown.
    pub fn put_into(&self, log: &mut Log) {
        let celsius = |bound: Option<Celsius>| bound.map(|bound| f64::from(bound.0));
        for (row, beside) in log.rows.iter_mut().zip(&self.rows) {
            row.coldest_c = celsius(beside.coldest);
            row.hottest_c = celsius(beside.hottest);
            row.credit_s = beside.credit_s;
        }
    }
}

/// Recounts a log.
///
/// # Errors
/// Rows that cannot be taken at all; what merely does not count is said in the result's `record`.
pub fn recount(log: &Log, tables: &Tables) -> Result<Recount, RecountError> {
    let mut rows = Vec::with_capacity(log.rows.len());
    let mut course = Course::new(&log.header, tables);
    for (index, row) in log.rows.iter().enumerate() {
        if row.event.is_empty() {
            course.second(index, row)?;
        } else {
            course.event(index, row)?;
        }
        rows.push(course.beside());
    }
    Ok(Recount { result: course.result(log), rows })
}

/// What can be told of a log that cannot be recounted: its own events, and nothing of its parts.
#[must_use]
pub fn uncounted(log: &Log, why: &RecountError) -> BakeResult {
    let mut chronicle = Chronicle::new(&[]);
    let bake = BakeFile::nameless("").bake;
    for row in &log.rows {
        match Event::parse(&row.event) {
            Some(event) => chronicle.event(row.tick, event, &bake),
            None => chronicle.second(row.credit_s),
        }
    }
    chronicle.judge_doors(&log.rows);
    let reason = format!("nothing is proven by this log: {why}");
    let record = vec![Found { line: why.line(), kind: Flaw::NotCounted, what: why.to_string() }];
    BakeResult {
        schema: SCHEMA.to_owned(),
        verdict: Verdict::Unfinished,
        truth: None,
        reason,
        basis: Basis::OneSensor,
        duration_s: chronicle.duration_s(&log.rows),
        energy_kwh: f64::NAN,
        air: air(log),
        parts: Vec::new(),
        doors: chronicle.doors,
        steps: chronicle.steps,
        trips: chronicle.trips,
        answers: chronicle.answers,
        oracle: None,
        why: Vec::new(),
        record,
    }
}

/// How the air was held, by its readings.
fn air(log: &Log) -> Air {
    let celsius = |row: &Row| row.air.map(|air| f64::from(air.to_celsius().0));
    let rows = log.rows.iter().map(|row| (row, celsius(row).unwrap_or(f64::NAN)));
    let (soak_mean_error_k, soak_sd_k, overshoot_k) = steadiness(rows);
    let peak_c = log.rows.iter().filter_map(celsius).reduce(f64::max);
    Air { peak_c, overshoot_k, soak_mean_error_k, soak_sd_k }
}
