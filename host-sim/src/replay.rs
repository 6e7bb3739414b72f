//! A bake recounted from its log: the same ledger over the same integers.
//!
//! Rows and events go through `truesoak_core::ledger::Ledger` in the log's order; nothing else adds
//! credit. What the log says of bounds and credit itself is not looked at, so that it can be
//! compared.

use crate::log::{Log, Phase, Row};
use truesoak_core::bake::{Bake, Step};
use truesoak_core::bounds::Second;
use truesoak_core::bounds::model::Model;
use truesoak_core::event::Event;
use truesoak_core::ledger::Ledger;
use truesoak_core::units::{Celsius, TICKS_PER_SECOND};

/// What the recount says of one second.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Recounted {
    /// Index of the row.
    pub row: usize,
    /// Credit of the step, s.
    pub credit_s: u32,
    /// Coldest bound.
    pub coldest: Option<Celsius>,
    /// Hottest bound.
    pub hottest: Option<Celsius>,
}

/// Why a log cannot be recounted.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum ReplayError {
    /// The first row has no reading to start from.
    #[error("row {row}: there is no reading to start from")]
    NoStart {
        /// Index of the row.
        row: usize,
    },
    /// An event in words this version does not know.
    #[error("row {row}: \"{words}\" is no event known here")]
    UnknownEvent {
        /// Index of the row.
        row: usize,
        /// What stands there.
        words: String,
    },
}

/// A recount under way: a ledger moved by rows alone.
#[derive(Clone, Debug)]
pub struct Replay<'a> {
    bake: &'a Bake,
    model: &'a Model,
    ledger: Option<Ledger>,
    /// Time and phase of the last second.
    last: Option<(u32, Phase)>,
    /// Steps that began since.
    began: Vec<Began>,
}

/// Longest stretch without a row while the board waits for a person, heat cut, ticks: it keeps one a
/// minute then.
const QUIET_TICKS_MAX: u32 = 65 * TICKS_PER_SECOND;

/// A second of which only is known that no heat was put in and that the door may have stood open.
pub(crate) const UNSEEN: Second = Second { door_open: true, ..Second::NOTHING };

/// A step that began since the last second: when, and whether it waits for a person.
#[derive(Clone, Copy, Debug)]
struct Began {
    tick: u32,
    waits: bool,
}

fn waits(phase: Phase) -> bool {
    matches!(phase, Phase::Idle | Phase::Check | Phase::Wait | Phase::Done)
}

impl<'a> Replay<'a> {
    /// Before the first row.
    #[must_use]
    pub fn new(bake: &'a Bake, model: &'a Model) -> Self {
        Self { bake, model, ledger: None, last: None, began: Vec::new() }
    }

    /// Bounds and credit so far; `None` before the bake's first row.
    #[must_use]
    pub fn ledger(&self) -> Option<&Ledger> {
        self.ledger.as_ref()
    }

    /// Takes the row of a second. The first of the bake is what its bounds start from.
    ///
    /// # Errors
    /// A first row without a reading.
    pub fn second(&mut self, index: usize, row: &Row) -> Result<(), ReplayError> {
        (0..self.quiet_seconds(row)).for_each(|_| self.unseen_second());
        self.last = Some((row.tick, row.phase));
        self.began.clear();
        if let Some(ledger) = &mut self.ledger {
            ledger.second(self.model, &second(row, self.model));
        } else if row.phase != Phase::Idle {
            let start = row.air.ok_or(ReplayError::NoStart { row: index })?;
            self.ledger = Some(Ledger::start(self.model, self.bake, start));
        }
        Ok(())
    }

    /// So many seconds before this row were not logged because the board waited for a person, heat
    /// cut; 0 where the row follows at once, and where any of the time between was no such wait.
    #[must_use]
    pub fn quiet_seconds(&self, row: &Row) -> u32 {
        let Some((last, phase)) = self.last else { return 0 };
        let ticks = row.tick.saturating_sub(last);
        let begins = |began: &Began| began.waits && began.tick <= last + TICKS_PER_SECOND;
        let ends = |began: &Began| began.tick + TICKS_PER_SECOND >= row.tick;
        let starts_quiet = waits(phase) || self.began.first().is_some_and(begins);
        let ends_quiet = waits(row.phase) || self.began.last().is_some_and(ends);
        let passed = self.began.len().saturating_sub(1);
        let is_quiet = starts_quiet
            && ends_quiet
            && ticks <= QUIET_TICKS_MAX
            && self.began.iter().take(passed).all(|began| began.waits);
        if is_quiet { (ticks / TICKS_PER_SECOND).saturating_sub(1) } else { 0 }
    }

    fn unseen_second(&mut self) {
        if let Some(ledger) = &mut self.ledger {
            ledger.second(self.model, &UNSEEN);
        }
    }

    /// Takes the row of an event.
    ///
    /// # Errors
    /// Words that are no event.
    pub fn event(&mut self, index: usize, row: &Row) -> Result<Event, ReplayError> {
        let event = Event::parse(&row.event)
            .ok_or_else(|| ReplayError::UnknownEvent { row: index, words: row.event.clone() })?;
        self.note(event);
        if let Event::StepBegan(index) = event {
            let step = self.bake.steps.get(usize::from(index));
            let waits = matches!(step, Some(Step::Check(_) | Step::Wait(_)));
            self.began.push(Began { tick: row.tick, waits });
        }
        Ok(event)
    }

    /// Takes something that happened.
    pub fn note(&mut self, event: Event) {
        if let Some(ledger) = &mut self.ledger {
            ledger.note(self.model, self.bake, event);
        }
    }
}

/// Recounts a log with the bake and tables it was baked with.
///
/// # Errors
/// A log without a first reading, or with an event that is not known.
pub fn replay(log: &Log, bake: &Bake, model: &Model) -> Result<Vec<Recounted>, ReplayError> {
    let mut replay = Replay::new(bake, model);
    let mut recounted = Vec::with_capacity(log.rows.len());
    for (index, row) in log.rows.iter().enumerate() {
        if !row.event.is_empty() {
            replay.event(index, row)?;
            continue;
        }
        replay.second(index, row)?;
        recounted.extend(replay.ledger().map(|ledger| Recounted {
            row: index,
            credit_s: ledger.credit_s(),
            coldest: ledger.coldest(),
            hottest: ledger.hottest(),
        }));
    }
    Ok(recounted)
}

fn second(row: &Row, model: &Model) -> Second {
    Second {
        reading: row.air,
        reading_b: row.air_b,
        part_probe: row.part_probe,
        on_ticks: row.on_ticks,
        door_open: row.door_open == Some(true),
        airflow: model.air.airflow_proof.then_some(row.flags.airflow),
        widened: row.flags.widened,
    }
}
