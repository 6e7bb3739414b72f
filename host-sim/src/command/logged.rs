//! A log given to a command: read, its files found, and recounted.

use super::{Failure, Globals, failure_text};
use crate::files::bake::BakeFile;
use crate::files::{self, FileKind, Setup};
use crate::log::{self, Log, LogError, Source};
use crate::recount::other::{self, OtherLog};
use crate::recount::{RecountError, Tables, recount, uncounted};
use crate::report::result::{BakeResult, Flaw, Found};
use crate::report::units::Units;
use crate::report::{Rehearsed, Story};
use std::path::{Path, PathBuf};

/// Which log, and what it does not say itself.
#[derive(Clone, Debug, clap::Args)]
pub struct LogArguments {
    /// The log.
    log: PathBuf,
    /// Count by this bake instead of the log's own; needed for a log of another maker.
    #[arg(long, value_name = "B.toml")]
    bake: Option<PathBuf>,
    /// A log of another maker: the column with the time.
    #[arg(long, value_name = "NAME", help_heading = "Logs of another maker")]
    time_column: Option<String>,
    /// A log of another maker: the column with the air's temperature.
    #[arg(long, value_name = "NAME", help_heading = "Logs of another maker")]
    air_column: Option<String>,
    /// Units of the air's column, if its name does not end in them.
    #[arg(long, value_name = "UNITS", value_enum, help_heading = "Logs of another maker")]
    log_units: Option<Units>,
    /// The column with the share of full power, 0 to 1; without it the heater may have been off or
    /// on all the time.
    #[arg(long, value_name = "NAME", help_heading = "Logs of another maker")]
    duty_column: Option<String>,
}

/// A log with what it was baked by and what it comes to.
pub(super) struct Logged {
    pub(super) log: Log,
    pub(super) result: BakeResult,
    bake: BakeFile,
    oven: String,
    load: String,
    /// Every file that was read.
    read: Vec<PathBuf>,
}

impl Logged {
    /// Reads and recounts a log.
    ///
    /// # Errors
    /// Whatever keeps it from being counted, in the layout of every other failure.
    pub(super) fn read(arguments: &LogArguments) -> Result<Self, Failure> {
        let path = &arguments.log;
        let (mut log, tables, taken) = if arguments.is_of_another_maker() {
            arguments.read_other()?
        } else {
            let log = log::read(path).map_err(|error| failed_to_read(&error))?;
            let tables = arguments.tables(&log)?;
            (log, tables, Vec::new())
        };
        let counted = recount(&log, &tables).map_err(|error| refusal(path, &error))?;
        counted.put_into(&mut log);
        let mut result = counted.result;
        if log.header.source == Source::Other {
            // Lines of what it was made into are nobody's, and its gaps are told with the table's.
            result.record.retain(|found| found.kind != Flaw::Gap);
            result.record.iter_mut().for_each(|found| found.line = None);
        }
        result.record.splice(0..0, taken);
        Ok(Self::of(path, log, tables.setup, result))
    }

    /// The same for a picture, which shows what a log says also where that cannot be recounted.
    ///
    /// # Errors
    /// A log that does not read.
    pub(super) fn drawn(arguments: &LogArguments) -> Result<Self, Failure> {
        if arguments.is_of_another_maker() || arguments.bake.is_some() {
            return Self::read(arguments);
        }
        let path = &arguments.log;
        let mut log = log::read(path).map_err(|error| failed_to_read(&error))?;
        let counted = Tables::of(&log).and_then(|tables| {
            let counted = recount(&log, &tables)?;
            Ok((tables.setup, counted))
        });
        Ok(match counted {
            Ok((setup, counted)) => {
                counted.put_into(&mut log);
                Self::of(path, log, setup, counted.result)
            }
            Err(error) => Self {
                result: uncounted(&log, &error),
                bake: BakeFile::nameless(&path.file_stem().unwrap_or_default().to_string_lossy()),
                oven: "an oven not named".to_owned(),
                load: "a load not named".to_owned(),
                read: vec![path.clone()],
                log,
            },
        })
    }

    fn of(path: &Path, log: Log, setup: Setup, result: BakeResult) -> Self {
        let sources = FileKind::ALL.into_iter().filter_map(|file| setup.places.source(file));
        let files = sources.map(|source| source.path.clone());
        let read = std::iter::once(path.to_owned()).chain(files).collect();
        let Setup { bake, oven, load, .. } = setup;
        Self { log, result, bake, oven: oven.name, load: load.name, read }
    }

    /// What there is to tell.
    pub(super) fn story(&self, globals: &Globals) -> Story<'_> {
        let rehearsed = self.log.header.rehearsal.as_ref().map(|how| Rehearsed {
            seed: how.seed,
            draw: how.draw,
            plant_changed: !how.plant.is_empty(),
            by_the_clock: false,
        });
        Story {
            result: &self.result,
            bake: &self.bake,
            oven: &self.oven,
            load: &self.load,
            rehearsed,
            recounted: Some(&self.log.header),
            units: globals.units.unwrap_or(Units::of_scale(self.bake.scale)),
        }
    }

    /// Every file that was read.
    pub(super) fn read_paths(&self) -> Vec<&Path> {
        self.read.iter().map(PathBuf::as_path).collect()
    }
}

impl LogArguments {
    /// One of our own logs.
    pub(super) fn own(path: &Path) -> Self {
        Self {
            log: path.to_owned(),
            bake: None,
            time_column: None,
            air_column: None,
            log_units: None,
            duty_column: None,
        }
    }

    fn is_of_another_maker(&self) -> bool {
        let columns = [&self.time_column, &self.air_column, &self.duty_column];
        columns.iter().any(|column| column.is_some()) || self.log_units.is_some()
    }

    /// By what one of our own logs is counted.
    fn tables(&self, log: &Log) -> Result<Tables, Failure> {
        let tables = match &self.bake {
            Some(bake) => Tables::given(log, files::read(bake, &[])?),
            None => Tables::of(log),
        };
        tables.map_err(|error| refusal(&self.log, &error))
    }

    fn read_other(&self) -> Result<(Log, Tables, Vec<Found>), Failure> {
        let (Some(time), Some(air), Some(bake)) = (&self.time_column, &self.air_column, &self.bake)
        else {
            return Err(Failure::Input(failure_text(
                "a log of another maker needs to be explained",
                &self.log.display().to_string(),
                "--bake B.toml --time-column NAME --air-column NAME",
                "give all three; the names are those in the table's head",
            )));
        };
        let setup = files::read(bake, &[])?;
        let columns = other::Columns {
            time: time.clone(),
            air: air.clone(),
            duty: self.duty_column.clone(),
            units: self.log_units,
        };
        let OtherLog { log, tables, taken } =
            other::read(&self.log, &columns, setup).map_err(|error| failed_to_read(&error))?;
        Ok((log, tables, taken))
    }
}

fn failed_to_read(error: &LogError) -> Failure {
    Failure::Input(format!("error: {error}"))
}

fn refusal(path: &Path, error: &RecountError) -> Failure {
    if let RecountError::Files(refusal) = error {
        return Failure::Input(refusal.to_string());
    }
    let place = match error.line() {
        Some(line) => format!("{}:{line}", path.display()),
        None => path.display().to_string(),
    };
    let (expected, next) = match error {
        RecountError::NoFiles(_) => (
            "the bake, oven and load in the log's first line",
            "give the bake it was baked with: --bake B.toml",
        ),
        RecountError::OtherTables { .. } => (
            "the same tables from the same files",
            "count with the truesoak that wrote the log, or by files of your own: --bake B.toml",
        ),
        RecountError::Twice { .. } => {
            ("one row for each second", "fetch the log again, or use the file as it was")
        }
        RecountError::Replay(_) | RecountError::Files(_) => {
            ("rows as a board writes them", "fetch the log again, or use the file as it was")
        }
    };
    Failure::Input(failure_text(&error.to_string(), &place, expected, next))
}
