//! What a board on the desk knows and keeps.

use super::Button;
use crate::rehearse::{Board, Runner as _};
use std::collections::VecDeque;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::Instant;
use truesoak_core::Controller;
use truesoak_core::event::{Ending, Event};
use truesoak_core::io::{Door, Inputs, Outputs, Sample, Transfer};
use truesoak_core::person::{FAIL_TICKS, GO_TICKS};
use truesoak_core::record::Record;
use truesoak_core::sequence::Mode;
use truesoak_core::two_points::{SENSORS, TwoPoints};
use truesoak_core::units::{Celsius, Kelvins, Tick};
use truesoak_core::wire::built_in::BuiltIn;
use truesoak_core::wire::commissioned::Commissioned;
use truesoak_core::wire::compiled::{Compiled, Fault};
use truesoak_core::wire::messages::LiveRow;
use truesoak_core::wire::row::{ROW_BYTES, Row, SecondRow};
use truesoak_core::wire::stored::{ENTRY_BYTES, Head};
use truesoak_core::wire::tick_row::{BLACK_BOX_ROWS, TickRow};
use truesoak_core::wire::upload::{Outline, Upload};

/// Most bakes that are kept, as on a board.
pub(super) const BAKES_MAX: usize = 64;
/// Rows kept for those who watch and are late.
const LIVE_ROWS: usize = 256;
/// A tap of STOP, ticks.
const TAP_TICKS: u32 = 5;

/// The board, for the thread that runs it and those that serve it.
#[derive(Debug)]
pub(super) struct Shared {
    state: Mutex<State>,
    off: AtomicBool,
}

impl Shared {
    pub(super) fn new(state: State) -> Self {
        Self { state: Mutex::new(state), off: AtomicBool::new(false) }
    }

    pub(super) fn lock(&self) -> MutexGuard<'_, State> {
        // A thread that panicked leaves a board that is as it was before its tick.
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    pub(super) fn switch_off(&self) {
        self.off.store(true, Ordering::Relaxed);
    }

    pub(super) fn is_off(&self) -> bool {
        self.off.load(Ordering::Relaxed)
    }
}

/// What a person at the oven presses.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Buttons {
    /// Ticks until the press begins: a board trusts no button it has not seen released.
    ahead_ticks: u32,
    go_ticks: u32,
    stop_ticks: u32,
}

impl Buttons {
    pub(super) fn press(&mut self, button: Button) {
        let (go_ticks, stop_ticks) = match button {
            Button::Go => (GO_TICKS, 0),
            Button::Fail => (0, FAIL_TICKS),
            Button::Stop => (0, TAP_TICKS),
        };
        *self = Self { ahead_ticks: 1, go_ticks, stop_ticks };
    }

    /// Puts them into a tick's inputs.
    pub(super) fn put_into(self, inputs: &Inputs) -> Inputs {
        let begun = self.ahead_ticks == 0;
        let (go, stop) = (begun && self.go_ticks > 0, begun && self.stop_ticks > 0);
        Inputs { go: inputs.go || go, stop: inputs.stop || stop, ..*inputs }
    }

    /// The tick is over.
    pub(super) fn pass(&mut self) {
        if self.ahead_ticks > 0 {
            self.ahead_ticks -= 1;
            return;
        }
        self.go_ticks = self.go_ticks.saturating_sub(1);
        self.stop_ticks = self.stop_ticks.saturating_sub(1);
    }
}

/// A document that is whole.
#[derive(Clone, Debug)]
pub(super) struct Loaded {
    pub(super) outline: Outline,
    pub(super) bytes: Vec<u8>,
}

/// A bake that is kept.
#[derive(Clone, Debug)]
pub(super) struct Kept {
    pub(super) number: u32,
    pub(super) head: Head,
    pub(super) document: Vec<u8>,
    pub(super) entries: Vec<[u8; ENTRY_BYTES]>,
    pub(super) fetched: bool,
}

impl Kept {
    /// Its head as of now.
    pub(super) fn head(&self) -> Head {
        Head { entries: u32::try_from(self.entries.len()).unwrap_or(u32::MAX), ..self.head }
    }

    fn push(&mut self, row: &Row) {
        let kind = match row {
            Row::Second(_) => 0x00,
            Row::Event { .. } => 0x20,
            Row::Tick(_) => 0x40,
        };
        // A row without a place is one no controller makes.
        let Some(bytes) = row.encode() else { return };
        let mut entry = [0xff; ENTRY_BYTES];
        entry[0] = kind | ROW_BYTES as u8;
        entry[1..=ROW_BYTES].copy_from_slice(&bytes);
        self.entries.push(entry);
    }
}

/// Rows for those who watch, each with its number.
#[derive(Debug, Default)]
pub(super) struct Live {
    rows: VecDeque<LiveRow>,
    /// Number of the row behind the last.
    pub(super) next: u64,
}

impl Live {
    fn push(&mut self, row: LiveRow) {
        if self.rows.len() == LIVE_ROWS {
            self.rows.pop_front();
        }
        self.rows.push_back(row);
        self.next += 1;
    }

    /// The rows from a number on, as far as they are kept.
    pub(super) fn since(&self, number: u64) -> impl Iterator<Item = &LiveRow> {
        let first = self.next - self.rows.len() as u64;
        self.rows.iter().skip(usize::try_from(number.saturating_sub(first)).unwrap_or(0))
    }
}

/// The board.
#[derive(Debug)]
pub(super) struct State {
    /// The controller with its checkpoints, once there is a bake.
    pub(super) board: Option<Board>,
    pub(super) now: Tick,
    pub(super) buttons: Buttons,
    /// It has supply and its processor runs.
    pub(super) alive: bool,
    pub(super) commissioning: bool,
    /// What commissioning left; `None` on a bare board.
    pub(super) kept: Option<Commissioned>,
    pub(super) two_points: TwoPoints,
    /// The step test of commissioning has been gone through; the hold is next.
    step_tested: bool,
    /// What every sensor is in, if not in its oven.
    pub(super) bath: Option<Celsius>,
    /// What each fitted sensor reads, corrected.
    pub(super) readings: [Option<Celsius>; SENSORS],
    pub(super) loaded: Option<Loaded>,
    pub(super) upload: Option<(Upload, Vec<u8>)>,
    pub(super) bakes: Vec<Kept>,
    pub(super) last_number: u32,
    pub(super) last: Option<Record>,
    pub(super) door_open: Option<bool>,
    pub(super) rejected: u16,
    pub(super) live: Live,
    /// How the last bake ended, and whether it was short; the controller may be a fresh one since.
    pub(super) ended: Option<(Ending, bool)>,
    told_time: Option<(u32, Instant)>,
    black_box: VecDeque<TickRow>,
}

impl State {
    pub(super) fn new(kept: Option<Commissioned>, commissioning: bool) -> Self {
        Self {
            board: None,
            now: Tick(0),
            buttons: Buttons::default(),
            alive: true,
            commissioning,
            kept,
            two_points: TwoPoints::new(),
            step_tested: false,
            bath: None,
            readings: [None; SENSORS],
            loaded: None,
            upload: None,
            bakes: Vec::new(),
            last_number: 0,
            last: None,
            door_open: None,
            rejected: 0,
            live: Live::default(),
            ended: None,
            told_time: None,
            black_box: VecDeque::new(),
        }
    }

    pub(super) fn is_baking(&self) -> bool {
        self.board.as_ref().is_some_and(|board| board.mode() == Mode::Running)
    }

    /// Switched off and on again at rest; what it keeps it keeps.
    pub(super) fn restart(&mut self, go_held: bool) -> bool {
        if self.is_baking() {
            return false;
        }
        (self.commissioning, self.step_tested) = (go_held, false);
        self.two_points = TwoPoints::new();
        (self.buttons, self.upload, self.told_time) = (Buttons::default(), None, None);
        if let Some(board) = &self.board
            && board.controller().trip().is_none()
        {
            // It was made from the same document before.
            let _ = self.make_ready();
        }
        true
    }

    /// Goes by other settings from now on.
    pub(super) fn keep_settings(&mut self, kept: Commissioned) {
        for sensor in 0..SENSORS {
            let fitting = |of: &Commissioned| of.settings.sensor(sensor).map(|of| of.fitting);
            if self.kept.as_ref().and_then(fitting) != fitting(&kept) {
                self.two_points.forget(sensor);
            }
        }
        self.kept = Some(kept);
    }

    /// Takes a tick's transfers as the converters gave them; gives those of fitted sensors, corrected.
    pub(super) fn see(&mut self, raw: [Option<Sample>; SENSORS]) -> [Option<Sample>; SENSORS] {
        let good = |sample: Sample| (sample.transfer == Transfer::Good).then_some(sample.value);
        if self.commissioning && self.kept.is_some() {
            self.two_points.tick(|sensor| raw.get(sensor).copied().flatten().and_then(good));
        }
        let seen = core::array::from_fn(|sensor| {
            let sample = raw.get(sensor).copied().flatten()?;
            let value = sample.value + self.correction(sensor)?;
            Some(Sample { value, ..sample })
        });
        self.readings = seen.map(|sample| sample.and_then(good));
        seen
    }

    /// The board's own steps that GO starts next, while it is being commissioned.
    pub(super) fn built_in(&self) -> Option<BuiltIn> {
        let next = if self.step_tested { BuiltIn::Hold } else { BuiltIn::StepTest };
        self.commissioning.then_some(next)
    }

    /// What a sensor is corrected by.
    pub(super) fn correction(&self, sensor: usize) -> Option<Kelvins> {
        Some(self.kept.as_ref()?.settings.sensor(sensor)?.correction())
    }

    /// A controller for the document that is there, as after switching on.
    pub(super) fn make_ready(&mut self) -> Result<(), Fault> {
        let Some(loaded) = &self.loaded else { return Ok(()) };
        let compiled = loaded.bytes.get(loaded.outline.compiled_offset() as usize..);
        let mut compiled = Compiled::decode(compiled.unwrap_or(&[]))?;
        if let Some(built_in) = self.built_in() {
            built_in.apply(&mut compiled);
        }
        let Compiled { bake, model, settings } = compiled;
        self.board = Some(Board::new(Controller::new(bake, model, settings)));
        self.last = None;
        Ok(())
    }

    /// The bake is over: the oven stands again as its files say, which a controller that has seen
    /// it warm would take for a sensor gone wrong. A latched trip stays until it is acknowledged.
    pub(super) fn forget_the_bake(&mut self) {
        let Some(board) = &self.board else { return };
        if let Mode::Done(ending) = board.mode() {
            self.ended = Some((ending, board.is_short()));
            self.step_tested |= self.commissioning && ending == Ending::Finished;
        }
        if board.controller().trip().is_none() && board.mode() != Mode::Running {
            // It was made from the same document before.
            let _ = self.make_ready();
        }
    }

    /// A computer says what time it is.
    pub(super) fn hear_time(&mut self, unix_s: Option<u32>) {
        self.told_time = unix_s.map(|unix_s| (unix_s, Instant::now())).or(self.told_time);
    }

    fn unix_s(&self) -> Option<u32> {
        let (told, at) = self.told_time?;
        u32::try_from(at.elapsed().as_secs()).ok().and_then(|passed| told.checked_add(passed))
    }

    /// Keeps what a tick brought; `tick` counts from the bake's beginning.
    pub(super) fn keep(&mut self, tick: u32, inputs: &Inputs, outputs: &Outputs) {
        self.door_open = inputs.door.map(|door| door == Door::Open);
        let Some(board) = &self.board else { return };
        let controller = board.controller();
        let (events, record) = (controller.events().to_vec(), controller.record().copied());
        let tripped = controller.trip().is_some();
        let (seconds, is_short) = (controller.seconds(), controller.is_short());
        self.remember(TickRow::of(self.now, inputs, outputs, tripped));
        if events.contains(&Event::Started) {
            self.ended = None;
            self.begin_record();
        }
        if let Some(record) = record {
            self.last = Some(record);
            self.push(&Row::Second(SecondRow::from(&record)));
        }
        for event in events {
            self.push(&Row::of_event(tick, event));
            if let Event::Ended(ending) = event {
                self.end_record(ending, is_short);
            }
        }
        if let Some(open) = self.open() {
            open.head.seconds = seconds;
        }
    }

    /// The bake that is being written.
    fn open(&mut self) -> Option<&mut Kept> {
        self.bakes.last_mut().filter(|kept| kept.head.ended.is_none())
    }

    fn begin_record(&mut self) {
        let Some(loaded) = self.loaded.clone() else { return };
        self.last_number += 1;
        let head = Head {
            document: loaded.outline,
            built_in: self.built_in(),
            started_unix_s: self.unix_s(),
            ended: None,
            seconds: 0,
            entries: 0,
        };
        let number = self.last_number;
        let (document, entries) = (loaded.bytes, Vec::new());
        self.bakes.push(Kept { number, head, document, entries, fetched: false });
    }

    fn push(&mut self, row: &Row) {
        let Some(open) = self.open() else { return };
        open.push(row);
        let ledger = self.board.as_ref().and_then(|board| board.controller().ledger());
        if let Some(bytes) = row.encode() {
            self.live.push(LiveRow {
                row: bytes,
                coldest: ledger.and_then(truesoak_core::ledger::Ledger::coldest),
                hottest: ledger.and_then(truesoak_core::ledger::Ledger::hottest),
                credit_s: ledger.map_or(0, truesoak_core::ledger::Ledger::credit_s),
            });
        }
    }

    fn end_record(&mut self, ending: Ending, is_short: bool) {
        let black_box = core::mem::take(&mut self.black_box);
        let Some(open) = self.open() else { return };
        if let Ending::Tripped(_) = ending {
            for tick in black_box {
                open.push(&Row::Tick(tick));
            }
        }
        open.head.ended = Some((ending, is_short));
    }

    fn remember(&mut self, tick: TickRow) {
        if self.black_box.len() == BLACK_BOX_ROWS {
            self.black_box.pop_front();
        }
        self.black_box.push_back(tick);
    }
}
