//! A stretch of the board's time: what its contacts and converters are, and what it is seen to do.

use super::frames::{Chip, Conversion};
use super::process::{Mode, Process, Start};
use serde_json::{Value, json};
use std::path::PathBuf;
use std::time::{Duration, Instant};

/// Nanoseconds of a tick.
pub const TICK_NS: f64 = 1e8;

/// Contacts by their pin (`firmware/wiring.md`).
const GO: u32 = 1 << 8;
const STOP: u32 = 1 << 9;
const DOOR: u32 = 1 << 10;
const MAINS_PROOF: u32 = 1 << 12;
const AIRFLOW: u32 = 1 << 13;
/// Outputs by theirs.
const LAMP: u32 = 1 << 2;
const BEEPER: u32 = 1 << 3;
const DRIVE: u32 = 1 << 6;
const FAN: u32 = 1 << 14;
const PERMIT: u32 = 1 << 28;

/// Contacts and proofs as they are, not as levels.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub struct Contacts {
    /// GO is pressed.
    pub go: bool,
    /// STOP is pressed.
    pub stop: bool,
    /// The door is open.
    pub door_open: bool,
    /// Mains is at the heater.
    pub mains: bool,
    /// The fan moves air.
    pub airflow: bool,
}

impl Contacts {
    /// Levels of the pins: STOP and the door are high when open, the others low when it is so.
    fn levels(self) -> u32 {
        let high = [
            (GO, !self.go),
            (STOP, self.stop),
            (DOOR, self.door_open),
            (MAINS_PROOF, !self.mains),
            (AIRFLOW, !self.airflow),
        ];
        high.iter().filter(|(_, is)| *is).fold(0, |levels, (pin, _)| levels | pin)
    }
}

/// Why a stretch ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum End {
    /// Its time is over.
    Time,
    /// The supply was cut in a flash operation.
    Cut,
}

/// One transaction with a converter.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Transaction {
    /// Which select.
    pub converter: u8,
    /// From the chip.
    pub sent: Vec<u8>,
    /// To the chip.
    pub answered: Vec<u8>,
}

/// A read of the independent clock's counter.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Count {
    /// What it stood at.
    pub edges: u16,
    /// When, ns since the chip came out of its reset.
    pub at_ns: f64,
}

/// What was seen in a stretch.
#[derive(Clone, Debug, PartialEq)]
pub struct Seen {
    /// Why it ended.
    pub end: End,
    /// Time since the supply first came, ns.
    pub now_ns: f64,
    /// Lamp lit at its end.
    pub lamp: bool,
    /// Beeper sounds.
    pub beeper: bool,
    /// Heater on.
    pub drive: bool,
    /// Fan on.
    pub fan: bool,
    /// Level of the permit.
    pub permit_high: bool,
    /// Heater on within it, ns.
    pub drive_ns: f64,
    /// When the drive was last seen high, ns since the supply first came; before: −1.
    pub drive_last_ns: f64,
    /// Edges of the permit within it.
    pub permit_edges: u32,
    /// When the last of them was, or −1.
    pub permit_last_ns: f64,
    /// The mirror contact says closed, at its end.
    pub contactor: bool,
    /// The same in its last tick.
    pub contactor_at_tick: bool,
    /// The pump holds within it, ns.
    pub contactor_ns: f64,
    /// Resets by the watchdog within it.
    pub resets: u32,
    /// Instructions within it.
    pub instructions: f64,
    /// Most of them between two sleeps.
    pub longest: u32,
    /// Sectors erased within it.
    pub erased: u32,
    /// Pages programmed within it.
    pub programmed: u32,
    /// FNV-1a of all operations of the flash so far.
    pub flash_digest: u32,
    /// The cable's other end knows the board.
    pub connected: bool,
    /// When the chip last came out of a reset, ns; its ticks are counted from there.
    pub born_ns: f64,
    /// Bytes that came over USB.
    pub usb: Vec<u8>,
    /// Bytes that came over the serial line.
    pub serial: Vec<u8>,
    /// Reads of the independent clock's counter: one as the board is set up, then one in every
    /// tick.
    pub counts: Vec<Count>,
    /// Transactions with the converters.
    pub transactions: Vec<Transaction>,
}

/// A board and what is wired to it.
#[derive(Debug)]
pub struct Board {
    process: Process,
    /// Converters on the three selects.
    pub chips: [Option<Chip>; 3],
    /// What they convert.
    pub conversions: [Option<Conversion>; 3],
    /// Contacts.
    pub contacts: Contacts,
    unsent: Vec<u8>,
    counted: Counts,
    /// Wall time spent in the emulator.
    pub wall: Duration,
    /// Time of the board when it was last looked at, ns.
    pub now_ns: f64,
    /// Instructions so far.
    pub instructions: f64,
    simulated_s_max: f64,
}

/// What only grows.
#[derive(Clone, Copy, Debug, Default)]
struct Counts {
    edges: u32,
    resets: u32,
    erased: u32,
    programmed: u32,
}

/// What a board is made of.
#[derive(Clone, Debug)]
pub struct Made {
    /// The image, sealed.
    pub elf: PathBuf,
    /// How the processor is emulated.
    pub mode: Mode,
    /// Converters on the three selects.
    pub chips: [Option<Chip>; 3],
    /// Seed of torn flash operations.
    pub seed: u32,
    /// A board that is not done with what is tried on it after so long here is ended.
    pub wall_max: Duration,
    /// The same in its own time, s.
    pub simulated_s_max: f64,
}

const RUN: u8 = 1;

impl Board {
    /// A board whose supply has just come.
    ///
    /// # Errors
    /// The emulator cannot be started.
    pub fn new(made: &Made) -> std::io::Result<Self> {
        let process = Process::start(&Start {
            elf: made.elf.clone(),
            mode: made.mode,
            fitted: made.chips.map(|chip| chip.map_or("-", Chip::name)),
            seed: made.seed,
            longest: made.wall_max,
        })?;
        Ok(Self {
            process,
            chips: made.chips,
            conversions: [None; 3],
            contacts: Contacts::default(),
            unsent: Vec::new(),
            counted: Counts::default(),
            wall: Duration::ZERO,
            now_ns: 0.0,
            instructions: 0.0,
            simulated_s_max: made.simulated_s_max,
        })
    }

    /// Bytes for the board, sent over USB at the beginning of the next stretch.
    pub fn send(&mut self, bytes: &[u8]) {
        self.unsent.extend_from_slice(bytes);
    }

    /// Runs for so long with everything around the chip as it is set.
    ///
    /// # Panics
    /// The image did what no program may (an access to nowhere, a flash function called from
    /// flash), or the emulator met what it cannot do; or it is not over in the time it has.
    pub fn run(&mut self, nanos: f64) -> Seen {
        let (begun, most_s) = (Instant::now(), self.simulated_s_max);
        assert!(self.now_ns < most_s * 1e9, "not over after {most_s:.0} s of the board's time");
        let mut request = vec![RUN];
        request.extend(nanos.to_le_bytes());
        request.extend(self.contacts.levels().to_le_bytes());
        request.extend((GO | STOP | DOOR | MAINS_PROOF | AIRFLOW).to_le_bytes());
        for (chip, conversion) in self.chips.iter().zip(&self.conversions) {
            let result = chip.zip(*conversion).map(|(chip, what)| chip.result(&what));
            let result = result.unwrap_or_default();
            request.push(result.len() as u8);
            request.extend(result);
        }
        let unsent = std::mem::take(&mut self.unsent);
        request.extend((unsent.len() as u16).to_le_bytes());
        request.extend(unsent);
        request.extend(0_u16.to_le_bytes());
        let reply = self.process.call(&request);
        let seen = self.read(&reply);
        self.wall += begun.elapsed();
        self.now_ns = seen.now_ns;
        self.instructions += seen.instructions;
        seen
    }

    fn read(&mut self, reply: &[u8]) -> Seen {
        let mut reply = Reply(reply);
        let end = reply.u8();
        let now_ns = reply.f64();
        let levels = reply.u32();
        let is_high = |pin: u32| levels & pin != 0;
        let was = self.counted;
        let seen = Seen {
            end: if end == 1 { End::Cut } else { End::Time },
            now_ns,
            lamp: is_high(LAMP),
            beeper: is_high(BEEPER),
            drive: is_high(DRIVE),
            fan: is_high(FAN),
            permit_high: is_high(PERMIT),
            drive_ns: reply.f64(),
            drive_last_ns: reply.f64(),
            permit_edges: since(&mut self.counted.edges, reply.u32(), was.edges),
            permit_last_ns: reply.f64(),
            contactor: reply.u8() == 1,
            contactor_at_tick: reply.u8() == 1,
            contactor_ns: reply.f64(),
            resets: since(&mut self.counted.resets, reply.u32(), was.resets),
            instructions: reply.f64(),
            longest: reply.u32(),
            erased: since(&mut self.counted.erased, reply.u32(), was.erased),
            programmed: since(&mut self.counted.programmed, reply.u32(), was.programmed),
            flash_digest: reply.u32(),
            connected: reply.u8() == 1,
            born_ns: reply.f64(),
            usb: reply.block(),
            serial: reply.block(),
            counts: reply.counts(),
            transactions: reply.transactions(),
        };
        let errors = reply.block();
        let errors = String::from_utf8_lossy(&errors);
        assert!(end < 2 && errors.is_empty(), "at {:.6} s the board {errors}", now_ns / 1e9);
        seen
    }

    /// The supply goes and comes back after so long.
    pub fn cut_supply(&mut self, off_ns: f64) {
        let _ = self.order(&json!({ "do": "cut_supply", "off_ns": off_ns }));
        self.now_ns += off_ns;
    }

    /// Something rare, by its name (`tests/emulator/orders.mjs`).
    pub fn order(&mut self, order: &Value) -> Value {
        self.process.order(order)
    }

    /// Bytes of the flash.
    pub fn read_flash(&mut self, offset: u32, bytes: u32) -> Vec<u8> {
        self.process.read_flash(offset, bytes)
    }

    /// Bytes of the memory.
    pub fn read_memory(&mut self, address: u32, bytes: u32) -> Vec<u8> {
        self.process.read_memory(address, bytes)
    }

    /// Overwrites the flash, as no program could.
    pub fn write_flash(&mut self, offset: u32, bytes: &[u8]) {
        self.process.write_flash(offset, bytes);
    }
}

fn since(kept: &mut u32, now: u32, was: u32) -> u32 {
    *kept = now;
    now.wrapping_sub(was)
}

/// What is left of a reply.
struct Reply<'a>(&'a [u8]);

impl<'a> Reply<'a> {
    fn bytes(&mut self, count: usize) -> &'a [u8] {
        let (taken, left) = self.0.split_at(count);
        self.0 = left;
        taken
    }

    fn array<const N: usize>(&mut self) -> [u8; N] {
        self.bytes(N).try_into().expect("as many as asked for")
    }

    fn u8(&mut self) -> u8 {
        u8::from_le_bytes(self.array())
    }

    fn u16(&mut self) -> u16 {
        u16::from_le_bytes(self.array())
    }

    fn u32(&mut self) -> u32 {
        u32::from_le_bytes(self.array())
    }

    fn f64(&mut self) -> f64 {
        f64::from_le_bytes(self.array())
    }

    fn block(&mut self) -> Vec<u8> {
        let length = usize::from(self.u16());
        self.bytes(length).to_vec()
    }

    fn counts(&mut self) -> Vec<Count> {
        (0..self.u16()).map(|_| Count { edges: self.u16(), at_ns: self.f64() }).collect()
    }

    fn transactions(&mut self) -> Vec<Transaction> {
        (0..self.u16())
            .map(|_| {
                let converter = self.u8();
                let length = usize::from(self.u8());
                let sent = self.bytes(length).to_vec();
                Transaction { converter, sent, answered: self.bytes(length).to_vec() }
            })
            .collect()
    }
}
