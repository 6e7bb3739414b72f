//! The search for gains over every loop the controller may find itself in.
//!
//! Loops are kept as samples over the frequencies, so that trying gains costs no more than a product
//! and a sum each. Only the loops that were worst are tried each time; the rest is looked at in the
//! end, and what was overlooked joins them.

use super::linear::Linear;
use super::ovens;
use super::response::Walls;
use super::sensitivity::{self, Shape};
use super::{SENSITIVITY_MAX, Tuned, drive_delay_s};
use crate::files::Setup;
use num_complex::Complex64;
use truesoak_core::bounds::model::Model;
use truesoak_core::regulate::Tuning;

/// Derivative time, s: shortest and longest tried.
const DERIVATIVE_S: (f64, f64) = (2.0, 120.0);
/// Integral time in derivative times (common practice; Ziegler & Nichols 1942).
const INTEGRAL_RATIO: f64 = 4.0;
/// Rounds of the search for the derivative time: it is then known to a few percent.
const ROUNDS: usize = 9;
/// Greatest gain tried, 1/K, and by how much each is less.
const GAIN_MAX: f64 = 1.0;
const GAIN_STEP: f64 = 0.8;
/// Least tried: nobody would wait for less.
const GAIN_MIN: f64 = 1e-4;
/// Halvings of the last step: to a thousandth.
const HALVINGS: usize = 8;
/// What the search aims at, for the peak may lie between two frequencies.
const AIMED_AT: f64 = SENSITIVITY_MAX - 0.005;
/// GUESS: the noise of one reading may move the duty by this standard deviation.
const NOISE_DUTY_MAX: f64 = 0.1;
/// Loops tried each time.
const WORST_LOOPS: usize = 12;
/// Times that overlooked loops may join.
const LOOKS: usize = 6;

/// Every loop.
pub(super) struct Loops {
    frequencies: Vec<f64>,
    /// Mean, hold and drive.
    passage: Vec<Complex64>,
    /// From the heater to the mean of a second, held, in every oven.
    plants: Vec<Vec<Complex64>>,
    /// Standard deviation of a second's mean, K.
    noise_k: f64,
}

impl Loops {
    pub(super) fn of(setup: &Setup, model: &Model) -> Self {
        let frequencies = sensitivity::frequencies();
        let drive_s = drive_delay_s(&setup.oven.drive);
        let passage = frequencies.iter().map(|at| sensitivity::passage(drive_s, *at)).collect();
        let mut loops = Self {
            frequencies,
            passage,
            plants: Vec::new(),
            noise_k: f64::from(model.sensor.noise_k) / libm::sqrt(10.0),
        };
        for linear in ovens::of(setup, model) {
            loops.add(&linear, model);
        }
        loops
    }

    /// An oven with its walls moving and standing, its sensor quick and slow, its gain great and
    /// small.
    fn add(&mut self, linear: &Linear, model: &Model) {
        // The oven has the greatest power, and a sensor that sees the least of the wall, which
        // hardly moves: both but scale what is seen.
        let (view, power) = (model.sensor.wall_view, model.element.power);
        let least = (1.0 - view.high) * power.low / ((1.0 - view.low) * power.high);
        for walls in [Walls::Stand, Walls::Move] {
            let seen = self.frequencies.iter().map(|at| linear.seen(walls, *at));
            let seen: Vec<_> = seen.zip(&self.passage).map(|(seen, rest)| seen * rest).collect();
            for lag_s in [model.sensor.lag_s.low, model.sensor.lag_s.high] {
                let lag = |at: f64| Complex64::new(1.0, at * f64::from(lag_s));
                let shown: Vec<_> =
                    seen.iter().zip(&self.frequencies).map(|(seen, at)| seen / lag(*at)).collect();
                self.plants.push(shown.iter().map(|one| one * f64::from(least)).collect());
                self.plants.push(shown);
            }
        }
    }

    /// Greatest M_s of any loop.
    pub(super) fn worst(&self, tuning: &Tuning) -> f64 {
        let each = self.each(&shape(tuning), f64::from(tuning.gain_per_k));
        each.into_iter().fold(1.0, f64::max)
    }

    fn each(&self, shape: &Shape, gain: f64) -> Vec<f64> {
        let terms: Vec<_> = self.frequencies.iter().map(|at| gain * shape.terms(*at)).collect();
        let of = |plant: &Vec<Complex64>| {
            sensitivity::of_samples(plant.iter().zip(&terms).map(|(a, b)| 1.0 + a * b))
        };
        self.plants.iter().map(of).collect()
    }

    /// Gains with the greatest integral gain that keep M_s where it has to be; where there are none,
    /// the weakest tried.
    pub(super) fn computed(&self) -> Tuned {
        let mut tried: Vec<usize> = Vec::new();
        let (mut gain, mut shape) = (GAIN_MIN, Shape::of(DERIVATIVE_S.1));
        for _ in 0..LOOKS {
            let each = self.each(&shape, gain);
            if !tried.is_empty() && each.iter().all(|one| *one <= AIMED_AT) {
                break;
            }
            join(&mut tried, &each);
            (gain, shape) = self.best(&tried);
        }
        loop {
            let tuning = tuning(gain, &shape);
            let sensitivity = self.worst(&tuning);
            if sensitivity <= AIMED_AT || gain < GAIN_MIN {
                return Tuned { tuning, sensitivity };
            }
            gain *= 0.98;
        }
    }

    /// Gain and shape that suit some loops best.
    fn best(&self, loops: &[usize]) -> (f64, Shape) {
        let (low_s, high_s) = DERIVATIVE_S;
        let integral_gain = |derivative_s: f64| {
            let shape = Shape::of(derivative_s);
            self.greatest_gain(loops, &shape) / shape.integral_s
        };
        let (derivative_s, _) =
            sensitivity::refined(|at| -integral_gain(at), low_s, high_s, ROUNDS);
        let shape = Shape::of(derivative_s);
        (self.greatest_gain(loops, &shape), shape)
    }

    /// Greatest gain of a shape that some loops stand, and the noise.
    fn greatest_gain(&self, loops: &[usize], shape: &Shape) -> f64 {
        let terms: Vec<_> = self.frequencies.iter().map(|at| shape.terms(*at)).collect();
        let through = |index: &usize| {
            self.plants[*index].iter().zip(&terms).map(|(a, b)| a * b).collect::<Vec<_>>()
        };
        let open: Vec<Vec<Complex64>> = loops.iter().map(through).collect();
        let stands = |gain: f64| {
            open.iter().all(|open| {
                sensitivity::of_samples(open.iter().map(|one| 1.0 + gain * one)) <= AIMED_AT
            })
        };
        let mut good = GAIN_MAX.min(self.gain_by_noise(shape));
        if stands(good) {
            return good;
        }
        while good > GAIN_MIN && !stands(good) {
            good *= GAIN_STEP;
        }
        let mut bad = good / GAIN_STEP;
        for _ in 0..HALVINGS {
            let middle = 0.5 * (good + bad);
            if stands(middle) { good = middle } else { bad = middle }
        }
        good
    }

    /// Gain at which the readings' noise moves the duty as far as it may.
    fn gain_by_noise(&self, shape: &Shape) -> f64 {
        // A difference of two means is as noisy as two of them.
        let heard_k = self.noise_k * libm::hypot(1.0 + shape.derivative_s, shape.derivative_s);
        NOISE_DUTY_MAX / heard_k
    }
}

impl Shape {
    fn of(derivative_s: f64) -> Self {
        Self { integral_s: INTEGRAL_RATIO * derivative_s, derivative_s }
    }
}

fn shape(tuning: &Tuning) -> Shape {
    Shape {
        integral_s: f64::from(tuning.integral_time_s),
        derivative_s: f64::from(tuning.derivative_time_s),
    }
}

fn tuning(gain: f64, shape: &Shape) -> Tuning {
    Tuning {
        gain_per_k: gain as f32,
        integral_time_s: shape.integral_s as f32,
        derivative_time_s: shape.derivative_s as f32,
    }
}

/// The worst loops join those that are tried.
fn join(tried: &mut Vec<usize>, each: &[f64]) {
    let mut order: Vec<usize> = (0..each.len()).filter(|index| !tried.contains(index)).collect();
    order.sort_by(|a, b| each[*b].total_cmp(&each[*a]));
    tried.extend(order.into_iter().take(WORST_LOOPS));
}
