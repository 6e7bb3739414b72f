//! The board's own bakes are bakes a board takes.
//!
//! Goal: in any oven of the ranges a document may have, a step test and a hold have no fault, no load,
//! and no step above the limit of the document they came with. Method: a hand-made oven, its room
//! and limit moved.

mod hand;

use hand::{LIMITS, model, soak};
use truesoak_core::bake::{Bake, Limits, Step};
use truesoak_core::bounds::model::Probe;
use truesoak_core::regulate::Tuning;
use truesoak_core::tick::Settings;
use truesoak_core::units::{Celsius, Kelvins, Span};
use truesoak_core::wire::built_in::BuiltIn;
use truesoak_core::wire::compiled::Compiled;

fn document(room: f32, air_max: f32) -> Compiled {
    let limits = Limits { air_max: Celsius(air_max), ..LIMITS };
    let settings = Settings {
        tuning: Tuning { gain_per_k: 0.05, integral_time_s: 100.0, derivative_time_s: 0.0 },
        minimum_on_s: 1.0,
        minimum_off_s: 1.0,
        sensor_budget: Kelvins(10.0),
        fan: false,
        is_virtual: false,
    };
    let mut model = model();
    model.ambient = Celsius(room);
    let lag_s = Span { low: 1.0, high: 2.0 };
    model.probe = Some(Probe { class: 0, lag_s, offset_k: 1.0, resolution_k: 0.25, noise_k: 0.1 });
    Compiled { bake: Bake { steps: [soak()].into_iter().collect(), limits }, model, settings }
}

#[test]
fn both_are_bakes_without_a_load_in_the_documents_oven_and_below_its_limit() {
    for room in [-5.0, 20.0, 38.0] {
        for air_max in [95.0, 150.0, 220.0, 400.0] {
            for built_in in [BuiltIn::StepTest, BuiltIn::Hold] {
                let told = format!("{built_in:?}, room {room}, limit {air_max}");
                let mut compiled = document(room, air_max);
                built_in.apply(&mut compiled);
                assert_eq!(compiled.fault(), None, "{told}");
                assert!(compiled.model.classes.is_empty() && compiled.model.probe.is_none());
                let heats = compiled.bake.steps.iter().filter_map(|step| match step {
                    Step::Ramp(ramp) => Some(ramp.to),
                    _ => None,
                });
                for to in heats {
                    assert!(to.0 <= air_max - 20.0 && to.0 >= room + 15.0, "{told}: {to:?}");
                }
                assert!(matches!(compiled.bake.steps.last(), Some(Step::Cool(_))), "{told}");
            }
        }
    }
}
