//! Commissioning: who may change the settings, and the sensors' check at two points.
//!
//! GO held while the board is switched on, and released within 20 s, opens it until the board is
//! switched off; a reset by the watchdog or an interrupted bake does not. A GO that stays closed for
//! longer is stuck.
//!
//! Ice and boiling water are the only thing that finds a thermocouple of a near type. For each the
//! computer says what the bath is; the board takes its own readings, uncorrected, and judges them:
//! steady for half a minute, not far off, both errors alike. Their mean, turned round, becomes the
//! sensor's correction.

use super::sensors::{Read, SENSORS};
use super::settings::Commissioned;
use truesoak_core::io::Transfer;
use truesoak_core::units::{
    Celsius, Kelvins, READING_STEPS_PER_KELVIN, Reading, TICKS_PER_SECOND, Tick,
};
use truesoak_core::wire::refusal::BathFault;

/// GO held at boot must be released within this, or it is stuck.
pub(super) const RELEASE_TICKS: u32 = 20 * TICKS_PER_SECOND;
/// Seconds a reading must have been steady.
const STEADY_S: usize = 30;
/// Largest difference of their means, K. GUESS: the guide asks for 0.2 K; a converter of 0.25 K whose
/// reading lies between two steps shows up to that besides.
const STEADY_K: f32 = 0.45;
/// Furthest a sound sensor is off in a bath, K: the standard tolerance of type K, class 2, is 2.5 K
/// (IEC 60584-1).
const OFF_MAX_K: f32 = 2.5;
/// The two errors of a sound sensor differ by less, K (the wiring guide, step 18).
const DIFFER_MAX_K: f32 = 1.5;
/// Ice, °C.
const ICE_C: core::ops::RangeInclusive<f32> = -0.5..=0.5;
/// Boiling water, °C, from 4,200 m to the Dead Sea.
const BOILING_C: core::ops::RangeInclusive<f32> = 85.0..=102.0;

/// A second in the making: sum and count of good readings.
#[derive(Clone, Copy, Debug, Default)]
struct Mean {
    sum: f32,
    count: u8,
}

/// What one sensor showed of late, without its correction.
#[derive(Clone, Copy, Debug)]
struct Course {
    second: Mean,
    /// Means of the last seconds; `None` where a transfer was bad.
    means: [Option<Celsius>; STEADY_S],
    /// Errors in ice and in boiling water.
    errors: [Option<Kelvins>; 2],
}

impl Course {
    const NEW: Self =
        Self { second: Mean { sum: 0.0, count: 0 }, means: [None; STEADY_S], errors: [None; 2] };

    fn take(&mut self, value: Option<Celsius>, ends: bool) {
        if let Some(value) = value.filter(|value| value.is_physical()) {
            self.second.sum += value.0;
            self.second.count += 1;
        }
        if ends {
            let Mean { sum, count } = core::mem::take(&mut self.second);
            let whole = u32::from(count) == TICKS_PER_SECOND;
            self.means.rotate_right(1);
            if let Some(newest) = self.means.first_mut() {
                *newest = whole.then(|| Celsius(sum / f32::from(count)));
            }
        }
    }

    /// Mean of the last half minute, if it was steady.
    fn steady(&self) -> Option<Celsius> {
        let mut range: Option<(Celsius, Celsius)> = None;
        let mut sum = 0.0;
        for mean in self.means {
            let mean = mean?;
            let (low, high) = range.unwrap_or((mean, mean));
            range = Some((low.min(mean), high.max(mean)));
            sum += mean.0;
        }
        let (low, high) = range?;
        ((high - low).0 <= STEADY_K).then_some(Celsius(sum / STEADY_S as f32))
    }
}

/// Where commissioning stands.
#[derive(Clone, Copy, Debug)]
pub(super) struct Commission {
    go: Go,
    /// When the board started, as of its first tick.
    since: Option<Tick>,
    courses: [Course; SENSORS],
    ticks: u32,
    /// The step test has been gone through; the hold is next.
    pub step_tested: bool,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Go {
    /// Nothing read yet.
    Unread,
    /// Closed since the board started.
    Held,
    /// Held and released in time.
    Commissioning,
    /// Was not held, or for too long.
    Closed,
}

impl Commission {
    /// A board that starts; `may` is false where it goes on with a bake or was reset.
    pub fn new(may: bool) -> Self {
        let go = if may { Go::Unread } else { Go::Closed };
        Self { go, since: None, courses: [Course::NEW; SENSORS], ticks: 0, step_tested: false }
    }

    /// Settings may be changed.
    pub fn is_open(&self) -> bool {
        self.go == Go::Commissioning
    }

    /// Takes a tick's GO and readings.
    pub fn tick(&mut self, now: Tick, go: bool, read: &Read, kept: Option<&Commissioned>) {
        let since = *self.since.get_or_insert(now);
        self.go = match self.go {
            Go::Unread if go => Go::Held,
            Go::Held if !go => Go::Commissioning,
            Go::Held if now.since(since) >= RELEASE_TICKS => Go::Closed,
            Go::Unread => Go::Closed,
            other => other,
        };
        if !self.is_open() {
            return;
        }
        self.ticks = self.ticks.wrapping_add(1);
        let ends = self.ticks.is_multiple_of(TICKS_PER_SECOND);
        for (sensor, course) in self.courses.iter_mut().enumerate() {
            let good = read.nth(sensor).filter(|of| of.sample.transfer == Transfer::Good);
            let correction = correction(kept, sensor);
            course.take(good.map(|of| of.sample.value - correction), ends);
        }
    }

    /// A sensor is in a bath. Once it has been through both, its correction.
    pub fn bath(&mut self, sensor: u8, is: Reading) -> Result<Option<i16>, BathFault> {
        let course = self.courses.get_mut(usize::from(sensor)).ok_or(BathFault::NotFitted)?;
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

    /// Other sensors are fitted: what was seen of the old ones is nothing.
    pub fn refitted(&mut self) {
        self.courses = [Course::NEW; SENSORS];
    }
}

fn correction(kept: Option<&Commissioned>, sensor: usize) -> Kelvins {
    let fitted = kept.and_then(|kept| *kept.settings.sensors().get(sensor)?);
    fitted.map_or(Kelvins(0.0), |fitted| fitted.correction())
}

#[cfg(test)]
mod tests {
    use super::super::sensors::SILENT;
    use super::*;
    use truesoak_core::io::Sample;

    fn reads(value: f32) -> Read {
        let sample = Sample { value: Celsius(value), transfer: Transfer::Good, ..SILENT.sample };
        Read { air: crate::converter::Reading { sample, ..SILENT }, air_b: None, part_probe: None }
    }

    /// A board that is being commissioned.
    fn open() -> Commission {
        let mut commission = Commission::new(true);
        commission.tick(Tick(0), true, &reads(20.0), None);
        commission.tick(Tick(1), false, &reads(20.0), None);
        assert!(commission.is_open());
        commission
    }

    fn dip(commission: &mut Commission, seconds: u32, value: impl Fn(u32) -> f32) {
        for tick in 0..seconds * TICKS_PER_SECOND {
            commission.tick(Tick(tick), false, &reads(value(tick)), None);
        }
    }

    fn bath(commission: &mut Commission, is: f32) -> Result<Option<i16>, BathFault> {
        commission.bath(0, Reading::from_celsius(Celsius(is)).unwrap())
    }

    fn after_go(held: u32, may: bool) -> bool {
        let mut commission = Commission::new(may);
        for tick in 0..500 {
            commission.tick(Tick(tick), tick < held, &reads(20.0), None);
        }
        commission.is_open()
    }

    #[test]
    fn only_go_held_at_boot_and_released_in_twenty_seconds_opens_it() {
        assert!(!after_go(0, true));
        assert!(after_go(1, true));
        assert!(after_go(200, true));
        assert!(!after_go(201, true));
        assert!(!after_go(50, false), "nor on a board that goes on with a bake");
        let mut later = Commission::new(true);
        for tick in 0..100 {
            later.tick(Tick(tick), (5..40).contains(&tick), &reads(20.0), None);
        }
        assert!(!later.is_open());
    }

    #[test]
    fn two_baths_make_the_correction_that_brings_both_readings_right() {
        let mut commission = open();
        dip(&mut commission, 31, |_| 1.25);
        assert_eq!(bath(&mut commission, 0.0), Ok(None));
        dip(&mut commission, 31, |_| 98.5 + 0.75);
        assert_eq!(bath(&mut commission, 98.5), Ok(Some(-128)));
    }

    #[test]
    fn baths_of_another_type_of_thermocouple_are_told_apart() {
        // K wire read as T shows 96.1 °C in water at 100 °C and is right in ice (NIST Monograph 175).
        let mut commission = open();
        dip(&mut commission, 31, |_| 0.1);
        assert_eq!(bath(&mut commission, 0.0), Ok(None));
        dip(&mut commission, 31, |_| 96.1);
        assert_eq!(bath(&mut commission, 100.0), Err(BathFault::TooFar));
        dip(&mut commission, 31, |_| 97.6);
        assert_eq!(bath(&mut commission, 99.5), Err(BathFault::Differ));
        dip(&mut commission, 31, |_| 99.5);
        assert_eq!(bath(&mut commission, 99.5), Ok(None), "both have to be taken again");
    }

    #[test]
    fn what_is_no_bath_or_not_steady_is_refused() {
        let mut commission = open();
        dip(&mut commission, 29, |_| 0.0);
        assert_eq!(bath(&mut commission, 0.0), Err(BathFault::Unsteady));
        dip(&mut commission, 40, |tick| tick as f32 / 500.0);
        assert_eq!(bath(&mut commission, 0.0), Err(BathFault::Unsteady));
        dip(&mut commission, 31, |tick| if tick == 100 { f32::NAN } else { 0.0 });
        assert_eq!(bath(&mut commission, 0.0), Err(BathFault::Unsteady));
        for no_bath in [20.0, -5.0, 84.0, 120.0] {
            assert_eq!(bath(&mut commission, no_bath), Err(BathFault::NoBath));
        }
        assert_eq!(commission.bath(3, Reading(0)), Err(BathFault::NotFitted));
    }
}
