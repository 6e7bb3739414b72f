//! The door: open or shut, from its switch or, without one, from the air's own fall.
//!
//! A shut oven can cool only so fast: the bounds give the lowest reading any oven of the spread
//! could show. A reading that falls below that, and fast, means an open door. Without a switch that
//! is believed; with a switch that says "closed" it is for the guard to judge.

use crate::io::Door;
use crate::units::{Celsius, TICKS_PER_SECOND, Tick};

/// A fall of this much within [`FALL_SECONDS`] is fast, K.
const FAST_FALL_K: f32 = 5.0;
/// Seconds over which a fall is measured.
const FALL_SECONDS: usize = 6;
/// How far below the lowest possible reading before a fall is believed, K.
const BELOW_LOWEST_K: f32 = 2.0;
/// A rise of this much above the lowest reading since it opened means shut again, K.
const RISE_K: f32 = 1.5;
/// The switch must say "closed" for so many ticks before it is believed.
const CLOSED_TICKS: u8 = 3;

/// The door in one tick.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
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
    /// A switch tells; without one an opening is noticed late, or not at all.
    pub has_switch: bool,
}

/// Follows the door.
#[derive(Clone, Copy, Debug)]
pub struct DoorWatch {
    open: bool,
    since: Tick,
    closed_ticks: u8,
    air_falls: bool,
    recent: [Option<Celsius>; FALL_SECONDS],
    lowest_open: Celsius,
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
            recent: [None; FALL_SECONDS],
            lowest_open: Celsius(f32::INFINITY),
        }
    }

    /// Takes this tick's switch, if one is fitted.
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
        let (since, air_falls) = (self.since, self.air_falls);
        let has_switch = switch.is_some();
        DoorNow { open, opened, closed, since, open_ticks, air_falls, has_switch }
    }

    /// Takes a second's mean reading and the lowest a shut oven could show.
    pub fn second(&mut self, reading: Option<Celsius>, lowest: Celsius) {
        let Some(reading) = reading else { return };
        self.recent.rotate_right(1);
        let oldest = self.recent[0].replace(reading);
        if self.air_falls {
            self.lowest_open = self.lowest_open.min(reading);
            self.air_falls = (reading - self.lowest_open).0 < RISE_K;
        } else if let Some(oldest) = oldest {
            let fell_k = (oldest - reading).0;
            self.air_falls = fell_k > FAST_FALL_K && (lowest - reading).0 > BELOW_LOWEST_K;
            self.lowest_open = reading;
        }
    }

    /// A person says the door is shut: the air's fall no longer counts.
    pub fn told_shut(&mut self) {
        self.air_falls = false;
        self.recent = [None; FALL_SECONDS];
    }
}

/// Seconds since a tick, whole.
#[must_use]
pub fn seconds_since(now: Tick, then: Tick) -> u32 {
    now.since(then) / TICKS_PER_SECOND
}
