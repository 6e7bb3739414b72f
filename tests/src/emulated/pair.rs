//! Board and twin, tick by tick.
//!
//! A stretch goes from the middle between two ticks to the middle between the next two: contacts and
//! converters are set at its beginning, the tick is 50 ms later, and what came of it is looked at
//! when the board sleeps again. Then the twin does the same tick. The first difference ends the run,
//! with both states.

use super::board::{Board, End, Made, Seen, TICK_NS};
use super::computer::{Computer, Heard};
use super::twin::{Flash, Twin};
use serde_json::json;
use std::fmt::Write as _;
use std::ops::Range;
use truesoak_core::Controller;
use truesoak_core::record::Phase;
use truesoak_core::units::TICKS_PER_SECOND;
use truesoak_core::wire::messages::Request;

/// Whether every stretch is compared with the twin's.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Compare {
    /// The first difference ends the run.
    All,
    /// The twin only tells what the board may be thinking.
    Nothing,
}

/// Bytes of the memory that the board tries (`firmware/boards/rp2040/src/chip.rs`), and its flag.
const SCRATCH: usize = 4 * 64 + 4;

/// Ticks of a second.
const TICKS: usize = TICKS_PER_SECOND as usize;

/// What the ticks of one phase took, instructions.
#[derive(Clone, Debug, Default)]
pub struct Ticks {
    /// Of every tick.
    pub instructions: Vec<u32>,
}

/// Board and twin.
#[derive(Debug)]
pub struct Pair {
    /// The emulated board.
    pub board: Board,
    /// The desk's.
    pub twin: Twin,
    /// At the other end of the cable.
    pub computer: Computer,
    /// What to compare.
    pub compare: Compare,
    /// What the last stretch showed.
    pub seen: Option<Seen>,
    /// Ticks by phase of the tick before.
    pub by_phase: Vec<(Phase, Ticks)>,
    /// Ticks of bakes by how far behind a second's end they are.
    pub by_place: Vec<Ticks>,
    place: usize,
    /// Every stretch, where that is wanted.
    pub kept: Option<Vec<Seen>>,
    /// Stretches so far.
    pub stretches: u64,
    born_ns: f64,
}

impl Pair {
    /// A board whose supply has just come, with this flash, and its twin.
    ///
    /// # Errors
    /// The emulator cannot be started.
    pub fn new(made: &Made, flash: &Flash) -> std::io::Result<Self> {
        let mut board = Board::new(made)?;
        let image = board.read_flash(0, super::twin::STORE.start);
        let store = flash.bytes()[super::twin::STORE.start as usize..].to_vec();
        board.write_flash(super::twin::STORE.start, &store);
        Ok(Self {
            board,
            twin: Twin::new(Flash::holding([image, store].concat())),
            computer: Computer::default(),
            compare: Compare::All,
            seen: None,
            by_phase: Vec::new(),
            by_place: Vec::new(),
            place: 0,
            kept: None,
            stretches: 0,
            born_ns: 0.0,
        })
    }

    /// The twin's controller: while nothing differs, the board's too.
    ///
    /// # Panics
    /// The board has not done a tick yet.
    #[must_use]
    pub fn controller(&self) -> &Controller {
        self.twin.controller().expect("the board has done a tick")
    }

    /// One stretch.
    ///
    /// # Panics
    /// Board and twin differ.
    pub fn tick(&mut self) -> &Seen {
        let phase = self.twin.controller().map(Controller::phase);
        let age = (self.board.now_ns - self.born_ns) / TICK_NS;
        let until = self.born_ns + ((age + 0.5).floor() + 0.5) * TICK_NS;
        let seen = self.board.run(until - self.board.now_ns);
        self.stretches += 1;
        self.computer.hear(&seen.usb);
        if seen.resets > 0 || seen.end == End::Cut {
            self.twin.lose(seen.resets > 0);
        }
        self.born_ns = seen.born_ns;
        if seen.end == End::Time {
            let mut differs = self.twin.tick(self.board.contacts, &seen);
            if differs.iter().any(|words| words.starts_with("flash")) {
                differs.extend(self.first_bytes_apart());
            }
            assert!(
                differs.is_empty() || self.compare == Compare::Nothing,
                "{}",
                self.account(&differs, &seen)
            );
        }
        if let Some(phase) = phase
            && seen.resets == 0
        {
            self.note(phase, seen.longest);
            let is_end = self.twin.controller().is_some_and(|of| of.record().is_some());
            self.place = if is_end { 0 } else { self.place + 1 };
            if self.place < TICKS && phase != Phase::Idle {
                self.by_place.resize(TICKS, Ticks::default());
                self.by_place[self.place].instructions.push(seen.longest);
            }
        }
        if let Some(kept) = &mut self.kept {
            kept.push(seen.clone());
        }
        self.seen.insert(seen)
    }

    /// So many stretches.
    pub fn ticks(&mut self, count: u32) -> &mut Self {
        for _ in 0..count {
            self.tick();
        }
        self
    }

    fn note(&mut self, phase: Phase, instructions: u32) {
        let known = self.by_phase.iter_mut().find(|(of, _)| *of == phase);
        if let Some((_, ticks)) = known {
            ticks.instructions.push(instructions);
        } else {
            self.by_phase.push((phase, Ticks { instructions: vec![instructions] }));
        }
    }

    /// Where the two flashes first differ, and what stands there.
    fn first_bytes_apart(&mut self) -> Option<String> {
        let ours = self.board.read_flash(0, 2 * 1024 * 1024);
        let theirs = self.twin.flash.bytes();
        let at = ours.iter().zip(theirs.iter()).position(|(ours, theirs)| ours != theirs)?;
        let from = at & !15;
        let piece = |bytes: &[u8]| bytes.get(from..from + 32).map(<[u8]>::to_vec);
        Some(format!("at {from:#x}: desk {:02x?}, board {:02x?}", piece(&theirs), piece(&ours)))
    }

    /// What differs first, and both states.
    fn account(&self, differs: &[String], seen: &Seen) -> String {
        let mut text = String::new();
        let tick = (seen.now_ns - seen.born_ns) / TICK_NS;
        let _ = writeln!(text, "board and desk differ in tick {} of this start", tick as u64);
        for words in differs {
            let _ = writeln!(text, "  {words}");
        }
        let _ = writeln!(text, "board: {:?}", Seen { usb: Vec::new(), ..seen.clone() });
        if let Some(of) = self.twin.controller() {
            let _ = writeln!(
                text,
                "desk: {:?} {:?} step {} second {} setpoint {:?} outputs {:?} trip {:?} events {:?}",
                of.mode(),
                of.phase(),
                of.step(),
                of.seconds(),
                of.setpoint(),
                of.outputs(),
                of.trip(),
                of.events(),
            );
            let _ = writeln!(text, "desk's last second: {:?}", of.record());
        }
        text
    }

    /// Sends bytes to both.
    pub fn send(&mut self, bytes: &[u8]) {
        self.board.send(bytes);
        self.twin.send(bytes);
    }

    /// Asks, and lets the board go on until it has answered.
    ///
    /// # Panics
    /// No reply within 20 ticks.
    pub fn ask(&mut self, request: &Request<'_>) -> Heard {
        let (frame, number) = self.computer.frame(request);
        self.send(&frame);
        for _ in 0..20 {
            self.tick();
            if let Some(reply) = self.computer.reply(number) {
                return reply;
            }
        }
        panic!("no reply to {request:?} within 2 s");
    }

    /// The supply goes and comes back after so long; the twin's flash is then the board's.
    pub fn cut_supply(&mut self, off_ns: f64) {
        self.board.cut_supply(off_ns);
        self.born_ns = self.board.now_ns;
        self.computer.forget();
        self.copy_flash();
        self.twin.lose(false);
    }

    /// The supply went when so many operations of the tape were done, with the next one torn where
    /// `tear` says how, and has come back.
    pub fn cut_on_tape(&mut self, operations: usize, tear: Option<&str>) {
        let order = json!({ "do": "play_tape", "operations": operations, "tear": tear });
        let _ = self.board.order(&order);
        self.cut_supply(1e9);
    }

    /// A bit of the flash turns by itself.
    pub fn turn_flash_bit(&mut self, offset: usize, bit: u8) {
        let order = json!({ "do": "turn_flash_bit", "offset": offset, "bit": bit });
        let _ = self.board.order(&order);
        self.twin.flash.turn_bit(offset, bit);
    }

    /// Nothing is written there any more.
    pub fn stick_flash(&mut self, stuck: Range<usize>) {
        let order = json!({ "do": "stuck_flash", "from": stuck.start, "to": stuck.end });
        let _ = self.board.order(&order);
        self.twin.flash.stick(stuck);
    }

    /// A bit of the memory that the board tries is always 1.
    pub fn stick_memory(&mut self) {
        let find = json!({ "do": "find", "like": "truesoak_rp20405board5start", "bytes": SCRATCH });
        let scratch = self.board.order(&find);
        let address = scratch.as_u64().expect("an address") + 128;
        let _ = self.board.order(&json!({ "do": "stick_bit", "address": address, "bit": 3 }));
        self.twin.finds(false, true);
    }

    /// The twin's flash holds from now on what the board's does.
    pub fn copy_flash(&mut self) {
        let bytes = self.board.read_flash(0, 2 * 1024 * 1024);
        let _ = self.board.order(&json!({ "do": "forget_flash_operations" }));
        self.twin.flash.replace(bytes);
    }
}
