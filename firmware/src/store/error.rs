//! Why the store did not do something.

use core::fmt;
use embedded_storage::nor_flash::{NorFlashError, NorFlashErrorKind};

/// What stands in the way; nothing that was kept before is lost by any of them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum StoreError {
    /// The board gave a region that is not on sector bounds, not inside the flash, or of a size
    /// outside [`SECTORS_MIN`](super::SECTORS_MIN)`..=`[`SECTORS_MAX`](super::SECTORS_MAX).
    Region,
    /// The flash driver refused.
    Flash(NorFlashErrorKind),
    /// What was programmed does not read back, tried in several places.
    NotKept,
    /// A sector does not read blank after its erase.
    NotErased,
    /// A bake is open: nothing may be erased, and this might have to.
    BakeOpen,
    /// No bake is open.
    NoBake,
    /// No erased room is left for this; see [`Store::make_room`](super::Store::make_room).
    NoRoom,
    /// More bytes than such a thing may have.
    TooLong,
    /// A document's piece that does not follow the one before.
    OutOfOrder {
        /// The offset that would.
        expected: u32,
    },
    /// The document read back is not the one that was meant: length or digest differ.
    DigestWrong,
    /// There is no such bake or document.
    Unknown,
    /// The bake has no end yet.
    NotFinished,
}

impl StoreError {
    pub(super) fn flash(error: &impl NorFlashError) -> Self {
        Self::Flash(error.kind())
    }
}

impl fmt::Display for StoreError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Region => f.write_str("the store's region does not fit the flash"),
            Self::Flash(kind) => write!(f, "the flash refuses: {kind}"),
            Self::NotKept => f.write_str("the flash does not keep what is written"),
            Self::NotErased => f.write_str("the flash does not erase"),
            Self::BakeOpen => f.write_str("a bake is open"),
            Self::NoBake => f.write_str("no bake is open"),
            Self::NoRoom => f.write_str("no erased room is left"),
            Self::TooLong => f.write_str("more bytes than may be kept"),
            Self::OutOfOrder { expected } => write!(f, "expected the piece at {expected}"),
            Self::DigestWrong => f.write_str("the document did not arrive whole"),
            Self::Unknown => f.write_str("nothing is kept under that number"),
            Self::NotFinished => f.write_str("the bake has no end yet"),
        }
    }
}

impl core::error::Error for StoreError {}
