//! Every oven the controller may find itself in: corners of what is not known, ends of what a bake
//! does with it.

use super::linear::{Corner, Linear, Moment, Stage};
use crate::files::Setup;
use truesoak_core::bake::Step;
use truesoak_core::bounds::Present;
use truesoak_core::bounds::model::Model;

/// Air a bake without any heat is taken to hold, °C.
const AT_C: f64 = 150.0;
/// The ends of what walls and element go through while the air is regulated.
const STAGES: [Stage; 2] = [Stage::Rest, Stage::Rising { behind_k: 40.0, duty: 1.0 }];

/// The oven at the corners of what is not known about it, at the ends of what a bake does with it.
pub(super) fn of(setup: &Setup, model: &Model) -> Vec<Linear> {
    let (coldest_c, hottest_c) = airs_c(setup);
    let fans: &[f32] = if !model.air.is_still() && !model.air.airflow_proof {
        &[1.0, model.air.stopped_fan]
    } else {
        &[1.0]
    };
    let mut all = Vec::new();
    for air_c in [coldest_c, hottest_c] {
        for present in [Present::NOTHING, Present::everything(model)] {
            for stage in STAGES {
                for fan in fans {
                    let moment = Moment { air_c, stage, present, fan: f64::from(*fan) };
                    all.extend(corners().map(|corner| Linear::of(model, &moment, &corner)));
                }
            }
        }
    }
    all
}

/// Ends of radiant share and exchange; power, wall view and losses at the end that gives the most
/// gain.
fn corners() -> impl Iterator<Item = Corner> {
    (0..4_u8).map(|corner| Corner {
        power: 1.0,
        wall_view: 0.0,
        losses: 0.0,
        radiant_share: f64::from(corner & 1),
        exchange: f64::from(corner >> 1),
        ..Corner::NOMINAL
    })
}

/// Coldest and hottest air the bake holds with heat, °C.
fn airs_c(setup: &Setup) -> (f64, f64) {
    let bake = &setup.bake.bake;
    let held = bake.steps.iter().filter_map(|step| match step {
        Step::Ramp(ramp) => Some((ramp.to, ramp.to)),
        Step::Soak(soak) => Some((soak.at_least, soak.at_most + soak.boost)),
        Step::LoadIn(load_in) => load_in.at.map(|at| (at, at)),
        _ => None,
    });
    held.map(|(low, high)| (f64::from(low.0), f64::from(high.0)))
        .reduce(|all, one| (all.0.min(one.0), all.1.max(one.1)))
        .unwrap_or((AT_C, AT_C))
}
