//! The sectors that bakes and documents share: which are erased, who holds which, and the one way
//! to erase one.
//!
//! Sectors are used in turn, so they wear alike. One is *ready* when it was read blank from end to
//! end, at boot or after its erase; only ready ones are taken. Before an erase its sector is noted
//! in the journal and after it the journal is closed; an erase found open at boot is done again,
//! because a sector may read half old, half blank, or anything.

use super::StoreError;
use super::medium::Medium;
use super::sector::{Header, Sheet, Stream};
use super::twin::{TRIES, Twin};
use super::{FIRST_POOL, SECTORS_MAX};
use embedded_storage::nor_flash::NorFlash;

/// Journal: an erase of the sector in the payload has begun.
const BEGUN: u8 = 1;
/// Journal: it is done.
const DONE: u8 = 2;

/// Where a sector of a stream is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Located {
    Here(Sheet),
    /// Not there, but later ones of its stream are.
    Missing,
    /// Later than all of its stream.
    Past,
}

impl Located {
    pub fn here(self) -> Option<Sheet> {
        match self {
            Self::Here(sheet) => Some(sheet),
            Self::Missing | Self::Past => None,
        }
    }
}

/// A set of sectors.
#[derive(Clone, Copy, Debug, Default)]
struct Sectors([u32; SECTORS_MAX as usize / 32]);

impl Sectors {
    fn set(&mut self, sector: u16, member: bool) {
        if let Some(word) = self.0.get_mut(usize::from(sector / 32)) {
            let bit = 1 << (sector % 32);
            *word = if member { *word | bit } else { *word & !bit };
        }
    }

    fn has(&self, sector: u16) -> bool {
        let word = self.0.get(usize::from(sector / 32)).copied().unwrap_or(0);
        word >> (sector % 32) & 1 == 1
    }

    fn count(&self) -> u32 {
        self.0.iter().map(|word| word.count_ones()).sum()
    }
}

#[derive(Debug)]
pub(super) struct Pool<F> {
    pub medium: Medium<F>,
    journal: Twin,
    ready: Sectors,
    /// Where the next ready sector is looked for.
    cursor: u16,
    /// Where the last located one was.
    hint: u16,
    /// The highest bake number there ever was; the journal keeps it when the bake goes.
    pub last_bake: u32,
}

impl<F: NorFlash> Pool<F> {
    /// Opens the journal and does an erase again that was not done. One erase, two if the journal
    /// is full; `pause` is called before each.
    pub fn open(mut medium: Medium<F>, pause: &mut dyn FnMut()) -> Result<Self, StoreError> {
        let journal = Twin::open(&mut medium, Stream::Journal, 0)?;
        let mut noted = [0; 8];
        journal.read(&mut medium, &mut noted)?;
        let [s0, s1, _, _, b0, b1, b2, b3] = noted;
        let mut pool = Self {
            medium,
            journal,
            ready: Sectors::default(),
            cursor: FIRST_POOL,
            hint: FIRST_POOL,
            last_bake: u32::from_le_bytes([b0, b1, b2, b3]),
        };
        if pool.journal.tag() == Some(BEGUN) {
            let sector = u16::from_le_bytes([s0, s1]);
            pause();
            if pool.sectors().contains(&sector) {
                pool.medium.erase(sector)?;
            }
            pause();
            if pool.journal.room::<F>() == 0 {
                pool.journal.roll(&mut pool.medium)?;
            }
            pool.note(DONE, sector)?;
        }
        Ok(pool)
    }

    /// Every sector of the pool.
    pub fn sectors(&self) -> core::ops::Range<u16> {
        FIRST_POOL..self.medium.sectors()
    }

    /// Every sector of the pool, the one used longest ago first.
    pub fn in_turn(&self) -> impl Iterator<Item = u16> + use<F> {
        (self.cursor..self.medium.sectors()).chain(FIRST_POOL..self.cursor)
    }

    /// Sectors that are ready.
    pub fn ready(&self) -> u32 {
        self.ready.count()
    }

    pub fn is_ready(&self, sector: u16) -> bool {
        self.ready.has(sector)
    }

    /// Looks at one sector at boot: its header, or whether it is ready.
    pub fn survey(&mut self, sector: u16) -> Result<Option<Header>, StoreError> {
        let header = self.medium.header(sector)?;
        let blank = header.is_none() && self.medium.is_blank(sector)?;
        self.ready.set(sector, blank);
        Ok(header)
    }

    /// The turn goes on after this sector.
    pub fn turn_after(&mut self, sector: u16) {
        self.cursor = if self.sectors().contains(&(sector + 1)) { sector + 1 } else { FIRST_POOL };
    }

    /// The next ready sector in turn; only if more than `keep` are ready.
    pub fn take(&mut self, keep: u32) -> Result<u16, StoreError> {
        if self.ready() <= keep {
            return Err(StoreError::NoRoom);
        }
        let sector = self.in_turn().find(|sector| self.ready.has(*sector));
        let sector = sector.ok_or(StoreError::NoRoom)?;
        self.ready.set(sector, false);
        self.turn_after(sector);
        Ok(sector)
    }

    /// Takes a ready sector and programs its header.
    pub fn allocate(&mut self, header: Header, keep: u32) -> Result<Sheet, StoreError> {
        for _ in 0..TRIES {
            let sector = self.take(keep)?;
            if let Some(sheet) = self.medium.begin(sector, header)? {
                return Ok(sheet);
            }
        }
        Err(StoreError::NotKept)
    }

    /// The journal can note one more erase, torn cells allowed for.
    pub fn may_erase(&self) -> bool {
        self.journal.room::<F>() >= 2 * TRIES as u16
    }

    /// Makes the journal able to note erases. One erase.
    pub fn roll_journal(&mut self) -> Result<(), StoreError> {
        self.journal.roll(&mut self.medium)
    }

    /// Erases one sector of the pool, noted in the journal. One erase.
    pub fn erase(&mut self, sector: u16) -> Result<(), StoreError> {
        self.note(BEGUN, sector)?;
        self.ready.set(sector, false);
        self.medium.erase(sector)?;
        self.note(DONE, sector)?;
        self.ready.set(sector, true);
        Ok(())
    }

    fn note(&mut self, tag: u8, sector: u16) -> Result<(), StoreError> {
        let [s0, s1] = sector.to_le_bytes();
        let last_bake = self.last_bake.to_le_bytes();
        self.journal.append(&mut self.medium, tag, &[&[s0, s1, 0, 0], &last_bake])
    }

    /// Finds a sector of a stream. Reads every header at most.
    pub fn locate(&mut self, stream: Stream, id: u32, index: u16) -> Result<Located, StoreError> {
        let wanted = Header::new(stream, id, index);
        let near = [self.hint, self.hint.saturating_add(1)];
        let all = self.sectors();
        let near = near.into_iter().filter(|sector| all.contains(sector));
        let mut past = true;
        for sector in near.chain(all.clone()) {
            let Some(header) = self.medium.header(sector)? else { continue };
            if (header.stream, header.id) != (wanted.stream, wanted.id) {
                continue;
            }
            if header.index == wanted.index {
                self.hint = sector;
                return Ok(Located::Here(Sheet { sector, header }));
            }
            past &= header.index < wanted.index;
        }
        Ok(if past { Located::Past } else { Located::Missing })
    }

    /// The last sector of a stream, if it has any. Reads every header.
    pub fn last(&mut self, stream: Stream, id: u32) -> Result<Option<Sheet>, StoreError> {
        let mut last: Option<Sheet> = None;
        for sector in self.sectors() {
            let Some(header) = self.medium.header(sector)? else { continue };
            let is_later = last.is_none_or(|last| last.header.index < header.index);
            if (header.stream, header.id) == (stream, id) && is_later {
                last = Some(Sheet { sector, header });
            }
        }
        Ok(last)
    }
}
