//! A mock board with a hand at every pin, shared by the shell's tests. No plant: what the oven shows
//! is what a test writes.

#![allow(dead_code)] // not every test uses all of it

#[path = "../../../core/tests/hand/mod.rs"]
pub mod hand;

use truesoak_board_mock::computer::{Heard, document};
use truesoak_board_mock::{Computer, Flash, MockBoard, World, parts};
use truesoak_core::bake::{Bake, Limits, Ramp, Step};
use truesoak_core::event::Event;
use truesoak_core::guard::TripKind;
use truesoak_core::regulate::Tuning;
use truesoak_core::sensor::Thermocouple;
use truesoak_core::sequence::Mode;
use truesoak_core::tick::Settings;
use truesoak_core::units::{Celsius, Kelvins};
use truesoak_core::wire::compiled::{COMPILED_BYTES_MAX, Compiled};
use truesoak_core::wire::messages::{Reply, Request};
use truesoak_core::wire::settings::{BoardSettings, Fitted, Fitting};
use truesoak_firmware::shell::Commissioned;
use truesoak_firmware::store::{Region, SETTINGS_MAX, Store};
use truesoak_firmware::{Identity, Memory, Reset, Shell};

/// Sectors of a test's flash: room for 40 minutes of a bake.
pub const SECTORS: usize = 64;

pub const AIR: Fitted = Fitted { fitting: Fitting::Max31856(Thermocouple::K), correction_steps: 0 };

pub const SETTINGS: BoardSettings = BoardSettings {
    air: AIR,
    air_b: None,
    part_probe: None,
    door_switch: true,
    permit_feedback: true,
    mains_at_heater: true,
    airflow: false,
    independent_clock: true,
    mains_60_hz: false,
    air_max_c: 230,
};

pub const CHECKED: [bool; 3] = [true; 3];

/// A bake that heats a small load, or an empty cabinet, for a while.
pub fn compiled(steps: &[Step]) -> Compiled {
    let limits = Limits { bake_max_s: 900, ..hand::LIMITS };
    let settings = Settings {
        tuning: Tuning { gain_per_k: 0.05, integral_time_s: 100.0, derivative_time_s: 0.0 },
        minimum_on_s: 1.0,
        minimum_off_s: 1.0,
        sensor_budget: Kelvins(10.0),
        fan: false,
        is_virtual: false,
    };
    let bake = Bake { steps: steps.iter().copied().collect(), limits };
    Compiled { bake, model: hand::model(), settings }
}

pub fn ramp(to: f32) -> Step {
    Step::Ramp(Ramp { to: Celsius(to), rate_k_per_min: None })
}

/// A flash with these settings, commissioned.
pub fn commissioned(settings: BoardSettings, checked: [bool; 3]) -> Flash {
    let flash = Flash::new(SECTORS, 7);
    let region = Region { start: 0, sectors: SECTORS as u16 };
    let mut store = Store::open(flash.clone(), region, || ()).expect("a blank flash opens");
    let mut bytes = [0; SETTINGS_MAX];
    let len = Commissioned { settings, checked }.encode(&mut bytes).expect("they fit");
    store.set_settings(&bytes[..len]).expect("a blank flash takes them");
    flash
}

/// The board.
pub struct Bench {
    pub world: World,
    pub flash: Flash,
    pub shell: Shell<'static, MockBoard>,
    pub computer: Computer,
    pub identity: Identity,
    pub heard: Vec<Event>,
}

impl Bench {
    /// A commissioned board that has just been switched on.
    pub fn new() -> Self {
        Self::of(commissioned(SETTINGS, CHECKED))
    }

    pub fn of(flash: Flash) -> Self {
        Self::with(World::default(), flash, Identity::default())
    }

    pub fn with(world: World, flash: Flash, identity: Identity) -> Self {
        let shell = boot(&world, &flash, identity);
        let computer = Computer::new(&world);
        Self { world, flash, shell, computer, identity, heard: Vec::new() }
    }

    /// With a bake that was sent, past its self-test.
    pub fn loaded(steps: &[Step]) -> Self {
        Self::new().load(&compiled(steps))
    }

    pub fn load(mut self, compiled: &Compiled) -> Self {
        assert_eq!(self.send(compiled), Heard::Other(Reply::Done));
        self.ticks(100);
        self
    }

    /// A bake that heats since three seconds.
    pub fn heating() -> Self {
        let mut bench = Self::loaded(&[hand::soak()]);
        bench.press_go().ticks(30);
        assert!(bench.world.look(truesoak_board_mock::Outside::heats), "it heats");
        bench
    }

    /// Sends a bake.
    pub fn send(&mut self, compiled: &Compiled) -> Heard {
        let mut bytes = [0; COMPILED_BYTES_MAX];
        let len = compiled.encode(&mut bytes).expect("it fits");
        let (outline, bytes) = document("bake", "oven", "load", &bytes[..len]);
        let Self { world, shell, computer, .. } = self;
        computer.upload(outline, &bytes, || tick(world, shell))
    }

    pub fn ask(&mut self, request: &Request<'_>) -> Heard {
        let Self { world, shell, computer, .. } = self;
        computer.ask(request, || tick(world, shell))
    }

    pub fn fetch(&mut self, bake: u32) -> Vec<u8> {
        let Self { world, shell, computer, .. } = self;
        computer.fetch(bake, || tick(world, shell))
    }

    /// Lets the board go on.
    pub fn ticks(&mut self, count: u32) -> &mut Self {
        for _ in 0..count {
            tick(&self.world, &mut self.shell);
            let controller = self.shell.controller().expect("a controller");
            self.heard.extend_from_slice(controller.events());
        }
        self
    }

    pub fn press_go(&mut self) -> &mut Self {
        self.world.change(|outside| outside.go = true);
        self.ticks(22);
        self.world.change(|outside| outside.go = false);
        self.ticks(3)
    }

    pub fn hold_stop(&mut self, ticks: u32) -> &mut Self {
        self.world.change(|outside| outside.stop = true);
        self.ticks(ticks);
        self.world.change(|outside| outside.stop = false);
        self.ticks(3)
    }

    /// The board starts again.
    pub fn restart(&mut self, reset: Reset) -> &mut Self {
        self.world.change(|outside| {
            outside.lose_outputs();
            outside.reset = reset;
        });
        self.shell = boot(&self.world, &self.flash, self.identity);
        self
    }

    pub fn mode(&self) -> Mode {
        self.shell.controller().expect("a controller").mode()
    }

    pub fn trip(&self) -> Option<TripKind> {
        self.shell.controller().expect("a controller").trip().map(|trip| trip.kind)
    }

    /// Ticks until a trip, and its kind; no heat is commanded with it.
    pub fn trip_within(&mut self, ticks: u32) -> Option<(TripKind, u32)> {
        for tick in 1..=ticks {
            self.ticks(1);
            if let Some(kind) = self.trip() {
                assert!(!self.world.look(|outside| outside.drive), "{kind}: the drive is off");
                return Some((kind, tick));
            }
        }
        None
    }

    /// Ticks since the watchdog was fed.
    pub fn unfed(&self) -> u32 {
        self.world.look(|outside| outside.ticks - outside.fed_at)
    }
}

fn boot(world: &World, flash: &Flash, identity: Identity) -> Shell<'static, MockBoard> {
    // A board's memory is a static; a test's is one that nobody gives back.
    let memory: &'static mut Memory = Box::leak(Box::default());
    Shell::boot(parts(world, flash, identity), memory)
}

fn tick(world: &World, shell: &mut Shell<'static, MockBoard>) {
    world.change(|outside| {
        outside.ticks += 1;
        outside.independent_ticks += 1;
        // A converter's last bits are never still.
        let ticks = outside.ticks;
        for sensor in &mut outside.sensors {
            sensor.junction = 25.0 + f64::from(ticks % 7) / 64.0;
        }
    });
    shell.tick();
}
