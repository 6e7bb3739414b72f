//! `truesoak verdict`: recount a bake from its log alone.

use super::logged::{LogArguments, Logged};
use super::{Answer, Failure, Format, Globals, print};
use crate::report::words;

/// Which log.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    #[command(flatten)]
    log: LogArguments,
}

/// Recounts it.
pub(super) fn run(arguments: &Arguments, globals: &Globals) -> Result<Answer, Failure> {
    let logged = Logged::read(&arguments.log)?;
    let text = match globals.format {
        Format::Json => logged.result.to_json(),
        Format::Text if globals.quiet => words::one_line(&logged.story(globals), globals.paint()),
        Format::Text => words::report(&logged.story(globals), globals.paint(), &[]),
    };
    print(&text)?;
    Ok(if logged.result.is_good() { Answer::Yes } else { Answer::No })
}
