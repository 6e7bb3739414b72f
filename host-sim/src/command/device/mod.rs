//! `truesoak device`: an oven's board over its port.
//!
//! One file a subcommand. A link that is lost is opened again; what a command could not do because
//! of it ends with exit code 3, what the board refuses with 1. Nothing here heats: what leads to heat
//! is asked of the board, which waits for GO at the oven.

mod ask;
mod commission;
mod erase;
mod fetch;
mod list;
mod log_file;
mod on_the_desk;
mod send;
mod settings;
mod status;
mod watch;

use super::{Answer, Failure, Globals, failure_text};
use crate::interrupt;
use crate::link::{Address, LinkError, Session};
use clap::Subcommand;

/// What to do with a board.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    #[command(flatten)]
    port: PortArgument,
    #[command(subcommand)]
    command: Device,
}

/// Where the board is.
#[derive(Clone, Debug, clap::Args)]
pub(super) struct PortArgument {
    /// Port of the board: a path, or tcp:HOST:PORT [default: the only one whose USB product says
    /// truesoak].
    #[arg(long, global = true, value_name = "PORT")]
    port: Option<String>,
}

#[derive(Debug, Subcommand)]
enum Device {
    /// List the serial ports of this computer, and which of them are boards.
    List,
    /// What the board is doing, and which bakes it keeps.
    Status,
    /// What the board is fitted with, and which sensors were checked.
    Settings,
    /// Write what the board is fitted with, and lead its sensors through ice and boiling water.
    Commission(commission::Arguments),
    /// Plan a bake, send it to the board, read it back and compare.
    Send(send::Arguments),
    /// Ask the board to start the bake that was sent; GO at the oven starts it.
    Start(ask::AtTheOven),
    /// Answer what is asked; GO at the oven confirms it.
    Answer(ask::AnswerArguments),
    /// End the bake.
    Stop,
    /// Acknowledge a trip whose cause is gone; GO at the oven confirms it.
    Acknowledge(ask::AtTheOven),
    /// Watch a bake until it ends.
    Watch(watch::Arguments),
    /// Fetch the log of a bake the board keeps.
    Fetch(fetch::Arguments),
    /// Erase bakes the board keeps.
    Erase(erase::Arguments),
    /// A board and a bake's oven on this machine.
    Virtual(on_the_desk::Arguments),
}

/// Runs it.
pub(super) fn run(arguments: &Arguments, globals: &Globals) -> Result<Answer, Failure> {
    // Without it Ctrl-C ends the process at once, as it always did.
    let _ = interrupt::listen();
    let port = &arguments.port;
    match &arguments.command {
        Device::List => list::run(globals),
        Device::Status => status::run(port, globals),
        Device::Settings => settings::run(port, globals),
        Device::Commission(arguments) => commission::run(port, arguments, globals),
        Device::Send(arguments) => send::run(port, arguments, globals),
        Device::Start(arguments) => ask::start(port, arguments, globals),
        Device::Answer(arguments) => ask::answer(port, arguments, globals),
        Device::Stop => ask::stop(port, globals),
        Device::Acknowledge(arguments) => ask::acknowledge(port, arguments, globals),
        Device::Watch(arguments) => watch::run(port, arguments, globals),
        Device::Fetch(arguments) => fetch::run(port, arguments, globals),
        Device::Erase(arguments) => erase::run(port, arguments, globals),
        Device::Virtual(arguments) => on_the_desk::run(arguments, globals),
    }
}

impl PortArgument {
    /// The address meant.
    fn address(&self) -> Result<Address, Failure> {
        let Some(typed) = &self.port else { return Ok(Address::Only) };
        typed.parse().map_err(|error: crate::link::BadAddress| {
            Failure::Input(failure_text(
                &error.to_string(),
                "--port",
                "the path of a serial port, or tcp:HOST:PORT",
                "truesoak device list shows the ports there are",
            ))
        })
    }

    /// Opens it and greets the board.
    fn open(&self) -> Result<(Address, Session), Failure> {
        let address = self.address()?;
        let session = Session::open(&address).map_err(|error| failed(&address, &error))?;
        Ok((address, session))
    }
}

/// What went wrong with a board, in the layout of every other failure.
fn failed(address: &Address, error: &LinkError) -> Failure {
    let place = match error {
        LinkError::Open { path, .. } => path.clone(),
        _ => address.to_string(),
    };
    let text = failure_text(&error.to_string(), &place, error.expected(), error.next());
    match error {
        LinkError::Refused(_) => Failure::Refused(text),
        LinkError::Interrupted => Failure::Interrupted("interrupted".to_owned()),
        _ => Failure::Link(text),
    }
}

/// Tells of a lost link and of its return, on stderr.
fn tell_loss(loss: Option<&LinkError>) {
    match loss {
        Some(error) => eprintln!("{error}; looking for the board again"),
        None => eprintln!("the board answers again"),
    }
}
