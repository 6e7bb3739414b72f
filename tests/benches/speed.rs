//! How long the parts of a rehearsal take: `cargo bench -p truesoak-tests`.
//!
//! Every bench runs a whole bake and counts its ticks, so that items a second compare between
//! bakes: 1 Gitem/s is a nanosecond a tick. The plant alone is switched by a two-position
//! thermostat; the controller alone is fed what it was fed in the rehearsal.

use divan::Bencher;
use divan::counter::ItemsCount;
use truesoak::bare::{self, BareNetwork};
use truesoak::compile::{self, tuning::tune};
use truesoak::files::{self, Setup};
use truesoak::plant::open_loop::{OpenLoop, Stuck};
use truesoak::plant::{Draw, Plant};
use truesoak::rehearse::{Board, Request, Runner, Trace, World, model_of, rehearse, run};
use truesoak_core::Controller;
use truesoak_core::bake::Bake;
use truesoak_core::event::Event;
use truesoak_core::io::{Inputs, Outputs};
use truesoak_core::record::Record;
use truesoak_core::sequence::Mode;
use truesoak_core::tick::Command;
use truesoak_core::units::Tick;
use truesoak_tests::{bake_path, setup};

/// Two kinds of parts and a rack, loaded through the door of a hot oven.
const BAKE: &str = "gas-out-hubs.toml";

fn main() {
    divan::main();
}

fn controller(setup: &Setup) -> Controller {
    let model = model_of(setup).expect("a model");
    let settings = compile::settings(&setup.oven, tune(setup, &model).tuning);
    Controller::new(setup.bake.bake.clone(), model, settings)
}

/// A board that keeps what it is fed.
struct Recorder {
    board: Board,
    fed: Vec<(Tick, Inputs)>,
}

impl Runner for Recorder {
    fn begin(&mut self) {
        self.board.begin();
    }
    fn tick(&mut self, now: Tick, inputs: &Inputs) -> Outputs {
        self.fed.push((now, *inputs));
        self.board.tick(now, inputs)
    }
    fn events(&self) -> &[Event] {
        self.board.events()
    }
    fn record(&self) -> Option<&Record> {
        self.board.record()
    }
    fn mode(&self) -> Mode {
        self.board.mode()
    }
    fn ended_credit_s(&self, part: usize) -> u32 {
        self.board.ended_credit_s(part)
    }
    fn credit_s(&self, part: usize) -> u32 {
        self.board.credit_s(part)
    }
    fn bake(&self) -> &Bake {
        self.board.bake()
    }
    fn restart(&mut self) {
        self.board.restart();
    }
    fn is_short(&self) -> bool {
        self.board.is_short()
    }
}

/// Everything the controller was told in a bake.
fn fed(setup: &Setup) -> Vec<(Tick, Inputs)> {
    let draw = Draw::nominal(&setup.oven);
    let mut world = World::new(&setup.bake, &setup.oven, &setup.load, &draw, &setup.oven, 1);
    let mut recorder = Recorder { board: Board::new(controller(setup)), fed: Vec::new() };
    let mut trace = Trace::new(&setup.bake, &setup.load, false);
    run(&mut recorder, &mut world, false, &mut trace);
    recorder.fed
}

/// Three hours of the loaded oven, door open for half a minute, switched at 150 and 149 °C.
#[divan::bench(sample_count = 20)]
fn plant_alone(bencher: Bencher<'_, '_>) {
    const TICKS: u32 = 108_000;
    let setup = setup(BAKE, &[]);
    let draw = Draw::nominal(&setup.oven);
    let cold = Plant::new(&setup.oven, &setup.load, &draw, 20.0);
    bencher.counter(ItemsCount::new(TICKS)).with_inputs(|| cold.clone()).bench_local_values(
        |mut plant| {
            plant.load_in(&vec![true; setup.load.parts.len()], false);
            let (mut now, mut on) = (0, false);
            while now < TICKS {
                match now {
                    18_000 => plant.open_door(1.0),
                    18_300 => plant.close_door(),
                    _ => {}
                }
                let known = [18_000, 18_300, TICKS].into_iter().find(|end| *end > now);
                let length = plant.attempt(known.unwrap_or(TICKS) - now);
                let wanted = |air_c: f64| if on { air_c < 150.0 } else { air_c < 149.0 };
                let cut = (1..=length).find(|tick| wanted(plant.shown_at(*tick).air_c) != on);
                let done = cut.unwrap_or(length);
                plant.take(done);
                now += done;
                if cut.is_some() {
                    on = !on;
                    plant.set_power(if on { setup.oven.heater.power_w } else { 0.0 });
                }
            }
            plant.energy()
        },
    );
}

/// The controller's ticks of a whole bake, each with what it was fed.
#[divan::bench(sample_count = 20)]
fn controller_alone(bencher: Bencher<'_, '_>) {
    let setup = setup(BAKE, &[]);
    let fed = fed(&setup);
    let fresh = controller(&setup);
    bencher.counter(ItemsCount::new(fed.len())).with_inputs(|| fresh.clone()).bench_local_values(
        |mut controller| {
            let _ = controller.command(Tick(0), Command::Start);
            for (now, inputs) in &fed {
                divan::black_box(controller.tick(*now, inputs));
            }
            assert!(matches!(controller.mode(), Mode::Done(_)));
            controller
        },
    );
}

fn whole(bencher: Bencher<'_, '_>, bake: &str, quick: bool) {
    let setup = setup(bake, &[]);
    let request = Request { quick, ..truesoak_tests::quick(&setup) };
    let ticks = fed(&setup).len();
    bencher.counter(ItemsCount::new(ticks)).bench_local(|| rehearse(&request).expect("a bake"));
}

/// Reading a bake's files, an observed oven's factors included.
#[divan::bench(args = [BAKE, "low-cure-pedals.toml"], sample_count = 20)]
fn reading(bencher: Bencher<'_, '_>, bake: &str) {
    let path = bake_path(bake);
    bencher.bench_local(|| files::read(&path, &[]).map(|setup| setup.oven.calibration.losses));
}

/// A rehearsal without the practice and the weld.
#[divan::bench(args = [BAKE, "gas-out-crown.toml"], sample_count = 20)]
fn rehearsal_quick(bencher: Bencher<'_, '_>, bake: &str) {
    whole(bencher, bake, true);
}

/// A rehearsal with both.
#[divan::bench(args = [BAKE, "gas-out-crown.toml"], sample_count = 20)]
fn rehearsal_whole(bencher: Bencher<'_, '_>, bake: &str) {
    whole(bencher, bake, false);
}

/// An hour of a chain whose first node is heated and whose last is tied to the room: the cost of a
/// node must not grow with their number.
#[divan::bench(args = [30, 300, 3_000], sample_count = 10)]
fn bare_chain(bencher: Bencher<'_, '_>, nodes: usize) {
    let net = chain(nodes);
    bencher.counter(ItemsCount::new(nodes)).bench_local(|| {
        let bare = bare::build(&net).expect("a network");
        let stretches = bare.stretches();
        let mut course = OpenLoop::new(bare.network, bare.state, 60.0);
        for stretch in &stretches {
            course.advance::<Stuck>(stretch, |_| Ok(())).expect("followed");
        }
        course.steps()
    });
}

fn chain(nodes: usize) -> BareNetwork {
    let name =
        |index: usize| if index < nodes { format!("n{index}") } else { "ambient".to_owned() };
    let node = |index| serde_json::json!({ "name": name(index), "heat_capacity_j_per_k": 50, "initial_c": 20 });
    let link = |index| serde_json::json!({ "a": name(index), "b": name(index + 1), "conductance_w_per_k": 20 });
    let net = serde_json::json!({
        "ambient_c": 20, "duration_s": 3600, "log_every_s": 60,
        "nodes": (0..nodes).map(node).collect::<Vec<_>>(),
        "links": (0..nodes).map(link).collect::<Vec<_>>(),
        "heaters": [{ "node": "n0", "schedule": [{ "from_s": 0, "power_w": 100 }] }],
    });
    serde_json::from_value(net).expect("a network")
}
