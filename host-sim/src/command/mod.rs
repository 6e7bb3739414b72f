//! The command line: one file a subcommand.
//!
//! Results go to stdout, progress and errors to stderr. Exit codes: 0 done and good, 1 done and the
//! answer is no, 2 bad usage, input or output path, 3 link or later write failed, 130 interrupted.

mod device;
mod explain;
mod fit;
mod logged;
mod materials;
mod network;
mod new;
mod outputs;
mod plan;
mod plot;
mod progress;
mod simulate;
mod survey;
mod trial;
mod usage;
mod verdict;

use crate::compile::tuning;
use crate::files::Setup;
use crate::files::failure_text;
use crate::interrupt;
use crate::rehearse::model_of;
use crate::report::text::Paint;
use crate::report::units::Units;
use clap::{CommandFactory as _, FromArgMatches as _, Parser, Subcommand, ValueEnum};
use std::io::IsTerminal as _;
use std::process::ExitCode;

/// Rehearse an oven bake with the controller that runs it.
#[derive(Debug, Parser)]
#[command(name = "truesoak", version, about, max_term_width = 100)]
struct CommandLine {
    #[command(flatten)]
    globals: Globals,
    #[command(subcommand)]
    command: Command,
}

/// Options of every command.
#[derive(Clone, Debug, clap::Args)]
pub struct Globals {
    /// How results are printed.
    #[arg(long, global = true, value_enum, default_value_t = Format::Text)]
    pub format: Format,
    /// Units of temperatures on screens [default: those of the bake's first soak].
    #[arg(long, global = true, value_enum, env = "TRUESOAK_UNITS")]
    pub units: Option<Units>,
    /// When to colour a verdict's word.
    #[arg(long, global = true, value_enum, default_value_t = Color::Auto)]
    pub color: Color,
    /// Print the result only.
    #[arg(long, short, global = true)]
    pub quiet: bool,
}

impl Globals {
    /// Colour or not, on stdout.
    #[must_use]
    pub fn paint(&self) -> Paint {
        let asked = match self.color {
            Color::Always => true,
            Color::Never => false,
            Color::Auto => {
                let refused = std::env::var_os("NO_COLOR").is_some_and(|value| !value.is_empty());
                std::io::stdout().is_terminal() && !refused
            }
        };
        if asked { Paint::Colored } else { Paint::Plain }
    }
}

/// How results are printed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Format {
    /// For a person.
    Text,
    /// For a program.
    Json,
}

/// When to colour.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Color {
    /// On a terminal.
    Auto,
    /// Always.
    Always,
    /// Never.
    Never,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Write a commented starting file; never overwrites.
    New(new::Arguments),
    /// What to expect of a bake, and which change would help most.
    Plan(plan::Arguments),
    /// Rehearse a bake before the heat is on.
    Simulate(simulate::Arguments),
    /// Recount a bake from its log alone: what is proven of every part.
    Verdict(verdict::Arguments),
    /// Draw a log, alone or beside a rehearsal.
    Plot(plot::Arguments),
    /// Learn an oven from its logged bakes.
    Fit(fit::Arguments),
    /// Tell how even an oven is, from a table of readings at several places.
    Survey(survey::Arguments),
    /// Bakes drawn at random, with faults, held against the safety contract.
    Trial(trial::Arguments),
    /// The oven's board: send it a bake, watch it, fetch its logs.
    Device(device::Arguments),
    /// Follow a bare thermal network, open loop.
    Network(network::Arguments),
    /// List the materials known, with their sources.
    Materials,
}

/// What a finished command answers.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Answer {
    /// Exit 0.
    Yes,
    /// Exit 1.
    No,
}

/// Why a command could not be done.
#[derive(Debug, thiserror::Error)]
pub enum Failure {
    /// Exit 2: usage, input or output path.
    #[error("{0}")]
    Input(String),
    /// Exit 3: a write failed after the work had begun.
    #[error("{0}")]
    Write(String),
    /// Exit 3: the link to the board.
    #[error("{0}")]
    Link(String),
    /// Exit 1: the board's answer is no.
    #[error("{0}")]
    Refused(String),
    /// Exit 130: Ctrl-C; what was done until then is kept.
    #[error("{0}")]
    Interrupted(String),
}

impl Failure {
    fn exit_code(&self) -> u8 {
        match self {
            Self::Input(_) => 2,
            Self::Write(_) | Self::Link(_) => 3,
            Self::Refused(_) => 1,
            Self::Interrupted(_) => interrupt::EXIT_CODE,
        }
    }
}

impl From<crate::files::Refusal> for Failure {
    fn from(refusal: crate::files::Refusal) -> Self {
        Self::Input(refusal.to_string())
    }
}

/// Parses the command line, runs it and gives the exit code.
#[must_use]
pub fn run() -> ExitCode {
    let line = match parse() {
        Ok(line) => line,
        Err(error) => {
            let typed = std::env::args_os().skip(1).map(|word| word.to_string_lossy().into_owned());
            match usage::failure(&error, CommandLine::command(), typed) {
                Some(failure) => eprintln!("{failure}"),
                None => drop(error.print()),
            }
            return ExitCode::from(if error.use_stderr() { 2 } else { 0 });
        }
    };
    let done = match &line.command {
        Command::New(arguments) => new::run(arguments, &line.globals),
        Command::Plan(arguments) => plan::run(arguments, &line.globals),
        Command::Simulate(arguments) => simulate::run(arguments, &line.globals),
        Command::Verdict(arguments) => verdict::run(arguments, &line.globals),
        Command::Plot(arguments) => plot::run(arguments, &line.globals),
        Command::Fit(arguments) => fit::run(arguments, &line.globals),
        Command::Survey(arguments) => survey::run(arguments, &line.globals),
        Command::Trial(arguments) => trial::run(arguments, &line.globals),
        Command::Device(arguments) => device::run(arguments, &line.globals),
        Command::Network(arguments) => network::run(arguments, &line.globals),
        Command::Materials => materials::run(&line.globals),
    };
    match done {
        Ok(Answer::Yes) => ExitCode::SUCCESS,
        Ok(Answer::No) => ExitCode::from(1),
        Err(failure) => {
            eprintln!("{failure}");
            ExitCode::from(failure.exit_code())
        }
    }
}

/// The command line, in which a number below zero is a value that somebody wrote, not an option.
fn parse() -> Result<CommandLine, clap::Error> {
    fn takes_negatives(command: clap::Command) -> clap::Command {
        command.allow_negative_numbers(true).mut_subcommands(takes_negatives)
    }
    CommandLine::from_arg_matches(&takes_negatives(CommandLine::command()).try_get_matches()?)
}

/// Says what is to be known of gains of a person's own.
fn note_tuning(setup: &Setup) {
    if setup.oven.tuning.is_none() {
        return;
    }
    let note = model_of(setup).ok().and_then(|model| tuning::note(setup, &model));
    if let Some(note) = note {
        eprintln!("note: {note}");
    }
}

/// Prints to stdout; a reader that has gone away is no failure.
///
/// # Errors
/// Any other failure to write.
pub fn print(text: &str) -> Result<(), Failure> {
    use std::io::Write as _;
    let mut out = std::io::stdout().lock();
    match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
        Err(error) if error.kind() != std::io::ErrorKind::BrokenPipe => {
            Err(Failure::Write(format!("error: the result could not be printed: {error}")))
        }
        _ => Ok(()),
    }
}
