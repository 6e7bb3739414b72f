//! The region of flash: headers and cells, each read back after it was programmed.
//!
//! No word is programmed twice between two erases, so flash that forbids that (error-correcting
//! words) serves as well.

use super::cell::{self, CELL_MAX, Found, HEAD};
use super::sector::{HEADER, Header, SECTOR, Sheet, Stream};
use super::{PAGE_ROWS, ROW_MAX, Region, SECTORS_MAX, SECTORS_MIN, StoreError};
use embedded_storage::nor_flash::NorFlash;

/// Bytes of a page with [`PAGE_ROWS`] rows on the flash with the widest writes.
const PAGE_MAX: usize = PAGE_ROWS * 32;

/// What the cells of a sheet come to.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Scan {
    /// The place after the last cell that is not blank.
    pub after: u16,
    /// The last cell that holds, and its tag.
    pub newest: Option<(u16, u8)>,
    /// A torn cell comes after that.
    pub torn: bool,
}

#[derive(Debug)]
pub(super) struct Medium<F> {
    flash: F,
    region: Region,
}

impl<F: NorFlash> Medium<F> {
    const GEOMETRY: () = {
        assert!(SECTOR.is_multiple_of(F::ERASE_SIZE), "a sector is whole erases");
        assert!(HEADER.is_multiple_of(F::WRITE_SIZE), "a header is whole writes, so 32 at most");
        assert!(4_usize.is_multiple_of(F::READ_SIZE), "four bytes are whole reads");
    };

    pub fn new(flash: F, region: Region) -> Result<Self, StoreError> {
        let () = Self::GEOMETRY;
        let end = u64::from(region.start) + u64::from(region.sectors) * SECTOR as u64;
        let fits = (region.start as usize).is_multiple_of(SECTOR)
            && (SECTORS_MIN..=SECTORS_MAX).contains(&region.sectors)
            && end <= flash.capacity() as u64;
        if fits { Ok(Self { flash, region }) } else { Err(StoreError::Region) }
    }

    pub fn sectors(&self) -> u16 {
        self.region.sectors
    }

    /// Bytes of one cell of a stream.
    pub const fn width(stream: Stream) -> usize {
        super::budget::cell_width(stream.payload(), F::WRITE_SIZE)
    }

    /// Cells of one sector of a stream.
    pub const fn cells(stream: Stream) -> u16 {
        super::budget::cells(stream, F::WRITE_SIZE) as u16
    }

    pub fn header(&mut self, sector: u16) -> Result<Option<Header>, StoreError> {
        let mut bytes = [0; HEADER];
        self.read(sector, 0, &mut bytes)?;
        Ok(Header::from_bytes(&bytes))
    }

    /// Programs an erased sector's header; `None` if it does not read back.
    pub fn begin(&mut self, sector: u16, header: Header) -> Result<Option<Sheet>, StoreError> {
        let kept = self.program(sector, 0, &header.to_bytes())?;
        Ok(kept.then_some(Sheet { sector, header }))
    }

    /// Programs one cell; false if it does not read back.
    pub fn put(
        &mut self,
        sheet: &Sheet,
        place: u16,
        tag: u8,
        parts: &[&[u8]],
    ) -> Result<bool, StoreError> {
        let mut buffer = [0; CELL_MAX];
        let Some(cell) = buffer.get_mut(..Self::width(sheet.header.stream)) else {
            return Err(StoreError::TooLong);
        };
        cell::seal(cell, sheet, place, tag, parts);
        self.program(sheet.sector, Self::at(sheet, place), cell)
    }

    /// Programs rows of one tag side by side, at most [`PAGE_ROWS`], in one operation; false if
    /// not all of them read back.
    pub fn put_page(
        &mut self,
        sheet: &Sheet,
        place: u16,
        tag: u8,
        rows: &[[u8; ROW_MAX]],
    ) -> Result<bool, StoreError> {
        let mut buffer = [0; PAGE_MAX];
        let width = Self::width(Stream::Rows);
        let Some(page) = buffer.get_mut(..rows.len() * width) else {
            return Err(StoreError::TooLong);
        };
        let cells = page.chunks_exact_mut(width).zip(rows);
        cells.zip(place..).for_each(|((cell, row), place)| {
            cell::seal(cell, sheet, place, tag, &[row]);
        });
        self.program(sheet.sector, Self::at(sheet, place), page)
    }

    /// What stands in a place; a good cell's payload is copied to `payload` as far as it goes.
    pub fn look(
        &mut self,
        sheet: &Sheet,
        place: u16,
        payload: &mut [u8],
    ) -> Result<Found, StoreError> {
        let mut buffer = [0; CELL_MAX];
        let Some(cell) = buffer.get_mut(..Self::width(sheet.header.stream)) else {
            return Err(StoreError::TooLong);
        };
        self.read(sheet.sector, Self::at(sheet, place), cell)?;
        let found = cell::look(cell, sheet, place);
        let bytes = cell.iter().skip(HEAD);
        payload.iter_mut().zip(bytes).for_each(|(to, from)| *to = *from);
        Ok(found)
    }

    /// Looks at every place of a sheet.
    pub fn scan(&mut self, sheet: &Sheet) -> Result<Scan, StoreError> {
        let mut scan = Scan::default();
        for place in 0..Self::cells(sheet.header.stream) {
            match self.look(sheet, place, &mut [])? {
                Found::Blank => continue,
                Found::Torn => scan.torn = true,
                Found::Good(tag) => {
                    scan.newest = Some((place, tag));
                    scan.torn = false;
                }
            }
            scan.after = place + 1;
        }
        Ok(scan)
    }

    pub fn is_blank(&mut self, sector: u16) -> Result<bool, StoreError> {
        let mut bytes = [0; 128];
        for at in (0..SECTOR).step_by(bytes.len()) {
            self.read(sector, at, &mut bytes)?;
            if bytes.iter().any(|byte| *byte != 0xFF) {
                return Ok(false);
            }
        }
        Ok(true)
    }

    /// Erases a sector; it reads blank afterwards.
    pub fn erase(&mut self, sector: u16) -> Result<(), StoreError> {
        let from = self.address(sector, 0);
        self.flash.erase(from, from + SECTOR as u32).map_err(|error| StoreError::flash(&error))?;
        if self.is_blank(sector)? { Ok(()) } else { Err(StoreError::NotErased) }
    }

    pub fn read(&mut self, sector: u16, at: usize, bytes: &mut [u8]) -> Result<(), StoreError> {
        let address = self.address(sector, at);
        self.flash.read(address, bytes).map_err(|error| StoreError::flash(&error))
    }

    /// Programs bytes and reads them back; false if they differ.
    pub fn program(&mut self, sector: u16, at: usize, bytes: &[u8]) -> Result<bool, StoreError> {
        let address = self.address(sector, at);
        self.flash.write(address, bytes).map_err(|error| StoreError::flash(&error))?;
        let mut back = [0; HEADER];
        for (chunk, at) in bytes.chunks(back.len()).zip((at..).step_by(HEADER)) {
            let Some(back) = back.get_mut(..chunk.len()) else { return Ok(false) };
            self.read(sector, at, back)?;
            if back != chunk {
                return Ok(false);
            }
        }
        Ok(true)
    }

    fn at(sheet: &Sheet, place: u16) -> usize {
        HEADER + usize::from(place) * Self::width(sheet.header.stream)
    }

    fn address(&self, sector: u16, at: usize) -> u32 {
        self.region.start + u32::from(sector) * SECTOR as u32 + at as u32
    }
}
