//! The board's whole shell, on mock pins, run through the plant as the rehearsal's controller is.
//!
//! The rehearsal's world gives inputs; they become levels on pins and registers of converters. What
//! the board does is read off its drive and permit pins. People press its buttons; nothing is asked
//! of it in any other way.

#![allow(dead_code)] // not every test uses all of it

use truesoak::files::Setup;
use truesoak::plant::Draw;
use truesoak::rehearse::{Runner, Trace, World as Oven, run};
use truesoak_board_mock::computer::{Heard, document};
use truesoak_board_mock::{Computer, Flash, MockBoard, SECTORS, World, parts};
use truesoak_core::Controller;
use truesoak_core::bake::Bake;
use truesoak_core::event::Event;
use truesoak_core::io::{Door, Heat, Inputs, Outputs, Sample, Transfer};
use truesoak_core::record::Record;
use truesoak_core::sensor::Thermocouple;
use truesoak_core::sequence::Mode;
use truesoak_core::units::Tick;
use truesoak_core::wire::compiled::COMPILED_BYTES_MAX;
use truesoak_core::wire::messages::{Reply, Request};
use truesoak_core::wire::settings::Fitting;
use truesoak_firmware::store::{Region, Store};
use truesoak_firmware::{Identity, Memory, Reset, Shell};
use truesoak_tests::fetched::Fetched;
use truesoak_tests::{compiled, settings};

/// A press of GO takes so many ticks, and so many are between two: buttons bounce, and a release of
/// a tenth of a second is none.
const PRESS_TICKS: u32 = 23;
const REST_TICKS: u32 = 4;

/// The hand of somebody who wants GO pressed.
#[derive(Clone, Copy, Debug, Default)]
struct Hand {
    held: u32,
    rested: u32,
}

impl Hand {
    fn takes(&mut self, wants: bool) -> bool {
        if self.held == 0 && (!wants || self.rested < REST_TICKS) {
            self.rested += 1;
            return false;
        }
        self.rested = 0;
        self.held += 1;
        if self.held >= PRESS_TICKS {
            self.held = 0;
        }
        true
    }
}

/// A board that runs a bake.
pub struct Board {
    pub world: World,
    pub flash: Flash,
    pub shell: Shell<'static, MockBoard>,
    pub computer: Computer,
    bake: Bake,
    /// Ticks of the board's clock when the bake began.
    offset: u32,
    last_frame: Option<u64>,
    hand: Hand,
    resets: u8,
    must_boot: bool,
    /// Bytes the computer sends in every tick.
    pub flood: Vec<u8>,
    /// Ticks in which the watchdog was not fed.
    pub unfed: u32,
    /// The supply goes at this tick of the bake, in the operation of the flash with this number; it
    /// is back a minute later.
    pub cut: Option<(u32, u64)>,
}

impl Board {
    /// A commissioned board that was sent this setup's bake.
    pub fn new(setup: &Setup) -> Self {
        let flash = commissioned(setup);
        let world = World::default();
        let shell = boot(&world, &flash);
        let computer = Computer::new(&world);
        let bake = setup.bake.bake.clone();
        let mut board = Self {
            world,
            flash,
            shell,
            computer,
            bake,
            offset: 0,
            last_frame: None,
            hand: Hand::default(),
            resets: 0,
            must_boot: false,
            flood: Vec::new(),
            unfed: 0,
            cut: None,
        };
        let mut bytes = [0; COMPILED_BYTES_MAX];
        let len = compiled(setup).encode(&mut bytes).expect("it fits");
        let (outline, bytes) = document("bake", "oven", "load", &bytes[..len]);
        let Board { world, shell, computer, .. } = &mut board;
        let done = computer.upload(outline, &bytes, || idle(world, shell));
        assert_eq!(done, Heard::Other(Reply::Done));
        // Room is made, an erase a tick.
        (0..400).for_each(|_| idle(world, shell));
        board
    }

    /// The same board, switched on with GO held, and GO let go: the board's own bake is next.
    pub fn commission(&mut self) {
        self.world.change(|outside| {
            outside.lose_outputs();
            outside.go = true;
        });
        self.shell = boot(&self.world, &self.flash);
        (0..30).for_each(|_| self.idle());
        self.world.change(|outside| outside.go = false);
        (0..300).for_each(|_| self.idle());
        self.take_what_is_loaded();
    }

    /// The bake that the board has ready is the one to come.
    pub fn take_what_is_loaded(&mut self) {
        self.bake = self.controller().bake().clone();
    }

    pub fn controller(&self) -> &Controller {
        self.shell.controller().expect("a controller")
    }

    /// One tick at rest.
    pub fn idle(&mut self) {
        idle(&self.world, &mut self.shell);
    }

    /// Asks while the board goes on at rest.
    pub fn ask(&mut self, request: &Request<'_>) -> Heard {
        let Self { world, shell, computer, .. } = self;
        computer.ask(request, || idle(world, shell))
    }

    /// Fetches a bake from a board at rest.
    pub fn fetch(&mut self, bake: u32) -> Fetched {
        let Self { world, shell, computer, .. } = self;
        Fetched::of(&computer.fetch(bake, || idle(world, shell))).expect("a stored bake")
    }

    /// GO is held and let go so that the tick after this is the one that starts the bake: a contact
    /// is believed a tick later.
    fn press_to_begin(&mut self, inputs: &Inputs) {
        // The oven of the last bake was warmer; its sensor is believed again after a while.
        for tick in 0..320 {
            self.show(&Inputs { go: (300..319).contains(&tick), ..*inputs });
            self.world.change(|outside| outside.independent_ticks = outside.ticks);
            self.shell.tick();
        }
        assert_eq!(self.controller().mode(), Mode::Idle, "{:?}", self.controller().trip());
        self.hand = Hand::default();
        self.offset = self.world.look(|outside| outside.ticks) + 1;
    }

    fn show(&mut self, inputs: &Inputs) {
        // The very same frame again: the converter stands still, its junction with it.
        let stands_still = self.last_frame == Some(inputs.air.frame);
        self.last_frame = Some(inputs.air.frame);
        let sensors = [Some(inputs.air), inputs.air_b, inputs.part_probe];
        self.world.change(|outside| {
            outside.ticks += 1;
            outside.independent_ticks =
                self.offset.wrapping_add(inputs.independent_ticks.unwrap_or(0));
            for (at, (sensor, sample)) in outside.sensors.iter_mut().zip(sensors).enumerate() {
                let Some(Sample { value, transfer, .. }) = sample else { continue };
                if at > 0 || !stands_still {
                    if value.is_physical() {
                        sensor.celsius = f64::from(value.0);
                    }
                    sensor.junction = inputs.cold_junction.map_or(25.0, |cold| f64::from(cold.0));
                }
                sensor.open = transfer == Transfer::Open;
                sensor.short = transfer == Transfer::Short;
                sensor.silent =
                    matches!(transfer, Transfer::Silent | Transfer::Impossible).then_some(0xff);
            }
            outside.sensors[0].never_ends = inputs.air.age_ticks > 0;
            outside.go = inputs.go;
            outside.stop = inputs.stop;
            outside.door_open = inputs.door == Some(Door::Open);
            outside.air_moves = inputs.airflow == Some(true);
            outside.contactor_shows = inputs.permit_feedback;
            outside.mains_shows = inputs.mains_at_heater;
            outside.memory_holds = inputs.health.memory;
            outside.to_board.extend(&self.flood);
        });
    }
}

impl Runner for Board {
    fn begin(&mut self) {
        // A person does, with the first inputs.
    }

    fn tick(&mut self, now: Tick, inputs: &Inputs) -> Outputs {
        if now == Tick(0) {
            self.press_to_begin(inputs);
        }
        let inputs = &Inputs { go: self.hand.takes(inputs.go), ..*inputs };
        let ticks = self.offset + now.0;
        self.world.change(|outside| outside.ticks = ticks - 1);
        self.show(inputs);
        if std::mem::take(&mut self.must_boot) {
            let was_reset = inputs.health.watchdog_resets > self.resets;
            self.world.change(|outside| {
                outside.reset = if was_reset { Reset::Watchdog } else { Reset::Supply };
            });
            self.shell = boot(&self.world, &self.flash);
        }
        self.resets = inputs.health.watchdog_resets;
        if let Some((_, operation)) = self.cut.filter(|(at, _)| *at == now.0) {
            self.flash.cut_after(Some(operation));
        }
        let edges = self.world.look(|outside| outside.permit_edges);
        self.shell.tick();
        self.world.change(|outside| outside.from_board.clear());
        self.unfed += self.world.look(|outside| u32::from(outside.fed_at != outside.ticks));
        let asks = self.controller().asks();
        self.world.look(|outside| {
            let drive = outside.drive;
            let allowed = outside.permit_edges == edges + 1;
            assert!(allowed || outside.permit_edges == edges, "one edge a tick at most");
            Outputs {
                heat: if allowed { Heat::Allowed { drive } } else { Heat::Cut },
                fan: outside.fan,
                asks,
            }
        })
    }

    fn events(&self) -> &[Event] {
        self.controller().events()
    }

    fn record(&self) -> Option<&Record> {
        self.controller().record()
    }

    fn mode(&self) -> Mode {
        // A board that is to start again is not at rest.
        if self.must_boot { Mode::Running } else { self.controller().mode() }
    }

    fn ended_credit_s(&self, part: usize) -> u32 {
        self.controller().ledger().map_or(0, |ledger| ledger.ended_class_credit_s(part))
    }

    fn credit_s(&self, part: usize) -> u32 {
        self.controller().ledger().map_or(0, |ledger| ledger.class_credit_s(part))
    }

    fn bake(&self) -> &Bake {
        &self.bake
    }

    fn restart(&mut self) {
        self.flash.cut_after(None);
        self.world.change(truesoak_board_mock::Outside::lose_outputs);
        self.must_boot = true;
    }

    fn is_short(&self) -> bool {
        self.controller().is_short()
    }
}

fn boot(world: &World, flash: &Flash) -> Shell<'static, MockBoard> {
    let memory: &'static mut Memory = Box::leak(Box::default());
    Shell::boot(parts(world, flash, Identity::default()), memory)
}

fn idle(world: &World, shell: &mut Shell<'static, MockBoard>) {
    world.change(|outside| {
        outside.ticks += 1;
        outside.independent_ticks += 1;
    });
    shell.tick();
}

/// A flash with what commissioning an oven like this leaves.
fn commissioned(setup: &Setup) -> Flash {
    let settings = settings(setup, Fitting::Max31856(Thermocouple::K));
    let flash = Flash::new(usize::from(SECTORS), 7);
    let region = Region { start: 0, sectors: SECTORS };
    let mut store = Store::open(flash.clone(), region, || ()).expect("it opens");
    store.set_settings(&settings).expect("it takes them");
    flash
}

/// Runs a bake on a board in an oven drawn like this; what was seen from outside.
pub fn bake(board: &mut Board, setup: &Setup, draw: Option<u64>, seed: u64) -> Trace {
    let draw = draw.map_or_else(|| Draw::nominal(&setup.oven), |nth| Draw::nth(&setup.oven, nth));
    let (oven, load) = (&setup.oven, &setup.load);
    let mut world = Oven::new(&setup.bake, oven, load, &draw, oven, seed);
    let mut trace = Trace::new(&setup.bake, load, true);
    run(board, &mut world, false, &mut trace);
    trace
}
