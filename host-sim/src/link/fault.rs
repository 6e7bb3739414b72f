//! What can go wrong between computer and board: what happened, what was expected, what to do next.

use std::io;
use truesoak_core::wire::frame::Reject;
use truesoak_core::wire::refusal::Refusal;

/// Why a port cannot be opened.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum OpenFault {
    /// This user may not.
    Denied,
    /// Another program has it.
    Busy,
    /// It is not there.
    Missing,
    /// Nobody answers at that host and port.
    NoAnswer(String),
    /// Anything else, in the system's words.
    Other(String),
}

impl OpenFault {
    /// What a serial port's error comes to.
    #[must_use]
    pub fn of(error: &serialport::Error) -> Self {
        let words = error.to_string();
        match error.kind() {
            serialport::ErrorKind::Io(io::ErrorKind::PermissionDenied) if cfg!(windows) => {
                Self::Busy
            }
            serialport::ErrorKind::Io(io::ErrorKind::PermissionDenied) => Self::Denied,
            serialport::ErrorKind::Io(io::ErrorKind::WouldBlock | io::ErrorKind::ResourceBusy) => {
                Self::Busy
            }
            serialport::ErrorKind::Io(io::ErrorKind::NotFound) => Self::Missing,
            // One kind of error stands for a port that is not there and for one in use.
            serialport::ErrorKind::NoDevice if is_missing(&words) => Self::Missing,
            serialport::ErrorKind::NoDevice => Self::Busy,
            _ => Self::Other(words),
        }
    }

    fn what(&self, path: &str) -> String {
        match self {
            Self::Denied => format!("you may not open {path}"),
            Self::Busy => format!("{path} is in use by another program"),
            Self::Missing => format!("{path} is not there"),
            Self::NoAnswer(why) => format!("nobody answers at {path}: {why}"),
            Self::Other(why) => format!("{path} cannot be opened: {why}"),
        }
    }

    fn expected(&self) -> &'static str {
        match self {
            Self::Denied => "a port this user may read and write",
            Self::Busy => "a port no other program has open",
            Self::Missing => "the path of a port that is plugged in",
            Self::NoAnswer(_) => {
                "a board, or `truesoak device virtual --tcp`, at that host and port"
            }
            Self::Other(_) => "a serial port",
        }
    }

    /// What to do about it on a system, named as Rust names them.
    fn next(&self, system: &str) -> &'static str {
        match (self, system) {
            (Self::Denied, "linux") => {
                "sudo usermod -aG dialout $USER (uucp where there is no group dialout), then log in again"
            }
            (Self::Denied, "macos") => {
                "open it as the user who is logged in at the screen, and allow the accessory if asked"
            }
            (Self::Denied, "freebsd" | "openbsd" | "netbsd" | "dragonfly") => {
                "pw groupmod dialer -m $USER (or your system's way into the group dialer), then log in again"
            }
            (Self::Denied, _) => "open it as a user who may",
            (Self::Busy, "windows") => {
                "close the other program (a serial monitor, or `truesoak device watch`), or unplug the \
                 board and plug it in again"
            }
            (Self::Busy, "linux") => {
                "close the other program (`truesoak device watch`, a serial monitor; `fuser PATH` \
                 names it); a modem manager lets go after some seconds"
            }
            (Self::Busy, _) => {
                "close the other program (`truesoak device watch`, a serial monitor; `lsof PATH` \
                 names it)"
            }
            (Self::Missing, _) => "truesoak device list, then plug the board in and look again",
            (Self::NoAnswer(_), _) => "start it there, or check host and port",
            (Self::Other(_), _) => "truesoak device list shows the ports there are",
        }
    }
}

fn is_missing(words: &str) -> bool {
    ["No such file", "not found", "cannot find"].iter().any(|part| words.contains(part))
}

/// What went wrong with a board.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum LinkError {
    /// The system does not list its ports.
    #[error("the ports cannot be listed: {0}")]
    List(String),
    /// None of so many ports is a board's.
    #[error("no board is plugged in: none of {0} serial ports says it is one")]
    NoBoard(usize),
    /// Several are.
    #[error("{} boards are plugged in: {}", .0.len(), .0.join(", "))]
    SeveralBoards(Vec<String>),
    /// A port cannot be opened.
    #[error("{}", fault.what(path))]
    Open {
        /// Which.
        path: String,
        /// Why.
        fault: OpenFault,
    },
    /// The board is silent or the port is gone.
    #[error("the board does not answer: {0}")]
    Lost(String),
    /// What answers is no board of this project.
    #[error("what answers is no oven's board: it calls itself \"{0}\"")]
    NotABoard(String),
    /// Another board than before is at the port.
    #[error("another board than before is at this port")]
    OtherBoard,
    /// The board speaks another version of the protocol.
    #[error("the board speaks another version of the link than this program")]
    OtherVersion,
    /// The board does not do it.
    #[error("the board refuses: {0}")]
    Refused(Refusal),
    /// The board's answer makes no sense here.
    #[error("the board's answer is of another kind than was asked for: {0}")]
    Unexpected(String),
    /// A person asked to stop.
    #[error("interrupted")]
    Interrupted,
}

impl LinkError {
    /// It may be another try's.
    #[must_use]
    pub fn may_pass(&self) -> bool {
        matches!(self, Self::Lost(_) | Self::List(_) | Self::NoBoard(_) | Self::Open { .. })
    }

    /// What was expected.
    #[must_use]
    pub fn expected(&self) -> &'static str {
        match self {
            Self::List(_) => "a system that lists its serial ports",
            Self::NoBoard(_) => "one port whose USB product is \"truesoak\"",
            Self::SeveralBoards(_) => "one, or the port of the one that is meant",
            Self::Open { fault, .. } => fault.expected(),
            Self::Lost(_) => "an answer within four seconds",
            Self::NotABoard(_) => "a board that calls itself \"truesoak\"",
            Self::OtherBoard => "the board this command began with",
            Self::OtherVersion => "version 1 of the link on both ends",
            Self::Refused(_) => "a request that fits what the board is doing",
            Self::Unexpected(_) => "an answer to what was asked",
            Self::Interrupted => "nothing",
        }
    }

    /// What to do next.
    #[must_use]
    pub fn next(&self) -> &'static str {
        match self {
            Self::List(_) => "name the port: --port PATH",
            Self::NoBoard(_) => {
                "plug it in, or name its port with --port; without hardware: \
                 truesoak device virtual BAKE.toml"
            }
            Self::SeveralBoards(_) => "name one with --port, or unplug the others",
            Self::Open { fault, .. } => fault.next(std::env::consts::OS),
            Self::Lost(_) => {
                "check cable and supply; a bake that runs goes on without the computer"
            }
            Self::NotABoard(_) => "name the board's own port: truesoak device list",
            Self::OtherBoard => "start the command again",
            Self::OtherVersion => "use the truesoak of the same release as the board's program",
            Self::Refused(Refusal::Frame(Reject::UnknownMessage)) => {
                "use the truesoak of the same release as the board's program"
            }
            Self::Refused(_) => "truesoak device status shows what the board is doing",
            Self::Unexpected(_) => "try again; if it stays so, keep what was said and tell us",
            Self::Interrupted => "start the command again",
        }
    }
}

impl From<io::Error> for LinkError {
    fn from(error: io::Error) -> Self {
        Self::Lost(error.to_string())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_port_that_may_not_be_opened_comes_with_the_repair_of_its_system() {
        assert!(OpenFault::Denied.next("linux").contains("dialout"));
        assert!(OpenFault::Denied.next("openbsd").contains("dialer"));
        assert!(!OpenFault::Denied.next("macos").contains("dialout"));
        assert!(OpenFault::Busy.next("windows").contains("serial monitor"));
        assert!(OpenFault::Busy.next("linux").contains("fuser"));
        assert!(OpenFault::Busy.next("macos").contains("lsof"));
    }

    #[test]
    fn errors_of_a_port_are_told_apart() {
        let io = |kind| serialport::Error::from(io::Error::from(kind));
        let denied = if cfg!(windows) { OpenFault::Busy } else { OpenFault::Denied };
        assert_eq!(OpenFault::of(&io(io::ErrorKind::PermissionDenied)), denied);
        let device = |words: &str| serialport::Error::new(serialport::ErrorKind::NoDevice, words);
        assert_eq!(OpenFault::of(&device("Device or resource busy")), OpenFault::Busy);
        assert_eq!(OpenFault::of(&device("No such file or directory")), OpenFault::Missing);
    }
}
