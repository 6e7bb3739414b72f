//! How long it takes: for parts to cool once heat ends, and for the slowest of them to follow.
//!
//! Estimates on the slow side of the spread, in closed form. They decide when heat has to end and
//! when thin parts need wait no longer; what counts is what the bounds then show, never these.

use super::load::Load;
use super::model::{CELLS_MAX, INSULATION_CELLS, Model, Point};
use super::track::emissivity;
use super::{Bounds, laws};
use crate::units::Celsius;

/// Difference to its surroundings a part that is nearly there is judged at, K.
const NEARLY_K: f32 = 10.0;
/// Rounds that find the end of a fall; the last one moves it by less than a second.
const ROUNDS: usize = 6;

impl Bounds {
    /// Seconds until one class falls below `to` if heat ended now: from its hottest bound, in an oven
    /// that cools from its hottest liner as slowly as the spread allows.
    #[must_use]
    pub fn cooling_s(&self, model: &Model, class: usize, to: Celsius) -> f32 {
        let Some((_, hottest)) = self.class(class) else { return 0.0 };
        self.fall(model, class, to, hottest, Celsius(self.upper.liner.celsius())).takes_s()
    }

    /// The same for a class and an oven that will both have come to `from`.
    #[must_use]
    pub fn cooling_from_s(&self, model: &Model, class: usize, from: Celsius, to: Celsius) -> f32 {
        self.fall(model, class, to, from, from).takes_s()
    }

    fn fall(
        &self,
        model: &Model,
        class: usize,
        to: Celsius,
        hottest: Celsius,
        liner: Celsius,
    ) -> Fall {
        let lag_s = |point: &Point| lag_s(point, model, self.load, to);
        let of = model.classes.get(class);
        let above_room_k = |at: Celsius| (at - model.ambient).0;
        Fall {
            // A part colder than the oven first goes on towards it.
            part_k: above_room_k(hottest.max(liner)),
            oven_k: above_room_k(liner),
            to_k: above_room_k(to),
            part_s: of.map_or(0.0, |class| lag_s(&class.slow).max(lag_s(&class.fast))),
            oven_s: self.oven_s(model),
        }
    }

    /// Longest lag a part of one class can have near `at`, its core's, s.
    #[must_use]
    pub fn slowest_s(&self, model: &Model, class: usize, at: Celsius) -> f32 {
        model.classes.get(class).map_or(0.0, |class| lag_s(&class.slow, model, self.load, at))
    }

    /// Longest time constant of the closed oven with its load, cooling by itself, s.
    ///
    /// The temperature falls along the insulation as in steady loss, so each of its cells holds the
    /// share of its heat that its place leaves it.
    fn oven_s(&self, model: &Model) -> f32 {
        let cabinet = &model.cabinet;
        let losses = cabinet.losses.low;
        let resistances = cabinet.insulation_w_per_k.map(|w_per_k| 1.0 / (losses * w_per_k));
        let whole = resistances.iter().sum::<f32>() + 1.0 / cabinet.skin_w_per_k;
        let mut passed = 0.0;
        let mut walls_j_per_k = cabinet.liner_j_per_k;
        for (resistance, cell) in resistances.iter().zip(0..=INSULATION_CELLS) {
            passed += resistance;
            let holds = if cell < INSULATION_CELLS {
                cabinet.insulation_j_per_k
            } else {
                cabinet.skin_j_per_k
            };
            walls_j_per_k += holds * (1.0 - passed / whole);
        }
        let mut load_j_per_k = 0.0;
        self.upper.each_point(model, self.load, |placed| {
            load_j_per_k += placed.point.capacity_j_per_k;
        });
        let element_j_per_k = model.element.capacity_j_per_k;
        let held = cabinet.capacity.high * walls_j_per_k + load_j_per_k + element_j_per_k;
        held / (1.0 / whole + losses * model.air.leak_w_per_k)
    }
}

/// A part that follows its oven down from no less than the oven's own temperature; temperatures
/// above the room.
#[derive(Clone, Copy, Debug)]
struct Fall {
    part_k: f32,
    oven_k: f32,
    to_k: f32,
    part_s: f32,
    oven_s: f32,
}

impl Fall {
    /// Seconds it takes: the part is then `slow·e^(-t/oven) + quick·e^(-t/part)` above the room.
    ///
    /// WHY: with both terms positive that has a convex logarithm, along which Newton's method comes
    /// up from 0; else a concave one, along which it comes down from beyond the end.
    fn takes_s(&self) -> f32 {
        if self.part_k <= self.to_k {
            return 0.0;
        }
        let oven_s = self.oven_s;
        // The two exponentials merge where both times are equal; 2 % apart the fall is the same.
        let is_equal = libm::fabsf(oven_s - self.part_s) < 0.02 * oven_s;
        let part_s = if is_equal { 1.02 * oven_s } else { self.part_s };
        let slow_k = self.oven_k * oven_s / (oven_s - part_s);
        let quick_k = self.part_k - slow_k;
        let wanted = libm::logf(self.to_k);
        let is_convex = slow_k > 0.0 && quick_k > 0.0;
        let beyond_s = part_s + oven_s.max(part_s) * (libm::logf(self.part_k) - wanted);
        let mut takes_s = if is_convex { 0.0 } else { beyond_s };
        for _ in 0..ROUNDS {
            let slow_k = slow_k * libm::expf(-takes_s / oven_s);
            let quick_k = quick_k * libm::expf(-takes_s / part_s);
            let now_k = slow_k + quick_k;
            let falls = (slow_k / oven_s + quick_k / part_s) / now_k;
            takes_s += (libm::logf(now_k) - wanted) / falls;
        }
        // A not-a-number is no time that has been found.
        if takes_s > 0.0 { takes_s } else { f32::INFINITY }
    }
}

/// Greatest mean delay of a point's core behind its surroundings (Elmore 1948), s: each cell's
/// capacity times the resistance its heat shares with the core's.
fn lag_s(point: &Point, model: &Model, load: Load, at: Celsius) -> f32 {
    let warmth = model.air.warmth(at.0);
    let film = point.film.law.low * laws::coefficient(&point.film, warmth, NEARLY_K);
    let radiated = emissivity(point, load) * laws::radiation_slope(at.0, at.0);
    let around_w_per_k = model.exchange.low * point.area_m2 * (film + radiated);
    let cells = usize::from(point.cells).clamp(1, CELLS_MAX);
    if cells == 1 {
        return point.capacity_j_per_k / around_w_per_k;
    }
    let mut resistance = 1.0 / around_w_per_k;
    let mut delay_s = 0.0;
    for (cell, share) in point.cell_share.iter().take(cells).enumerate() {
        delay_s += share * point.capacity_j_per_k * resistance;
        resistance += point.conduction_w_per_k.get(cell).map_or(0.0, |link| 1.0 / link);
    }
    delay_s
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The same fall in steps of a tenth of a second.
    fn marched_s(fall: &Fall) -> f32 {
        let (dt, mut now_s) = (0.1_f64, 0.0_f64);
        let (mut oven, mut part) = (f64::from(fall.oven_k), f64::from(fall.part_k));
        while part > f64::from(fall.to_k) {
            part += dt * (oven - part) / f64::from(fall.part_s);
            oven -= dt * oven / f64::from(fall.oven_s);
            now_s += dt;
        }
        now_s as f32
    }

    #[test]
    fn a_part_falls_in_the_time_that_is_told() {
        for oven_s in [1_500.0, 4_000.0, 12_000.0] {
            for part_s in [60.0, 600.0, 1_510.0, 3_000.0, 9_000.0] {
                for oven_k in [70.0, 115.0, 135.0, 145.0] {
                    for to_k in [75.0, 110.0, 140.0] {
                        let fall = Fall { part_k: 145.0, oven_k, to_k, part_s, oven_s };
                        let (told, truth) = (fall.takes_s(), marched_s(&fall));
                        let off_s = (told - truth).abs();
                        assert!(off_s < 2.0 + 0.01 * truth, "{fall:?}: {told} s, truly {truth} s");
                    }
                }
            }
        }
    }

    #[test]
    fn what_is_cold_enough_takes_no_time_and_what_is_unknown_for_ever() {
        let fall =
            Fall { part_k: 110.0, oven_k: 110.0, to_k: 110.0, part_s: 600.0, oven_s: 4_000.0 };
        assert!(fall.takes_s() <= 0.0);
        assert!(Fall { to_k: f32::NAN, ..fall }.takes_s().is_infinite());
        assert!(Fall { oven_s: f32::NAN, to_k: 90.0, ..fall }.takes_s().is_infinite());
    }
}
