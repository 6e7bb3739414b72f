//! A bake recounted from its log: the same ledger over the same integers.
//!
//! Rows and events go through `truesoak_core::ledger::Ledger` in the log's order; nothing else adds
//! credit. What the log says of bounds and credit itself is not looked at, so that it can be
//! compared.

use crate::log::{Log, Row};
use truesoak_core::bake::Bake;
use truesoak_core::bounds::Second;
use truesoak_core::bounds::model::Model;
use truesoak_core::event::Event;
use truesoak_core::ledger::Ledger;
use truesoak_core::units::Celsius;

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
    #[error("the log has no reading to start from")]
    NoStart,
    /// An event in words this version does not know.
    #[error("row {row}: \"{words}\" is no event known here")]
    UnknownEvent {
        /// Index of the row.
        row: usize,
        /// What stands there.
        words: String,
    },
}

/// Recounts a log with the bake and tables it was baked with.
///
/// # Errors
/// A log without a first reading, or with an event that is not known.
pub fn replay(log: &Log, bake: &Bake, model: &Model) -> Result<Vec<Recounted>, ReplayError> {
    let first = log.rows.iter().position(|row| row.event.is_empty());
    let start = first.and_then(|index| log.rows[index].air).ok_or(ReplayError::NoStart)?;
    let mut ledger = Ledger::start(model, bake, start);
    let mut recounted = Vec::with_capacity(log.rows.len());
    for (index, row) in log.rows.iter().enumerate() {
        if row.event.is_empty() {
            if Some(index) != first {
                ledger.second(model, &second(row, model));
            }
            recounted.push(Recounted {
                row: index,
                credit_s: ledger.credit_s(),
                coldest: ledger.coldest(),
                hottest: ledger.hottest(),
            });
        } else {
            let event = Event::parse(&row.event).ok_or_else(|| ReplayError::UnknownEvent {
                row: index,
                words: row.event.clone(),
            })?;
            ledger.note(model, bake, event);
        }
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
