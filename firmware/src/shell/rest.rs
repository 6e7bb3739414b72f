//! A controller at rest for a board that has no bake: every row of the guard that needs no oven runs,
//! a latched trip is kept and acknowledged, and nothing can be started.

use truesoak_core::Controller;
use truesoak_core::bake::{Bake, Limits};
use truesoak_core::bounds::model::{Air, Cabinet, Element, Film, INSULATION_CELLS, Model, Sensor};
use truesoak_core::command::Settings;
use truesoak_core::regulate::Tuning;
use truesoak_core::units::{Celsius, Kelvins, Span};

/// Nothing heats; the limit is one that no oven of the project stands.
const AIR_MAX: Celsius = Celsius(600.0);
const ONE: Span = Span { low: 1.0, high: 1.0 };
const STILL: Film = Film { constant: 1.0, quarter: 0.0, law: ONE };

/// A controller without a single step: [`Controller`] starts no such bake.
pub(super) fn controller(is_virtual: bool) -> Controller {
    let limits = Limits { air_max: AIR_MAX, bake_max_s: 0, door_open_max_s: 0 };
    let bake = Bake { steps: heapless::Vec::new(), limits };
    Controller::new(bake, model(), settings(is_virtual))
}

fn settings(is_virtual: bool) -> Settings {
    Settings {
        tuning: Tuning { gain_per_k: 0.0, integral_time_s: 1.0, derivative_time_s: 0.0 },
        minimum_on_s: 1.0,
        minimum_off_s: 1.0,
        sensor_budget: Kelvins(AIR_MAX.0),
        fan: false,
        is_virtual,
    }
}

/// Nothing is reckoned from it but what a sensor may do in a tick, and at rest it may do anything.
fn model() -> Model {
    let sensor = Sensor {
        lag_s: Span { low: 1.0, high: 60.0 },
        wall_view: Span { low: 0.0, high: 0.2 },
        offset_k: 3.0,
        resolution_k: 0.25,
        noise_k: 0.2,
    };
    Model {
        ambient: Celsius(20.0),
        sensor,
        sensor_b: None,
        probe: None,
        element: Element {
            power_w: 1.0,
            power: ONE,
            capacity_j_per_k: 1.0,
            convection_w_per_k: 1.0,
            radiation_m2: 0.0,
            radiant_share: Span { low: 0.0, high: 0.0 },
        },
        cabinet: Cabinet {
            liner_m2: 1.0,
            liner_film: STILL,
            liner_j_per_k: 1.0,
            insulation_j_per_k: 1.0,
            skin_j_per_k: 1.0,
            capacity: ONE,
            insulation_w_per_k: [1.0; INSULATION_CELLS + 1],
            losses: ONE,
            skin_w_per_k: 1.0,
            doorway_m2: 0.0,
        },
        air: Air {
            capacity_j_per_k: 1.0,
            leak_w_per_k: 0.0,
            stopped_fan: 1.0,
            airflow_proof: false,
            cold_spot_k: 0.0,
            hot_spot_k: 0.0,
        },
        exchange: ONE,
        rack: None,
        rack_starts_at: Celsius(20.0),
        classes: heapless::Vec::new(),
    }
}
