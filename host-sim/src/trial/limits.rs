//! Limits that the log itself says were passed: their rows trip within seconds, whatever is wrong.
//!
//! Only what is logged is held against them, so that a row that says nothing is found out where the
//! bounds did their part: a reading at the air's limit, and a hottest part that no part stands. After a
//! lost supply bounds may be too high for half an hour and heat is held off instead; a reading is no
//! bound and counts all the same.

use crate::files::Setup;
use truesoak_core::persist::Persist;
use truesoak_core::record::Record;
use truesoak_core::units::{Celsius, Reading, TICKS_PER_SECOND};

const SECOND: u32 = TICKS_PER_SECOND;
/// Seconds a limit may be logged as passed: what a row takes, and the rounding of both.
const WITHIN_S: u32 = 3;
/// … and the air's, in the minute after a door: with the drive off its row waits half a minute.
const AFTER_DOOR_S: u32 = 33;
const AFTER_DOOR_TICKS: u32 = 62 * SECOND;

/// Seconds in a row each limit has been logged as passed.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Limits {
    air: Persist,
    part: Persist,
}

impl Limits {
    /// A second without a trip, so long after a door, and after a lost supply or not; what should have
    /// tripped, if anything.
    pub(super) fn second(
        &mut self,
        record: &Record,
        setup: &Setup,
        shut_ticks: u32,
        returned: bool,
    ) -> Option<String> {
        let air_max = setup.bake.bake.limits.air_max;
        let reading = record.reading.map(Reading::to_celsius);
        let stands = setup.load.parts.iter().map(|part| part.max_c).fold(0.0, f64::max);
        let over = record.hottest.is_some_and(|Celsius(hottest)| f64::from(hottest) >= stands);
        let air_within_s = if shut_ticks < AFTER_DOOR_TICKS { AFTER_DOOR_S } else { WITHIN_S };
        let passed = reading.is_some_and(|reading| reading >= air_max);
        let air = self.air.held(passed, air_within_s + 1);
        let part = self.part.held(over && !returned, WITHIN_S + 1);
        let by_air = air.then(|| said("air-over-limit", self.air.count()));
        by_air.or_else(|| part.then(|| said("part-over-limit", self.part.count())))
    }
}

fn said(row: &str, seconds: u32) -> String {
    format!("{row} was logged for {seconds} s and its row said nothing")
}
