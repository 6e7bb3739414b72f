//! What fits and how long the flash lasts, in whole numbers.
//!
//! One source for both: [`Store::make_room`](super::Store::make_room) erases what
//! [`Budget::sectors_for_bake`] says, and the tests hold the figures of DEVELOPERS.md against it.
//!
//! A row a second takes a cell of 20 bytes, a checkpoint every 10 s one of 104 (on flash that
//! writes 4 bytes at once): 203 rows or 39 checkpoints a sector. Checkpoints go back to the pool
//! when the bake has ended, rows when it was fetched.
//!
//! On the board, 384 sectors: a bake of 20.4 h is kept, or seven that come to 18.4 h; the longest
//! that may begin is 13.3 h; beside 8 h that nobody fetched, 7 h 45 min.
//!
//! Wear: a sector is erased once for every time it is used, and they are used in turn. The erase
//! cycles a sector stands are [`ERASE_CYCLES`]: 385,000 bakes of 3 h, 162,000 of 8 h.

use super::cell::HEAD;
use super::sector::{HEADER, SECTOR, Stream};
use super::{BLACK_BOX_ROWS, DOCUMENT_MAX, FIRST_POOL};
use truesoak_core::record::CHECKPOINT_S;

/// Erases a sector stands: the data sheets of common serial NOR flash give at least this
/// (W25Q16JV, `from memory`).
pub const ERASE_CYCLES: u32 = 100_000;
/// Events a bake has room for, beside a row for every second.
pub const EVENTS_MAX: u32 = 400;
/// Sectors above what a bake needs: one can go to every lost supply, and to cells that did not
/// keep.
pub(super) const SPARE: u32 = 4;

/// Bytes a cell of that payload takes on flash that writes so many at once.
pub(super) const fn cell_width(payload: usize, write_size: usize) -> usize {
    let unit = if write_size > 4 { write_size } else { 4 };
    (HEAD + payload).next_multiple_of(unit)
}

/// Cells of one sector of a stream, on such flash.
pub(super) const fn cells(stream: Stream, write_size: usize) -> u32 {
    ((SECTOR - HEADER) / cell_width(stream.payload(), write_size)) as u32
}

/// Sectors for so many cells; `u32::MAX` where a sector has none.
const fn sectors(cells: u32, per_sector: u32) -> u32 {
    if per_sector == 0 { u32::MAX } else { cells.div_ceil(per_sector) }
}

/// What a region of that many sectors comes to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Budget {
    /// Sectors that bakes and documents share.
    pub pool_sectors: u32,
    /// Rows, events or black-box rows of one sector.
    pub rows_per_sector: u32,
    /// Checkpoints of one sector.
    pub checkpoints_per_sector: u32,
}

impl Budget {
    /// The budget of `sectors` of 4096 bytes on flash that writes `write_size` bytes at once.
    #[must_use]
    pub const fn of(sectors: u16, write_size: usize) -> Self {
        Self {
            pool_sectors: sectors.saturating_sub(FIRST_POOL) as u32,
            rows_per_sector: cells(Stream::Rows, write_size),
            checkpoints_per_sector: cells(Stream::Checkpoints, write_size),
        }
    }

    /// Sectors that stay with a bake of `seconds` until it was fetched.
    #[must_use]
    pub const fn sectors_kept(&self, seconds: u32) -> u32 {
        1 + sectors(seconds.saturating_add(EVENTS_MAX + BLACK_BOX_ROWS), self.rows_per_sector)
    }

    /// Sectors erased before a bake of at most `longest_s` begins.
    #[must_use]
    pub const fn sectors_for_bake(&self, longest_s: u32) -> u32 {
        let checkpoints = longest_s / CHECKPOINT_S + 1;
        self.sectors_kept(longest_s) + sectors(checkpoints, self.checkpoints_per_sector) + SPARE
    }

    /// Sectors of a document of so many bytes.
    #[must_use]
    pub const fn sectors_for_document(length: u32) -> u32 {
        1 + length.div_ceil((SECTOR - HEADER) as u32)
    }

    /// The longest bake that fits beside one document of the greatest length, s.
    #[must_use]
    pub const fn longest_bake_s(&self) -> u32 {
        self.longest_bake_in(
            self.pool_sectors.saturating_sub(Self::sectors_for_document(DOCUMENT_MAX)),
        )
    }

    /// The longest bake that fits into so many sectors, s.
    #[must_use]
    pub(super) const fn longest_bake_in(&self, sectors: u32) -> u32 {
        let (mut low, mut high) = (0, sectors.saturating_mul(self.rows_per_sector));
        while low < high {
            let middle = low + (high - low).div_ceil(2);
            if self.sectors_for_bake(middle) <= sectors {
                low = middle;
            } else {
                high = middle - 1;
            }
        }
        low
    }

    /// Seconds of finished, unfetched bakes that are kept at most, beside one document.
    #[must_use]
    pub const fn seconds_stored(&self, bakes: u32) -> u32 {
        let document = Self::sectors_for_document(DOCUMENT_MAX);
        let each = 1 + sectors(EVENTS_MAX + BLACK_BOX_ROWS, self.rows_per_sector);
        let rows = self.pool_sectors.saturating_sub(document + bakes.saturating_mul(each));
        rows.saturating_mul(self.rows_per_sector)
    }

    /// Bakes of `seconds`, one document each, before sectors used in turn have been erased
    /// [`ERASE_CYCLES`] times.
    #[must_use]
    pub const fn bakes_in_a_life(&self, seconds: u32) -> u32 {
        let used =
            self.sectors_for_bake(seconds) - SPARE + Self::sectors_for_document(DOCUMENT_MAX);
        (ERASE_CYCLES as u64 * self.pool_sectors as u64 / used as u64) as u32
    }
}
