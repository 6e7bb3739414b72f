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
            Self::AboveOven => "the bake may let the air exceed the oven's own limit: lower it",
            Self::NoDocument => "the board has no bake: send one",
            Self::NoSuchBake => "no such bake is stored",
            Self::PastTheEnd => "nothing is stored there",
            Self::NotFetched => "the bake has not been fetched: fetch it first",
            Self::NoRoom => "no room for another bake: fetch the ones that are stored",
            Self::StoreFailing => "the store does not take it",
        })
    }
}

impl core::error::Error for Refusal {}
