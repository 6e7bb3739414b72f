//! The command line: one file a subcommand.

use std::process::ExitCode;

/// Parses the command line, runs it and gives the exit code.
#[must_use]
pub fn run() -> ExitCode {
    ExitCode::from(2)
}
