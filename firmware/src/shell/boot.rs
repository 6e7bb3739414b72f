//! Boot: everything that can be looked at before the first tick, and a bake the supply interrupted.
//!
//! Drive and permit are low before anything else is done. What does not work is left off and told
//! by what it forbids; boot itself cannot fail. The watchdog is fed meanwhile: no heat is possible.

use super::Memory;
use super::commission::Commission;
use super::contacts::Contacts;
use super::document::only;
use super::log_book::{Header, LogBook, count_entries, read_checkpoint};
use super::panel::Panel;
use super::room::Rooms;
use super::self_test::SelfTest;
use super::sensors::{Read, SILENT, Sensors};
use super::station::Station;
use crate::Actuators;
use crate::board::{Chip, Clock, Hardware, Parts, Reset, Watchdog};
use crate::person::Buttons;
use crate::store::{CHECKPOINT_MAX, SETTINGS_MAX, Store, StoreError};
use embedded_storage::nor_flash::NorFlash;
use truesoak_core::event::Ending;
use truesoak_core::guard::{Trip, TripKind};
use truesoak_core::io::Inputs;
use truesoak_core::record::Checkpoint;
use truesoak_core::units::Tick;
use truesoak_core::wire::PIECE_BYTES_MAX;
use truesoak_core::wire::commissioned::Commissioned;

impl<'a, H: Hardware> Station<'a, H> {
    /// The station, and what is left of the parts.
    #[inline(never)]
    pub fn boot(parts: Parts<H>, memory: &'a mut Memory) -> (Self, H::Port, H::Watchdog) {
        let Parts { drive, permit, port, clock, mut watchdog, mut chip, .. } = parts;
        let actuators = Actuators::new(drive, permit);
        let panel = Panel::new(parts.fan, parts.lamp, parts.beeper, parts.screen);
        watchdog.feed();
        let holds = chip.memory_holds() && chip.image_holds();
        let mut store = Store::open(parts.flash, parts.region, || watchdog.feed()).ok();
        watchdog.feed();
        let kept = store.as_mut().and_then(read_settings);
        let goes_on = store.as_ref().is_some_and(|store| store.open_bake().is_some());
        let booted = Tick(clock.ticks());
        let settings = kept.as_ref().map(|kept| &kept.settings);
        let mut station = Self {
            memory,
            actuators,
            contacts: Contacts {
                buttons: Buttons::new(parts.go, parts.stop),
                door: parts.door,
                permit_read: parts.permit_read,
                mains_proof: parts.mains_proof,
                airflow: parts.airflow,
            },
            sensors: Some(Sensors::new(parts.converters, settings)),
            panel,
            clock,
            commission: Commission::new(chip.reset() == Reset::Supply && !goes_on),
            chip,
            identity: parts.identity,
            store,
            kept,
            self_test: SelfTest::new(holds),
            loaded: None,
            above_oven: false,
            log_book: LogBook::CLOSED,
            room: Rooms::new(),
            receiving: None,
            read: Read { air: SILENT, air_b: None, part_probe: None },
            inputs: Inputs::NOTHING,
            buttons_free: false,
            booted,
            last: None,
            ended: None,
            told_time: None,
            rejected: 0,
            piece: [0; PIECE_BYTES_MAX],
        };
        station.take_up();
        watchdog.feed();
        (station, port, watchdog)
    }

    /// Takes up what the store holds: a latched trip, a bake without an end, else the document.
    fn take_up(&mut self) {
        let trip = self.store.as_ref().and_then(latched);
        let open = self.store.as_ref().and_then(Store::open_bake);
        match open {
            Some(bake) => self.take_up_bake(bake, trip),
            None => {
                self.load_current();
                self.try_a_write();
            }
        }
        if let (Some(trip), Some(controller)) = (trip, &mut self.memory.controller) {
            controller.resume(only(trip));
        }
    }

    /// A bake that has no end: it goes on, off and asking, if there is enough left of it.
    fn take_up_bake(&mut self, bake: u32, trip: Option<Trip>) {
        let Some(found) = self.store.as_mut().and_then(|store| find(store, bake)) else {
            return self.give_up(0, None);
        };
        let Found { header, document, checkpoint, entries } = found;
        let (seconds, resets) = checkpoint.map_or((0, 0), |(kept, resets)| (kept.second, resets));
        let trip = trip.or(checkpoint.and_then(|(kept, _)| kept.trip));
        let was_reset = self.chip.reset() == Reset::Watchdog;
        self.log_book.go_on(entries, resets.saturating_add(u8::from(was_reset)));
        if let Some(trip) = trip {
            let is_short = checkpoint.is_some_and(|(kept, _)| kept.short.contains(&true));
            return self.give_up(seconds, Some((Ending::Tripped(trip.kind), is_short)));
        }
        self.load(Some(document), header.built_in);
        let (Some(_), Some((kept, _))) = (self.loaded, checkpoint) else {
            return self.give_up(seconds, None);
        };
        if let Some(store) = &mut self.store {
            // The write that boot asks for; how often the board was reset is in it.
            self.log_book.is_failing |= self.log_book.checkpoint(store, &kept).is_err();
        }
        if let Some(controller) = &mut self.memory.controller {
            controller.resume(kept);
        }
    }

    /// Nothing can go on from there: the bake is ended in the store.
    fn give_up(&mut self, seconds: u32, ended: Option<(Ending, bool)>) {
        if let Some(store) = &mut self.store {
            self.log_book.finish(store, seconds, ended);
        }
        self.load_current();
    }

    /// The store takes a write: the settings, once more.
    fn try_a_write(&mut self) {
        let (Some(store), Some(kept)) = (&mut self.store, &self.kept) else { return };
        self.log_book.is_failing |= write_settings(store, kept).is_err();
    }
}

/// The settings in the store.
pub(super) fn read_settings<F: NorFlash>(store: &mut Store<F>) -> Option<Commissioned> {
    let mut bytes = [0; SETTINGS_MAX];
    let len = store.settings(&mut bytes).ok()??;
    Commissioned::decode(bytes.get(..len)?)
}

/// Sets them, and reads them back.
pub(super) fn write_settings<F: NorFlash>(
    store: &mut Store<F>,
    kept: &Commissioned,
) -> Result<(), StoreError> {
    let mut bytes = [0; SETTINGS_MAX];
    let len = kept.encode(&mut bytes).ok_or(StoreError::TooLong)?;
    store.set_settings(bytes.get(..len).unwrap_or(&[]))?;
    if read_settings(store).as_ref() == Some(kept) { Ok(()) } else { Err(StoreError::NotKept) }
}

/// The trip that is latched in the store. One whose kind was torn when the supply went is of the
/// board: nobody knows more.
fn latched<F: NorFlash>(store: &Store<F>) -> Option<Trip> {
    let bytes = store.latched()?;
    let unknown = Trip { kind: TripKind::MemoryCorrupt, at: Tick(0) };
    Some(postcard::from_bytes(bytes).unwrap_or(unknown))
}

/// What is found of a bake without an end.
struct Found {
    header: Header,
    document: u32,
    checkpoint: Option<(Checkpoint, u8)>,
    entries: u32,
}

fn find<F: NorFlash>(store: &mut Store<F>, bake: u32) -> Option<Found> {
    let mut bytes = [0; CHECKPOINT_MAX];
    let len = store.bake_header(bake, &mut bytes).ok()?;
    let header = Header::read(bytes.get(..len)?)?;
    let document = store.bakes().find(|kept| kept.id == bake)?.document;
    let newest = store.newest_checkpoint(&mut bytes).ok().flatten();
    let checkpoint = newest.and_then(|(_, len)| read_checkpoint(bytes.get(..len)?));
    let entries = count_entries(store, bake);
    Some(Found { header, document, checkpoint, entries })
}
