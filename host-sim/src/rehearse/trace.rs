//! What is kept of a rehearsal: the log's rows, the truth, and everything the result is made of.

use super::runner::Runner;
use super::tally::{PartNow, Tally};
use super::world::World;
use crate::chronicle::{Chronicle, steadiness};
use crate::files::bake::BakeFile;
use crate::files::load::Load;
use crate::log::{self, Flags, Header, Log, Row};
use truesoak_core::event::Event;
use truesoak_core::record::Record;
use truesoak_core::units::TICKS_PER_SECOND;

/// Rows there is room for from the start: an hour's. What then grows need hardly be moved.
const ROOM_ROWS: usize = 3600;

/// Follows a rehearsal.
pub trait Observer {
    /// An event at a tick.
    fn event(&mut self, now: u32, event: Event, runner: &dyn Runner, world: &World);
    /// A second of the runner ended.
    fn second(&mut self, now: u32, record: &Record, runner: &dyn Runner);
    /// A second of truth, `done` ticks into the plant's step.
    fn truth(&mut self, now: u32, done: u32, world: &World);
}

/// Truth of every row: coldest of every part, then hottest, °C; not a number outside.
#[derive(Clone, Debug, PartialEq)]
pub struct Truth {
    width: usize,
    values: Vec<f64>,
}

impl Truth {
    /// Row by row.
    pub fn rows(&self) -> impl Iterator<Item = &[f64]> {
        self.values.chunks_exact(self.width.max(1))
    }

    /// One column of every row.
    pub fn column(&self, index: usize) -> impl Iterator<Item = f64> {
        self.rows().map(move |row| row.get(index).copied().unwrap_or(f64::NAN))
    }
}

/// Columns of the truth beside every row, in its order.
#[must_use]
pub fn truth_columns(load: &Load) -> Vec<String> {
    let names = load.parts.iter().map(|part| part.name.as_str());
    let coldest = names.clone().map(|name| format!("{}{name}", log::TRUE_COLDEST));
    let hottest = names.map(|name| format!("{}{name}", log::TRUE_HOTTEST));
    coldest.chain(hottest).collect()
}

/// Everything kept of one rehearsal.
#[derive(Clone, Debug)]
pub struct Trace {
    /// Rows of the log.
    pub rows: Vec<Row>,
    /// Truth beside every row.
    pub truth: Truth,
    /// True air at the sensor beside every row, °C.
    pub air_c: Vec<f64>,
    /// What the parts had.
    pub tally: Tally,
    /// What happened.
    pub chronicle: Chronicle,
    parts: usize,
    keeps_rows: bool,
    now_truth: Vec<f64>,
    now_air_c: f64,
    seen: Vec<PartNow>,
}

impl Trace {
    /// Keeps everything of a bake, or only what the result needs.
    #[must_use]
    pub fn new(bake: &BakeFile, load: &Load, keeps_rows: bool) -> Self {
        let (width, room) = (2 * load.parts.len(), if keeps_rows { ROOM_ROWS } else { 0 });
        Self {
            rows: Vec::with_capacity(room),
            truth: Truth { width, values: Vec::with_capacity(width * room) },
            air_c: Vec::with_capacity(room),
            tally: Tally::new(load),
            chronicle: Chronicle::new(&bake.steps),
            parts: load.parts.len(),
            keeps_rows,
            now_truth: vec![f64::NAN; width],
            now_air_c: f64::NAN,
            seen: Vec::new(),
        }
    }

    /// The log of it, complete.
    #[must_use]
    pub fn log(&self, header: Header, load: &Load) -> Log {
        let columns = truth_columns(load).into_iter().enumerate();
        let truth = columns.map(|(index, name)| (name, self.truth.column(index).collect()));
        Log { header, rows: self.rows.clone(), truth: truth.collect(), end: log::End::Complete }
    }

    /// That part truly hangs in the oven.
    pub(crate) fn is_inside(&self, part: usize) -> bool {
        self.seen.get(part).is_some_and(|part| part.inside)
    }

    fn credits_s(&self, runner: &dyn Runner) -> Vec<u32> {
        (0..self.parts).map(|part| runner.ended_credit_s(part)).collect()
    }

    fn push_row(&mut self, row: Row) {
        self.rows.push(row);
        self.truth.values.extend_from_slice(&self.now_truth);
        self.air_c.push(self.now_air_c);
    }

    fn follow_event(&mut self, now: u32, event: Event, runner: &dyn Runner, world: &World) {
        let now_s = f64::from(now) / f64::from(TICKS_PER_SECOND);
        match event {
            Event::StepBegan(index) => {
                let credits_s = self.credits_s(runner);
                self.tally.step_began(runner.bake(), usize::from(index), now_s, &credits_s);
            }
            Event::LoadClosed => self.tally.load_closed(now_s),
            Event::Ended(_) => {
                let credits_s: Vec<_> = (0..self.parts).map(|part| runner.credit_s(part)).collect();
                self.tally.step_ended(now_s, &credits_s);
            }
            _ => {}
        }
        self.chronicle.event(now, event, runner.bake());
        if let (Event::Tripped(kind), Some(trip)) = (event, self.chronicle.trips.last_mut()) {
            trip.at_s = world.faults.onset_of(kind.word(), now).map(|tick| f64::from(tick) / 10.0);
        }
    }

    /// See [`steadiness`]; the air is the true one.
    #[must_use]
    pub fn steadiness(&self) -> (Option<f64>, Option<f64>, f64) {
        steadiness(self.rows.iter().zip(self.air_c.iter().copied()))
    }
}

impl Observer for Trace {
    fn event(&mut self, now: u32, event: Event, runner: &dyn Runner, world: &World) {
        self.follow_event(now, event, runner, world);
        if !self.keeps_rows {
            return;
        }
        let last = self.rows.last().cloned().unwrap_or_default();
        self.push_row(Row { tick: now, event: event.to_string(), ..last });
    }

    fn second(&mut self, now: u32, record: &Record, _runner: &dyn Runner) {
        self.chronicle.second(record.credit_s);
        if !self.keeps_rows {
            return;
        }
        self.push_row(Row {
            tick: now,
            air: record.reading,
            air_b: record.reading_b,
            part_probe: record.part_probe,
            setpoint_c: record.setpoint.map(|setpoint| f64::from(setpoint.0)),
            on_ticks: record.on_ticks,
            permit: record.permit,
            door_open: Some(record.door_open),
            step: record.step,
            phase: record.phase,
            coldest_c: record.coldest.map(|coldest| f64::from(coldest.0)),
            hottest_c: record.hottest.map(|hottest| f64::from(hottest.0)),
            credit_s: record.credit_s,
            flags: Flags {
                projected: record.projected,
                airflow: record.airflow == Some(true),
                widened: record.widened,
            },
            event: String::new(),
        });
    }

    fn truth(&mut self, now: u32, done: u32, world: &World) {
        self.now_air_c = world.plant.look_at(done, &mut self.seen);
        if self.keeps_rows {
            self.now_truth.clear();
            let shown = |part: &PartNow, value: f64| if part.inside { value } else { f64::NAN };
            self.now_truth.extend(self.seen.iter().map(|part| shown(part, part.coldest_c)));
            self.now_truth.extend(self.seen.iter().map(|part| shown(part, part.hottest_c)));
        }
        self.tally.second(f64::from(now / TICKS_PER_SECOND), &self.seen);
    }
}
