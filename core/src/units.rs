//! Temperatures, temperature differences and time, each its own type.
//!
//! An absolute temperature ([`Celsius`]) and a difference ([`Kelvins`]) do not mix by accident.
//! Time is counted in integer ticks of 100 ms ([`Tick`]) and in whole seconds; nothing in this
//! crate reads a clock.

use core::ops::{Add, Neg, Sub};
use serde::{Deserialize, Serialize};

/// Ticks in one second.
pub const TICKS_PER_SECOND: u32 = 10;
/// Steps of a logged reading in one kelvin: readings reach the bounds quantised to 1/128 K.
pub const READING_STEPS_PER_KELVIN: f32 = 128.0;
/// 0 °C in kelvins (definition of the Celsius scale).
pub const ZERO_CELSIUS_K: f32 = 273.15;
/// Stefan–Boltzmann constant, W/(m² K⁴) (CODATA 2018).
pub const STEFAN_BOLTZMANN: f32 = 5.670_374_4e-8;

/// An absolute temperature in degrees Celsius.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd, Default, Serialize, Deserialize)]
pub struct Celsius(pub f32);

/// A temperature difference in kelvins.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd, Default, Serialize, Deserialize)]
pub struct Kelvins(pub f32);

impl Celsius {
    /// True for a finite temperature above absolute zero; not-a-number is not usable.
    #[must_use]
    pub fn is_physical(self) -> bool {
        self.0.is_finite() && self.0 > -ZERO_CELSIUS_K
    }

    /// The lower of two; a not-a-number yields the other.
    #[must_use]
    pub fn min(self, other: Self) -> Self {
        Self(self.0.min(other.0))
    }

    /// The higher of two; a not-a-number yields the other.
    #[must_use]
    pub fn max(self, other: Self) -> Self {
        Self(self.0.max(other.0))
    }
}

impl Sub for Celsius {
    type Output = Kelvins;
    fn sub(self, other: Self) -> Kelvins {
        Kelvins(self.0 - other.0)
    }
}

impl Add<Kelvins> for Celsius {
    type Output = Self;
    fn add(self, difference: Kelvins) -> Self {
        Self(self.0 + difference.0)
    }
}

impl Sub<Kelvins> for Celsius {
    type Output = Self;
    fn sub(self, difference: Kelvins) -> Self {
        Self(self.0 - difference.0)
    }
}

impl Add for Kelvins {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self(self.0 + other.0)
    }
}

impl Sub for Kelvins {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self(self.0 - other.0)
    }
}

impl Neg for Kelvins {
    type Output = Self;
    fn neg(self) -> Self {
        Self(-self.0)
    }
}

/// A second's mean air reading on the log's grid of 1/128 K, so that a log replays exactly.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct Reading(pub i32);

impl Reading {
    /// Rounds to the nearest step; `None` for anything that is not a physical temperature.
    #[must_use]
    pub fn from_celsius(value: Celsius) -> Option<Self> {
        if value.is_physical() && value.0 < 16_000.0 {
            // The float-to-integer cast saturates; the range check above keeps it exact.
            Some(Self(libm::roundf(value.0 * READING_STEPS_PER_KELVIN) as i32))
        } else {
            None
        }
    }

    /// The temperature this step stands for; exact in `f32`.
    #[must_use]
    pub fn to_celsius(self) -> Celsius {
        Celsius(self.0 as f32 / READING_STEPS_PER_KELVIN)
    }
}

/// An instant: ticks of 100 ms since the board started. Wraps after 13 years.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct Tick(pub u32);

impl Tick {
    /// Ticks from `earlier` to `self`, right across a wrap.
    #[must_use]
    pub fn since(self, earlier: Self) -> u32 {
        self.0.wrapping_sub(earlier.0)
    }

    /// The instant `ticks` later.
    #[must_use]
    pub fn plus(self, ticks: u32) -> Self {
        Self(self.0.wrapping_add(ticks))
    }
}

/// The low and high end of an uncertain value.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Span {
    /// Least value it may have.
    pub low: f32,
    /// Greatest value it may have.
    pub high: f32,
}

impl Span {
    /// A value known exactly.
    #[must_use]
    pub const fn exactly(value: f32) -> Self {
        Self { low: value, high: value }
    }

    /// Half way between the ends.
    #[must_use]
    pub fn middle(self) -> f32 {
        0.5 * (self.low + self.high)
    }
}
