//! Board and twin in the oven of a rehearsal: its plant, its people, its faults.
//!
//! The rehearsal's world says what sensors and contacts are; here that becomes conversions, levels
//! and, where a fault is the board's own, what is done to the chip. What the board does is read off
//! its pins. Nothing is asked of it but by its buttons.

mod act;

use super::board::{Contacts, Made, Seen, TICK_NS};
use super::computer::{Document, Heard};
use super::frames::{Chip, Conversion};
use super::pair::Pair;
use super::twin::{Flash, STORE};
use crate::{compiled, settings};
use std::ops::Range;
use truesoak::files::Setup;
use truesoak::plant::Draw;
use truesoak::rehearse::{Runner, Trace, World, run};
use truesoak_core::Controller;
use truesoak_core::bake::Bake;
use truesoak_core::bounds::model::Model;
use truesoak_core::event::Event;
use truesoak_core::io::{Heat, Inputs, Outputs, Sample, Transfer};
use truesoak_core::person::GO_TICKS;
use truesoak_core::record::Record;
use truesoak_core::sensor::{Platinum, Thermocouple};
use truesoak_core::sequence::Mode;
use truesoak_core::units::{Celsius, Tick};
use truesoak_core::wire::compiled::COMPILED_BYTES_MAX;
use truesoak_core::wire::messages::Reply;
use truesoak_core::wire::settings::Fitting;
use truesoak_firmware::store::Store;

/// Reference resistor of a Pt100's converter, Ω.
const REFERENCE_OHMS: u16 = 400;
/// Heat that is off for so long is off for a reason, ns.
const PAUSE_NS: f64 = 5e9;
/// A board is watched for so long after its trip; what is left of the rehearsal's coast, the plant
/// has alone: a latched trip changes nothing any more.
const WATCHED_TICKS: u32 = 600;
/// A board tests itself and makes room for a bake, at most for so long …
const READY_TICKS: u32 = 600;
/// … and is through with it when nothing was done to the flash for so many ticks.
const QUIET_TICKS: u32 = 40;

/// Which converter reads the sensors.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fits {
    /// MAX31855, type K.
    Max31855,
    /// MAX31856, type K.
    Max31856,
    /// MAX31865, Pt100.
    Max31865,
}

impl Fits {
    fn fitting(self) -> Fitting {
        match self {
            Self::Max31855 => Fitting::Max31855(Thermocouple::K),
            Self::Max31856 => Fitting::Max31856(Thermocouple::K),
            Self::Max31865 => Fitting::Max31865 {
                sensor: Platinum::Pt100,
                wires: 3,
                reference_ohms: REFERENCE_OHMS,
            },
        }
    }

    fn chip(self) -> Chip {
        match self {
            Self::Max31855 => Chip::Max31855(Thermocouple::K),
            Self::Max31856 => Chip::Max31856,
            Self::Max31865 => Chip::Max31865(Platinum::Pt100, f32::from(REFERENCE_OHMS)),
        }
    }
}

/// The document of a setup.
///
/// # Panics
/// A setup that does not compile, or that no board has room for.
#[must_use]
pub fn document(setup: &Setup) -> Document {
    let mut bytes = [0; COMPILED_BYTES_MAX];
    let len = compiled(setup).encode(&mut bytes).expect("every bake fits");
    Document::of(["bake", "oven", "load"], &bytes[..len])
}

/// Converters on the three selects of a board for this setup.
#[must_use]
pub fn chips(setup: &Setup, fits: Fits) -> [Option<Chip>; 3] {
    let probe = setup.load.parts.iter().any(|part| part.probe);
    let chip = fits.chip();
    [Some(chip), setup.oven.sensor_b.map(|_| chip), probe.then_some(chip)]
}

/// A flash with what commissioning an oven like this leaves.
///
/// # Panics
/// A store that does not open on a blank flash.
#[must_use]
pub fn commissioned(setup: &Setup, fits: Fits) -> Flash {
    let flash = Flash::default();
    let mut store = Store::open(flash.clone(), STORE, || ()).expect("a blank flash opens");
    store.set_settings(&settings(setup, fits.fitting())).expect("a blank flash takes them");
    flash
}

/// Where the newest of the settings that are stored lie in the flash: the boot writes them once more.
fn settings_at(pair: &Pair, setup: &Setup, fits: Fits) -> usize {
    let wanted = settings(setup, fits.fitting());
    let bytes = pair.twin.flash.bytes();
    let mut places = bytes.windows(wanted.len()).enumerate();
    let last = places.rfind(|(_, window)| *window == wanted.as_slice());
    last.expect("the settings are in the flash").0
}

/// What the air's converter is to show, of what the controller and its model expect; `None`: the truth.
pub type Shows = fn(&Controller, &Model) -> Option<Celsius>;

/// Whether something is so of the controller after its last tick.
pub type Watch = fn(&Controller) -> bool;

/// A bake under way on a board.
#[derive(Debug)]
pub struct Oven {
    /// Board and twin.
    pub pair: Pair,
    bake: Bake,
    model: Model,
    starts_at: Celsius,
    /// Board time of the bake's tick 0, ns.
    pub began_ns: f64,
    last_tick: Option<u32>,
    last: [Option<Sample>; 3],
    silent: bool,
    /// The air converter's conversions do not end.
    stuck: bool,
    clock_wrong: bool,
    welded: bool,
    follows_feedback: bool,
    harmed: [bool; 3],
    resets: u8,
    restarts: bool,
    /// Where a byte of the settings lies in the flash.
    settings_at: usize,
    /// Bytes for the board alone before each stretch, by the stretch's number.
    pub nuisance: Option<fn(u64) -> Vec<u8>>,
    /// What the air's converter shows other than what is true.
    pub shows: Option<Shows>,
    /// Where the wire from a silent converter is held: "low" or "high".
    pub silent_as: &'static str,
    /// The cable is out in these ticks of the bake.
    pub unplugged: Range<u32>,
    /// The air's converter alone loses its supply for a moment in these ticks of the bake.
    pub converter_lost: &'static [u32],
    /// What is looked out for.
    pub watch: Option<Watch>,
    /// The bake's tick in which that was first so.
    pub watched_tick: Option<u32>,
    /// Heat was seen in a tick after a trip was latched.
    pub heat_after_trip: bool,
    /// Ticks of the bake since a trip was latched.
    tripped_ticks: u32,
    /// When heat was last seen: drive high, or an edge of the permit, ns of the bake.
    pub last_heat_ns: f64,
    /// The same of every stretch that had some.
    heats_ns: Vec<f64>,
}

impl Oven {
    /// A commissioned board that was sent this setup's bake, at rest and ready.
    ///
    /// # Errors
    /// The emulator cannot be started.
    ///
    /// # Panics
    /// The board refuses the bake.
    pub fn new(made: &Made, setup: &Setup, fits: Fits) -> std::io::Result<Self> {
        let mut made = made.clone();
        made.chips = chips(setup, fits);
        Ok(Self::on(Pair::new(&made, &commissioned(setup, fits))?, setup, fits))
    }

    /// The same of a board whose supply has just come.
    ///
    /// # Panics
    /// The board refuses the bake.
    #[must_use]
    pub fn on(pair: Pair, setup: &Setup, fits: Fits) -> Self {
        let follows_feedback = setup.bake.faults.iter().any(|fault| fault.kind == "permit-welded");
        let mut oven = Self {
            pair,
            bake: setup.bake.bake.clone(),
            model: compiled(setup).model,
            starts_at: Celsius(setup.bake.oven_starts_at_c as f32),
            began_ns: 0.0,
            last_tick: None,
            last: [None; 3],
            silent: false,
            stuck: false,
            clock_wrong: false,
            welded: false,
            follows_feedback,
            harmed: [false; 3],
            resets: 0,
            restarts: false,
            settings_at: 0,
            nuisance: None,
            shows: None,
            silent_as: "low",
            unplugged: 0..0,
            converter_lost: &[],
            watch: None,
            watched_tick: None,
            heat_after_trip: false,
            tripped_ticks: 0,
            last_heat_ns: 0.0,
            heats_ns: Vec::new(),
        };
        oven.rest();
        oven.pair.ticks(30);
        for request in document(setup).requests() {
            let reply = oven.pair.ask(&request);
            assert_eq!(reply, Heard::Other(Reply::Done), "to {request:?}");
        }
        oven.ready();
        oven.settings_at = settings_at(&oven.pair, setup, fits);
        oven
    }

    /// The supply goes and comes back, and the board is at rest and ready for the next bake.
    pub fn again(&mut self) {
        self.rest();
        self.pair.cut_supply(2e9);
        self.ready();
        (self.last_tick, self.last) = (None, [None; 3]);
        (self.last_heat_ns, self.tripped_ticks) = (0.0, 0);
        self.heats_ns.clear();
    }

    /// Nobody is at the oven, and it has the room's temperature.
    fn rest(&mut self) {
        let cold = Celsius(26.0);
        let at_rest = Conversion { hot: self.starts_at, cold, transfer: Transfer::Good };
        let board = &mut self.pair.board;
        board.conversions = board.chips.map(|chip| chip.map(|_| at_rest));
        board.contacts = Contacts::default();
    }

    /// The air sensor shows this of what is true and of its converter's own temperature, °C, and has
    /// done so for a while.
    pub fn shows_at_rest(&mut self, shown: impl Fn(f32, f32) -> f32) {
        if let Some(Some(air)) = self.pair.board.conversions.first_mut() {
            air.hot = Celsius(shown(air.hot.0, air.cold.0));
        }
        self.pair.ticks(20);
    }

    fn ready(&mut self) {
        let mut quiet = 0;
        for _ in 0..READY_TICKS {
            let seen = self.pair.tick();
            quiet = if seen.erased + seen.programmed > 0 { 0 } else { quiet + 1 };
            if quiet > QUIET_TICKS {
                return;
            }
        }
    }

    /// Runs the bake to its end in an oven drawn like this.
    pub fn bake(&mut self, setup: &Setup, draw: Option<u64>, seed: u64) -> (Trace, World) {
        self.bake_in(setup, setup, draw, seed)
    }

    /// The same where oven and load are truly others.
    pub fn bake_in(
        &mut self,
        setup: &Setup,
        truth: &Setup,
        draw: Option<u64>,
        seed: u64,
    ) -> (Trace, World) {
        let (oven, load) = (&truth.oven, &truth.load);
        let draw = draw.map_or_else(|| Draw::nominal(oven), |nth| Draw::nth(oven, nth));
        let mut world = World::new(&setup.bake, oven, load, &draw, &setup.oven, seed);
        let mut trace = Trace::new(&setup.bake, load, true);
        run(self, &mut world, false, &mut trace);
        // No world sets them any more, and a bake that is over draws no current.
        self.pair.board.contacts = Contacts::default();
        (trace, world)
    }

    /// Time of a bake's tick, ns of the board.
    #[must_use]
    pub fn tick_ns(&self, tick: u32) -> f64 {
        self.began_ns + f64::from(tick) * TICK_NS
    }

    /// From the moment a fault was there, half a tick before the bake's tick that could first see it,
    /// to the last heat of all, s.
    #[must_use]
    pub fn heat_until_s(&self, tick: u32) -> f64 {
        let begun_ns = f64::from(tick) * TICK_NS - TICK_NS / 2.0;
        (self.last_heat_ns - begun_ns) / 1e9
    }

    /// From the same moment to where heat was off for the next five seconds, s.
    #[must_use]
    pub fn off_after_s(&self, tick: u32) -> f64 {
        let begun_ns = f64::from(tick) * TICK_NS - TICK_NS / 2.0;
        let mut last_ns = begun_ns;
        for heat_ns in self.heats_ns.iter().filter(|at| **at >= begun_ns) {
            if heat_ns - last_ns > PAUSE_NS {
                break;
            }
            last_ns = *heat_ns;
        }
        (last_ns - begun_ns) / 1e9
    }

    /// What the board thinks, once it has begun to.
    #[must_use]
    pub fn controller(&self) -> Option<&Controller> {
        self.pair.twin.controller()
    }

    /// The board is no longer watched.
    fn coasts(&self) -> bool {
        self.tripped_ticks > WATCHED_TICKS
    }

    fn look(&mut self, seen: &Seen, was_tripped: bool) {
        self.heat_after_trip |= was_tripped && (seen.drive_ns > 0.0 || seen.permit_edges > 0);
        let heat_ns = seen.drive_last_ns.max(seen.permit_last_ns) - self.began_ns;
        if heat_ns > self.last_heat_ns {
            self.heats_ns.push(heat_ns);
            self.last_heat_ns = heat_ns;
        }
    }
}

impl Runner for Oven {
    fn begin(&mut self) {
        // GO is let go so that the tick after this is the one that sees it and starts the bake.
        self.pair.board.contacts.go = true;
        self.pair.ticks(GO_TICKS - 1);
        self.pair.board.contacts.go = false;
        self.pair.ticks(1);
        let mode = self.pair.controller().mode();
        assert_eq!(mode, Mode::Idle, "{:?}", self.pair.controller().trip());
        self.began_ns = self.pair.board.now_ns + TICK_NS / 2.0;
    }

    fn tick(&mut self, now: Tick, inputs: &Inputs) -> Outputs {
        let is_tripped = self.controller().is_some_and(|of| of.trip().is_some());
        self.tripped_ticks = if is_tripped { self.tripped_ticks + 1 } else { 0 };
        if self.coasts() {
            return Outputs::default();
        }
        let due = self.last_tick.map_or(0, |last| last + 1);
        self.catch_up(now.0 - due, inputs);
        self.last_tick = Some(now.0);
        self.set(inputs);
        self.harm(now, inputs);
        self.look_out(now);
        if let Some(nuisance) = self.nuisance {
            let bytes = nuisance(self.pair.stretches);
            self.pair.board.send(&bytes);
        }
        let seen = self.pair.tick().clone();
        self.look(&seen, is_tripped);
        let allowed = seen.permit_edges > 0;
        let asks = self.controller().and_then(Controller::asks);
        let heat = if allowed { Heat::Allowed { drive: seen.drive } } else { Heat::Cut };
        Outputs { heat, fan: seen.fan, asks }
    }

    fn events(&self) -> &[Event] {
        if self.coasts() {
            return &[];
        }
        self.controller().map_or(&[], |of| of.events())
    }

    fn record(&self) -> Option<&Record> {
        self.controller().and_then(Controller::record).filter(|_| !self.coasts())
    }

    fn mode(&self) -> Mode {
        // A board that is to start again is not at rest.
        self.controller().map_or(Mode::Running, Controller::mode)
    }

    fn ended_credit_s(&self, part: usize) -> u32 {
        let ledger = self.controller().and_then(Controller::ledger);
        ledger.map_or(0, |ledger| ledger.ended_class_credit_s(part))
    }

    fn credit_s(&self, part: usize) -> u32 {
        let ledger = self.controller().and_then(Controller::ledger);
        ledger.map_or(0, |ledger| ledger.class_credit_s(part))
    }

    fn bake(&self) -> &Bake {
        &self.bake
    }

    fn restart(&mut self) {
        self.restarts = true;
    }

    fn is_short(&self) -> bool {
        self.controller().is_some_and(Controller::is_short)
    }
}
