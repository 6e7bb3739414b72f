//! Which requests a board takes in its present state.
//!
//! What is asked while a bake runs must not touch what the bake runs from; what only a person at
//! the oven may do, the computer may not. Everything else about a request is decided where it is
//! carried out: by the controller, which also holds it back until GO confirms it, or by the store.

use super::messages::{Reply, Request};
use super::refusal::Refusal;
use crate::Controller;
use crate::command::{self, Command};
use crate::pending::REQUEST_S;
use crate::units::Tick;

/// What matters of a board.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Standing {
    /// A bake is running or waiting.
    pub baking: bool,
    /// GO was held at boot.
    pub commissioning: bool,
    /// No oven hangs on it.
    pub is_virtual: bool,
}

/// Refuses what the board may not do now.
///
/// # Errors
/// A document, an erasure or settings while a bake runs; settings or baths outside commissioning;
/// settings that fit no board; a computer that stands for GO where an oven is.
pub fn admit(request: &Request<'_>, standing: Standing) -> Result<(), Refusal> {
    let touches_the_bake = matches!(
        request,
        Request::Begin(_)
            | Request::Piece(_)
            | Request::Commit
            | Request::Erase { .. }
            | Request::SetSettings(_)
            | Request::Bath { .. }
    );
    if standing.baking && touches_the_bake {
        return Err(Refusal::Controller(command::Refusal::BakeRuns));
    }
    if let Request::SetSettings(settings) = request {
        if !standing.commissioning {
            return Err(Refusal::NotCommissioning);
        }
        return settings.fault().map_or(Ok(()), |fault| Err(Refusal::Settings(fault)));
    }
    if matches!(request, Request::Bath { .. }) && !standing.commissioning {
        return Err(Refusal::NotCommissioning);
    }
    let stands_for_go = request.command().is_some_and(|(_, at_the_oven)| at_the_oven);
    if stands_for_go && !standing.is_virtual {
        return Err(Refusal::NotVirtual);
    }
    Ok(())
}

/// Hands the controller what a request asks of it; `None` if it asks nothing of it. The reply says
/// whether GO is awaited.
pub fn hand_on<'a>(
    request: &Request<'_>,
    controller: &mut Controller,
    now: Tick,
    standing: Standing,
) -> Option<Reply<'a>> {
    let (command, _) = request.command()?;
    Some(match controller.command(now, command) {
        Err(refusal) => Reply::Refused(refusal.into()),
        Ok(()) if command == Command::Stop || standing.is_virtual => Reply::Done,
        Ok(()) => Reply::AwaitsGo(REQUEST_S),
    })
}
