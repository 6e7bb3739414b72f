//! The desk's twin of the board: the same shell, compiled for this machine, given the very bytes,
//! levels and times the board was given.
//!
//! What a board reads from its buses the emulator has kept ([`Transaction`]); here it is read back
//! from there. So whatever the two then do differently they do for the same inputs.

mod flash;
mod hardware;

pub use flash::Flash;
pub use hardware::Twinned;

use super::board::{Contacts, Seen, Transaction};
use hardware::{Input, InputKind, Output, OutputKind, Pad, Port, ReplayBus};
use std::cell::RefCell;
use std::collections::VecDeque;
use std::fmt;
use std::rc::Rc;
use truesoak_core::Controller;
use truesoak_firmware::board::{EdgeCount, NoScreen};
use truesoak_firmware::store::Region;
use truesoak_firmware::{Identity, Memory, Parts, Shell};

/// The store's part of the flash (`firmware/boards/rp2040/memory.x`).
pub const STORE: Region = Region { start: 0x8_0000, sectors: 384 };
/// The number of the emulator's flash chip (`tests/emulator/nor.mjs`).
const NUMBER: [u8; 8] = [0x7e, 0x50, 0xa1, 0x05, 0x0a, 0x4b, 0x0a, 0x6d];

/// Levels that were given, levels that were set.
#[derive(Debug, Default)]
pub struct Outside {
    ticks: u32,
    contacts: Contacts,
    contactor: bool,
    transactions: [VecDeque<Transaction>; 3],
    /// What the independent clock's counter stands at in this tick.
    edges: u16,
    to_board: VecDeque<u8>,
    from_board: Vec<u8>,
    reset: bool,
    /// Memory, image.
    holds: [bool; 2],
    drive: bool,
    permit: bool,
    permit_edges: u32,
    fan: bool,
    lamp: bool,
    beeper: bool,
    differs: Vec<String>,
}

/// The outside, shared by the twin's parts.
pub type Shared = Rc<RefCell<Outside>>;

/// What the independent clock's counter says, as the board makes ticks of it
/// (`firmware/boards/rp2040/src/clock.rs`).
#[derive(Debug)]
pub struct Clocks {
    outside: Shared,
    /// What the counter stood at when the board was set up.
    first: u16,
    counting: Option<(u32, EdgeCount)>,
}

/// A board on the desk.
pub struct Twin {
    outside: Shared,
    /// Its flash.
    pub flash: Flash,
    shell: Option<Shell<'static, Twinned>>,
    /// What the independent clock's counter stood at as the board was set up.
    first: Option<u16>,
}

impl fmt::Debug for Twin {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        formatter.debug_struct("Twin").field("outside", &self.outside).finish_non_exhaustive()
    }
}

impl Twin {
    /// A twin whose flash holds this; it starts with the board's first tick.
    #[must_use]
    pub fn new(flash: Flash) -> Self {
        let outside = Shared::default();
        outside.borrow_mut().holds = [true; 2];
        Self { outside, flash, shell: None, first: None }
    }

    /// The controller, as of the last tick.
    #[must_use]
    pub fn controller(&self) -> Option<&Controller> {
        self.shell.as_ref().and_then(Shell::controller)
    }

    /// What the chip finds of its memory and its image at the next look.
    pub fn finds(&self, memory: bool, image: bool) {
        self.outside.borrow_mut().holds = [memory, image];
    }

    /// The chip is gone; the next stretch with a tick in it starts another.
    pub fn lose(&mut self, by_watchdog: bool) {
        self.shell = None;
        self.first = None;
        let mut outside = self.outside.borrow_mut();
        outside.reset = by_watchdog;
        outside.to_board.clear();
        outside.from_board.clear();
        (outside.drive, outside.permit, outside.fan) = (false, false, false);
        (outside.lamp, outside.beeper) = (false, false);
    }

    /// Bytes that go to the board between two ticks.
    pub fn send(&mut self, bytes: &[u8]) {
        self.outside.borrow_mut().to_board.extend(bytes);
        if let (true, Some(shell)) = (bytes.contains(&0), &mut self.shell) {
            shell.serve();
        }
    }

    /// The ticks that the board was seen to do in a stretch, one as a rule; every way in which this
    /// one differs.
    pub fn tick(&mut self, contacts: Contacts, seen: &Seen) -> Vec<String> {
        let mut counts = seen.counts.iter();
        if self.first.is_none() {
            // The board reads it once as it is set up, before its first tick.
            self.first = counts.next().map(|count| count.edges);
        }
        self.take_in(contacts, seen);
        let edges = self.outside.borrow().permit_edges;
        for count in counts {
            {
                let mut outside = self.outside.borrow_mut();
                outside.ticks = (count.at_ns / super::board::TICK_NS) as u32;
                outside.edges = count.edges;
            }
            if self.shell.is_none() {
                self.shell = Some(self.boot());
            }
            if let Some(shell) = &mut self.shell {
                shell.tick();
            }
        }
        if self.shell.is_some() { self.compare(edges, seen) } else { Vec::new() }
    }

    fn take_in(&mut self, contacts: Contacts, seen: &Seen) {
        let mut outside = self.outside.borrow_mut();
        outside.contacts = contacts;
        outside.contactor = seen.contactor_at_tick;
        outside.transactions = Default::default();
        for transaction in &seen.transactions {
            if let Some(queue) = outside.transactions.get_mut(usize::from(transaction.converter)) {
                queue.push_back(transaction.clone());
            }
        }
    }

    fn boot(&self) -> Shell<'static, Twinned> {
        let first = self.first.unwrap_or(0);
        let pad = |is_drive| Pad { outside: self.outside.clone(), is_drive };
        let output = |kind| Output { outside: self.outside.clone(), kind };
        let input = |kind| Input { outside: self.outside.clone(), kind };
        let parts = Parts {
            drive: pad(true),
            permit: pad(false),
            fan: output(OutputKind::Fan),
            lamp: output(OutputKind::Lamp),
            beeper: output(OutputKind::Beeper),
            go: input(InputKind::Go),
            stop: input(InputKind::Stop),
            door: input(InputKind::Door),
            permit_read: input(InputKind::Permit),
            mains_proof: input(InputKind::Mains),
            airflow: input(InputKind::Airflow),
            converters: [0, 1, 2]
                .map(|converter| ReplayBus { outside: self.outside.clone(), converter }),
            flash: self.flash.clone(),
            region: STORE,
            port: Port(self.outside.clone()),
            clock: Clocks { outside: self.outside.clone(), first, counting: None },
            watchdog: hardware::Fed,
            chip: hardware::ChipFinds(self.outside.clone()),
            screen: NoScreen,
            identity: Identity { number: NUMBER, is_virtual: false, has_display: false },
        };
        // A board's memory is a static; a twin's is one that nobody gives back.
        let memory: &'static mut Memory = Box::leak(Box::default());
        Shell::boot(parts, memory)
    }

    fn compare(&mut self, edges: u32, seen: &Seen) -> Vec<String> {
        let mut outside = self.outside.borrow_mut();
        let mut differs = std::mem::take(&mut outside.differs);
        let left = outside.transactions.iter().map(VecDeque::len).sum::<usize>();
        if left > 0 {
            differs.push(format!("{left} transactions of the board are not the desk's"));
        }
        let edges = outside.permit_edges - edges;
        let levels = [
            ("drive", outside.drive, seen.drive),
            ("permit", outside.permit, seen.permit_high),
            ("fan", outside.fan, seen.fan),
            ("lamp", outside.lamp, seen.lamp),
            ("beeper", outside.beeper, seen.beeper),
        ];
        for (name, desk, board) in levels.iter().filter(|(_, desk, board)| desk != board) {
            differs.push(format!("{name}: desk {desk}, board {board}"));
        }
        if edges != seen.permit_edges {
            differs.push(format!("edges: desk {edges}, board {}", seen.permit_edges));
        }
        let desk = self.flash.digest();
        if desk != seen.flash_digest {
            let board = seen.flash_digest;
            differs.push(format!("flash operations: desk {desk:08x}, board {board:08x}"));
        }
        differs
    }

    /// Bytes it sent since the last call.
    pub fn take_sent(&mut self) -> Vec<u8> {
        std::mem::take(&mut self.outside.borrow_mut().from_board)
    }

    /// The flash holds this from now on.
    pub fn replace_flash(&mut self, bytes: Vec<u8>) {
        self.flash.replace(bytes);
    }
}
