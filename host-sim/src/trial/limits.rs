//! Limits that the log itself says were passed: their rows trip, or tell, within seconds, whatever is wrong.
//!
//! Only what is logged is held against them, and what is recounted from that: so a row that says nothing
//! is found out where the bounds did their part. A reading at the air's limit, a bound of the air or of a
//! part at its own, and air that no oven of the spread has. After a lost supply bounds may be too high for
//! half an hour and heat is held off instead; a reading is no bound and counts all the same.

use crate::files::Setup;
use truesoak_core::bounds::model::Model;
use truesoak_core::ledger::Ledger;
use truesoak_core::persist::Persist;
use truesoak_core::record::Record;
use truesoak_core::units::{Celsius, Kelvins, Reading, TICKS_PER_SECOND};

const SECOND: u32 = TICKS_PER_SECOND;
/// Seconds a limit may be logged as passed: what a row takes, and the rounding of both.
const WITHIN_S: u32 = 3;
/// … and the air's bound, whose row takes 3 s where the drive has been off for so long, s.
const COASTS_S: u32 = 5;
const OFF_S: u32 = 5;
/// … and the air's, in the minute after a door: with the drive off its row waits half a minute.
const AFTER_DOOR_S: u32 = 33;
const AFTER_DOOR_TICKS: u32 = 62 * SECOND;
/// … and its bound where no switch tells of a door; longer while what is read does not rise by so much in
/// so many seconds, K, for nothing heats it then.
const UNSEEN_S: u32 = 93;
const RESTS_S: u32 = 303;
const RESTS_K: Kelvins = Kelvins(0.2);
const SLOPE_SECONDS: usize = 4;
/// The bound is taken of a second's mean, and the row's of a tick: so much further counts, K.
const BOUND_K: Kelvins = Kelvins(1.0);
/// Air that no oven of the spread has, by more than this, K, may be read for so long, s.
const OUTSIDE_K: Kelvins = Kelvins(1.0);
const OUTSIDE_S: u32 = 124;

/// What a second is held against.
pub(super) struct Passed<'a> {
    pub(super) record: &'a Record,
    /// The log recounted up to here.
    pub(super) recount: Option<&'a Ledger>,
    pub(super) model: &'a Model,
    pub(super) setup: &'a Setup,
    /// So long after a door.
    pub(super) shut_ticks: u32,
    /// A supply was lost in this bake.
    pub(super) returned: bool,
}

/// Seconds in a row each limit has been logged as passed.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Limits {
    air: Persist,
    air_bound: Persist,
    off: Persist,
    part: Persist,
    outside: Persist,
    /// Readings of the last seconds, newest first.
    past: [Option<Celsius>; SLOPE_SECONDS],
}

impl Limits {
    /// A second without a trip; what should have tripped, or been told, if anything.
    pub(super) fn second(&mut self, now: &Passed<'_>) -> Option<String> {
        let reading = now.record.reading.map(Reading::to_celsius);
        let air_max = now.setup.bake.bake.limits.air_max;
        let within_s = if now.shut_ticks < AFTER_DOOR_TICKS { AFTER_DOOR_S } else { WITHIN_S };
        let coasts = self.off.held(now.record.on_ticks == 0, OFF_S);
        let seen_s = if coasts { within_s.max(COASTS_S) } else { within_s };
        let unseen_s = if self.rests(reading) { RESTS_S } else { UNSEEN_S };
        let bound_s = if now.setup.oven.door.switch { seen_s } else { unseen_s };
        let read = reading.is_some_and(|reading| reading >= air_max);
        let bound = now.recount.filter(|_| !now.returned).map(Ledger::bounds);
        // A second without a reading has the worst there can be for its bound; the row goes by the last one.
        let seen =
            reading.is_some() && now.model.sensor_b.is_none_or(|_| now.record.reading_b.is_some());
        let bounded = seen && bound.is_some_and(|bounds| bounds.upper_air() >= air_max + BOUND_K);
        let hot = bound.is_some_and(|bounds| {
            let classes = now.model.classes.iter().enumerate();
            let ahead = classes.map(|(index, class)| (bounds.hottest_ahead(index), class.max));
            ahead.into_iter().any(|(hottest, max)| hottest.is_some_and(|hottest| hottest >= max))
        });
        let outside = now.recount.zip(reading).is_some_and(|(ledger, reading)| {
            let bounds = ledger.bounds();
            let off = reading > bounds.reading_highest(now.model) + OUTSIDE_K
                || reading < bounds.reading_lowest(now.model) - OUTSIDE_K;
            off && !now.record.door_open && !ledger.is_outside_model()
        });
        // Each follows its own time, whatever the others found.
        let air = self.air.held(read, within_s + 1);
        let air_bound = self.air_bound.held(bounded, bound_s + 1);
        let part = self.part.held(hot, WITHIN_S + 1);
        let outside = self.outside.held(outside, OUTSIDE_S);
        let said = [
            (air, "air-over-limit", self.air),
            (air_bound, "air-over-limit", self.air_bound),
            (part, "part-over-limit", self.part),
            (outside, "outside-model", self.outside),
        ];
        let (_, row, since) = said.into_iter().find(|(lasted, ..)| *lasted)?;
        Some(format!("{row} was logged for {} s and its row said nothing", since.count()))
    }

    /// Whether the reading does not rise; takes it.
    fn rests(&mut self, reading: Option<Celsius>) -> bool {
        let before = self.past[SLOPE_SECONDS - 1];
        self.past.rotate_right(1);
        self.past[0] = reading;
        reading.zip(before).is_none_or(|(reading, before)| reading - before < RESTS_K)
    }
}
