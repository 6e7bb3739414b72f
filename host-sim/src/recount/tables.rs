//! By what a log is recounted: the files it carries, compiled, and why that may not be.

use super::line_of;
use crate::compile;
use crate::files::{self, Override, Refusal, Setup};
use crate::log::Log;
use crate::rehearse::model_of;
use crate::replay::ReplayError;
use truesoak_core::bounds::model::Model;

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
