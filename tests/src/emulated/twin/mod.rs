//! The desk's twin of the board: the same shell, compiled for this machine, given the very bytes,
//! levels and times the board was given.
//!
//! What a board reads from its buses the emulator has kept ([`Transaction`]); here it is read back
//! from there. So whatever the two then do differently they do for the same inputs. Pins and port
//! are the mock board's.

mod flash;
mod hardware;

pub use flash::Flash;
pub use hardware::Twinned;

use super::board::{Contacts, Seen, Transaction};
use hardware::ReplayBus;
use std::cell::RefCell;
use std::collections::VecDeque;
use std::fmt;
use std::rc::Rc;
use truesoak_board_mock::{Flash as MockFlash, World};
use truesoak_core::Controller;
use truesoak_firmware::board::{EdgeCount, NoScreen};
use truesoak_firmware::store::Region;
use truesoak_firmware::{Identity, Memory, Parts, Reset, Shell};

/// The store's part of the flash (`firmware/boards/rp2040/memory.x`).
pub const STORE: Region = Region { start: 0x8_0000, sectors: 384 };
/// The number of the emulator's flash chip (`tests/emulator/nor.mjs`).
const NUMBER: [u8; 8] = [0x7e, 0x50, 0xa1, 0x05, 0x0a, 0x4b, 0x0a, 0x6d];

/// What the board read, to be read again, and what was asked for that it did not read.
#[derive(Debug, Default)]
struct Replayed {
    transactions: [VecDeque<Transaction>; 3],
    /// What the independent clock's counter stands at in this tick.
    edges: u16,
    differs: Vec<String>,
}

type Shared = Rc<RefCell<Replayed>>;

/// What the independent clock's counter says, as the board makes ticks of it
/// (`firmware/boards/rp2040/src/clock.rs`).
#[derive(Debug)]
pub struct Clocks {
    world: World,
    replayed: Shared,
    /// What the counter stood at when the board was set up.
    first: u16,
    counting: Option<(u32, EdgeCount)>,
}

/// A board on the desk.
pub struct Twin {
    world: World,
    replayed: Shared,
    /// Its flash.
    pub flash: Flash,
    shell: Option<Shell<'static, Twinned>>,
    /// What the independent clock's counter stood at as the board was set up.
    first: Option<u16>,
}

impl fmt::Debug for Twin {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        formatter
            .debug_struct("Twin")
            .field("world", &self.world)
            .field("replayed", &self.replayed)
            .finish_non_exhaustive()
    }
}

impl Twin {
    /// A twin whose flash holds this; it starts with the board's first tick.
    #[must_use]
    pub fn new(flash: Flash) -> Self {
        let (world, replayed) = (World::default(), Shared::default());
        Self { world, replayed, flash, shell: None, first: None }
    }

    /// The controller, as of the last tick.
    #[must_use]
    pub fn controller(&self) -> Option<&Controller> {
        self.shell.as_ref().and_then(Shell::controller)
    }

    /// What the chip finds of its memory and its image at the next look.
    pub fn finds(&self, memory: bool, image: bool) {
        self.world.change(|outside| {
            (outside.memory_holds, outside.image_holds) = (memory, image);
        });
    }

    /// The chip is gone; the next stretch with a tick in it starts another.
    pub fn lose(&mut self, by_watchdog: bool) {
        self.shell = None;
        self.first = None;
        self.world.change(|outside| {
            outside.reset = if by_watchdog { Reset::Watchdog } else { Reset::Supply };
            outside.lose_outputs();
        });
    }

    /// Bytes that go to the board between two ticks.
    pub fn send(&mut self, bytes: &[u8]) {
        self.world.change(|outside| outside.to_board.extend(bytes));
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
        let edges = self.world.look(|outside| outside.permit_edges);
        for count in counts {
            let ticks = (count.at_ns / super::board::TICK_NS) as u32;
            self.world.change(|outside| outside.ticks = ticks);
            self.replayed.borrow_mut().edges = count.edges;
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
        self.world.change(|outside| {
            (outside.go, outside.stop) = (contacts.go, contacts.stop);
            (outside.door_open, outside.air_moves) = (contacts.door_open, contacts.airflow);
            outside.mains_shows = Some(contacts.mains);
            outside.contactor_shows = Some(seen.contactor_at_tick);
        });
        let mut replayed = self.replayed.borrow_mut();
        replayed.transactions = Default::default();
        for transaction in &seen.transactions {
            if let Some(queue) = replayed.transactions.get_mut(usize::from(transaction.converter)) {
                queue.push_back(transaction.clone());
            }
        }
    }

    fn boot(&self) -> Shell<'static, Twinned> {
        let first = self.first.unwrap_or(0);
        let identity = Identity { number: NUMBER, is_virtual: false, has_display: false };
        let mock = truesoak_board_mock::parts(&self.world, &MockFlash::new(1, 0), identity);
        let (world, replayed) = (self.world.clone(), self.replayed.clone());
        let parts = Parts {
            drive: mock.drive,
            permit: mock.permit,
            fan: mock.fan,
            lamp: mock.lamp,
            beeper: mock.beeper,
            go: mock.go,
            stop: mock.stop,
            door: mock.door,
            permit_read: mock.permit_read,
            mains_proof: mock.mains_proof,
            airflow: mock.airflow,
            converters: [0, 1, 2]
                .map(|converter| ReplayBus { replayed: replayed.clone(), converter }),
            flash: self.flash.clone(),
            region: STORE,
            port: mock.port,
            clock: Clocks { world, replayed, first, counting: None },
            watchdog: mock.watchdog,
            chip: mock.chip,
            screen: NoScreen,
            identity,
        };
        // A board's memory is a static; a twin's is one that nobody gives back.
        let memory: &'static mut Memory = Box::leak(Box::default());
        Shell::boot(parts, memory)
    }

    fn compare(&mut self, edges: u64, seen: &Seen) -> Vec<String> {
        let mut replayed = self.replayed.borrow_mut();
        let mut differs = std::mem::take(&mut replayed.differs);
        let left = replayed.transactions.iter().map(VecDeque::len).sum::<usize>();
        if left > 0 {
            differs.push(format!("{left} transactions of the board are not the desk's"));
        }
        let (edges, levels) = self.world.look(|outside| {
            let levels = [
                ("drive", outside.drive, seen.drive),
                ("permit", outside.permit, seen.permit_high),
                ("fan", outside.fan, seen.fan),
                ("lamp", outside.lamp, seen.lamp),
                ("beeper", outside.beeper, seen.beeper),
            ];
            (outside.permit_edges - edges, levels)
        });
        for (name, desk, board) in levels.iter().filter(|(_, desk, board)| desk != board) {
            differs.push(format!("{name}: desk {desk}, board {board}"));
        }
        if edges != u64::from(seen.permit_edges) {
            differs.push(format!("edges: desk {edges}, board {}", seen.permit_edges));
        }
        let desk = self.flash.digest();
        if desk != seen.flash_digest {
            let board = seen.flash_digest;
            differs.push(format!("flash operations: desk {desk:08x}, board {board:08x}"));
        }
        differs
    }
}
