//! Room, made while nothing runs: one erase a tick at most, so that the watchdog is fed between.
//!
//! Room for the next bake is made as soon as it is known how long that can be: at boot, after a
//! document, a bake, a fetch. So GO finds it ready, and what is in the way is told before anybody
//! presses it. A document takes its few sectors from the same.

use super::document::{Loaded, STORED_MAX};
use crate::store::{Need, Room, Store, StoreError};
use embedded_storage::nor_flash::NorFlash;

/// What a computer wants erased.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Erase {
    One(u32),
    All { not_fetched: bool },
}

/// How far room is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Found {
    /// Being made.
    Working,
    /// There.
    Made,
    /// Not to be had.
    None,
}

/// Room and erasures.
#[derive(Clone, Copy, Debug)]
pub(super) struct Rooms {
    erase: Option<Erase>,
    found: Found,
}

impl Rooms {
    /// Nothing made yet.
    pub const fn new() -> Self {
        Self { erase: None, found: Found::Working }
    }

    /// Something has changed: look again.
    pub fn is_wanted(&mut self) {
        self.found = Found::Working;
    }

    /// How far it is.
    pub fn found(&self) -> Found {
        self.found
    }

    /// Erases one bake in the next ticks.
    pub fn erase_one(&mut self, bake: u32) {
        self.erase = Some(Erase::One(bake));
    }

    /// Erases all that were fetched, or all.
    pub fn erase_all(&mut self, not_fetched: bool) {
        self.erase = Some(Erase::All { not_fetched });
    }

    /// One tick at rest.
    ///
    /// # Errors
    /// A flash that refuses or does not erase.
    pub fn tick<F: NorFlash>(
        &mut self,
        store: &mut Store<F>,
        loaded: Option<&Loaded>,
    ) -> Result<(), StoreError> {
        if let Some(erase) = self.erase {
            let goes_on = match erase {
                Erase::One(bake) => store.erase_bake(bake),
                Erase::All { not_fetched } => store.erase(not_fetched),
            };
            if !matches!(goes_on, Ok(true)) {
                self.erase = None;
                self.is_wanted();
            }
            return goes_on.map(|_| ());
        }
        if self.found != Found::Working {
            return Ok(());
        }
        let need = match loaded {
            Some(loaded) => Need::Bake { longest_s: loaded.longest_s },
            None => Need::Document { length: STORED_MAX },
        };
        self.found = match store.make_room(need) {
            Ok(Room::Made) => Found::Made,
            Ok(Room::Working { .. }) => Found::Working,
            Ok(Room::Fetch(_) | Room::NeverFits { .. }) => Found::None,
            Err(error) => {
                self.found = Found::None;
                return Err(error);
            }
        };
        Ok(())
    }
}
