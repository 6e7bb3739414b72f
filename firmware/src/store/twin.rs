//! Two sectors of which the newest cell counts: the journal of erases, the latch, the settings.
//!
//! ```text
//!        half 0            half 1
//! [ 7 | c c c c c ]  [ 8 | c c . . . ]     serial, cells
//!                            ↑ counts
//! ```
//!
//! Cells are appended to the half with the higher serial. When it is full the *other* half is
//! erased and given the next serial; what counts stays where it is until a newer cell stands in the
//! other half. So a cut at any instant leaves the old or the new. A half whose erase was cut has no
//! header that holds, or an older one, and is erased again before it is used: this erase needs no
//! journal, which is why the journal itself can live here.
//!
//! A call erases at most one sector, and only [`Twin::roll`] erases.

use super::StoreError;
use super::medium::Medium;
use super::sector::{Header, Sheet, Stream};
use embedded_storage::nor_flash::NorFlash;

/// Places in which a write is tried before the flash is said not to keep it.
pub(super) const TRIES: usize = 3;

#[derive(Debug)]
pub(super) struct Twin {
    stream: Stream,
    first: u16,
    /// The half that is written.
    sheet: Option<Sheet>,
    /// The highest serial so far.
    serial: u32,
    /// Where in it the next cell goes.
    next: u16,
    newest: Option<Newest>,
    torn: bool,
}

#[derive(Clone, Copy, Debug)]
struct Newest {
    sheet: Sheet,
    place: u16,
    tag: u8,
}

impl Twin {
    /// Finds out what counts. Reads both sectors at most, writes nothing.
    pub fn open<F: NorFlash>(
        medium: &mut Medium<F>,
        stream: Stream,
        first: u16,
    ) -> Result<Self, StoreError> {
        let mut twin =
            Self { stream, first, sheet: None, serial: 0, next: 0, newest: None, torn: false };
        let mut halves = [twin.half(medium, first)?, twin.half(medium, first + 1)?];
        if halves[1].map(|half| half.header.id) > halves[0].map(|half| half.header.id) {
            halves.swap(0, 1);
        }
        twin.sheet = halves[0];
        twin.serial = halves[0].map_or(0, |half| half.header.id);
        for sheet in halves.into_iter().flatten() {
            let scan = medium.scan(&sheet)?;
            if twin.sheet == Some(sheet) {
                // The next place may have been under the pen when the supply went: it may read
                // blank and not take a cell.
                twin.next = scan.after + 1;
            }
            twin.torn |= scan.torn;
            if let Some((place, tag)) = scan.newest {
                twin.newest = Some(Newest { sheet, place, tag });
                break;
            }
        }
        Ok(twin)
    }

    fn half<F: NorFlash>(
        &self,
        medium: &mut Medium<F>,
        sector: u16,
    ) -> Result<Option<Sheet>, StoreError> {
        let header = medium.header(sector)?.filter(|header| header.stream == self.stream);
        Ok(header.map(|header| Sheet { sector, header }))
    }

    /// Tag of the cell that counts.
    pub fn tag(&self) -> Option<u8> {
        self.newest.map(|newest| newest.tag)
    }

    /// A cell was torn after the one that counts.
    pub fn is_torn(&self) -> bool {
        self.torn
    }

    /// Copies the payload of the cell that counts.
    pub fn read<F: NorFlash>(
        &self,
        medium: &mut Medium<F>,
        payload: &mut [u8],
    ) -> Result<(), StoreError> {
        if let Some(newest) = self.newest {
            medium.look(&newest.sheet, newest.place, payload)?;
        }
        Ok(())
    }

    /// Cells that can be appended before the next [`Twin::roll`].
    pub fn room<F: NorFlash>(&self) -> u16 {
        match self.sheet {
            Some(_) => Medium::<F>::cells(self.stream).saturating_sub(self.next),
            None => 0,
        }
    }

    /// Erases the half that does not hold what counts, and goes on there. One erase.
    pub fn roll<F: NorFlash>(&mut self, medium: &mut Medium<F>) -> Result<(), StoreError> {
        let holds = self.newest.map(|newest| newest.sheet.sector);
        let sector = if holds == Some(self.first) { self.first + 1 } else { self.first };
        self.serial = self.serial.saturating_add(1);
        self.sheet = None;
        medium.erase(sector)?;
        let header = Header::new(self.stream, self.serial, 0);
        let sheet = medium.begin(sector, header)?.ok_or(StoreError::NotKept)?;
        self.sheet = Some(sheet);
        self.next = 0;
        Ok(())
    }

    /// Appends a cell, which then counts. Erases nothing.
    pub fn append<F: NorFlash>(
        &mut self,
        medium: &mut Medium<F>,
        tag: u8,
        parts: &[&[u8]],
    ) -> Result<(), StoreError> {
        for _ in 0..TRIES {
            let Some(sheet) = self.sheet.filter(|_| self.room::<F>() > 0) else {
                return Err(StoreError::NoRoom);
            };
            let place = self.next;
            self.next += 1;
            if medium.put(&sheet, place, tag, parts)? {
                self.newest = Some(Newest { sheet, place, tag });
                self.torn = false;
                return Ok(());
            }
            self.torn = true;
        }
        Err(StoreError::NotKept)
    }
}
