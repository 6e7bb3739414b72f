//! Heat flows between two temperatures: radiation and films, and the time step of a row.

use super::model::Film;
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

/// What a film does at one temperature difference, before the fit's and the fan's factors.
#[derive(Clone, Copy, Debug)]
pub(super) struct FilmAt {
    /// Heat into the surface, W/m².
    pub(super) flux: f32,
    /// Derivative of it, W/(m² K).
    pub(super) slope: f32,
}

/// Heat through a film from air that is `difference_k` hotter than the surface.
pub(super) fn film(film: Film, difference_k: f32) -> FilmAt {
    let quarter = if film.quarter > 0.0 { film.quarter * fourth_root(difference_k) } else { 0.0 };
    FilmAt {
        flux: (film.constant + quarter) * difference_k,
        // d/dx of x^(5/4) is 5/4·x^(1/4).
        slope: film.constant + 1.25 * quarter,
    }
}

/// The factor on a film of which the fit and the fan are both uncertain.
pub(super) fn film_span(law: Span, fan: Span) -> Span {
    Span { low: law.low * fan.low, high: law.high * fan.high }
}

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
