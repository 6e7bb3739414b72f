//! The second air sensor: the bounds hold whichever of the two is right.
//!
//! Each second the lower side takes the colder of the two airs the sensors imply, the upper side
//! the hotter. Either sensor alone would bound the parts as the first does where it hangs alone; a
//! side that is no better than both is right as long as one of them is. A sensor with nothing
//! usable in a second is stood in for by the air the model itself predicts, as the first is. The
//! nominal copy, which steers, follows the first sensor only.
//!
//! Both are compared where they stand in the row `sensor-moved` of the guard; nothing here decides
//! which of them is wrong.

use super::govern::MEAN_AGE_S;
use super::model::{CLASSES_MAX, Model, Sensor};
use super::seen::{self, Sight};
use super::side::Side;
use super::track::Track;
use super::{Bounds, Second};
use crate::units::{Celsius, Reading, Span};

/// What is kept of the second sensor from one second to the next.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct SecondSensor {
    pub(super) previous: Option<Reading>,
    view_ratio: Span,
    /// As [`Bounds::late_k`], of this sensor.
    pub(super) late_k: [f32; CLASSES_MAX],
}

impl SecondSensor {
    /// As fitted; it has read nothing yet.
    pub(super) fn of(sensor: &Sensor) -> Self {
        Self { previous: None, view_ratio: seen::view_ratio(sensor), late_k: [0.0; CLASSES_MAX] }
    }

    /// This second's reading and its change since the last.
    fn slope(&self, second: &Second) -> Option<(f32, f32)> {
        super::parts::slope(second.reading_b, self.previous)
    }
}

impl Bounds {
    /// What the first sensor shows, or else the second.
    pub(super) fn or_second(
        &self,
        first: Sight,
        track: &Track,
        model: &Model,
        second: &Second,
    ) -> Sight {
        let (Some(sensor), Some(kept)) = (&model.sensor_b, &self.second_sensor) else {
            return first;
        };
        let (side, liner) = (track.side, self.liner(track));
        let by_second = match kept.slope(second) {
            Some((reading_c, slope)) => {
                let unlagged = seen::unlagged(side, sensor, reading_c, slope, false);
                let floor_c = self.floor(model);
                Sight::through_sensor(side, kept.view_ratio, unlagged, liner, floor_c)
            }
            None => Sight::from_model(track.air.celsius(), liner),
        };
        first.or(side, by_second)
    }

    /// The same for a steady reading of the first sensor, from which the second then stays as far
    /// as it is now.
    pub(super) fn or_second_steady(
        &self,
        first: Sight,
        track: &Track,
        model: &Model,
        reading_c: f32,
    ) -> Sight {
        let (Some(sensor), Some(kept)) = (&model.sensor_b, &self.second_sensor) else {
            return first;
        };
        let (Some(now), Some(now_b)) = (self.previous, kept.previous) else { return first };
        let apart_k = (now_b.to_celsius() - now.to_celsius()).0;
        let (side, liner) = (track.side, self.liner(track));
        let unlagged = seen::unlagged(side, sensor, reading_c + apart_k, 0.0, false);
        let floor_c = self.floor(model);
        first.or(side, Sight::through_sensor(side, kept.view_ratio, unlagged, liner, floor_c))
    }

    /// [`Bounds::upper_air_now`] by the second sensor; `None` where none is fitted.
    #[must_use]
    pub fn upper_air_now_b(
        &self,
        model: &Model,
        reading: Celsius,
        slope_k_per_s: f32,
    ) -> Option<Celsius> {
        let (sensor, kept) = (model.sensor_b.as_ref()?, self.second_sensor.as_ref()?);
        let unlagged = seen::unlagged(Side::Upper, sensor, reading.0, slope_k_per_s, false);
        let coldest_liner = self.coldest_liner();
        Some(Celsius(seen::air(Side::Upper, kept.view_ratio, unlagged, coldest_liner)))
    }

    /// Upper air of a second by the second sensor, where it was read.
    pub(super) fn seen_upper_air_b(&self, model: &Model, second: &Second) -> Option<Celsius> {
        let (reading_c, slope) = self.second_sensor.as_ref()?.slope(second)?;
        self.upper_air_now_b(model, Celsius(reading_c), slope)
    }

    /// Takes what the age of this sensor's mean may hide beyond that of the first.
    pub(super) fn look_by_second(&mut self) {
        let Some(kept) = &self.second_sensor else { return };
        let late = self.late_k.iter().zip(&kept.late_k);
        for ((first_k, second_k), (coldest, hottest)) in late.zip(&mut self.ranges) {
            coldest.0 += (second_k - first_k.min(0.0)).min(0.0);
            hottest.0 += (second_k - first_k.max(0.0)).max(0.0);
        }
    }

    /// What the age of means may hide of a class's coldest, K; 0 or less.
    pub(super) fn late_below_k(&self, class: usize) -> f32 {
        let of =
            |late_k: &[f32; CLASSES_MAX]| late_k.get(class).map_or(0.0, |late_k| late_k.min(0.0));
        self.second_sensor.as_ref().map_or(0.0, |kept| of(&kept.late_k)).min(of(&self.late_k))
    }

    /// The same either way, K; 0 or more.
    pub(super) fn late_most_k(&self, class: usize) -> f32 {
        let of = |late_k: &[f32; CLASSES_MAX]| late_k.get(class).map_or(0.0, |late_k| late_k.abs());
        self.second_sensor.as_ref().map_or(0.0, |kept| of(&kept.late_k)).max(of(&self.late_k))
    }

    /// Follows the second sensor through a second.
    pub(super) fn follow_second_sensor(&mut self, model: &Model, second: &Second) {
        let (Some(sensor), Some(kept)) = (&model.sensor_b, &mut self.second_sensor) else { return };
        if let Some((_, slope)) = kept.slope(second) {
            let hidden_k_s = MEAN_AGE_S * sensor.lag_s.high * slope;
            kept.late_k = self.quickest_s.map(|quickest_s| hidden_k_s / quickest_s);
        }
        kept.previous = second.reading_b;
    }
}
