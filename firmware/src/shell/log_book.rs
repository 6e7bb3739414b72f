//! What the store keeps of a bake, from the tick it begins to its end.
//!
//! ```text
//!            Started            Ended                       written
//! Closed ─────────────▶ Open ───────────────▶ (finish) ──────────────▶ Closed
//!   │ found at boot       ▲ │  Ended by a trip                            ▲
//!   └──▶ Waiting ─────────┘ └───────────────▶ Dumping ── black box ───────┘
//!        for its sensor
//! ```
//!
//! Every second is a row, every event too; a checkpoint follows every ten seconds and every step or
//! answer. After a trip the last minute is written, twelve ticks of it a tick. What the store does
//! not take ends the log, and the bake is told so; nothing here ends heat or waits.

use super::black_box::BlackBox;
use super::document::Loaded;
use crate::store::{CHECKPOINT_MAX, ENTRY, PAGE_ROWS, ROW_MAX, Store, StoreError};
use embedded_storage::nor_flash::NorFlash;
use serde::{Deserialize, Serialize};
use truesoak_core::Controller;
use truesoak_core::bake::Step;
use truesoak_core::event::{Ending, Event};
use truesoak_core::record::{Checkpoint, Record};
use truesoak_core::units::{TICKS_PER_SECOND, Tick};
use truesoak_core::wire::built_in::BuiltIn;
use truesoak_core::wire::checkpoint::{self, CHECKPOINT_BYTES};
use truesoak_core::wire::row::{ROW_BYTES, Row, SecondRow};
use truesoak_core::wire::stored::{THIN_AFTER_S, THIN_S};
use truesoak_core::wire::upload::Outline;
use truesoak_core::wire::write;

/// How a header and an end are laid out.
const LAYOUT: u8 = 1;

/// What a bake begins with in the store.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub(super) struct Header {
    layout: u8,
    /// Of its document.
    pub outline: Outline,
    /// The board's own steps instead.
    pub built_in: Option<BuiltIn>,
}

/// What it ends with.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub(super) struct End {
    layout: u8,
    /// How it ended, and whether some soak ended short; `None` if it was cut off for good.
    pub ended: Option<(Ending, bool)>,
    /// Entries that can be read.
    pub entries: u32,
}

impl Header {
    /// Those of a bake.
    pub fn read(bytes: &[u8]) -> Option<Self> {
        let (header, _) = postcard::take_from_bytes::<Self>(bytes).ok()?;
        (header.layout == LAYOUT).then_some(header)
    }
}

impl End {
    /// Those of a bake.
    pub fn read(bytes: &[u8]) -> Option<Self> {
        let (end, _) = postcard::take_from_bytes::<Self>(bytes).ok()?;
        (end.layout == LAYOUT).then_some(end)
    }
}

/// Where the book is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum State {
    Closed,
    /// A bake goes on as soon as its sensor has been read for a second.
    Waiting,
    Open,
    /// A trip ended the bake; the next row of the black box.
    Dumping {
        next: u16,
        ending: Ending,
        is_short: bool,
    },
}

/// The book.
#[derive(Clone, Copy, Debug)]
pub(super) struct LogBook {
    state: State,
    /// The tick the bake's second 0 was at.
    began: Tick,
    /// Second the present step began at.
    step_s: u32,
    /// Entries so far; for a bake that was interrupted at least so many, for what was torn is one too.
    entries: u32,
    was_interrupted: bool,
    /// Resets by the watchdog since the bake began.
    pub resets: u8,
    /// The store did not take something.
    pub is_failing: bool,
}

impl LogBook {
    /// Nothing open.
    pub const CLOSED: Self = Self {
        state: State::Closed,
        began: Tick(0),
        step_s: 0,
        entries: 0,
        was_interrupted: false,
        resets: 0,
        is_failing: false,
    };

    /// No bake is being written.
    pub fn is_closed(&self) -> bool {
        self.state == State::Closed
    }

    /// The black box is being written.
    pub fn is_dumping(&self) -> bool {
        matches!(self.state, State::Dumping { .. })
    }

    /// An event of this tick, as it is stored.
    pub fn event_row(&self, now: Tick, event: Event) -> Row {
        Row::of_event(now.since(self.began), event)
    }

    /// Entries of the bake that is open.
    pub fn entries(&self) -> u32 {
        self.entries
    }

    /// Begins a bake.
    ///
    /// # Errors
    /// A store that has no room or does not take it: then nothing may heat.
    pub fn begin<F: NorFlash>(
        &mut self,
        store: &mut Store<F>,
        loaded: &Loaded,
        started: u32,
    ) -> Result<(), StoreError> {
        let header = Header { layout: LAYOUT, outline: loaded.outline, built_in: loaded.built_in };
        let mut bytes = [0; CHECKPOINT_MAX];
        let header = write(&header, &mut bytes).ok_or(StoreError::TooLong)?;
        store.begin(loaded.document, started, loaded.longest_s, header)?;
        *self = Self { state: State::Open, ..Self::CLOSED };
        Ok(())
    }

    /// Goes on with a bake found at boot.
    pub fn go_on(&mut self, entries: u32, resets: u8) {
        let state = State::Waiting;
        *self = Self { state, entries, was_interrupted: true, resets, ..Self::CLOSED };
    }

    /// A trip stands in the store from the tick it is latched until it is acknowledged, bake or not.
    pub fn latch<F: NorFlash>(&mut self, store: &mut Store<F>, controller: &Controller) {
        let told = |wanted: fn(&Event) -> bool| controller.events().iter().any(wanted);
        let mut bytes = [0; ROW_MAX];
        let kept = match controller.trip() {
            Some(trip) if told(|event| matches!(event, Event::Tripped(_))) => {
                match write(&trip, &mut bytes) {
                    Some(bytes) if store.latched() != Some(bytes) => store.latch(bytes),
                    _ => Ok(()),
                }
            }
            None if told(|event| matches!(event, Event::Acknowledged)) => store.acknowledge(),
            _ => Ok(()),
        };
        self.is_failing |= kept.is_err();
    }

    /// Keeps what a tick brought.
    pub fn tick<F: NorFlash>(
        &mut self,
        now: Tick,
        store: &mut Store<F>,
        controller: &Controller,
        black_box: &BlackBox,
    ) {
        if let State::Dumping { next, ending, is_short } = self.state {
            self.dump(store, controller, black_box, (next, ending, is_short));
        }
        if !matches!(self.state, State::Open | State::Waiting) {
            return;
        }
        let kept = self.keep(now, store, controller);
        if let Err(error) = kept {
            super::log::say_of!("the store does not keep: {}", error);
            self.is_failing = true;
        }
        let ended = controller.events().iter().find_map(|event| match event {
            Event::Ended(ending) => Some(*ending),
            _ => None,
        });
        let is_short = controller.is_short();
        match ended {
            Some(ending @ Ending::Tripped(_)) => {
                self.state = State::Dumping { next: 0, ending, is_short };
            }
            Some(ending) => self.finish(store, controller.seconds(), Some((ending, is_short))),
            None => {}
        }
    }

    fn keep<F: NorFlash>(
        &mut self,
        now: Tick,
        store: &mut Store<F>,
        controller: &Controller,
    ) -> Result<(), StoreError> {
        if self.is_failing {
            return Ok(());
        }
        let seconds = controller.seconds();
        let begins = |event: &Event| matches!(event, Event::Started | Event::SupplyReturned { .. });
        if controller.events().iter().any(begins) {
            self.state = State::Open;
            self.began = Tick(now.0.wrapping_sub(seconds.wrapping_mul(TICKS_PER_SECOND)));
        }
        if controller.events().iter().any(|event| matches!(event, Event::StepBegan(_))) {
            self.step_s = seconds;
        }
        if let Some(record) = controller.record() {
            self.keep_second(store, controller, record)?;
        }
        for event in controller.events() {
            let row = self.event_row(now, *event).encode();
            store.event(&row.ok_or(StoreError::TooLong)?)?;
            self.entries += 1;
        }
        let is_due = controller.checkpoint_is_due() && self.state == State::Open;
        match controller.checkpoint().filter(|_| is_due) {
            Some(checkpoint) => self.checkpoint(store, &checkpoint),
            None => Ok(()),
        }
    }

    fn keep_second<F: NorFlash>(
        &mut self,
        store: &mut Store<F>,
        controller: &Controller,
        record: &Record,
    ) -> Result<(), StoreError> {
        if self.is_thin(controller) && !record.second.is_multiple_of(THIN_S) {
            return Ok(());
        }
        let row = Row::Second(SecondRow::from(record)).encode();
        store.row(&row.ok_or(StoreError::TooLong)?)?;
        self.entries += 1;
        Ok(())
    }

    /// Keeps a checkpoint, and with it how often the watchdog had to reset the board.
    pub fn checkpoint<F: NorFlash>(
        &self,
        store: &mut Store<F>,
        checkpoint: &Checkpoint,
    ) -> Result<(), StoreError> {
        let mut bytes = [0; CHECKPOINT_BYTES + 1];
        let (kept, resets) = bytes.split_last_chunk_mut::<1>().ok_or(StoreError::TooLong)?;
        *resets = [self.resets];
        for (to, from) in
            kept.iter_mut().zip(checkpoint::encode(checkpoint).ok_or(StoreError::TooLong)?)
        {
            *to = from;
        }
        store.checkpoint(checkpoint.second, &bytes)
    }

    /// Parts are out, and the person has let the step stand for an hour more than it asks.
    fn is_thin(&self, controller: &Controller) -> bool {
        let asked_s = match controller.bake().steps.get(usize::from(controller.step())) {
            Some(Step::Check(check)) if !check.parts_stay => 0,
            Some(Step::Wait(wait)) if !wait.parts_stay => wait.for_s,
            _ => return false,
        };
        let in_step_s = controller.seconds().saturating_sub(self.step_s);
        in_step_s > asked_s.saturating_add(THIN_AFTER_S)
    }

    fn dump<F: NorFlash>(
        &mut self,
        store: &mut Store<F>,
        controller: &Controller,
        black_box: &BlackBox,
        (next, ending, is_short): (u16, Ending, bool),
    ) {
        let mut page = [[0; ROW_MAX]; PAGE_ROWS];
        let rows = black_box.copy(next, &mut page);
        let written = match page.get(..rows) {
            Some(rows) if !rows.is_empty() && !self.is_failing => {
                store.black_box(rows).unwrap_or(0)
            }
            _ => 0,
        };
        self.entries += written as u32;
        if written == 0 {
            let seconds = controller.seconds();
            return self.finish(store, seconds, Some((ending, is_short)));
        }
        self.state = State::Dumping { next: next + written as u16, ending, is_short };
    }

    /// Ends the bake in the store.
    pub fn finish<F: NorFlash>(
        &mut self,
        store: &mut Store<F>,
        seconds: u32,
        ended: Option<(Ending, bool)>,
    ) {
        if let Some(bake) = store.open_bake().filter(|_| self.was_interrupted) {
            self.entries = count_entries(store, bake);
        }
        let end = End { layout: LAYOUT, ended, entries: self.entries };
        let mut bytes = [0; CHECKPOINT_MAX];
        let end = write(&end, &mut bytes).map_or(&[][..], |end| end);
        self.is_failing |= store.finish(seconds, end).is_err();
        self.state = State::Closed;
        self.resets = 0;
    }
}

/// A checkpoint and the watchdog's resets, as they were kept.
pub(super) fn read_checkpoint(bytes: &[u8]) -> Option<(Checkpoint, u8)> {
    let (kept, rest) = bytes.split_first_chunk::<CHECKPOINT_BYTES>()?;
    Some((checkpoint::decode(kept)?, *rest.first()?))
}

/// How many entries of a bake can be read: as nothing is past the last, by halving.
pub(super) fn count_entries<F: NorFlash>(store: &mut Store<F>, bake: u32) -> u32 {
    let mut has = |entry: u32| {
        let offset = entry.saturating_mul(ENTRY as u32);
        store.read(bake, offset, &mut [0]).is_ok_and(|read| read > 0)
    };
    let (mut low, mut high) = (0, 1 << 17);
    while low < high {
        let middle = low + (high - low) / 2;
        if has(middle) {
            low = middle + 1;
        } else {
            high = middle;
        }
    }
    low
}

const _: () = assert!(CHECKPOINT_BYTES < CHECKPOINT_MAX && ROW_BYTES <= ROW_MAX);
