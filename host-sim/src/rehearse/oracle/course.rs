//! A bake under way with everything known: the board's own sequence, the people of the script, and
//! heat chosen on the plant itself.

use super::heat::{Body, Ceiling, Chooser, Limits, Seen, Stretch};
use super::oven::Oven;
use crate::interrupt;
use crate::rehearse::tally::Tally;
use crate::rehearse::world::World;
use crate::rehearse::{LONGEST_S, STEP_TICKS_MAX};
use truesoak_core::bake::{Bake, Dip, Soak, Step};
use truesoak_core::door::{DoorNow, DoorWatch};
use truesoak_core::event::{Ending, Event};
use truesoak_core::io::{Answer, Question};
use truesoak_core::person::Buttons;
use truesoak_core::sequence::{Aim, Events, Facts, Mode, Sequence};
use truesoak_core::units::{Celsius, TICKS_PER_SECOND, Tick};

/// A limit on the parts is kept by this much, K, so that no second is lost to rounding.
const CLEAR_K: f64 = 0.03;
/// The coldest part is let down to so far above its window's lower end, K.
const FLOOR_CLEAR_K: f64 = 0.05;
/// Parts that wait stay so far below the window, K.
const WAIT_BELOW_K: f64 = 0.05;
/// It lags again from so far below it on, K.
const OUT_AGAIN_K: f64 = 0.5;

/// What is known beforehand.
#[derive(Clone, Debug)]
pub(super) struct Known {
    pub bake: Bake,
    /// What each part stands, °C.
    pub stands_c: Vec<f64>,
    pub hot_spot_k: f64,
    pub cold_spot_k: f64,
    pub has_fan: bool,
    /// Let the parts go as cold as their windows allow once nothing is gained by more.
    pub lean: bool,
    /// For how long parts wait below the window in each run of a soak that limits their stay, s.
    pub waits_s: Vec<u32>,
}

/// One bake under way.
pub(super) struct Course<'a> {
    known: &'a Known,
    pub world: World,
    pub tally: Tally,
    oven: Oven,
    now: u32,
    seen: Seen,
    sequence: Sequence,
    door_watch: DoorWatch,
    door: DoorNow,
    buttons: Buttons,
    credit_s: u32,
    heated: bool,
    chooser: Chooser,
    /// The tick heat is chosen anew at; none: now.
    chosen_until: Option<u32>,
    /// Seconds that would have counted with more heat.
    pub lost_s: u32,
    /// The parts are let down in the present soak.
    is_lean: bool,
    /// The coldest part has come into the present window.
    is_in: bool,
    /// Runs of soaks with a limit on the stay that have begun.
    limited: usize,
    /// The tick up to which parts wait below the present window.
    waits_until: Option<u32>,
}

impl<'a> Course<'a> {
    pub fn new(known: &'a Known, mut world: World, tally: Tally) -> Self {
        world.begin(&known.bake);
        let mut oven = Oven {
            plant: world.plant.clone(),
            full_w: world.full_power_w(),
            reading_error_k: world.reading_error_k(),
            hot_spot_k: known.hot_spot_k,
            cold_spot_k: known.cold_spot_k,
            parts: Vec::new(),
        };
        let seen = oven.seen_at(0);
        let mut door_watch = DoorWatch::new(Tick(0));
        let door = door_watch.tick(Tick(0), Some(world.door()));
        Self {
            known,
            world,
            tally,
            oven,
            now: 0,
            seen,
            sequence: Sequence::idle(),
            door_watch,
            door,
            buttons: Buttons::default(),
            credit_s: 0,
            heated: false,
            chooser: Chooser::default(),
            chosen_until: None,
            lost_s: 0,
            is_lean: false,
            is_in: false,
            limited: 0,
            waits_until: None,
        }
    }

    /// Runs the bake to its end; how it ended and at which tick.
    pub fn run(&mut self) -> (Option<Ending>, u32) {
        let mut events = Events::new();
        let door = self.door;
        let facts = facts(self.known, self.now, &self.seen, &door, false, 0);
        self.sequence.start(&facts, &mut events);
        self.hear(&events);
        self.world.ask(self.sequence.asks(), 0);
        while self.sequence.is_running() && !interrupt::asked() {
            if self.world.plant.is_astray() || self.now >= LONGEST_S * TICKS_PER_SECOND {
                break;
            }
            self.step_on();
        }
        let ending = match self.sequence.mode() {
            Mode::Done(ending) => Some(ending),
            Mode::Idle | Mode::Running => None,
        };
        (ending, self.now)
    }

    /// One step of the plant with one power, or the part of it up to a change.
    fn step_on(&mut self) {
        let until = self.choose();
        let length = self.world.plant.attempt(until.saturating_sub(self.now));
        let from = self.now;
        for done in 1..=length {
            self.now = from + done;
            if self.now.is_multiple_of(TICKS_PER_SECOND) {
                self.look(done);
            }
            let acts = self.world.stops_at(self.now);
            if acts {
                self.world.plant.take(done);
                self.world.act(self.now, &self.known.bake);
            }
            let changed = self.tick(if acts { 0 } else { done });
            if acts || changed {
                if !acts {
                    self.world.plant.take(done);
                }
                self.chosen_until = None;
                return;
            }
        }
        self.world.plant.take(length);
    }

    /// A second's end: what the parts are at, and whether it counts.
    fn look(&mut self, done: u32) {
        self.seen = self.oven.look(&self.world.plant, done);
        self.tally.second(f64::from(self.now / TICKS_PER_SECOND), &self.oven.parts);
        let Some(soak) = self.soak() else { return };
        if self.sequence.asks() == Some(Question::AnythingNew) {
            return;
        }
        let coldest_is_in = self.seen.coldest_c >= f64::from(soak.at_least.0);
        let is_in = coldest_is_in && self.seen.hottest_c <= f64::from(soak.at_most.0);
        if is_in && !self.seen.coldest_c.is_infinite() {
            self.credit_s += 1;
        } else if soak.dip == Dip::Restart {
            self.credit_s = 0;
        }
        self.lost_s += u32::from(!is_in && self.is_lean);
    }

    /// The board's side of a tick; true if heat, load or step change.
    fn tick(&mut self, done: u32) -> bool {
        let now = self.now;
        let door_was_open = self.door.open;
        self.door = self.door_watch.tick(Tick(now), Some(self.world.door()));
        let (go, stop) = self.world.buttons(now);
        let press = self.buttons.tick(go, stop);
        let reading_c = f64::from(self.world.reading_at(done).0);
        let seen = Seen { reading_c, ..self.seen };
        let door = self.door;
        let facts = facts(self.known, now, &seen, &door, self.heated, self.credit_s);
        let mut events = Events::new();
        self.sequence.tick(&Facts { press, ..facts }, &mut events);
        self.hear(&events);
        self.world.ask(self.sequence.asks(), now);
        self.heated = self.sequence.wants_heat(&self.known.bake) && !self.door.open;
        !events.is_empty() || door_was_open != self.door.open
    }

    fn hear(&mut self, events: &Events) {
        let now_s = f64::from(self.now) / f64::from(TICKS_PER_SECOND);
        for event in events {
            self.world.hear(*event, self.now, &self.known.bake);
            match event {
                Event::StepBegan(index) => {
                    self.credit_s = 0;
                    self.is_lean = false;
                    self.is_in = false;
                    self.chooser = Chooser::default();
                    self.waits_until = self.wait(usize::from(*index));
                    self.tally.step_began(&self.known.bake, usize::from(*index), now_s, &[]);
                }
                Event::LoadClosed => self.tally.load_closed(now_s),
                Event::DoorClosed => self.chooser = Chooser::default(),
                Event::Answered(Question::AnythingNew, Answer::Fail) => self.credit_s = 0,
                Event::Ended(_) => self.tally.step_ended(now_s, &[]),
                _ => {}
            }
        }
    }

    /// The tick up to which parts wait in a soak that begins now.
    fn wait(&mut self, step: usize) -> Option<u32> {
        let Some(Step::Soak(soak)) = self.known.bake.steps.get(step) else { return None };
        let _ = soak.no_longer_than_s?;
        self.limited += 1;
        let wait_s = self.known.waits_s.get(self.limited - 1)?;
        Some(self.now.saturating_add(wait_s.saturating_mul(TICKS_PER_SECOND)))
    }

    fn soak(&self) -> Option<&'a Soak> {
        match self.known.bake.steps.get(usize::from(self.sequence.step())) {
            Some(Step::Soak(soak)) if self.sequence.is_running() => Some(soak),
            _ => None,
        }
    }

    /// Heats; the tick at which heat is chosen anew.
    fn choose(&mut self) -> u32 {
        if let Some(until) = self.chosen_until.filter(|until| *until > self.now) {
            return until;
        }
        let aim = self.sequence.aim(&self.known.bake, Tick(self.now));
        let heated = self.sequence.wants_heat(&self.known.bake) && !self.door.open;
        let stretch = match aim {
            _ if !heated => Stretch { share: 0.0, ticks: STEP_TICKS_MAX },
            Aim::Cut => Stretch { share: 0.0, ticks: STEP_TICKS_MAX },
            Aim::Air(setpoint) => self.follow(setpoint),
            Aim::Window(soak) => self.bring_in(&soak),
        };
        self.heated = heated;
        self.world.heat(stretch.share, self.known.has_fan && self.sequence.is_running());
        let until = self.now.saturating_add(stretch.ticks);
        self.chosen_until = Some(until);
        until
    }

    /// Brings the air to a setpoint.
    fn follow(&mut self, setpoint: Celsius) -> Stretch {
        let now_c = f64::from(setpoint.0);
        let reading = match self.known.bake.steps.get(usize::from(self.sequence.step())) {
            Some(Step::Ramp(ramp)) => Ceiling {
                now_c,
                k_per_s: ramp.rate_k_per_min.map_or(0.0, |rate| f64::from(rate.0) / 60.0),
                most_c: f64::from(ramp.to.0),
            },
            _ => Ceiling::flat(now_c),
        };
        let limits = self.limits(reading, f64::INFINITY);
        let end = self.end();
        self.oven.plant = self.world.plant.clone();
        self.chooser.most(&self.oven, &limits, end)
    }

    /// Brings every part into its window, and keeps it there.
    fn bring_in(&mut self, soak: &Soak) -> Stretch {
        let (at_least_c, at_most_c) = (f64::from(soak.at_least.0), f64::from(soak.at_most.0));
        self.oven.plant = self.world.plant.clone();
        let out_c = if self.is_in { at_least_c - OUT_AGAIN_K } else { at_least_c };
        self.is_in = self.oven.seen_at(0).coldest_c >= out_c;
        let lags = !self.is_in;
        let boost_k = if lags { f64::from(soak.boost.0) } else { 0.0 };
        let reading = Ceiling::flat(at_most_c + boost_k);
        if let Some(until) = self.waits_until.filter(|until| *until > self.now) {
            let limits = self.limits(reading, at_least_c - WAIT_BELOW_K);
            let end = self.end();
            let Stretch { share, ticks } = self.chooser.most(&self.oven, &limits, end);
            return Stretch { share, ticks: ticks.min(until - self.now) };
        }
        if self.waits_until.take().is_some() {
            self.chooser = Chooser::default();
        }
        let limits = self.limits(reading, at_most_c);
        let left = soak.for_s.saturating_sub(self.credit_s) * TICKS_PER_SECOND;
        let opens = self.world.next_opening().filter(|at| *at < self.now + left);
        if self.known.lean && !lags && opens.is_none() && self.is_to_fall() {
            self.is_lean = true;
            return self.chooser.least(&self.oven, &limits, at_least_c + FLOOR_CLEAR_K, left);
        }
        let end = self.end();
        self.chooser.most(&self.oven, &limits, end)
    }

    /// What comes after the present soak is the sooner over, the colder everything is.
    fn is_to_fall(&self) -> bool {
        let steps = &self.known.bake.steps;
        let next = steps.get(usize::from(self.sequence.step()) + 1);
        matches!(next, None | Some(Step::Cool(_) | Step::Check(_) | Step::Wait(_)))
    }

    fn limits(&self, reading: Ceiling, at_most_c: f64) -> Limits {
        let inside = self.known.stands_c.iter().zip(&self.oven.parts);
        let stands_c = inside.filter(|(_, part)| part.inside).map(|(stands_c, _)| *stands_c);
        let part_c = stands_c.fold(at_most_c, f64::min) - CLEAR_K;
        Limits { reading, air_c: f64::from(self.known.bake.limits.air_max.0), part_c }
    }

    /// Ticks until the door is opened.
    fn end(&self) -> u32 {
        self.world.next_opening().map_or(u32::MAX, |at| at.saturating_sub(self.now).max(1))
    }
}

fn facts<'b>(
    known: &'b Known,
    now: u32,
    seen: &Seen,
    door: &'b DoorNow,
    heat_allowed: bool,
    credit_s: u32,
) -> Facts<'b> {
    let loaded = seen.hottest_c.is_finite();
    Facts {
        now: Tick(now),
        bake: &known.bake,
        door,
        press: None,
        reading: Some(Celsius(seen.reading_c as f32)),
        hottest: loaded.then_some(Celsius(seen.hottest_c as f32)),
        credit_s,
        // A limit on the stay is held by who sets the waits, and judged by the tally.
        no_longer: None,
        loaded,
        heat_allowed,
    }
}
