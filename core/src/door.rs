//! The door: open or shut, from its switch or, without one, from the air's own fall.
//!
//! A shut oven can cool only so fast: the bounds give the lowest reading any oven of the spread
//! could show, and the nominal oven says how fast it falls. A reading that falls fast, and below the
//! one or much faster than the other, means an open door. Without a switch that is believed; with a
//! switch that says "closed" it is for the guard to judge.
//!
//! What falls slowly behind a door ajar looks as missing heat does. Where no switch tells, the guard
//! says [`DoorWatch::suspect`] instead of tripping: heat goes off all the same, until the air comes
//! back by itself or a person says that the door is shut. From then on missing heat is missing heat.

use crate::io::Door;
use crate::recent::take_in;
use crate::units::{Celsius, Kelvins, TICKS_PER_SECOND, Tick};

/// A fall of this much within [`FALL_SECONDS`] is fast, K.
const FAST_FALL_K: f32 = 5.0;
/// Seconds over which a fall is measured.
const FALL_SECONDS: usize = 6;
/// How far below the lowest possible reading before a fall is believed, K.
const BELOW_LOWEST_K: f32 = 2.0;
/// … or so much further than some times the nominal oven's own fall, K.
const FURTHER_K: f32 = 6.0;
/// An oven of the spread falls no more than so many times as fast as the nominal one.
const TIMES_NOMINAL: f32 = 2.0;
/// Further than this is no opening yet, but may be a small one: rows that a door misleads wait, K …
const DOUBT_K: f32 = 2.5;
/// … until the reading is this close to where it fell from, K …
const BACK_K: f32 = 1.0;
/// … or for so long, ticks.
const DOUBT_TICKS: u32 = 30 * 60 * TICKS_PER_SECOND;
/// How hot the element of an oven is that was switched on hot is not known for so long, s; but what
/// rose until a moment ago is not kept falling by it.
const UNKNOWN_S: u32 = 120;
/// After a door the nominal oven comes back otherwise than this one for so long, ticks.
const SETTLE_TICKS: u32 = 60 * TICKS_PER_SECOND;
/// A fall of less than this in four seconds ends anywhere, K …
const LEAST_FALL_K: f32 = 2.0;
/// … and so does one that slows by less than this in as many, K.
const SLOWS_BY_K: f32 = 1.0;
/// So many seconds are kept.
const KEPT_SECONDS: usize = 9;
/// A second sensor in the same air falls by at least this, K/s.
const FALLS_TOO_K_PER_S: f32 = 0.2;
/// A rise of this much above the lowest reading since it opened means shut again, K.
const RISE_K: f32 = 1.5;
/// A reading that came up by this since a person said that the door is shut was heated, K.
const HEATED_K: f32 = 5.0;
/// … and so was one that held for so long, s: missing heat would have been told by then.
const SAID_S: u32 = 300;
/// Who says that it is shut has shut it no longer ago, s.
const SAID_LATELY_S: u32 = 60;
/// The switch must say "closed" for so many ticks before it is believed.
const CLOSED_TICKS: u8 = 3;

/// The door in one tick.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DoorNow {
    /// Open.
    pub open: bool,
    /// Opened in this tick.
    pub opened: bool,
    /// Closed in this tick.
    pub closed: bool,
    /// When it last opened or closed.
    pub since: Tick,
    /// Length of the opening that goes on or ended in this tick, ticks.
    pub open_ticks: u32,
    /// The air falls as if it were open.
    pub air_falls: bool,
    /// Where it falls to, by how its fall slows down.
    pub falls_to: Option<Celsius>,
    /// A switch tells; without one an opening is noticed late, or not at all.
    pub has_switch: bool,
    /// For so long it has been shut, as far as can be told, ticks; 0 while it is or may be open.
    pub shut_ticks: u32,
    /// No switch tells, and no person has just said that it is shut: missing heat may be an opening.
    pub may_be_open: bool,
    /// No switch tells, and who said within the last minute that it is shut has perhaps just shut it.
    pub shut_lately: bool,
}

impl DoorNow {
    /// Air that rises may have done so because somebody shut it.
    #[must_use]
    pub fn may_have_been_shut(&self) -> bool {
        self.may_be_open || self.shut_lately
    }
}

/// Follows the door.
#[derive(Clone, Copy, Debug)]
pub struct DoorWatch {
    open: bool,
    since: Tick,
    closed_ticks: u8,
    air_falls: bool,
    recent: [Option<DoorSecond>; KEPT_SECONDS],
    lowest_open: Celsius,
    /// The lowest reading since a person said that it is shut, and for how long that has been, s,
    /// until heat has been seen.
    said_shut: Option<(Celsius, u32)>,
    /// Since a person last said so, whatever was seen since, s.
    said_s: u32,
    /// Since when the air falls as behind a door ajar, and from where.
    doubt: Option<(Tick, Celsius)>,
    /// The last tick it was or may have been open.
    moved: Tick,
    /// Seconds since what the nominal oven shows means something.
    known_s: u32,
    falls_to: Option<Celsius>,
}

/// What a second tells of the door.
#[derive(Clone, Copy, Debug)]
pub struct DoorSecond {
    /// Mean reading.
    pub reading: Celsius,
    /// The lowest a shut oven could show.
    pub lowest: Celsius,
    /// What the nominal oven would, door shut.
    pub nominal: Celsius,
    /// Slope of a second sensor in the same air, K/s.
    pub slope_b_k_per_s: Option<f32>,
}

impl DoorWatch {
    /// A door taken to be shut at `now`.
    #[must_use]
    pub fn new(now: Tick) -> Self {
        Self {
            open: false,
            since: now,
            closed_ticks: 0,
            air_falls: false,
            recent: [None; KEPT_SECONDS],
            lowest_open: Celsius(f32::INFINITY),
            said_shut: None,
            said_s: SAID_S,
            doubt: None,
            moved: now,
            known_s: 0,
            falls_to: None,
        }
    }

    /// Takes this tick's switch, if one is fitted.
    #[inline]
    pub fn tick(&mut self, now: Tick, switch: Option<Door>) -> DoorNow {
        let open = match switch {
            Some(Door::Open) => {
                self.closed_ticks = 0;
                true
            }
            Some(Door::Closed) => {
                self.closed_ticks = self.closed_ticks.saturating_add(1);
                self.open && self.closed_ticks < CLOSED_TICKS
            }
            None => self.air_falls,
        };
        let (opened, closed) = (open && !self.open, self.open && !open);
        let open_ticks = if self.open { now.since(self.since) } else { 0 };
        if opened || closed {
            self.since = now;
        }
        self.open = open;
        let (since, air_falls, falls_to) = (self.since, self.air_falls, self.falls_to);
        let has_switch = switch.is_some();
        if open || !has_switch && self.is_in_doubt(now) {
            self.moved = now;
        }
        let shut_ticks = now.since(self.moved);
        let may_be_open = !has_switch && self.said_shut.is_none();
        let shut_lately = !has_switch && self.said_s < SAID_LATELY_S;
        DoorNow {
            open,
            opened,
            closed,
            since,
            open_ticks,
            air_falls,
            falls_to,
            has_switch,
            shut_ticks,
            may_be_open,
            shut_lately,
        }
    }

    /// A bake begins or goes on, or its fan stirs what stood: of how hot the element is, or the air, the
    /// nominal oven knows nothing.
    pub fn begin(&mut self) {
        self.known_s = 0;
        self.recent = [None; KEPT_SECONDS];
        self.air_falls = false;
    }

    /// Takes what a second tells.
    pub fn second(&mut self, now: Tick, second: &DoorSecond) {
        let reading = second.reading;
        self.follow_heat(reading);
        self.known_s = self.known_s.saturating_add(1);
        self.said_s = self.said_s.saturating_add(1);
        take_in(&mut self.recent, Some(*second));
        let oldest = self.recent[FALL_SECONDS];
        self.falls_to = self.end_of_fall();
        if self.doubt.is_some_and(|(_, from)| (from - reading).0 < BACK_K) {
            self.doubt = None;
        }
        if self.air_falls {
            self.lowest_open = self.lowest_open.min(reading);
            self.air_falls = (reading - self.lowest_open).0 < RISE_K;
        } else if let Some(oldest) = oldest {
            self.look_for_a_fall(now, second, &oldest);
        }
    }

    fn look_for_a_fall(&mut self, now: Tick, second: &DoorSecond, oldest: &DoorSecond) {
        let fell_k = (oldest.reading - second.reading).0;
        let due_k = TIMES_NOMINAL * (oldest.nominal - second.nominal).0.max(0.0);
        let settled = !self.open && now.since(self.since) >= SETTLE_TICKS;
        let before = self.recent[KEPT_SECONDS - 1];
        let turned = before.is_some_and(|before| oldest.reading >= before.reading);
        let known = (self.known_s >= UNKNOWN_S || turned) && settled;
        let further_k = if known { fell_k - due_k } else { 0.0 };
        let below = fell_k > FAST_FALL_K && (second.lowest - second.reading).0 > BELOW_LOWEST_K;
        // What only one of two sensors sees is no opening.
        let both = second.slope_b_k_per_s.is_none_or(falls_too);
        self.air_falls = both && (below || further_k > FURTHER_K);
        self.lowest_open = second.reading;
        if self.air_falls {
            // What began as a doubt is this opening, and its end will be seen.
            self.doubt = None;
        } else if both && further_k > DOUBT_K && self.doubt.is_none() {
            self.doubt = Some((now, oldest.reading));
        }
    }

    /// Where a fall ends that slows down by the same share in every four seconds.
    fn end_of_fall(&self) -> Option<Celsius> {
        let [Some(new), .., Some(old)] = self.recent else { return None };
        let middle = self.recent[KEPT_SECONDS / 2]?;
        let (late_k, early_k) =
            ((middle.reading - new.reading).0, (old.reading - middle.reading).0);
        let slows = late_k > LEAST_FALL_K && early_k - late_k > SLOWS_BY_K;
        slows.then(|| new.reading - Kelvins(late_k * late_k / (early_k - late_k)))
    }

    fn is_in_doubt(&self, now: Tick) -> bool {
        self.doubt.is_some_and(|(since, _)| now.since(since) < DOUBT_TICKS)
    }

    /// Heat is missing, and where no switch tells that may be an opening.
    pub fn suspect(&mut self, reading: Celsius) {
        self.air_falls = true;
        self.lowest_open = reading;
    }

    /// A person says the door is shut: the air's fall no longer counts.
    pub fn told_shut(&mut self) {
        self.air_falls = false;
        self.doubt = None;
        self.recent = [None; KEPT_SECONDS];
        self.said_shut = Some((Celsius(f32::INFINITY), 0));
        self.said_s = 0;
    }

    /// What a person said holds until heat has been seen; an opening after that is another.
    fn follow_heat(&mut self, reading: Celsius) {
        let said = self.said_shut.map(|(lowest, said_s)| (lowest.min(reading), said_s + 1));
        self.said_shut =
            said.filter(|(lowest, said_s)| (reading - *lowest).0 < HEATED_K && *said_s < SAID_S);
    }
}

/// A second sensor of this slope sees the air fall too.
pub(crate) fn falls_too(slope_k_per_s: f32) -> bool {
    slope_k_per_s < -FALLS_TOO_K_PER_S
}

/// Seconds since a tick, whole.
#[must_use]
pub fn seconds_since(now: Tick, then: Tick) -> u32 {
    now.since(then) / TICKS_PER_SECOND
}
