//! Where parts would settle at a reading, with liner and element as they are.
//!
//! The least and the greatest equilibrium of any point inside: the controller's lower deficit is
//! reading less least, its upper surplus greatest less reading. Found for one point of one side at a
//! time, because all of them are more than a tick of a small processor has time for. The bounds move
//! on meanwhile, by little: this steers, it never counts.

use super::Bounds;
use super::laws;
use super::model::{CLASSES_MAX, Class, Model, Point};
use super::seen::{self, Seen, Sight};
use super::side::Side;
use super::track::{Drive, emissivity, spots};
use crate::units::Celsius;

/// Rounds of the weighted mean that finds an equilibrium. Film coefficients go with the fourth root
/// of the difference, so each round leaves less than a quarter of the error.
const ROUNDS: usize = 4;
/// Places of a class: its slow and its fast point, on both sides.
const PLACES_OF_CLASS: u8 = 4;
/// Places of a survey.
const PLACES: u8 = PLACES_OF_CLASS * CLASSES_MAX as u8;

/// A search for the equilibria at one reading.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Survey {
    /// The reading.
    pub held: Celsius,
    next: u8,
    least_c: f32,
    greatest_c: f32,
}

impl Survey {
    /// A search that has found nothing yet.
    #[must_use]
    pub fn at(held: Celsius) -> Self {
        Self { held, next: 0, least_c: f32::INFINITY, greatest_c: f32::NEG_INFINITY }
    }

    /// Looks at one more point of one side; nothing is left to look at afterwards: true.
    pub fn look(&mut self, bounds: &Bounds, model: &Model) -> bool {
        let class_of = |place: u8| usize::from(place / PLACES_OF_CLASS);
        while self.next < PLACES && bounds.class(class_of(self.next)).is_none() {
            self.next += PLACES_OF_CLASS;
        }
        let (side, worst_c) = if self.next & 2 == 0 {
            (Side::Lower, &mut self.least_c)
        } else {
            (Side::Upper, &mut self.greatest_c)
        };
        if let Some(class) = model.classes.get(class_of(self.next)) {
            let is_fast = self.next & 1 == 1;
            *worst_c =
                side.further(*worst_c, bounds.settled(side, model, self.held, class, is_fast));
        }
        self.next += 1;
        self.next >= PLACES
    }

    /// Least and greatest, once everything was looked at; `None` with nothing inside.
    #[must_use]
    pub fn found(&self) -> Option<(Celsius, Celsius)> {
        let is_any = self.least_c <= self.greatest_c;
        is_any.then_some((Celsius(self.least_c), Celsius(self.greatest_c)))
    }
}

impl Bounds {
    /// Where one point of a class settles.
    fn settled(
        &self,
        side: Side,
        model: &Model,
        reading: Celsius,
        class: &Class,
        is_fast: bool,
    ) -> f32 {
        let track = self.track(side);
        let liner = self.liner(track);
        let unlagged = seen::unlagged(side, &model.sensor, reading.0, 0.0, false);
        let sight =
            Sight::through_sensor(side, self.view_ratio, unlagged, liner, self.floor(model));
        let sight = self.or_second_steady(sight, track, model, reading.0);
        let seen = Seen::of(sight, &model.air);
        let (fan, load) = (self.fan(model, None), self.load);
        let drive = Drive { model, seen, duty: 0.0, door_open: false, fan, load };
        let (slow_spot, fast_spot) = spots(side, model);
        let (point, spot_k) =
            if is_fast { (&class.fast, fast_spot) } else { (&class.slow, slow_spot) };
        let [own, other] = settles(side, &drive, point, spot_k, track.element.celsius());
        side.further(own, other)
    }
}

/// Temperatures at which a point takes no more heat, with the own and with the other liner: means
/// of air, liner and element weighted by their conductances, found in a few rounds.
fn settles(side: Side, drive: &Drive<'_>, point: &Point, spot_k: f32, element_c: f32) -> [f32; 2] {
    let emissivity = emissivity(point, drive.load);
    let pairs = [drive.seen.own, drive.seen.other];
    let airs = pairs.map(|pair| pair.air + spot_k);
    let mut settled = [0.5 * (airs[0] + pairs[0].liner), 0.5 * (airs[1] + pairs[1].liner)];
    for _ in 0..ROUNDS {
        // Both in one round: a processor that can do so works on the two side by side.
        for ((settled, pair), air) in settled.iter_mut().zip(&pairs).zip(&airs) {
            let difference_k = air - *settled;
            let factor = laws::film_factor(side, point.film.law, drive.fan, difference_k);
            let coefficient = laws::coefficient(&point.film, pair.warmth, difference_k);
            let film = factor * coefficient * point.area_m2;
            let liner = emissivity * point.area_m2 * laws::radiation_slope(pair.liner, *settled);
            let element = if point.element_m2 > 0.0 {
                point.element_m2 * laws::radiation_slope(element_c, *settled)
            } else {
                0.0
            };
            let sum = film + liner + element;
            if sum > 0.0 {
                *settled = (film * air + liner * pair.liner + element * element_c) / sum;
            }
        }
    }
    settled
}
