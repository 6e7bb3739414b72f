//! The sensors' check at two points: ice, and boiling water.
//!
//! It is the only thing that finds a thermocouple of a near type. For each bath somebody says what it
//! is; the board takes its own readings, uncorrected, and judges them: steady for half a minute, not
//! far off, both errors alike. Their mean, turned round, becomes the sensor's correction. A bath need
//! not be pure: what a reference thermometer beside the sensor shows is as good, near the two points.
//!
//! Bound: a tick adds a number for each sensor; a bath looks at thirty.

use crate::units::{Celsius, Kelvins, READING_STEPS_PER_KELVIN, Reading, TICKS_PER_SECOND};
use crate::wire::refusal::BathFault;

/// Air sensor, second air sensor, part probe.
pub const SENSORS: usize = 3;
/// Seconds a reading must have been steady.
const STEADY_S: usize = 30;
/// Largest difference of their means, K. GUESS: the guide asks for 0.2 K; a converter of 0.25 K whose
/// reading lies between two steps shows up to that besides.
const STEADY_K: f32 = 0.45;
/// Furthest a sound sensor is off in a bath, K: the standard tolerance of type K, class 2, is 2.5 K
/// (IEC 60584-1).
const OFF_MAX_K: f32 = 2.5;
/// The two errors of a sound sensor differ by less, K (the wiring guide, step 15).
const DIFFER_MAX_K: f32 = 1.5;
/// Ice, °C.
const ICE_C: core::ops::RangeInclusive<f32> = -0.5..=0.5;
/// Boiling water, °C, from 4,200 m to the Dead Sea.
const BOILING_C: core::ops::RangeInclusive<f32> = 85.0..=102.0;

/// What one sensor showed of late, without its correction.
#[derive(Clone, Copy, Debug)]
struct Course {
    /// Sum and count of this second's good readings.
    sum: f32,
    good: u8,
    /// Means of the last seconds, in no order; NaN where a transfer was bad.
    means: [f32; STEADY_S],
    /// Errors in ice and in boiling water.
    errors: [Option<Kelvins>; 2],
}

impl Course {
    const NEW: Self = Self { sum: 0.0, good: 0, means: [f32::NAN; STEADY_S], errors: [None; 2] };

    fn take(&mut self, value: Option<Celsius>) {
        if let Some(value) = value.filter(|value| value.is_physical()) {
            self.sum += value.0;
            self.good = self.good.saturating_add(1);
        }
    }

    /// A second is over; its mean takes the place of the oldest.
    fn end_second(&mut self, place: usize) {
        let whole = u32::from(self.good) == TICKS_PER_SECOND;
        if let Some(oldest) = self.means.get_mut(place) {
            *oldest = if whole { self.sum / TICKS_PER_SECOND as f32 } else { f32::NAN };
        }
        (self.sum, self.good) = (0.0, 0);
    }

    /// Mean of the last half minute, if it was steady.
    fn steady(&self) -> Option<Celsius> {
        let first = *self.means.first()?;
        let (mut low, mut high, mut sum) = (first, first, 0.0);
        for mean in self.means {
            if mean.is_nan() {
                return None;
            }
            low = mean.min(low);
            high = mean.max(high);
            sum += mean;
        }
        (high - low <= STEADY_K).then_some(Celsius(sum / STEADY_S as f32))
    }
}

/// How far the check has come.
#[derive(Clone, Copy, Debug)]
pub struct TwoPoints {
    courses: [Course; SENSORS],
    ticks: u8,
    second: u8,
}

impl Default for TwoPoints {
    fn default() -> Self {
        Self::new()
    }
}

impl TwoPoints {
    /// Nothing seen yet.
    #[must_use]
    pub const fn new() -> Self {
        Self { courses: [Course::NEW; SENSORS], ticks: 0, second: 0 }
    }

    /// Takes a tick's good readings, as the converters gave them.
    pub fn tick(&mut self, raw: impl Fn(usize) -> Option<Celsius>) {
        for (sensor, course) in self.courses.iter_mut().enumerate() {
            course.take(raw(sensor));
        }
        self.ticks = self.ticks.saturating_add(1);
        if u32::from(self.ticks) < TICKS_PER_SECOND {
            return;
        }
        self.ticks = 0;
        for course in &mut self.courses {
            course.end_second(usize::from(self.second));
        }
        self.second = self.second.saturating_add(1);
        if usize::from(self.second) >= STEADY_S {
            self.second = 0;
        }
    }

    /// A sensor is in a bath that is this. Once it has been through both, its correction in steps of
    /// 1/128 K.
    ///
    /// # Errors
    /// A bath that tells nothing of the sensor; see [`BathFault`].
    pub fn bath(&mut self, sensor: usize, is: Reading) -> Result<Option<i16>, BathFault> {
        let course = self.courses.get_mut(sensor).ok_or(BathFault::NotFitted)?;
        let is = is.to_celsius();
        let which = match is.0 {
            c if ICE_C.contains(&c) => 0,
            c if BOILING_C.contains(&c) => 1,
            _ => return Err(BathFault::NoBath),
        };
        let error = course.steady().ok_or(BathFault::Unsteady)? - is;
        if error.0.abs() > OFF_MAX_K {
            return Err(BathFault::TooFar);
        }
        if let Some(place) = course.errors.get_mut(which) {
            *place = Some(error);
        }
        let [Some(ice), Some(boiling)] = course.errors else { return Ok(None) };
        course.errors = [None; 2];
        if (ice - boiling).0.abs() >= DIFFER_MAX_K {
            return Err(BathFault::Differ);
        }
        let correction_k = -0.5 * (ice.0 + boiling.0);
        Ok(Some(libm::roundf(correction_k * READING_STEPS_PER_KELVIN) as i16))
    }

    /// The sensor has been through this one of the two, and waits for the other.
    #[must_use]
    pub fn waits_for(&self, sensor: usize) -> Option<Bath> {
        match self.courses.get(sensor)?.errors {
            [Some(_), _] => Some(Bath::Boiling),
            [None, Some(_)] => Some(Bath::Ice),
            [None, None] => None,
        }
    }

    /// Another sensor is fitted there: what was seen of the old one is nothing.
    pub fn forget(&mut self, sensor: usize) {
        if let Some(course) = self.courses.get_mut(sensor) {
            *course = Course::NEW;
        }
    }
}

/// One of the two.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Bath {
    /// Crushed ice in water.
    Ice,
    /// Boiling water.
    Boiling,
}

#[cfg(test)]
mod tests {
    use super::*;

    fn dip(check: &mut TwoPoints, seconds: u32, value: impl Fn(u32) -> f32) {
        for tick in 0..seconds * TICKS_PER_SECOND {
            let raw = [Some(value(tick)), None, Some(value(tick) + 1.0)];
            check.tick(|sensor| raw[sensor].map(Celsius));
        }
    }

    fn bath(check: &mut TwoPoints, is: f32) -> Result<Option<i16>, BathFault> {
        check.bath(0, Reading::from_celsius(Celsius(is)).unwrap())
    }

    #[test]
    fn two_baths_make_the_correction_that_brings_both_readings_right() {
        let mut check = TwoPoints::new();
        assert_eq!(check.waits_for(0), None);
        dip(&mut check, 31, |_| 1.25);
        assert_eq!(bath(&mut check, 0.0), Ok(None));
        assert_eq!(check.waits_for(0), Some(Bath::Boiling));
        dip(&mut check, 31, |_| 98.5 + 0.75);
        assert_eq!(bath(&mut check, 98.5), Ok(Some(-128)));
        assert_eq!(check.waits_for(0), None);
    }

    #[test]
    fn several_sensors_go_through_a_bath_together_and_either_bath_is_the_first() {
        let mut check = TwoPoints::new();
        let boiling = Reading::from_celsius(Celsius(99.0)).unwrap();
        dip(&mut check, 31, |_| 99.5);
        assert_eq!((check.bath(0, boiling), check.bath(2, boiling)), (Ok(None), Ok(None)));
        assert_eq!(check.waits_for(2), Some(Bath::Ice));
        dip(&mut check, 31, |_| 0.5);
        assert_eq!(check.bath(0, Reading(0)), Ok(Some(-64)));
        assert_eq!(check.bath(2, Reading(0)), Ok(Some(-192)));
        assert_eq!(check.bath(1, Reading(0)), Err(BathFault::Unsteady), "nothing was read there");
    }

    #[test]
    fn baths_of_another_type_of_thermocouple_are_told_apart() {
        // K wire read as T shows 96.1 °C in water at 100 °C and is right in ice (NIST Monograph 175).
        let mut check = TwoPoints::new();
        dip(&mut check, 31, |_| 0.1);
        assert_eq!(bath(&mut check, 0.0), Ok(None));
        dip(&mut check, 31, |_| 96.1);
        assert_eq!(bath(&mut check, 100.0), Err(BathFault::TooFar));
        dip(&mut check, 31, |_| 97.6);
        assert_eq!(bath(&mut check, 99.5), Err(BathFault::Differ));
        dip(&mut check, 31, |_| 99.5);
        assert_eq!(bath(&mut check, 99.5), Ok(None), "both have to be taken again");
    }

    #[test]
    fn what_is_no_bath_or_not_steady_is_refused() {
        let mut check = TwoPoints::new();
        dip(&mut check, 29, |_| 0.0);
        assert_eq!(bath(&mut check, 0.0), Err(BathFault::Unsteady));
        dip(&mut check, 40, |tick| tick as f32 / 500.0);
        assert_eq!(bath(&mut check, 0.0), Err(BathFault::Unsteady));
        dip(&mut check, 31, |tick| if tick == 100 { f32::NAN } else { 0.0 });
        assert_eq!(bath(&mut check, 0.0), Err(BathFault::Unsteady));
        for no_bath in [20.0, -5.0, 84.0, 120.0] {
            assert_eq!(bath(&mut check, no_bath), Err(BathFault::NoBath));
        }
        assert_eq!(check.bath(3, Reading(0)), Err(BathFault::NotFitted));
        dip(&mut check, 31, |_| 0.0);
        check.forget(0);
        assert_eq!(bath(&mut check, 0.0), Err(BathFault::Unsteady), "another one is fitted");
    }
}
