//! Sound ovens of the spread beside the true one, from a moment on: what a rise would be at least,
//! and at most, were nothing wrong.

use crate::files::Setup;
use crate::plant::{Draw, Plant};
use crate::rehearse::World;
use truesoak_core::units::TICKS_PER_SECOND;

/// Corners that make an oven slow to answer: either end of losses, exchange, radiant share and wall
/// view.
const SLOW_CORNERS: usize = 16;
/// Corners that make it go on rising with the drive off: either end of walls, exchange, radiant
/// share, wall view and lag.
const HOT_CORNERS: usize = 32;

/// Ovens at corners of the spread, begun where the true one was, given the heat that is commanded.
#[derive(Clone, Debug)]
pub(super) struct Beside {
    ovens: Vec<Oven>,
}

#[derive(Clone, Debug)]
struct Oven {
    plant: Plant,
    power_w: f64,
    from_c: f64,
}

impl Beside {
    /// The slowest, from the true oven's present moment, `done` ticks into its step.
    pub(super) fn slowest(world: &World, done: u32, truth: &Setup) -> Self {
        Self::begin(world, done, truth, (0..SLOW_CORNERS).map(|corner| slow(truth, corner)))
    }

    /// Those that rise the most with the drive off, from the same moment.
    pub(super) fn hottest(world: &World, done: u32, truth: &Setup) -> Self {
        Self::begin(world, done, truth, (0..HOT_CORNERS).map(|corner| hot(truth, corner)))
    }

    fn begin(world: &World, done: u32, truth: &Setup, draws: impl Iterator<Item = Draw>) -> Self {
        let mut now = world.plant.clone();
        now.take(done);
        let ovens = draws.map(|draw| {
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
    pub(super) fn least_rise_k(&self) -> f64 {
        let rises = self.ovens.iter().map(|oven| oven.plant.shown_at(0).air_c - oven.from_c);
        rises.reduce(f64::min).unwrap_or(0.0)
    }

    /// The most any of their sensors is exposed to, °C.
    pub(super) fn most_c(&self) -> f64 {
        let seen = self.ovens.iter().map(|oven| oven.plant.shown_at(0).air_c);
        seen.reduce(f64::max).unwrap_or(f64::INFINITY)
    }
}

/// Either end, by one bit of a corner's number.
fn end(corner: usize, bit: u32) -> f64 {
    (corner >> bit & 1) as f64
}

/// The weakest heater, the heaviest walls and the slowest sensor, at one end or the other of the
/// rest.
fn slow(truth: &Setup, corner: usize) -> Draw {
    Draw::at(&truth.oven, |field| match field {
        0 => end(corner, 0),
        2 => end(corner, 1),
        4 => end(corner, 2),
        5 => end(corner, 3),
        1 | 6 => 1.0,
        3 => 0.0,
        _ => 0.5,
    })
}

/// The least losses, at one end or the other of the rest.
fn hot(truth: &Setup, corner: usize) -> Draw {
    Draw::at(&truth.oven, |field| match field {
        0 => 0.0,
        1 => end(corner, 0),
        2 => end(corner, 1),
        4 => end(corner, 2),
        5 => end(corner, 3),
        6 => end(corner, 4),
        _ => 0.5,
    })
}
