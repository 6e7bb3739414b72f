//! `device erase`: bakes the board keeps. One that was not fetched goes only when that is said.

use super::{PortArgument, failed};
use crate::command::{Answer, Failure, Format, Globals, print};
use crate::link::{LinkError, Patience};
use crate::report::units::counted;
use truesoak_core::wire::messages::Request;

/// Which.
#[derive(Clone, Copy, Debug, clap::Args)]
pub(super) struct Arguments {
    /// This one [default: all that were fetched].
    #[arg(long, value_name = "N")]
    bake: Option<u32>,
    /// Also what was not fetched: its record is lost for good.
    #[arg(long)]
    not_fetched: bool,
}

/// Runs it.
pub(super) fn run(
    port: &PortArgument,
    arguments: &Arguments,
    globals: &Globals,
) -> Result<Answer, Failure> {
    let (address, mut session) = port.open()?;
    let Arguments { bake, not_fetched } = *arguments;
    let erased = session.with(Patience::SHORT, super::tell_loss, |client, _| {
        let before = client.bakes()?.len();
        match client.done(&Request::Erase { bake, not_fetched }) {
            // The reply to the first time was lost.
            Err(LinkError::Refused(truesoak_core::wire::refusal::Refusal::NoSuchBake))
                if bake.is_none() => {}
            done => done?,
        }
        Ok((before, client.bakes()?.len()))
    });
    let (before, after) = erased.map_err(|error| failed(&address, &error))?;
    let gone = before.saturating_sub(after);
    print(&match globals.format {
        Format::Json => format!("{}\n", serde_json::json!({ "erased": gone, "kept": after })),
        Format::Text => format!("{} erased, {after} kept.\n", counted(gone, "bake", "bakes")),
    })?;
    Ok(Answer::Yes)
}
