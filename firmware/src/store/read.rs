//! Reading a bake back, from any byte on.
//!
//! A bake reads as entries of [`ENTRY`] bytes, one for every cell in the order they were written: a
//! tag (the kind in the upper three bits: 0 row, 1 event, 2 black box, 7 gap; the length in the
//! lower five) and sixteen bytes, 0xFF after the length. So any offset is found at once, and a
//! transfer resumes where it stopped.
//!
//! A *gap* is a cell that was torn when the supply went, or the one place left free after it; what
//! stood before and after it holds.

use super::bake::{BLACK_BOX, EVENT, ROW};
use super::cell::Found;
use super::medium::Medium;
use super::pool::Located;
use super::sector::{Sheet, Stream};
use super::{ROW_MAX, Store, StoreError};
use embedded_storage::nor_flash::NorFlash;

/// Bytes of an entry.
pub const ENTRY: usize = 1 + ROW_MAX;
/// Tag of a gap.
const GAP: u8 = 0xE0;

/// One entry of a bake.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Entry<'a> {
    /// A row.
    Row(&'a [u8]),
    /// An event.
    Event(&'a [u8]),
    /// A row of the black box.
    BlackBox(&'a [u8]),
    /// Something was torn here.
    Gap,
}

impl<'a> Entry<'a> {
    /// The entry these bytes are; `None` if they are none.
    #[must_use]
    pub fn from_bytes(bytes: &'a [u8; ENTRY]) -> Option<Self> {
        let [tag, payload @ ..] = bytes;
        let payload = payload.get(..usize::from(tag & 0x1F))?;
        match tag & 0xE0 {
            ROW => Some(Self::Row(payload)),
            EVENT => Some(Self::Event(payload)),
            BLACK_BOX => Some(Self::BlackBox(payload)),
            GAP if payload.is_empty() => Some(Self::Gap),
            _ => None,
        }
    }
}

impl<F: NorFlash> Store<F> {
    /// Copies a bake's entries from byte `offset` on, and says how many bytes; 0 at their end. The
    /// open bake reads up to what was written so far.
    ///
    /// # Errors
    /// An unknown bake, a flash that refuses.
    pub fn read(&mut self, bake: u32, offset: u32, out: &mut [u8]) -> Result<usize, StoreError> {
        self.kept(bake)?;
        let mut at = offset as usize;
        let mut given = 0;
        while let Some(rest) = out.get_mut(given..).filter(|rest| !rest.is_empty()) {
            let Some(entry) = self.entry(bake, at / ENTRY)? else { break };
            let piece = entry.iter().skip(at % ENTRY);
            let copied = rest.iter_mut().zip(piece).map(|(to, from)| *to = *from).count();
            given += copied;
            at += copied;
        }
        Ok(given)
    }

    /// One entry; `None` past the last.
    fn entry(&mut self, bake: u32, ordinal: usize) -> Result<Option<[u8; ENTRY]>, StoreError> {
        let cells = usize::from(Medium::<F>::cells(Stream::Rows));
        let Ok(index) = u16::try_from(ordinal / cells) else { return Ok(None) };
        let place = (ordinal % cells) as u16;
        let mut entry = [0xFF; ENTRY];
        let (tag, payload) = entry.split_at_mut(1);
        tag.fill(GAP);
        let sheet = match self.pool.locate(Stream::Rows, bake, index)? {
            Located::Past => return Ok(None),
            Located::Missing => return Ok(Some(entry)),
            Located::Here(sheet) => sheet,
        };
        match self.pool.medium.look(&sheet, place, payload)? {
            Found::Good(good) => tag.fill(good),
            Found::Torn => payload.fill(0xFF),
            Found::Blank if self.is_end(&sheet, place)? => return Ok(None),
            Found::Blank => {}
        }
        Ok(Some(entry))
    }

    /// From this blank place on there is nothing.
    fn is_end(&mut self, sheet: &Sheet, place: u16) -> Result<bool, StoreError> {
        if self.pool.medium.scan(sheet)?.after > place {
            return Ok(false);
        }
        let later = sheet.header.index.saturating_add(1);
        Ok(self.pool.locate(Stream::Rows, sheet.header.id, later)? == Located::Past)
    }
}
