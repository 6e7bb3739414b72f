//! Heat that was commanded and is not seen.
//!
//! The nominal oven's reading is driven by the commanded duty alone, its liner by the reading that
//! was seen. Above that liner both readings rise and fall together on every oven of the spread, the
//! slowest two thirds as far as the nominal one. Where one rises and the other does not, no heat
//! arrives, or none of it at the sensor.
//!
//! Where full power goes on the nominal reading is long on its way and rises little: then a reading that
//! falls short of the slowest oven's share of that is as good.
//!
//! In a soak the duty has to grow first: the loop answers a reading that falls, and what it commands
//! makes the nominal one rise. On no oven of the spread do the two part for long, but where a reading
//! comes back from above the nominal one.

use super::{Expectation, View};
use crate::persist::Persist;
use crate::recent::take_in;
use crate::units::{Celsius, Kelvins, TICKS_PER_SECOND, Tick};

/// Rise of the nominal reading that must show, K: two thirds of it are 8 K …
const DUE_K: f32 = 12.0;
/// … a rise of the reading that shows it, K …
const SEEN_K: f32 = 2.0;
/// … or, where the reading was above the liner, whose heat cannot do that, a rise of both, K …
const WARMED_K: f32 = 8.0;
/// … within so long: one sample is kept every so many seconds …
const SAMPLE_S: u32 = 10;
/// … and so many are.
const SAMPLES: usize = 18;
/// What the slowest oven rises by for a kelvin of the nominal one, once both are on their way …
const SLOWEST_SHARE: f32 = 0.66;
/// … which is so where the nominal one rose by no more than this, K …
const ON_THE_WAY_K: f32 = 25.0;
/// … and has not fallen by this since, K.
const FELL_K: f32 = 1.5;
/// So much less than that is missing, K, where the reading is below the nominal one and rose by no
/// more than this share as much in the last minute and in its second half …
const MISSED_K: f32 = 8.0;
const RISING_SHARE: f32 = 0.15;
/// … for so long, s.
const MISSED_S: u32 = 42;
/// A rise that is due may stay unseen for so long, s: the row has a minute, and with all of it came three
/// seconds late (fault campaign, seed 868).
const UNSEEN_S: u32 = 57;
/// Samples back that a minute is.
const MINUTE: usize = 5;
/// In a minute the nominal reading rose by this and the reading fell by as much, K …
const AGAINST_K: f32 = 3.0;
/// … and it goes on falling, K since the sample before the last: one that moved stops …
const STILL_FALLS_K: f32 = 0.3;
/// … for so long, s: three times the longest on ovens of the spread.
const AGAINST_S: u32 = 35;
/// At full power for so long, s, there is no loop that could make up for anything: where the nominal
/// reading rose by this, K, and the reading by no more than this share of it, nothing heats it …
const FULL_S: u32 = 30;
const STILL_RISES_K: f32 = 1.5;
const STILL_SHARE: f32 = 0.1;
/// … once the two have parted by this, K, since so many samples ago, or by this in a minute. For as long
/// as above.
const STILL_SAMPLES: usize = 3;
const PARTED_K: f32 = 1.8;
const PARTED_IN_A_MINUTE_K: f32 = 3.0;
/// A door or a fan moves the air in ways the nominal oven does not follow for so long, ticks.
const SETTLE_TICKS: u32 = 60 * TICKS_PER_SECOND;
/// … and is back where it fell from within so long, ticks.
const FELL_TICKS: u32 = 300 * TICKS_PER_SECOND;

/// Follows both readings while heat is allowed.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Response {
    past: [Option<Pair>; SAMPLES],
    seconds: u32,
    disturbed: Option<Tick>,
    may_be_open: bool,
    missing: Persist,
    short: Persist,
    against: Persist,
    full: Persist,
}

/// Both readings, and how far each is above the nominal liner.
#[derive(Clone, Copy, Debug)]
struct Pair {
    due: Kelvins,
    seen: Kelvins,
    nominal: Celsius,
    reading: Celsius,
}

impl Pair {
    fn of(expectation: &Expectation, reading: Celsius) -> Self {
        let (liner, nominal) = (expectation.liner, expectation.reading_nominal);
        Self { due: nominal - liner, seen: reading - liner, nominal, reading }
    }

    /// A rise was due since `past` and is not seen. Where the door was open not long ago, the nominal one
    /// makes good alone what an opening took from it alone, while the reading stands.
    fn is_unseen_since(self, past: Self, opened: bool) -> bool {
        // Nearly always; what an opening took makes it only less.
        if (self.due - past.due).0 < DUE_K {
            return false;
        }
        let warmed = past.seen.0 > 0.0 && (self.reading - past.reading).0 >= WARMED_K;
        let rose_k = (self.seen - past.seen).0;
        let alone = opened && rose_k > -SEEN_K;
        let from_k = if alone { past.due.0.max(past.seen.0) } else { past.due.0 };
        self.due.0 - from_k >= DUE_K && rose_k < SEEN_K && !warmed
    }

    /// The reading rose since `past` by so much less than the slowest oven would have, K; one that was
    /// above the nominal one may come back to it.
    fn missed_since(self, past: Self) -> f32 {
        SLOWEST_SHARE * (self.due - past.due).0 - (self.seen.0 - past.seen.0.min(past.due.0))
    }

    /// The reading stands, or falls, where the nominal one rose, and they have parted by so much, K.
    fn stands_still_since(self, past: Option<Self>, parted_k: f32) -> bool {
        let Some(past) = past else { return false };
        let (due_k, rose_k) = ((self.nominal - past.nominal).0, (self.reading - past.reading).0);
        let still = due_k >= STILL_RISES_K && rose_k < STILL_SHARE * due_k;
        still && due_k - rose_k >= parted_k
    }

    /// How far the reading fell since `past` where the nominal one rose as much, K.
    fn fell_against(self, past: Self) -> f32 {
        let (rose, fell) = (self.nominal - past.nominal, past.reading - self.reading);
        rose.0.min(fell.0)
    }
}

impl Response {
    /// True when a rise that was due has been missing for its time.
    /// `known`: the nominal oven is as hot as this one. `apart`: two sensors differ.
    pub(super) fn is_missing(&mut self, view: &View<'_>, known: bool, apart: bool) -> bool {
        // Who says that the door is shut has perhaps just shut it.
        let told = self.may_be_open && !view.door.may_be_open;
        self.may_be_open = view.door.may_be_open;
        let moved = view.door.open || view.door.air_falls || view.inputs.airflow == Some(false);
        if moved {
            self.disturbed = Some(view.now);
        }
        let settled = self.disturbed.is_none_or(|when| view.now.since(when) >= SETTLE_TICKS);
        let judged =
            known && view.baking && view.commanded.is_allowed() && view.standing.fan_is_known;
        let expectation = view.expectation.filter(|_| judged && settled && !told);
        let Some((expectation, reading)) = expectation.and_then(|all| Some((all, all.reading?)))
        else {
            let Self { disturbed, may_be_open, .. } = *self;
            *self = Self { disturbed, may_be_open, ..Self::default() };
            return false;
        };
        let now = Pair::of(expectation, reading);
        let behind = now.reading < now.nominal;
        let opened = view.door.shut_ticks < FELL_TICKS;
        let unseen = self.past.iter().flatten().any(|past| now.is_unseen_since(*past, opened));
        let falls = self.past[1].is_some_and(|past| (past.reading - reading).0 >= STILL_FALLS_K);
        let full = self.full.held(view.second_on_ticks == Some(TICKS_PER_SECOND as u8), FULL_S);
        let fell = self.past[MINUTE].is_some_and(|past| now.fell_against(past) >= AGAINST_K);
        let still = now.stands_still_since(self.past[STILL_SAMPLES], PARTED_K)
            || now.stands_still_since(self.past[MINUTE], PARTED_IN_A_MINUTE_K);
        let against = behind && !apart && (fell && falls || full && still);
        let short = behind && !apart && self.is_short(now);
        self.keep(now);
        // Each follows its own time, whatever the other found.
        let missing = self.missing.held(unseen, UNSEEN_S);
        let short = self.short.held(short, MISSED_S);
        self.against.held(against, AGAINST_S) || missing || short
    }

    /// With the nominal reading on its way and never lower since: full power that brings nothing.
    fn is_short(&self, now: Pair) -> bool {
        let Some(minute) = self.past[MINUTE] else { return false };
        let rose_since = |past: Pair| {
            let due_k = (now.nominal - past.nominal).0.max(0.0);
            (now.reading - past.reading).0 > RISING_SHARE * due_k
        };
        let rises = rose_since(minute) || self.past[STILL_SAMPLES].is_some_and(rose_since);
        let on_the_way = (now.due - minute.due).0 <= ON_THE_WAY_K && !rises;
        let level = |past: &&Pair| (past.due - now.due).0.abs() <= ON_THE_WAY_K;
        let kept = self.past.iter().flatten().take_while(level);
        let held_up = |past: &&Pair| (past.due - now.due).0 <= FELL_K;
        on_the_way && kept.filter(held_up).any(|past| now.missed_since(*past) >= MISSED_K)
    }

    fn keep(&mut self, now: Pair) {
        if self.seconds.is_multiple_of(SAMPLE_S) {
            take_in(&mut self.past, Some(now));
        }
        self.seconds = self.seconds.wrapping_add(1);
    }
}
