//! The oven's side of a rehearsal: plant, sensors, contacts, people and faults.
//!
//! It turns the plant's state into the controller's inputs and the controller's outputs into heat.
//! Everything here is true; what the controller believes is elsewhere.

mod known;

use super::fault::{Fault, FaultKind, Faults};
use super::people::{Act, People, ticks};
use super::sensor::{Junction, SensorFace};
use crate::files::bake::{BakeFile, FaultScript, Moment};
use crate::files::load::Load;
use crate::files::oven::{Circulation, Oven, Probe, Sensor};
use crate::plant::{Draw, Plant, Shown};
use truesoak_core::bake::{Bake, Purpose, Step};
use truesoak_core::event::Event;
use truesoak_core::io::{Door, Health, Inputs, Outputs, Question, Sample};
use truesoak_core::units::Celsius;

/// Ticks the independent clock runs fast by in a hundred while it is wrong.
const CLOCK_ERROR_PERCENT: u32 = 5;

/// What a script holds that was not played; doors and faults by their number from 0.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Unplayed {
    /// Faults whose moment never came.
    pub faults: Vec<usize>,
    /// Doors that never opened.
    pub doors: Vec<usize>,
    /// Answers at the end of the list that nothing asked for.
    pub answers: usize,
}

/// The oven, its load and the people around it.
#[derive(Clone, Debug)]
pub struct World {
    /// The plant.
    pub plant: Plant,
    /// The faults known so far.
    pub faults: Faults,
    people: People,
    scripted: Vec<FaultScript>,
    /// Which of the script struck or will, and the first tick of each.
    planned: Vec<(usize, u32)>,
    now: u32,
    gas_out: Vec<bool>,
    air: SensorFace,
    air_b: Option<SensorFace>,
    part_probe: Option<SensorFace>,
    power_w: f64,
    switch_fitted: bool,
    feedback_fitted: bool,
    mains_proof: bool,
    airflow_proof: bool,
    hold_ticks: u32,
    drive: bool,
    fan: bool,
    /// The contactor drops at this tick, unless the permit is toggled before; 0: it never closed.
    contactor_drops: u32,
    door_open: bool,
    powered: bool,
    watchdog_resets: u8,
    step: usize,
    parts_leave: bool,
    /// The last tick's.
    inputs: Inputs,
    /// Some contact may have changed since.
    contacts_stale: bool,
    calm_from: Option<u32>,
    asked_since: Option<u32>,
}

impl World {
    /// A world in which `oven` and `load` are true, as drawn.
    #[must_use]
    pub fn new(
        bake: &BakeFile,
        oven: &Oven,
        load: &Load,
        draw: &Draw,
        believed: &Oven,
        seed: u64,
    ) -> Self {
        let plant = Plant::new(oven, load, draw, bake.oven_starts_at_c);
        let room_c = oven.ambient_c;
        let face = |sensor: Sensor, offset_k: f64, correction_k: f64, stream: u64| {
            let error_k = offset_k - sensor.correction_k;
            SensorFace::new(sensor, error_k, correction_k, seed, stream).in_room(room_c)
        };
        let air_b = oven.sensor_b.map(|sensor| {
            let correction_k = believed.sensor_b.map_or(0.0, |sensor| sensor.correction_k);
            face(sensor, draw.sensor_b_offset_k, correction_k, 2)
        });
        let probed = load.parts.iter().any(|part| part.probe);
        let part_probe = probed.then(|| {
            let Probe { lag_s, noise_k, resolution_k, .. } = oven.probe;
            let probe = Sensor { lag_s, noise_k, resolution_k, correction_k: 0.0, ..oven.sensor };
            SensorFace::new(probe, draw.probe_offset_k, 0.0, seed, 3).in_room(room_c)
        });
        Self {
            plant,
            faults: Faults::default(),
            people: People::new(bake),
            scripted: bake.faults.clone(),
            planned: Vec::new(),
            now: 0,
            gas_out: load.parts.iter().map(|part| part.gas_out).collect(),
            air: face(oven.sensor, draw.sensor_offset_k, believed.sensor.correction_k, 1),
            air_b,
            part_probe,
            power_w: oven.heater.power_w * draw.heater_power,
            switch_fitted: oven.door.switch,
            feedback_fitted: oven.permit.feedback,
            mains_proof: oven.permit.mains_proof,
            airflow_proof: matches!(oven.circulation, Circulation::Fan { proof: true, .. }),
            hold_ticks: ticks(oven.permit.hold_s),
            drive: false,
            fan: false,
            contactor_drops: 0,
            door_open: false,
            powered: true,
            watchdog_resets: 0,
            step: 0,
            parts_leave: false,
            inputs: Inputs::NOTHING,
            contacts_stale: true,
            calm_from: None,
            asked_since: None,
        }
    }

    /// Whatever goes wrong has ended at this tick, and nothing goes wrong after it.
    #[must_use]
    pub fn calm_from(mut self, tick: u32) -> Self {
        self.calm_from = Some(tick);
        self
    }

    /// Nothing scripted goes wrong.
    pub fn forget_faults(&mut self) {
        self.scripted.clear();
    }

    /// The bake begins: what is scripted from its start is planned, and a load that no load_in puts
    /// in is inside.
    pub fn begin(&mut self, bake: &Bake) {
        for (number, script) in self.scripted.clone().iter().enumerate() {
            if let Moment::SinceStart(seconds) = script.at {
                self.plan_fault(number, script, ticks(seconds));
            }
        }
        self.powered = !self.faults.is_on(FaultKind::SupplyLost, 0);
        let first = bake.steps.iter().find(|step| matches!(step, Step::LoadIn(_) | Step::Soak(_)));
        if let Some(Step::Soak(soak)) = first {
            self.put_in(soak.purpose);
        }
    }

    /// True when something happens at this tick that the plant must stop for.
    #[must_use]
    pub fn stops_at(&self, tick: u32) -> bool {
        self.people.acts_at(tick)
            || self.faults.changes_at(tick)
            || self.calm_from == Some(tick)
            || self.contactor_drops == tick
    }

    /// Does what is due at this tick.
    pub fn act(&mut self, tick: u32, bake: &Bake) {
        self.now = tick;
        self.contacts_stale = true;
        if self.calm_from == Some(tick) {
            self.scripted.clear();
            if self.faults.end_at(tick) {
                self.people.shut_at(tick);
            }
        }
        let beginning: Vec<Fault> = self.faults.beginning_at(tick).copied().collect();
        for fault in beginning.iter().filter(|fault| fault.kind.opens_the_door()) {
            self.people.fault_opens(tick, fault.to);
        }
        for act in self.people.take_acts(tick) {
            match act {
                Act::Open(share) => {
                    self.door_open = true;
                    self.plant.open_door(share);
                }
                Act::Load => {
                    let next = bake.steps.iter().skip(self.step).find_map(|step| match step {
                        Step::Soak(soak) => Some(soak.purpose),
                        _ => None,
                    });
                    self.put_in(next.unwrap_or(Purpose::Other));
                }
                Act::Close => {
                    self.door_open = false;
                    self.plant.close_door();
                }
            }
        }
        self.powered = !self.faults.is_on(FaultKind::SupplyLost, tick);
    }

    /// Sets load, fan and heater to what is inside, runs and flows now.
    pub fn settle(&mut self, tick: u32) {
        if core::mem::take(&mut self.parts_leave) {
            self.plant.take_out();
        }
        self.plant.run_fan(self.fan && !self.faults.is_on(FaultKind::FanStopped, tick));
        let dead = self.faults.is_on(FaultKind::HeaterDead, tick);
        let on = self.current_flows(tick) && !dead;
        self.plant.set_power(if on { self.power_w } else { 0.0 });
    }

    /// Follows what the bake says has happened; true if the plant changes with it.
    pub fn hear(&mut self, event: Event, tick: u32, bake: &Bake) -> bool {
        match event {
            Event::StepBegan(index) => {
                let index = usize::from(index);
                self.step = index;
                self.people.step_began(index, bake.steps.get(index), tick);
                for (number, script) in self.scripted.clone().iter().enumerate() {
                    if let Moment::SinceStep(step, seconds) = script.at
                        && step == index
                    {
                        self.plan_fault(number, script, tick + ticks(seconds).max(1));
                    }
                }
            }
            Event::PartsOut => {
                self.parts_leave = true;
                return true;
            }
            _ => {}
        }
        false
    }

    /// The inputs of a tick.
    #[inline(always)] // every tick, from one place
    pub fn inputs(&mut self, tick: u32, shown: &Shown, practice: bool) -> &Inputs {
        self.read_sensors(tick, shown);
        (self.inputs.go, self.inputs.stop) = self.people.buttons(tick);
        self.inputs.independent_ticks = Some(tick);
        if self.contacts_stale || self.faults.are_any() {
            self.read_contacts(tick, practice);
        }
        &self.inputs
    }

    #[inline(always)] // every tick, from one place
    fn read_sensors(&mut self, tick: u32, shown: &Shown) {
        let junction = self.air.junction(tick, &self.faults);
        // Nearly every bake: nothing is asked of faults that are not there.
        if self.faults.are_any() {
            self.inputs.air = self.disturbed_air(tick, shown.air_c, junction);
        } else {
            self.inputs.air = self.air.transfer(shown.air_c, junction);
        }
        self.inputs.cold_junction = Some(Celsius(junction.celsius() as f32));
        if let (Some(face), Some(true_c)) = (&mut self.air_b, shown.air_b_c) {
            self.inputs.air_b = Some(face.transfer(true_c, junction));
        }
        if let (Some(face), Some(part_c)) = (&mut self.part_probe, shown.part_probe_c) {
            let off = self.faults.at(FaultKind::ProbeDisagrees, tick).map(|fault| fault.by_k);
            // Without a size it fell off its part and hangs in the air.
            let goal_c = off.map(|by_k| by_k.map_or(shown.air_c, |by_k| part_c + by_k));
            let true_c = face.astray(part_c, goal_c);
            self.inputs.part_probe = Some(face.transfer(true_c, junction));
        }
    }

    #[cold]
    fn disturbed_air(&mut self, tick: u32, air_c: f64, junction: Junction) -> Sample {
        // Before the first tick nothing was read.
        let before = self.inputs.cold_junction.map(|_| self.inputs.air);
        self.air.faulty_transfer(air_c, junction, tick, &self.faults, before)
    }

    /// Everything that stays as it is until somebody acts, the outputs change or a fault is there.
    #[cold]
    fn read_contacts(&mut self, tick: u32, practice: bool) {
        self.contacts_stale = false;
        let faults = &self.faults;
        let stuck = faults.is_on(FaultKind::DoorSwitchStuck, tick);
        let door = if self.door_open && !stuck { Door::Open } else { Door::Closed };
        let moves = self.fan && !faults.is_on(FaultKind::FanStopped, tick);
        let clock_is_wrong = faults.is_on(FaultKind::ClockWrong, tick);
        let fast_by = if clock_is_wrong { tick * CLOCK_ERROR_PERCENT / 100 } else { 0 };
        self.inputs = Inputs {
            door: (self.switch_fitted || practice).then_some(door),
            go: self.inputs.go || faults.is_on(FaultKind::ButtonStuck, tick),
            permit_feedback: self.feedback_fitted.then_some(self.contactor_is_closed(tick)),
            mains_at_heater: self.mains_proof.then_some(self.current_flows(tick)),
            airflow: self.airflow_proof.then_some(moves),
            independent_ticks: Some(tick + fast_by),
            health: Health {
                memory: !faults.is_on(FaultKind::MemoryCorrupt, tick),
                settings: !faults.is_on(FaultKind::SettingsCorrupt, tick),
                store: !faults.is_on(FaultKind::StoreFailing, tick),
                watchdog_resets: self.watchdog_resets,
            },
            ..self.inputs
        };
    }

    /// Takes a tick's outputs; true if the plant must stop here because the heat changed.
    #[inline(always)] // every tick, from one place
    pub fn take(&mut self, outputs: &Outputs, tick: u32, by_the_clock: bool) -> bool {
        let drive = outputs.heat.drives();
        let switched = self.drive != drive || self.fan != outputs.fan;
        (self.drive, self.fan) = (drive, outputs.fan);
        self.people.hear(outputs.asks, tick);
        let allowed = outputs.heat.is_allowed();
        if outputs.asks.is_some() && !allowed {
            self.asked_since.get_or_insert(tick);
        } else {
            self.asked_since = None;
        }
        let mut pulled_in = false;
        if allowed || by_the_clock {
            pulled_in = self.powered && !self.contactor_is_closed(tick);
            self.contactor_drops = tick + self.hold_ticks + 1;
        }
        if switched || pulled_in {
            self.contacts_stale = true;
        }
        switched || pulled_in && self.current_flows(tick)
    }

    /// What the script holds and has not been played.
    #[must_use]
    pub fn unplayed(&self) -> Unplayed {
        let struck = |number| self.planned.iter().any(|(n, at)| *n == number && *at <= self.now);
        Unplayed {
            faults: (0..self.scripted.len()).filter(|number| !struck(*number)).collect(),
            doors: self.people.doors_not_opened(self.now),
            answers: self.people.answers_left(),
        }
    }

    /// The board has supply.
    #[must_use]
    pub fn is_powered(&self) -> bool {
        self.powered
    }

    /// The processor runs at this tick.
    #[must_use]
    pub fn processor_runs(&self, tick: u32) -> bool {
        let hung = self.faults.are_any()
            && (self.faults.is_on(FaultKind::ProcessorHung, tick)
                || self.faults.is_on(FaultKind::TickOverrun, tick));
        self.powered && !hung
    }

    /// The watchdog has reset the processor.
    pub fn watchdog_reset(&mut self) {
        self.watchdog_resets = self.watchdog_resets.saturating_add(1);
        self.drive = false;
    }

    /// Outputs fall with the supply.
    pub fn lose_outputs(&mut self) {
        self.drive = false;
        self.fan = false;
    }

    /// Current flows through the heater at this tick.
    #[must_use]
    pub fn is_heating(&self, tick: u32) -> bool {
        self.current_flows(tick) && !self.faults.is_on(FaultKind::HeaterDead, tick)
    }

    /// The door stands open, whatever its switch says.
    #[must_use]
    pub fn door_is_open(&self) -> bool {
        self.door_open
    }

    /// Full power of this plant, W.
    #[must_use]
    pub fn full_power_w(&self) -> f64 {
        self.power_w
    }

    /// A question has cut the heat for so long, and nobody will answer it before `until`.
    #[must_use]
    pub fn waits_in_vain(&self, tick: u32, for_ticks: u32, until: u32) -> Option<Question> {
        let since = self.asked_since?;
        let question = self.people.leave_unanswered(until)?;
        (tick.saturating_sub(since) >= for_ticks).then_some(question)
    }

    #[inline]
    fn contactor_is_closed(&self, tick: u32) -> bool {
        let held = tick < self.contactor_drops;
        self.powered && (held || self.faults.is_on(FaultKind::PermitWelded, tick))
    }

    fn current_flows(&self, tick: u32) -> bool {
        let driven = self.drive || self.faults.is_on(FaultKind::DriveWelded, tick);
        driven && self.contactor_is_closed(tick)
    }

    fn put_in(&mut self, purpose: Purpose) {
        let inside: Vec<bool> =
            self.gas_out.iter().map(|hung| *hung || purpose != Purpose::GasOut).collect();
        self.plant.load_in(&inside, purpose == Purpose::Cure);
    }

    fn plan_fault(&mut self, number: usize, script: &FaultScript, tick: u32) {
        if let Some(kind) = FaultKind::from_word(&script.kind) {
            // A door is opened by somebody, so not before the bake has begun.
            let from = if kind.opens_the_door() { tick.max(1) } else { tick };
            self.planned.push((number, from));
            self.faults.add(Fault::new(kind, from, script.for_s, script.by_k));
        }
    }
}
