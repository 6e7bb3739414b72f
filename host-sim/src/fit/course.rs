//! What a log says was done to an oven, and what was read meanwhile.
//!
//! Heat, doors, the load and the fan are taken as they were logged; the readings become samples to
//! compare with. A row's reading is the mean of the second that ends with it and its duty holds
//! since the row before, so a logger that writes less often than once a second serves as well. A log
//! is used up to its first gap, trip or lost supply: what was done then is not in it. Samples are left
//! out while the door is open and for two minutes after. Refuses a log too short, too still or never
//! heated.

use super::Unfit;
use crate::files::load::Load;
use crate::files::oven::Oven;
use crate::files::{Carried, read_carried};
use crate::log::{Log, Row};
use truesoak_core::bake::{Bake, Purpose, Step};
use truesoak_core::event::Event;

/// Readings are compared in means over so long, ticks.
pub(super) const BLOCK_TICKS: u32 = 100;
/// A second's mean stands for its middle, ticks before its end.
const MIDDLE_TICKS: u32 = 5;
/// Left out after a door, ticks: its air is not mixed yet.
const AFTER_DOOR_TICKS: u32 = 1_200;
/// Rows further apart than the usual by this factor have a gap between them.
const GAP: f64 = 3.0;
/// Rows further apart than this say nothing of when the heat was on, ticks.
const APART_MAX_TICKS: u32 = 600;
/// Shortest log that says anything, ticks (20 min).
const SHORTEST_TICKS: u32 = 12_000;
/// Least that the reading must move, K.
const MOVES_K: f64 = 30.0;
/// An oven this near its room's temperature starts cold: all of it at one temperature, K.
const COLD_K: f64 = 8.0;

/// Something done to the oven.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Act {
    /// The door opens or, at 0, closes.
    Door(f64),
    /// Parts go in: which, and whether coated.
    PutIn(Vec<bool>, bool),
    /// Parts go out.
    TakeOut,
    /// The fan runs or stands.
    Fan(bool),
}

/// One reading.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Sample {
    /// When, ticks.
    pub tick: u32,
    /// °C.
    pub celsius: f64,
}

/// A log as the plant is driven by it.
#[derive(Clone, Debug)]
pub struct Course {
    /// The log's name.
    pub name: String,
    /// What is inside, when it is.
    pub(super) load: Load,
    /// What was done, in order of time.
    pub(super) acts: Vec<(u32, Act)>,
    /// Share of full power up to each tick.
    pub(super) duty: Vec<(u32, f64)>,
    /// Air readings.
    pub(super) air: Vec<Sample>,
    /// Part probe readings while its part is inside.
    pub(super) probe: Vec<Sample>,
    /// First air reading, °C.
    pub(super) first_c: f64,
    /// All of the oven was at that temperature.
    pub(super) is_cold: bool,
    /// Any door was opened.
    pub(super) has_doors: bool,
    /// What a person should know of how it was used.
    pub notes: Vec<String>,
}

impl Course {
    /// Of a log; `oven` is the one it is held against.
    ///
    /// # Errors
    /// A log that cannot be followed or says nothing.
    pub fn of(log: &Log, name: &str, oven: &Oven) -> Result<Self, Unfit> {
        let header = &log.header;
        let carried = Carried {
            bake: header.bake.as_deref(),
            oven: header.oven.as_deref(),
            load: header.load.as_deref(),
            set: &header.set,
        };
        let (bake, load) = read_carried(&carried, name).map_err(Unfit::Files)?;
        let empty = Load { name: String::new(), parts: Vec::new(), rack: None, coating: None };
        let rows: Vec<&Row> = log.seconds().collect();
        let mut course = Self {
            name: name.to_owned(),
            load: load.unwrap_or(empty),
            acts: Vec::new(),
            duty: Vec::new(),
            air: Vec::new(),
            probe: Vec::new(),
            first_c: f64::NAN,
            is_cold: false,
            has_doors: false,
            notes: Vec::new(),
        };
        if let crate::log::End::Torn { what, .. } = &log.end {
            course.notes.push(format!("{name}: {what}"));
        }
        let end = course.usable(log, &rows);
        let rows = rows.get(..end).unwrap_or_default();
        course.heat(rows);
        course.events(log, rows, bake.as_ref().map(|file| &file.bake));
        course.readings(rows);
        course.judge(oven)?;
        Ok(course)
    }

    /// How many rows can be used, and why not more.
    fn usable(&mut self, log: &Log, rows: &[&Row]) -> usize {
        let mut steps: Vec<u32> = rows.windows(2).map(|two| two[1].tick - two[0].tick).collect();
        steps.sort_unstable();
        let usual = steps.get(steps.len() / 2).copied().unwrap_or(10).max(10);
        let apart = |two: &[&Row]| f64::from(two[1].tick - two[0].tick) > GAP * f64::from(usual);
        let gap = rows.windows(2).position(apart).map(|at| (at + 1, "has a gap"));
        let stop = log.rows.iter().find(|row| {
            matches!(
                Event::parse(&row.event),
                Some(Event::Tripped(_) | Event::SupplyReturned { .. })
            )
        });
        let stop = stop.map(|stop| {
            let at = rows.iter().position(|row| row.tick >= stop.tick).unwrap_or(rows.len());
            (at, "has a trip or a lost supply")
        });
        let Some((end, why)) = gap.into_iter().chain(stop).min_by_key(|(at, _)| *at) else {
            return rows.len();
        };
        let at_min = rows.get(end.saturating_sub(1)).map_or(0.0, |row| row.t_s() / 60.0);
        self.notes
            .push(format!("{} {why} after {at_min:.0} min and is used up to there", self.name));
        end
    }

    fn heat(&mut self, rows: &[&Row]) {
        let first = rows.first().map_or(0, |row| row.tick);
        for two in rows.windows(2) {
            let (to, duty) = (two[1].tick - first, two[1].duty());
            match self.duty.last_mut() {
                Some(last) if (last.1 - duty).abs() < 1e-9 => last.0 = to,
                _ => self.duty.push((to, duty)),
            }
        }
    }

    /// Doors, load and fan, each at its tick.
    fn events(&mut self, log: &Log, rows: &[&Row], bake: Option<&Bake>) {
        let (Some(first), Some(last)) = (rows.first(), rows.last()) else { return };
        let since = |tick: u32| tick.saturating_sub(first.tick);
        let mut loads = false;
        let by_switch = rows.iter().any(|row| row.door_open.is_some());
        let mut opened = 0;
        for row in log.rows.iter().filter(|row| (first.tick..=last.tick).contains(&row.tick)) {
            let tick = since(row.tick);
            match Event::parse(&row.event) {
                Some(Event::DoorOpened) if !by_switch => self.acts.push((tick, Act::Door(1.0))),
                Some(Event::DoorClosed) if !by_switch => self.acts.push((tick, Act::Door(0.0))),
                Some(Event::LoadOpened) => opened = tick,
                Some(Event::LoadClosed) => {
                    loads = true;
                    let step = usize::from(row.step.saturating_sub(1));
                    // Half way through the opening, as hands go.
                    let at = opened + (tick - opened) / 2;
                    self.acts.push((at, self.put_in(purpose_from(bake, step))));
                }
                Some(Event::PartsOut) => self.acts.push((tick, Act::TakeOut)),
                _ => {}
            }
        }
        let is_first = |step: &&Step| matches!(step, Step::LoadIn(_) | Step::Soak(_));
        let starts_inside = match bake.and_then(|bake| bake.steps.iter().find(is_first)) {
            Some(step) => matches!(step, Step::Soak(_)),
            None => !loads,
        };
        if starts_inside && !(self.load.parts.is_empty() && self.load.rack.is_none()) {
            self.acts.push((0, self.put_in(purpose_from(bake, 0))));
        }
        self.switch(rows, by_switch);
        self.acts.sort_by_key(|(tick, _)| *tick);
        self.has_doors = self.acts.iter().any(|(_, act)| matches!(act, Act::Door(_)));
    }

    /// Door by its switch, fan by its proof.
    fn switch(&mut self, rows: &[&Row], by_switch: bool) {
        let first = rows.first().map_or(0, |row| row.tick);
        let proven = rows.iter().any(|row| row.flags.airflow);
        // What a row shows began with the row before.
        let (mut open, mut blows, mut began) = (false, true, 0);
        for row in rows {
            let tick = began;
            began = row.tick.saturating_sub(first);
            let now = row.door_open == Some(true);
            if by_switch && now != open {
                self.acts.push((tick, Act::Door(f64::from(u8::from(now)))));
                open = now;
            }
            if proven && row.flags.airflow != blows {
                blows = row.flags.airflow;
                self.acts.push((tick, Act::Fan(blows)));
            }
        }
    }

    fn put_in(&self, purpose: Purpose) -> Act {
        let inside = self.load.parts.iter().map(|part| part.gas_out || purpose != Purpose::GasOut);
        Act::PutIn(inside.collect(), purpose == Purpose::Cure)
    }

    fn readings(&mut self, rows: &[&Row]) {
        let first = rows.first().map_or(0, |row| row.tick);
        let probed = self.load.parts.iter().position(|part| part.probe);
        let (mut acts, mut open, mut shut_since, mut inside) =
            (self.acts.iter().peekable(), false, None, false);
        for row in rows {
            let tick = row.tick.saturating_sub(first);
            while let Some((_, act)) = acts.next_if(|(at, _)| *at <= tick) {
                match act {
                    Act::Door(share) => {
                        open = *share > 0.0;
                        shut_since = Some(tick);
                    }
                    Act::PutIn(marks, _) => {
                        inside = probed.and_then(|part| marks.get(part)) == Some(&true);
                    }
                    Act::TakeOut => inside = false,
                    Act::Fan(_) => {}
                }
            }
            let mixed = shut_since.is_none_or(|since| tick >= since + AFTER_DOOR_TICKS);
            if open || !mixed || row.flags.projected {
                continue;
            }
            let at = |celsius: f64| Sample { tick: tick.saturating_sub(MIDDLE_TICKS), celsius };
            self.air.extend(row.air.map(|air| at(f64::from(air.to_celsius().0))));
            let probe = row.part_probe.filter(|_| inside);
            self.probe.extend(probe.map(|probe| at(f64::from(probe.to_celsius().0))));
        }
    }

    /// What makes a log say something.
    fn judge(&mut self, oven: &Oven) -> Result<(), Unfit> {
        let fail = |what: String, expected: &str| Err(Unfit::log(&self.name, what, expected));
        let end = self.duty.last().map_or(0, |(to, _)| *to);
        if end < SHORTEST_TICKS {
            let what = format!("the log covers {:.0} min that can be used", f64::from(end) / 600.0);
            return fail(what, "20 min or more, heated and left to cool");
        }
        let readings = self.air.iter().map(|sample| sample.celsius);
        let (low, high) = readings
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), c| (low.min(c), high.max(c)));
        if high - low < MOVES_K {
            let moved = (high - low).max(0.0);
            let what = format!("the air reading moves by {moved:.1} K and no more");
            return fail(what, "a reading that moves by 30 K or more");
        }
        if self.duty.len() < 2 {
            let what = format!("the heater's duty never changes: {:.1} throughout", self.duty[0].1);
            return fail(what, "heat and no heat in one log: only then is one told from the other");
        }
        let apart = self.air.windows(2).map(|two| two[1].tick - two[0].tick).min().unwrap_or(0);
        if apart > APART_MAX_TICKS {
            let what = "the rows are too far apart".to_owned();
            return fail(what, "a row a second, or at least one a minute");
        }
        self.first_c = self.air.first().map_or(f64::NAN, |sample| sample.celsius);
        self.is_cold = (self.first_c - oven.ambient_c).abs() <= COLD_K;
        Ok(())
    }
}

/// Purpose of the first soak from a step on.
fn purpose_from(bake: Option<&Bake>, step: usize) -> Purpose {
    let soaks = bake.into_iter().flat_map(|bake| bake.steps.iter().skip(step));
    let mut purposes = soaks.filter_map(|step| match step {
        Step::Soak(soak) => Some(soak.purpose),
        _ => None,
    });
    purposes.next().unwrap_or(Purpose::Other)
}
