//! What the computer may ask, and what the board says.
//!
//! Every message is bounded by the frame it must fit; texts and bytes are borrowed from it. Ids
//! follow the order here. A request has one reply, told by its number; [`Reply::Row`] alone comes
//! without being asked for, once a [`Request::Watch`] said so.

use super::PIECE_BYTES_MAX;
use super::frame::Message;
use super::refusal::{Obstacle, Refusal};
use super::row::{ROW_BYTES, Sixteenths};
use super::settings::BoardSettings;
use super::upload::Outline;
use crate::command::Command;
use crate::event::Ending;
use crate::guard::TripKind;
use crate::io::{Answer, Question};
use crate::record::Phase;
use crate::two_points::{Bath, SENSORS};
use crate::units::{Celsius, Reading};
use heapless::Vec;
use serde::{Deserialize, Serialize};

/// What every board of this project calls itself.
pub const PRODUCT: &str = "truesoak";
/// Most bakes in one [`Reply::Bakes`].
pub const BAKES_MAX: usize = 8;

/// From the computer.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Request<'a> {
    /// Who is there?
    Hello {
        /// Seconds since 1970-01-01 UTC, so that the board can tell when a bake began.
        unix_s: Option<u32>,
    },
    /// What is the board doing?
    Status,
    /// Send every row of a running bake as it is made, or no more.
    Watch(bool),
    /// A document follows.
    Begin(Outline),
    /// Some of it.
    #[serde(borrow)]
    Piece(Piece<'a>),
    /// That was all of it: check it, and take it for the next bake.
    Commit,
    /// What document is there?
    Document,
    /// Give back a piece of it.
    ReadBack {
        /// From which byte on.
        offset: u32,
    },
    /// What is the board fitted with?
    Settings,
    /// It is fitted with this.
    SetSettings(BoardSettings),
    /// Start the bake.
    Start {
        /// Virtual boards only: the computer stands for GO.
        at_the_oven: bool,
    },
    /// Answer what is asked.
    Answer {
        /// How.
        said: Said,
        /// Virtual boards only: the computer stands for GO.
        at_the_oven: bool,
    },
    /// End the bake; needs nobody's GO.
    Stop,
    /// Acknowledge the trip.
    Acknowledge {
        /// Virtual boards only: the computer stands for GO.
        at_the_oven: bool,
    },
    /// Which bakes are stored?
    Bakes {
        /// Only those with a higher number; 0 for all.
        after: u32,
    },
    /// Give a piece of a stored bake.
    Fetch {
        /// Its number.
        bake: u32,
        /// From which byte on.
        offset: u32,
    },
    /// A stored bake has arrived; it may be erased when room is wanted.
    MarkFetched {
        /// Its number.
        bake: u32,
    },
    /// Erase stored bakes.
    Erase {
        /// This one; else all.
        bake: Option<u32>,
        /// Also what was not fetched.
        not_fetched: bool,
    },
    /// While commissioning: a sensor is in ice or in boiling water.
    Bath {
        /// 0 the air sensor, 1 the second one, 2 the part probe.
        sensor: u8,
        /// What the bath is, steps of 1/128 K: 0 °C, or what water boils at here.
        is: Reading,
    },
    /// What forbids a start, and which sensors have been checked?
    Readiness,
}

impl<'a> Message<'a> for Request<'a> {
    const FIRST_ID: u8 = 0x01;
    const COUNT: u8 = 20;
}

impl Request<'_> {
    /// What it asks of the controller, and whether the computer stands for GO.
    #[must_use]
    pub const fn command(&self) -> Option<(Command, bool)> {
        match *self {
            Self::Start { at_the_oven } => Some((Command::Start, at_the_oven)),
            Self::Answer { said, at_the_oven } => {
                Some((Command::Answer(said.answer()), at_the_oven))
            }
            Self::Stop => Some((Command::Stop, false)),
            Self::Acknowledge { at_the_oven } => Some((Command::Acknowledge, at_the_oven)),
            _ => None,
        }
    }
}

/// Bytes of something longer.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Piece<'a> {
    /// Of its first byte.
    pub offset: u32,
    /// At most [`PIECE_BYTES_MAX`].
    pub bytes: &'a [u8],
}

impl<'a> Piece<'a> {
    /// A piece of what starts at `offset`; what is beyond one piece is left for the next.
    #[must_use]
    pub fn of(offset: u32, bytes: &'a [u8]) -> Self {
        Self { offset, bytes: bytes.get(..PIECE_BYTES_MAX).unwrap_or(bytes) }
    }
}

/// An answer as a person says it; *pass* and *go* are one press.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Said {
    /// The check is passed.
    Pass,
    /// It is not, or: yes, something new is inside.
    Fail,
    /// Go on.
    Go,
}

impl Said {
    /// The button it stands for.
    #[must_use]
    pub const fn answer(self) -> Answer {
        match self {
            Self::Pass | Self::Go => Answer::Go,
            Self::Fail => Answer::Fail,
        }
    }
}

/// From the board.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub enum Reply<'a> {
    /// Who is there.
    #[serde(borrow)]
    Hello(Hello<'a>),
    /// What it is doing.
    Status(Status),
    /// Done.
    Done,
    /// Taken, if GO is held at the oven within so many seconds.
    AwaitsGo(u8),
    /// Not done.
    Refused(Refusal),
    /// The document that is there, whole and checked.
    Document(Outline),
    /// A piece of it, or of a stored bake.
    #[serde(borrow)]
    Piece(Piece<'a>),
    /// What the board is fitted with.
    Settings(BoardSettings),
    /// Some of the bakes that are stored, lowest number first.
    Bakes(Bakes),
    /// A row of the running bake, as stored, and what the board makes of it.
    Row(LiveRow),
    /// What forbids a start, and which sensors have been checked.
    Readiness(Readiness),
}

impl<'a> Message<'a> for Reply<'a> {
    const FIRST_ID: u8 = 0x41;
    const COUNT: u8 = 11;
}

/// Who a board is. Its protocol is that of the frame this comes in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Hello<'a> {
    /// [`PRODUCT`], or this is no board of this project.
    pub product: &'a str,
    /// Version of the program: major, minor, patch.
    pub firmware: [u8; 3],
    /// The board's own number.
    pub board: [u8; 8],
    /// What it can do.
    pub capabilities: Capabilities,
}

/// What a board can do, a bit each; bits not named here are to come.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct Capabilities(pub u16);

impl Capabilities {
    /// No oven hangs on it; requests need no GO.
    pub const VIRTUAL: Self = Self(1);
    /// It is being commissioned: settings are taken.
    pub const COMMISSIONING: Self = Self(2);
    /// It has a display.
    pub const DISPLAY: Self = Self(4);

    /// All of `other` are among these.
    #[must_use]
    pub const fn has(self, other: Self) -> bool {
        self.0 & other.0 == other.0
    }

    /// These and `other`.
    #[must_use]
    pub const fn and(self, other: Self) -> Self {
        Self(self.0 | other.0)
    }
}

/// What a board is doing.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Status {
    /// Phase.
    pub phase: Phase,
    /// Step, from 1; 0 outside a bake.
    pub step: u8,
    /// Seconds since the bake began.
    pub second: u32,
    /// Mean air reading of the last second.
    pub reading: Option<Reading>,
    /// Setpoint of the reading.
    pub setpoint: Option<Sixteenths>,
    /// No part is colder.
    pub coldest: Option<Celsius>,
    /// No part is hotter.
    pub hottest: Option<Celsius>,
    /// Credit of the soak, s.
    pub credit_s: u32,
    /// Credit that ends it, s; 0 outside a soak.
    pub for_s: u32,
    /// Ticks of the last second with the drive on, 0..=10.
    pub on_ticks: u8,
    /// Heat is allowed.
    pub permit: bool,
    /// The door is open; `None` without a switch.
    pub door_open: Option<bool>,
    /// What is asked of the person.
    pub asks: Option<Question>,
    /// The latched trip.
    pub trip: Option<TripKind>,
    /// A request that GO must confirm, and the seconds it still waits.
    pub awaits_go: Option<(Command, u8)>,
    /// How the last bake ended, and whether some soak of it ended short.
    pub ended: Option<(Ending, bool)>,
    /// Frames not taken since the board started; stands at its greatest.
    pub rejected: u16,
}

/// Some of the bakes that are stored.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Bakes {
    /// Lowest number first.
    pub listed: Vec<StoredBake, BAKES_MAX>,
    /// There are more, with higher numbers.
    pub more: bool,
}

/// A stored bake.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct StoredBake {
    /// Its number, from 1.
    pub number: u32,
    /// When it began, seconds since 1970-01-01 UTC; `None` when no computer had told the time.
    pub started_unix_s: Option<u32>,
    /// How long it ran, s.
    pub seconds: u32,
    /// Bytes to fetch.
    pub bytes: u32,
    /// It ended; not so one that runs, or that a lost supply cut off.
    pub finished: bool,
    /// It was fetched.
    pub fetched: bool,
}

/// A row of the running bake.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct LiveRow {
    /// As stored; see [`super::row`].
    pub row: [u8; ROW_BYTES],
    /// No part is colder.
    pub coldest: Option<Celsius>,
    /// No part is hotter.
    pub hottest: Option<Celsius>,
    /// Credit of the step, s.
    pub credit_s: u32,
}

/// How ready a board is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Readiness {
    /// What forbids a start; the first that holds.
    pub obstacle: Option<Obstacle>,
    /// Air sensor, second air sensor, part probe; `None` where none is fitted.
    pub sensors: [Option<SensorState>; SENSORS],
}

/// A fitted sensor.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct SensorState {
    /// What it reads now, corrected; `None` while it does not answer.
    pub reading: Option<Reading>,
    /// How far its check at two points has come.
    pub check: CheckState,
}

/// How far the check of a sensor in ice and boiling water has come.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum CheckState {
    /// Not begun.
    Unchecked,
    /// It has been in ice.
    Ice,
    /// It has been in boiling water.
    Boiling,
    /// It went through both, and is corrected.
    Checked,
}

impl CheckState {
    /// Of a sensor that was checked, or waits for this bath.
    #[must_use]
    pub const fn of(checked: bool, waits_for: Option<Bath>) -> Self {
        match (waits_for, checked) {
            (Some(Bath::Boiling), _) => Self::Ice,
            (Some(Bath::Ice), _) => Self::Boiling,
            (None, true) => Self::Checked,
            (None, false) => Self::Unchecked,
        }
    }
}
