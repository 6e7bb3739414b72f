//! Maximum sensitivity M_s of the air loop: the greatest |1/(1+L)|, how much of a disturbance comes
//! back at the worst frequency. A loop that does not settle has none: infinity.
//!
//! L is what the controller does, tick by tick: ten transfers, each up to a tick old, to a mean;
//! sum and difference of the seconds' means; a duty held for a second; the drive's delay. Above half
//! the rate of the seconds the oven answers nothing, so no frequency is taken for another.

use core::f64::consts::PI;
use num_complex::Complex64;
use truesoak_core::regulate::Tuning;

/// Lowest frequency looked at, rad/s: nothing but the walls answers slower.
const LOWEST: f64 = 2e-3;
/// Looked at in each decade, before the peak is refined.
const PER_DECADE: f64 = 16.0;
/// Ticks in a second.
const TICKS: u32 = 10;
/// Rounds of refining the peak; each leaves less than two thirds of the interval.
const ROUNDS: usize = 24;

/// Frequencies from the lowest to half the rate of the seconds, rad/s.
#[must_use]
pub fn frequencies() -> Vec<f64> {
    let decades = libm::log10(PI / LOWEST);
    let steps = libm::ceil(PER_DECADE * decades);
    (0..=steps as u32)
        .map(|step| LOWEST * libm::pow(10.0, decades * f64::from(step) / steps))
        .collect()
}

/// From the sensor to the heat: mean, PID, hold and a drive that is so late.
#[must_use]
pub fn controller(tuning: &Tuning, drive_s: f64, frequency: f64) -> Complex64 {
    let shape = Shape {
        integral_s: f64::from(tuning.integral_time_s),
        derivative_s: f64::from(tuning.derivative_time_s),
    };
    f64::from(tuning.gain_per_k) * shape.terms(frequency) * passage(drive_s, frequency)
}

/// A controller but for its gain.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Shape {
    /// Integral time, s.
    pub(super) integral_s: f64,
    /// Derivative time, s.
    pub(super) derivative_s: f64,
}

impl Shape {
    /// Proportional, sum and difference of one second's means.
    pub(super) fn terms(&self, frequency: f64) -> Complex64 {
        let difference = 1.0 - turn(-frequency);
        1.0 + 1.0 / (self.integral_s * difference) + self.derivative_s * difference
    }
}

/// What a reading goes through besides the PID: mean of ten transfers, hold, and the drive.
pub(super) fn passage(drive_s: f64, frequency: f64) -> Complex64 {
    let tick_s = 1.0 / f64::from(TICKS);
    let ages = (1..=TICKS).map(|tick| turn(-frequency * tick_s * f64::from(tick)));
    let mean = ages.sum::<Complex64>() * tick_s;
    let hold = (1.0 - turn(-frequency)) / Complex64::new(0.0, frequency);
    mean * hold * turn(-frequency * drive_s)
}

fn turn(angle: f64) -> Complex64 {
    Complex64::new(libm::cos(angle), libm::sin(angle))
}

/// M_s of a loop given at any frequency.
#[must_use]
pub fn sensitivity(open_loop: impl Fn(f64) -> Complex64) -> f64 {
    let frequencies = frequencies();
    let returned = |at: f64| 1.0 + open_loop(at);
    let coarse = Passed::through(frequencies.iter().map(|at| returned(*at)));
    if !coarse.settles() {
        return f64::INFINITY;
    }
    let low = frequencies[coarse.nearest.saturating_sub(1)];
    let high = frequencies[(coarse.nearest + 1).min(frequencies.len() - 1)];
    let (_, least) = refined(|at| returned(at).norm_sqr(), low, high, ROUNDS);
    1.0 / libm::sqrt(least)
}

/// The same from 1 + L at each of [`frequencies`], within half a percent below.
pub(super) fn of_samples(returned: impl Iterator<Item = Complex64>) -> f64 {
    let passed = Passed::through(returned);
    if passed.settles() { 1.0 / libm::sqrt(passed.least) } else { f64::INFINITY }
}

/// What 1 + L passes on its way from the lowest frequency to the highest.
struct Passed {
    /// Turns around 0, as crossings of the negative real axis.
    turns: i32,
    /// Least square of it, and where that was.
    least: f64,
    nearest: usize,
    last: Complex64,
}

impl Passed {
    fn through(mut returned: impl Iterator<Item = Complex64>) -> Self {
        let first = returned.next().unwrap_or_default();
        let mut passed = Self { turns: 0, least: first.norm_sqr(), nearest: 0, last: first };
        for (index, one) in returned.enumerate() {
            passed.turns += crossing(passed.last, one);
            if one.norm_sqr() < passed.least {
                (passed.least, passed.nearest) = (one.norm_sqr(), index + 1);
            }
            passed.last = one;
        }
        passed
    }

    /// WHY: the oven alone settles, and the integral is the loop's one pole on the unit circle,
    /// passed outside. No root of 1 + L is outside when it comes up from −j∞ and ends on the right
    /// of 0 without a turn around it (Nyquist 1932). Nothing has passed where there is no number.
    fn settles(&self) -> bool {
        self.turns == 0 && self.last.re > 0.0 && self.least.is_finite()
    }
}

/// 1 when the way from one to another crosses the negative real axis downwards, -1 upwards, else 0.
fn crossing(from: Complex64, to: Complex64) -> i32 {
    if (from.im < 0.0) == (to.im < 0.0) {
        return 0;
    }
    // Where the straight line between them meets the axis, times a positive number.
    let meets = (from.re * to.im - to.re * from.im) * (to.im - from.im);
    if meets >= 0.0 {
        0
    } else if to.im < 0.0 {
        1
    } else {
        -1
    }
}

/// Where a function of something positive is least between two ends, and its value there, if it has
/// one minimum (golden section).
pub(super) fn refined(of: impl Fn(f64) -> f64, low: f64, high: f64, rounds: usize) -> (f64, f64) {
    const GOLDEN: f64 = 0.618_033_988_749_894_9;
    let (mut low, mut high) = (libm::log(low), libm::log(high));
    let at = |logarithm: f64| of(libm::exp(logarithm));
    let mut inner = [high - GOLDEN * (high - low), low + GOLDEN * (high - low)];
    let mut values = inner.map(at);
    for _ in 0..rounds {
        if values[0] < values[1] {
            high = inner[1];
            inner = [high - GOLDEN * (high - low), inner[0]];
            values = [at(inner[0]), values[0]];
        } else {
            low = inner[0];
            inner = [inner[1], low + GOLDEN * (high - low)];
            values = [values[1], at(inner[1])];
        }
    }
    let best = usize::from(values[1] < values[0]);
    (libm::exp(inner[best]), values[best])
}

#[cfg(test)]
mod tests {
    use super::*;

    fn first_order(frequency: f64) -> Complex64 {
        turn(-50.0 * frequency) / Complex64::new(1.0, 100.0 * frequency)
    }

    /// A PI controller without the sampling, on the textbook's process.
    fn textbook(gain: f64) -> impl Fn(f64) -> Complex64 {
        move |at| gain * (1.0 + 1.0 / Complex64::new(0.0, 100.0 * at)) * first_order(at)
    }

    /// SIMC PI with τc = θ on a first-order process of lag 100 s and delay 50 s: M_s 1.59
    /// (Skogestad 2003); 1.5905 by python-control 0.10.2, delay as a Padé approximant of order 8.
    #[test]
    fn the_sensitivity_of_a_textbook_loop_is_the_textbooks() {
        let found = sensitivity(textbook(1.0));
        assert!((found - 1.5905).abs() < 1e-4, "{found}");
    }

    /// The same loop's gain margin is 3.141 (python-control 0.10.2): π for a first order whose lag
    /// is cancelled.
    #[test]
    fn a_loop_past_its_gain_margin_has_no_sensitivity() {
        let stable = sensitivity(textbook(3.1));
        assert!(stable.is_finite() && stable > 50.0, "{stable}");
        assert!(sensitivity(textbook(3.2)).is_infinite());
        assert!(sensitivity(textbook(100.0)).is_infinite());
    }

    #[test]
    fn sampling_and_drive_are_a_delay_at_low_frequencies() {
        let tuning = Tuning { gain_per_k: 0.04, integral_time_s: 1e9, derivative_time_s: 0.0 };
        let found = controller(&tuning, 0.7, 0.01);
        // Half a second of hold, the mean age of ten transfers of 0.1 to 1 s, and the drive.
        assert!(
            (-libm::atan2(found.im, found.re) / 0.01 - (0.5 + 0.55 + 0.7)).abs() < 1e-3,
            "{found}"
        );
        assert!((libm::sqrt(found.norm_sqr()) - 0.04).abs() < 1e-5, "{found}");
    }
}
