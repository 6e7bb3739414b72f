//! Platinum resistance sensors, Pt100 and Pt1000: resistance and temperature, both ways.
//!
//! The Callendar–Van Dusen equation with the coefficients of IEC 60751,
//! `R/R₀ = 1 + A t + B t² + C (t − 100) t³`, the last term below 0 °C only. The resistance is that
//! of the sensor alone: what its leads add is the caller's to take off (half an ohm reads 1.3 K
//! high on a Pt100 at 150 °C).

use crate::units::Celsius;
use serde::{Deserialize, Serialize};

/// IEC 60751, per °C.
const A: f32 = 3.9083e-3;
/// IEC 60751, per °C².
const B: f32 = -5.775e-7;
/// IEC 60751, per °C⁴, below 0 °C.
const C: f32 = -4.183e-12;
/// Least temperature of the equation (IEC 60751), °C.
const LOWEST_C: f32 = -200.0;
/// Greatest temperature of the equation (IEC 60751), °C.
const HIGHEST_C: f32 = 850.0;
/// How far past an end, as a share of R₀, a resistance counts as the end: half the last digit of
/// printed tables, 0.01 Ω of a Pt100.
const NEAR: f32 = 5e-5;
/// Newton's steps below 0 °C: without the last term −200 °C is 2.4 K off, after one step 0.001 K.
const STEPS_BELOW_ZERO: u32 = 2;

/// Electrical resistance, in ohms.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd, Default)]
pub struct Ohms(pub f32);

/// A platinum resistor, by its ohms at 0 °C.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Platinum {
    /// 100 Ω at 0 °C.
    Pt100,
    /// 1,000 Ω at 0 °C.
    Pt1000,
}

impl Platinum {
    /// Both.
    pub const ALL: [Self; 2] = [Self::Pt100, Self::Pt1000];

    /// Resistance at a temperature; `None` outside −200…850 °C.
    #[must_use]
    pub fn resistance(self, sensor: Celsius) -> Option<Ohms> {
        let covered = sensor.0 >= LOWEST_C && sensor.0 <= HIGHEST_C;
        covered.then(|| Ohms(self.at_zero().0 * (1.0 + rise_and_slope(sensor.0).0)))
    }

    /// Temperature from a resistance; `None` for one outside what −200…850 °C give.
    #[must_use]
    pub fn temperature(self, resistance: Ohms) -> Option<Celsius> {
        let at_zero = self.at_zero().0;
        let rise = (resistance.0 - at_zero) / at_zero;
        let least = rise_and_slope(LOWEST_C).0 - NEAR;
        let greatest = rise_and_slope(HIGHEST_C).0 + NEAR;
        if !(least..=greatest).contains(&rise) {
            return None;
        }
        // The root of the quadratic, in the form that loses nothing near 0 °C.
        let mut temp_c = 2.0 * rise / (A + crate::root::square_root(A * A + 4.0 * B * rise));
        if rise < 0.0 {
            for _ in 0..STEPS_BELOW_ZERO {
                let (reached, slope) = rise_and_slope(temp_c);
                temp_c += (rise - reached) / slope;
            }
        }
        Some(Celsius(temp_c.clamp(LOWEST_C, HIGHEST_C)))
    }

    fn at_zero(self) -> Ohms {
        match self {
            Self::Pt100 => Ohms(100.0),
            Self::Pt1000 => Ohms(1000.0),
        }
    }
}

/// `R/R₀ − 1`, and its slope per kelvin.
fn rise_and_slope(temp_c: f32) -> (f32, f32) {
    let (rise, slope) = (temp_c * (A + B * temp_c), A + 2.0 * B * temp_c);
    if temp_c >= 0.0 {
        return (rise, slope);
    }
    let square = temp_c * temp_c;
    (rise + C * (temp_c - 100.0) * square * temp_c, slope + C * (4.0 * temp_c - 300.0) * square)
}
