//! Films in the form the board evaluates: `h = w·constant + v·quarter·|ΔT|^(1/4)`, w and v by the air's
//! warmth.
//!
//! The fit is the best in the largest relative error (Lawson's reweighting) over the temperatures
//! a bake meets while the air is the hotter; the least and greatest ratio of law to fit say how much
//! wider the board's span of exchange has to be to cover the law itself, on hotter surfaces too. It
//! refuses nothing.

use super::convection::Film;
use truesoak_core::bounds::model::{Air, HOTTER_SURFACE_PER_K, Warmth};

/// Air and surface temperatures the fit is for, °C.
pub const COLDEST_C: f64 = 0.0;
/// See [`COLDEST_C`].
pub const HOTTEST_C: f64 = 260.0;
/// Coldest air, °C.
const AIR_COLDEST_C: f64 = 20.0;
/// Steps of air temperature in the grid.
const AIR_STEPS: usize = 13;
/// Differences in the grid, K.
const DIFFERENCES_K: [f64; 12] =
    [0.5, 1.0, 2.0, 4.0, 8.0, 15.0, 25.0, 40.0, 60.0, 90.0, 120.0, 150.0];
/// Rounds of reweighting; the error settles to a percent of itself in far fewer.
const ROUNDS: usize = 16;

/// A fitted film.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fit {
    /// Constant part in air of 0 °C, W/(m² K).
    pub constant: f64,
    /// Factor of the fourth root of the difference in air of 0 °C, W/(m² K^(5/4)).
    pub quarter: f64,
    /// Least ratio of law to fit over 0.5–150 K of difference, air 20–260 °C, the air being hotter; on
    /// hotter surfaces as much less as [`HOTTER_SURFACE_PER_K`] says.
    pub least: f64,
    /// Greatest ratio of law to fit.
    pub greatest: f64,
}

struct Sample {
    /// What the constant and the fourth root's part are multiplied by.
    constant: f64,
    quarter: f64,
    law: f64,
    /// How much hotter than its air the surface is, K.
    above_k: f64,
    weight: f64,
}

/// Share of the least that is left on a surface that is so much hotter than its air.
fn hotter_surface(above_k: f64) -> f64 {
    1.0 - f64::from(HOTTER_SURFACE_PER_K) * above_k.max(0.0)
}

impl Fit {
    /// Fits a film in the air of an oven. The board knows its warmth at the sensor: where the part
    /// hangs it is as much colder or hotter as the oven's spots are.
    #[must_use]
    pub fn of(film: &Film, air: &Air) -> Self {
        let mut samples = samples(film, air, f64::min);
        let mut fit = solve(&samples);
        let mut best = fit;
        for _ in 1..ROUNDS {
            let mut sum = 0.0;
            for sample in &mut samples {
                sample.weight *= (1.0 / fit.ratio(sample) - 1.0).abs();
                sum += sample.weight;
            }
            if sum <= 0.0 {
                break;
            }
            for sample in &mut samples {
                sample.weight /= sum;
            }
            fit = solve(&samples);
            if fit.worst() < best.worst() {
                best = fit;
            }
        }
        best.cover_hotter_surfaces(film, air)
    }

    /// Coefficient by the fit, W/(m² K).
    fn at(&self, sample: &Sample) -> f64 {
        self.constant * sample.constant + self.quarter * sample.quarter
    }

    fn ratio(&self, sample: &Sample) -> f64 {
        sample.law / self.at(sample)
    }

    /// Largest factor by which law and fit differ.
    fn worst(&self) -> f64 {
        self.greatest.max(1.0 / self.least)
    }

    fn cover_hotter_surfaces(mut self, film: &Film, air: &Air) -> Self {
        for sample in samples(film, air, f64::max) {
            let ratio = self.ratio(&sample);
            self.least = self.least.min(ratio / hotter_surface(sample.above_k));
            self.greatest = self.greatest.max(ratio);
        }
        self
    }
}

impl Sample {
    fn new(warmth: Warmth, above_k: f64, law: f64) -> Self {
        let root = libm::sqrt(libm::sqrt(above_k.abs()));
        let (constant, quarter) = (f64::from(warmth.constant), f64::from(warmth.quarter));
        Self { constant, quarter: quarter * root, law, above_k, weight: 1.0 }
    }
}

/// The grid; `side` picks the surface of two as far below and above the air.
fn samples(film: &Film, air: &Air, side: fn(f64, f64) -> f64) -> Vec<Sample> {
    let mut samples = Vec::with_capacity(2 * AIR_STEPS * DIFFERENCES_K.len());
    for step in 0..AIR_STEPS {
        let share = step as f64 / (AIR_STEPS - 1) as f64;
        let air_c = AIR_COLDEST_C + share * (HOTTEST_C - AIR_COLDEST_C);
        for difference_k in DIFFERENCES_K {
            let surface_c = side(air_c - difference_k, air_c + difference_k);
            let surface_c = surface_c.clamp(COLDEST_C, HOTTEST_C);
            let difference_k = surface_c - air_c;
            if difference_k != 0.0 {
                let law = film.coefficient(surface_c, air_c);
                for spot_k in [-air.hot_spot_k, air.cold_spot_k] {
                    let warmth = air.warmth(air_c as f32 + spot_k);
                    samples.push(Sample::new(warmth, difference_k, law));
                }
            }
        }
    }
    samples
}

/// Weighted least squares of the relative error, neither coefficient below zero.
fn solve(samples: &[Sample]) -> Fit {
    let (mut s11, mut s12, mut s22, mut r1, mut r2) = (0.0, 0.0, 0.0, 0.0, 0.0);
    for sample in samples {
        let (one, root) = (sample.constant / sample.law, sample.quarter / sample.law);
        s11 += sample.weight * one * one;
        s12 += sample.weight * one * root;
        s22 += sample.weight * root * root;
        r1 += sample.weight * one;
        r2 += sample.weight * root;
    }
    let determinant = s11 * s22 - s12 * s12;
    let (mut constant, mut quarter) =
        ((r1 * s22 - r2 * s12) / determinant, (r2 * s11 - r1 * s12) / determinant);
    if !quarter.is_finite() || quarter < 0.0 {
        (constant, quarter) = (r1 / s11, 0.0);
    } else if !constant.is_finite() || constant < 0.0 {
        (constant, quarter) = (0.0, r2 / s22);
    }
    let mut fit = Fit { constant, quarter, least: f64::INFINITY, greatest: 0.0 };
    for sample in samples {
        let ratio = fit.ratio(sample);
        fit.least = if ratio < fit.least { ratio } else { fit.least };
        fit.greatest = if ratio > fit.greatest { ratio } else { fit.greatest };
    }
    // Centred: the law is as far below the fit as above it.
    let centre = libm::sqrt(fit.least * fit.greatest);
    fit.constant *= centre;
    fit.quarter *= centre;
    fit.least /= centre;
    fit.greatest /= centre;
    fit
}

#[cfg(test)]
mod tests {
    use super::super::convection::Body;
    use super::*;

    /// Films of a still and of a blown oven.
    fn films() -> Vec<(Film, Air)> {
        let air = Air {
            capacity_j_per_k: 60.0,
            leak_w_per_k: 0.2,
            stopped_fan: 1.0,
            airflow_proof: false,
            cold_spot_k: 0.0,
            hot_spot_k: 0.0,
        };
        let mut films = Vec::new();
        for body in [Body::VerticalPlate, Body::HorizontalCylinder] {
            for (speed_m_per_s, stopped_fan) in [(0.0, 1.0), (2.0, 0.4)] {
                let air = Air { stopped_fan, ..air };
                let film = |length_m| Film { body, length_m, speed_m_per_s };
                films.extend([0.005, 0.02, 0.07, 0.12].map(|length_m| (film(length_m), air)));
            }
        }
        films
    }

    /// Least and greatest ratio of law to fit off the grid's points, cold surfaces and hot ones.
    fn ratios(film: &Film, air: &Air, spot_k: f32) -> [(f64, f64); 2] {
        let fit = Fit::of(film, air);
        let mut ends = [(f64::INFINITY, 0.0_f64); 2];
        for air_c in [23.0, 77.0, 131.0, 149.0, 203.0, 255.0] {
            for difference_k in [0.7, 3.0, 11.0, 33.0, 75.0, 140.0] {
                for (ends, surface_c) in
                    ends.iter_mut().zip([air_c - difference_k, air_c + difference_k])
                {
                    if (COLDEST_C..=HOTTEST_C).contains(&surface_c) {
                        let warmth = air.warmth(air_c as f32 + spot_k);
                        let law = film.coefficient(surface_c, air_c);
                        let ratio = fit.ratio(&Sample::new(warmth, difference_k, law));
                        let least = ratio / hotter_surface(surface_c - air_c);
                        *ends = (ends.0.min(least), ends.1.max(ratio));
                    }
                }
            }
        }
        ends
    }

    #[test]
    fn the_fit_holds_the_law_between_its_ratios_between_grid_points_too() {
        for (film, air) in films() {
            let fit = Fit::of(&film, &air);
            let [cold, hot] = ratios(&film, &air, 0.0);
            assert!(cold.0 > fit.least - 2e-3, "{film:?} {fit:?} {cold:?}");
            assert!(cold.1.max(hot.1) < fit.greatest + 2e-3, "{film:?} {fit:?} {cold:?} {hot:?}");
            assert!(hot.0 > fit.least - 2e-3, "{film:?} {fit:?} {hot:?}");
        }
    }

    #[test]
    fn the_fit_holds_the_law_in_air_that_is_colder_or_hotter_where_the_part_hangs() {
        for (film, air) in films() {
            let air = Air { cold_spot_k: 12.0, hot_spot_k: 9.0, ..air };
            let fit = Fit::of(&film, &air);
            for spot_k in [-9.0, 4.0, 12.0] {
                let [cold, _] = ratios(&film, &air, spot_k);
                assert!(cold.0 > fit.least - 2e-3, "{film:?} {fit:?} {cold:?}");
                assert!(cold.1 < fit.greatest + 2e-3, "{film:?} {fit:?} {cold:?}");
            }
        }
    }

    #[test]
    fn the_fit_is_within_an_eighth_of_the_law_for_parts() {
        for (film, air) in films() {
            let fit = Fit::of(&film, &air);
            assert!(fit.constant >= 0.0 && fit.quarter >= 0.0, "{fit:?}");
            assert!(fit.worst() < 1.125, "{film:?} {fit:?}");
        }
    }
}
