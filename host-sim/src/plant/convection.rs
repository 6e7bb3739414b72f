//! Films of air on surfaces: natural, forced and both together.
//!
//! Correlations of average Nusselt numbers; each is good to 10–25 %, which the spread of
//! `part_exchange` is there to cover. Film properties are those of dry air at the mean of surface
//! and air. Where a fan blows, both effects combine as Nu³ = Nu_F³ + Nu_N³ (Churchill 1977: assisting
//! and transverse flow).

use super::air::{Air, FilmTable};
use std::sync::LazyLock;

/// Prandtl number of the buoyant correlations' Pr term: dry air has 0.698–0.713 over 250–600 K,
/// which moves Nu by less than 0.3 %.
pub const PRANDTL: f64 = 0.70;
/// Reynolds number where a plate's layer turns turbulent (common value).
const TRANSITION_REYNOLDS: f64 = 5e5;
/// Rayleigh number up to which a plate's natural layer is laminar (Churchill and Chu 1975).
const LAMINAR_RAYLEIGH: f64 = 1e9;
/// Smallest Rayleigh number of the table: below it Nu no longer changes.
const RAYLEIGH_LEAST: f64 = 1.0 / 1_024.0;
/// Octaves of the table: to 2^50, far past any cabinet.
const OCTAVES: usize = 60;
/// Linear bins in an octave: the top 5 bits of the mantissa.
const BINS: usize = 32;

/// Vertical plate, laminar and turbulent, any Ra (Churchill and Chu 1975).
#[must_use]
pub fn nusselt_vertical_plate(rayleigh: f64, prandtl: f64) -> f64 {
    plate(rayleigh, by_prandtl(0.492, prandtl, 8.0 / 27.0))
}

/// Vertical plate, laminar form, Ra < 10⁹ (Churchill and Chu 1975).
#[must_use]
pub fn nusselt_vertical_plate_laminar(rayleigh: f64, prandtl: f64) -> f64 {
    plate_laminar(rayleigh, by_prandtl(0.492, prandtl, 4.0 / 9.0))
}

/// Long horizontal cylinder, Ra ≤ 10¹² (Churchill and Chu 1975).
#[must_use]
pub fn nusselt_horizontal_cylinder(rayleigh: f64, prandtl: f64) -> f64 {
    cylinder(rayleigh, by_prandtl(0.559, prandtl, 8.0 / 27.0))
}

/// What the buoyant correlations are divided by: (1 + (least / Pr)^(9/16)) to a power.
fn by_prandtl(least: f64, prandtl: f64, power: f64) -> f64 {
    libm::pow(1.0 + libm::pow(least / prandtl, 9.0 / 16.0), power)
}

fn plate(rayleigh: f64, by_prandtl: f64) -> f64 {
    let root = 0.825 + 0.387 * libm::cbrt(libm::sqrt(rayleigh)) / by_prandtl;
    root * root
}

fn plate_laminar(rayleigh: f64, by_prandtl: f64) -> f64 {
    0.68 + 0.670 * libm::sqrt(libm::sqrt(rayleigh)) / by_prandtl
}

fn cylinder(rayleigh: f64, by_prandtl: f64) -> f64 {
    let root = 0.60 + 0.387 * libm::cbrt(libm::sqrt(rayleigh)) / by_prandtl;
    root * root
}

/// Horizontal plate, hot side up or cold side down (McAdams 1954): 10⁴–10⁷ laminar, to 10¹¹
/// turbulent.
#[must_use]
pub fn nusselt_plate_hot_side_up(rayleigh: f64) -> f64 {
    if rayleigh <= 1e7 { 0.54 * libm::pow(rayleigh, 0.25) } else { 0.15 * libm::cbrt(rayleigh) }
}

/// Horizontal plate, hot side down or cold side up (McAdams 1954), 10⁵–10¹⁰.
#[must_use]
pub fn nusselt_plate_hot_side_down(rayleigh: f64) -> f64 {
    0.27 * libm::pow(rayleigh, 0.25)
}

/// Flat plate along the flow: laminar 0.664 Re^½ Pr^⅓, past the transition the mixed layer
/// (0.037 Re^0.8 − 871) Pr^⅓ (Incropera, chapter 7).
#[must_use]
pub fn nusselt_along_plate(reynolds: f64, prandtl: f64) -> f64 {
    let by_prandtl = libm::cbrt(prandtl);
    if reynolds <= TRANSITION_REYNOLDS {
        0.664 * libm::sqrt(reynolds) * by_prandtl
    } else {
        (0.037 * libm::pow(reynolds, 0.8) - 871.0) * by_prandtl
    }
}

/// Cylinder across the flow, Re Pr ≥ 0.2 (Churchill and Bernstein 1977).
#[must_use]
pub fn nusselt_across_cylinder(reynolds: f64, prandtl: f64) -> f64 {
    let by_prandtl = libm::pow(1.0 + libm::pow(0.4 / prandtl, 2.0 / 3.0), 0.25);
    let rising = libm::pow(1.0 + libm::pow(reynolds / 282_000.0, 0.625), 0.8);
    0.3 + 0.62 * libm::sqrt(reynolds) * libm::cbrt(prandtl) / by_prandtl * rising
}

/// What a film is on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Body {
    /// Upright plate; its length is the height.
    VerticalPlate,
    /// Lying round; its length is the diameter.
    HorizontalCylinder,
}

/// A film of air on one surface.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Film {
    /// What it is on.
    pub body: Body,
    /// Characteristic length, m.
    pub length_m: f64,
    /// Speed of the air that a fan drives past; 0 without a fan, m/s.
    pub speed_m_per_s: f64,
}

impl Film {
    /// Coefficient by the correlations, W/(m² K). Symmetric in the sign of the difference.
    #[must_use]
    pub fn coefficient(&self, surface_c: f64, air_c: f64) -> f64 {
        let film_k = 0.5 * (surface_c + air_c) + super::ZERO_CELSIUS_K;
        let air = Air::at(film_k);
        let cube = self.length_m * self.length_m * self.length_m;
        let rayleigh = air.buoyancy_per_m3_k() * (surface_c - air_c).abs() * cube;
        let natural = nusselt_natural(self.body, rayleigh.max(RAYLEIGH_LEAST));
        let forced = self.nusselt_forced(&air);
        let together = libm::cbrt(natural * natural * natural + forced * forced * forced);
        together * air.conductivity_w_per_m_k / self.length_m
    }

    /// The same surface when the fan has stopped.
    #[must_use]
    pub fn still(&self) -> Self {
        Self { speed_m_per_s: 0.0, ..*self }
    }

    fn nusselt_forced(&self, air: &Air) -> f64 {
        if self.speed_m_per_s <= 0.0 {
            return 0.0;
        }
        let reynolds = self.speed_m_per_s * self.length_m / air.viscosity_m2_per_s;
        match self.body {
            Body::VerticalPlate => nusselt_along_plate(reynolds, air.prandtl),
            Body::HorizontalCylinder => nusselt_across_cylinder(reynolds, air.prandtl),
        }
    }

    /// Forced coefficient alone at a film temperature, W/(m² K).
    pub(super) fn forced_coefficient(&self, film_k: f64) -> f64 {
        let air = Air::at(film_k);
        self.nusselt_forced(&air) * air.conductivity_w_per_m_k / self.length_m
    }
}

/// Upright plates take the laminar form as far as it goes (the more accurate one there); past it
/// the form for any Ra, scaled to meet it.
fn nusselt_natural(body: Body, rayleigh: f64) -> f64 {
    /// For both forms of the plate and for the cylinder, at [`PRANDTL`].
    static DIVISORS: LazyLock<[f64; 3]> = LazyLock::new(|| {
        [(0.492, 4.0 / 9.0), (0.492, 8.0 / 27.0), (0.559, 8.0 / 27.0)]
            .map(|(least, power)| by_prandtl(least, PRANDTL, power))
    });
    let [laminar, any, across] = *DIVISORS;
    match body {
        Body::VerticalPlate if rayleigh <= LAMINAR_RAYLEIGH => plate_laminar(rayleigh, laminar),
        Body::VerticalPlate => {
            plate(rayleigh, any) * plate_laminar(LAMINAR_RAYLEIGH, laminar)
                / plate(LAMINAR_RAYLEIGH, any)
        }
        Body::HorizontalCylinder => cylinder(rayleigh, across),
    }
}

/// Nu(Ra) in linear bins, 32 an octave: the bin is read off the number's own bits.
#[derive(Debug)]
pub(super) struct NusseltTable {
    /// Value at the bin's start and slope by Ra.
    bins: [(f64, f64); OCTAVES * BINS],
}

impl NusseltTable {
    /// The table of one body.
    pub(super) fn of(body: Body) -> &'static Self {
        static PLATE: LazyLock<NusseltTable> =
            LazyLock::new(|| NusseltTable::new(Body::VerticalPlate));
        static CYLINDER: LazyLock<NusseltTable> =
            LazyLock::new(|| NusseltTable::new(Body::HorizontalCylinder));
        match body {
            Body::VerticalPlate => &PLATE,
            Body::HorizontalCylinder => &CYLINDER,
        }
    }

    fn new(body: Body) -> Self {
        let edge = |i: usize| {
            let octave = libm::exp2((i / BINS) as f64) * RAYLEIGH_LEAST;
            octave * (1.0 + (i % BINS) as f64 / BINS as f64)
        };
        let point = |i: usize| (edge(i), nusselt_natural(body, edge(i)));
        let mut next = point(0);
        let bins = core::array::from_fn(|i| {
            let here = core::mem::replace(&mut next, point(i + 1));
            (here.1, (next.1 - here.1) / (next.0 - here.0))
        });
        Self { bins }
    }

    /// Nu and dNu/dRa.
    #[inline]
    pub(super) fn at(&self, rayleigh: f64) -> (f64, f64) {
        const FIRST: u64 = RAYLEIGH_LEAST.to_bits() >> 47;
        // A not-a-number is not greater than the least either.
        let rayleigh = if rayleigh > RAYLEIGH_LEAST { rayleigh } else { RAYLEIGH_LEAST };
        let bits = rayleigh.to_bits() >> 47;
        let index = (bits - FIRST) as usize;
        match self.bins.get(index) {
            Some(&(start, slope)) => {
                (start + slope * (rayleigh - f64::from_bits(bits << 47)), slope)
            }
            None => (self.bins[self.bins.len() - 1].0, 0.0),
        }
    }
}

/// Coarsest spacing at which a forced coefficient is still straight, K.
const FORCED_STEP_K: f64 = 10.0;

/// A film prepared for the integrator: tables in place of powers.
#[derive(Debug)]
pub(super) struct FastFilm {
    nusselt: &'static NusseltTable,
    properties: &'static FilmTable,
    per_length: f64,
    cube_m3: f64,
    /// Cube of the forced coefficient by film temperature; empty without a fan.
    forced_cubes: Vec<f64>,
}

/// A coefficient and its slopes.
#[derive(Clone, Copy)]
pub(super) struct Coefficient {
    /// W/(m² K).
    pub value: f64,
    /// By the size of the difference, W/(m² K²).
    pub by_difference: f64,
    /// By film temperature, W/(m² K²).
    pub by_film: f64,
}

impl FastFilm {
    pub(super) fn new(film: &Film) -> Self {
        let mut forced_cubes = Vec::new();
        if film.speed_m_per_s > 0.0 {
            let count = ((super::air::HOTTEST_K - super::air::COLDEST_K) / FORCED_STEP_K) as usize;
            forced_cubes.extend((0..=count).map(|i| {
                let kelvin = super::air::COLDEST_K + i as f64 * FORCED_STEP_K;
                let coefficient = film.forced_coefficient(kelvin);
                coefficient * coefficient * coefficient
            }));
        }
        Self {
            nusselt: NusseltTable::of(film.body),
            properties: FilmTable::shared(),
            per_length: 1.0 / film.length_m,
            cube_m3: film.length_m * film.length_m * film.length_m,
            forced_cubes,
        }
    }

    /// Coefficient alone, for surface and air in K.
    #[inline]
    pub(super) fn value(&self, a_k: f64, b_k: f64) -> f64 {
        let film_k = 0.5 * (a_k + b_k);
        let row = self.properties.at(film_k);
        let (nusselt, _) = self.nusselt.at(row.buoyancy * (a_k - b_k).abs() * self.cube_m3);
        let natural = row.conductivity * nusselt * self.per_length;
        if self.forced_cubes.is_empty() {
            natural
        } else {
            cube_root(natural * natural * natural + self.forced_cube(film_k).0)
        }
    }

    /// Coefficient and slopes, for surface and air in K.
    #[inline]
    pub(super) fn with_slopes(&self, a_k: f64, b_k: f64) -> Coefficient {
        let film_k = 0.5 * (a_k + b_k);
        let row = self.properties.at(film_k);
        let size = (a_k - b_k).abs();
        let (nusselt, slope) = self.nusselt.at(row.buoyancy * size * self.cube_m3);
        let scaled = slope * self.cube_m3;
        let natural = Coefficient {
            value: row.conductivity * nusselt * self.per_length,
            by_difference: row.conductivity * scaled * row.buoyancy * self.per_length,
            by_film: (row.conductivity_slope * nusselt
                + row.conductivity * scaled * size * row.buoyancy_slope)
                * self.per_length,
        };
        if self.forced_cubes.is_empty() {
            return natural;
        }
        let (cube, cube_slope) = self.forced_cube(film_k);
        let square = natural.value * natural.value;
        let value = cube_root(natural.value * square + cube);
        let per = 1.0 / (value * value);
        Coefficient {
            value,
            by_difference: square * natural.by_difference * per,
            by_film: (square * natural.by_film + cube_slope / 3.0) * per,
        }
    }

    /// Cube of the forced coefficient and its slope; held outside the table.
    #[inline]
    fn forced_cube(&self, film_k: f64) -> (f64, f64) {
        let place = ((film_k - super::air::COLDEST_K) / FORCED_STEP_K).max(0.0);
        // The cast saturates; `max` has turned a not-a-number into 0.
        let index = place as i32;
        let at = index as usize;
        match (self.forced_cubes.get(at), self.forced_cubes.get(at.saturating_add(1))) {
            (Some(here), Some(next)) => {
                let rise = next - here;
                (here + rise * (place - f64::from(index)), rise / FORCED_STEP_K)
            }
            _ => (self.forced_cubes[self.forced_cubes.len() - 1], 0.0),
        }
    }
}

/// Cube root of a positive normal number, to two units in the last place, for a third of the time
/// of the library's correctly rounded one: a third of the exponent, then Halley's iteration, which
/// triples the digits each round. Not-a-number stays so.
#[inline]
fn cube_root(x: f64) -> f64 {
    /// The exponent's bias less a third of it, and what halves the worst error of the start.
    const THIRD_OF_BIAS: u64 = 0x2A9F_7893_782D_A1CE;
    let mut root = f64::from_bits(x.to_bits() / 3 + THIRD_OF_BIAS);
    for _ in 0..3 {
        let cube = root * root * root;
        root *= (cube + 2.0 * x) / (2.0 * cube + x);
    }
    root
}

#[cfg(test)]
mod tests {
    use super::*;

    fn close(value: f64, expected: f64) {
        assert!((value / expected - 1.0).abs() < 1e-6, "{value} against {expected}");
    }

    /// The `ht` library 1.2.0, functions of the same names (check values, section 5).
    #[test]
    fn correlations_agree_with_a_reference_library() {
        for (rayleigh, all, laminar) in [
            (1e4, 5.425_290_974, 5.814_258_525),
            (1e6, 16.530_367, 16.915_951),
            (1e9, 122.615_058, 91.981_462),
        ] {
            close(nusselt_vertical_plate(rayleigh, 0.7), all);
            close(nusselt_vertical_plate_laminar(rayleigh, 0.7), laminar);
        }
        for (rayleigh, value) in [(1e2, 1.667_730_61), (1e4, 4.366_387), (1e7, 28.201_381)] {
            close(nusselt_horizontal_cylinder(rayleigh, 0.7), value);
        }
        for (rayleigh, up, down) in
            [(1e5, 9.602_709, 4.801_354), (1e7, 30.366_43, 15.183_22), (1e9, 150.0, 48.013_54)]
        {
            close(nusselt_plate_hot_side_up(rayleigh), up);
            close(nusselt_plate_hot_side_down(rayleigh), down);
        }
        for (reynolds, value) in [(10.0, 1.829_147_9), (1e3, 15.929_612), (5e4, 136.706_641)] {
            close(nusselt_across_cylinder(reynolds, 0.7), value);
        }
        close(nusselt_along_plate(1e4, 0.7), 58.956_825_7);
    }

    /// Worked with CoolProp's properties and the form for any Ra (check values, section 5).
    #[test]
    fn films_agree_with_worked_examples() {
        for (length_m, surface_c, worked) in [(0.15, 60.0, 6.588_570), (0.45, 140.0, 2.787_843)] {
            let air = Air::at(0.5 * (surface_c + 149.0) + 273.15);
            let rayleigh =
                air.buoyancy_per_m3_k() * (149.0 - surface_c) * length_m * length_m * length_m;
            let value = nusselt_vertical_plate(rayleigh, air.prandtl) * air.conductivity_w_per_m_k
                / length_m;
            assert!((value / worked - 1.0).abs() < 2e-4, "{value} against {worked}");
            let film = Film { body: Body::VerticalPlate, length_m, speed_m_per_s: 0.0 };
            // The two forms are known to part by some percent at these Ra.
            let laminar = film.coefficient(surface_c, 149.0) / worked;
            assert!((0.9..1.0).contains(&laminar), "{laminar}");
        }
        let bar = Film { body: Body::HorizontalCylinder, length_m: 0.025, speed_m_per_s: 0.0 };
        let value = bar.coefficient(60.0, 149.0);
        assert!((value / 8.082_631 - 1.0).abs() < 1e-3, "{value}");
    }

    #[test]
    fn the_quick_cube_root_is_the_libraries() {
        for step in -4_000..4_000 {
            let x = libm::exp(f64::from(step) * 0.01);
            let ratio = cube_root(x) / libm::cbrt(x);
            assert!((ratio - 1.0).abs() < 5e-16, "{x}: {ratio}");
        }
        assert!(cube_root(f64::NAN).is_nan());
    }

    fn films() -> Vec<Film> {
        let mut films = Vec::new();
        for body in [Body::VerticalPlate, Body::HorizontalCylinder] {
            for speed_m_per_s in [0.0, 0.3, 2.0] {
                films.extend([0.01, 0.1, 0.5].map(|length_m| Film {
                    body,
                    length_m,
                    speed_m_per_s,
                }));
            }
        }
        films
    }

    #[test]
    fn the_fast_film_is_the_law() {
        for film in films() {
            let fast = FastFilm::new(&film);
            for (surface_c, air_c) in
                [(20.0, 149.0), (148.9, 149.0), (180.0, 40.0), (20.0, 20.0), (600.0, 150.0)]
            {
                let law = film.coefficient(surface_c, air_c);
                let value = fast.value(surface_c + 273.15, air_c + 273.15);
                assert!((value / law - 1.0).abs() < 2e-4, "{film:?} {surface_c} {air_c}");
            }
        }
    }

    #[test]
    fn slopes_of_the_fast_film_are_those_of_its_value() {
        for film in films() {
            let fast = FastFilm::new(&film);
            let (surface, air, step) = (352.43, 421.37, 1e-3);
            let slopes = fast.with_slopes(surface, air);
            let by_surface =
                (fast.value(surface + step, air) - fast.value(surface - step, air)) / (2.0 * step);
            // The surface is the colder: raising it lowers the difference.
            let expected = -slopes.by_difference + 0.5 * slopes.by_film;
            assert!((by_surface - expected).abs() < 1e-4 * slopes.value, "{film:?}");
        }
    }

    #[test]
    fn a_fan_never_lowers_a_film() {
        for film in films() {
            let still = film.still().coefficient(60.0, 149.0);
            assert!(film.coefficient(60.0, 149.0) >= still);
        }
    }

    #[test]
    fn hostile_numbers_stay_finite() {
        for film in films() {
            let fast = FastFilm::new(&film);
            let _ = fast.value(f64::NAN, 300.0);
            for (a, b) in [(0.0, 0.0), (9e9, 300.0), (-50.0, 1e30)] {
                let value = fast.value(a, b);
                assert!(value.is_finite() && value > 0.0, "{film:?} {a} {b}: {value}");
            }
        }
    }
}
