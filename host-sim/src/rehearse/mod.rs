//! The controller run through the plant: doors, answers, faults, and what the parts truly had.
//!
//! The plant integrates in steps of its own length; within a step the controller runs tick by tick
//! on the sensor's own curve, and a tick at which heat, door or load change cuts the step there.

mod fault;
pub mod oracle;
mod outcome;
mod people;
mod practice;
mod runner;
mod sensor;
mod stay;
mod tally;
mod trace;
mod whole;
mod world;

pub use fault::{Fault, FaultKind, Faults};
pub use oracle::{Oracle, SoakLead, oracle};
pub use outcome::{Circumstances, Told, claim, result};
pub use practice::Practice;
pub use runner::{Board, Runner};
pub use tally::{Kinetics, PartNow, Tally};
pub use trace::{Observer, Trace, Truth, truth_columns};
pub use whole::{Bench, Case, Ran, Rehearsal, Request, model_of, rehearse};
pub use world::{Unplayed, World};

use crate::interrupt;
use crate::plant::Shown;
use truesoak_core::bake::Bake;
use truesoak_core::event::Ending;
use truesoak_core::sequence::Mode;
use truesoak_core::units::{TICKS_PER_SECOND, Tick};

/// No end is known to the plant's step; what comes in it cuts it.
const STEP_TICKS_MAX: u32 = u32::MAX;
/// A rehearsal ends here whatever happens, s: three days.
const LONGEST_S: u32 = 3 * 24 * 3600;
/// The same, ticks.
pub const LONGEST_TICKS: u32 = LONGEST_S * TICKS_PER_SECOND;
/// A question nobody will ever answer is followed for so long, ticks.
pub const PATIENCE_TICKS: u32 = 3600 * TICKS_PER_SECOND;
/// The plant is followed so long after a trip: what the parts see while the oven coasts, ticks.
const COAST_TICKS: u32 = 900 * TICKS_PER_SECOND;
/// A board that comes back has so long to go on from what it kept, or to find its sensor dead, ticks.
const RESUME_TICKS: u32 = 8 * TICKS_PER_SECOND;
/// A hung processor is reset by its watchdog after so long, ticks.
const WATCHDOG_TICKS: u32 = 10;

/// Runs a bake to its end, or to Ctrl-C, through the world; every second and event goes to the
/// observer. A plant that cannot be followed ends it too, and what was observed is then worth
/// nothing.
pub fn run(
    runner: &mut impl Runner,
    world: &mut World,
    practice: bool,
    observer: &mut impl Observer,
) {
    let bake = runner.bake().clone();
    world.begin(&bake);
    let down = Down::default();
    let mut course =
        Course { runner, world, observer, bake, practice, down, ended: 0, restarted: 0 };
    course.start();
    let mut now = 0;
    while !course.is_over(now) && !interrupt::asked() {
        now = course.step_on(now);
    }
}

/// One bake under way.
struct Course<'a, R, O> {
    runner: &'a mut R,
    world: &'a mut World,
    observer: &'a mut O,
    bake: Bake,
    practice: bool,
    down: Down,
    /// Tick at which the bake ended.
    ended: u32,
    /// Tick at which the board last started.
    restarted: u32,
}

/// A board that does not run.
#[derive(Clone, Copy, Debug, Default)]
struct Down {
    /// Ticks since the processor last ran.
    hung_ticks: u32,
    /// It must start again from what it kept.
    is_down: bool,
}

impl<R: Runner, O: Observer> Course<'_, R, O> {
    fn start(&mut self) {
        self.runner.begin();
        let shown = self.world.plant.shown_at(0);
        self.tick(0, &shown);
        self.world.settle(0);
        self.observer.truth(0, 0, self.world);
    }

    fn is_over(&self, now: u32) -> bool {
        let over = match self.runner.mode() {
            Mode::Running => {
                let vain = self.world.waits_in_vain(now, PATIENCE_TICKS, LONGEST_TICKS);
                vain.is_some() || self.down.is_down && self.world.faults.last_for_ever(now)
            }
            // A board that has just come back takes a second to find its place.
            Mode::Idle => !self.down.is_down && now >= self.restarted + RESUME_TICKS,
            Mode::Done(Ending::Tripped(_)) => now >= self.ended + COAST_TICKS,
            Mode::Done(_) => true,
        };
        over || self.world.plant.is_astray() || now >= LONGEST_TICKS
    }

    /// One step of the plant, or the part of it up to a change; the tick it ends at.
    fn step_on(&mut self, from: u32) -> u32 {
        let length = self.world.plant.attempt(STEP_TICKS_MAX);
        for before in 0..length {
            let done = before + 1;
            let now = from + done;
            let shown = self.world.plant.shown_at(done);
            let whole_second = now.is_multiple_of(TICKS_PER_SECOND);
            if whole_second {
                self.observer.truth(now, done, self.world);
            }
            let stops = self.world.stops_at(now);
            if stops {
                self.world.plant.take(done);
                self.world.act(now, &self.bake);
            }
            let mut cut = self.tick(now, &shown);
            // While a bake runs, what ends it is looked for once a second.
            if whole_second || !matches!(self.runner.mode(), Mode::Running) {
                cut |= self.is_over(now);
            }
            if !stops && cut {
                self.world.plant.take(done);
            }
            if stops || cut {
                self.world.settle(now);
                return now;
            }
        }
        self.world.plant.take(length);
        from + length
    }

    /// The board's side of a tick; true if the plant has something to follow.
    #[inline(always)] // every tick, from one place but for the first
    fn tick(&mut self, now: u32, shown: &Shown) -> bool {
        if !self.world.processor_runs(now) {
            return self.stand_still();
        }
        if core::mem::take(&mut self.down.is_down) {
            self.runner.restart();
            self.restarted = now;
        }
        self.down.hung_ticks = 0;
        let was_running = matches!(self.runner.mode(), Mode::Running);
        let inputs = self.world.inputs(now, shown, self.practice);
        let outputs = self.runner.tick(Tick(now), inputs);
        let mut changed = self.world.take(&outputs, now, self.practice);
        if let Some(record) = self.runner.record() {
            self.observer.second(now, record, self.runner);
        }
        if !self.runner.events().is_empty() {
            changed |= self.hear(now);
        }
        if was_running && !matches!(self.runner.mode(), Mode::Running) {
            self.ended = now;
        }
        changed
    }

    /// Passes this tick's events on; true if the plant has something to follow.
    #[cold]
    fn hear(&mut self, now: u32) -> bool {
        let mut changed = false;
        for event in self.runner.events().to_vec() {
            self.observer.event(now, event, self.runner, self.world);
            changed |= self.world.hear(event, now, &self.bake);
        }
        changed
    }

    /// No processor, or no supply: outputs fall; the watchdog resets what hangs.
    #[cold]
    fn stand_still(&mut self) -> bool {
        if !self.world.is_powered() {
            self.world.lose_outputs();
            return !core::mem::replace(&mut self.down.is_down, true);
        }
        self.down.hung_ticks += 1;
        let reset = self.down.hung_ticks.is_multiple_of(WATCHDOG_TICKS);
        if reset {
            self.world.watchdog_reset();
            self.down.is_down = true;
        }
        reset
    }
}
