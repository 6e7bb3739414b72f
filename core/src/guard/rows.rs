//! The rows of the guard. Each is one function that says whether its condition has lasted its time.
//!
//! Rows whose time is a fraction of a second look at every tick, the others at every second's end,
//! when readings, bounds and what the model expects are new; what those found stands for a second.

use super::apart::{self, SensorBudget};
use super::ceiling::Ceiling;
use super::clock::Clock;
use super::first_answer::FirstAnswer;
use super::frozen::Frozen;
use super::response::Response;
use super::{Expectation, TripKind, View};
use crate::door::falls_too;
use crate::io::Door;
use crate::judge::{Judged, Reason};
use crate::persist::Persist;
use crate::units::{Celsius, Kelvins, TICKS_PER_SECOND, Tick};

const SECOND: u32 = TICKS_PER_SECOND;

/// Weight of bad transfers that trips: five in a row, 0.5 s.
const BAD_WEIGHT: u16 = 10;
/// Doubt for any reason that trips, ticks (with the 0.5 s before staleness: 5 s).
const DOUBT_TICKS: u16 = 44;
/// An upward jump trips, ticks.
const JUMP_UP_TICKS: u16 = 15;
/// A downward jump trips, ticks: the time the door hypothesis has to be settled in.
const JUMP_DOWN_TICKS: u16 = 190;
/// Reading above the highest trajectory of the spread, K.
const ABOVE_HIGHEST_K: f32 = 3.0;
/// … for so long, s.
const ABOVE_HIGHEST_S: u32 = 2;
/// Reading below the lowest trajectory of the spread, K.
const BELOW_LOWEST_K: f32 = 2.0;
/// … for so long, s.
const NO_RESPONSE_S: u32 = 55;
/// Mains at a heater that is commanded off, ticks.
const MAINS_TICKS: u32 = 4;
/// Contactor closed after the last toggle, ticks.
const PERMIT_TICKS: u32 = 15;
/// An air limit reached with the drive commanded off for so long is a welded drive, ticks.
const OFF_TICKS: u32 = 5 * SECOND;
/// Air bound over its limit, ticks.
const AIR_LIMIT_TICKS: u32 = 2;
/// … with the drive off long since and the reading below: noise in the slope of a second or two is
/// enough for all their ticks, where an element has warmed the air to just below. What a weld heats
/// rises on.
const AIR_LIMIT_OFF_TICKS: u32 = 3 * SECOND;
/// … with the drive off and the reading on its way back from a door: how fast the sensor follows is
/// not known well, so the bound of a slow one is far too high until the reading slows down.
const AIR_LIMIT_BACK_TICKS: u32 = 30 * SECOND;
/// … and so long where no switch tells when that was, and the reading is below it …
const AIR_LIMIT_UNSEEN_TICKS: u32 = 90 * SECOND;
/// … or so long while the reading does not rise by this, K/s: nothing heats it, and the bound comes down
/// with the liner.
const AIR_LIMIT_RESTS_TICKS: u32 = 300 * SECOND;
const RESTS_K_PER_S: f32 = 0.05;
/// In a bake that goes on after a lost supply the liner may be any, so what the sensor sees of it may
/// be, and the air's bound far too high; and any part may be as hot as the hottest of all was. For so
/// long drive and permit are off while a bound is over its limit, and no trip, ticks.
const UNCLEAR_TICKS: u32 = 30 * 60 * SECOND;
/// How hot the nominal oven is means nothing for so long after a lost supply, ticks.
const UNKNOWN_TICKS: u32 = 15 * 60 * SECOND;
/// So long after a door the reading is on its way back, ticks.
const BACK_TICKS: u32 = 60 * SECOND;
/// Openings in one bake that nothing tells but missing heat: who says time after time that the door is
/// shut is right.
const SUSPICIONS_MAX: u8 = 3;
/// Switch says closed while the air falls, s; the fall itself takes up to 11 s to be told.
const SWITCH_STUCK_S: u32 = 9;
/// … where it seems to fall to the room, s: how a fall slows down tells where it ends only by and by.
const SEES_ROOM_S: u32 = 14;
/// A sensor that sees this little above the room hangs in the room, K.
const SEES_ROOM_K: f32 = 12.0;
/// A fan that comes back, from standing still or with the supply, takes so long to mix what stood, s.
const STIRS_S: u32 = 60;
/// No airflow, s until heat is held off.
const FAN_HEAT_OFF_S: u32 = 5;
/// No airflow, s until the trip.
const FAN_S: u32 = 60;
/// Enclosure over its limit, s.
const ENCLOSURE_S: u32 = 5;
/// Highest cold junction, °C.
const ENCLOSURE_MAX: Celsius = Celsius(65.0);
/// Second sensor beyond the budget, s: with the time its own lag takes to get there, where both
/// are off the other way, a minute.
const MOVED_S: u32 = 34;
/// Door shut so long before two sensors are compared, ticks.
const MOVED_SETTLE_TICKS: u32 = 180 * SECOND;
/// Reading outside the envelope, s until nothing counts.
const OUTSIDE_S: u32 = 120;
/// How far outside, K.
const OUTSIDE_K: f32 = 1.0;
/// Probe outside its own part's bounds, s until it is ignored: found when the second it leaves them
/// in is through, and they move with what it raised.
const PROBE_S: u32 = 25;

/// Constants of the oven that rows compare with.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Standing {
    /// Room.
    pub ambient: Celsius,
    /// Step of the converter.
    pub resolution: Kelvins,
    /// Standard deviation of one transfer.
    pub noise: Kelvins,
    /// Time constant of the sensor, s.
    pub sensor_lag_s: f32,
    /// Longest it may be, s.
    pub sensor_lag_longest_s: f32,
    /// Largest honest difference of two air sensors.
    pub sensor_budget: SensorBudget,
    /// No fan, or one whose airflow is proven.
    pub fan_is_known: bool,
}

/// State of all rows.
#[derive(Clone, Copy, Debug, Default)]
pub struct Rows {
    over_air: Persist,
    off: Persist,
    mains: Persist,
    permit: Persist,
    below: Persist,
    response: Response,
    above: Persist,
    ceiling: Ceiling,
    stuck: Persist,
    fan: Persist,
    /// The fan stands, or mixes for so many more seconds what stood.
    stirs_s: u32,
    enclosure: Persist,
    moved: Persist,
    outside: Persist,
    outside_model: bool,
    probe: Persist,
    probe_ignored: bool,
    /// Heat is missing where that may be an opening which no switch tells.
    suspects_door: bool,
    /// How often in this bake.
    suspicions: u8,
    /// What the rows of seconds found last.
    found: Option<TripKind>,
    frozen: Frozen,
    first_answer: FirstAnswer,
    clock: Clock,
    /// When the bake went on after a lost supply.
    went_on: Option<Tick>,
    /// Ticks heat was allowed since then without being given, because a bound was too high …
    unclear: Option<u32>,
    /// … and when that was last so.
    last_unclear: Option<Tick>,
    /// A bound is at its limit …
    over: bool,
    /// … and that is no trip yet.
    unclear_over: bool,
    /// Two sensors differ.
    apart: bool,
}

impl Rows {
    /// Of a bake that goes on after a lost supply, with everything hot nobody knows how hot.
    pub(super) fn of_a_bake_that_goes_on(now: Tick) -> Self {
        // What the sensor is has been seen on the first heat of the bake.
        let first_answer = FirstAnswer::given();
        let stirs_s = STIRS_S;
        Self { first_answer, stirs_s, went_on: Some(now), unclear: Some(0), ..Self::default() }
    }

    /// Runs every row; the gravest found comes first.
    pub fn tick(&mut self, view: &View<'_>) -> Option<TripKind> {
        self.suspects_door = false;
        if let Some(on_ticks) = view.second_on_ticks {
            let found = self.second(view, on_ticks);
            let misses = found == Some(TripKind::NoResponse) && view.door.may_be_open;
            self.suspicions = self.suspicions.saturating_add(u8::from(misses));
            self.suspects_door = misses && self.suspicions <= SUSPICIONS_MAX;
            self.found = found.filter(|_| !self.suspects_door);
        }
        // Every row follows its own time, whatever the others found.
        let air = self.air_over_limit(view);
        let part = self.part_over_limit(view);
        let permit = self.permit_welded(view);
        let drive = self.drive_welded_by_mains(view);
        if air.is_some() {
            air
        } else if part {
            Some(TripKind::PartOverLimit)
        } else if permit {
            Some(TripKind::PermitWelded)
        } else if drive {
            Some(TripKind::DriveWelded)
        } else {
            self.others(view)
        }
    }

    /// What comes behind those: sensors, what the rows of seconds found last, and memory.
    fn others(&self, view: &View<'_>) -> Option<TripKind> {
        if !view.baking {
            return self.found;
        }
        let corrupt = (!view.inputs.health.memory).then_some(TripKind::MemoryCorrupt);
        sensor_bad(view).or_else(|| jump(view)).or(self.found).or(corrupt)
    }

    /// The rows of seconds; `on_ticks` of the one that has ended the drive was on.
    fn second(&mut self, view: &View<'_>, on_ticks: u8) -> Option<TripKind> {
        self.follow_outside_model(view);
        self.follow_probe(view);
        self.stirs_s = if view.fan_stands() { STIRS_S } else { self.stirs_s.saturating_sub(1) };
        let known = self.went_on.is_none_or(|when| view.now.since(when) >= UNKNOWN_TICKS);
        // Of two sensors that differ it is not known which went where; their own row tells.
        let apart = view.air_b.is_some_and(|air_b| apart::are_apart(view, air_b));
        self.apart = apart;
        let missing = self.response.is_missing(view, known, apart);
        self.first_answer
            .judge(view, on_ticks)
            .or(self.drive_welded(view, apart))
            .or(self.ceiling.is_passed(view, on_ticks, apart).then_some(TripKind::DriveWelded))
            .or(self.frozen.is_frozen(view).then_some(TripKind::ReadingFrozen))
            .or(self.no_response(view))
            .or(missing.then_some(TripKind::NoResponse))
            .or(self.door_switch_stuck(view))
            .or(self.sensor_moved(view, apart))
            .or(self.fan_stopped(view))
            .or(self.enclosure_hot(view))
            .or(self.clock.is_wrong(view).then_some(TripKind::ClockWrong))
    }

    /// The fan has stood still long enough that heat is held off.
    #[must_use]
    pub fn fan_holds_heat_off(&self) -> bool {
        self.fan.count() >= FAN_HEAT_OFF_S
    }

    /// The air falls by being stirred, or will: no door does that.
    #[must_use]
    pub fn stirs(&self) -> bool {
        self.stirs_s > 0
    }

    /// The air's bound or a part's is at its limit: the drive is off from this tick on, trip or none.
    #[must_use]
    pub fn is_over(&self) -> bool {
        self.over
    }

    /// It is, in a bake that goes on after a lost supply, where that is no trip yet: until it is clear
    /// the permit is off too, for a drive that is welded heeds nobody.
    #[must_use]
    pub fn holds_permit_off(&self) -> bool {
        self.unclear_over
    }

    /// Heat is missing, and where no switch tells that may be an opening.
    #[must_use]
    pub fn suspects_door(&self) -> bool {
        self.suspects_door
    }

    /// The air answered duty in a way no oven of the spread does: nothing counts any more.
    #[must_use]
    pub fn outside_model(&self) -> bool {
        self.outside_model
    }

    /// The part probe disagreed once and is ignored.
    #[must_use]
    pub fn probe_ignored(&self) -> bool {
        self.probe_ignored
    }

    fn air_over_limit(&mut self, view: &View<'_>) -> Option<TripKind> {
        let reading = view.air.latest;
        let air = view.expectation.map_or(reading, |expectation| Some(expectation.upper_air));
        // A not-a-number is not below the limit, so it counts as over.
        self.over = !air.is_none_or(|air| air.0.is_finite() && air < view.air_max);
        let off = self.off.held(!view.commanded.drives(), OFF_TICKS);
        self.follow_unclear(view);
        // What is read is no bound, and high enough.
        let read = reading.is_some_and(|reading| reading >= view.air_max);
        if !self.over || (self.unclear.is_some() && !read) {
            self.over_air.clear();
            return None;
        }
        // What a door let out an element gives the air that it heated meanwhile, all at once.
        let door = view.door;
        let since = view.now.since(door.since);
        let back = door.shut_lately || door.may_be_open && since < BACK_TICKS;
        let kind = if view.fan_stands() {
            TripKind::FanStopped
        } else if self.apart && view.baking {
            TripKind::SensorMoved
        } else if off && view.baking && !back {
            TripKind::DriveWelded
        } else {
            TripKind::AirOverLimit
        };
        let coasts = !view.commanded.drives();
        let rests = view.air.steady_slope_k_per_s < RESTS_K_PER_S;
        let lasts = if coasts && door.may_have_been_shut() && !read {
            if rests { AIR_LIMIT_RESTS_TICKS } else { AIR_LIMIT_UNSEEN_TICKS }
        } else if coasts && since < BACK_TICKS {
            AIR_LIMIT_BACK_TICKS
        } else if kind == TripKind::DriveWelded && !read {
            AIR_LIMIT_OFF_TICKS
        } else {
            AIR_LIMIT_TICKS
        };
        self.over_air.held(true, lasts).then_some(kind)
    }

    /// A bound that a return has put too high holds heat and permit off as well, and is no trip: a
    /// part's comes down more slowly than the air's, and may pass its limit again with the first heat.
    fn part_over_limit(&mut self, view: &View<'_>) -> bool {
        let over = view.expectation.is_some_and(|expectation| expectation.part_over_limit);
        let unclear = self.last_unclear.is_some_and(|when| view.now.since(when) < UNCLEAR_TICKS);
        self.over |= over;
        self.unclear_over = self.over && unclear;
        over && !unclear
    }

    /// The bound of a bake that goes on has been clear of its limit once heat is given again.
    fn follow_unclear(&mut self, view: &View<'_>) {
        let Some(ticks) = self.unclear else { return };
        self.last_unclear = Some(view.now);
        let waits = u32::from(view.commanded.is_allowed() || self.over);
        let ticks = ticks.saturating_add(waits);
        let goes_on = !view.commanded.drives() && ticks < UNCLEAR_TICKS;
        self.unclear = goes_on.then_some(ticks);
    }

    fn permit_welded(&mut self, view: &View<'_>) -> bool {
        let closed = view.inputs.permit_feedback == Some(true) && !view.commanded.is_allowed();
        self.permit.held(closed, PERMIT_TICKS)
    }

    fn drive_welded_by_mains(&mut self, view: &View<'_>) -> bool {
        let mains = view.inputs.mains_at_heater == Some(true) && !view.commanded.drives();
        self.mains.held(mains, MAINS_TICKS)
    }

    fn drive_welded(&mut self, view: &View<'_>, apart: bool) -> Option<TripKind> {
        let above = model_and_reading(view).is_some_and(|(expectation, reading)| {
            (reading - expectation.reading_highest).0 > ABOVE_HIGHEST_K
        });
        // What a drive heats both of two sensors see, and without the permit it heats nothing; air that
        // nothing stirs leaves its heat with the sensor, and the permit is dropped by then.
        let alone = apart || view.air_b.is_some() && !view.commanded.is_allowed();
        let above = above && !view.fan_stands() && !alone;
        self.above.held(above, ABOVE_HIGHEST_S).then_some(TripKind::DriveWelded)
    }

    fn no_response(&mut self, view: &View<'_>) -> Option<TripKind> {
        let below = model_and_reading(view).is_some_and(|(expectation, reading)| {
            (expectation.reading_lowest - reading).0 > BELOW_LOWEST_K
        });
        let heated = view.commanded.is_allowed() && !view.door.open && !view.door.air_falls;
        self.below.held(below && heated, NO_RESPONSE_S).then_some(TripKind::NoResponse)
    }

    /// An air that falls behind a switch that says closed: the switch is stuck, or, where what the
    /// sensor sees comes down to the room itself, the sensor hangs outside.
    fn door_switch_stuck(&mut self, view: &View<'_>) -> Option<TripKind> {
        let falls = view.door.air_falls && view.inputs.door == Some(Door::Closed);
        // What the sensor is drawn to by now; a doorway lets the liner feed the air, the room does not.
        let sees_room = view.air.latest.is_some_and(|latest| {
            let seen = latest + Kelvins(view.standing.sensor_lag_s * view.air.slope_k_per_s);
            let end = view.door.falls_to.map_or(seen, |end| end.max(seen));
            (end - view.standing.ambient).0 < SEES_ROOM_K
        });
        // What a second sensor sees falling too is no sensor that came off.
        let alone = view.air_b.is_none_or(|air_b| !falls_too(air_b.steady_slope_k_per_s));
        let (kind, lasts) = if sees_room && alone {
            (TripKind::NoResponse, SEES_ROOM_S)
        } else {
            (TripKind::DoorSwitchStuck, SWITCH_STUCK_S)
        };
        (self.stuck.held(falls, lasts) && view.baking).then_some(kind)
    }

    fn sensor_moved(&mut self, view: &View<'_>, apart: bool) -> Option<TripKind> {
        let settled = view.door.shut_ticks >= MOVED_SETTLE_TICKS;
        self.moved.held(apart && settled, MOVED_S).then_some(TripKind::SensorMoved)
    }

    fn fan_stopped(&mut self, view: &View<'_>) -> Option<TripKind> {
        self.fan.held(view.fan_stands(), FAN_S).then_some(TripKind::FanStopped)
    }

    fn enclosure_hot(&mut self, view: &View<'_>) -> Option<TripKind> {
        let hot = view
            .inputs
            .cold_junction
            .is_some_and(|junction| !(junction.is_physical() && junction <= ENCLOSURE_MAX));
        self.enclosure.held(hot, ENCLOSURE_S).then_some(TripKind::EnclosureHot)
    }

    fn follow_outside_model(&mut self, view: &View<'_>) {
        let outside = !view.door.open
            && model_and_reading(view).is_some_and(|(expectation, reading)| {
                (reading - expectation.reading_highest).0 > OUTSIDE_K
                    || (expectation.reading_lowest - reading).0 > OUTSIDE_K
            });
        self.outside_model |= self.outside.held(outside, OUTSIDE_S);
    }

    fn follow_probe(&mut self, view: &View<'_>) {
        let disagrees = view.expectation.is_some_and(|expectation| expectation.probe_disagrees);
        self.probe_ignored |= self.probe.held(disagrees, PROBE_S);
    }
}

/// Open, short, silent and stale sensors, while a bake runs or waits.
fn sensor_bad(view: &View<'_>) -> Option<TripKind> {
    bad_kind(view.air).or_else(|| view.air_b.and_then(bad_kind))
}

/// A sensor that has told nothing for longer than any takes to begin; its row finds it then.
pub(crate) fn is_unread_for_good(judged: &Judged) -> bool {
    judged.doubt.is_some_and(|doubt| doubt.ticks >= DOUBT_TICKS)
}

fn bad_kind(judged: &Judged) -> Option<TripKind> {
    let doubt = judged.doubt?;
    let lasted = judged.bad_weight >= BAD_WEIGHT || doubt.ticks >= DOUBT_TICKS;
    match doubt.reason {
        Reason::Open if lasted => Some(TripKind::ThermocoupleOpen),
        Reason::Short if lasted => Some(TripKind::ThermocoupleShort),
        Reason::Silent if lasted => Some(TripKind::ConverterSilent),
        Reason::Stale if doubt.ticks >= DOUBT_TICKS => Some(TripKind::ReadingStale),
        _ => None,
    }
}

/// The cause of a latched trip is still there, for kinds that latch in a bake only.
pub(super) fn stands(kind: TripKind, view: &View<'_>) -> bool {
    let unread = |judged: &Judged| judged.doubt.is_some();
    match kind {
        TripKind::ThermocoupleOpen
        | TripKind::ThermocoupleShort
        | TripKind::ConverterSilent
        | TripKind::ReadingStale
        | TripKind::ReadingJump => unread(view.air) || view.air_b.is_some_and(unread),
        TripKind::MemoryCorrupt => !view.inputs.health.memory,
        _ => false,
    }
}

/// The same of a reading that jumped.
fn jump(view: &View<'_>) -> Option<TripKind> {
    let doubt = view.air.doubt?;
    let jumped = match doubt.reason {
        Reason::JumpUp => doubt.ticks >= JUMP_UP_TICKS,
        Reason::JumpDown => doubt.ticks >= JUMP_DOWN_TICKS,
        _ => false,
    };
    jumped.then_some(TripKind::ReadingJump)
}

fn model_and_reading<'a>(view: &View<'a>) -> Option<(&'a Expectation, Celsius)> {
    let expectation = view.expectation.filter(|_| view.baking)?;
    Some((expectation, expectation.reading?))
}
