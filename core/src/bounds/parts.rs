//! One second of the bounds, in parts of about the same work.
//!
//! ```text
//! 0    what the reading says of the air, for all three tracks; the probe on a part; the rack of
//!      the lower track
//! 1 2  every other class of the lower track each
//! 3    oven of the lower track, rack of the upper
//! 4 5  every other class of the upper track each
//! 6    oven of the upper track
//! 7    the nominal track: its oven, and its load half way between the others
//! 8    nothing: what else has to be done between two seconds has this tick
//! ```
//!
//! In doubt a second lower track moves beside these, a class or its oven in a part (`doubt`).
//!
//! WHY: a processor without floating point takes most of a million instructions for a second of a
//! full load, and its tick has a fraction of that. Between its parts a second is half done: parts
//! that moved are a second ahead of the oven they hang in. All rows use the states of the second
//! before, or what part 0 made of them, so that the order of parts changes nothing; what a class can
//! be at is taken from its cells when all are through ([`Bounds::show`]). What is shown is therefore
//! never half of one second and half of the next.
//!
//! Nothing that changes what is inside may come between: the ledger keeps it until the end.

use super::load::Load;
use super::model::Model;
use super::seen::{self, Seen, Sight};
use super::side::Side;
use super::track::{Drive, Radiated, Track};
use super::{Bounds, Second, TICKS};
use crate::units::{Celsius, Reading};

/// Parts of a second.
pub const PARTS: u8 = 9;
/// Shares that one track's classes are moved in.
const SHARES: usize = 2;
/// The rack and the shares of the classes; one track's oven moves with the next one's rack.
const LOAD_PARTS: u8 = 1 + SHARES as u8;

/// What the parts of one second hand on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Course {
    lower: Seen,
    nominal: Seen,
    upper: Seen,
    duty: f32,
    door_open: bool,
    fan: f32,
    load: Load,
    /// What the loads of the lower and of the upper track took so far.
    taken: [Radiated; 2],
}

impl Course {
    pub(super) fn drive<'a>(&self, model: &'a Model, seen: Seen) -> Drive<'a> {
        let Self { duty, door_open, fan, load, .. } = *self;
        Drive { model, seen, duty, door_open, fan, load }
    }
}

impl Bounds {
    /// One whole second.
    pub fn second(&mut self, model: &Model, second: &Second) {
        (0..PARTS).for_each(|part| self.part(model, second, part));
        self.show(model);
    }

    /// One part of a second, from 0 to [`PARTS`] less one; whatever else is asked for is nothing.
    pub fn part(&mut self, model: &Model, second: &Second, part: u8) {
        if part == 0 {
            self.begin(model, second);
        }
        for (side, from) in [(Side::Lower, 0), (Side::Upper, LOAD_PARTS)] {
            if let Some(share) = part.checked_sub(from) {
                self.part_of(side, model, share);
            }
        }
        if part == 2 * LOAD_PARTS + 1 {
            self.end(model, second);
        }
        self.part_in_doubt(model, part);
    }

    fn begin(&mut self, model: &Model, second: &Second) {
        let floor = self.floor(model);
        let see = |track: &Track| self.see(track, model, second, floor);
        let doubted = self.doubt.as_ref().map(|doubt| see(&doubt.lower));
        let course = Course {
            lower: see(&self.lower),
            nominal: see(&self.nominal),
            upper: see(&self.upper),
            duty: f32::from(second.on_ticks.min(TICKS)) / f32::from(TICKS),
            door_open: second.door_open,
            fan: self.fan(model, second.airflow),
            load: self.load,
            taken: [Radiated::default(); 2],
        };
        self.course = Some(course);
        if let (Some(doubt), Some(seen)) = (&mut self.doubt, doubted) {
            doubt.begin_second(seen);
        }
        self.upper_air = self.seen_upper_air(model, second);
        if let Some((_, slope_k_per_s)) = self.slope(second) {
            self.late_k = self.late(model, slope_k_per_s);
        }
        let (lower, upper) = (course.drive(model, course.lower), course.drive(model, course.upper));
        self.follow_probe(model, second, &lower, &upper);
    }

    /// A share of one track: its rack, its classes, or behind all of them its oven.
    fn part_of(&mut self, side: Side, model: &Model, share: u8) {
        let Some(course) = &mut self.course else { return };
        let (track, seen) = match side {
            Side::Lower => (&mut self.lower, course.lower),
            _ => (&mut self.upper, course.upper),
        };
        let drive = course.drive(model, seen);
        let [lower, upper] = &mut course.taken;
        let taken = if side == Side::Lower { lower } else { upper };
        match share {
            0 => track.advance_rack(&drive, &self.chains, taken),
            1..LOAD_PARTS => {
                let share = usize::from(share) - 1;
                track.advance_classes(&drive, &self.chains, share, SHARES, taken);
            }
            LOAD_PARTS => track.advance_oven(&drive, *taken),
            _ => {}
        }
    }

    fn end(&mut self, model: &Model, second: &Second) {
        let Some(course) = self.course else { return };
        let drive = course.drive(model, course.nominal);
        self.nominal.advance_between(&drive, (&self.lower, &self.upper), course.taken);
        self.previous = second.reading;
        self.follow_second_sensor(model, second);
    }

    /// Shows what the parts of a second have come to: until then everything told of a class is of
    /// the second before.
    pub fn show(&mut self, model: &Model) {
        let before = self.ranges;
        self.look(model);
        for (rose_k, (now, before)) in self.rose_k.iter_mut().zip(self.ranges.iter().zip(before)) {
            *rose_k = (now.1 - before.1).0.max(0.0);
        }
    }

    /// Air as one side sees it in this second.
    fn see(&self, track: &Track, model: &Model, second: &Second, floor_c: f32) -> Seen {
        let (side, liner) = (track.side, self.liner(track));
        let sight = match self.slope(second) {
            Some((reading_c, slope)) => {
                let unlagged =
                    seen::unlagged(side, &model.sensor, reading_c, slope, second.widened);
                Sight::through_sensor(side, self.view_ratio, unlagged, liner, floor_c)
            }
            None => Sight::from_model(track.air.celsius(), liner),
        };
        let seen = Seen::of(self.or_second(sight, track, model, second), &model.air);
        // A door may stand open less than it could: the upper side counts on none of it.
        if second.door_open && side == Side::Lower {
            seen.past_open_door(model.ambient.0)
        } else {
            seen
        }
    }

    fn slope(&self, second: &Second) -> Option<(f32, f32)> {
        slope(second.reading, self.previous)
    }

    fn seen_upper_air(&self, model: &Model, second: &Second) -> Celsius {
        let by_first = match self.slope(second) {
            Some((reading_c, slope)) => self.upper_air_now(model, Celsius(reading_c), slope),
            None => Celsius(self.upper.air.celsius()),
        };
        self.seen_upper_air_b(model, second).map_or(by_first, |by_second| by_first.max(by_second))
    }
}

/// A second's reading and its change since the last; both are needed, so after a gap the model's
/// own air serves for one second more.
pub(super) fn slope(now: Option<Reading>, before: Option<Reading>) -> Option<(f32, f32)> {
    let (now, before) = (now?, before?);
    let now_c = now.to_celsius().0;
    Some((now_c, now_c - before.to_celsius().0))
}
