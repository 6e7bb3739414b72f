//! The outside of a mock board: what a test sets, and what the board did.

use std::cell::RefCell;
use std::collections::VecDeque;
use std::rc::Rc;
use truesoak_firmware::Reset;
use truesoak_firmware::board::SCREEN_LINES;

/// The pump holds the contactor for so many ticks after the last edge: 0.5 s.
pub const HOLD_TICKS: u32 = 5;

/// One sensor behind its converter.
#[derive(Clone, Debug, PartialEq)]
pub struct Sensor {
    /// What it reads, °C.
    pub celsius: f64,
    /// The converter's own temperature, °C.
    pub junction: f64,
    /// Wires open.
    pub open: bool,
    /// An input at ground or supply.
    pub short: bool,
    /// What the bus answers instead: all zeros or all ones.
    pub silent: Option<u8>,
    /// A conversion that is under way does not end.
    pub never_ends: bool,
    /// The registers that are set up, as the board wrote them.
    pub written: [u8; 10],
    pub(crate) result: [u8; 6],
    pub(crate) asked_at: u32,
}

/// What a MAX31856 has in the registers that are set up when its supply comes (data sheet, from memory).
const AFTER_RESET: [u8; 10] = [0x00, 0x03, 0xff, 0x7f, 0xc0, 0x7f, 0xff, 0x80, 0x00, 0x00];

/// Something a board does in a tick.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Act {
    /// A converter is asked.
    Asks,
    /// The drive is switched.
    Drives,
    /// Bytes go to the computer.
    Says,
    /// The permit has an edge.
    Toggles,
    /// The watchdog is fed.
    Feeds,
}

/// Everything around the board.
#[derive(Clone, Debug)]
pub struct Outside {
    /// The processor's ticks.
    pub ticks: u32,
    /// The independent clock's.
    pub independent_ticks: u32,
    /// Air sensor, second air sensor, part probe.
    pub sensors: [Sensor; 3],
    /// GO is pressed.
    pub go: bool,
    /// STOP is pressed, or its wire cut.
    pub stop: bool,
    /// The door is open.
    pub door_open: bool,
    /// The fan moves air.
    pub air_moves: bool,
    /// The contactor's contacts are welded.
    pub contactor_welded: bool,
    /// The drive's switch conducts whatever its pin says.
    pub switch_welded: bool,
    /// The drive's pin does not follow.
    pub drive_stuck: Option<bool>,
    /// The permit's pin does not follow.
    pub permit_stuck: Option<bool>,
    /// Added to every converter's own temperature, K.
    pub junction_offset: f64,
    /// What the mirror contact says, whatever the contactor does.
    pub contactor_shows: Option<bool>,
    /// What the proof of mains at the heater says, whatever flows.
    pub mains_shows: Option<bool>,
    /// Pins that report an error when read.
    pub contacts_broken: bool,
    /// Why the chip started.
    pub reset: Reset,
    /// The image has its checksum.
    pub image_holds: bool,
    /// The memory keeps patterns.
    pub memory_holds: bool,
    /// The drive's pin.
    pub drive: bool,
    /// The permit's pin.
    pub permit: bool,
    /// Edges of the permit's pin.
    pub permit_edges: u64,
    /// Tick of the last one.
    pub last_edge: Option<u32>,
    /// The fan's pin.
    pub fan: bool,
    /// The lamp's.
    pub lamp: bool,
    /// The beeper's.
    pub beeper: bool,
    /// What the board does, in order; kept only where a test asks for it.
    pub acts: Option<Vec<Act>>,
    /// The display's lines.
    pub screen: [String; SCREEN_LINES as usize],
    /// When the watchdog was last fed.
    pub fed_at: u32,
    /// Bytes on their way to the board.
    pub to_board: VecDeque<u8>,
    /// Bytes that came from it.
    pub from_board: VecDeque<u8>,
}

impl Default for Outside {
    fn default() -> Self {
        let sensor = Sensor {
            celsius: 20.0,
            junction: 25.0,
            open: false,
            short: false,
            silent: None,
            never_ends: false,
            written: AFTER_RESET,
            result: [0; 6],
            asked_at: 0,
        };
        Self {
            ticks: 0,
            independent_ticks: 0,
            sensors: [sensor.clone(), sensor.clone(), sensor],
            go: false,
            stop: false,
            door_open: false,
            air_moves: false,
            contactor_welded: false,
            switch_welded: false,
            drive_stuck: None,
            permit_stuck: None,
            junction_offset: 0.0,
            contactor_shows: None,
            mains_shows: None,
            contacts_broken: false,
            reset: Reset::Supply,
            image_holds: true,
            memory_holds: true,
            drive: false,
            permit: false,
            permit_edges: 0,
            last_edge: None,
            fan: false,
            lamp: false,
            beeper: false,
            acts: None,
            screen: Default::default(),
            fed_at: 0,
            to_board: VecDeque::new(),
            from_board: VecDeque::new(),
        }
    }
}

impl Outside {
    /// Notes what the board does.
    pub(crate) fn note(&mut self, act: Act) {
        if let Some(acts) = &mut self.acts {
            acts.push(act);
        }
    }

    /// The contactor is closed.
    #[must_use]
    pub fn contactor_closed(&self) -> bool {
        let held = self.last_edge.is_some_and(|at| self.ticks.wrapping_sub(at) <= HOLD_TICKS);
        (held && !self.stop && !self.door_open) || self.contactor_welded
    }

    /// Current flows through the heater.
    #[must_use]
    pub fn heats(&self) -> bool {
        self.contactor_closed() && (self.drive || self.switch_welded)
    }

    /// The supply or a reset: every pin is an input, and low.
    pub fn lose_outputs(&mut self) {
        (self.drive, self.permit, self.fan) = (false, false, false);
        (self.lamp, self.beeper) = (false, false);
        self.from_board.clear();
        self.to_board.clear();
    }
}

/// The outside, held by the board's parts and by the test.
#[derive(Clone, Debug, Default)]
pub struct World(Rc<RefCell<Outside>>);

impl World {
    /// Looks at it.
    pub fn look<T>(&self, with: impl FnOnce(&Outside) -> T) -> T {
        with(&self.0.borrow())
    }

    /// Changes it.
    pub fn change<T>(&self, with: impl FnOnce(&mut Outside) -> T) -> T {
        with(&mut self.0.borrow_mut())
    }
}
