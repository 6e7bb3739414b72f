//! A store and, beside it, what a person would know of it: what was acknowledged, and what was
//! under way when the supply went. After a cut the store must hold exactly that.

#![allow(dead_code)] // each test file uses its own part

mod settle;

use crate::flash::Flash;
use std::collections::BTreeMap;
use truesoak_firmware::store::{ENTRY, Entry, Need, Region, Room, Store, StoreError};

/// Longest bake asked for in these tests, s.
pub const LONGEST_S: u32 = 600;

/// An entry, owned.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Line {
    Row(Vec<u8>),
    Event(Vec<u8>),
    BlackBox(Vec<u8>),
}

/// A bake as it is known.
#[derive(Clone, Debug, Default)]
pub struct Log {
    pub lines: Vec<Line>,
    pub header: Vec<u8>,
    pub end: Option<(u32, Vec<u8>)>,
    pub fetched: bool,
    pub checkpoint: Option<(u32, Vec<u8>)>,
    pub document: u32,
    pub cuts: usize,
}

/// Everything that is known.
#[derive(Clone, Debug, Default)]
pub struct Known {
    pub settings: Option<Vec<u8>>,
    pub latched: Option<Vec<u8>>,
    pub document: Option<(u32, Vec<u8>)>,
    pub bakes: BTreeMap<u32, Log>,
    pub open: Option<u32>,
    pub last_bake: u32,
}

/// What was under way when the supply went.
#[derive(Clone, Debug, Default)]
pub enum Doing {
    #[default]
    Nothing,
    Settings(Vec<u8>),
    Latch(Vec<u8>),
    Acknowledge,
    Document(Vec<u8>),
    /// Room is made: fetched bakes may be gone.
    Room,
    /// Any finished bake may be gone.
    Erase,
    Begin {
        header: Vec<u8>,
        document: u32,
    },
    Lines(Vec<Line>),
    Checkpoint(u32, Vec<u8>),
    Finish(u32, Vec<u8>),
    Fetched(u32),
}

pub struct Life<const WRITE: usize = 4> {
    pub flash: Flash<WRITE>,
    pub store: Store<Flash<WRITE>>,
    pub known: Known,
    doing: Doing,
    sectors: u16,
}

pub fn digest(bytes: &[u8]) -> u32 {
    crc::Crc::<u32>::new(&crc::CRC_32_ISO_HDLC).checksum(bytes)
}

impl<const WRITE: usize> Life<WRITE> {
    pub fn new(sectors: u16, seed: u64) -> Self {
        Self::on(Flash::new(usize::from(sectors), seed), sectors)
    }

    pub fn on(flash: Flash<WRITE>, sectors: u16) -> Self {
        let store = open(&flash, sectors).expect("any content opens");
        Self { flash, store, known: Known::default(), doing: Doing::Nothing, sectors }
    }

    /// The same life on a chip of its own, opened there.
    pub fn fork(&self, seed: u64) -> Self {
        let flash = self.flash.fork(seed);
        flash.chip(|chip| chip.erase_forbidden = false);
        let mut fork = Self::on(flash, self.sectors);
        fork.known = self.known.clone();
        fork.forbid_erase();
        fork
    }

    fn forbid_erase(&self) {
        let open = self.store.open_bake().is_some();
        self.flash.chip(|chip| chip.erase_forbidden = open);
    }

    pub fn set_settings(&mut self, bytes: &[u8]) -> Result<(), StoreError> {
        self.doing = Doing::Settings(bytes.to_vec());
        self.within_one_erase(|store| store.set_settings(bytes))?;
        self.known.settings = Some(bytes.to_vec());
        self.done()
    }

    pub fn latch(&mut self, bytes: &[u8]) -> Result<(), StoreError> {
        self.doing = Doing::Latch(bytes.to_vec());
        self.within_one_erase(|store| store.latch(bytes))?;
        self.known.latched = Some(bytes.to_vec());
        self.done()
    }

    pub fn acknowledge(&mut self) -> Result<(), StoreError> {
        self.doing = Doing::Acknowledge;
        self.within_one_erase(Store::acknowledge)?;
        self.known.latched = None;
        self.done()
    }

    pub fn send(&mut self, bytes: &[u8]) -> Result<Room, StoreError> {
        let room = self.make_room(Need::Document { length: bytes.len() as u32 })?;
        if room != Room::Made {
            return Ok(room);
        }
        self.doing = Doing::Document(bytes.to_vec());
        self.store.document_begin(bytes.len() as u32)?;
        for (n, piece) in bytes.chunks(203).enumerate() {
            self.store.document_piece(n as u32 * 203, piece)?;
        }
        let id = self.store.document_commit(digest(bytes))?;
        self.known.document = Some((id, bytes.to_vec()));
        self.done()?;
        Ok(room)
    }

    pub fn make_room(&mut self, need: Need) -> Result<Room, StoreError> {
        self.doing = Doing::Room;
        let room = loop {
            let room = self.within_one_erase(|store| store.make_room(need))?;
            if !matches!(room, Room::Working { .. }) {
                break room;
            }
        };
        let kept = ids(&self.store);
        self.known.bakes.retain(|id, log| kept.contains(id) || !log.fetched);
        self.done()?;
        Ok(room)
    }

    pub fn erase(&mut self, not_fetched: bool) -> Result<(), StoreError> {
        self.doing = if not_fetched { Doing::Erase } else { Doing::Room };
        while self.within_one_erase(|store| store.erase(not_fetched))? {}
        self.known.bakes.retain(|_, log| !log.fetched && !not_fetched);
        self.done()
    }

    pub fn begin(&mut self, header: &[u8]) -> Result<u32, StoreError> {
        let document = self.known.document.as_ref().map_or(0, |document| document.0);
        self.doing = Doing::Begin { header: header.to_vec(), document };
        self.flash.chip(|chip| chip.erase_forbidden = true);
        let id = self.store.begin(document, 77, LONGEST_S, header);
        self.forbid_erase();
        let id = id?;
        self.began(id, header.to_vec(), document);
        self.done()?;
        Ok(id)
    }

    fn began(&mut self, id: u32, header: Vec<u8>, document: u32) {
        assert!(id > self.known.last_bake, "bake {id} after {}", self.known.last_bake);
        self.known.last_bake = id;
        self.known.open = Some(id);
        self.known.bakes.insert(id, Log { header, document, ..Log::default() });
    }

    pub fn line(&mut self, line: Line) -> Result<(), StoreError> {
        self.doing = Doing::Lines(vec![line.clone()]);
        match &line {
            Line::Row(bytes) => self.store.row(bytes)?,
            Line::Event(bytes) => self.store.event(bytes)?,
            Line::BlackBox(_) => unreachable!("written by pages"),
        }
        self.open_log().lines.push(line);
        self.done()
    }

    pub fn black_box(&mut self, rows: &[[u8; 16]]) -> Result<(), StoreError> {
        let mut rest = rows;
        while !rest.is_empty() {
            let lines = |rows: &[[u8; 16]]| {
                rows.iter().map(|row| Line::BlackBox(row.to_vec())).collect::<Vec<_>>()
            };
            self.doing = Doing::Lines(lines(&rest[..rest.len().min(12)]));
            let taken = self.store.black_box(rest)?;
            assert!(taken > 0, "a page takes something");
            self.open_log().lines.extend(lines(&rest[..taken]));
            rest = &rest[taken..];
        }
        self.done()
    }

    pub fn checkpoint(&mut self, seconds: u32, bytes: &[u8]) -> Result<(), StoreError> {
        self.doing = Doing::Checkpoint(seconds, bytes.to_vec());
        self.store.checkpoint(seconds, bytes)?;
        self.open_log().checkpoint = Some((seconds, bytes.to_vec()));
        self.done()
    }

    pub fn finish(&mut self, seconds: u32, bytes: &[u8]) -> Result<(), StoreError> {
        self.doing = Doing::Finish(seconds, bytes.to_vec());
        self.store.finish(seconds, bytes)?;
        self.open_log().end = Some((seconds, bytes.to_vec()));
        self.known.open = None;
        self.forbid_erase();
        self.done()
    }

    pub fn mark_fetched(&mut self, bake: u32) -> Result<(), StoreError> {
        self.doing = Doing::Fetched(bake);
        self.store.mark_fetched(bake)?;
        self.known.bakes.get_mut(&bake).unwrap().fetched = true;
        self.done()
    }

    fn open_log(&mut self) -> &mut Log {
        let id = self.known.open.expect("a bake is open");
        self.known.bakes.get_mut(&id).unwrap()
    }

    fn done(&mut self) -> Result<(), StoreError> {
        self.doing = Doing::Nothing;
        Ok(())
    }

    fn within_one_erase<T>(&mut self, call: impl FnOnce(&mut Store<Flash<WRITE>>) -> T) -> T {
        let before = self.flash.erases();
        let result = call(&mut self.store);
        assert!(self.flash.erases() - before <= 1, "more than one erase in a call");
        result
    }

    /// Switches on again; `cuts` more cuts, each after so many operations of the opening.
    pub fn reboot(&mut self, cuts: &[u64]) {
        self.flash.chip(|chip| chip.erase_forbidden = false);
        for cut in cuts {
            self.flash.cut_after(Some(*cut));
            let opened = open(&self.flash, self.sectors);
            assert!(opened.is_ok() || self.flash.is_dead(), "{:?}", opened.err());
        }
        self.flash.cut_after(None);
        let erases = self.flash.erases();
        self.store = open(&self.flash, self.sectors).expect("it opens after any cut");
        assert!(self.flash.erases() - erases <= 2, "more than two erases at boot");
        self.forbid_erase();
    }
}

/// A bake's lines, read in uneven pieces, and its gaps.
pub fn read_lines<const WRITE: usize>(
    store: &mut Store<Flash<WRITE>>,
    bake: u32,
) -> (Vec<Line>, usize) {
    let mut bytes = Vec::new();
    let mut piece = [0; 211];
    loop {
        let read = store.read(bake, bytes.len() as u32, &mut piece).unwrap();
        if read == 0 {
            break;
        }
        bytes.extend_from_slice(&piece[..read]);
    }
    let (entries, rest) = bytes.as_chunks::<ENTRY>();
    assert!(rest.is_empty());
    let mut gaps = 0;
    let lines = entries.iter().filter_map(|entry| match Entry::from_bytes(entry).unwrap() {
        Entry::Row(bytes) => Some(Line::Row(bytes.to_vec())),
        Entry::Event(bytes) => Some(Line::Event(bytes.to_vec())),
        Entry::BlackBox(bytes) => Some(Line::BlackBox(bytes.to_vec())),
        Entry::Gap => {
            gaps += 1;
            None
        }
    });
    (lines.collect(), gaps)
}

fn ids<const WRITE: usize>(store: &Store<Flash<WRITE>>) -> Vec<u32> {
    store.bakes().map(|bake| bake.id).collect()
}

fn open<const WRITE: usize>(
    flash: &Flash<WRITE>,
    sectors: u16,
) -> Result<Store<Flash<WRITE>>, StoreError> {
    Store::open(flash.clone(), Region { start: 0, sectors }, || {})
}
