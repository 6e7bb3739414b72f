//! The first answer of the reading to heat: a wire of a wrong type, or with its leads reversed.
//!
//! Judged on the first heat of a bake, while every tick since was on: later the other rows know
//! better. A wrong type answers to heat, and by too little or too much; a dead heater or a sensor in
//! the room does not answer. A door left open makes an answer weak too. Where no switch tells, a weak
//! answer is therefore heat that is missing: heat goes off and a person is asked, and what is read once
//! the door is said to be shut is judged afresh.

use super::{TripKind, View};
use crate::persist::Persist;
use crate::recent::take_in;
use crate::units::{Celsius, TICKS_PER_SECOND};

const SECOND: u32 = TICKS_PER_SECOND;

/// On-time within which the first answer to heat is judged, ticks.
const JUDGED_TICKS: u32 = 120 * SECOND;
/// Least on-time before it is judged, ticks.
const LEAST_TICKS: u32 = 10 * SECOND;
/// A fall this large on the first heat means reversed leads, K …
const REVERSED_K: f32 = 3.0;
/// … unless it has turned by this and so many deviations of its noise (six of a second's mean), as air does
/// that a door cooled, K …
const TURNED_K: f32 = 1.0;
const SIGMAS: f32 = 2.0;
/// … below the lowest trajectory of the spread, K.
const BELOW_LOWEST_K: f32 = 2.0;
/// A rise this far above the highest trajectory on the first heat means another type, K …
const ABOVE_HIGHEST_K: f32 = 3.0;
/// … after so long, s.
const ABOVE_S: u32 = 3;
/// Rise that fell short of the least rise due, K …
const BELOW_K: f32 = 1.0;
/// … or is lately no more than this share of what the nominal oven's is, where that is at least so
/// much, K (the slowest oven: two thirds) …
const SLOW_SHARE: f32 = 0.4;
const SLOW_DUE_K: f32 = 3.0;
/// … for so long, s: a wrong type, if it answers to heat all the same. By this share of what is due …
const BELOW_S: u32 = 16;
const SOME_ANSWER: f32 = 0.05;
/// … and this, K …
const SOME_ANSWER_K: f32 = 1.5;
/// … and lately, for one to two times so long, s, at no less than this share of its mean pace, or of
/// what is left of the nominal oven's: a heater that dies leaves off. (The nominal oven's rise is looked
/// at over two to three times that.)
const PACE_S: u32 = 16;
const PACE_SHARE: f32 = 0.9;
/// An answer that is given again in an oven this much hotter than the nominal one, K, was held against one
/// that cooled behind no such door: a colder oven rises faster.
const AHEAD_K: f32 = 10.0;
/// A reading that rises by at least this share of what another in the same air does is as sound …
const ALIKE_SHARE: f32 = 0.5;
/// … and by less than this is not: no two lags are as far apart.
const UNLIKE_SHARE: f32 = 0.3;

/// Follows the first heat.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct FirstAnswer {
    from: Option<Shown>,
    on_ticks: u32,
    off_seen: bool,
    /// It was weak, and is waited for afresh.
    again: bool,
    /// A switch or a person said that the door is shut.
    shut: bool,
    /// The lowest reading so far.
    least: Option<Celsius>,
    rose: bool,
    low: Persist,
    seconds: u32,
    /// A pace apart, newest first; none from the very start: a slow element and a slow sensor show next
    /// to nothing yet, the nominal ones something.
    marks: [Option<Shown>; 3],
    high: Persist,
}

/// What makes an answer weak.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Cause {
    Wire,
    WireOrDoor,
}

/// What was read in a second, and what ovens would have shown. What a sensor is off by is in every
/// reading and falls out of a rise.
#[derive(Clone, Copy, Debug)]
struct Shown {
    second: u32,
    reading: Celsius,
    /// Of a second sensor.
    reading_b: Option<Celsius>,
    lowest: Celsius,
    nominal: Celsius,
}

impl FirstAnswer {
    /// One that has been given: nothing is judged.
    pub(super) fn given() -> Self {
        Self { off_seen: true, ..Self::default() }
    }

    /// One that was weak is to be given again; leads that are reversed were never to be seen rising.
    fn afresh() -> Self {
        Self { again: true, rose: true, ..Self::default() }
    }

    /// What is wrong with it, if something is; `on_ticks` of the second the drive was on.
    pub(super) fn judge(&mut self, view: &View<'_>, on_ticks: u8) -> Option<TripKind> {
        let expectation = view.expectation.filter(|_| view.baking)?;
        let reading = expectation.reading?;
        if self.again && !self.is_given() && view.door.open {
            *self = Self::afresh();
            return None;
        }
        self.off_seen |= self.on_ticks > 0 && u32::from(on_ticks) < SECOND;
        self.on_ticks = self.on_ticks.saturating_add(u32::from(on_ticks));
        if self.is_over() {
            return None;
        }
        let (lowest, nominal) = (expectation.reading_lowest, expectation.reading_nominal);
        let reading_b = view.air_b.and_then(|air_b| air_b.value);
        let now = Shown { second: self.seconds, reading, reading_b, lowest, nominal };
        let from = *self.from.get_or_insert(now);
        let judged = self.on_ticks >= LEAST_TICKS;
        let rose_k = (reading - from.reading).0;
        let below = (lowest - reading).0 > BELOW_LOWEST_K;
        // Reversed leads never show a rise; a sensor that came off did, and air that a door cooled will.
        let least = self.least.map_or(reading, |least| least.min(reading));
        self.least = Some(least);
        self.rose |= (reading - least).0 > TURNED_K + SIGMAS * view.standing.noise.0;
        let down = judged && below && !self.rose && rose_k < -REVERSED_K;
        let high = judged && (reading - expectation.reading_highest).0 > ABOVE_HIGHEST_K;
        let low = judged && (lowest - from.lowest).0 - rose_k > BELOW_K;
        self.shut |= !view.door.may_be_open;
        let flat = self.is_too_flat(low, from, now);
        if down {
            Some(TripKind::ThermocoupleReversed)
        } else if self.high.held(high, ABOVE_S) || flat == Some(Cause::Wire) {
            Some(TripKind::SensorTypeWrong)
        } else if flat == Some(Cause::WireOrDoor) {
            *self = Self::afresh();
            Some(TripKind::NoResponse)
        } else {
            None
        }
    }

    /// Takes whether the rise falls short of what is due; a cause once it has done so for its time
    /// and goes on rising all the same.
    fn is_too_flat(&mut self, low: bool, from: Shown, now: Shown) -> Option<Cause> {
        if self.seconds > PACE_S && self.seconds.is_multiple_of(PACE_S) {
            take_in(&mut self.marks, Some(now));
        }
        self.seconds = self.seconds.saturating_add(1);
        let slow = self.marks[2].is_some_and(|mark| now.is_slow_since(mark));
        let lasted = self.low.held(slow || low, BELOW_S);
        let (rose_k, due_k) = ((now.reading - from.reading).0, (now.lowest - from.lowest).0);
        let answers = rose_k >= (SOME_ANSWER * due_k).max(SOME_ANSWER_K);
        let goes_on = self.marks[1].is_some_and(|mark| {
            let lately = self.seconds.saturating_sub(mark.second) as f32 / self.seconds as f32;
            let nominal = (now.nominal - mark.nominal).0 / (now.nominal - from.nominal).0;
            (now.reading - mark.reading).0 >= PACE_SHARE * rose_k * lately.min(nominal)
        });
        // What a second sensor sees too is in the oven; what it does not see is no door.
        let other = self.marks[2].and_then(|mark| now.share_of_the_other_since(mark));
        let (alike, unlike) =
            (other.map(|share| share >= ALIKE_SHARE), other.map(|share| share < UNLIKE_SHARE));
        let cause = if self.shut || unlike == Some(true) { Cause::Wire } else { Cause::WireOrDoor };
        let both = cause == Cause::WireOrDoor && alike == Some(true);
        let ahead = self.again && (from.reading - from.nominal).0 > AHEAD_K;
        (lasted && answers && goes_on && !both && !ahead).then_some(cause)
    }

    fn is_over(&self) -> bool {
        self.on_ticks == 0 || self.is_given()
    }

    fn is_given(&self) -> bool {
        self.off_seen || self.on_ticks > JUDGED_TICKS
    }
}

impl Shown {
    /// The reading rose since `past` by such a share of what a second sensor rose by, which must have
    /// risen.
    fn share_of_the_other_since(self, past: Self) -> Option<f32> {
        let other_k = (self.reading_b? - past.reading_b?).0;
        (other_k >= SOME_ANSWER_K).then(|| (self.reading - past.reading).0 / other_k)
    }

    /// The reading rose since `past` by less than its share of what the nominal oven's did.
    fn is_slow_since(self, past: Self) -> bool {
        let due_k = (self.nominal - past.nominal).0;
        due_k >= SLOW_DUE_K && (self.reading - past.reading).0 < SLOW_SHARE * due_k
    }
}
