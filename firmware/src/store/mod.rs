//! The store: what must outlive a lost supply, in a region of NOR flash the board gives.
//!
//! It keeps bytes and does not know what they mean: **settings**, **documents** (bake, oven and
//! load as written, with the compiled models), **bakes** (beginning, rows, events, black box, end),
//! the newest **checkpoint** of the bake that is open, and the **latch** (a trip till it is
//! acknowledged).
//!
//! What it promises, whenever the supply goes, in the middle of an erase or a write included:
//! settings are the old or the new; a document is there whole or not at all; a finished bake is
//! whole; the open one is readable up to the cut, what was torn left out and told as a gap; a
//! latched trip is latched; opening ends, and never panics.
//!
//! What it refuses:
//! * to erase, or to write again what was written, while a bake is open. An erase stops the
//!   processor for up to 400 ms, so room for all of a bake is erased before it begins
//!   ([`Store::make_room`]) and from [`Store::begin`] to [`Store::finish`] cells are only appended;
//! * to give up a bake that nobody fetched, but by [`Store::erase`] with that very wish;
//! * more than one erase in a call ([`Store::open`] may need two; it pauses between), so that the
//!   caller can feed its watchdog. Every loop is bounded by the region's size.
//!
//! ```text
//! sector  0 1       2 3     4 5        6 ……………………………………………………………… up to SECTORS_MAX
//!         journal   latch   settings   pool: title │ rows │ checkpoints │ document
//!         └────── twin.rs ──────┘      └ pool.rs, used in turn ┘
//! ```
//!
//! **Why not a key-value or queue crate.** `sequential-storage` erases when its pages are full, that
//! is when it chooses; a row, a checkpoint or a trip must never wait for that with a heater on.
//! Alone it does not outlive every torn erase either (20 losses in 300 cuts in our trial), so it
//! would stand on a journal of erases, and that journal is what `twin.rs` is. Two more twins are the
//! settings and the latch: one mechanism, and the crate's 9 kB of code would keep 256 bytes.
//!
//! **What is not covered.** Bits that read differently from one time to the next after a torn
//! write: what is written is read back once and then believed. A worn sector that does not erase
//! or keep any more is reported ([`StoreError::NotErased`], [`StoreError::NotKept`]) and ends the
//! store's service; it is not worked around. Checks find slips, not forgery.

mod bake;
mod budget;
mod cell;
mod document;
mod error;
mod medium;
mod pool;
mod read;
mod room;
mod sector;
mod tail;
mod twin;

pub use bake::Bake;
pub use budget::{Budget, ERASE_CYCLES, EVENTS_MAX};
pub use document::Document;
pub use error::StoreError;
pub use read::{ENTRY, Entry};
pub use room::{FETCH_MAX, Need, Room};

use bake::{Kept, OpenBake};
use document::Upload;
use embedded_storage::nor_flash::NorFlash;
use heapless::Vec;
use medium::Medium;
use pool::Pool;
use sector::Stream;
use twin::Twin;

/// Most bytes of the settings.
pub const SETTINGS_MAX: usize = 256;
/// Most bytes of a row, an event or what a trip is latched with.
pub const ROW_MAX: usize = 16;
/// Most bytes of a checkpoint, a bake's header or its end.
pub const CHECKPOINT_MAX: usize = 96;
/// Rows of a black box a bake has room for: 60 s at ten a second.
pub const BLACK_BOX_ROWS: u32 = 600;
/// Rows of a black box that one call writes.
pub const PAGE_ROWS: usize = 12;
/// Most bytes of a document: 16 KiB as written, and the models.
pub const DOCUMENT_MAX: u32 = 32 * 1024;
/// Most bakes that are kept.
pub const BAKES_MAX: usize = 64;
/// Fewest sectors of a region.
pub const SECTORS_MIN: u16 = 16;
/// Most sectors of a region: 2 MiB.
pub const SECTORS_MAX: u16 = 512;

/// First sector of the pool; before it the three twins.
const FIRST_POOL: u16 = 6;
/// Cells the latch has free when a bake begins.
const LATCH_ROOM: u16 = 16;
/// Latch: a trip, with so many bytes.
const LATCHED: u8 = 0x20;
/// Latch: acknowledged.
const ACKNOWLEDGED: u8 = 0x40;

/// The part of the flash that is the store's: whole sectors of 4096 bytes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Region {
    /// Offset of the first byte in the flash.
    pub start: u32,
    /// Sectors, [`SECTORS_MIN`]`..=`[`SECTORS_MAX`].
    pub sectors: u16,
}

/// The store. Takes about 3 KiB of memory.
#[derive(Debug)]
pub struct Store<F> {
    pool: Pool<F>,
    latch: Twin,
    latched: Option<Vec<u8, ROW_MAX>>,
    settings: Twin,
    bakes: Vec<Kept, BAKES_MAX>,
    open: Option<OpenBake>,
    document: Option<Document>,
    upload: Option<Upload>,
    /// The highest document number on the flash, whole or not.
    last_document: u32,
}

impl<F: NorFlash> Store<F> {
    /// Opens the store and puts right what a lost supply left undone. Any content will do: what is
    /// not the store's is room. Reads the region once, 1.5 MiB at most a second on a slow chip, so
    /// `pause` is called before every sector and every erase: feed the watchdog there.
    ///
    /// # Errors
    /// A region that does not fit, a flash that refuses or does not erase.
    #[inline(never)]
    pub fn open(flash: F, region: Region, mut pause: impl FnMut()) -> Result<Self, StoreError> {
        let medium = Medium::new(flash, region)?;
        let mut pool = Pool::open(medium, &mut pause)?;
        let latch = Twin::open(&mut pool.medium, Stream::Latch, 2)?;
        let settings = Twin::open(&mut pool.medium, Stream::Settings, 4)?;
        let mut store = Self {
            pool,
            latch,
            latched: None,
            settings,
            bakes: Vec::new(),
            open: None,
            document: None,
            upload: None,
            last_document: 0,
        };
        store.find_latch()?;
        store.survey(&mut pause)?;
        store.resume()?;
        Ok(store)
    }

    /// The budget of this region on this flash.
    #[must_use]
    pub fn budget(&self) -> Budget {
        Budget::of(self.pool.medium.sectors(), F::WRITE_SIZE)
    }

    /// Copies the settings and says how many bytes they are; `None` if none were ever set.
    ///
    /// # Errors
    /// A flash that refuses.
    pub fn settings(&mut self, out: &mut [u8; SETTINGS_MAX]) -> Result<Option<usize>, StoreError> {
        if self.settings.tag().is_none() {
            return Ok(None);
        }
        let mut payload = [0; 2 + SETTINGS_MAX];
        self.settings.read(&mut self.pool.medium, &mut payload)?;
        let [l0, l1, bytes @ ..] = payload;
        *out = bytes;
        Ok(Some(usize::from(u16::from_le_bytes([l0, l1])).min(SETTINGS_MAX)))
    }

    /// Sets the settings: the old ones hold until the new ones do. At most one erase.
    ///
    /// # Errors
    /// An open bake, more than [`SETTINGS_MAX`] bytes, a flash that refuses or does not keep them.
    pub fn set_settings(&mut self, bytes: &[u8]) -> Result<(), StoreError> {
        self.nothing_open()?;
        if bytes.len() > SETTINGS_MAX {
            return Err(StoreError::TooLong);
        }
        if self.settings.room::<F>() == 0 {
            self.settings.roll(&mut self.pool.medium)?;
        }
        let length = (bytes.len() as u16).to_le_bytes();
        self.settings.append(&mut self.pool.medium, 0, &[&length, bytes])
    }

    /// What the latched trip was latched with; empty if the supply went while it was written.
    #[must_use]
    pub fn latched(&self) -> Option<&[u8]> {
        self.latched.as_deref()
    }

    /// Latches a trip. Erases nothing while a bake is open, at most one sector otherwise.
    ///
    /// # Errors
    /// More than [`ROW_MAX`] bytes, a flash that refuses or does not keep it. The trip is latched
    /// until the supply goes all the same.
    pub fn latch(&mut self, bytes: &[u8]) -> Result<(), StoreError> {
        let known = Vec::from_slice(bytes);
        let too_long = known.is_err();
        self.latched = Some(known.unwrap_or_default());
        if too_long {
            return Err(StoreError::TooLong);
        }
        self.write_latch(LATCHED | bytes.len() as u8, bytes)
    }

    /// The latched trip was acknowledged; without one nothing is done. Erases nothing while a bake is
    /// open, at most one sector otherwise.
    ///
    /// # Errors
    /// A flash that refuses or does not keep it; the trip stays latched then.
    pub fn acknowledge(&mut self) -> Result<(), StoreError> {
        if self.latched.is_some() {
            self.write_latch(ACKNOWLEDGED, &[])?;
            self.latched = None;
        }
        Ok(())
    }

    fn write_latch(&mut self, tag: u8, bytes: &[u8]) -> Result<(), StoreError> {
        if self.latch.room::<F>() == 0 && self.open.is_none() {
            self.latch.roll(&mut self.pool.medium)?;
        }
        self.latch.append(&mut self.pool.medium, tag, &[bytes])
    }

    /// What was latched when the supply went. A torn cell is a trip half latched or half
    /// acknowledged: latched either way.
    fn find_latch(&mut self) -> Result<(), StoreError> {
        let length = match self.latch.tag() {
            Some(tag) if tag & LATCHED != 0 => usize::from(tag & (LATCHED - 1)),
            _ if self.latch.is_torn() => 0,
            _ => return Ok(()),
        };
        let mut bytes = [0; ROW_MAX];
        self.latch.read(&mut self.pool.medium, &mut bytes)?;
        let known = bytes.get(..length).unwrap_or_default();
        self.latched = Some(Vec::from_slice(known).unwrap_or_default());
        Ok(())
    }

    fn survey(&mut self, pause: &mut dyn FnMut()) -> Result<(), StoreError> {
        for sector in self.pool.sectors() {
            pause();
            let Some(header) = self.pool.survey(sector)? else { continue };
            let sheet = sector::Sheet { sector, header };
            match header.stream {
                Stream::Title => self.found_title(sheet)?,
                Stream::Rows | Stream::Checkpoints => {
                    self.pool.last_bake = self.pool.last_bake.max(header.id);
                }
                Stream::Document => self.found_document(&header),
                Stream::Journal | Stream::Latch | Stream::Settings => {}
            }
        }
        Ok(())
    }

    fn nothing_open(&self) -> Result<(), StoreError> {
        if self.open.is_some() { Err(StoreError::BakeOpen) } else { Ok(()) }
    }
}
