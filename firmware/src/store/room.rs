//! Room, before it is needed: the only place, beside the twins, where anything is erased.
//!
//! Who goes, in this order: what belongs to nothing (torn sectors, checkpoints of ended bakes,
//! documents no bake refers to, the rest of bakes already given up), then fetched bakes, the oldest
//! first. A bake goes title first, so it is never seen in part.

use super::budget::Budget;
use super::sector::{Header, Stream};
use super::{BAKES_MAX, LATCH_ROOM, Store, StoreError};
use embedded_storage::nor_flash::NorFlash;
use heapless::Vec;

/// Most bakes one refusal names.
pub const FETCH_MAX: usize = 8;

/// What room is needed for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Need {
    /// A bake of at most so many seconds.
    Bake {
        /// The longest it can take.
        longest_s: u32,
    },
    /// A document of so many bytes.
    Document {
        /// Its bytes.
        length: u32,
    },
}

/// How far making room has come.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Room {
    /// There is room.
    Made,
    /// One more sector was erased; call again.
    Working {
        /// Sectors that are erased.
        ready: u32,
        /// Sectors that must be.
        needed: u32,
    },
    /// There is none, until these bakes were fetched: the oldest, as many as it takes, at most
    /// [`FETCH_MAX`] at a time.
    Fetch(Vec<u32, FETCH_MAX>),
    /// There is none even in an otherwise empty store.
    NeverFits {
        /// The longest bake that would fit, s.
        longest_s: u32,
    },
}

impl<F: NorFlash> Store<F> {
    /// Erases one sector of the room that is needed, or says that there is enough, or why there
    /// cannot be. Call it till it says anything but [`Room::Working`].
    ///
    /// # Errors
    /// An open bake, a flash that refuses or does not erase.
    pub fn make_room(&mut self, need: Need) -> Result<Room, StoreError> {
        self.nothing_open()?;
        let needed = self.sectors_for(need);
        let ready = self.pool.ready();
        let (bake, bakes) = match need {
            Need::Bake { .. } => (true, self.bakes.len()),
            Need::Document { .. } => (false, 0),
        };
        if bake && self.latch.room::<F>() < LATCH_ROOM {
            self.latch.roll(&mut self.pool.medium)?;
            return Ok(Room::Working { ready, needed });
        }
        if ready >= needed && bakes < BAKES_MAX {
            return Ok(Room::Made);
        }
        if !self.pool.may_erase() {
            self.pool.roll_journal()?;
            return Ok(Room::Working { ready, needed });
        }
        let spare = if ready < needed { self.find_spare()? } else { None };
        if let Some(sector) = spare {
            self.pool.erase(sector)?;
        } else if !self.give_up_oldest(|fetched| fetched)? {
            return self.refusal(needed);
        }
        Ok(Room::Working { ready: self.pool.ready(), needed })
    }

    /// Gives up one fetched bake, or with `not_fetched` any finished one, the oldest first; true
    /// while there may be more. One erase a call.
    ///
    /// # Errors
    /// An open bake, a flash that refuses or does not erase.
    pub fn erase(&mut self, not_fetched: bool) -> Result<bool, StoreError> {
        self.nothing_open()?;
        if !self.pool.may_erase() {
            self.pool.roll_journal()?;
            return Ok(true);
        }
        self.give_up_oldest(|fetched| fetched || not_fetched)
    }

    /// Gives up one bake by its number, fetched or not; true until it is gone. One erase a call.
    ///
    /// # Errors
    /// An open bake, an unknown one, a flash that refuses or does not erase.
    pub fn erase_bake(&mut self, bake: u32) -> Result<bool, StoreError> {
        self.nothing_open()?;
        self.kept(bake)?;
        if !self.pool.may_erase() {
            self.pool.roll_journal()?;
            return Ok(true);
        }
        let at = self.bakes.iter().position(|kept| kept.bake.id == bake);
        self.give_up(at)?;
        Ok(false)
    }

    fn sectors_for(&self, need: Need) -> u32 {
        match need {
            Need::Bake { longest_s } => self.budget().sectors_for_bake(longest_s),
            Need::Document { length } => Budget::sectors_for_document(length),
        }
    }

    /// Erases the title of the oldest bake that may go; false if none may.
    fn give_up_oldest(&mut self, may_go: impl Fn(bool) -> bool) -> Result<bool, StoreError> {
        let oldest = self.bakes.iter().position(|kept| may_go(kept.bake.fetched));
        self.give_up(oldest)
    }

    /// Erases the title of the bake at this place of the list; false if there is none.
    fn give_up(&mut self, at: Option<usize>) -> Result<bool, StoreError> {
        let Some(at) = at.filter(|at| *at < self.bakes.len()) else { return Ok(false) };
        // Those behind it move up one by one.
        let Some(mut carried) = self.bakes.pop() else { return Ok(false) };
        for kept in self.bakes.iter_mut().skip(at).rev() {
            core::mem::swap(kept, &mut carried);
        }
        self.pool.erase(carried.title.sector)?;
        Ok(true)
    }

    /// A sector that belongs to nothing, in turn.
    fn find_spare(&mut self) -> Result<Option<u16>, StoreError> {
        for sector in self.pool.in_turn() {
            if self.pool.is_ready(sector) {
                continue;
            }
            let header = self.pool.medium.header(sector)?;
            if !header.is_some_and(|header| self.is_held(&header)) {
                return Ok(Some(sector));
            }
        }
        Ok(None)
    }

    /// The sector with this header belongs to something that is kept.
    fn is_held(&self, header: &Header) -> bool {
        match header.stream {
            Stream::Title | Stream::Rows => self.kept(header.id).is_ok(),
            Stream::Checkpoints => self.open_bake() == Some(header.id),
            Stream::Document => {
                self.is_latest_document(header.id)
                    || self.bakes.iter().any(|kept| kept.bake.document == header.id)
            }
            Stream::Journal | Stream::Latch | Stream::Settings => false,
        }
    }

    fn is_latest_document(&self, id: u32) -> bool {
        self.document.is_some_and(|document| document.id == id)
            || self.upload.is_some_and(|upload| upload.id == id)
    }

    /// Which bakes must be fetched first: from the oldest on, as many as it takes.
    fn refusal(&mut self, needed: u32) -> Result<Room, StoreError> {
        let pool = u32::from(self.pool.sectors().end - self.pool.sectors().start);
        let latest = self.count(|store, header| {
            header.stream == Stream::Document && store.is_latest_document(header.id)
        })?;
        if needed > pool.saturating_sub(latest) {
            let longest_s = self.budget().longest_bake_in(pool.saturating_sub(latest));
            return Ok(Room::NeverFits { longest_s });
        }
        let mut fetch = Vec::new();
        let mut free = self.pool.ready();
        for kept in self.bakes.clone() {
            let id = kept.bake.id;
            let named_enough = free >= needed && !fetch.is_empty();
            if named_enough || fetch.push(id).is_err() {
                break;
            }
            free += self.count(|_, header| {
                header.id == id && matches!(header.stream, Stream::Title | Stream::Rows)
            })?;
        }
        Ok(Room::Fetch(fetch))
    }

    fn count(&mut self, counts: impl Fn(&Self, &Header) -> bool) -> Result<u32, StoreError> {
        let mut count = 0;
        for sector in self.pool.sectors() {
            let header = self.pool.medium.header(sector)?;
            count += u32::from(header.is_some_and(|header| counts(self, &header)));
        }
        Ok(count)
    }
}
