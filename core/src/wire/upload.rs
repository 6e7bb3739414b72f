//! A document on its way to the board: announced, sent in pieces, checked as a whole.
//!
//! A document is the bake, oven and load files as written, whose parts they are, a note, and the
//! compiled bake, one behind the other in this order. The bytes themselves go to the store; here is
//! kept how far they have come and their digest. A piece that came already is taken again and
//! nothing is done about it, for a reply may have been lost; one that leaves a gap is refused.

use crc::{CRC_32_ISO_HDLC, Crc, Digest, NoTable};
use serde::{Deserialize, Serialize};

use super::compiled::COMPILED_BYTES_MAX;
use super::messages::Piece;

/// Most bytes of all texts of a document together.
pub const TEXTS_BYTES_MAX: u32 = 16 * 1024;

/// CRC-32/ISO-HDLC of the catalogue of parametrised CRC algorithms, as in a log's last line. It
/// finds slips, not forgery. No table: it comes in pieces, and room is what a board has least of.
pub static DIGEST: Crc<u32, NoTable> = Crc::<u32, NoTable>::new(&CRC_32_ISO_HDLC);

/// What a document is made of.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct Outline {
    /// Bytes of the bake file.
    pub bake_bytes: u16,
    /// Bytes of the oven file.
    pub oven_bytes: u16,
    /// Bytes of the load file.
    pub load_bytes: u16,
    /// Bytes that say whose parts they are.
    pub job_bytes: u16,
    /// Bytes of a person's remark.
    pub note_bytes: u16,
    /// Bytes of the compiled bake.
    pub compiled_bytes: u16,
    /// [`DIGEST`] over all of them.
    pub digest: u32,
}

/// Why a document is not taken.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum UploadFault {
    /// Texts of more than [`TEXTS_BYTES_MAX`] together, or more than a compiled bake ever takes.
    TooLarge,
    /// No bake, or nothing compiled.
    Empty,
    /// Nothing was announced.
    NotBegun,
    /// Bytes before these have not come.
    Gap,
    /// More bytes than were announced.
    PastTheEnd,
    /// Bytes are missing.
    Incomplete,
    /// The digest is not that of the bytes that came.
    Digest,
}

impl core::fmt::Display for UploadFault {
    fn fmt(&self, formatter: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        formatter.write_str(match self {
            Self::TooLarge => "bake, oven and load take more than 16 KiB: shorten their comments",
            Self::Empty => "there is no bake in what was announced",
            Self::NotBegun => "no document was announced",
            Self::Gap => "bytes in between are missing",
            Self::PastTheEnd => "more bytes came than were announced",
            Self::Incomplete => "not every byte has come",
            Self::Digest => "the bytes that came are not those that were announced",
        })
    }
}

impl core::error::Error for UploadFault {}

impl Outline {
    /// Bytes of all texts together.
    #[must_use]
    pub fn text_bytes(&self) -> u32 {
        let texts =
            [self.bake_bytes, self.oven_bytes, self.load_bytes, self.job_bytes, self.note_bytes];
        texts.into_iter().map(u32::from).sum()
    }

    /// Bytes of the whole document.
    #[must_use]
    pub fn bytes(&self) -> u32 {
        self.text_bytes() + u32::from(self.compiled_bytes)
    }

    /// Where the compiled bake begins.
    #[must_use]
    pub fn compiled_offset(&self) -> u32 {
        self.text_bytes()
    }

    /// Why no document is like this.
    #[must_use]
    pub fn fault(&self) -> Option<UploadFault> {
        let too_large = self.text_bytes() > TEXTS_BYTES_MAX
            || usize::from(self.compiled_bytes) > COMPILED_BYTES_MAX;
        let empty = self.bake_bytes == 0 || self.compiled_bytes == 0;
        if too_large { Some(UploadFault::TooLarge) } else { empty.then_some(UploadFault::Empty) }
    }
}

/// How far a document has come.
#[derive(Clone)]
pub struct Upload {
    outline: Outline,
    received: u32,
    digest: Digest<'static, u32, NoTable>,
}

impl core::fmt::Debug for Upload {
    fn fmt(&self, formatter: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        formatter
            .debug_struct("Upload")
            .field("outline", &self.outline)
            .field("received", &self.received)
            .finish_non_exhaustive()
    }
}

impl Upload {
    /// A document is announced.
    ///
    /// # Errors
    /// One that no board has room for, or without a bake.
    pub fn begin(outline: Outline) -> Result<Self, UploadFault> {
        match outline.fault() {
            Some(fault) => Err(fault),
            None => Ok(Self { outline, received: 0, digest: DIGEST.digest() }),
        }
    }

    /// A piece has come. Gives what of it is new, to be stored where [`Upload::received`] stood.
    ///
    /// # Errors
    /// A gap before it, or bytes past the end; nothing of it is taken then.
    pub fn piece<'a>(&mut self, piece: &Piece<'a>) -> Result<&'a [u8], UploadFault> {
        let len = u32::try_from(piece.bytes.len()).map_err(|_| UploadFault::PastTheEnd)?;
        let end = piece.offset.checked_add(len).ok_or(UploadFault::PastTheEnd)?;
        if end > self.outline.bytes() {
            return Err(UploadFault::PastTheEnd);
        }
        let known = self.received.checked_sub(piece.offset).ok_or(UploadFault::Gap)?;
        let fresh = usize::try_from(known).ok().and_then(|known| piece.bytes.get(known..));
        let fresh = fresh.unwrap_or(&[]);
        self.digest.update(fresh);
        self.received = self.received.max(end);
        Ok(fresh)
    }

    /// What was announced.
    #[must_use]
    pub fn outline(&self) -> &Outline {
        &self.outline
    }

    /// Bytes that have come so far.
    #[must_use]
    pub fn received(&self) -> u32 {
        self.received
    }

    /// What was announced, once every byte has come as it was sent.
    ///
    /// # Errors
    /// Missing bytes, or others than announced.
    pub fn finish(&self) -> Result<Outline, UploadFault> {
        if self.received < self.outline.bytes() {
            Err(UploadFault::Incomplete)
        } else if self.digest.clone().finalize() != self.outline.digest {
            Err(UploadFault::Digest)
        } else {
            Ok(self.outline)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const DOCUMENT: &[u8; 9] = b"123456789";

    fn outline() -> Outline {
        // The check value of CRC-32/ISO-HDLC in the catalogue of parametrised CRC algorithms.
        Outline { bake_bytes: 4, compiled_bytes: 5, digest: 0xcbf4_3926, ..Outline::default() }
    }

    fn piece(from: usize, to: usize) -> Piece<'static> {
        Piece { offset: from as u32, bytes: &DOCUMENT[from..to] }
    }

    #[test]
    fn a_document_comes_in_pieces_some_of_them_twice() {
        let mut upload = Upload::begin(outline()).unwrap();
        for (from, to, fresh) in [(0, 3, 3), (0, 3, 0), (2, 6, 3), (6, 9, 3), (4, 9, 0)] {
            assert_eq!(upload.piece(&piece(from, to)).map(<[u8]>::len), Ok(fresh));
        }
        assert_eq!(upload.finish(), Ok(outline()));
        assert_eq!(outline().compiled_offset(), 4);
    }

    #[test]
    fn gaps_excess_and_lack_are_refused_and_change_nothing() {
        let mut upload = Upload::begin(outline()).unwrap();
        assert_eq!(upload.piece(&piece(1, 3)), Err(UploadFault::Gap));
        let long = Piece { offset: 0, bytes: b"1234567890" };
        assert_eq!(upload.piece(&long), Err(UploadFault::PastTheEnd));
        let far = Piece { offset: u32::MAX, bytes: b"1" };
        assert_eq!(upload.piece(&far), Err(UploadFault::PastTheEnd));
        let _ = upload.piece(&piece(0, 8));
        assert_eq!(upload.finish(), Err(UploadFault::Incomplete));
        let _ = upload.piece(&piece(8, 9));
        assert_eq!(upload.finish(), Ok(outline()));
    }

    #[test]
    fn one_wrong_byte_is_found_by_the_digest() {
        for at in 0..DOCUMENT.len() {
            let mut wrong = *DOCUMENT;
            wrong[at] ^= 0x20;
            let mut upload = Upload::begin(outline()).unwrap();
            let _ = upload.piece(&Piece { offset: 0, bytes: &wrong });
            assert_eq!(upload.finish(), Err(UploadFault::Digest));
        }
    }

    #[test]
    fn what_no_board_has_room_for_is_refused_at_once() {
        let refused = |outline: Outline| Upload::begin(outline).err();
        let full = Outline { bake_bytes: 16_384, ..outline() };
        assert_eq!(refused(full), None);
        assert_eq!(refused(Outline { note_bytes: 1, ..full }), Some(UploadFault::TooLarge));
        let most = u16::MAX;
        assert_eq!(refused(Outline { load_bytes: most, ..full }), Some(UploadFault::TooLarge));
        assert_eq!(refused(Outline { compiled_bytes: most, ..full }), Some(UploadFault::TooLarge));
        assert_eq!(refused(Outline { bake_bytes: 0, ..outline() }), Some(UploadFault::Empty));
        assert_eq!(refused(Outline { compiled_bytes: 0, ..outline() }), Some(UploadFault::Empty));
    }
}
