//! Why a board does not do what it is asked.

use super::compiled::Fault;
use super::frame::Reject;
use super::settings::SettingsFault;
use super::upload::UploadFault;
use crate::command;
use serde::{Deserialize, Serialize};

/// Why a request is refused; nothing has changed then.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Refusal {
    /// It does not fit what the bake is doing.
    Controller(command::Refusal),
    /// The frame arrived whole but says nothing that is known here.
    Frame(Reject),
    /// Only a virtual board takes "I am at the oven" for GO.
    NotVirtual,
    /// Settings are taken only while the board is being commissioned, with GO held at boot.
    NotCommissioning,
    /// The settings fit no board.
    Settings(SettingsFault),
    /// The document does not come as it must.
    Upload(UploadFault),
    /// The document arrived whole but is no bake for an oven.
    Document(Fault),
    /// The bake may let the air exceed what the oven stands.
    AboveOven,
    /// The board has no document.
    NoDocument,
    /// No such bake is stored.
    NoSuchBake,
    /// Nothing is stored there.
    PastTheEnd,
    /// The bake has not been fetched; only `not_fetched` erases it all the same.
    NotFetched,
    /// No room for a bake: fetch what is stored first.
    NoRoom,
    /// The store does not take it.
    StoreFailing,
    /// A start, while something forbids it.
    NotReady(Obstacle),
    /// A bath that tells nothing of the sensor.
    Bath(BathFault),
}

/// What forbids a start; the first that holds, in this order.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Obstacle {
    /// The self-test still runs: two seconds from when the board was switched on.
    Testing,
    /// Memory or program are not what they were.
    Memory,
    /// The store does not open or does not keep what is written.
    Store,
    /// There are no settings, or they do not read back.
    Settings,
    /// A button has been closed since the board was switched on.
    Button,
    /// The contactor is closed, although nobody asks for it.
    PermitClosed,
    /// The clocks disagree.
    Clock,
    /// A sensor does not answer.
    Sensor,
    /// A sensor has not been through ice and boiling water since it was fitted.
    TwoPoints,
    /// There is no bake.
    NoDocument,
    /// The bake may let the air exceed what the oven stands.
    AboveOven,
    /// The last bake is still being written down, or one that the supply interrupted waits for its
    /// sensor.
    LastBake,
    /// Room for the bake is being made.
    MakingRoom,
    /// No room: stored bakes must be fetched first.
    NoRoom,
}

impl core::fmt::Display for Obstacle {
    fn fmt(&self, formatter: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        formatter.write_str(match self {
            Self::Testing => "the board is testing itself: wait two seconds",
            Self::Memory => "the board's memory or program is damaged: do not use it",
            Self::Store => "the store does not keep what is written",
            Self::Settings => "the board has no settings: commission it",
            Self::Button => "a button is stuck, or STOP is latched: release it",
            Self::PermitClosed => {
                "the contactor is closed though nothing asks for it: pull the plug"
            }
            Self::Clock => "the independent clock disagrees: check its wire",
            Self::Sensor => "a sensor does not answer: check its plug",
            Self::TwoPoints => "a sensor has not been through ice and boiling water: commission it",
            Self::NoDocument => "the board has no bake: send one",
            Self::AboveOven => "the bake may let the air exceed the oven's own limit: lower it",
            Self::LastBake => "the last bake is still being stored: wait",
            Self::MakingRoom => "room is being made: wait",
            Self::NoRoom => "no room for another bake: fetch the ones that are stored",
        })
    }
}

/// Why a bath tells nothing of a sensor.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum BathFault {
    /// No such sensor is fitted.
    NotFitted,
    /// Neither ice nor boiling water is like this.
    NoBath,
    /// The reading is not steady, or has not been for half a minute.
    Unsteady,
    /// The reading is too far from the bath: another type of sensor, or wires swapped.
    TooFar,
    /// The two errors differ too much: another type of sensor, or a bath that was not what it
    /// should be. Both have to be taken again.
    Differ,
}

impl core::fmt::Display for BathFault {
    fn fmt(&self, formatter: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        formatter.write_str(match self {
            Self::NotFitted => "no such sensor is fitted",
            Self::NoBath => "a bath is ice at 0 °C or water that boils between 85 °C and 102 °C",
            Self::Unsteady => "the reading is not steady yet: wait half a minute",
            Self::TooFar => "the reading is more than 2.5 K off: check letters, plus and minus",
            Self::Differ => "the two errors differ by 1.5 K or more: take both baths again",
        })
    }
}

impl From<command::Refusal> for Refusal {
    fn from(refusal: command::Refusal) -> Self {
        Self::Controller(refusal)
    }
}

impl core::fmt::Display for Refusal {
    fn fmt(&self, formatter: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        formatter.write_str(match self {
            Self::Controller(refusal) => return refusal.fmt(formatter),
            Self::Frame(reject) => return reject.fmt(formatter),
            Self::NotVirtual => "only a board on the desk does without GO: hold GO at the oven",
            Self::NotCommissioning => {
                "settings change only while commissioning: hold GO while the board is switched on"
            }
            Self::Settings(SettingsFault::Fitting) => {
                "a resistance sensor has 2 to 4 wires and a reference of 100 to 10000 ohms"
            }
            Self::Settings(SettingsFault::Correction) => {
                "a sensor is corrected by at most 50 °C: check its type"
            }
            Self::Settings(SettingsFault::AirMax) => {
                "the oven's air limit lies between 40 °C and 600 °C"
            }
            Self::Upload(fault) => return fault.fmt(formatter),
            Self::Document(fault) => return fault.fmt(formatter),
            Self::AboveOven => return Obstacle::AboveOven.fmt(formatter),
            Self::NoDocument => return Obstacle::NoDocument.fmt(formatter),
            Self::NoSuchBake => "no such bake is stored",
            Self::PastTheEnd => "nothing is stored there",
            Self::NotFetched => "the bake has not been fetched: fetch it first",
            Self::NoRoom => return Obstacle::NoRoom.fmt(formatter),
            Self::StoreFailing => "the store does not take it",
            Self::NotReady(obstacle) => return obstacle.fmt(formatter),
            Self::Bath(fault) => return fault.fmt(formatter),
        })
    }
}

impl core::error::Error for Refusal {}
