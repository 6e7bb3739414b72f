//! Heat flows between two temperatures: radiation and films, and the time step of a row.

use super::model::{Film, HOTTER_SURFACE_PER_K, Warmth};
use super::side::Side;
use crate::root::square_root;
use crate::units::{STEFAN_BOLTZMANN, Span, ZERO_CELSIUS_K};

/// σ·(a⁴ − b⁴) of two temperatures in °C, W/m². The difference is taken before the product, so
/// that nearly equal temperatures lose no digits.
pub(super) fn radiation(a_c: f32, b_c: f32) -> f32 {
    radiation_slope(a_c, b_c) * (a_c - b_c)
}

/// Flow of [`radiation`] divided by the difference, W/(m² K).
pub(super) fn radiation_slope(a_c: f32, b_c: f32) -> f32 {
    let (a, b) = (a_c + ZERO_CELSIUS_K, b_c + ZERO_CELSIUS_K);
    STEFAN_BOLTZMANN * (a * a + b * b) * (a + b)
}

/// |x|^(1/4).
pub(super) fn fourth_root(x: f32) -> f32 {
    square_root(square_root(libm::fabsf(x)))
}

/// What a film does at one temperature difference.
#[derive(Clone, Copy, Debug)]
pub(super) struct FilmAt {
    /// Heat into the surface, the fit's and the fan's factors at their worst, W/m².
    pub(super) flux: f32,
    /// Derivative of it before those factors, W/(m² K).
    pub(super) slope: f32,
}

/// Heat through a film from air that is `difference_k` hotter than the surface.
#[inline(never)]
pub(super) fn film(side: Side, film: &Film, fan: f32, warmth: Warmth, difference_k: f32) -> FilmAt {
    let constant = warmth.constant * film.constant;
    let quarter = warmth.quarter * film.quarter * fourth_root(difference_k);
    FilmAt {
        flux: film_factor(side, film.law, fan, difference_k) * (constant + quarter) * difference_k,
        // d/dx of x^(5/4) is 5/4·x^(1/4).
        slope: constant + 1.25 * quarter,
    }
}

/// Coefficient of a film, before the factors, W/(m² K).
pub(super) fn coefficient(film: &Film, warmth: Warmth, difference_k: f32) -> f32 {
    film.coefficient(warmth, fourth_root(difference_k))
}

/// The worst factor on a film of which the fit and the fan are both uncertain.
pub(super) fn film_factor(side: Side, law: Span, fan: f32, difference_k: f32) -> f32 {
    let low = || {
        let low = law.low * fan;
        if difference_k < 0.0 { low * (1.0 + HOTTER_SURFACE_PER_K * difference_k) } else { low }
    };
    side.pick(difference_k > 0.0, low, || law.high)
}

/// By how much hotter air heats faster than the slope of a film at most says, whose warmth it
/// changes: still air that conducts more also rises less.
pub(super) const STEEPER: f32 = 1.1;

/// What one second of `heat` (W) does to a row of `capacity` (J/K) whose heat falls by `slope`
/// (W/K) as it warms, K.
///
/// WHY: with z = slope/capacity the row takes the share (1-e^-z)/z of an explicit step, and
/// z/(1-e^-z) = 1 + z/2 + z²/12 - z⁴/720 …, so this is exact to 1e-4 below z = 1, and z times the
/// share stays below 1 for every z: a row never steps past its own balance, however stiff. Written
/// with a single division.
pub(super) fn one_second(heat: f32, slope: f32, capacity: f32) -> f32 {
    12.0 * capacity * heat / (capacity * (12.0 * capacity + 6.0 * slope) + slope * slope)
}

#[cfg(test)]
mod tests {
    use super::super::model::Air;
    use super::*;

    #[test]
    fn hotter_air_always_heats_more_and_never_much_more_than_the_slope() {
        let still = Air::by_hand();
        let blown = Air { stopped_fan: 0.4, ..still };
        let law = Span::exactly(1.0);
        // Parts of 1 and of 5 mm, a liner; by a fan.
        let films = [(still, 16.0, 7.5), (still, 3.5, 5.0), (still, 0.0, 2.0), (blown, 20.0, 0.2)];
        for (cabinet, constant, quarter) in films {
            let of = Film { constant, quarter, law };
            let temperatures = || (0..=26).map(|tens| 10.0 * tens as f32);
            for (air_c, surface_c) in
                temperatures().flat_map(|air| temperatures().map(move |at| (air, at + 1.0)))
            {
                let at = |air_c: f32| {
                    film(Side::Upper, &of, 1.0, cabinet.warmth(air_c), air_c - surface_c)
                };
                let rises = at(air_c + 0.5).flux - at(air_c - 0.5).flux;
                let steepest = STEEPER * at(air_c).slope;
                assert!(
                    rises > 0.0 && rises < steepest,
                    "{of:?} {air_c} {surface_c}: {rises}, {steepest}"
                );
            }
        }
    }
}
