//! The oven of a board on the desk, and its time.
//!
//! At rest the board ticks ten times a real second in front of an oven that stands still. A tick
//! that would begin a bake begins it in the plant instead: from there a rehearsal's own loop runs
//! board, oven, people and faults, held back to the speed asked for, so that a bake on the desk is
//! its rehearsal, row by row.

use super::Options;
use super::desk::obstacle;
use super::state::{Shared, State};
use crate::files::bake::BakeFile;
use crate::rehearse::{Board, Observer, Runner, World, run as run_bake};
use std::sync::Arc;
use std::time::{Duration, Instant};
use truesoak_core::bake::Bake;
use truesoak_core::event::{Ending, Event};
use truesoak_core::io::{Health, Inputs, Outputs, Sample};
use truesoak_core::record::Record;
use truesoak_core::sequence::Mode;
use truesoak_core::two_points::SENSORS;
use truesoak_core::units::{Celsius, Kelvins, TICKS_PER_SECOND, Tick};

/// A tick of real time.
const TICK: Duration = Duration::from_millis(100);
/// No sleep is longer, so that switching off is heard.
const NAP: Duration = Duration::from_millis(50);

/// What stands behind the board.
pub(super) struct SimulatedOven {
    options: Options,
    /// Sensors that nobody corrects, for the oven at rest and for a bath.
    resting: World,
    /// What the oven at rest shows.
    at_rest: Inputs,
}

impl SimulatedOven {
    pub(super) fn new(options: Options) -> Self {
        let mut resting = world(&options, &options.believed.bake);
        resting.correct_by([0.0; SENSORS]);
        let mut first = resting.clone();
        let shown = first.plant.shown_at(0);
        let at_rest = *first.inputs(0, &shown, false);
        Self { options, resting, at_rest }
    }

    /// The oven of the bake that begins now: the script's, or empty for the board's own steps.
    fn begin(&self, state: &State) -> World {
        let mut script = self.options.believed.bake.clone();
        if state.built_in().is_some() {
            (script.doors, script.answers, script.faults) = Default::default();
        }
        let mut world = world(&self.options, &script);
        world.correct_by(core::array::from_fn(|sensor| {
            f64::from(state.correction(sensor).unwrap_or(Kelvins(0.0)).0)
        }));
        world
    }

    /// What the converters give at rest or in a bath.
    fn raw(&mut self, tick: u32, bath: Option<Celsius>) -> [Option<Sample>; SENSORS] {
        match bath {
            Some(bath) => self.resting.in_a_bath(tick, f64::from(bath.0)),
            None => [Some(self.at_rest.air), self.at_rest.air_b, self.at_rest.part_probe],
        }
    }
}

fn world(options: &Options, script: &BakeFile) -> World {
    let Options { truth, believed, draw, seed, .. } = options;
    World::new(script, &truth.oven, &truth.load, draw, &believed.oven, *seed)
}

/// Runs the board until it is switched off.
pub(super) fn run(shared: &Arc<Shared>, mut oven: SimulatedOven) {
    let mut next = Instant::now();
    while !shared.is_off() {
        let in_a_bath = shared.lock().bath.is_some();
        let speed = if in_a_bath { oven.options.speed.max(1.0) } else { 1.0 };
        next = (next + TICK.div_f64(speed)).max(Instant::now().checked_sub(TICK).unwrap_or(next));
        nap_until(shared, next);
        if rest(&mut shared.lock(), &mut oven) {
            bake(shared, &oven);
            shared.lock().forget_the_bake();
            next = Instant::now();
        }
    }
}

/// A tick at rest; true if a bake begins with it, which is then still to come.
fn rest(state: &mut State, oven: &mut SimulatedOven) -> bool {
    if !state.alive {
        return false;
    }
    state.now = Tick(state.now.0.wrapping_add(1));
    let mut raw = oven.raw(state.now.0, state.bath);
    if let ([Some(air), ..], None) = (&mut raw, state.bath) {
        // A sensor at rest still flickers.
        air.frame ^= u64::from(state.now.0) << 40;
    }
    let [air, air_b, part_probe] = state.see(raw);
    let air = air.or(raw[0]).unwrap_or(oven.at_rest.air);
    let health = Health { settings: obstacle(state).is_none(), ..oven.at_rest.health };
    let independent_ticks = Some(state.now.0);
    let inputs = Inputs { air, air_b, part_probe, independent_ticks, health, ..oven.at_rest };
    let inputs = state.buttons.put_into(&inputs);
    let now = state.now;
    if let Some(board) = &mut state.board {
        let mut after = board.clone();
        let outputs = after.tick(now, &inputs);
        if after.mode() == Mode::Running {
            return true;
        }
        let acknowledged = after.events().contains(&Event::Acknowledged);
        *board = after;
        state.keep(0, &inputs, &outputs);
        if acknowledged {
            state.forget_the_bake();
        }
    }
    state.buttons.pass();
    false
}

fn bake(shared: &Arc<Shared>, oven: &SimulatedOven) {
    let state = shared.lock();
    let Some(board) = &state.board else { return };
    let bake = board.bake().clone();
    let began = state.now;
    let mut world = oven.begin(&state);
    drop(state);
    let speed = oven.options.speed;
    let pace = Pace { shared: Arc::clone(shared), began: Instant::now(), speed };
    let mut runner = Paced {
        pace: pace.clone(),
        bake,
        began,
        events: Vec::new(),
        record: None,
        mode: Mode::Idle,
    };
    run_bake(&mut runner, &mut world, false, &mut Follower(pace));
}

fn nap_until(shared: &Shared, due: Instant) {
    while !shared.is_off() {
        let left = due.saturating_duration_since(Instant::now());
        if left.is_zero() {
            return;
        }
        std::thread::sleep(left.min(NAP));
    }
}

/// Holds a bake back to its speed.
#[derive(Clone)]
struct Pace {
    shared: Arc<Shared>,
    began: Instant,
    speed: f64,
}

impl Pace {
    /// Waits until a tick of the bake is due.
    fn wait(&self, tick: u32) {
        let due_s = f64::from(tick) / (f64::from(TICKS_PER_SECOND) * self.speed);
        let due = self.began + Duration::from_secs_f64(due_s);
        // A sleep of less takes longer than it says.
        if due.saturating_duration_since(Instant::now()) > Duration::from_millis(1) {
            nap_until(&self.shared, due);
        }
    }
}

/// The board in a bake: ticks when they are due, and everything of them kept.
struct Paced {
    pace: Pace,
    bake: Bake,
    /// The board's tick at the bake's beginning.
    began: Tick,
    events: Vec<Event>,
    record: Option<Record>,
    mode: Mode,
}

impl Paced {
    fn with_board<T>(&self, otherwise: T, look: impl FnOnce(&Board) -> T) -> T {
        self.pace.shared.lock().board.as_ref().map_or(otherwise, look)
    }
}

impl Runner for Paced {
    fn begin(&mut self) {
        // GO has begun it; the first tick hears of that.
    }

    fn tick(&mut self, now: Tick, inputs: &Inputs) -> Outputs {
        self.pace.wait(now.0);
        let mut state = self.pace.shared.lock();
        let state = &mut *state;
        state.alive = true;
        state.now = Tick(self.began.0.wrapping_add(now.0));
        let independent = inputs.independent_ticks.map(|tick| tick.wrapping_add(self.began.0));
        let fitted = |sensor: usize| state.correction(sensor).is_some();
        let air_b = inputs.air_b.filter(|_| fitted(1));
        let part_probe = inputs.part_probe.filter(|_| fitted(2));
        let inputs = Inputs { air_b, part_probe, independent_ticks: independent, ..*inputs };
        let inputs = state.buttons.put_into(&inputs);
        let at = state.now;
        let Some(board) = &mut state.board else { return Outputs::default() };
        let outputs = board.tick(at, &inputs);
        self.events = board.events().to_vec();
        self.record = board.record().copied();
        self.mode = board.mode();
        state.keep(now.0, &inputs, &outputs);
        state.buttons.pass();
        outputs
    }

    fn events(&self) -> &[Event] {
        &self.events
    }

    fn record(&self) -> Option<&Record> {
        self.record.as_ref()
    }

    fn mode(&self) -> Mode {
        // A board that is switched off ends the rehearsal's loop.
        if self.pace.shared.is_off() { Mode::Done(Ending::Stopped) } else { self.mode }
    }

    fn ended_credit_s(&self, part: usize) -> u32 {
        self.with_board(0, |board| board.ended_credit_s(part))
    }

    fn credit_s(&self, part: usize) -> u32 {
        self.with_board(0, |board| board.credit_s(part))
    }

    fn bake(&self) -> &Bake {
        &self.bake
    }

    fn restart(&mut self) {
        if let Some(board) = &mut self.pace.shared.lock().board {
            board.restart();
        }
        self.mode = Mode::Idle;
    }

    fn is_short(&self) -> bool {
        self.with_board(false, Runner::is_short)
    }
}

/// Keeps time while the processor does not run, and knows when it does not.
struct Follower(Pace);

impl Observer for Follower {
    fn event(&mut self, _now: u32, _event: Event, _runner: &dyn Runner, _world: &World) {}

    fn second(&mut self, _now: u32, _record: &Record, _runner: &dyn Runner) {}

    fn truth(&mut self, now: u32, _done: u32, world: &World) {
        if !world.processor_runs(now) {
            self.0.shared.lock().alive = false;
            self.0.wait(now);
        }
    }
}
