//! A verdict from a log alone: what is proven of every part, on what basis, and what is not and why.
//!
//! The logged integers and events go through the controller's own bounds and ledger
//! ([`crate::replay`]), with tables compiled from the files the log carries; what the log itself
//! says of bounds and credit is only compared. Nothing is counted across what the log does not
//! show: after a hole everything inside may be another load at room temperature ([`hole`]), and from
//! a row on that does not follow from its own readings nothing counts at all.
//!
//! Refuses a log whose files do not read, or whose tables are not those the board ran with. A log
//! of another maker is first made into one of ours, with the worst taken of all it does not say
//! ([`other`]).

mod hole;
pub mod other;
mod parts;

use crate::chronicle::{Chronicle, steadiness};
use crate::compile;
use crate::files::bake::BakeFile;
use crate::files::{self, Override, Refusal, Setup};
use crate::log::{End, Header, Log, Phase, Row, Source};
use crate::rehearse::{Told, claim, model_of};
use crate::replay::{Replay, ReplayError};
use crate::report::result::{Air, BakeResult, Basis, Flaw, Found, SCHEMA, Verdict};
use hole::Between;
use parts::Proven;
use truesoak_core::bake::{Bake, Step};
use truesoak_core::bounds::model::Model;
use truesoak_core::event::Event;
use truesoak_core::units::Celsius;

/// Joules in a kilowatt-hour.
const JOULES_PER_KWH: f64 = 3.6e6;
/// What rounding to the log's three decimals can put a bound off by, K.
const ROUNDED_K: f64 = 0.000_51;
/// Lines before the first row: the header and the names of the columns.
const LINES_BEFORE: usize = 3;

/// Line of a row, from 1.
#[must_use]
pub fn line_of(row: usize) -> usize {
    row + LINES_BEFORE
}

/// Why a log cannot be recounted.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum RecountError {
    /// The log carries no files, and none were given.
    #[error("the log carries no {0}")]
    NoFiles(&'static str),
    /// The files it carries do not read.
    #[error("{0}")]
    Files(Refusal),
    /// The tables are not those the board ran with.
    #[error("the tables compiled from the log's files are {here}, and the board ran with {there}")]
    OtherTables {
        /// Digest of what this version compiles.
        here: String,
        /// Digest in the log.
        there: String,
    },
    /// A row that cannot be taken.
    #[error("{0}")]
    Replay(#[from] ReplayError),
    /// Two rows for one second.
    #[error("there are two rows for the second {t_s} s")]
    Twice {
        /// Line of the later one.
        line: usize,
        /// The second.
        t_s: f64,
    },
}

impl RecountError {
    /// Line of the log, from 1, where it is of one.
    #[must_use]
    pub fn line(&self) -> Option<usize> {
        match self {
            Self::Replay(ReplayError::NoStart { row } | ReplayError::UnknownEvent { row, .. }) => {
                Some(line_of(*row))
            }
            Self::Twice { line, .. } => Some(*line),
            Self::NoFiles(_) | Self::OtherTables { .. } => Some(1),
            Self::Files(_) => None,
        }
    }
}

/// With what a log is recounted.
#[derive(Clone, Debug)]
pub struct Tables {
    /// The files.
    pub setup: Setup,
    /// Tables compiled from them.
    pub model: Model,
    /// They are those the log was written with.
    pub agree: bool,
}

impl Tables {
    /// From the files a log carries.
    ///
    /// # Errors
    /// No files, files that do not read, or tables other than those the board ran with.
    pub fn of(log: &Log) -> Result<Self, RecountError> {
        let header = &log.header;
        let text = |text: &'_ Option<String>, word| text.clone().ok_or(RecountError::NoFiles(word));
        let (bake, oven, load) =
            (text(&header.bake, "bake")?, text(&header.oven, "oven")?, text(&header.load, "load")?);
        let kept = files::Kept { bake: &bake, oven: &oven, load: &load };
        let set: Vec<Override> = header.set.iter().map(|typed| Override::set(typed)).collect();
        let setup = files::read_kept(kept, &set).map_err(RecountError::Files)?;
        let tables = Self::given(log, setup)?;
        match &header.models {
            Some(there) if !tables.agree => Err(RecountError::OtherTables {
                here: compile::digest(&tables.model),
                there: there.clone(),
            }),
            _ => Ok(tables),
        }
    }

    /// From files given beside a log.
    ///
    /// # Errors
    /// Values the tables cannot hold.
    pub fn given(log: &Log, setup: Setup) -> Result<Self, RecountError> {
        let model = model_of(&setup).map_err(RecountError::Files)?;
        let agree = log.header.models.as_ref() == Some(&compile::digest(&model));
        Ok(Self { setup, model, agree })
    }
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

/// One recount under way.
struct Course<'a> {
    tables: &'a Tables,
    bake: &'a Bake,
    replay: Replay<'a>,
    chronicle: Chronicle,
    proven: Proven<'a>,
    record: Vec<Found>,
    /// The last row of a second, and whether the supply came back after it.
    last: Option<(Row, bool)>,
    /// Bounds and credit are still comparable with what the log says of them.
    compares: bool,
    /// Nothing counts any more, or a soak's count began again: place of the reason in the record.
    broken: Option<usize>,
    on_ticks: u64,
}

impl<'a> Course<'a> {
    fn new(header: &Header, tables: &'a Tables) -> Self {
        let bake = &tables.setup.bake.bake;
        let by_the_clock = header.rehearsal.as_ref().is_some_and(|how| how.by_the_clock);
        let mut course = Self {
            tables,
            bake,
            replay: Replay::new(bake, &tables.model),
            chronicle: Chronicle::new(&tables.setup.bake.steps),
            proven: Proven::new(&tables.setup.load, &tables.model, bake),
            record: Vec::new(),
            last: None,
            compares: tables.agree && !by_the_clock && header.source != Source::Other,
            broken: None,
            on_ticks: 0,
        };
        if !tables.agree && header.source != Source::Other {
            course.tell(
                Flaw::OtherTables,
                Some(1),
                "the bake, oven and load it is counted by are not those the board ran with",
            );
        }
        if by_the_clock {
            course.tell(
                Flaw::NotCounted,
                Some(1),
                "a timer ran this bake; what its readings prove is counted all the same",
            );
        }
        course
    }

    /// Bounds and credit now.
    fn beside(&self) -> Beside {
        self.replay.ledger().map_or_else(Beside::default, |ledger| Beside {
            coldest: ledger.coldest(),
            hottest: ledger.hottest(),
            credit_s: ledger.credit_s(),
        })
    }

    fn tell(&mut self, kind: Flaw, line: Option<usize>, what: impl Into<String>) {
        self.record.push(Found { line, kind, what: what.into() });
    }

    /// Nothing counts from here on, for the reason told last.
    fn stop(&mut self) {
        self.replay.note(Event::OutsideModel);
        self.compares = false;
        let reason = self.record.len().saturating_sub(1);
        self.broken.get_or_insert(reason);
    }

    fn second(&mut self, index: usize, row: &Row) -> Result<(), RecountError> {
        self.bridge(index, row)?;
        self.replay.second(index, row)?;
        self.last = Some((row.clone(), false));
        self.on_ticks += u64::from(row.on_ticks);
        self.compare(index, row);
        if let Some(ledger) = self.replay.ledger() {
            self.chronicle.second(ledger.credit_s());
            self.proven.second(row.t_s(), ledger);
        }
        Ok(())
    }

    /// What lies between the second before and this one.
    fn bridge(&mut self, index: usize, row: &Row) -> Result<(), RecountError> {
        let Some((before, supply_returned)) = self.last.clone() else {
            if row.step > 1 {
                self.hole(index, "the log begins in the middle of a bake", row, None);
            }
            return Ok(());
        };
        match Between::of(&before, row, supply_returned) {
            Between::Nothing => {}
            Between::Twice => {
                return Err(RecountError::Twice { line: line_of(index), t_s: row.t_s() });
            }
            Between::Hole(what) => self.hole(index, &what, row, Some(&before)),
        }
        Ok(())
    }

    /// Nobody knows what was done in the oven, or that it is still the same load.
    fn hole(&mut self, index: usize, what: &str, row: &Row, before: Option<&Row>) {
        self.compares = false;
        self.tell(
            Flaw::Gap,
            Some(line_of(index)),
            format!(
                "{what}: the count begins again after it, as if all of the load had then come in \
                 cold"
            ),
        );
        if before.is_none() {
            // Its bounds begin here, and then as unsure as after any hole.
            let _ = self.replay.second(index, row);
        }
        let gap_s = before.map_or(f64::INFINITY, |before| row.t_s() - before.t_s());
        if let Some(ledger) = self.replay.ledger() {
            let event = hole::anything(&self.tables.model, self.bake, ledger, gap_s);
            self.replay.note(event);
            self.proven.after_hole();
        }
        if row.phase != Phase::Idle && self.is_soak(row.step) {
            self.broken.get_or_insert(self.record.len() - 1);
        }
        if before.is_none_or(|before| before.step != row.step) {
            if let Some(found) = self.record.last_mut() {
                found.what = format!("{what}, and a step began in it: nothing counts from here on");
            }
            self.stop();
        }
    }

    /// A step, from 1, is a soak.
    fn is_soak(&self, step: u8) -> bool {
        let index = usize::from(step).checked_sub(1);
        matches!(index.and_then(|index| self.bake.steps.get(index)), Some(Step::Soak(_)))
    }

    /// What the log says of bounds and credit must be what its own integers give.
    fn compare(&mut self, index: usize, row: &Row) {
        let Some(ledger) = self.replay.ledger().filter(|_| self.compares) else { return };
        let line = Some(line_of(index));
        let apart = |said: Option<f64>, found: Option<Celsius>| match (said, found) {
            (Some(said), Some(found)) => (said - f64::from(found.0)).abs() > ROUNDED_K,
            (said, found) => said.is_some() != found.is_some(),
        };
        let what = if ledger.credit_s() != row.credit_s {
            format!(
                "the log says {} s counted, and its own readings give {}",
                row.credit_s,
                ledger.credit_s()
            )
        } else if apart(row.coldest_c, ledger.coldest()) || apart(row.hottest_c, ledger.hottest()) {
            "the bounds in the log are not what its own readings give".to_owned()
        } else {
            return;
        };
        let what = format!(
            "{what}: something before this line was changed, and nothing \
             counts from here on"
        );
        self.tell(Flaw::Edited, line, what);
        self.stop();
    }

    fn event(&mut self, index: usize, row: &Row) -> Result<(), RecountError> {
        let event = self.replay.event(index, row)?;
        if let (Event::SupplyReturned { .. }, Some((_, returned))) = (event, &mut self.last) {
            *returned = true;
        }
        if let (Event::SupplyReturned { credit_s, .. }, Some(ledger)) =
            (event, self.replay.ledger())
            && credit_s > ledger.credit_s()
        {
            let kept = ledger.credit_s();
            self.tell(
                Flaw::Edited,
                Some(line_of(index)),
                format!("the board went on from {credit_s} s counted, and {kept} were"),
            );
        }
        self.chronicle.event(row.tick, event, self.bake);
        self.proven.event(row.t_s(), event, self.replay.ledger());
        Ok(())
    }

    fn result(mut self, log: &Log) -> BakeResult {
        if let End::Torn { line, what } = &log.end {
            let (line, what) = (Some(*line), what.clone());
            self.tell(Flaw::TornEnd, line, what);
        }
        self.chronicle.judge_doors(&log.rows);
        let is_short = self.is_short();
        let verdict = claim(&self.chronicle, is_short);
        let (parts, why) = self.proven.parts();
        let oven = &self.tables.setup.oven;
        let told = Told { bake: self.bake, oven, by_the_clock: false };
        let mut reason = told.reason(&self.chronicle, verdict, &parts);
        if let (Verdict::Short, Some(found)) = (verdict, self.broken) {
            reason.clone_from(&self.record[found].what);
        }
        if let (Verdict::Unfinished, None, End::Torn { what, .. }) =
            (verdict, self.chronicle.ending, &log.end)
        {
            reason.clone_from(what);
        }
        let power_w = match log.header.source {
            // What another maker's log takes for possible is no heat that was put in.
            Source::Other => f64::NAN,
            _ => f64::from(self.tables.model.element.power_w),
        };
        BakeResult {
            schema: SCHEMA.to_owned(),
            verdict,
            truth: None,
            reason,
            basis: told.basis(&self.chronicle),
            duration_s: self.chronicle.duration_s(&log.rows),
            energy_kwh: self.on_ticks as f64 / 10.0 * power_w / JOULES_PER_KWH,
            air: air(log),
            parts,
            doors: self.chronicle.doors,
            steps: self.chronicle.steps,
            trips: self.chronicle.trips,
            answers: self.chronicle.answers,
            oracle: None,
            why,
            record: self.record,
        }
    }

    /// Some soak's last try was counted for less than it asks, or its parts could be above for too
    /// long.
    fn is_short(&self) -> bool {
        let runs = &self.chronicle.steps;
        self.bake.steps.iter().enumerate().any(|(index, step)| {
            let Step::Soak(soak) = step else { return false };
            let last = runs.iter().rev().find(|run| run.index == index + 1);
            last.is_none_or(|run| run.credit_s < f64::from(soak.for_s))
        }) || self.proven.stayed_too_long()
    }
}
