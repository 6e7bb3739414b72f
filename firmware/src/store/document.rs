//! Documents: what a bake is made from, as one run of bytes, there whole or not at all.
//!
//! The bytes come in pieces and in order; [`Store::document_commit`] reads them back, and only if
//! they are the ones meant writes the document's first sector, which makes it count. The one before
//! stays current till then, and is kept as long as a bake refers to it.

use super::budget::Budget;
use super::cell::DIGEST;
use super::pool::Located;
use super::sector::{HEADER, Header, SECTOR, Sheet, Stream};
use super::{DOCUMENT_MAX, Store, StoreError};
use embedded_storage::nor_flash::NorFlash;

/// Bytes that are programmed at once: a whole number of writes on any flash.
const GRANULE: usize = HEADER;
/// Bytes of a document in one sector.
const BODY: usize = SECTOR - HEADER;
const _: () = assert!(BODY.is_multiple_of(GRANULE));

/// A document that is whole.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Document {
    /// Its number, from 1.
    pub id: u32,
    /// Its bytes.
    pub length: u32,
    /// CRC-32/ISO-HDLC over them.
    pub digest: u32,
}

/// A document on its way.
#[derive(Clone, Copy, Debug)]
pub(super) struct Upload {
    pub id: u32,
    length: u32,
    /// Bytes taken so far.
    taken: u32,
    /// The last ones, not yet programmed.
    granule: [u8; GRANULE],
    sheet: Option<Sheet>,
}

impl<F: NorFlash> Store<F> {
    /// The current document: the last one that was committed.
    #[must_use]
    pub fn document(&self) -> Option<Document> {
        self.document
    }

    /// Begins to take a document; one that was on its way is given up.
    ///
    /// # Errors
    /// An open bake, more than [`DOCUMENT_MAX`] bytes, no room made for it.
    pub fn document_begin(&mut self, length: u32) -> Result<(), StoreError> {
        self.nothing_open()?;
        self.upload = None;
        if length > DOCUMENT_MAX {
            return Err(StoreError::TooLong);
        }
        if self.pool.ready() < Budget::sectors_for_document(length) {
            return Err(StoreError::NoRoom);
        }
        self.last_document = self.last_document.saturating_add(1);
        let granule = [0xFF; GRANULE];
        self.upload =
            Some(Upload { id: self.last_document, length, taken: 0, granule, sheet: None });
        Ok(())
    }

    /// Takes a piece. One that was taken before, sent again, changes nothing.
    ///
    /// # Errors
    /// An open bake, nothing begun ([`StoreError::Unknown`]), a piece that does not follow, more
    /// bytes than were told, a flash that refuses or does not keep them (then begin again).
    pub fn document_piece(&mut self, offset: u32, bytes: &[u8]) -> Result<(), StoreError> {
        self.nothing_open()?;
        let mut upload = self.upload.ok_or(StoreError::Unknown)?;
        let end = u64::from(offset) + bytes.len() as u64;
        if end <= u64::from(upload.taken) {
            return Ok(());
        }
        if offset != upload.taken {
            return Err(StoreError::OutOfOrder { expected: upload.taken });
        }
        if end > u64::from(upload.length) {
            return Err(StoreError::TooLong);
        }
        for byte in bytes {
            let at = upload.taken as usize % GRANULE;
            if let Some(place) = upload.granule.get_mut(at) {
                *place = *byte;
            }
            upload.taken += 1;
            if at + 1 == GRANULE {
                self.program_granule(&mut upload)?;
            }
        }
        self.upload = Some(upload);
        Ok(())
    }

    /// Commits the document, if it arrived whole; says its number.
    ///
    /// # Errors
    /// An open bake, nothing begun, a digest or length that differs (then begin again), a flash
    /// that refuses or does not keep it.
    pub fn document_commit(&mut self, digest: u32) -> Result<u32, StoreError> {
        self.nothing_open()?;
        let mut upload = self.upload.take().ok_or(StoreError::Unknown)?;
        if !(upload.taken as usize).is_multiple_of(GRANULE) {
            self.program_granule(&mut upload)?;
        }
        let whole = upload.taken == upload.length
            && self.digest_of(upload.id, upload.length)? == Some(digest);
        if !whole {
            return Err(StoreError::DigestWrong);
        }
        let Upload { id, length, .. } = upload;
        let header = Header { a: length, b: digest, ..Header::new(Stream::Document, id, 0) };
        self.pool.allocate(header, 0)?;
        self.document = Some(Document { id, length, digest });
        Ok(id)
    }

    /// Reads a document that is current, or that a kept bake was made from; says how many bytes, 0
    /// at its end.
    ///
    /// # Errors
    /// An unknown document, a flash that refuses.
    pub fn document_read(
        &mut self,
        id: u32,
        offset: u32,
        out: &mut [u8],
    ) -> Result<usize, StoreError> {
        let length = self.find_document(id)?.length;
        self.read_body(id, length, offset, out)
    }

    /// The document, read back now, still has its digest.
    ///
    /// # Errors
    /// An unknown document, a flash that refuses.
    pub fn document_holds(&mut self, id: u32) -> Result<bool, StoreError> {
        let Document { length, digest, .. } = self.find_document(id)?;
        Ok(self.digest_of(id, length)? == Some(digest))
    }

    /// A document by its number.
    ///
    /// # Errors
    /// An unknown document, a flash that refuses.
    pub fn find_document(&mut self, id: u32) -> Result<Document, StoreError> {
        let commit = self.pool.locate(Stream::Document, id, 0)?.here();
        let header = commit.ok_or(StoreError::Unknown)?.header;
        Ok(Document { id, length: header.a, digest: header.b })
    }

    /// A document's sector found at boot.
    pub(super) fn found_document(&mut self, header: &Header) {
        self.last_document = self.last_document.max(header.id);
        let is_newer = self.document.is_none_or(|document| document.id < header.id);
        if header.index == 0 && is_newer {
            self.document = Some(Document { id: header.id, length: header.a, digest: header.b });
        }
    }

    /// Programs the granule that ends at what was taken.
    fn program_granule(&mut self, upload: &mut Upload) -> Result<(), StoreError> {
        let start = upload.taken.saturating_sub(1) as usize / GRANULE * GRANULE;
        let (index, at) = (start / BODY + 1, HEADER + start % BODY);
        let sheet = match upload.sheet {
            Some(sheet) if usize::from(sheet.header.index) == index => sheet,
            _ => {
                let header = Header::new(Stream::Document, upload.id, index as u16);
                self.pool.allocate(header, 0)?
            }
        };
        upload.sheet = Some(sheet);
        let granule = core::mem::replace(&mut upload.granule, [0xFF; GRANULE]);
        if self.pool.medium.program(sheet.sector, at, &granule)? {
            Ok(())
        } else {
            self.upload = None;
            Err(StoreError::NotKept)
        }
    }

    fn read_body(
        &mut self,
        id: u32,
        length: u32,
        offset: u32,
        out: &mut [u8],
    ) -> Result<usize, StoreError> {
        let left = length.saturating_sub(offset) as usize;
        let (mut at, mut given) = (offset as usize, 0);
        let end = left.min(out.len());
        while let Some(rest) = out.get_mut(given..end).filter(|rest| !rest.is_empty()) {
            let located = self.pool.locate(Stream::Document, id, (at / BODY + 1) as u16)?;
            let Located::Here(sheet) = located else { break };
            let mut granule = [0; GRANULE];
            let start = HEADER + at % BODY / GRANULE * GRANULE;
            self.pool.medium.read(sheet.sector, start, &mut granule)?;
            let piece = granule.iter().skip(at % GRANULE);
            let copied = rest.iter_mut().zip(piece).map(|(to, from)| *to = *from).count();
            given += copied;
            at += copied;
        }
        Ok(given)
    }

    /// The digest of what is there; `None` if it is not all there.
    fn digest_of(&mut self, id: u32, length: u32) -> Result<Option<u32>, StoreError> {
        let mut digest = DIGEST.digest();
        let mut bytes = [0; 4 * GRANULE];
        let mut at = 0;
        while at < length {
            let read = self.read_body(id, length, at, &mut bytes)?;
            if read == 0 {
                return Ok(None);
            }
            digest.update(bytes.get(..read).unwrap_or_default());
            at += read as u32;
        }
        Ok(Some(digest.finalize()))
    }
}
