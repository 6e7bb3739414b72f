//! The supply lost: at random instants of two bakes, and in every operation of a checkpoint, of
//! settings that are written, and of room that is made.
//!
//! A chip whose supply goes keeps nothing but its flash. So two bakes are played once and every
//! operation of the flash is kept with its time; then, for each instant, a board starts on what the
//! operations up to it leave, the one under way torn. What it says of itself is held against what
//! was true at that instant, and its twin starts beside it.

use super::{Context, Scenario, Seen, hold, quick, told};
use crate::emulated::board::{Contacts, End};
use crate::emulated::computer::Heard;
use crate::emulated::oven::{Fits, Oven, commissioned};
use crate::emulated::pair::Pair;
use crate::emulated::twin::{Flash, STORE};
use serde_json::{Value, json};
use std::ops::Range;
use truesoak::files::Setup;
use truesoak::files::bake::{FaultScript, Moment};
use truesoak_core::event::Ending;
use truesoak_core::wire::messages::{Reply, Request, Status, StoredBake};
use truesoak_core::wire::settings::BoardSettings;
use truesoak_firmware::store::Store;

pub(super) const SCENARIOS: &[Scenario] = &[
    Scenario {
        name: "power: 40 random instants of two bakes",
        is_short: true,
        run: |context| instants(context, 40),
    },
    Scenario {
        name: "power: 240 random instants of two bakes",
        is_short: false,
        run: |context| instants(context, 240),
    },
    Scenario {
        name: "power: every operation of a checkpoint",
        is_short: true,
        run: |context| operations(context, |of| of.checkpoint.clone()),
    },
    Scenario {
        name: "power: every operation of settings being written",
        is_short: false,
        run: |context| operations(context, |of| of.settings_roll.clone()),
    },
    Scenario {
        name: "power: every operation of room being made",
        is_short: false,
        run: |context| operations(context, |of| of.room.clone()),
    },
    Scenario {
        name: "power: every operation of a trip",
        is_short: false,
        run: |context| operations(context, |of| of.trip.clone()),
    },
];

/// How an operation is torn (`tests/emulator/nor.mjs`).
const TEARS: [&str; 4] = ["none", "prefix", "bits", "all"];
/// Times settings are written: more than one sector of them holds, so that one is erased.
const WRITES: u16 = 18;
/// A board that has its supply back is watched for so long without being touched, ticks.
const WATCHED_TICKS: u32 = 25;
/// The part of the flash where trips are latched (`firmware/src/store/mod.rs`: the second twin).
const LATCH: Range<u64> = STORE.start as u64 + 2 * 4096..STORE.start as u64 + 4 * 4096;
/// Where settings are (the third).
const SETTINGS: Range<u64> = STORE.start as u64 + 4 * 4096..STORE.start as u64 + 6 * 4096;

/// An operation of the flash.
#[derive(Clone, Copy, Debug)]
struct Operation {
    is_erase: bool,
    offset: u64,
    begins_ns: f64,
}

/// Two bakes, and what was true after how many operations.
struct Tape {
    oven: Oven,
    operations: Vec<Operation>,
    /// What settings hold once so many operations are done.
    settings: Vec<(usize, BoardSettings)>,
    /// A bake that is whole once so many operations are done, and its entries.
    finished: Vec<(usize, StoredBake, Vec<u8>)>,
    /// From here on a trip is latched.
    latched: usize,
    room: Range<usize>,
    checkpoint: Range<usize>,
    settings_roll: Range<usize>,
    trip: Range<usize>,
}

/// Ends by itself after so long with heat.
fn short_bake() -> Result<Setup, String> {
    quick(&["bake.step.\"dry\".soak.for=\"1 min\"", "bake.limits.bake_max=\"2 min\""])
}

/// A flash with the settings whose every other sector is full of what nobody knows.
fn full_of_dust(setup: &Setup) -> Flash {
    let flash = commissioned(setup, Fits::Max31855);
    let mut bytes = flash.bytes().to_vec();
    for (at, byte) in bytes.iter_mut().enumerate().skip(STORE.start as usize + 6 * 4096) {
        *byte = (at as u32).wrapping_mul(2_654_435_761).to_le_bytes()[3];
    }
    Flash::holding(bytes)
}

impl Tape {
    fn record(context: &Context) -> Result<Self, String> {
        let setup = short_bake()?;
        let mut made = context.made(context.mode);
        made.chips = crate::emulated::oven::chips(&setup, Fits::Max31855);
        let mut pair = told(Pair::new(&made, &full_of_dust(&setup)))?;
        let _ = pair.board.order(&json!({ "do": "keep_tape" }));
        let oven = Oven::on(pair, &setup, Fits::Max31855);
        let mut tape = Self {
            oven,
            operations: Vec::new(),
            settings: Vec::new(),
            finished: Vec::new(),
            latched: 0,
            room: 0..0,
            checkpoint: 0..0,
            settings_roll: 0..0,
            trip: 0..0,
        };
        let settings = tape.ask_settings()?;
        tape.settings.push((0, settings));
        let room_made = tape.length();
        tape.bake(&setup, &setup)?;
        let first_began_ns = tape.oven.began_ns;
        let settings_from = tape.length();
        tape.write_settings(settings)?;
        let settings_to = tape.length();
        let mut faulty = setup.clone();
        let (at, kind) = (Moment::SinceStart(45.0), "thermocouple-open".into());
        faulty.bake.faults = vec![FaultScript { at, kind, for_s: None, by_k: None }];
        tape.bake(&setup, &faulty)?;
        tape.end();
        tape.find(room_made, first_began_ns, settings_from..settings_to)?;
        Ok(tape)
    }

    fn length(&mut self) -> usize {
        let length = self.oven.pair.board.order(&json!({ "do": "tape_length" }));
        length.as_u64().unwrap_or(0) as usize
    }

    /// A bake to its end; then the board starts anew.
    fn bake(&mut self, setup: &Setup, with: &Setup) -> Result<(), String> {
        let (trace, _) = self.oven.bake_in(with, setup, None, 1);
        let ending = trace.chronicle.ending;
        let is_first = self.finished.is_empty();
        let ended = match ending {
            Some(Ending::TooLong) => is_first,
            Some(Ending::Tripped(_)) => !is_first,
            _ => false,
        };
        hold(ended, || {
            let events = trace.rows.iter().filter(|row| !row.event.is_empty());
            let events: Vec<_> = events.map(|row| row.event.as_str()).collect();
            format!("bake {} on the tape ended {ending:?}: {events:?}", self.finished.len() + 1)
        })?;
        self.oven.pair.ticks(100);
        let bakes = self.ask_bakes()?;
        let bake = *bakes.last().ok_or("no bake is kept")?;
        hold(bake.finished, || format!("{bake:?} is not finished"))?;
        let entries = entries(&self.oven.pair.twin.flash, bake.number)?;
        let after = self.length();
        self.finished.push((after, bake, entries));
        if self.finished.len() == 1 {
            self.oven.again();
        }
        Ok(())
    }

    /// Commissioned again, and written more often than a sector has room.
    fn write_settings(&mut self, settings: BoardSettings) -> Result<(), String> {
        let pair = &mut self.oven.pair;
        pair.board.contacts.go = true;
        pair.cut_supply(1e9);
        pair.ticks(30);
        pair.board.contacts.go = false;
        pair.ticks(10);
        for write in 0..WRITES {
            let settings = BoardSettings { air_max_c: settings.air_max_c + write % 7, ..settings };
            let reply = self.oven.pair.ask(&Request::SetSettings(settings));
            hold(reply == Heard::Other(Reply::Done), || format!("to settings: {reply:?}"))?;
            let after = self.length();
            self.settings.push((after, settings));
        }
        self.oven.again();
        Ok(())
    }

    fn end(&mut self) {
        let kept = self.oven.pair.board.order(&json!({ "do": "end_tape" }));
        let operation = |value: &Value| Operation {
            is_erase: value[0] == "erase",
            offset: value[1].as_u64().unwrap_or(0),
            begins_ns: value[2].as_f64().unwrap_or(0.0),
        };
        self.operations = kept.as_array().into_iter().flatten().map(operation).collect();
    }

    /// Which operations are what.
    fn find(
        &mut self,
        room_made: usize,
        first_began_ns: f64,
        settings: Range<usize>,
    ) -> Result<(), String> {
        let all = &self.operations;
        let erase = |at: &usize| all[*at].is_erase;
        let room = (0..room_made).find(erase).ok_or("no room was made")?;
        self.room = room..room_made.min(room + 12);
        let at_s = |seconds: f64| {
            let ns = first_began_ns + seconds * 1e9;
            all.iter().take_while(|of| of.begins_ns < ns).count()
        };
        self.checkpoint = at_s(38.5)..at_s(42.5);
        let rolls = |at: &usize| all[*at].is_erase && SETTINGS.contains(&all[*at].offset);
        let roll = settings.clone().find(rolls).ok_or("no sector of settings was erased")?;
        self.settings_roll = roll.saturating_sub(3)..(roll + 5).min(settings.end);
        let latches = |at: &usize| LATCH.contains(&all[*at].offset);
        let latch = (settings.end..all.len()).find(latches).ok_or("no trip was latched")?;
        self.latched = latch + 1;
        self.trip = latch.saturating_sub(2)..(latch + 12).min(all.len());
        Ok(())
    }

    /// A board starts on what this cut leaves, and is what it must be.
    fn cut(&mut self, done: usize, tear: Option<&str>, again: Option<u32>) -> Result<(), String> {
        self.try_cut(done, tear, again).map_err(|words| {
            let again = again.map_or(String::new(), |nth| format!(", then in write {nth} of it"));
            let operation = self.operations.get(done);
            format!("cut after {done} operations, {tear:?} of {operation:?}{again}: {words}")
        })
    }

    fn try_cut(
        &mut self,
        done: usize,
        tear: Option<&str>,
        again: Option<u32>,
    ) -> Result<(), String> {
        let pair = &mut self.oven.pair;
        pair.board.contacts = Contacts::default();
        pair.cut_on_tape(done, tear);
        if let Some(nth) = again {
            let cut = json!({ "do": "cut_at_operation", "operations": nth, "tear": "bits" });
            let _ = pair.board.order(&cut);
        }
        for _ in 0..WATCHED_TICKS {
            let seen = pair.tick().clone();
            if seen.end == End::Cut {
                pair.cut_supply(1e9);
            }
            // A pin that falls with the supply is an edge too, of the life before.
            let edges = seen.permit_edges > 0 && seen.permit_last_ns > seen.born_ns;
            let heats = seen.drive_ns > 0.0 || edges;
            hold(!heats, || "heat without anybody's GO".into())?;
        }
        let _ = pair.board.order(&json!({ "do": "no_cut" }));
        self.holds_trip(done)?;
        self.holds_bakes(done)?;
        self.holds_settings(done)
    }

    fn holds_trip(&mut self, done: usize) -> Result<(), String> {
        let status = self.ask_status()?;
        hold(!status.permit && status.on_ticks == 0, || format!("heat is allowed: {status:?}"))?;
        let asks = status.step == 0 || status.asks.is_some() || status.trip.is_some();
        hold(asks, || format!("the bake goes on unasked: {status:?}"))?;
        let latched = done < self.latched || status.trip.is_some();
        hold(latched, || format!("the trip is not latched any more: {status:?}"))
    }

    fn holds_bakes(&mut self, done: usize) -> Result<(), String> {
        let listed = self.ask_bakes()?;
        let flash = &self.oven.pair.twin.flash;
        for (_, bake, kept) in self.finished.iter().filter(|(after, ..)| *after <= done) {
            hold(listed.contains(bake), || format!("{bake:?} is not among {listed:?}"))?;
            let found = entries(flash, bake.number)?;
            hold(found == *kept, || format!("bake {} is not what it was", bake.number))?;
        }
        Ok(())
    }

    /// The old or the new.
    fn holds_settings(&mut self, done: usize) -> Result<(), String> {
        let found = self.ask_settings()?;
        let new = self.settings.iter().position(|(after, _)| *after > done);
        let new = new.unwrap_or(self.settings.len());
        let may = self.settings.iter().take(new + 1).skip(new - 1);
        hold(may.clone().any(|(_, settings)| *settings == found), || {
            format!("settings are {found:?}, not one of {:?}", may.collect::<Vec<_>>())
        })
    }

    fn ask_status(&mut self) -> Result<Status, String> {
        match self.oven.pair.ask(&Request::Status) {
            Heard::Other(Reply::Status(status)) => Ok(status),
            other => Err(format!("to a status: {other:?}")),
        }
    }

    fn ask_bakes(&mut self) -> Result<Vec<StoredBake>, String> {
        match self.oven.pair.ask(&Request::Bakes { after: 0 }) {
            Heard::Other(Reply::Bakes(bakes)) => Ok(bakes.listed.to_vec()),
            other => Err(format!("to the bakes: {other:?}")),
        }
    }

    fn ask_settings(&mut self) -> Result<BoardSettings, String> {
        match self.oven.pair.ask(&Request::Settings) {
            Heard::Other(Reply::Settings(settings)) => Ok(settings),
            other => Err(format!("to the settings: {other:?}")),
        }
    }
}

/// What a bake's entries are on this flash.
fn entries(flash: &Flash, bake: u32) -> Result<Vec<u8>, String> {
    let copy = Flash::holding(flash.bytes().to_vec());
    let mut store = Store::open(copy, STORE, || ()).map_err(|error| format!("{error:?}"))?;
    let mut entries = Vec::new();
    let mut piece = [0; 512];
    loop {
        match store.read(bake, entries.len() as u32, &mut piece) {
            Ok(0) | Err(_) => return Ok(entries),
            Ok(read) => entries.extend_from_slice(&piece[..read]),
        }
    }
}

fn instants(context: &Context, count: u32) -> Result<Seen, String> {
    let mut tape = Tape::record(context)?;
    let last_ns = tape.operations.last().map_or(0.0, |of| of.begins_ns);
    let mut random = Random(context.seed | 1);
    let mut torn = 0;
    for cut in 0..count {
        let at_ns = random.share() * last_ns;
        let begun = tape.operations.iter().take_while(|of| of.begins_ns <= at_ns).count();
        let under_way = begun.checked_sub(1).map(|last| tape.operations[last]);
        let takes_ns = |of: Operation| if of.is_erase { 45e6 } else { 0.7e6 };
        let is_torn = under_way.is_some_and(|of| at_ns < of.begins_ns + takes_ns(of));
        torn += u32::from(is_torn);
        let tear = is_torn.then_some(if cut % 2 == 0 { "prefix" } else { "bits" });
        // Of every third, the supply goes once more in the start that follows.
        let again = (cut % 3 == 2).then_some(1 + cut / 3 % 3);
        tape.cut(begun - usize::from(is_torn), tear, again)?;
    }
    Ok(Seen {
        simulated_s: tape.oven.pair.board.now_ns / 1e9,
        words: format!("{count} cuts, {torn} of them in an operation of the flash; all is there"),
    })
}

fn operations(context: &Context, of: impl Fn(&Tape) -> Range<usize>) -> Result<Seen, String> {
    let mut tape = Tape::record(context)?;
    let wanted = of(&tape);
    let erases = wanted.clone().filter(|at| tape.operations[*at].is_erase).count();
    for done in wanted.clone() {
        for tear in TEARS {
            tape.cut(done, Some(tear), None)?;
        }
    }
    Ok(Seen {
        simulated_s: tape.oven.pair.board.now_ns / 1e9,
        words: format!(
            "{} operations, {erases} of them erases, each torn in {} ways; all is there",
            wanted.len(),
            TEARS.len()
        ),
    })
}

/// Marsaglia's xorshift64 (Journal of Statistical Software 8(14), 2003).
struct Random(u64);

impl Random {
    /// From 0 to 1.
    fn share(&mut self) -> f64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 >> 11) as f64 / (1_u64 << 53) as f64
    }
}
