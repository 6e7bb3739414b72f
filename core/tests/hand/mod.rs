//! A bench with a board on it, shared by the tests that have no plant: what the oven shows and what
//! a person does is written into [`Hand::inputs`] by hand.

#![allow(dead_code)] // not every test uses all of it

use truesoak_core::Controller;
use truesoak_core::bake::{Bake, Dip, Limits, Purpose, Soak, Step};
use truesoak_core::bounds::model::{
    Air, CELLS_MAX, Cabinet, Class, Element, Film, Model, Point, Sensor,
};
use truesoak_core::event::Event;
use truesoak_core::guard::TripKind;
use truesoak_core::io::{Door, Health, Inputs, Outputs, Sample, Transfer};
use truesoak_core::regulate::Tuning;
use truesoak_core::tick::Settings;
use truesoak_core::units::{Celsius, Kelvins, Span, Tick};

pub fn model() -> Model {
    let film = Film { constant: 1.0, quarter: 2.0, law: Span { low: 0.9, high: 1.1 } };
    let point = Point {
        area_m2: 0.05,
        capacity_j_per_k: 400.0,
        film,
        emissivity: 0.2,
        emissivity_cure: 0.2,
        element_m2: 0.0,
        cells: 1,
        conduction_w_per_k: [0.0; CELLS_MAX - 1],
        cell_share: [1.0, 0.0, 0.0, 0.0],
    };
    let class = Class {
        slow: point,
        fast: point,
        max: Celsius(190.0),
        starts_at: Celsius(20.0),
        gas_out: true,
    };
    Model {
        ambient: Celsius(20.0),
        sensor: Sensor {
            lag_s: Span { low: 9.0, high: 15.0 },
            wall_view: Span { low: 0.05, high: 0.15 },
            offset_k: 2.2,
            resolution_k: 0.25,
            noise_k: 0.1,
        },
        sensor_b: None,
        probe: None,
        element: Element {
            power_w: 1500.0,
            power: Span { low: 0.85, high: 1.15 },
            capacity_j_per_k: 345.0,
            convection_w_per_k: 3.0,
            radiation_m2: 0.039,
            radiant_share: Span { low: 0.3, high: 0.5 },
        },
        cabinet: Cabinet {
            liner_m2: 0.94,
            liner_film: film,
            liner_j_per_k: 5000.0,
            insulation_j_per_k: 800.0,
            skin_j_per_k: 4000.0,
            capacity: Span { low: 0.8, high: 1.2 },
            insulation_w_per_k: [6.0, 3.0, 3.0, 6.0],
            losses: Span { low: 0.75, high: 1.25 },
            skin_w_per_k: 10.0,
            doorway_m2: 0.2,
        },
        air: Air {
            capacity_j_per_k: 72.0,
            leak_w_per_k: 0.5,
            stopped_fan: 1.0,
            airflow_proof: false,
            cold_spot_k: 4.0,
            hot_spot_k: 3.0,
        },
        exchange: Span { low: 0.65, high: 1.35 },
        rack: None,
        rack_starts_at: Celsius(20.0),
        classes: [class].into_iter().collect(),
    }
}

pub const LIMITS: Limits =
    Limits { air_max: Celsius(220.0), bake_max_s: 36_000, door_open_max_s: 60 };

pub fn soak() -> Step {
    Step::Soak(Soak {
        purpose: Purpose::Cure,
        at_least: Celsius(130.0),
        at_most: Celsius(170.0),
        for_s: 600,
        dip: Dip::Pause,
        boost: Kelvins(0.0),
        give_up_after_s: None,
        no_longer_than_s: None,
    })
}

/// A bench with a board on it and a hand at every contact.
pub struct Hand {
    pub controller: Controller,
    pub inputs: Inputs,
    pub now: u32,
    pub last: Outputs,
    pub heard: Vec<Event>,
}

impl Hand {
    pub fn new(steps: &[Step], is_virtual: bool) -> Self {
        Self::with(steps, LIMITS, is_virtual)
    }

    pub fn with(steps: &[Step], limits: Limits, is_virtual: bool) -> Self {
        Self::of(model(), steps, limits, is_virtual)
    }

    pub fn of(model: Model, steps: &[Step], limits: Limits, is_virtual: bool) -> Self {
        let bake = Bake { steps: steps.iter().copied().collect(), limits };
        let settings = Settings {
            tuning: Tuning { gain_per_k: 0.05, integral_time_s: 100.0, derivative_time_s: 0.0 },
            minimum_on_s: 1.0,
            minimum_off_s: 1.0,
            sensor_budget: Kelvins(10.0),
            fan: false,
            is_virtual,
        };
        let air = Sample { value: Celsius(20.0), age_ticks: 0, frame: 0, transfer: Transfer::Good };
        Self {
            controller: Controller::new(bake, model, settings),
            inputs: Inputs {
                air,
                air_b: None,
                part_probe: None,
                cold_junction: Some(Celsius(25.0)),
                door: Some(Door::Closed),
                go: false,
                stop: false,
                permit_feedback: None,
                mains_at_heater: None,
                airflow: None,
                independent_ticks: None,
                health: Health::default(),
            },
            now: 0,
            last: Outputs::default(),
            heard: Vec::new(),
        }
    }

    pub fn ticks(&mut self, count: u32) -> &mut Self {
        for _ in 0..count {
            self.inputs.air.frame += 1;
            self.last = self.controller.tick(Tick(self.now), &self.inputs);
            self.heard.extend_from_slice(self.controller.events());
            self.now += 1;
        }
        self
    }

    pub fn press_go(&mut self) -> &mut Self {
        self.inputs.go = true;
        self.ticks(22);
        self.inputs.go = false;
        self.ticks(2)
    }

    pub fn hold_stop(&mut self, ticks: u32) -> &mut Self {
        self.inputs.stop = true;
        self.ticks(ticks);
        self.inputs.stop = false;
        self.ticks(2)
    }

    pub fn tripped(&self) -> Option<TripKind> {
        self.controller.trip().map(|trip| trip.kind)
    }

    pub fn heard(&self, event: Event) -> bool {
        self.heard.contains(&event)
    }
}
