//! Plants of the shipped bakes held at a temperature, linearised, and their loops.

use num_complex::Complex64;
use serde_json::{Value, json};
use truesoak::compile::tuning::{self, Tuned, sensitivity};
use truesoak::files::Setup;
use truesoak::plant::network::Linearised;
use truesoak::plant::{Draw, Plant};
use truesoak::rehearse::model_of;
use truesoak_core::regulate::Tuning;
use truesoak_tests::setup;

/// Every shipped bake that heats its oven in a way of its own.
pub const BAKES: [&str; 7] = [
    "gas-out-hubs",
    "cure-hubs",
    "low-cure-pedals",
    "whole-day",
    "door-mid-soak",
    "gas-out-chain-guards-300f",
    "gas-out-crown",
];
/// Ticks in a second.
const TICKS: u32 = 10;

/// A loop: a plant near a state, and the gains of its bake.
pub struct AirLoop {
    /// Bake, plant, state.
    pub name: String,
    /// Gains, and what the tables say of them.
    pub tuned: Tuned,
    drive_s: f64,
    power_w: f64,
    plant: Linearised,
}

/// A shipped bake with its gains.
pub struct Case {
    /// Its file's name.
    pub bake: &'static str,
    /// Its files.
    pub setup: Setup,
    /// Its gains.
    pub tuned: Tuned,
}

impl Case {
    /// Reads and tunes.
    pub fn of(bake: &'static str) -> Self {
        let setup = setup(bake, &[]);
        let model = model_of(&setup).unwrap_or_else(|refusal| panic!("{refusal}"));
        let tuned = tuning::tune(&setup, &model);
        Self { bake, setup, tuned }
    }

    /// A draw's loops: empty and at rest at `coldest_c`, then just loaded and back at `hottest_c`.
    pub fn loops(&self, plant: &str, draw: &Draw, ends_c: (f64, f64)) -> [AirLoop; 2] {
        let Setup { oven, load, .. } = &self.setup;
        let power_w = oven.heater.power_w * draw.heater_power;
        let mut oven_now = Plant::new(oven, load, draw, oven.ambient_c);
        let make = |state: &str, plant_now: &Plant| AirLoop {
            name: format!("{} {plant} {state}", self.bake),
            tuned: self.tuned,
            drive_s: tuning::drive_delay_s(&oven.drive),
            power_w,
            plant: plant_now.linearised(),
        };
        hold(&mut oven_now, power_w, ends_c.0, 7200);
        let empty = make("empty", &oven_now);
        oven_now.load_in(&vec![true; load.parts.len()], false);
        hold(&mut oven_now, power_w, ends_c.1, 1800);
        [empty, make("loaded", &oven_now)]
    }
}

/// Holds what the sensor shows for so many seconds, by a proportional and an integral term.
fn hold(plant: &mut Plant, power_w: f64, at_c: f64, seconds: u32) {
    let (mut shown_c, mut sum) = (plant.shown_at(0).air_c, 0.0);
    for _ in 0..seconds {
        let missing_k: f64 = at_c - shown_c;
        let duty: f64 = 0.02 * missing_k + sum;
        if (0.0..1.0).contains(&duty) {
            sum += 5e-5 * missing_k;
        }
        plant.set_power(power_w * duty.clamp(0.0, 1.0));
        let mut left = TICKS;
        while left > 0 {
            let taken = plant.attempt(left);
            shown_c = plant.shown_at(taken).air_c;
            plant.take(taken);
            left -= taken;
        }
    }
    assert!((shown_c - at_c).abs() < 10.0, "held at {shown_c} instead of {at_c} °C");
}

impl AirLoop {
    /// M_s as the tuning works it out, from this plant.
    pub fn sensitivity(&self) -> f64 {
        let tuning = &self.tuned.tuning;
        sensitivity::sensitivity(|at| {
            self.answer(at) * sensitivity::controller(tuning, self.drive_s, at)
        })
    }

    /// What the reference needs.
    pub fn json(&self) -> Value {
        let Tuning { gain_per_k, integral_time_s, derivative_time_s } = self.tuned.tuning;
        json!({
            "name": self.name, "gain_per_k": gain_per_k, "integral_s": integral_time_s,
            "derivative_s": derivative_time_s, "drive_s": self.drive_s, "power_w": self.power_w,
            "capacities_j_per_k": self.plant.capacities_j_per_k,
            "slopes_w_per_k": self.plant.slopes_w_per_k, "heated": self.plant.heated,
            "seen": self.plant.seen, "lag_s": self.plant.lag_s,
        })
    }

    /// What the sensor shows for each duty, by Gaussian elimination of the whole plant.
    fn answer(&self, frequency: f64) -> Complex64 {
        let plant = &self.plant;
        let count = plant.capacities_j_per_k.len();
        let mut rows: Vec<Vec<Complex64>> = (0..count)
            .map(|to| {
                let mut row: Vec<Complex64> =
                    plant.slopes_w_per_k.iter().map(|by| Complex64::from(-by[to])).collect();
                row[to] += Complex64::new(0.0, frequency * plant.capacities_j_per_k[to]);
                let heat_w = if to == plant.heated { self.power_w } else { 0.0 };
                row.push(Complex64::from(heat_w));
                row
            })
            .collect();
        // The diagonal outweighs each row: no node brings more to others than it loses.
        for pivot in 0..count {
            let (above, below) = rows.split_at_mut(pivot + 1);
            let lead = &above[pivot];
            for row in below.iter_mut().filter(|row| row[pivot] != Complex64::default()) {
                let factor = row[pivot] / lead[pivot];
                for (value, leading) in row[pivot..].iter_mut().zip(&lead[pivot..]) {
                    *value -= factor * leading;
                }
            }
        }
        let mut temperatures = vec![Complex64::default(); count];
        for node in (0..count).rev() {
            let known: Complex64 =
                (node + 1..count).map(|other| rows[node][other] * temperatures[other]).sum();
            temperatures[node] = (rows[node][count] - known) / rows[node][node];
        }
        let seen: Complex64 =
            plant.seen.iter().map(|(node, share)| temperatures[*node] * *share).sum();
        seen / Complex64::new(1.0, frequency * plant.lag_s)
    }
}
