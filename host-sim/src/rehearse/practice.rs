//! The practice, for comparison: plain PID on the air to the middle of the window, and a clock.
//!
//! No bounds, no predicted peak, no guard, and a door it does not know of: heat stays on behind an
//! open one. The clock of a soak starts when the load_in door closes; where no load was put in
//! since the last soak, when the reading enters the window (both `common practice`).

use super::runner::Runner;
use truesoak_core::bake::{Bake, OnFail, Soak, Step};
use truesoak_core::event::{Ending, Event};
use truesoak_core::io::{Answer, Door, Heat, Inputs, Outputs, Question};
use truesoak_core::person::{Buttons, Press};
use truesoak_core::record::{Phase, Record};
use truesoak_core::regulate::Tuning;
use truesoak_core::regulate::loop_control::LoopControl;
use truesoak_core::regulate::modulate::Modulator;
use truesoak_core::sequence::Mode;
use truesoak_core::units::{Celsius, Reading, TICKS_PER_SECOND, Tick};

/// GUESS: gains of a home-built controller as it is set once and left, duty per K and s; nobody
/// tunes it to the oven. They put the air back some ten minutes after a load (`common practice`).
const TUNING: Tuning = Tuning { gain_per_k: 0.04, integral_time_s: 600.0, derivative_time_s: 0.0 };
/// A ramp has arrived this close, K.
const ARRIVED_K: f32 = 1.0;

/// The practice on one oven.
#[derive(Clone, Debug)]
pub struct Practice {
    bake: Bake,
    control: LoopControl,
    modulator: Modulator,
    buttons: Buttons,
    mode: Mode,
    wants_to_begin: bool,
    index: usize,
    entered: Tick,
    ramp_from: Option<Celsius>,
    /// When the clock of the present or next soak started.
    clock: Option<Tick>,
    waited_from: Option<Tick>,
    rounds: Vec<u8>,
    door_open: bool,
    loading_opened: bool,
    duty: f32,
    started: Tick,
    sum_c: f32,
    count: u8,
    on_ticks: u8,
    reading: Option<Celsius>,
    setpoint: Option<Celsius>,
    events: Vec<Event>,
    record: Option<Record>,
}

impl Practice {
    /// At rest.
    #[must_use]
    pub fn new(bake: Bake, minimum_on_s: f32, minimum_off_s: f32) -> Self {
        let rounds = vec![0; bake.steps.len()];
        Self {
            bake,
            control: LoopControl::new(TUNING),
            modulator: Modulator::new(minimum_on_s, minimum_off_s),
            buttons: Buttons::default(),
            mode: Mode::Idle,
            wants_to_begin: false,
            index: 0,
            entered: Tick(0),
            ramp_from: None,
            clock: None,
            waited_from: None,
            rounds,
            door_open: false,
            loading_opened: false,
            duty: 0.0,
            started: Tick(0),
            sum_c: 0.0,
            count: 0,
            on_ticks: 0,
            reading: None,
            setpoint: None,
            events: Vec::new(),
            record: None,
        }
    }

    fn step(&self) -> Option<&Step> {
        self.bake.steps.get(self.index)
    }

    fn enter(&mut self, index: usize, now: Tick) {
        self.index = index;
        self.entered = now;
        self.ramp_from = self.reading;
        self.waited_from = None;
        self.loading_opened = false;
        let Some(step) = self.step().copied() else {
            self.mode = Mode::Done(Ending::Finished);
            self.events.push(Event::Ended(Ending::Finished));
            return;
        };
        self.events.push(Event::StepBegan(index as u8));
        match step {
            Step::Check(check) => {
                if let Some(rounds) = self.rounds.get_mut(index) {
                    *rounds = rounds.saturating_add(1);
                }
                self.part_out(check.parts_stay);
                self.events.push(Event::Asked(Question::Check));
            }
            Step::Wait(wait) => {
                self.part_out(wait.parts_stay);
                self.events.push(Event::Asked(Question::Wait));
            }
            Step::LoadIn(_) => {
                self.clock = None;
                self.events.push(Event::Asked(Question::LoadIn));
            }
            _ => {}
        }
    }

    fn part_out(&mut self, stay: bool) {
        if !stay {
            self.events.push(Event::PartsOut);
        }
    }

    fn asks(&self) -> Option<Question> {
        match self.step() {
            _ if self.mode != Mode::Running => None,
            Some(Step::LoadIn(_)) => Some(Question::LoadIn),
            Some(Step::Check(_)) => Some(Question::Check),
            Some(Step::Wait(_)) if self.waited_from.is_none() => Some(Question::Wait),
            _ => None,
        }
    }

    fn follow_door(&mut self, now: Tick, door: Option<Door>) {
        let open = door == Some(Door::Open);
        let loading = matches!(self.step(), Some(Step::LoadIn(_)));
        if open && !self.door_open {
            self.events.push(Event::DoorOpened);
            if loading {
                self.loading_opened = true;
                self.events.push(Event::LoadOpened);
            }
        }
        if !open && self.door_open {
            self.events.push(Event::DoorClosed);
            if loading {
                self.events.push(Event::LoadClosed);
                self.clock = Some(now);
            }
        }
        self.door_open = open;
    }

    fn listen(&mut self, now: Tick, press: Option<Press>) {
        let (Some(question), Some(press)) = (self.asks(), press) else { return };
        let answer = if press == Press::Go { Answer::Go } else { Answer::Fail };
        if question == Question::LoadIn && self.door_open {
            return;
        }
        self.events.push(Event::Answered(question, answer));
        match (question, answer, self.step().copied()) {
            (Question::Wait, Answer::Go, _) => self.waited_from = Some(now),
            (Question::Check, Answer::Fail, Some(Step::Check(check))) => {
                let rounds = self.rounds.get(self.index).copied().unwrap_or(u8::MAX);
                match check.on_fail {
                    OnFail::RepeatFrom(to) if rounds < check.tries => {
                        self.enter(usize::from(to), now);
                    }
                    _ => {
                        self.mode = Mode::Done(Ending::CheckFailed);
                        self.events.push(Event::Ended(Ending::CheckFailed));
                    }
                }
            }
            (Question::LoadIn, _, _) => {
                if !self.loading_opened {
                    self.events.extend([Event::LoadOpened, Event::LoadClosed]);
                    self.clock = Some(now);
                }
                self.enter(self.index + 1, now);
            }
            _ => self.enter(self.index + 1, now),
        }
    }

    fn advance(&mut self, now: Tick) {
        let Some(step) = self.step().copied() else { return };
        let since = |then: Tick| now.since(then) / TICKS_PER_SECOND;
        let over = match (step, self.reading) {
            (Step::Ramp(ramp), Some(reading)) => (ramp.to - reading).0 <= ARRIVED_K,
            (Step::Soak(soak), Some(reading)) => {
                if self.clock.is_none() && reading >= soak.at_least {
                    self.clock = Some(now);
                }
                self.clock.is_some_and(|clock| since(clock) >= soak.for_s)
            }
            (Step::Cool(cool), Some(reading)) => reading <= cool.to,
            (Step::Wait(wait), _) => self.waited_from.is_some_and(|from| since(from) >= wait.for_s),
            _ => false,
        };
        if over {
            if matches!(step, Step::Soak(_)) {
                self.clock = None;
            }
            self.enter(self.index + 1, now);
        }
    }

    fn wanted(&self, now: Tick) -> Option<Celsius> {
        match self.step()? {
            Step::Ramp(ramp) => {
                let risen = ramp.rate_k_per_min.map_or(f32::INFINITY, |rate| {
                    rate.0 * now.since(self.entered) as f32 / (60 * TICKS_PER_SECOND) as f32
                });
                let from = self.ramp_from.unwrap_or(ramp.to);
                Some(Celsius((from.0 + risen).min(ramp.to.0)))
            }
            Step::Soak(Soak { at_least, at_most, .. }) => {
                Some(Celsius(0.5 * (at_least.0 + at_most.0)))
            }
            Step::LoadIn(load_in) => load_in.at,
            _ => None,
        }
    }

    fn end_second(&mut self, now: Tick) {
        let on_ticks = core::mem::take(&mut self.on_ticks);
        self.reading = (self.count > 0).then(|| Celsius(self.sum_c / f32::from(self.count)));
        (self.sum_c, self.count) = (0.0, 0);
        self.setpoint = self.wanted(now);
        self.duty = match (self.setpoint, self.reading) {
            (Some(setpoint), Some(reading)) => {
                self.control.second(reading.0, setpoint.0, 0.0, true)
            }
            _ => 0.0,
        };
        let clock_s = self.clock.map_or(0, |clock| now.since(clock) / TICKS_PER_SECOND);
        let soaking = matches!(self.step(), Some(Step::Soak(_)));
        self.record = Some(Record {
            second: now.since(self.started) / TICKS_PER_SECOND,
            reading: self.reading.and_then(Reading::from_celsius),
            reading_b: None,
            part_probe: None,
            setpoint: self.setpoint,
            on_ticks,
            permit: self.setpoint.is_some(),
            door_open: self.door_open,
            step: self.index as u8 + 1,
            phase: self.phase(),
            coldest: None,
            hottest: None,
            credit_s: if soaking { clock_s } else { 0 },
            projected: false,
            airflow: None,
            widened: false,
        });
    }

    fn phase(&self) -> Phase {
        match self.step() {
            Some(Step::Ramp(_)) => Phase::Ramp,
            Some(Step::Soak(_)) if self.clock.is_some() => Phase::Soak,
            Some(Step::Soak(_)) => Phase::Approach,
            Some(Step::Cool(_)) => Phase::Cool,
            Some(Step::LoadIn(_)) => Phase::LoadIn,
            Some(Step::Check(_)) => Phase::Check,
            Some(Step::Wait(_)) => Phase::Wait,
            None => Phase::Done,
        }
    }
}

impl Runner for Practice {
    fn begin(&mut self) {
        self.wants_to_begin = true;
    }

    fn tick(&mut self, now: Tick, inputs: &Inputs) -> Outputs {
        self.events.clear();
        self.record = None;
        if inputs.air.value.is_physical() {
            self.sum_c += inputs.air.value.0;
            self.count += 1;
        }
        if core::mem::take(&mut self.wants_to_begin) {
            self.mode = Mode::Running;
            self.started = now;
            self.events.push(Event::Started);
            self.reading = Some(inputs.air.value);
            self.enter(0, now);
            self.end_second(now);
        }
        let press = self.buttons.tick(inputs.go, inputs.stop);
        if self.mode != Mode::Running {
            return Outputs::default();
        }
        self.follow_door(now, inputs.door);
        self.listen(now, press);
        self.advance(now);
        if now != self.started && now.since(self.started).is_multiple_of(TICKS_PER_SECOND) {
            self.end_second(now);
        }
        let heats = self.setpoint.is_some() && self.mode == Mode::Running;
        let drive = if heats {
            self.modulator.tick(self.duty)
        } else {
            self.modulator.cut();
            false
        };
        self.on_ticks += u8::from(drive);
        let heat = if heats { Heat::Allowed { drive } } else { Heat::Cut };
        Outputs { heat, fan: true, asks: self.asks() }
    }

    fn events(&self) -> &[Event] {
        &self.events
    }

    fn record(&self) -> Option<&Record> {
        self.record.as_ref()
    }

    fn mode(&self) -> Mode {
        self.mode
    }

    fn ended_credit_s(&self, _part: usize) -> u32 {
        0
    }

    fn credit_s(&self, _part: usize) -> u32 {
        0
    }

    fn bake(&self) -> &Bake {
        &self.bake
    }

    fn restart(&mut self) {}

    fn is_short(&self) -> bool {
        false
    }
}
