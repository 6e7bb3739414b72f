//! Whether a rise slows down, as one does that nothing heats any more.
//!
//! Element and liner give off what they hold, less in every second. A heater that is on gives the
//! same in each of them, so a reading that it heats rises as fast as before, for minutes. What the
//! sensor's own errors can make of a steady rise is not taken for one that slows.

use crate::recent::take_in;
use crate::units::Celsius;

/// Seconds between readings that are kept.
const SAMPLE_S: u32 = 5;
/// Samples back that some seconds are, and half a minute.
pub(super) const SOME_SECONDS: usize = 3;
pub(super) const HALF_A_MINUTE: usize = 6;
pub(super) const HALF_A_MINUTE_S: f32 = 30.0;
/// Kept readings: two spans of half a minute.
const SAMPLES: usize = 2 * HALF_A_MINUTE + 1;
const MINUTE_S: u32 = 60;
/// A slope that lost this share of itself …
const SLOPE_LOST: f32 = 0.08;
/// … and the sensor's own over so many seconds, in five seconds slows down …
const SLOPE_OWN_S: f32 = 25.0;
/// … and so does a rise that is this much smaller than the one in the span before it, by share …
const RISE_LOST: f32 = 0.12;
/// (in one of half a minute, which tells a slow sensor's noise from its rise, by this share) …
const RISE_LOST_LONG: f32 = 0.25;
/// … which has lost nothing to speak of by less than this …
const RISE_KEPT: f32 = 0.05;
/// … and by this part of the sensor's own.
const RISE_OWN: f32 = 1.0 / 6.0;

/// The rise of a reading, second by second.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Rise {
    /// Newest first.
    slopes_k_per_s: [f32; 6],
    /// Newest first; before the first reading it stood still.
    past: [Celsius; SAMPLES],
    seconds: u32,
}

impl Rise {
    /// Takes a second's reading and its slope.
    pub(super) fn take(&mut self, reading: Celsius, slope_k_per_s: f32) {
        if self.seconds == 0 {
            self.past = [reading; SAMPLES];
        }
        take_in(&mut self.slopes_k_per_s, slope_k_per_s);
        if self.seconds.is_multiple_of(SAMPLE_S) {
            take_in(&mut self.past, reading);
        }
        self.seconds = self.seconds.wrapping_add(1);
    }

    /// How far a reading is above what it was so many samples ago or up to one more, K.
    pub(super) fn over(&self, samples: usize, reading: Celsius) -> f32 {
        (reading - self.sample(samples)).0
    }

    fn sample(&self, at: usize) -> Celsius {
        self.past.get(at).copied().unwrap_or_default()
    }

    /// It slows down: over five seconds, or over spans of ten, of fifteen or of thirty. `own_k` is what
    /// the sensor's steps and noise can add, K.
    pub(super) fn slows(&self, own_k: f32) -> bool {
        let [now, .., then] = self.slopes_k_per_s;
        let by_slope = then - now > SLOPE_LOST * then + own_k / SLOPE_OWN_S;
        by_slope
            || self.slows_over(2, RISE_LOST, own_k)
            || self.slows_over(SOME_SECONDS, RISE_LOST, own_k)
            || self.slows_over(HALF_A_MINUTE, RISE_LOST_LONG, own_k)
    }

    /// It has not, for a minute.
    pub(super) fn goes_on(&self, own_k: f32) -> bool {
        self.seconds > MINUTE_S && !self.slows_over(HALF_A_MINUTE, RISE_LOST_LONG, own_k)
    }

    /// It has lost nothing to speak of, for a minute.
    pub(super) fn is_unslowed(&self, own_k: f32) -> bool {
        self.seconds > MINUTE_S && !self.slows_over(HALF_A_MINUTE, RISE_KEPT, own_k)
    }

    /// Its last so many samples rose by less than as many before them, by this share.
    fn slows_over(&self, samples: usize, lost: f32, own_k: f32) -> bool {
        let [new, middle, old] = [0, samples, 2 * samples].map(|at| self.sample(at));
        let (late_k, early_k) = ((new - middle).0, (middle - old).0);
        early_k - late_k > lost * early_k + RISE_OWN * own_k
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A rise whose slope dies away with a time constant, s, read in steps of a quarter kelvin.
    fn slows_after(seconds: u32, constant_s: f32) -> bool {
        let mut rise = Rise::default();
        for second in 0..seconds {
            let left = (-(second as f32) / constant_s).exp();
            let reading = Celsius((4.0 * 0.3 * constant_s * (1.0 - left)).round() / 4.0 + 100.0);
            rise.take(reading, 0.3 * left);
        }
        rise.slows(0.5)
    }

    #[test]
    fn what_coasts_slows_and_what_is_heated_does_not() {
        assert!(slows_after(10, 15.0), "an element gives off the last of its heat");
        assert!(slows_after(35, 60.0), "a heavy one");
        assert!(!slows_after(35, 600.0), "a heated oven nears its balance in many minutes");
        assert!(!slows_after(3, 15.0), "nothing is known of the first seconds");
    }
}
