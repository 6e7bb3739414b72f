//! The search for gains over every loop the controller may find itself in.
//!
//! Loops are kept as samples over the frequencies. At each of them the gains that bring 1 + L too near
//! to 0 are one stretch with two ends in closed form; the greatest gain outside every stretch is what
//! a shape can have.

use super::linear::Linear;
use super::ovens;
use super::response::Walls;
use super::sensitivity::{self, Shape};
use super::{SENSITIVITY_MAX, Tuned, drive_delay_s};
use crate::files::Setup;
use core::ops::Range;
use num_complex::Complex64;
use truesoak_core::bounds::model::Model;
use truesoak_core::regulate::Tuning;

/// Derivative time, s: shortest and longest tried.
const DERIVATIVE_S: (f64, f64) = (2.0, 120.0);
/// Integral time in derivative times (common practice; Ziegler & Nichols 1942).
const INTEGRAL_RATIO: f64 = 4.0;
/// Rounds of the search for the derivative time: it is then known to a few percent.
const ROUNDS: usize = 9;
/// Greatest gain tried, 1/K.
const GAIN_MAX: f64 = 1.0;
/// Least: nobody would wait for less.
const GAIN_MIN: f64 = 1e-4;
/// What the search aims at: the peak may lie between two frequencies, and the slopes of a fitted film
/// are not quite those of the law (a plant has up to 0.010 more than its tables).
const AIMED_AT: f64 = SENSITIVITY_MAX - 0.015;
/// The gain's last digits may pass that by so much.
const ROUNDING: f64 = 1e-5;
/// GUESS: the noise of one reading may move the duty by this standard deviation.
const NOISE_DUTY_MAX: f64 = 0.1;

/// Every loop.
pub(super) struct Loops {
    frequencies: Vec<f64>,
    /// Mean, hold and drive.
    passage: Vec<Complex64>,
    /// From the heater to the mean of a second, held, in every oven with its greatest gain.
    plants: Vec<Vec<Complex64>>,
    /// The least gain an oven may have, as a share of its greatest.
    least: f64,
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
            least: least_gain(model),
            noise_k: f64::from(model.sensor.noise_k) / libm::sqrt(10.0),
        };
        for linear in ovens::of(setup, model) {
            loops.add(&linear, model);
        }
        loops
    }

    /// An oven with its walls moving and standing, its sensor quick and slow.
    fn add(&mut self, linear: &Linear, model: &Model) {
        for walls in [Walls::Stand, Walls::Move] {
            let seen = self.frequencies.iter().map(|at| linear.seen(walls, *at));
            let seen: Vec<_> = seen.zip(&self.passage).map(|(seen, rest)| seen * rest).collect();
            for lag_s in [model.sensor.lag_s.low, model.sensor.lag_s.high] {
                let lag = |at: f64| Complex64::new(1.0, at * f64::from(lag_s));
                let seen = seen.iter().zip(&self.frequencies);
                self.plants.push(seen.map(|(seen, at)| seen / lag(*at)).collect());
            }
        }
    }

    /// Greatest M_s of any loop.
    pub(super) fn worst(&self, tuning: &Tuning) -> f64 {
        let gain = f64::from(tuning.gain_per_k);
        let terms = self.terms(&shape(tuning)).map(|term| gain * term).collect::<Vec<_>>();
        let of = |plant: &Vec<Complex64>| {
            let open = plant.iter().zip(&terms).map(|(a, b)| a * b);
            let least = open.clone().map(|open| 1.0 + self.least * open);
            sensitivity::of_samples(open.map(|open| 1.0 + open)).max(sensitivity::of_samples(least))
        };
        self.plants.iter().map(of).fold(1.0, f64::max)
    }

    /// Gains with the greatest integral gain that keep M_s where it has to be; where there are none,
    /// the weakest tried.
    pub(super) fn computed(&self) -> Tuned {
        let (low_s, high_s) = DERIVATIVE_S;
        let integral_gain = |derivative_s: f64| {
            let shape = Shape::of(derivative_s);
            self.greatest_gain(&shape) / shape.integral_s
        };
        let (derivative_s, _) =
            sensitivity::refined(|at| -integral_gain(at), low_s, high_s, ROUNDS);
        let shape = Shape::of(derivative_s);
        let mut gain = self.greatest_gain(&shape);
        loop {
            let tuning = tuning(gain, &shape);
            let sensitivity = self.worst(&tuning);
            if sensitivity <= AIMED_AT + ROUNDING || gain < GAIN_MIN {
                return Tuned { tuning, sensitivity };
            }
            gain *= 0.98;
        }
    }

    fn terms(&self, shape: &Shape) -> impl Iterator<Item = Complex64> {
        self.frequencies.iter().map(|at| shape.terms(*at))
    }

    /// Greatest gain of a shape that every loop settles with, no sample near 0, and the noise small.
    fn greatest_gain(&self, shape: &Shape) -> f64 {
        let terms: Vec<_> = self.terms(shape).collect();
        let mut gain = GAIN_MAX.min(self.gain_by_noise(shape));
        let mut all_barred = Vec::new();
        // Above the gain a stretch bars nothing. With less of its own an oven bars as much more.
        let mut bar = |gain: f64, open: &Complex64| {
            let barred = barred(open).filter(|barred| barred.start < gain);
            if let Some(Range { start, end }) = barred {
                all_barred.extend([start..end, start / self.least..end / self.least]);
            }
        };
        for plant in &self.plants {
            let mut open = plant.iter().zip(&terms).map(|(plant, term)| plant * term);
            let Some(mut from) = open.next() else { continue };
            bar(gain, &from);
            for to in open {
                gain = below_turning(gain, &from, &to);
                bar(gain, &to);
                from = to;
            }
        }
        below_all(gain, &all_barred).max(GAIN_MIN)
    }

    /// Gain at which the readings' noise moves the duty as far as it may.
    fn gain_by_noise(&self, shape: &Shape) -> f64 {
        // A difference of two means is as noisy as two of them.
        let heard_k = self.noise_k * libm::hypot(1.0 + shape.derivative_s, shape.derivative_s);
        NOISE_DUTY_MAX / heard_k
    }
}

/// The oven with the greatest gain has the greatest power, and a sensor that sees the least of the
/// wall, which hardly moves: both but scale what is seen.
fn least_gain(model: &Model) -> f64 {
    let (view, power) = (model.sensor.wall_view, model.element.power);
    f64::from((1.0 - view.high) * power.low / ((1.0 - view.low) * power.high))
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

/// Gains at which 1 + gain·L is nearer to 0 than 1/M_s allows.
fn barred(open: &Complex64) -> Option<Range<f64>> {
    const LEAST: f64 = 1.0 / (AIMED_AT * AIMED_AT);
    let (along, square) = (open.re, open.norm_sqr());
    let half_way = along * along - square * (1.0 - LEAST);
    if along >= 0.0 || half_way <= 0.0 {
        return None;
    }
    let half_way = libm::sqrt(half_way);
    Some((-along - half_way) / square..(-along + half_way) / square)
}

/// The greatest gain up to `gain` in none of the stretches.
fn below_all(mut gain: f64, all_barred: &[Range<f64>]) -> f64 {
    loop {
        let from = gain;
        for barred in all_barred {
            if barred.start < gain && gain < barred.end {
                gain = barred.start;
            }
        }
        if gain >= from {
            return gain;
        }
    }
}

/// `gain`, or the one at which L passes −1 on its way from one sample to the next: past it a loop runs
/// away.
fn below_turning(gain: f64, from: &Complex64, to: &Complex64) -> f64 {
    if from.im >= 0.0 || to.im < 0.0 {
        return gain;
    }
    let meets = (from.re * to.im - to.re * from.im) / (to.im - from.im);
    if meets * gain < -1.0 { -1.0 / meets } else { gain }
}
