//! Tuning of the air loop from the oven's own linearisation.
//!
//! Between the seconds of the element and the minutes of the liner the air answers duty as two
//! lags, element and sensor, with liner and parts standing still. SIMC (Skogestad 2003) gives PID
//! gains for a closed loop of some quickness; it is slowed until the maximum sensitivity M_s is at
//! most 1.6 at every corner of the spread, with the mean of a second, the held duty and the drive's
//! minimum time counted as delay.

use crate::files::oven::Oven;
use truesoak_core::bounds::model::{Film, Model, Point};
use truesoak_core::regulate::Tuning;
use truesoak_core::units::{STEFAN_BOLTZMANN, ZERO_CELSIUS_K};

/// Greatest maximum sensitivity.
pub const SENSITIVITY_MAX: f64 = 1.6;
/// GUESS: quickest closed loop tried, s; a quicker one answers the reading's noise.
const QUICKEST_S: f64 = 10.0;
/// Slowest tried, s.
const SLOWEST_S: f64 = 600.0;
/// Half a second of mean, half of held duty.
const SAMPLING_DELAY_S: f64 = 1.0;
/// Air the oven is linearised at, °C: mid-bake.
const AT_C: f64 = 150.0;
/// How far liner and parts are behind it, K.
const BEHIND_K: f64 = 15.0;
/// Duty it is linearised at.
const AT_DUTY: f64 = 0.2;

/// Two lags and a delay.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AirLoop {
    /// Kelvins of air per duty.
    pub gain_k: f64,
    /// Element, s.
    pub element_s: f64,
    /// Sensor, s.
    pub sensor_s: f64,
    /// Sampling and drive, s.
    pub delay_s: f64,
}

/// Tuning for an oven: the user's own, or computed.
#[must_use]
pub fn tune(oven: &Oven, model: &Model) -> Tuning {
    if let Some(own) = oven.tuning {
        return Tuning {
            gain_per_k: own.gain_per_k as f32,
            integral_time_s: own.integral_time_s as f32,
            derivative_time_s: own.derivative_time_s as f32,
        };
    }
    let nominal = nominal(oven, model);
    let corners = corners(model, nominal.delay_s);
    let mut closed_loop_s = QUICKEST_S;
    loop {
        let gains = simc(&nominal, closed_loop_s);
        let worst = corners.iter().map(|corner| sensitivity(corner, &gains)).fold(1.0, f64::max);
        if worst <= SENSITIVITY_MAX || closed_loop_s > SLOWEST_S {
            return gains;
        }
        closed_loop_s *= 1.1;
    }
}

/// The nominal loop of an oven.
#[must_use]
pub fn nominal(oven: &Oven, model: &Model) -> AirLoop {
    linearise(model, SAMPLING_DELAY_S + 0.5 * oven.drive.minimum_on_s, [0.5; 4])
}

/// SIMC PID for two lags (Skogestad 2003, rules 1 and 2, series form turned into the ideal one):
/// the quicker lag is cancelled by the derivative, the closed loop is as slow as asked.
fn simc(of: &AirLoop, closed_loop_s: f64) -> Tuning {
    let (slow, quick) = (of.element_s.max(of.sensor_s), of.element_s.min(of.sensor_s));
    let shift = closed_loop_s + of.delay_s;
    let (series_gain, integral_s) = (slow / (of.gain_k * shift), slow.min(4.0 * shift));
    Tuning {
        gain_per_k: (series_gain * (1.0 + quick / integral_s)) as f32,
        integral_time_s: (integral_s + quick) as f32,
        derivative_time_s: (integral_s * quick / (integral_s + quick)) as f32,
    }
}

fn corners(model: &Model, delay_s: f64) -> Vec<AirLoop> {
    (0..16_u32)
        .map(|corner| {
            let at = core::array::from_fn(|bit| f64::from(corner >> bit & 1));
            linearise(model, delay_s, at)
        })
        .collect()
}

/// The loop with power, share, exchange and sensor lag at a share 0..1 of their spans.
fn linearise(model: &Model, delay_s: f64, at: [f64; 4]) -> AirLoop {
    let pick = |low: f32, high: f32, at: f64| f64::from(low) + at * f64::from(high - low);
    let element = &model.element;
    let power_w = f64::from(element.power_w) * pick(element.power.low, element.power.high, at[0]);
    let share = pick(element.radiant_share.low, element.radiant_share.high, at[1]);
    let exchange = pick(model.exchange.low, model.exchange.high, at[2]);
    let around = exchange * around_w_per_k(model);
    let convection = (1.0 - share) * f64::from(element.convection_w_per_k);
    // Of what the element gives to the air, this much comes through to liner and parts.
    let through = convection * around / (convection + around);
    let element_k = AT_C + ZERO_CELSIUS_K as f64 + AT_DUTY * power_w / (through + 1.0);
    let cube = element_k * element_k * element_k;
    let radiation =
        4.0 * share * f64::from(element.radiation_m2) * f64::from(STEFAN_BOLTZMANN) * cube;
    let leaving = through + radiation;
    AirLoop {
        gain_k: power_w / leaving * convection / (convection + around),
        element_s: f64::from(element.capacity_j_per_k) / leaving,
        sensor_s: pick(model.sensor.lag_s.low, model.sensor.lag_s.high, at[3]),
        delay_s,
    }
}

/// Conductance from the air to liner, rack and parts, W/K.
fn around_w_per_k(model: &Model) -> f64 {
    let film = |film: &Film| {
        f64::from(film.constant) + f64::from(film.quarter) * libm::pow(BEHIND_K, 0.25)
    };
    let point = |point: &Point| f64::from(point.area_m2) * film(&point.film);
    let parts = model.classes.iter().map(|class| point(&class.slow) + point(&class.fast));
    f64::from(model.cabinet.liner_m2) * film(&model.cabinet.liner_film)
        + model.rack.as_ref().map_or(0.0, point)
        + parts.sum::<f64>()
}

/// Maximum sensitivity of the loop, the greatest |1/(1+L)|, with the derivative as it is formed:
/// the difference of two seconds' means.
#[must_use]
pub fn sensitivity(of: &AirLoop, tuning: &Tuning) -> f64 {
    let (gain, integral_s, derivative_s) = (
        f64::from(tuning.gain_per_k),
        f64::from(tuning.integral_time_s),
        f64::from(tuning.derivative_time_s),
    );
    let mut worst = 1.0_f64;
    for step in 0..160 {
        let frequency = 1e-4 * libm::pow(10.0, f64::from(step) / 40.0);
        let lag = |time_s: f64| (1.0, frequency * time_s);
        let controller = (
            1.0 + derivative_s * (1.0 - libm::cos(frequency)),
            derivative_s * libm::sin(frequency) - 1.0 / (frequency * integral_s),
        );
        let (mut re, mut im) = multiply((gain * of.gain_k, 0.0), controller);
        (re, im) = divide((re, im), lag(of.element_s));
        (re, im) = divide((re, im), lag(of.sensor_s));
        let angle = -frequency * of.delay_s;
        (re, im) = multiply((re, im), (libm::cos(angle), libm::sin(angle)));
        worst = worst.max(1.0 / libm::hypot(1.0 + re, im));
    }
    worst
}

fn multiply(a: (f64, f64), b: (f64, f64)) -> (f64, f64) {
    (a.0 * b.0 - a.1 * b.1, a.0 * b.1 + a.1 * b.0)
}

fn divide(a: (f64, f64), b: (f64, f64)) -> (f64, f64) {
    let size = b.0 * b.0 + b.1 * b.1;
    ((a.0 * b.0 + a.1 * b.1) / size, (a.1 * b.0 - a.0 * b.1) / size)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// SIMC PI with τc = θ on a first-order process: M_s 1.59 (Skogestad 2003; check values,
    /// section 8, process P2).
    #[test]
    fn the_sensitivity_of_a_textbook_loop_is_the_textbooks() {
        let textbook = AirLoop { gain_k: 1.0, element_s: 100.0, sensor_s: 0.0, delay_s: 50.0 };
        let tuning = Tuning { gain_per_k: 1.0, integral_time_s: 100.0, derivative_time_s: 0.0 };
        let found = sensitivity(&textbook, &tuning);
        assert!((found - 1.5905).abs() < 0.02, "{found}");
    }
}
