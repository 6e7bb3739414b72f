//! The growing end of a stream of cells: appends to erased sectors, erases nothing.

use super::ROW_MAX;
use super::StoreError;
use super::cell::Found;
use super::medium::Medium;
use super::pool::Pool;
use super::sector::{Header, Sheet, Stream};
use super::twin::TRIES;
use super::{PAGE_ROWS, StoreError::NotKept};
use embedded_storage::nor_flash::NorFlash;

#[derive(Clone, Copy, Debug)]
pub(super) struct Tail {
    stream: Stream,
    id: u32,
    sheet: Option<Sheet>,
    /// Sectors so far.
    index: u16,
    /// Where in the sheet the next cell goes.
    next: u16,
}

impl Tail {
    /// A stream that has nothing yet.
    pub fn new(stream: Stream, id: u32) -> Self {
        Self { stream, id, sheet: None, index: 0, next: 0 }
    }

    /// Goes on after a lost supply, one place later: the next one may have been under the pen.
    pub fn resume<F: NorFlash>(
        pool: &mut Pool<F>,
        stream: Stream,
        id: u32,
    ) -> Result<Self, StoreError> {
        let mut tail = Self::new(stream, id);
        if let Some(sheet) = pool.last(stream, id)? {
            tail.sheet = Some(sheet);
            tail.index = sheet.header.index.saturating_add(1);
            tail.next = pool.medium.scan(&sheet)?.after + 1;
        }
        Ok(tail)
    }

    /// Appends one cell. A new sector is taken only if more than `keep` are ready.
    pub fn append<F: NorFlash>(
        &mut self,
        pool: &mut Pool<F>,
        keep: u32,
        tag: u8,
        parts: &[&[u8]],
    ) -> Result<(), StoreError> {
        for _ in 0..TRIES {
            let sheet = self.sheet(pool, keep)?;
            let place = self.next;
            self.next += 1;
            if pool.medium.put(&sheet, place, tag, parts)? {
                return Ok(());
            }
        }
        Err(NotKept)
    }

    /// Appends rows side by side in one operation, as many as fit into a page and the sector, and
    /// says how many. One that did not keep is written again on its own.
    pub fn append_page<F: NorFlash>(
        &mut self,
        pool: &mut Pool<F>,
        tag: u8,
        rows: &[[u8; ROW_MAX]],
    ) -> Result<usize, StoreError> {
        let sheet = self.sheet(pool, 0)?;
        let room = usize::from(Medium::<F>::cells(self.stream).saturating_sub(self.next));
        let rows = rows.get(..rows.len().min(room).min(PAGE_ROWS)).unwrap_or_default();
        let first = self.next;
        self.next += rows.len() as u16;
        if !pool.medium.put_page(&sheet, first, tag, rows)? {
            for (place, row) in (first..).zip(rows) {
                if pool.medium.look(&sheet, place, &mut [])? != Found::Good(tag) {
                    self.append(pool, 0, tag, &[row])?;
                }
            }
        }
        Ok(rows.len())
    }

    fn sheet<F: NorFlash>(&mut self, pool: &mut Pool<F>, keep: u32) -> Result<Sheet, StoreError> {
        match self.sheet {
            Some(sheet) if self.next < Medium::<F>::cells(self.stream) => Ok(sheet),
            _ => {
                let header = Header::new(self.stream, self.id, self.index);
                let sheet = pool.allocate(header, keep)?;
                self.sheet = Some(sheet);
                self.index = self.index.saturating_add(1);
                self.next = 0;
                Ok(sheet)
            }
        }
    }
}
