//! The controller: the one function every tick goes through, on the chip and in every rehearsal.
//!
//! `inputs → readings judged → bounds → guard → sequence → regulate → guard clamps → outputs`
//!
//! [`Controller::tick`] is that line; each arrow is a file of this folder: `second` (bounds),
//! `watch` (guard), `carry_on` and `begin` (sequence), `act` (regulate, and the guard's last word);
//! `show` is what can be seen of it between ticks.
//!
//! A call takes bounded time, allocates nothing and cannot panic. Call it every 100 ms with the
//! tick number. A gap is told from the number: what was switched on stayed on for all of it.

mod act;
mod begin;
mod carry_on;
mod second;
mod show;
mod watch;

use crate::bake::Bake;
use crate::bounds::model::{Model, Sensor};
pub use crate::command::{Command, Refusal, Settings};
use crate::door::{DoorNow, DoorWatch};
use crate::event::Event;
use crate::guard::{Expectation, Guard, SensorBudget, Standing};
use crate::io::{Heat, Inputs, Outputs};
use crate::judge::{Judge, Reach};
use crate::ledger::Ledger;
use crate::pending::Pending;
use crate::person::{Buttons, Press};
use crate::record::{Checkpoint, Record};
use crate::regulate::Regulator;
use crate::sequence::{Events, Facts, Sequence};
use crate::units::{Celsius, Kelvins, Tick};
use second::SecondInMaking;

/// Ticks that came late or watchdog resets in one bake that trip.
const OVERRUNS_MAX: u8 = 3;

/// One oven's controller.
#[derive(Clone, Debug)]
pub struct Controller {
    bake: Bake,
    model: Model,
    settings: Settings,
    air: Judge,
    air_b: Judge,
    part_probe: Judge,
    door: DoorWatch,
    buttons: Buttons,
    standing: Standing,
    guard: Guard,
    ledger: Option<Ledger>,
    sequence: Sequence,
    regulator: Regulator,
    last: Outputs,
    last_tick: Option<Tick>,
    buttons_free: bool,
    pending: Pending,
    resume: Option<Checkpoint>,
    overruns: u8,
    second: SecondInMaking,
    seconds: u32,
    reading: Option<Celsius>,
    /// What the model says, as of the last second but for the air, or the event since.
    expectation: Option<Expectation>,
    told: Told,
    events: Events,
    record: Option<Record>,
}

/// Things told once a bake.
#[derive(Clone, Copy, Debug, Default)]
struct Told {
    outside_model: bool,
    probe_believed: bool,
    probe_ignored: bool,
    store_failing: bool,
    trip: bool,
}

impl Controller {
    /// A controller at rest for one bake in one oven.
    #[must_use]
    pub fn new(bake: Bake, model: Model, settings: Settings) -> Self {
        let reach = |sensor: &Sensor| Reach {
            lag_s: sensor.lag_s.low,
            noise_k: sensor.noise_k,
            resolution_k: sensor.resolution_k,
            ambient: model.ambient,
            air_max: bake.limits.air_max,
        };
        let air = Judge::new(reach(&model.sensor));
        let air_b = Judge::new(reach(model.sensor_b.as_ref().unwrap_or(&model.sensor)));
        let probe = model.probe.as_ref();
        let part_probe = Judge::new(probe.map_or(reach(&model.sensor), |probe| Reach {
            lag_s: probe.lag_s.low,
            noise_k: probe.noise_k,
            resolution_k: probe.resolution_k,
            ..reach(&model.sensor)
        }));
        let standing = Standing {
            ambient: model.ambient,
            resolution: Kelvins(model.sensor.resolution_k),
            noise: Kelvins(model.sensor.noise_k),
            sensor_lag_s: model.sensor.lag_s.middle(),
            sensor_lag_longest_s: model.sensor.lag_s.high,
            sensor_budget: SensorBudget::of(
                settings.sensor_budget,
                &model.sensor,
                model.sensor_b.as_ref(),
            ),
            fan_is_known: model.air.is_still() || model.air.airflow_proof,
        };
        let regulator =
            Regulator::new(settings.tuning, settings.minimum_on_s, settings.minimum_off_s);
        Self {
            bake,
            model,
            settings,
            air,
            air_b,
            part_probe,
            door: DoorWatch::new(Tick(0)),
            buttons: Buttons::default(),
            standing,
            guard: Guard::default(),
            ledger: None,
            sequence: Sequence::idle(),
            regulator,
            last: Outputs::default(),
            last_tick: None,
            buttons_free: false,
            pending: Pending::default(),
            resume: None,
            overruns: 0,
            second: SecondInMaking::default(),
            seconds: 0,
            reading: None,
            expectation: None,
            told: Told::default(),
            events: Events::new(),
            record: None,
        }
    }

    /// One tick: what is known goes in, what is done comes out.
    pub fn tick(&mut self, now: Tick, inputs: &Inputs) -> Outputs {
        self.events.clear();
        self.record = None;
        self.follow_time(now);

        let door = &self.door.tick(now, inputs.door);
        self.judge_at_ease(inputs);
        let air = self.air.tick(&inputs.air, door.open);
        let air_b = inputs.air_b.as_ref().map(|sample| self.air_b.tick(sample, door.open));
        let ended = match self.end_second(inputs, door) {
            Some(ended) => Some(self.make_second(now, inputs, &air, door, ended)),
            None => {
                self.work();
                None
            }
        };
        let found = self.watch(now, inputs, &air, air_b.as_ref(), door, ended);
        let press = self.press(now, inputs, found);
        self.carry_on(now, inputs, &air, door, press);

        self.last = self.act(now, inputs, &air, door);
        self.last
    }

    /// Works on the second that ended last. A tick that came late leaves a part to the second's end.
    fn work(&mut self) {
        if let Some(ledger) = &mut self.ledger {
            ledger.work(&self.model);
        }
    }

    /// Where no row judges jumps: the air's sensors at rest, and the part probe, whose transfer goes
    /// into its second only.
    fn judge_at_ease(&mut self, inputs: &Inputs) {
        if !self.sequence.is_running() {
            // At rest a sensor is mended, moved and dipped.
            self.air.forgive_jump();
            self.air_b.forgive_jump();
        }
        if let Some(sample) = &inputs.part_probe {
            // A probe that fell off its part must be heard, to be told apart from the part.
            self.part_probe.forgive_jump();
            let _ = self.part_probe.tick(sample, true);
        }
    }

    /// Takes a request from the computer. What leads to heat waits for GO at the oven, unless the
    /// board is virtual.
    ///
    /// # Errors
    /// What does not fit the present state is refused; nothing changes then.
    pub fn command(&mut self, now: Tick, command: Command) -> Result<(), Refusal> {
        let running = self.sequence.is_running();
        let tripped = self.guard.trip().is_some();
        match command {
            Command::Start if running || self.resume.is_some() => return Err(Refusal::BakeRuns),
            Command::Start if tripped => return Err(Refusal::TripLatched),
            Command::Stop if !running => return Err(Refusal::NoBake),
            Command::Acknowledge if !tripped => return Err(Refusal::NoTrip),
            Command::Answer(_) if self.sequence.asks().is_none() => {
                return Err(Refusal::NothingAsked);
            }
            _ => self.pending.ask(now, command, self.asks()),
        }
        Ok(())
    }

    /// Keeps an event of this tick; a tick has room for more than it can have.
    fn tell(&mut self, event: Event) {
        let _ = self.events.push(event);
    }
}

fn facts<'a>(
    bake: &'a Bake,
    ledger: Option<&Ledger>,
    heat: Heat,
    now: Tick,
    reading: Option<Celsius>,
    door: &'a DoorNow,
    press: Option<Press>,
) -> Facts<'a> {
    Facts {
        now,
        bake,
        door,
        press,
        reading,
        hottest: ledger.and_then(Ledger::hottest),
        credit_s: ledger.map_or(0, Ledger::credit_s),
        no_longer: ledger.and_then(|ledger| ledger.stay().is_used_up()),
        loaded: ledger.is_some_and(Ledger::is_loaded),
        heat_allowed: heat.is_allowed(),
    }
}
