//! The controller: the one function every tick goes through, on the chip and in every rehearsal.
//!
//! `inputs → readings judged → bounds → guard → sequence → regulate → guard clamps → outputs`
//!
//! A call takes bounded time, allocates nothing and cannot panic. Call it every 100 ms with the
//! tick number; a gap is told from the number and never counted.

use crate::bake::{Bake, Step};
use crate::bounds::model::Model;
use crate::bounds::{Bounds, Hottest, Second};
pub use crate::command::{Command, Refusal, Settings};
use crate::door::{DoorNow, DoorWatch};
use crate::event::{Ending, Event};
use crate::guard::{Expectation, Guard, Standing, Trip, TripKind, View};
use crate::io::{Answer, Heat, Inputs, Outputs, Question};
use crate::judge::{Judge, Judged, Reach};
use crate::ledger::Ledger;
use crate::person::{Buttons, Press};
use crate::record::{Checkpoint, Phase, Record};
use crate::regulate::{Regulator, SecondView};
use crate::sequence::{Aim, Events, Facts, Mode, Sequence};
use crate::units::{Celsius, Kelvins, Reading, TICKS_PER_SECOND, Tick};

/// A request from the computer waits so long for GO, ticks.
const REQUEST_TICKS: u32 = 60 * TICKS_PER_SECOND;
/// Ticks that came late or watchdog resets in one bake that trip.
const OVERRUNS_MAX: u8 = 3;
/// Most seconds of a gap that are made up, s; more is a lost supply.
const GAP_SECONDS_MAX: u32 = 10;
/// An unchanged frame widens the bounds from here on, ticks.
const WIDENED_TICKS: u32 = 60 * TICKS_PER_SECOND;
/// So long after a door the air's own bound is too loose for its limit, ticks.
const AFTER_DOOR_TICKS: u32 = 60 * TICKS_PER_SECOND;
/// Doubt that switches the drive off, ticks.
const DOUBT_OFF_TICKS: u16 = 5;
/// How far below the room anything brought in can be, K.
const BELOW_ROOM_K: f32 = 5.0;

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
    guard: Guard,
    ledger: Option<Ledger>,
    sequence: Sequence,
    regulator: Regulator,
    last: Outputs,
    last_tick: Option<Tick>,
    buttons_free: bool,
    request: Option<(Command, Tick)>,
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

/// Counts of the second in the making.
#[derive(Clone, Copy, Debug, Default)]
struct SecondInMaking {
    ticks: u32,
    on_ticks: u8,
    door_open: bool,
}

/// Things told once a bake.
#[derive(Clone, Copy, Debug, Default)]
struct Told {
    outside_model: bool,
    probe_ignored: bool,
    store_failing: bool,
    trip: bool,
}

impl Controller {
    /// A controller at rest for one bake in one oven.
    #[must_use]
    pub fn new(bake: Bake, model: Model, settings: Settings) -> Self {
        let reach = Reach {
            lag_s: model.sensor.lag_s.low,
            noise_k: model.sensor.noise_k,
            resolution_k: model.sensor.resolution_k,
            ambient: model.ambient,
            air_max: bake.limits.air_max,
        };
        let standing = Standing {
            ambient: model.ambient,
            resolution: Kelvins(model.sensor.resolution_k),
            noise: Kelvins(model.sensor.noise_k),
            sensor_lag_s: model.sensor.lag_s.middle(),
            sensor_lag_longest_s: model.sensor.lag_s.high,
            sensor_budget: settings.sensor_budget,
            fan_is_known: model.air.stopped_fan >= 1.0 || model.air.airflow_proof,
        };
        let regulator =
            Regulator::new(settings.tuning, settings.minimum_on_s, settings.minimum_off_s);
        Self {
            bake,
            model,
            settings,
            air: Judge::new(reach),
            air_b: Judge::new(reach),
            part_probe: Judge::new(reach),
            door: DoorWatch::new(Tick(0)),
            buttons: Buttons::default(),
            guard: Guard::new(standing),
            ledger: None,
            sequence: Sequence::idle(),
            regulator,
            last: Outputs::default(),
            last_tick: None,
            buttons_free: false,
            request: None,
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
        let late_ticks = self.follow_time(now);

        if self.sequence.mode() != Mode::Running {
            // At rest a sensor is mended, moved and dipped; no row judges jumps then.
            self.air.forgive_jump();
            self.air_b.forgive_jump();
        }
        let door = self.door.tick(now, inputs.door);
        let air = self.air.tick(&inputs.air, door.open);
        let air_b = inputs.air_b.map(|sample| self.air_b.tick(&sample, door.open));
        if let Some(sample) = inputs.part_probe {
            // A probe that fell off its part must be heard, to be told apart from the part.
            self.part_probe.forgive_jump();
            let _ = self.part_probe.tick(&sample, true);
        }
        self.make_second(now, inputs, &air, door, late_ticks);

        let found = self.watch(now, inputs, &air, air_b.as_ref(), door);
        let press = self.press(now, inputs, found);
        self.carry_on(now, inputs, &air, door, press);

        let outputs = self.act(now, inputs, &air, door);
        self.second.on_ticks += u8::from(outputs.heat.drives());
        self.last = outputs;
        outputs
    }

    /// Takes a request from the computer. What leads to heat waits for GO at the oven, unless the
    /// board is virtual.
    ///
    /// # Errors
    /// What does not fit the present state is refused; nothing changes then.
    pub fn command(&mut self, now: Tick, command: Command) -> Result<(), Refusal> {
        let running = self.sequence.mode() == Mode::Running;
        let tripped = self.guard.trip().is_some();
        match command {
            Command::Start if running => return Err(Refusal::BakeRuns),
            Command::Start if tripped => return Err(Refusal::TripLatched),
            Command::Stop if !running => return Err(Refusal::NoBake),
            Command::Acknowledge if !tripped => return Err(Refusal::NoTrip),
            Command::Answer(_) if self.sequence.asks().is_none() => {
                return Err(Refusal::NothingAsked);
            }
            _ => self.request = Some((command, now)),
        }
        Ok(())
    }

    /// Goes on from a checkpoint: off, and asking, once the air has been read for a second.
    pub fn resume(&mut self, checkpoint: Checkpoint) {
        if let Some(trip) = checkpoint.trip {
            self.guard.latch(trip.kind, trip.at);
        } else {
            self.resume = Some(checkpoint);
        }
    }

    /// Events of the last tick.
    #[must_use]
    pub fn events(&self) -> &[Event] {
        &self.events
    }

    /// The second that ended with the last tick.
    #[must_use]
    pub fn record(&self) -> Option<&Record> {
        self.record.as_ref()
    }

    /// Bounds and credit, once a bake has begun.
    #[must_use]
    pub fn ledger(&self) -> Option<&Ledger> {
        self.ledger.as_ref()
    }

    /// Where the bake is.
    #[must_use]
    pub fn mode(&self) -> Mode {
        self.sequence.mode()
    }

    /// Some soak's last try ended short.
    #[must_use]
    pub fn is_short(&self) -> bool {
        self.sequence.is_short()
    }

    /// The latched trip.
    #[must_use]
    pub fn trip(&self) -> Option<Trip> {
        self.guard.trip()
    }

    /// The bake that is run.
    #[must_use]
    pub fn bake(&self) -> &Bake {
        &self.bake
    }

    /// Model of oven and load.
    #[must_use]
    pub fn model(&self) -> &Model {
        &self.model
    }

    /// What to keep against a lost supply; `None` when no bake runs and no trip is latched.
    #[must_use]
    pub fn checkpoint(&self) -> Option<Checkpoint> {
        if self.sequence.mode() != Mode::Running && self.guard.trip().is_none() {
            return None;
        }
        // A trip is kept even where no bake has run since the board was switched on.
        let room = self.model.ambient;
        let ledger = self.ledger.as_ref();
        Some(Checkpoint {
            second: self.seconds,
            step: self.sequence.step(),
            credit_s: ledger.map_or(0, Ledger::credit_s),
            loaded: ledger.is_some_and(Ledger::is_loaded),
            rounds: *self.sequence.rounds(),
            short: *self.sequence.short(),
            heat_ticks: self.sequence.heat_ticks(),
            coldest: ledger.and_then(Ledger::coldest).unwrap_or(room),
            hottest: ledger
                .map_or(Hottest::all(room), |ledger| ledger.bounds().hottest_states(&self.model)),
            trip: self.guard.trip(),
        })
    }

    /// Ticks since the last call beyond one.
    fn follow_time(&mut self, now: Tick) -> u32 {
        let late = self.last_tick.map_or(0, |last| now.since(last).saturating_sub(1));
        self.last_tick = Some(now);
        if late > 0 && self.sequence.mode() == Mode::Running {
            self.overruns = self.overruns.saturating_add(1);
            if self.overruns >= OVERRUNS_MAX {
                self.guard.latch(TripKind::TickOverrun, now);
            }
        }
        late
    }

    /// Ends the second when its ticks are through: bounds, credit, what the guard expects.
    fn make_second(
        &mut self,
        now: Tick,
        inputs: &Inputs,
        air: &Judged,
        door: DoorNow,
        late_ticks: u32,
    ) {
        self.second.ticks += 1 + late_ticks;
        self.second.door_open |= door.open;
        if self.second.ticks < TICKS_PER_SECOND {
            return;
        }
        let lost_seconds = (self.second.ticks / TICKS_PER_SECOND - 1).min(GAP_SECONDS_MAX);
        let made = core::mem::take(&mut self.second);
        let judged = self.air.end_second();
        let reading_b = inputs.air_b.and_then(|_| self.air_b.end_second().reading);
        let part_probe = inputs.part_probe.and_then(|_| self.part_probe.end_second().reading);
        self.reading = judged.reading.map(Reading::to_celsius);
        if let (Some(reading), true) = (judged.reading, self.resume.is_some()) {
            // The bake goes on from here; the second that told where is not part of it.
            self.begin_again(now, reading, door);
            return;
        }
        let Some(ledger) = &mut self.ledger else { return };
        if self.sequence.mode() != Mode::Running {
            return;
        }
        for _ in 0..lost_seconds {
            ledger.second(&self.model, &Second { door_open: made.door_open, ..Second::NOTHING });
        }
        let widened = air.unchanged_ticks >= WIDENED_TICKS;
        let second = Second {
            reading: judged.reading,
            on_ticks: made.on_ticks,
            door_open: made.door_open,
            airflow: inputs.airflow,
            widened,
        };
        ledger.second(&self.model, &second);
        self.seconds += 1 + lost_seconds;
        let lowest = ledger.bounds().reading_lowest(&self.model);
        self.door.second(self.reading, lowest);
        self.expectation = self.expect(self.probe_disagrees(part_probe.map(Reading::to_celsius)));
        self.record = Some(self.make_record(&second, judged.projected, reading_b, part_probe));
    }

    /// What the model says of this second.
    fn expect(&self, probe_disagrees: bool) -> Option<Expectation> {
        let bounds = self.ledger.as_ref()?.bounds();
        let part_over_limit = self.model.classes.iter().enumerate().any(|(index, class)| {
            bounds.class(index).is_some_and(|(_, hottest)| {
                // A not-a-number is not below the limit.
                !(hottest.0.is_finite() && hottest < class.max)
            })
        });
        Some(Expectation {
            upper_air: bounds.upper_air(),
            liner: bounds.nominal_liner(),
            reading_lowest: bounds.reading_lowest(&self.model),
            reading_highest: bounds.reading_highest(&self.model),
            reading_nominal: bounds.nominal_reading(),
            reading: self.reading,
            part_over_limit,
            probe_disagrees,
        })
    }

    /// The second's mean of the part probe lies outside the bounds of its own part.
    fn probe_disagrees(&self, part_probe: Option<Celsius>) -> bool {
        let class = self.settings.probe_class.map(usize::from);
        let bounds = self.ledger.as_ref().zip(class).and_then(|(l, class)| l.bounds().class(class));
        bounds
            .zip(part_probe)
            .is_some_and(|((coldest, hottest), probe)| !(probe >= coldest && probe <= hottest))
    }

    fn make_record(
        &self,
        second: &Second,
        projected: bool,
        reading_b: Option<Reading>,
        part_probe: Option<Reading>,
    ) -> Record {
        let ledger = self.ledger.as_ref();
        Record {
            second: self.seconds,
            reading: second.reading,
            reading_b,
            part_probe,
            setpoint: self.regulator.setpoint(),
            on_ticks: second.on_ticks,
            permit: self.last.heat.is_allowed(),
            door_open: second.door_open,
            step: self.sequence.step() + 1,
            phase: self.phase(),
            coldest: ledger.and_then(Ledger::coldest),
            hottest: ledger.and_then(Ledger::hottest),
            credit_s: ledger.map_or(0, Ledger::credit_s),
            projected,
            airflow: second.airflow,
            widened: second.widened,
        }
    }

    /// Runs the guard's rows and ends the bake on a latched trip.
    fn watch(
        &mut self,
        now: Tick,
        inputs: &Inputs,
        air: &Judged,
        air_b: Option<&Judged>,
        door: DoorNow,
    ) -> Option<TripKind> {
        let standing = *self.guard.standing();
        let running = self.sequence.mode() == Mode::Running;
        if let (Some(ledger), true) = (&self.ledger, running) {
            let upper_air = self.upper_air(now, air, door, ledger.bounds());
            if let Some(expectation) = &mut self.expectation {
                expectation.upper_air = upper_air;
            }
        }
        let view = View {
            now,
            inputs,
            air,
            air_b,
            door,
            commanded: self.last.heat,
            fan: self.last.fan,
            baking: running,
            expectation: self.expectation.as_ref().filter(|_| running),
            air_max: self.bake.limits.air_max,
            standing: &standing,
        };
        let found = self.guard.tick(&view);
        if inputs.health.watchdog_resets >= OVERRUNS_MAX && view.baking {
            self.guard.latch(TripKind::ProcessorHung, now);
        }
        if let (Some(trip), false) = (self.guard.trip(), self.told.trip) {
            self.told.trip = true;
            self.tell(Event::Tripped(trip.kind));
            self.sequence.end(Ending::Tripped(trip.kind), &mut self.events);
        }
        self.tell_once(inputs);
        found
    }

    /// Upper bound of the true air in this tick.
    fn upper_air(&self, now: Tick, air: &Judged, door: DoorNow, bounds: &Bounds) -> Celsius {
        // Without a reading the drive is off; the last bound is projected along its own rise.
        let upper_air = match (air.value, air.latest, air.doubt) {
            (Some(value), ..) => bounds.upper_air_now(&self.model, value, air.slope_k_per_s),
            (None, Some(latest), Some(doubt)) => {
                let age_s = f32::from(doubt.ticks) / TICKS_PER_SECOND as f32;
                let slope_k_per_s = air.slope_k_per_s.max(0.0);
                let projected = latest + Kelvins(slope_k_per_s * age_s);
                bounds.upper_air_now(&self.model, projected, slope_k_per_s)
            }
            _ => bounds.upper_air(),
        };
        // A door makes the reading fall and rise as fast as its sensor allows, and how fast that is
        // is not known well; for a minute what the heater can have done bounds the air better.
        if door.open || now.since(door.since) < AFTER_DOOR_TICKS {
            upper_air.min(bounds.upper_air_by_duty())
        } else {
            upper_air
        }
    }

    fn tell_once(&mut self, inputs: &Inputs) {
        if self.sequence.mode() != Mode::Running {
            return;
        }
        let rows = *self.guard.rows();
        if rows.outside_model() && !self.told.outside_model {
            self.told.outside_model = true;
            self.tell(Event::OutsideModel);
        }
        if rows.probe_ignored() && !self.told.probe_ignored {
            self.told.probe_ignored = true;
            self.tell(Event::ProbeIgnored);
        }
        if !inputs.health.store && !self.told.store_failing {
            self.told.store_failing = true;
            self.tell(Event::StoreFailing);
        }
    }

    /// What the person said in this tick, at the oven or by a request that GO has confirmed.
    fn press(&mut self, now: Tick, inputs: &Inputs, found: Option<TripKind>) -> Option<Press> {
        // A button closed since boot is stuck until it has been seen released.
        self.buttons_free |= !inputs.go && !inputs.stop;
        if !self.buttons_free {
            return None;
        }
        let mut press = self.buttons.tick(inputs.go, inputs.stop);
        if let Some((command, asked)) = self.request {
            let confirmed = press == Some(Press::Go) || self.settings.is_virtual;
            if confirmed || command == Command::Stop {
                press = Some(press_of(command));
                self.request = None;
            } else if now.since(asked) >= REQUEST_TICKS {
                self.request = None;
            }
        }
        if press == Some(Press::Go) && self.guard.trip().is_some() {
            if self.guard.acknowledge(found) {
                self.told.trip = false;
                self.tell(Event::Acknowledged);
                self.sequence = Sequence::idle();
            }
            return None;
        }
        press
    }

    /// Starts, steps and ends the bake.
    fn carry_on(
        &mut self,
        now: Tick,
        inputs: &Inputs,
        air: &Judged,
        door: DoorNow,
        press: Option<Press>,
    ) {
        if self.sequence.mode() != Mode::Running {
            if press == Some(Press::Go) {
                self.start(now, inputs, air, door);
            }
            return;
        }
        let asked = self.sequence.asks();
        let facts = facts(&self.bake, self.ledger.as_ref(), self.last.heat, now, air.latest, door);
        self.sequence.tick(&Facts { press, ..facts }, &mut self.events);
        if asked == Some(Question::DoorLeftOpen) && press == Some(Press::Go) {
            self.door.told_shut();
        }
        if door.closed {
            self.regulator.door_closed();
        }
        self.keep_books();
    }

    /// Hands this tick's events to whatever follows them.
    fn keep_books(&mut self) {
        let Some(ledger) = &mut self.ledger else { return };
        for event in &self.events {
            if let Event::StepBegan(_) = event {
                self.regulator.step_began();
            }
            ledger.note(&self.model, &self.bake, *event);
        }
        if !self.events.is_empty() {
            self.expectation = self.expect(self.expectation.is_some_and(|e| e.probe_disagrees));
        }
    }

    /// Starts a bake, if the board is well, the air is read and the door is shut.
    fn start(&mut self, now: Tick, inputs: &Inputs, air: &Judged, door: DoorNow) {
        let healthy = inputs.health.memory && inputs.health.settings && inputs.health.store;
        let startable = healthy && !door.open && self.guard.trip().is_none();
        let reading = air.value.and_then(Reading::from_celsius);
        let (Some(reading), true) = (reading, startable && !self.bake.steps.is_empty()) else {
            return;
        };
        self.ledger = Some(Ledger::start(&self.model, &self.bake, reading));
        self.begin_bake(0, reading);
        let facts = facts(&self.bake, self.ledger.as_ref(), Heat::Cut, now, air.latest, door);
        self.sequence.start(&facts, &mut self.events);
        self.keep_books();
        let second = Second { reading: Some(reading), ..Second::NOTHING };
        self.record = Some(self.make_record(&second, false, None, None));
    }

    fn begin_bake(&mut self, seconds: u32, reading: Reading) {
        self.guard.bake_begins();
        self.told = Told::default();
        self.overruns = 0;
        self.seconds = seconds;
        self.second = SecondInMaking::default();
        let _ = self.air.end_second();
        self.reading = Some(reading.to_celsius());
    }

    /// Goes on after a lost supply, off and asking, from the worst that can be inside.
    fn begin_again(&mut self, now: Tick, reading: Reading, door: DoorNow) {
        let Some(kept) = self.resume.take() else { return };
        let air = reading.to_celsius();
        let coldest = kept.coldest.min(air).min(self.model.ambient - Kelvins(BELOW_ROOM_K));
        let grid = |value: Celsius| Reading::from_celsius(value).unwrap_or(reading);
        let mut ledger = Ledger::start(&self.model, &self.bake, reading);
        ledger.restore(&self.model, &self.bake, kept.step, kept.credit_s, kept.loaded);
        self.ledger = Some(ledger);
        self.begin_bake(kept.second, reading);
        let facts = facts(&self.bake, self.ledger.as_ref(), Heat::Cut, now, Some(air), door);
        self.sequence.resume(&kept, &facts);
        self.tell(Event::SupplyReturned {
            coldest: grid(coldest),
            hottest: grid(kept.hottest.oven.max(air)),
            parts: grid(kept.hottest.parts),
            element: grid(kept.hottest.element.max(air)),
            credit_s: kept.credit_s,
        });
        self.tell(Event::Asked(Question::PowerReturned));
        self.keep_books();
    }

    /// From what is wanted to what is done; the guard has the last word.
    fn act(&mut self, now: Tick, inputs: &Inputs, air: &Judged, door: DoorNow) -> Outputs {
        let facts = facts(&self.bake, self.ledger.as_ref(), self.last.heat, now, air.latest, door);
        let running = self.sequence.mode() == Mode::Running;
        let aim = self.sequence.aim(&facts);
        let cut = self.guard.trip().is_some()
            || inputs.stop
            || door.open
            || door.air_falls
            || self.guard.rows().fan_holds_heat_off();
        let allowed = running && aim != Aim::Cut && !cut;
        if self.second.ticks == 0 && running {
            self.regulate(aim, air, allowed);
        }
        let doubted = air.doubt.is_some_and(|doubt| doubt.ticks >= DOUBT_OFF_TICKS);
        let drive = self.regulator.tick(allowed && !doubted);
        Outputs {
            heat: if allowed { Heat::Allowed { drive } } else { Heat::Cut },
            fan: running && self.settings.fan,
            asks: self.guard.trip().map_or(self.sequence.asks(), |_| Some(Question::Tripped)),
        }
    }

    fn regulate(&mut self, aim: Aim, air: &Judged, possible: bool) {
        let Some(ledger) = &self.ledger else { return };
        let bounds = ledger.bounds();
        let inside = self.model.classes.iter().enumerate();
        let part_max = inside
            .filter(|(index, _)| bounds.class(*index).is_some())
            .map(|(_, class)| class.max)
            .reduce(Celsius::min);
        let back = self.regulator.second(&SecondView {
            aim,
            reading: self.reading,
            slope_k_per_s: air.slope_k_per_s,
            model: &self.model,
            bounds,
            coldest: ledger.coldest(),
            air_max: self.bake.limits.air_max,
            part_max,
            possible,
            frozen: air.unchanged_ticks >= WIDENED_TICKS,
        });
        if back {
            self.tell(Event::Recovered);
        }
    }

    fn phase(&self) -> Phase {
        if self.guard.trip().is_some() {
            return Phase::Tripped;
        }
        match self.sequence.mode() {
            Mode::Idle => return Phase::Idle,
            Mode::Done(_) => return Phase::Done,
            Mode::Running => {}
        }
        match self.bake.steps.get(usize::from(self.sequence.step())) {
            Some(Step::Cool(_)) => Phase::Cool,
            Some(Step::LoadIn(_)) => Phase::LoadIn,
            Some(Step::Check(_)) => Phase::Check,
            Some(Step::Wait(_)) => Phase::Wait,
            _ if self.regulator.is_recovering() => Phase::Recover,
            Some(Step::Soak(_)) if self.regulator.is_in() => Phase::Soak,
            Some(Step::Soak(_)) => Phase::Approach,
            Some(Step::Ramp(_)) | None => Phase::Ramp,
        }
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
    door: DoorNow,
) -> Facts<'a> {
    Facts {
        now,
        bake,
        door,
        press: None,
        reading,
        hottest: ledger.and_then(Ledger::hottest),
        credit_s: ledger.map_or(0, Ledger::credit_s),
        loaded: ledger.is_some_and(Ledger::is_loaded),
        heat_allowed: heat.is_allowed(),
    }
}

/// What a confirmed request stands for.
fn press_of(command: Command) -> Press {
    match command {
        Command::Stop => Press::Stop,
        Command::Answer(Answer::Fail) => Press::Fail,
        Command::Start | Command::Acknowledge | Command::Answer(Answer::Go) => Press::Go,
    }
}
