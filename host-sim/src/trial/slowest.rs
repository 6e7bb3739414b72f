//! The slowest ovens of the spread, from a moment on: what a rise would be, were the heater sound.

use crate::files::Setup;
use crate::plant::{Draw, Plant};
use crate::rehearse::World;
use truesoak_core::units::TICKS_PER_SECOND;

/// Corners that make an oven slow to answer: either end of losses, exchange, radiant share and wall
/// view.
const CORNERS: usize = 16;

/// Sound ovens at the slow corners of the spread, begun where the true one was, given the heat that
/// is commanded.
#[derive(Clone, Debug)]
pub(super) struct Slowest {
    ovens: Vec<Oven>,
}

#[derive(Clone, Debug)]
struct Oven {
    plant: Plant,
    power_w: f64,
    from_c: f64,
}

impl Slowest {
    /// From the true oven's present moment, `done` ticks into its step.
    pub(super) fn from(world: &World, done: u32, truth: &Setup) -> Self {
        let mut now = world.plant.clone();
        now.take(done);
        let ovens = (0..CORNERS).map(|corner| {
            let draw = slow(truth, corner);
            let mut plant =
                Plant::new(&truth.oven, &truth.load, &draw, truth.bake.oven_starts_at_c);
            plant.take_over(&now);
            let power_w = truth.oven.heater.power_w * draw.heater_power;
            let from_c = plant.shown_at(0).air_c;
            Oven { plant, power_w, from_c }
        });
        Self { ovens: ovens.collect() }
    }

    /// One second with so many ticks of it driven.
    pub(super) fn second(&mut self, on_ticks: u32) {
        for oven in &mut self.ovens {
            let share = f64::from(on_ticks) / f64::from(TICKS_PER_SECOND);
            oven.plant.set_power(oven.power_w * share);
            let mut left = TICKS_PER_SECOND;
            while left > 0 {
                let length = oven.plant.attempt(left);
                oven.plant.take(length);
                left -= length;
            }
        }
    }

    /// The least any of their sensors has risen by, K.
    pub(super) fn rise_k(&self) -> f64 {
        let rises = self.ovens.iter().map(|oven| oven.plant.shown_at(0).air_c - oven.from_c);
        rises.reduce(f64::min).unwrap_or(0.0)
    }
}

/// The weakest heater, the heaviest walls and the slowest sensor, at one end or the other of the
/// rest.
fn slow(truth: &Setup, corner: usize) -> Draw {
    Draw::at(&truth.oven, |field| match field {
        0 => (corner & 1) as f64,
        2 => (corner >> 1 & 1) as f64,
        4 => (corner >> 2 & 1) as f64,
        5 => (corner >> 3 & 1) as f64,
        1 | 6 => 1.0,
        3 => 0.0,
        _ => 0.5,
    })
}
