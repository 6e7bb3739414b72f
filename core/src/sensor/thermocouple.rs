//! Thermocouples of types K, J, T and N: emf and temperature, both ways.
//!
//! An emf belongs to two junctions. What the wires give is the emf of the hot one less that of the
//! cold one, each against 0 °C; they are added as emfs, because the slope at the one temperature is
//! not that at the other (type T, 200 °C with the wires' end at 40 °C: adding temperatures is 9 K
//! off).
//!
//! Temperatures follow from the reference function itself by Newton's method, not from the
//! published inverse polynomials, which are up to 0.05 K off.

use super::its90::{self, Reference};
use crate::units::Celsius;
use core::ops::{Add, Sub};
use serde::{Deserialize, Serialize};

/// Where the search for a temperature starts: ovens that bake work near it.
const START_C: f32 = 150.0;
/// From a miss as small as this the next step is the last: it lands within 0.0001 K. Less would be
/// lost in single precision at 1,300 °C. It is also how far past an end of the range an emf counts as
/// the end: the last digit of printed tables.
const NEAR_UV: f32 = 1.0;
/// Steps a search may take; the farthest end of any range takes five.
const STEPS_MAX: u32 = 8;

/// Electromotive force of a thermocouple, in microvolts.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd, Default)]
pub struct Microvolts(pub f32);

impl Add for Microvolts {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self(self.0 + other.0)
    }
}

impl Sub for Microvolts {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self(self.0 - other.0)
    }
}

/// A pair of wires, by the letter of IEC 60584-1.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Thermocouple {
    /// Nickel-chromium and nickel-aluminium.
    K,
    /// Iron and copper-nickel.
    J,
    /// Copper and copper-nickel.
    T,
    /// Nickel-chromium-silicon and nickel-silicon.
    N,
}

impl Thermocouple {
    /// Every type.
    pub const ALL: [Self; 4] = [Self::K, Self::J, Self::T, Self::N];

    /// Emf of a junction whose wires end at 0 °C; `None` outside the type's range.
    #[must_use]
    pub fn emf(self, junction: Celsius) -> Option<Microvolts> {
        let reference = self.reference();
        reference.covers(junction.0).then(|| Microvolts(reference.emf_and_slope(junction.0).0))
    }

    /// Temperature of a junction from its emf with the wires ending at 0 °C; `None` for an emf this
    /// type does not give. At most eight evaluations of the reference function.
    #[must_use]
    pub fn temperature(self, emf: Microvolts) -> Option<Celsius> {
        let reference = self.reference();
        let mut temp_c = START_C;
        for _ in 0..STEPS_MAX {
            let (emf_uv, slope_uv_per_k) = reference.emf_and_slope(temp_c);
            let miss_uv = emf.0 - emf_uv;
            temp_c = reference.nearest(temp_c + miss_uv / slope_uv_per_k);
            if miss_uv.abs() <= NEAR_UV {
                return Some(Celsius(temp_c));
            }
        }
        None
    }

    /// Temperature of the hot junction from the emf between the wires' ends and the temperature of
    /// those ends.
    #[must_use]
    pub fn hot_junction(self, measured: Microvolts, cold_junction: Celsius) -> Option<Celsius> {
        self.temperature(measured + self.emf(cold_junction)?)
    }

    /// Temperature of the hot junction from the reading of a converter that takes the wires for
    /// straight: so many microvolts for every kelvin above its own cold junction.
    #[must_use]
    pub fn straightened(
        self,
        reading: Celsius,
        cold_junction: Celsius,
        slope_uv_per_k: f32,
    ) -> Option<Celsius> {
        if slope_uv_per_k > 0.0 {
            let measured = Microvolts((reading - cold_junction).0 * slope_uv_per_k);
            self.hot_junction(measured, cold_junction)
        } else {
            None
        }
    }

    /// The lowest and the highest temperature of this type that is answered for.
    #[must_use]
    pub fn range(self) -> (Celsius, Celsius) {
        let reference = self.reference();
        (Celsius(reference.lowest_c), Celsius(reference.highest_c))
    }

    fn reference(self) -> &'static Reference {
        match self {
            Self::K => &its90::K,
            Self::J => &its90::J,
            Self::T => &its90::T,
            Self::N => &its90::N,
        }
    }
}
