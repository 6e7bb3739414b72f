//! Readings judged: is this transfer believed, and if not, why and since when?
//!
//! A transfer is believed when it is fresh, good, physical, and no further from the last believed
//! one than the sensor's own lag allows. What is not believed is never used as a temperature: the
//! controller then works from the last believed value, projected to the worst case by its age.
//! A single bad transfer costs one tick; [`Doubt::ticks`] lets the guard trip on more.

use crate::io::{Sample, Transfer};
use crate::units::{Celsius, Kelvins, Reading, TICKS_PER_SECOND};

/// Seconds over which the steady slope is taken. WHY: a limit is judged on reading + lag × slope; the
/// noise in the slope of a second, times the lag of a slow sensor, is kelvins.
const STEADY_SECONDS: usize = 4;
/// Sigmas of reading noise that two transfers may differ by.
const NOISE_SIGMAS: f32 = 8.0;
/// How far below the room a sensor may read, K.
const BELOW_ROOM_K: f32 = 10.0;
/// How far above the air limit the air may get before power is gone, K.
const ABOVE_LIMIT_K: f32 = 60.0;

/// What the sensor can physically do.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reach {
    /// Least time constant, s.
    pub lag_s: f32,
    /// Standard deviation of one transfer, K.
    pub noise_k: f32,
    /// Step of the converter, K.
    pub resolution_k: f32,
    /// Room.
    pub ambient: Celsius,
    /// Highest air the bake allows.
    pub air_max: Celsius,
}

impl Reach {
    /// Largest rise and fall from `from` in `ticks`, K: a first-order sensor moves towards what it
    /// sees no faster than the difference over its lag.
    fn allowance_k(&self, from: Celsius, ticks: u16, slack: f32) -> (f32, f32) {
        let seconds = f32::from(ticks) / TICKS_PER_SECOND as f32;
        let ceiling = self.air_max.0 + ABOVE_LIMIT_K;
        let rise = (ceiling - from.0).max(0.0) * (seconds / self.lag_s).min(1.0) + slack;
        let fall = (from - self.floor()).0.max(0.0) * (seconds / self.lag_s).min(1.0) + slack;
        (rise, fall)
    }

    /// No air is colder, whatever is open.
    fn floor(&self) -> Celsius {
        self.ambient - Kelvins(BELOW_ROOM_K)
    }

    /// What two transfers may differ by while nothing moves, K.
    fn slack_k(&self) -> f32 {
        NOISE_SIGMAS * self.noise_k + 2.0 * self.resolution_k
    }
}

/// Why a transfer is not believed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Reason {
    /// The converter reports an open sensor.
    Open,
    /// The converter reports a short.
    Short,
    /// Nobody answers, or a frame that cannot be, or not a temperature.
    Silent,
    /// Too old.
    Stale,
    /// Rose faster than any heating.
    JumpUp,
    /// Fell faster than any opening.
    JumpDown,
}

/// A doubt and how long it has lasted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Doubt {
    /// Why.
    pub reason: Reason,
    /// Ticks since the last believed transfer.
    pub ticks: u16,
}

/// This tick's judgement.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Judged {
    /// This tick's transfer, if believed.
    pub value: Option<Celsius>,
    /// The last believed transfer.
    pub latest: Option<Celsius>,
    /// Why not, if not.
    pub doubt: Option<Doubt>,
    /// Weight of bad transfers: each bad one adds two, each good one takes one away.
    pub bad_weight: u16,
    /// Ticks for which no bit of the frame has changed.
    pub unchanged_ticks: u32,
    /// Slope of the believed readings over the last second, K/s.
    pub slope_k_per_s: f32,
    /// The same over four seconds: two seconds late, a quarter as rough.
    pub steady_slope_k_per_s: f32,
}

/// Judges one sensor.
#[derive(Clone, Debug)]
pub struct Judge {
    reach: Reach,
    /// Of the reach; every tick compares with it.
    slack_k: f32,
    latest: Option<Celsius>,
    /// How old that was when it was believed.
    latest_age_ticks: u16,
    doubt_ticks: u16,
    jump: Option<Reason>,
    bad_weight: u16,
    frame: Option<u64>,
    unchanged_ticks: u32,
    second: Mean,
    /// Means of the last seconds, newest first.
    means: [Option<Celsius>; STEADY_SECONDS + 1],
    slope_k_per_s: f32,
    steady_slope_k_per_s: f32,
}

/// The mean of a second in the making.
#[derive(Clone, Copy, Debug, Default)]
struct Mean {
    sum_c: f32,
    count: u8,
    doubted: bool,
}

/// A finished second of one sensor.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct JudgedSecond {
    /// Mean of the believed transfers on the log's grid; `None` if there were none.
    pub reading: Option<Reading>,
    /// At least one transfer of the second was not believed.
    pub projected: bool,
}

impl Judge {
    /// A judge that has seen nothing.
    #[must_use]
    pub fn new(reach: Reach) -> Self {
        Self {
            slack_k: reach.slack_k(),
            reach,
            latest: None,
            latest_age_ticks: 0,
            doubt_ticks: 0,
            jump: None,
            bad_weight: 0,
            frame: None,
            unchanged_ticks: 0,
            second: Mean::default(),
            means: [None; STEADY_SECONDS + 1],
            slope_k_per_s: 0.0,
            steady_slope_k_per_s: 0.0,
        }
    }

    /// Judges this tick's transfer. `door_open` lets a sudden fall stand that a room explains.
    pub fn tick(&mut self, sample: &Sample, door_open: bool) -> Judged {
        self.follow_frame(sample);
        let reason = self.reason_to_doubt(sample, door_open);
        match reason {
            None => self.believe(sample),
            Some(reason) => self.doubt(reason),
        }
        Judged {
            value: reason.is_none().then_some(sample.value),
            latest: self.latest,
            doubt: reason.map(|reason| Doubt { reason, ticks: self.doubt_ticks }),
            bad_weight: self.bad_weight,
            unchanged_ticks: self.unchanged_ticks,
            slope_k_per_s: self.slope_k_per_s,
            steady_slope_k_per_s: self.steady_slope_k_per_s,
        }
    }

    /// Ends the second: its mean, and a fresh start.
    pub fn end_second(&mut self) -> JudgedSecond {
        let mean = core::mem::take(&mut self.second);
        let value = (mean.count > 0).then(|| Celsius(mean.sum_c / f32::from(mean.count)));
        let [first, second, third, fourth, _] = self.means;
        self.means = [value, first, second, third, fourth];
        self.follow_slope();
        JudgedSecond {
            reading: value.and_then(Reading::from_celsius),
            projected: mean.doubted || mean.count == 0,
        }
    }

    /// Through a gap the last slope stands: what was rising is taken to rise on.
    fn follow_slope(&mut self) {
        let [Some(new), Some(before), .., oldest] = self.means else { return };
        self.slope_k_per_s = (new - before).0;
        self.steady_slope_k_per_s =
            oldest.map_or(self.slope_k_per_s, |oldest| (new - oldest).0 / STEADY_SECONDS as f32);
    }

    /// A jump is not held against the readings that follow: they are believed again once what a
    /// sensor can reach since the last believed one covers them. For a sensor nobody heats by.
    pub fn forgive_jump(&mut self) {
        self.jump = None;
    }

    fn follow_frame(&mut self, sample: &Sample) {
        let same = self.frame == Some(sample.frame);
        self.unchanged_ticks = if same { self.unchanged_ticks.saturating_add(1) } else { 0 };
        self.frame = Some(sample.frame);
    }

    fn believe(&mut self, sample: &Sample) {
        self.latest = Some(sample.value);
        self.latest_age_ticks = sample.age_ticks;
        self.doubt_ticks = 0;
        self.jump = None;
        self.bad_weight = self.bad_weight.saturating_sub(1);
        self.second.sum_c += sample.value.0;
        self.second.count += 1;
    }

    fn doubt(&mut self, reason: Reason) {
        self.doubt_ticks = self.doubt_ticks.saturating_add(1);
        if matches!(reason, Reason::Open | Reason::Short | Reason::Silent) {
            self.bad_weight = self.bad_weight.saturating_add(2).min(1000);
        }
        if matches!(reason, Reason::JumpUp | Reason::JumpDown) {
            self.jump = Some(reason);
        }
        self.second.doubted = true;
    }

    fn reason_to_doubt(&self, sample: &Sample, door_open: bool) -> Option<Reason> {
        match sample.transfer {
            Transfer::Open => return Some(Reason::Open),
            Transfer::Short => return Some(Reason::Short),
            Transfer::Silent | Transfer::Impossible => return Some(Reason::Silent),
            Transfer::Good if !sample.value.is_physical() => return Some(Reason::Silent),
            Transfer::Good => {}
        }
        if sample.is_stale() {
            return Some(Reason::Stale);
        }
        let latest = self.latest?;
        let change_k = (sample.value - latest).0;
        if change_k.abs() <= self.slack_k {
            // Nearly every transfer; what the lag allows comes on top.
            return None;
        }
        // A reading that jumped must come back to where it was before it is believed again: the
        // allowance does not grow while it is away. After any other gap it grows with the gap.
        let ticks = if self.jump.is_some() { 1 } else { self.doubt_ticks.saturating_add(1) };
        // A converter that takes two ticks was last read an age before.
        let ticks = ticks.saturating_add(self.latest_age_ticks).saturating_sub(sample.age_ticks);
        let (rise_k, fall_k) = self.reach.allowance_k(latest, ticks, self.slack_k);
        if change_k > rise_k {
            Some(Reason::JumpUp)
        } else if change_k < -fall_k && !(door_open && sample.value >= self.reach.floor()) {
            Some(Reason::JumpDown)
        } else {
            None
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn judge() -> Judge {
        Judge::new(Reach {
            lag_s: 8.4,
            noise_k: 0.1,
            resolution_k: 0.25,
            ambient: Celsius(20.0),
            air_max: Celsius(200.0),
        })
    }

    fn sample(value: f32) -> Sample {
        Sample {
            value: Celsius(value),
            age_ticks: 0,
            frame: u64::from(value.to_bits()),
            transfer: Transfer::Good,
        }
    }

    #[test]
    fn a_single_bad_transfer_costs_one_tick() {
        let mut judge = judge();
        assert_eq!(judge.tick(&sample(150.0), false).value, Some(Celsius(150.0)));
        let bad = Sample { transfer: Transfer::Open, ..sample(0.0) };
        let judged = judge.tick(&bad, false);
        assert_eq!(judged.value, None);
        assert_eq!(judged.latest, Some(Celsius(150.0)));
        assert_eq!(judge.tick(&sample(150.1), false).value, Some(Celsius(150.1)));
        let second = judge.end_second();
        assert!(second.projected);
        assert_eq!(second.reading, Reading::from_celsius(Celsius(150.05)));
    }

    #[test]
    fn not_a_number_and_stale_are_never_believed() {
        let mut judge = judge();
        let _ = judge.tick(&sample(150.0), false);
        let judged = judge.tick(&sample(f32::NAN), false);
        assert_eq!(judged.doubt.map(|doubt| doubt.reason), Some(Reason::Silent));
        let old = Sample { age_ticks: 6, ..sample(150.0) };
        let judged = judge.tick(&old, false);
        assert_eq!(judged.doubt, Some(Doubt { reason: Reason::Stale, ticks: 2 }));
    }

    #[test]
    fn a_jump_is_doubted_until_the_reading_comes_back() {
        let mut judge = judge();
        let _ = judge.tick(&sample(150.0), false);
        for _ in 0..300 {
            let judged = judge.tick(&sample(170.0), false);
            assert_eq!(judged.doubt.map(|doubt| doubt.reason), Some(Reason::JumpUp));
        }
        assert!(judge.tick(&sample(150.5), false).value.is_some());
    }

    #[test]
    fn a_sudden_fall_stands_while_the_door_is_open_only() {
        let mut shut = judge();
        let _ = shut.tick(&sample(150.0), false);
        let judged = shut.tick(&sample(25.0), false);
        assert_eq!(judged.doubt.map(|doubt| doubt.reason), Some(Reason::JumpDown));
        assert!(shut.tick(&sample(25.0), true).value.is_some());
    }

    #[test]
    fn no_open_door_lets_a_reading_fall_far_below_the_room_at_once() {
        let mut open = judge();
        let _ = open.tick(&sample(25.0), true);
        let judged = open.tick(&sample(8.0), true);
        assert_eq!(judged.doubt.map(|doubt| doubt.reason), Some(Reason::JumpDown));
        // A cold room is come to by and by.
        let mut cold = judge();
        for value in [11.0_f32, 10.5, 10.0, 9.5, 9.0, 8.5, 8.0] {
            assert!(cold.tick(&sample(value), true).value.is_some(), "{value} °C");
        }
    }

    /// From 150 °C a sensor with a lag of 8.4 s falls by no more than 1.7 K a tick, and 1.3 K may be
    /// noise: 5 K are what three ticks allow, and one does not.
    #[test]
    fn a_reading_that_stands_for_three_ticks_may_then_move_by_three_ticks_worth() {
        for (age_ticks, believed) in [(2, true), (0, false)] {
            let mut judge = judge();
            let _ = judge.tick(&sample(150.0), false);
            let _ = judge.tick(&Sample { age_ticks, ..sample(150.0) }, false);
            let judged = judge.tick(&sample(145.0), false);
            assert_eq!(judged.value.is_some(), believed, "{age_ticks} ticks old");
        }
    }

    #[test]
    fn a_reading_that_stands_counts_in_the_mean_for_as_long_as_it_stands() {
        let mut judge = judge();
        for (value, age_ticks) in [(150.0, 0), (150.0, 1), (150.0, 2), (150.4, 0)] {
            let _ = judge.tick(&Sample { age_ticks, ..sample(value) }, false);
        }
        let second = judge.end_second();
        assert!(!second.projected);
        assert_eq!(second.reading, Reading::from_celsius(Celsius(150.1)));
    }
}
