//! The store over flash in any state: what it wrote itself, torn, spoilt and made up.
//!
//! An input is a list of things done: calls of the store, a supply that goes, a boot, and bytes put
//! into the flash past it; the latter also as sectors and cells whose checks hold, since no run
//! finds one by chance. The flash is the strict one of the store's own tests: nothing is written
//! twice without an erase, nothing erased while a bake is open.

#[path = "../../../firmware/tests/flash/mod.rs"]
mod flash;
mod forge;

use crate::bytes::{Bytes, one_in};
use crc::{CRC_32_ISO_HDLC, Crc, Table};
use flash::{Flash, SECTOR};
use truesoak_firmware::store::{
    Bake, CHECKPOINT_MAX, Document, ENTRY, Entry, Need, ROW_MAX, Region, Room, SETTINGS_MAX, Store,
    StoreError,
};

/// Room for a bake that begins beside a short document, but not for any two bakes and documents: so
/// there is room, none before a bake was fetched, and none ever.
const SECTORS: u16 = 20;
/// The first of the two sectors of the latch, and of the settings.
const FIRST_LATCH: usize = 2;
/// See [`FIRST_LATCH`].
const FIRST_SETTINGS: usize = 4;
/// Of these, sectors for bakes and documents.
const POOL: u16 = SECTORS - 6;
/// As short a bake as may be: it takes 12 sectors to begin.
const LONGEST_S: u32 = 60;
/// First byte of a sector that was something else's.
const REMAINS: u8 = 0;
/// Things done at most, so that one input stays short.
const DONE_MAX: usize = 16;
/// Calls of `make_room` or `erase` after which there is room, or never will be.
const CALLS_MAX: usize = 64;

/// Digest of a document, by the table that a board has no room for.
static DIGEST: Crc<u32, Table<16>> = Crc::<u32, Table<16>>::new(&CRC_32_ISO_HDLC);

type Board = Store<Flash>;

pub(crate) fn run(input: &[u8]) {
    let mut bytes = Bytes::of(input);
    let mut life = Life::begins(bytes.byte());
    for _ in 0..DONE_MAX {
        if bytes.is_empty() {
            break;
        }
        life.one(&mut bytes);
    }
    life.ends(one_in(16, input));
}

struct Life {
    flash: Flash,
    store: Option<Board>,
    /// Writes and erases of the flash when the store had booted.
    booted_at: u64,
    /// Bytes came into the flash past the store: what it kept may be gone.
    spoilt: bool,
    /// Settings any of which may hold: more than one after a lost supply. None: whatever is there.
    kept: Vec<Vec<u8>>,
    /// What may be latched, likewise.
    latched: Vec<Option<Vec<u8>>>,
}

impl Life {
    /// A blank flash, or one that was something else's at its end: each costs the first boot less
    /// than the whole of it blank, and is erased where room is needed.
    fn begins(birth: u8) -> Self {
        let flash = Flash::new(usize::from(SECTORS), u64::from(birth));
        let blank = SECTORS - u16::from(birth) % (POOL + 1);
        flash.chip(|chip| {
            for sector in usize::from(blank)..usize::from(SECTORS) {
                chip.bytes[sector * SECTOR] = REMAINS;
            }
        });
        let (kept, latched) = (Vec::new(), Vec::new());
        Self { flash, store: None, booted_at: 0, spoilt: false, kept, latched }
    }

    fn one(&mut self, bytes: &mut Bytes<'_>) {
        match bytes.below(24) {
            0 | 1 => self.off(),
            2 => self.goes_after(bytes.byte()),
            3 => self.spoil(|chip| forge::raw(chip, bytes)),
            4 | 5 => self.spoil(|chip| forge::header(chip, bytes)),
            6 | 7 => self.spoil(|chip| forge::cell(chip, bytes)),
            8 => self.spoil(|chip| forge::copy(chip, bytes)),
            9 | 10 => self.set_settings(bytes.take(9)),
            11 | 12 => self.latch(bytes.take(3)),
            13 => self.acknowledge(),
            14 => self.look(u32::from(bytes.u16() % 512)),
            _ => {
                let (flash, spoilt) = (self.flash.clone(), self.spoilt);
                let _ = self.on().map(|store| call(store, &flash, bytes, spoilt));
            }
        }
    }

    /// The supply goes between two calls.
    fn off(&mut self) {
        self.store = None;
        self.flash.cut_after(None);
        self.flash.chip(|chip| chip.erase_forbidden = false);
    }

    /// The supply goes in an operation to come. Where it has gone, there is no store before a boot.
    fn goes_after(&mut self, operations: u8) {
        if self.flash.is_dead() {
            self.off();
        }
        self.flash.cut_after(Some(u64::from(operations)));
    }

    /// Changes the flash behind the store's back.
    fn spoil(&mut self, with: impl FnOnce(&mut [u8])) {
        self.off();
        self.flash.chip(|chip| with(&mut chip.bytes));
        self.spoilt = true;
        (self.kept, self.latched) = (Vec::new(), Vec::new());
    }

    fn open(&self) -> Option<Board> {
        let region = Region { start: 0, sectors: SECTORS };
        Store::open(self.flash.clone(), region, || {}).ok()
    }

    /// The store, booted if it was off: what was kept is there.
    fn on(&mut self) -> Option<&mut Board> {
        if self.flash.is_dead() {
            self.off();
        }
        if self.store.is_none() {
            let mut store = self.open();
            assert!(self.spoilt || self.flash.is_dead() || store.is_some(), "it opens its own");
            if let Some(store) = &mut store {
                self.compare(store);
            }
            self.store = store;
            self.booted_at = self.operations();
        }
        let store = self.store.as_mut()?;
        forbid_erases(&self.flash, store);
        Some(store)
    }

    /// What must be kept, is; from then on it is the one there is.
    fn compare(&mut self, store: &mut Board) {
        let found = Found::of(store);
        if !self.kept.is_empty() {
            let kept = found.settings.unwrap_or_default();
            let known = self.kept.contains(&kept) || self.is_tied(FIRST_SETTINGS);
            assert!(known, "{kept:?} of {:?}", self.kept);
            self.kept = vec![kept];
        }
        if !self.latched.is_empty() {
            let torn = self.latched.len() > 1 && found.latched.as_deref() == Some(&[]);
            let known = torn || self.latched.contains(&found.latched) || self.is_tied(FIRST_LATCH);
            assert!(known, "{:?} of {:?}", found.latched, self.latched);
            self.latched = vec![found.latched];
        }
    }

    /// Both halves of a pair that is written in turn have the highest serial, so the older one may
    /// count. A flash does not live to see that; a made-up one can be born so.
    fn is_tied(&self, first: usize) -> bool {
        let highest = |half: &[u8]| half[0] != 0xFF && half[4..8] == [0xFF; 4];
        let mut halves = [first, first + 1].into_iter();
        self.spoilt
            && self.flash.chip(|chip| halves.all(|half| highest(&chip.bytes[half * SECTOR..])))
    }

    /// Two boots in a row find the same, and all of it can be read.
    ///
    /// A boot of bytes that were booted from before is the same all over: only one input in sixteen
    /// boots from them again.
    fn ends(&mut self, even_if_alike: bool) {
        if even_if_alike || self.operations() != self.booted_at {
            self.off();
        }
        let before = self.operations();
        let Some(store) = self.on() else { return };
        let found = Found::of(store);
        if even_if_alike || self.operations() != before {
            let mut again = self.open().expect("what was opened opens again");
            assert_eq!(Found::of(&mut again), found, "a boot changes nothing that is found");
        }
        self.look(0);
    }

    fn operations(&self) -> u64 {
        self.flash.chip(|chip| chip.operations)
    }

    fn set_settings(&mut self, new: &[u8]) {
        let Some(store) = self.on() else { return };
        match store.set_settings(new) {
            Ok(()) => self.kept = vec![new.to_vec()],
            Err(StoreError::BakeOpen | StoreError::TooLong) => {}
            Err(_) if self.kept.is_empty() => {}
            Err(_) => self.kept.push(new.to_vec()),
        }
    }

    fn latch(&mut self, new: &[u8]) {
        let Some(store) = self.on() else { return };
        let done = store.latch(new);
        assert_eq!(store.latched(), Some(new), "latched till the supply goes");
        match done {
            Ok(()) => self.latched = vec![Some(new.to_vec())],
            Err(_) if self.latched.is_empty() => {}
            Err(_) => self.latched.push(Some(new.to_vec())),
        }
    }

    fn acknowledge(&mut self) {
        let Some(store) = self.on() else { return };
        match store.acknowledge() {
            Ok(()) => {
                assert_eq!(store.latched(), None);
                self.latched = vec![None];
            }
            Err(_) if self.latched.is_empty() => {}
            Err(_) => self.latched.push(None),
        }
    }

    /// Reads from every bake there is, and the document.
    fn look(&mut self, from: u32) {
        let spoilt = self.spoilt;
        let Some(store) = self.on() else { return };
        for bake in store.bakes().collect::<Vec<_>>() {
            read_some(store, &bake, from, spoilt);
        }
        let Some(document) = store.document() else { return };
        let holds = store.document_holds(document.id);
        assert!(spoilt || holds.is_err() || holds == Ok(true), "a document is whole");
    }
}

/// From here on an erase fails if a bake is open. A boot may finish the one that the supply went in.
fn forbid_erases(flash: &Flash, store: &Board) {
    flash.chip(|chip| chip.erase_forbidden = store.open_bake().is_some());
}

/// Reads some of a bake, entry by entry, and what it began and ended with. Few entries: each asks for
/// the header of every sector, and most of an input's time would go there.
fn read_some(store: &mut Board, bake: &Bake, from: u32, spoilt: bool) {
    let mut bytes = [0; 6 * ENTRY];
    let given = store.read(bake.id, from * ENTRY as u32, &mut bytes).unwrap_or(0);
    assert_eq!(given % ENTRY, 0, "whole entries");
    for entry in bytes[..given].chunks_exact(ENTRY) {
        let entry: &[u8; ENTRY] = entry.try_into().expect("its length");
        // A tag of no kind can stand in a sector that was made up.
        assert!(spoilt || Entry::from_bytes(entry).is_some(), "{entry:?}");
    }
    let mut out = [0; CHECKPOINT_MAX];
    let _ = store.bake_header(bake.id, &mut out);
    // Two made-up titles can bear one number.
    assert!(
        spoilt || bake.finished || store.bake_end(bake.id, &mut out).is_err(),
        "an end of no end"
    );
}

/// What a board finds when it boots.
#[derive(Debug, PartialEq)]
struct Found {
    settings: Option<Vec<u8>>,
    latched: Option<Vec<u8>>,
    bakes: Vec<Bake>,
    open: Option<u32>,
    document: Option<Document>,
    checkpoint: Option<(u32, Vec<u8>)>,
}

impl Found {
    fn of(store: &mut Board) -> Self {
        let mut settings = [0; SETTINGS_MAX];
        let mut checkpoint = [0; CHECKPOINT_MAX];
        let len = store.settings(&mut settings).unwrap_or_default();
        let newest = store.newest_checkpoint(&mut checkpoint).unwrap_or_default();
        Self {
            settings: len.map(|len| settings[..len].to_vec()),
            latched: store.latched().map(<[u8]>::to_vec),
            bakes: store.bakes().collect(),
            open: store.open_bake(),
            document: store.document(),
            checkpoint: newest.map(|(seconds, len)| (seconds, checkpoint[..len].to_vec())),
        }
    }
}

/// One call of the rest of what a store does.
fn call(
    store: &mut Board,
    flash: &Flash,
    bytes: &mut Bytes<'_>,
    spoilt: bool,
) -> Result<(), StoreError> {
    match bytes.below(12) {
        0 | 1 => {
            begin(store, bytes, spoilt)?;
            forbid_erases(flash, store);
            store.row(&bytes.array::<ROW_MAX>())
        }
        2 => repeat(bytes, |bytes| store.row(&bytes.array::<ROW_MAX>())),
        3 => repeat(bytes, |bytes| store.event(bytes.take(7))),
        4 => {
            let rows = vec![bytes.array::<ROW_MAX>(); bytes.below(32)];
            store.black_box(&rows).map(drop)
        }
        5 => repeat(bytes, |bytes| store.checkpoint(u32::from(bytes.byte()), bytes.take(5))),
        6 | 7 => {
            let open = store.open_bake();
            store.finish(u32::from(bytes.byte()), bytes.take(5))?;
            assert_eq!(store.open_bake(), None);
            // Two made-up titles can bear one number.
            let last = store.bakes().last();
            assert!(spoilt || last.is_some_and(|bake| Some(bake.id) == open && bake.finished));
            Ok(())
        }
        8 => store.mark_fetched(u32::from(bytes.byte())),
        9 => {
            let not_fetched = bytes.flag();
            let before = store.bakes().filter(|bake| !bake.fetched).count();
            let more = store.erase(not_fetched)?;
            let after = store.bakes().filter(|bake| !bake.fetched).count();
            assert!(not_fetched || before == after, "what nobody fetched stays");
            if more { Ok(()) } else { store.erase_bake(u32::from(bytes.byte())).map(drop) }
        }
        _ => document(store, bytes, spoilt),
    }
}

/// The same a few times over, or often enough to fill a sector.
fn repeat<'a>(
    bytes: &mut Bytes<'a>,
    mut with: impl FnMut(&mut Bytes<'a>) -> Result<(), StoreError>,
) -> Result<(), StoreError> {
    let times = bytes.byte();
    (0..times).try_for_each(|_| with(bytes))
}

fn room(store: &mut Board, need: Need) -> Result<(), StoreError> {
    for _ in 0..CALLS_MAX {
        match store.make_room(need)? {
            Room::Made => return Ok(()),
            Room::Working { .. } => {}
            Room::Fetch(bakes) => {
                for bake in bakes {
                    store.mark_fetched(bake)?;
                }
            }
            Room::NeverFits { .. } => return Err(StoreError::NoRoom),
        }
    }
    panic!("there is no end to making room");
}

fn begin(store: &mut Board, bytes: &mut Bytes<'_>, spoilt: bool) -> Result<(), StoreError> {
    room(store, Need::Bake { longest_s: LONGEST_S })?;
    let before = store.bakes().map(|bake| bake.id).max();
    let document = store.document().filter(|_| bytes.flag()).map_or(0, |document| document.id);
    let id = store.begin(document, bytes.u32(), LONGEST_S, bytes.take(5))?;
    // After a made-up sector with the highest number there is no higher one.
    assert!(spoilt || before.is_none_or(|before| before < id), "numbers go up");
    assert_eq!(store.open_bake(), Some(id));
    Ok(())
}

fn document(store: &mut Board, bytes: &mut Bytes<'_>, spoilt: bool) -> Result<(), StoreError> {
    let byte = bytes.byte();
    // Most are short: reading a long one for its digest takes longer than all else.
    let length = match usize::from(bytes.byte()) {
        short @ ..192 => short,
        long => (long - 192) * 80,
    };
    let text = [byte].repeat(length);
    let length = text.len() as u32;
    room(store, Need::Document { length })?;
    store.document_begin(length)?;
    for (at, piece) in text.chunks(224).enumerate() {
        store.document_piece(at as u32 * 224, piece)?;
    }
    let wrong = u32::from(bytes.flag());
    let id = store.document_commit(DIGEST.checksum(&text) ^ wrong)?;
    assert_eq!(wrong, 0, "another digest");
    let mut out = [0; 64];
    let given = store.document_read(id, 0, &mut out)?;
    assert!(spoilt || out[..given] == text[..text.len().min(64)], "{:?}", &out[..given]);
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Once the flash was too small for any: whatever was asked of an open bake, there was none but
    /// those made up.
    #[test]
    fn a_bake_begins_beside_a_short_document_whatever_the_flash_was_before() {
        for birth in 0..=u8::MAX {
            let mut life = Life::begins(birth);
            let store = life.on().expect("a flash of any content opens");
            document(store, &mut Bytes::of(&[7, 191]), false).expect("room for a document");
            begin(store, &mut Bytes::of(&[1]), false).expect("room for a bake beside it");
            assert!(store.open_bake().is_some());
        }
    }

    /// Found by a long run: a store outlived the supply, and did not know of the end it had written.
    #[test]
    fn no_store_outlives_a_supply_that_is_told_to_go_again() {
        let mut life = Life::begins(0);
        begin(life.on().expect("it opens"), &mut Bytes::of(&[1]), false).expect("there is room");
        life.goes_after(0);
        assert!(life.on().is_some_and(|store| store.finish(1, &[]).is_err()), "cut");
        life.goes_after(9);
        assert!(life.store.is_none());
    }

    /// Found by a long run: what was latched last stood in the half that did not count.
    #[test]
    fn a_trip_latched_past_the_highest_serial_may_be_the_one_before_it() {
        let mut life = Life::begins(0);
        // The latch's first half with the highest serial, and full: its last cell is a trip.
        life.spoil(|chip| forge::header(chip, &mut Bytes::of(&[2, 1, 2, 2, 0, 1])));
        life.spoil(|chip| forge::cell(chip, &mut Bytes::of(&[2, 202, 0x20, 0])));
        life.latch(&[1]);
        assert!(life.is_tied(FIRST_LATCH));
        life.off();
        assert_eq!(life.on().expect("it opens").latched(), Some(&[][..]));
    }
}
