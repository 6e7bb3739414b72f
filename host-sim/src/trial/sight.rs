//! What a row of the guard can see of a fault, judged on the plant and on what was commanded.
//!
//! A row's time runs while its fault shows: a weld does nothing while heat is wanted, a wire of a
//! wrong kind only answers to heat. [`Sight`] follows one fault second by second; the time runs from
//! the first of an unbroken run of seconds in which it shows. What a row takes for too little of a rise, or
//! for too much, is what no sound oven of the spread would do from the same moment ([`Beside`]): a
//! weld shows where no drive that is off would let the air go, and how long that took is told all the
//! same.

use super::beside::Beside;
use super::named::{allowed_ticks, reports};
use super::openings::{AFTER_DOOR_TICKS, Doorway, Hidden};
use crate::files::Setup;
use crate::rehearse::{Fault, FaultKind, World};
use truesoak_core::event::Event;
use truesoak_core::guard::TripKind;
use truesoak_core::record::{Phase, Record};
use truesoak_core::units::TICKS_PER_SECOND;

const SECOND: u32 = TICKS_PER_SECOND;
/// A rise that the slowest sound oven has made and the reading has not, K: what the row asks for, and two
/// more, for it knows the slowest oven but by what the nominal one does.
const MISSED_K: f64 = 10.0;
/// Further than the hottest sound oven whose drive is off, and than where it went off, K: what the row
/// asks for.
const HEATED_K: f64 = 3.0;
/// A wrong wire must show so much less than the true rise for so long, K and ticks; the row may take
/// a minute and a half of full duty all the same.
const WRONG_K: f64 = 20.0;
const WRONG_TICKS: u32 = 30 * SECOND;
/// … and it must do so in the first heat, which is what the row judges, ticks: where that heats next to
/// nothing, a wrong wire is no other than a slow oven.
const FIRST_HEAT_TICKS: u32 = 120 * SECOND;
/// Steps of the converter, and K, the plant's air must have moved by under a frozen reading: three
/// times what the row asks for, since its nominal oven may move less.
const FROZEN_STEPS: f64 = 12.0;
const FROZEN_K: f64 = 3.0;
/// A door behind a stuck switch shows in air so far above the room, K.
const FALLS_ABOVE_ROOM_K: f64 = 80.0;
/// Doors leave two sensors alone for so long, ticks.
const APART_AFTER_DOOR_TICKS: u32 = 240 * SECOND;
/// Two sensors must be so much further apart than two sound ones can be, K.
const APART_K: f64 = 5.0;
/// A fall is a door's or none within so long, ticks.
const FALL_TICKS: u32 = 20 * SECOND;
/// A probe must be so far outside everything that is inside, besides what it may be off by, K, and what
/// it lags behind by on a part that cools so fast, K/s.
const ASTRAY_K: f64 = 2.0;
const COOLS_K_PER_S: f64 = 0.5;
/// Lag of the sensor from which a weld has a minute, s.
const SLOW_SENSOR_S: f64 = 30.0;
/// A second's end is up to so late, ticks.
const ROUNDING_TICKS: u32 = SECOND;

/// What a second shows.
pub(super) struct Now<'a> {
    /// Now.
    pub(super) tick: u32,
    /// The second of the bake.
    pub(super) record: &'a Record,
    /// What the sensor is exposed to, with its own lag, °C.
    pub(super) exposed_c: f64,
    /// The true door.
    pub(super) door: Doorway,
    /// Heat was last allowed, and the drive last on, at these ticks.
    pub(super) allowed: u32,
    pub(super) driven: u32,
    /// The drive has been on in every tick since the bake began.
    pub(super) full_so_far: bool,
    /// What a reading is off by.
    pub(super) offset_k: f64,
    /// The part that the probe belongs on hangs in the oven: until then it has no bounds.
    pub(super) probed_inside: bool,
    /// The board asks about a door that stands open, and has no answer.
    pub(super) door_is_asked: bool,
    /// The oven and what is fitted.
    pub(super) setup: &'a Setup,
}

impl Now<'_> {
    /// No switch tells of the door, and the board takes it for open.
    pub(super) fn taken_for_open(&self) -> bool {
        !self.setup.oven.door.switch && self.record.door_open
    }
}

/// What became of a fault.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Fate {
    /// Reported under its own kind, after so many ticks in which it showed; `None` where it was
    /// before its row's time ran.
    Seen(Option<u32>),
    /// The bake would not start with it.
    NoStart,
    /// A trip of another kind came first.
    OtherTrip(TripKind),
    /// It never showed for as long as its row may take.
    NothingToSee,
    /// It showed for longer than its row may take.
    Missed,
}

/// One fault followed.
#[derive(Clone, Debug)]
pub(super) struct Sight {
    /// The fault as it was last known.
    pub(super) fault: Fault,
    /// Its number among those of its kind that struck a running bake, from 1.
    strike: usize,
    shows_since: Option<u32>,
    /// It can no longer be said what its row should see.
    pub(super) is_crowded: bool,
    pub(super) fate: Option<Fate>,
    exposed_from_c: f64,
    /// It has shown at some time.
    pub(super) has_shown: bool,
    /// The bake was running, and the door shut for a while, when it struck.
    struck: Struck,
    /// The drive has been on ever since the bake began.
    at_full_duty: bool,
    /// The drive has been off, with heat allowed and no door about, since then.
    off_since: Option<u32>,
    /// What the sensor was exposed to then, °C.
    off_from_c: f64,
    /// It is a fall that a door explains.
    behind_a_door: bool,
    /// What openings hide.
    hidden: Hidden,
    /// Sound ovens, since nothing disturbs what this fault's row goes by.
    beside: Option<Beside>,
    /// The reading as they began, °C.
    shown_from_c: Option<f64>,
}

/// How things stood when a fault struck.
#[derive(Clone, Copy, Debug)]
pub(super) struct Struck {
    /// What the sensor was exposed to, °C.
    pub(super) exposed_c: f64,
    /// A bake was running.
    pub(super) running: bool,
    /// The door had been shut for so long, ticks.
    pub(super) shut_ticks: u32,
}

impl Sight {
    pub(super) fn new(fault: Fault, strike: usize, struck: Struck) -> Self {
        Self {
            fault,
            strike,
            shows_since: None,
            is_crowded: false,
            fate: None,
            exposed_from_c: struck.exposed_c,
            has_shown: false,
            struck,
            at_full_duty: false,
            off_since: None,
            off_from_c: f64::NAN,
            behind_a_door: false,
            hidden: Hidden::default(),
            beside: None,
            shown_from_c: None,
        }
    }

    /// A second of the plant, `done` ticks into its step, in which so many ticks were driven.
    pub(super) fn truth(&mut self, done: u32, world: &World, on_ticks: u32, truth: &Setup) {
        let begin = match self.fault.kind {
            FaultKind::HeaterDead | FaultKind::SensorDetached => Beside::slowest,
            FaultKind::DriveWelded => Beside::hottest,
            _ => return,
        };
        let over = self.fate.is_some() || self.is_crowded || self.hidden.disturbed;
        if over || !self.struck.running {
            return;
        }
        if self.fault.kind == FaultKind::DriveWelded && on_ticks > 0 {
            self.beside = None;
            return;
        }
        match &mut self.beside {
            Some(ovens) => ovens.second(on_ticks),
            None => self.beside = Some(begin(world, done, truth)),
        }
    }

    /// A trip of another kind would have been a false one: it does nothing a guard should end heat
    /// for under another name, or it has shown what it is.
    pub(super) fn has_a_name(&self) -> bool {
        let harmless = matches!(
            self.fault.kind,
            FaultKind::SupplyLost
                | FaultKind::ButtonStuck
                | FaultKind::DoorLeftOpen
                | FaultKind::StoreFailing
                | FaultKind::ProbeDisagrees
                | FaultKind::SettingsCorrupt
                | FaultKind::ProcessorHung
                | FaultKind::TickOverrun
        );
        harmless || self.has_shown
    }

    /// A second of the bake; ticks it has shown for beyond what its row may take, if it has.
    pub(super) fn second(&mut self, now: &Now<'_>) -> Option<u32> {
        self.at_full_duty = now.full_so_far;
        self.follow_door(now);
        self.follow_drive(now);
        self.follow_fall(now);
        if self.fate.is_some() || self.is_crowded || now.tick >= self.fault.to {
            self.shows_since = None;
            return None;
        }
        if !self.shows(now) {
            self.shows_since = None;
            return None;
        }
        let second_began = now.tick.saturating_sub(SECOND);
        let since = *self.shows_since.get_or_insert(second_began.max(self.from(now)));
        let shown = now.tick.saturating_sub(since);
        let within = self.within(now.setup, since);
        // What falls may be a door, and what answers weakly a slow oven, for as long as its row takes to
        // rule that out; a door that is opened meanwhile hides it.
        let wire =
            matches!(self.fault.kind, FaultKind::ThermocoupleReversed | FaultKind::SensorTypeWrong);
        let by_and_by = wire || self.is_fall();
        self.has_shown |= !by_and_by || shown >= within;
        let over = shown.checked_sub(within + ROUNDING_TICKS)?;
        self.fate = Some(Fate::Missed);
        Some(over)
    }

    /// An event of the board.
    pub(super) fn event(&mut self, tick: u32, event: Event) {
        if self.fate.is_some() {
            return;
        }
        if matches!(event, Event::Answered(..)) {
            self.hidden.answered();
        }
        // The third reset of a bake ends it: that the board is back is not enough then.
        let ends = self.fault.kind == FaultKind::ProcessorHung && self.strike >= 3;
        let enough = !ends || matches!(event, Event::Tripped(_));
        if enough && reports(self.fault.kind, event) {
            let welded = self.fault.kind == FaultKind::DriveWelded;
            let off_since = self.off_since.filter(|_| welded);
            let since = off_since.or(self.shows_since).or(self.shows_from());
            self.fate = Some(Fate::Seen(since.map(|since| tick.saturating_sub(since))));
        } else if let Event::Tripped(kind) = event {
            self.fate = Some(Fate::OtherTrip(kind));
        }
    }

    /// From when it shows where nothing else is needed for that.
    fn shows_from(&self) -> Option<u32> {
        match self.fault.kind {
            FaultKind::ThermocoupleOpen
            | FaultKind::ThermocoupleShort
            | FaultKind::ConverterSilent
            | FaultKind::ReadingStale
            | FaultKind::MemoryCorrupt
            | FaultKind::StoreFailing
            | FaultKind::FanStopped
            | FaultKind::EnclosureHot
            | FaultKind::ClockWrong => Some(self.fault.from),
            FaultKind::ThermocoupleReversed | FaultKind::SensorTypeWrong if self.at_full_duty => {
                Some(self.fault.from)
            }
            FaultKind::SupplyLost | FaultKind::ProcessorHung => Some(self.fault.to),
            FaultKind::TickOverrun if self.strike >= 3 => Some(self.fault.from),
            _ => None,
        }
    }

    /// All was told of that fault with this one: it is a strike within it.
    pub(super) fn covers(&self, fault: &Fault) -> bool {
        let covered = self.fault.kind == fault.kind && self.fault.to >= fault.from;
        covered && matches!(self.fate, Some(Fate::Seen(_)))
    }

    /// Its number among those of its kind, from 1.
    pub(super) fn strike(&self) -> usize {
        self.strike
    }

    /// It struck a running bake.
    pub(super) fn struck_a_bake(&self) -> bool {
        self.struck.running
    }

    /// Since when it has shown, if it shows now.
    pub(super) fn shows_since(&self) -> Option<u32> {
        self.shows_since
    }

    /// The board came back at `to` at the latest: from there on it may take so long to say so. The
    /// third late tick of a bake is told as it ends.
    pub(super) fn due_to_return(&self) -> Option<u32> {
        let late = self.fault.kind == FaultKind::TickOverrun && self.strike >= 3;
        let lost = matches!(self.fault.kind, FaultKind::SupplyLost | FaultKind::ProcessorHung);
        let down = late || lost;
        let open = self.fate.is_none() && !self.is_crowded && self.struck.running;
        (down && open).then_some(self.fault.to)
    }

    /// From when the row's time runs at the earliest.
    fn from(&self, now: &Now<'_>) -> u32 {
        match self.fault.kind {
            FaultKind::PermitWelded => now.allowed.max(self.fault.from),
            FaultKind::DriveWelded => now.driven.max(self.fault.from),
            _ => self.fault.from,
        }
    }

    /// What the row may take, ticks.
    fn within(&self, setup: &Setup, since: u32) -> u32 {
        let by_k = self.fault.by_k.unwrap_or(0.0);
        match self.fault.kind {
            kind @ (FaultKind::ThermocoupleReversed | FaultKind::SensorTypeWrong) => {
                let lapsed = since - self.fault.from.min(since);
                allowed_ticks(kind).unwrap_or(0).saturating_sub(lapsed).max(WRONG_TICKS)
            }
            FaultKind::DoorLeftOpen => setup.bake.bake.limits.door_open_max_s * SECOND,
            FaultKind::ReadingJump if by_k < 0.0 => FALL_TICKS,
            FaultKind::DriveWelded if setup.oven.permit.mains_proof => 5,
            FaultKind::DriveWelded if setup.oven.sensor.lag_s > SLOW_SENSOR_S => 60 * SECOND,
            // Bounds are counted, and logged, a second later.
            kind @ FaultKind::ProbeDisagrees => allowed_ticks(kind).unwrap_or(0) + SECOND,
            kind => allowed_ticks(kind).unwrap_or(0),
        }
    }

    /// In this second the fault shows.
    fn shows(&self, now: &Now<'_>) -> bool {
        let shut_for = |ticks| now.tick.saturating_sub(now.door.moved) >= ticks;
        let heats = now.record.permit && now.record.on_ticks > 0;
        match self.fault.kind {
            FaultKind::ThermocoupleOpen
            | FaultKind::ThermocoupleShort
            | FaultKind::ConverterSilent
            | FaultKind::ReadingStale
            | FaultKind::EnclosureHot
            | FaultKind::ClockWrong
            | FaultKind::MemoryCorrupt
            | FaultKind::StoreFailing => true,
            FaultKind::ReadingJump => !self.behind_a_door && shut_for(AFTER_DOOR_TICKS),
            FaultKind::ThermocoupleReversed | FaultKind::SensorTypeWrong => {
                let missed_k = now.exposed_c - self.exposed_from_c;
                let first = self.fault.from.saturating_add(FIRST_HEAT_TICKS);
                let judged = now.tick <= first || self.shows_since.is_some();
                let shut = shut_for(AFTER_DOOR_TICKS.min(now.tick));
                judged && now.full_so_far && shut && missed_k >= WRONG_K
            }
            FaultKind::ReadingFrozen => {
                // Of an opening that nobody told of no model knows.
                let known = self.hidden.is_back(now.tick);
                known && shut_for(AFTER_DOOR_TICKS) && self.has_moved(now)
            }
            FaultKind::SensorDetached | FaultKind::HeaterDead => {
                let shown_k = now.record.reading.map_or(0.0, |reading| {
                    f64::from(reading.to_celsius().0) - self.shown_from_c.unwrap_or(f64::NAN)
                });
                let due_k = self.beside.as_ref().map_or(0.0, Beside::least_rise_k);
                heats && due_k - shown_k.max(0.0) >= MISSED_K
            }
            FaultKind::SensorMoved => {
                self.hidden.has_been_shut_for(now, APART_AFTER_DOOR_TICKS) && is_apart(now)
            }
            FaultKind::DriveWelded => {
                let sound_c = self.beside.as_ref().map_or(f64::INFINITY, Beside::most_c);
                let proven = now.setup.oven.permit.mains_proof;
                let heated = now.exposed_c - sound_c.max(self.off_from_c) >= HEATED_K;
                self.off_since.is_some() && (proven || heated)
            }
            FaultKind::PermitWelded => now.allowed < now.tick,
            FaultKind::ProbeDisagrees => {
                let probe = &now.setup.oven.probe;
                let off_k = probe.offset_k + COOLS_K_PER_S * probe.lag_s;
                let inside = now.probed_inside && !now.record.door_open;
                inside && is_astray(now.record, ASTRAY_K + off_k)
            }
            FaultKind::DoorLeftOpen => {
                let heated = matches!(
                    now.record.phase,
                    Phase::Ramp | Phase::Approach | Phase::Soak | Phase::Recover
                );
                // Who has not answered is not asked again.
                let told = now.door_is_asked;
                now.setup.oven.door.switch && now.record.door_open && heated && !told
            }
            FaultKind::DoorSwitchStuck => {
                let hot = self.exposed_from_c - now.setup.oven.ambient_c >= FALLS_ABOVE_ROOM_K;
                hot && self.struck.shut_ticks >= AFTER_DOOR_TICKS
            }
            FaultKind::FanStopped => now.record.airflow.is_some(),
            // Told, or not, by whether the board starts and comes back.
            FaultKind::TickOverrun
            | FaultKind::ProcessorHung
            | FaultKind::SettingsCorrupt
            | FaultKind::SupplyLost
            | FaultKind::ButtonStuck => false,
        }
    }

    /// A reading that jumps down by an open door, or by what the board takes for one, does what a door does,
    /// and what one that opens soon hides.
    fn follow_fall(&mut self, now: &Now<'_>) {
        let soon = (self.fault.from + 1..self.fault.from + FALL_TICKS).contains(&now.door.moved);
        let believed = self.has_just_struck(now) && now.taken_for_open();
        let behind = soon || believed || self.struck.shut_ticks < AFTER_DOOR_TICKS;
        self.behind_a_door |= self.is_fall() && behind;
    }

    fn has_just_struck(&self, now: &Now<'_>) -> bool {
        now.tick <= self.fault.from.saturating_add(SECOND)
    }

    fn is_fall(&self) -> bool {
        self.fault.kind == FaultKind::ReadingJump && self.fault.by_k < Some(0.0)
    }

    /// It is a sensor that reads too little and was not seen to begin to: for whoever has but that one, a
    /// sensor that moved.
    pub(super) fn is_behind_a_door(&self) -> bool {
        self.behind_a_door
    }

    /// Since when heat is allowed and none commanded, no opening of the door being in the way.
    fn follow_drive(&mut self, now: &Now<'_>) {
        let shut = now.tick.saturating_sub(now.door.moved) >= AFTER_DOOR_TICKS;
        let off = now.record.permit && now.record.on_ticks == 0;
        if off && shut && self.hidden.is_back(now.tick) {
            let second_began = now.tick.saturating_sub(SECOND);
            if self.off_since.is_none() {
                self.off_since = Some(second_began.max(self.from(now)));
                self.off_from_c = now.exposed_c;
            }
        } else {
            self.off_since = None;
        }
    }

    /// Starts afresh after what would be seen in every row that goes by a rise.
    fn follow_door(&mut self, now: &Now<'_>) {
        self.hidden.second(now);
        if self.hidden.disturbed {
            (self.beside, self.shown_from_c) = (None, None);
        } else if self.shown_from_c.is_none() {
            let read = now.record.reading.map(|reading| f64::from(reading.to_celsius().0));
            // As it strikes the reading may be gone already.
            self.shown_from_c =
                if self.has_just_struck(now) { Some(self.reading_from_c(now)) } else { read };
        }
    }

    /// What the reading showed as the fault struck: what the sensor was exposed to, but for what a
    /// reading is off by, which is in both and falls out only if it is in both.
    fn reading_from_c(&self, now: &Now<'_>) -> f64 {
        self.exposed_from_c + now.offset_k
    }

    fn has_moved(&self, now: &Now<'_>) -> bool {
        let least_k = FROZEN_K.max(FROZEN_STEPS * now.setup.oven.sensor.resolution_k);
        (now.exposed_c - self.exposed_from_c).abs() >= least_k
    }
}

/// Two sensors further apart than sound ones can be, whatever they see.
fn is_apart(now: &Now<'_>) -> bool {
    let (Some(a), Some(b)) = (now.record.reading, now.record.reading_b) else { return false };
    let spread = &now.setup.oven.spread;
    let sound_k = 2.0 * spread.sensor_offset_k + spread.cold_spot_k + spread.hot_spot_k;
    let view =
        now.setup.oven.sensor_b.map_or(0.0, |b| b.wall_view - now.setup.oven.sensor.wall_view);
    let wall_k = 60.0 * view.abs();
    let apart_k = f64::from((a.to_celsius() - b.to_celsius()).0).abs();
    apart_k > sound_k + wall_k + APART_K
}

/// The probe shows what nothing inside can be at, by so much, K.
fn is_astray(record: &Record, by_k: f64) -> bool {
    let (Some(probe), Some(coldest), Some(hottest)) =
        (record.part_probe, record.coldest, record.hottest)
    else {
        return false;
    };
    let outside_k = (coldest - probe.to_celsius()).0.max((probe.to_celsius() - hottest).0);
    f64::from(outside_k) > by_k
}
