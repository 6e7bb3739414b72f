//! Films in the form the board evaluates: `h = constant + quarter·|ΔT|^(1/4)`.
//!
//! The fit is the best in the largest relative error (Lawson's reweighting) over the temperatures
//! a bake meets; the least and greatest ratio of law to fit say how much wider the board's span of
//! exchange has to be to cover the law itself. It refuses nothing.

use super::convection::Film;

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
    /// Constant part, W/(m² K).
    pub constant: f64,
    /// Factor of the fourth root of the difference, W/(m² K^(5/4)).
    pub quarter: f64,
    /// Least ratio of law to fit over 0.5–150 K of difference, air 20–260 °C.
    pub least: f64,
    /// Greatest ratio of law to fit.
    pub greatest: f64,
}

struct Sample {
    root: f64,
    law: f64,
    weight: f64,
}

impl Fit {
    /// Fits a film.
    #[must_use]
    pub fn of(film: &Film) -> Self {
        let mut samples = samples(film);
        let mut fit = solve(&samples);
        let mut best = fit;
        for _ in 1..ROUNDS {
            let mut sum = 0.0;
            for sample in &mut samples {
                let ratio = fit.at_root(sample.root) / sample.law;
                sample.weight *= (ratio - 1.0).abs();
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
        best
    }

    /// Coefficient by the fit, W/(m² K).
    #[must_use]
    pub fn coefficient(&self, difference_k: f64) -> f64 {
        self.at_root(libm::sqrt(libm::sqrt(difference_k.abs())))
    }

    fn at_root(&self, root: f64) -> f64 {
        self.constant + self.quarter * root
    }

    /// Largest factor by which law and fit differ.
    fn worst(&self) -> f64 {
        self.greatest.max(1.0 / self.least)
    }
}

fn samples(film: &Film) -> Vec<Sample> {
    let mut samples = Vec::with_capacity(2 * AIR_STEPS * DIFFERENCES_K.len());
    for step in 0..AIR_STEPS {
        let share = step as f64 / (AIR_STEPS - 1) as f64;
        let air_c = AIR_COLDEST_C + share * (HOTTEST_C - AIR_COLDEST_C);
        for difference_k in DIFFERENCES_K {
            for surface_c in [air_c - difference_k, air_c + difference_k] {
                let surface_c = surface_c.clamp(COLDEST_C, HOTTEST_C);
                let difference_k = (surface_c - air_c).abs();
                if difference_k > 0.0 {
                    samples.push(Sample {
                        root: libm::sqrt(libm::sqrt(difference_k)),
                        law: film.coefficient(surface_c, air_c),
                        weight: 1.0,
                    });
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
        let (one, root) = (1.0 / sample.law, sample.root / sample.law);
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
        let ratio = sample.law / (constant + quarter * sample.root);
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

    fn films() -> Vec<Film> {
        let mut films = Vec::new();
        for body in [Body::VerticalPlate, Body::HorizontalCylinder] {
            for speed_m_per_s in [0.0, 2.0] {
                films.extend([0.02, 0.07, 0.12].map(|length_m| Film {
                    body,
                    length_m,
                    speed_m_per_s,
                }));
            }
        }
        films
    }

    #[test]
    fn the_fit_holds_the_law_between_its_ratios_between_grid_points_too() {
        for film in films() {
            let fit = Fit::of(&film);
            for air_c in [23.0, 77.0, 131.0, 149.0, 203.0, 255.0] {
                for difference_k in [0.7, 3.0, 11.0, 33.0, 75.0, 140.0] {
                    for surface_c in [air_c - difference_k, air_c + difference_k] {
                        if !(COLDEST_C..=HOTTEST_C).contains(&surface_c) {
                            continue;
                        }
                        let ratio =
                            film.coefficient(surface_c, air_c) / fit.coefficient(difference_k);
                        assert!(ratio > fit.least - 2e-3, "{film:?} {fit:?} {ratio}");
                        assert!(ratio < fit.greatest + 2e-3, "{film:?} {fit:?} {ratio}");
                    }
                }
            }
        }
    }

    #[test]
    fn the_fit_is_within_a_fifth_of_the_law_for_parts() {
        for film in films() {
            let fit = Fit::of(&film);
            assert!(fit.constant >= 0.0 && fit.quarter >= 0.0, "{fit:?}");
            assert!(fit.worst() < 1.2, "{film:?} {fit:?}");
        }
    }
}
