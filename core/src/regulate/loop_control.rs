//! The air loop: the `pid` crate on the second's mean reading, around a feed-forward.
//!
//! The crate's integral is private, unbounded by saturation and poisoned by a not-a-number, so here
//! it is called only with finite values, integrates only while the sum of all terms is unsaturated
//! (`ki = 0` freezes it) and is preset by a reset and one call with the other gains at zero.

use pid::Pid;
use serde::{Deserialize, Serialize};

/// Gains of the air loop, duty 0..1.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Tuning {
    /// Duty per K.
    pub gain_per_k: f32,
    /// s.
    pub integral_time_s: f32,
    /// s.
    pub derivative_time_s: f32,
}

/// Largest term; duty itself never exceeds 1.
const TERM_MAX: f32 = 4.0;
/// Largest integral, duty either way: more means a wrong model, not a cold oven.
const INTEGRAL_MAX: f32 = 0.5;

/// PID and feed-forward, called once a second.
#[derive(Clone, Copy, Debug)]
pub struct LoopControl {
    pid: Pid<f32>,
    tuning: Tuning,
    integral: f32,
}

impl LoopControl {
    /// A loop with nothing integrated.
    #[must_use]
    pub fn new(tuning: Tuning) -> Self {
        let mut pid = Pid::new(0.0_f32, TERM_MAX);
        pid.p(tuning.gain_per_k, TERM_MAX);
        pid.i(0.0_f32, INTEGRAL_MAX);
        pid.d(tuning.gain_per_k * tuning.derivative_time_s, TERM_MAX);
        Self { pid, tuning, integral: 0.0 }
    }

    /// One second: the duty for a reading, a setpoint and a feed-forward; the error is summed up or
    /// not. Anything not finite gives no heat and leaves the loop as it was.
    pub fn second(
        &mut self,
        reading_c: f32,
        setpoint_c: f32,
        feed_forward: f32,
        sums: bool,
    ) -> f32 {
        if !(reading_c.is_finite() && setpoint_c.is_finite() && feed_forward.is_finite()) {
            return 0.0;
        }
        self.pid.setpoint = setpoint_c;
        let error_k = setpoint_c - reading_c;
        let expected = feed_forward + self.integral + self.tuning.gain_per_k * error_k;
        let winds_up = (expected >= 1.0 && error_k > 0.0) || (expected <= 0.0 && error_k < 0.0);
        self.pid.ki = if winds_up || !sums { 0.0 } else { self.integral_gain() };
        let output = self.pid.next_control_output(reading_c);
        self.integral = output.i;
        (feed_forward + output.output).clamp(0.0, 1.0)
    }

    /// Follows the reading without integrating, so that the derivative does not kick afterwards.
    pub fn follow(&mut self, reading_c: f32) {
        if reading_c.is_finite() {
            self.pid.ki = 0.0;
            let _ = self.pid.next_control_output(reading_c);
        }
    }

    /// Integral, duty.
    #[must_use]
    pub fn integral(&self) -> f32 {
        self.integral
    }

    /// Sets the integral.
    pub fn preset(&mut self, integral: f32) {
        let (kp, kd) = (self.pid.kp, self.pid.kd);
        self.pid.reset_integral_term();
        (self.pid.kp, self.pid.kd, self.pid.ki) = (0.0, 0.0, 1.0);
        let setpoint = self.pid.setpoint;
        self.pid.setpoint = integral.clamp(-INTEGRAL_MAX, INTEGRAL_MAX);
        self.integral = self.pid.next_control_output(0.0).i;
        (self.pid.kp, self.pid.kd, self.pid.setpoint) = (kp, kd, setpoint);
    }

    fn integral_gain(&self) -> f32 {
        if self.tuning.integral_time_s > 0.0 {
            self.tuning.gain_per_k / self.tuning.integral_time_s
        } else {
            0.0
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const TUNING: Tuning =
        Tuning { gain_per_k: 0.05, integral_time_s: 200.0, derivative_time_s: 0.0 };

    #[test]
    fn a_saturated_loop_does_not_wind_up() {
        let mut control = LoopControl::new(TUNING);
        for _ in 0..3600 {
            assert!((control.second(20.0, 150.0, 0.3, true) - 1.0).abs() < 1e-6);
        }
        assert!(control.integral().abs() < 1e-6);
    }

    #[test]
    fn a_standing_error_is_integrated_away() {
        let mut control = LoopControl::new(TUNING);
        let first = control.second(149.0, 150.0, 0.3, true);
        for _ in 0..200 {
            let _ = control.second(149.0, 150.0, 0.3, true);
        }
        let later = control.second(149.0, 150.0, 0.3, true);
        assert!((later - first - 0.05).abs() < 0.002, "{first} {later}");
    }

    #[test]
    fn an_error_on_its_way_is_not_integrated() {
        let mut control = LoopControl::new(TUNING);
        let first = control.second(145.0, 150.0, 0.3, false);
        for _ in 0..200 {
            assert!((control.second(145.0, 150.0, 0.3, false) - first).abs() < 1e-6);
        }
    }

    #[test]
    fn a_preset_is_bumpless_and_not_a_number_changes_nothing() {
        let mut control = LoopControl::new(TUNING);
        control.preset(0.123);
        assert!((control.integral() - 0.123).abs() < 1e-6);
        assert!((control.second(150.0, 150.0, 0.2, true) - 0.323).abs() < 1e-6);
        assert!(control.second(f32::NAN, 150.0, 0.2, true).abs() < 1e-9);
        assert!((control.second(150.0, 150.0, 0.2, true) - 0.323).abs() < 1e-6);
    }
}
