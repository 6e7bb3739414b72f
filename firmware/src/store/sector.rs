//! What a sector is for: the 32 bytes at its front.
//!
//! The header is programmed after the sector's erase has run to its end, so a header that holds
//! vouches for the whole sector: no cell after it is the rest of a former life.

use super::cell::DIGEST;

/// Bytes of a sector; what the flash erases at once.
pub(super) const SECTOR: usize = 4096;
/// Bytes of the header; everything after it is cells or a document's bytes.
pub(super) const HEADER: usize = 32;
/// Version of everything on the flash. Another one's sectors are not recognised.
const FORMAT: u8 = 1;
/// Bytes of the header under its digest.
const DIGESTED: usize = HEADER - 4;

/// What a sector keeps.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[repr(u8)]
pub(super) enum Stream {
    /// Erases begun and done.
    Journal = 1,
    /// Trips latched and acknowledged.
    Latch = 2,
    /// Settings.
    Settings = 3,
    /// A bake's beginning, end and fetched mark.
    Title = 4,
    /// A bake's checkpoints.
    Checkpoints = 5,
    /// A bake's rows, events and black box.
    Rows = 6,
    /// A document's bytes; its first sector is the commit.
    Document = 7,
}

impl Stream {
    const ALL: [Self; 7] = [
        Self::Journal,
        Self::Latch,
        Self::Settings,
        Self::Title,
        Self::Checkpoints,
        Self::Rows,
        Self::Document,
    ];

    /// Bytes a cell of it carries.
    pub const fn payload(self) -> usize {
        match self {
            Self::Journal => 8,
            Self::Latch | Self::Rows => super::ROW_MAX,
            Self::Settings => 2 + super::SETTINGS_MAX,
            Self::Title | Self::Checkpoints => 4 + super::CHECKPOINT_MAX,
            Self::Document => 0,
        }
    }
}

/// A sector's header.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Header {
    pub stream: Stream,
    /// Which sector of its stream, from 0.
    pub index: u16,
    /// The bake's or document's number; the serial number of a twin's half.
    pub id: u32,
    /// Title: when it started. Commit: the document's length.
    pub a: u32,
    /// Title: its document. Commit: the document's digest.
    pub b: u32,
}

impl Header {
    pub const fn new(stream: Stream, id: u32, index: u16) -> Self {
        Self { stream, index, id, a: 0, b: 0 }
    }

    pub fn to_bytes(self) -> [u8; HEADER] {
        let mut bytes = [0xFF; HEADER];
        let [i0, i1] = self.index.to_le_bytes();
        bytes[..4].copy_from_slice(&[self.stream as u8, FORMAT, i0, i1]);
        bytes[4..8].copy_from_slice(&self.id.to_le_bytes());
        bytes[8..12].copy_from_slice(&self.a.to_le_bytes());
        bytes[12..16].copy_from_slice(&self.b.to_le_bytes());
        let digest = DIGEST.checksum(&bytes[..DIGESTED]);
        bytes[DIGESTED..].copy_from_slice(&digest.to_le_bytes());
        bytes
    }

    /// The header, if these bytes are one.
    pub fn from_bytes(bytes: &[u8; HEADER]) -> Option<Self> {
        let word = |at: usize| {
            let mut word = [0; 4];
            word.copy_from_slice(&bytes[at..at + 4]);
            u32::from_le_bytes(word)
        };
        let stream = Stream::ALL.into_iter().find(|stream| *stream as u8 == bytes[0])?;
        if bytes[1] != FORMAT || word(DIGESTED) != DIGEST.checksum(&bytes[..DIGESTED]) {
            return None;
        }
        let index = u16::from_le_bytes([bytes[2], bytes[3]]);
        Some(Self { stream, index, id: word(4), a: word(8), b: word(12) })
    }
}

/// A sector in use.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Sheet {
    /// Sector of the region.
    pub sector: u16,
    pub header: Header,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_header_reads_back_and_no_single_bit_of_it_may_change() {
        let header = Header { stream: Stream::Title, index: 513, id: 70_000, a: 5, b: u32::MAX };
        let bytes = header.to_bytes();
        assert_eq!(Header::from_bytes(&bytes), Some(header));
        for bit in 0..HEADER * 8 {
            let mut other = bytes;
            other[bit / 8] ^= 1 << (bit % 8);
            assert_eq!(Header::from_bytes(&other), None, "bit {bit}");
        }
        assert_eq!(Header::from_bytes(&[0xFF; HEADER]), None);
        assert_eq!(Header::from_bytes(&[0; HEADER]), None);
    }
}
