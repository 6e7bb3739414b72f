//! The `truesoak` command.

use std::process::ExitCode;

fn main() -> ExitCode {
    truesoak::command::run()
}
