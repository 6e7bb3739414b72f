//! What a reading says about the air, given the liner: the sensor equation turned round.
//!
//! A sensor with lag `τ` that sees a share `w` of the wall obeys `τ·s' = (1-w)·Ta + w·Tw - s`, so
//! `Ta = a + w/(1-w)·(a - Tw)` with `a = s + τ·s'`. This is put into every row *before* the worst
//! corner is taken (Müller 1927: differential inequalities): a liner temperature always travels
//! with the air it implies. Separate intervals for the two lose several kelvins.

use super::laws;
use super::model::{Air, DOORWAY_VIEW_MAX, Sensor, Warmth};
use super::side::Side;
use crate::units::{STEFAN_BOLTZMANN, Span, ZERO_CELSIUS_K};

/// An air temperature and the liner temperature it belongs to, °C.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Pair {
    /// Air at the sensor.
    pub(super) air: f32,
    /// Liner.
    pub(super) liner: f32,
    /// What that air makes of films.
    pub(super) warmth: Warmth,
}

/// The liner's interval.
#[derive(Clone, Copy, Debug)]
pub(super) struct Liner {
    /// Of the track that asks, °C.
    pub(super) own: f32,
    /// Of the opposite track, °C.
    pub(super) other: f32,
}

/// The air that what is read leaves possible.
#[derive(Clone, Copy, Debug)]
pub(super) struct Sight {
    liner: Liner,
    /// Air by the own liner and by the other, °C.
    airs_c: [f32; 2],
    /// Greatest w/(1-w): kelvins the air gives way for a kelvin of liner.
    ratio: f32,
}

/// Air and liner as one side sees them for one second.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Seen {
    /// With the side's own liner.
    pub(super) own: Pair,
    /// With the opposite side's liner.
    pub(super) other: Pair,
    /// [`Sight::ratio`].
    ratio: f32,
    /// 5/4 of that times the fourth root of how far the air gives way over the liner's interval, K^(1/4).
    steepened: f32,
    /// 4·σ·T³ at the coldest liner, W/(m² K), by as much less as a film may be steeper.
    liner_slope: f32,
    /// How far radiation from the liner may sag below its chord over the interval, W/m².
    pub(super) radiation_sag: f32,
    /// The same for `|x|^(5/4)` of the air, K^(5/4).
    film_sag: f32,
    /// Most a black surface misses for seeing the room where the liner would be, W/m².
    pub(super) to_room: f32,
}

/// Greatest sag of x·|x|^(1/4) below its chord, over any interval of length 1 (found numerically,
/// 0.094; scales with the 5/4th power of the length), and what the air's warmth bends it by.
const FILM_SAG: f32 = 0.11;

/// `s + τ·s'` at this side: the reading less everything constant it may be wrong by.
pub(super) fn unlagged(
    side: Side,
    sensor: &Sensor,
    reading_c: f32,
    slope_k_per_s: f32,
    widened: bool,
) -> f32 {
    let steps = if widened { 1.5 } else { 0.5 };
    reading_c
        + side.sign() * (sensor.offset_k + steps * sensor.resolution_k)
        + side.worst(sensor.lag_s, slope_k_per_s)
}

/// w/(1-w) over the span of the wall view.
pub(super) fn view_ratio(sensor: &Sensor) -> Span {
    let ratio = |view: f32| {
        let view = view.clamp(0.0, 0.9);
        view / (1.0 - view)
    };
    Span { low: ratio(sensor.wall_view.low), high: ratio(sensor.wall_view.high) }
}

/// True air at the sensor for this `unlagged` value and this liner.
pub(super) fn air(side: Side, ratio: Span, unlagged_c: f32, liner_c: f32) -> f32 {
    unlagged_c + side.worst(ratio, unlagged_c - liner_c)
}

impl Sight {
    /// Through a sensor. The air is nowhere colder than `floor_c`.
    pub(super) fn through_sensor(
        side: Side,
        ratio: Span,
        unlagged_c: f32,
        liner: Liner,
        floor_c: f32,
    ) -> Self {
        let own = air(side, ratio, unlagged_c, liner.own);
        let other = air(side, ratio, unlagged_c, liner.other);
        // WHY: where only the lower side's other pair is under the floor, raising it too would
        // make a valley between the two ends that neither end sees; unraised it only loses.
        let other = if side == Side::Lower && own > floor_c { other } else { other.max(floor_c) };
        Self { liner, airs_c: [own.max(floor_c), other], ratio: ratio.high }
    }

    /// Without a usable reading: the air the model itself predicts for this side.
    pub(super) fn from_model(air_c: f32, liner: Liner) -> Self {
        Self { liner, airs_c: [air_c; 2], ratio: 0.0 }
    }

    /// What one of two sensors leaves possible, whichever it is: the colder air for the lower
    /// side, the hotter for the upper. Each sensor's worst row lies at an end of its own, so the
    /// worse of both ends is no better than either.
    pub(super) fn or(self, side: Side, second: Self) -> Self {
        let ([own, other], [own_b, other_b]) = (self.airs_c, second.airs_c);
        Self {
            airs_c: [side.further(own, own_b), side.further(other, other_b)],
            ratio: self.ratio.max(second.ratio),
            ..self
        }
    }
}

impl Seen {
    /// What it makes of films and radiation.
    pub(super) fn of(sight: Sight, cabinet_air: &Air) -> Self {
        let Sight { liner, airs_c: [own, other], ratio } = sight;
        let pair = |air: f32, liner: f32| Pair { air, liner, warmth: cabinet_air.warmth(air) };
        let width = libm::fabsf(liner.own - liner.other);
        let reach = ratio * width;
        let reach_root = laws::fourth_root(reach);
        let coldest = liner.own.min(liner.other) + ZERO_CELSIUS_K;
        let hottest = liner.own.max(liner.other) + ZERO_CELSIUS_K;
        Self {
            own: pair(own, liner.own),
            other: pair(other, liner.other),
            ratio,
            steepened: 1.25 * ratio * reach_root,
            liner_slope: 4.0 / laws::STEEPER * STEFAN_BOLTZMANN * coldest * coldest * coldest,
            // A chord of a convex function of curvature ≤ m sags at most m/8·width²; 12·σ·T².
            radiation_sag: 1.5 * STEFAN_BOLTZMANN * hottest * hottest * width * width,
            film_sag: FILM_SAG * reach * reach_root,
            to_room: 0.0,
        }
    }

    /// Through an open door, which may hide as much of the hotter liner as it can.
    pub(super) fn past_open_door(self, room_c: f32) -> Self {
        let hottest = self.own.liner.max(self.other.liner);
        let to_room = DOORWAY_VIEW_MAX * laws::radiation(hottest, room_c);
        Self { to_room: to_room.max(0.0), ..self }
    }

    /// True where a hotter liner heats a point for certain, although it makes the air colder: then
    /// the own pair is the worst and nothing else needs trying. `slope` is the film's at the own
    /// pair, `quarter` its fourth-root part, both with their greatest factor.
    pub(super) fn liner_rules(&self, emissivity: f32, slope: f32, quarter: f32) -> bool {
        emissivity * self.liner_slope >= self.ratio * slope + self.steepened * quarter
    }

    /// What the flux between the two pairs may lie beyond both ends, W/m², signed for this side.
    pub(super) fn allowance(&self, side: Side, emissivity: f32, quarter: f32) -> f32 {
        let film = quarter * self.film_sag;
        match side {
            Side::Lower => -(film + emissivity * self.radiation_sag),
            Side::Nominal => 0.0,
            // Radiation sags only downwards; x^(5/4) bulges as much below 0 as it sags above.
            Side::Upper => film,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_chord_of_the_five_quarter_power_sags_more_than_allowed() {
        let power = |x: f32| x * laws::fourth_root(x);
        for start in -100..100 {
            let (a, b) = (start as f32 / 50.0, start as f32 / 50.0 + 1.0);
            for step in 0..=200 {
                let share = step as f32 / 200.0;
                let chord = power(a) * (1.0 - share) + power(b) * share;
                let off = power(a + share * (b - a)) - chord;
                assert!(off.abs() < FILM_SAG, "{a} {share} {off}");
            }
        }
    }

    #[test]
    fn an_open_door_hides_half_of_the_hotter_liner() {
        // σ·(423.15⁴ - 293.15⁴) = 1,399.21 W/m², by hand.
        let liner = Liner { own: 130.0, other: 150.0 };
        let seen = Seen::of(Sight::from_model(140.0, liner), &Air::by_hand());
        assert!(seen.to_room.abs() < 1e-6);
        let found = seen.past_open_door(20.0).to_room;
        assert!((found - 699.61).abs() < 0.1, "{found}");
        assert!(seen.past_open_door(160.0).to_room.abs() < 1e-6, "a room takes, it does not give");
    }

    #[test]
    fn a_sensor_that_lags_and_sees_the_wall_is_turned_round() {
        // Air 150 °C, liner 100 °C, a tenth of it seen, settled.
        let sensor = Sensor {
            lag_s: Span::exactly(12.0),
            wall_view: Span::exactly(0.1),
            offset_k: 0.0,
            resolution_k: 0.0,
            noise_k: 0.0,
        };
        let reading = 0.9 * 150.0 + 0.1 * 100.0 - 12.0 * 0.5;
        let unlagged = unlagged(Side::Lower, &sensor, reading, 0.5, false);
        let found = air(Side::Lower, view_ratio(&sensor), unlagged, 100.0);
        assert!((found - 150.0).abs() < 1e-3, "{found}");
    }
}
