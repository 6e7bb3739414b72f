//! A bake with its oven and load as the board runs it: the compiled part of a document.
//!
//! ```text
//! layout · bake · model · drive (postcard) · check
//! ```
//!
//! A computer compiles it from the three files; the board runs nothing else. It is refused with one
//! [`Fault`] unless it is whole, every number of it is finite and in the range real ovens have
//! ([`ranges`]), every count fits, and the bake has no fault of its own ([`Bake::faults`]). What a
//! computer may not decide is not in it: whether the board is virtual, and what its oven stands.

pub mod ranges;

use super::{CHECK, CHECK_BYTES, unseal, write};
use crate::bake::Bake;
use crate::bake::faults::Field;
use crate::bounds::model::Model;
use crate::command::Settings;
use ranges::Place;
use serde::{Deserialize, Serialize};

/// Most bytes of a compiled bake, with six kinds of parts and 24 soaks (1,834 were counted).
pub const COMPILED_BYTES_MAX: usize = 2048;
/// How what follows is laid out; another order of any table in it is another layout, and so is another
/// meaning of a number: in 1 a film did not change with its air.
const LAYOUT: u8 = 2;

/// All a controller is made from.
#[derive(Clone, Debug, PartialEq)]
pub struct Compiled {
    /// Steps and limits.
    pub bake: Bake,
    /// Oven and load.
    pub model: Model,
    /// Gains and pulses; never those of a virtual board.
    pub settings: Settings,
}

/// Why a compiled bake is refused.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Fault {
    /// Its check does not hold.
    Damaged,
    /// Another layout than this version's.
    Layout,
    /// It ends early, has more kinds of parts or steps than fit, or words that are none.
    Malformed,
    /// Bytes are left behind it.
    TrailingBytes,
    /// A number is none, or outside what real ovens have.
    Value(Place),
    /// The bake cannot run: its step, from 0, if the fault is a step's, and the value.
    Bake(Option<u8>, Field),
}

impl core::fmt::Display for Fault {
    fn fmt(&self, formatter: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            Self::Damaged => formatter.write_str("the compiled bake is damaged: send it again"),
            Self::Layout => formatter.write_str("the compiled bake is of another version"),
            Self::Malformed | Self::TrailingBytes => {
                formatter.write_str("the compiled bake is none")
            }
            Self::Value(place) => write!(formatter, "{place} is out of range"),
            Self::Bake(None, field) => write!(formatter, "the bake cannot run: {field:?}"),
            Self::Bake(Some(step), field) => {
                write!(formatter, "step {} cannot run: {field:?}", u16::from(*step) + 1)
            }
        }
    }
}

impl core::error::Error for Fault {}

impl Compiled {
    /// Writes it into `bytes`; how many it took, or `None` if there is no room.
    #[must_use]
    pub fn encode(&self, bytes: &mut [u8]) -> Option<usize> {
        let written = (LAYOUT, &self.bake, &self.model, &self.settings);
        let len = write(&written, bytes)?.len();
        let check = CHECK.checksum(bytes.get(..len)?).to_le_bytes();
        let sealed = bytes.get_mut(..len.checked_add(CHECK_BYTES)?)?;
        *sealed.last_chunk_mut()? = check;
        Some(sealed.len())
    }

    /// Reads what has arrived.
    ///
    /// # Errors
    /// The first fault found. Nothing of it may be used then.
    pub fn decode(bytes: &[u8]) -> Result<Self, Fault> {
        let content = unseal(bytes).ok_or(Fault::Damaged)?;
        if content.first() != Some(&LAYOUT) {
            return Err(Fault::Layout);
        }
        let read = postcard::take_from_bytes::<(u8, Bake, Model, Settings)>(content);
        let ((_, bake, model, settings), rest) = read.map_err(|_| Fault::Malformed)?;
        if !rest.is_empty() {
            return Err(Fault::TrailingBytes);
        }
        let compiled = Self { bake, model, settings };
        compiled.fault().map_or(Ok(compiled), Err)
    }

    /// The first thing in it that no board may run.
    #[must_use]
    #[inline(never)]
    pub fn fault(&self) -> Option<Fault> {
        if let Some(place) = ranges::out_of_range(&self.model, &self.settings, &self.bake) {
            return Some(Fault::Value(place));
        }
        let faults = self.bake.faults(self.model.ambient);
        faults.first().map(|fault| Fault::Bake(fault.step, fault.field))
    }
}
