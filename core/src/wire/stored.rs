//! A bake as the board stores it and a computer fetches it: one run of bytes.
//!
//! ```text
//! head (64) · document, as in its outline · entry (17) · entry · …
//! ```
//!
//! The head says what the bake was made from and how it ended; the document is the one it was made
//! from, whichever is current now. An entry is a tag (kind in the upper three bits, length in the
//! lower five) and sixteen bytes, 0xff after the length: a [`Row`] of one of its three kinds, or a
//! *gap*, a place that was torn when the supply went. Rows come in the order things happened, so the
//! same ledger over the same rows recounts the bake. Every second has its row, with one exception
//! ([`THIN_AFTER_S`]): a row whose second is further on than the next stands for those between too.
//!
//! Refused, as `None`, is whatever a board does not write.

use super::built_in::BuiltIn;
use super::row::{ROW_BYTES, Row};
use super::upload::Outline;
use super::{seal, sealed};
use crate::event::Ending;
use serde::{Deserialize, Serialize};

/// Bytes of the head.
pub const HEAD_BYTES: usize = 64;
/// Bytes of an entry.
pub const ENTRY_BYTES: usize = 17;
/// A person who lets a check or a wait with the parts out stand for so much longer than it asks gets
/// one row a minute from then on, s.
pub const THIN_AFTER_S: u32 = 3600;
/// The second of such a row is a multiple of this.
pub const THIN_S: u32 = 60;

/// How the head is laid out.
const LAYOUT: u8 = 1;
const KIND: u8 = 0xe0;
const GAP: u8 = 0xe0;
/// Kinds of rows: a second, an event, a tick of the black box.
const ROWS: [u8; 3] = [0x00, 0x20, 0x40];

/// What a stored bake begins with.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Head {
    /// What it was made from.
    pub document: Outline,
    /// The board's own steps, with that document's oven.
    pub built_in: Option<BuiltIn>,
    /// When it began, seconds since 1970-01-01 UTC; `None` when no computer had told the time.
    pub started_unix_s: Option<u32>,
    /// How it ended, and whether some soak of it ended short; `None` for one that runs or that a
    /// lost supply cut off for good.
    pub ended: Option<(Ending, bool)>,
    /// How long it ran, s.
    pub seconds: u32,
    /// Entries behind the document.
    pub entries: u32,
}

impl Head {
    /// Its bytes; `None` would mean that [`HEAD_BYTES`] are too few.
    #[must_use]
    pub fn encode(&self) -> Option<[u8; HEAD_BYTES]> {
        seal(&(LAYOUT, self))
    }

    /// The head these bytes are.
    #[must_use]
    pub fn decode(bytes: &[u8; HEAD_BYTES]) -> Option<Self> {
        let (layout, head) = sealed::<(u8, Self)>(bytes)?;
        (layout == LAYOUT).then_some(head)
    }

    /// Bytes of the whole.
    #[must_use]
    pub fn bytes(&self) -> u32 {
        let entries = self.entries.saturating_mul(ENTRY_BYTES as u32);
        self.entries_offset().saturating_add(entries)
    }

    /// Where the first entry is.
    #[must_use]
    pub fn entries_offset(&self) -> u32 {
        HEAD_BYTES as u32 + self.document.bytes()
    }
}

/// One entry.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Entry {
    /// A row.
    Row(Row),
    /// Something was torn here.
    Gap,
}

impl Entry {
    /// The entry these bytes are.
    #[must_use]
    pub fn decode(bytes: &[u8; ENTRY_BYTES]) -> Option<Self> {
        let (tag, payload) = bytes.split_first()?;
        let (kind, length) = (tag & KIND, usize::from(tag & !KIND));
        if kind == GAP && length == 0 {
            return Some(Self::Gap);
        }
        let row = payload.first_chunk::<ROW_BYTES>()?;
        let row = Row::decode(row).filter(|_| length >= ROW_BYTES)?;
        let meant = match row {
            Row::Second(_) => ROWS[0],
            Row::Event { .. } => ROWS[1],
            Row::Tick(_) => ROWS[2],
        };
        (meant == kind).then_some(Self::Row(row))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::event::Event;
    use crate::guard::TripKind;

    fn longest() -> Head {
        let document = Outline {
            bake_bytes: u16::MAX,
            oven_bytes: u16::MAX,
            load_bytes: u16::MAX,
            job_bytes: u16::MAX,
            note_bytes: u16::MAX,
            compiled_bytes: u16::MAX,
            digest: u32::MAX,
        };
        Head {
            document,
            built_in: Some(BuiltIn::Hold),
            started_unix_s: Some(u32::MAX),
            ended: Some((Ending::Tripped(TripKind::MemoryCorrupt), true)),
            seconds: u32::MAX,
            entries: u32::MAX,
        }
    }

    #[test]
    fn the_longest_head_fits_and_comes_back_and_no_changed_bit_is_taken() {
        let head = longest();
        let mut bytes = head.encode().unwrap();
        assert_eq!(Head::decode(&bytes), Some(head));
        assert_eq!(head.bytes(), u32::MAX, "and nothing overflows");
        for bit in 0..8 * HEAD_BYTES {
            bytes[bit / 8] ^= 1 << (bit % 8);
            assert_eq!(Head::decode(&bytes), None);
            bytes[bit / 8] ^= 1 << (bit % 8);
        }
    }

    #[test]
    fn an_entry_is_a_row_of_its_own_kind_or_a_gap() {
        let row = Row::of_event(7, Event::DoorOpened);
        let mut bytes = [0xff; ENTRY_BYTES];
        bytes[1..1 + ROW_BYTES].copy_from_slice(&row.encode().unwrap());
        bytes[0] = 0x20 | ROW_BYTES as u8;
        assert_eq!(Entry::decode(&bytes), Some(Entry::Row(row)));
        for tag in [ROW_BYTES as u8, 0x40 | 16, 0x20 | 5, 0x60 | 14, 0xe1, 0xff] {
            bytes[0] = tag;
            assert_eq!(Entry::decode(&bytes), None);
        }
        bytes[0] = 0xe0;
        assert_eq!(Entry::decode(&bytes), Some(Entry::Gap));
    }
}
