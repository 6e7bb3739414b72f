//! What is kept of a rehearsal: the log's rows, the truth, and everything the result is made of.

use super::runner::Runner;
use super::tally::{PartNow, Tally};
use super::world::World;
use crate::files::bake::BakeFile;
use crate::files::load::Load;
use crate::log::{self, Flags, Header, Log, Phase, Row};
use crate::report::result::{Answered, DoorEvent, StepRun, Trip};
use truesoak_core::bake::{Bake, Step};
use truesoak_core::event::{Ending, Event, question_word};
use truesoak_core::io::{Answer, Question};
use truesoak_core::record::Record;
use truesoak_core::units::TICKS_PER_SECOND;

/// A steady soak is judged over its last so many seconds.
const STEADY_S: usize = 1200;
/// Reading this close to its setpoint is back, K …
const RECOVERED_K: f64 = 1.0;
/// … for so many rows in a row.
const RECOVERED_ROWS: usize = 30;

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
    /// Door openings.
    pub doors: Vec<DoorEvent>,
    /// Steps.
    pub steps: Vec<StepRun>,
    /// Trips.
    pub trips: Vec<Trip>,
    /// Questions.
    pub answers: Vec<Answered>,
    /// How the bake ended; `None` if it never began or never ended.
    pub ending: Option<Ending>,
    /// Tick of the end.
    pub ended: u32,
    /// The controller gave up counting.
    pub outside_model: bool,
    /// The last soak, by index, whose parts could stay above its window's lower end no longer.
    pub no_longer: Option<u8>,
    /// Something was counted while the part probe was believed.
    pub rests_on_probe: bool,
    probe_believed: bool,
    words: BakeFile,
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
        Self {
            rows: Vec::new(),
            truth: Truth { width: 2 * load.parts.len(), values: Vec::new() },
            air_c: Vec::new(),
            tally: Tally::new(load),
            doors: Vec::new(),
            steps: Vec::new(),
            trips: Vec::new(),
            answers: Vec::new(),
            ending: None,
            ended: 0,
            outside_model: false,
            no_longer: None,
            rests_on_probe: false,
            probe_believed: false,
            words: bake.clone(),
            parts: load.parts.len(),
            keeps_rows,
            now_truth: vec![f64::NAN; 2 * load.parts.len()],
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

    fn credits_s(&self, runner: &dyn Runner) -> Vec<u32> {
        (0..self.parts).map(|part| runner.ended_credit_s(part)).collect()
    }

    fn push_row(&mut self, row: Row) {
        if self.keeps_rows {
            self.rows.push(row);
            self.truth.values.extend_from_slice(&self.now_truth);
            self.air_c.push(self.now_air_c);
        }
    }

    fn step_began(&mut self, index: usize, now_s: f64, bake: &Bake) {
        self.close_step(now_s);
        let round = 1 + self.steps.iter().filter(|step| step.index == index + 1).count() as u32;
        let name = self.words.steps.get(index).map_or(String::new(), |words| words.name.clone());
        let kind = bake.steps.get(index).map_or("", Step::word).to_owned();
        self.steps.push(StepRun {
            index: index + 1,
            name,
            kind,
            round,
            started_s: now_s,
            ended_s: None,
            credit_s: 0.0,
        });
    }

    fn close_step(&mut self, now_s: f64) {
        if let Some(step) = self.steps.last_mut().filter(|step| step.ended_s.is_none()) {
            step.ended_s = Some(now_s);
        }
    }

    fn answered(&mut self, question: Question, answer: Answer, now_s: f64) {
        let index = self.steps.last().map_or(0, |step| step.index);
        let said = match (question, answer) {
            (Question::Check, Answer::Go) => "pass",
            (_, Answer::Go) => "go",
            (_, Answer::Fail) => "fail",
        };
        let open = self.answers.iter_mut().rev().find(|asked| asked.answered_s.is_none());
        if let Some(asked) = open {
            asked.answered_s = Some(now_s);
            asked.said = Some(said.to_owned());
        } else {
            self.answers.push(Answered {
                step: index,
                question: question_word(question).to_owned(),
                asked_s: now_s,
                answered_s: Some(now_s),
                said: Some(said.to_owned()),
            });
        }
    }

    fn follow_event(&mut self, now: u32, event: Event, runner: &dyn Runner, world: &World) {
        let now_s = f64::from(now) / f64::from(TICKS_PER_SECOND);
        match event {
            Event::StepBegan(index) => {
                let credits_s = self.credits_s(runner);
                self.tally.step_began(runner.bake(), usize::from(index), now_s, &credits_s);
                self.step_began(usize::from(index), now_s, runner.bake());
            }
            Event::LoadClosed => self.tally.load_closed(now_s),
            Event::DoorOpened => self.doors.push(DoorEvent {
                opened_s: now_s,
                closed_s: None,
                reading_low_c: None,
                recovered_s: None,
            }),
            Event::DoorClosed => {
                if let Some(door) = self.doors.last_mut() {
                    door.closed_s = Some(now_s);
                }
            }
            Event::Asked(question) if question != Question::Tripped => {
                let step = self.steps.last().map_or(0, |step| step.index);
                self.answers.push(Answered {
                    step,
                    question: question_word(question).to_owned(),
                    asked_s: now_s,
                    answered_s: None,
                    said: None,
                });
            }
            Event::Answered(question, answer) => self.answered(question, answer, now_s),
            Event::OutsideModel => self.outside_model = true,
            Event::NoLonger(soak) => self.no_longer = Some(soak),
            Event::ProbeBelieved => self.probe_believed = true,
            Event::ProbeIgnored => self.probe_believed = false,
            Event::Tripped(kind) => self.trips.push(Trip {
                kind: kind.word().to_owned(),
                at_s: world.faults.onset_of(kind.word(), now).map(|tick| f64::from(tick) / 10.0),
                detected_s: now_s,
            }),
            Event::Ended(ending) => {
                let credits_s: Vec<_> = (0..self.parts).map(|part| runner.credit_s(part)).collect();
                self.tally.step_ended(now_s, &credits_s);
                self.close_step(now_s);
                self.ending = Some(ending);
                self.ended = now;
            }
            _ => {}
        }
    }

    /// Fills in, from the rows, how far each opening brought the reading down and when it was back.
    pub fn judge_doors(&mut self) {
        let rows: Vec<&Row> = self.rows.iter().filter(|row| row.event.is_empty()).collect();
        for door in &mut self.doors {
            let open = rows.iter().position(|row| row.t_s() >= door.opened_s).unwrap_or(rows.len());
            let shut = door.closed_s.and_then(|at| rows.iter().position(|row| row.t_s() >= at));
            let back = shut.and_then(|from| back_from(&rows, from));
            door.recovered_s = back.map(|index| rows[index].t_s());
            let until =
                back.or(shut.map(|from| (from + 120).min(rows.len()))).unwrap_or(rows.len());
            door.reading_low_c = rows[open..until.max(open)]
                .iter()
                .filter_map(|row| row.air.map(|air| f64::from(air.to_celsius().0)))
                .reduce(f64::min);
        }
    }

    /// Mean of reading less setpoint and deviation of the true air over the last 20 min of the
    /// longest soak, K, and the most the reading went over its setpoint in any soak, K.
    #[must_use]
    pub fn steadiness(&self) -> (Option<f64>, Option<f64>, f64) {
        let mut overshoot_k = 0.0_f64;
        let mut best: Vec<(f64, f64)> = Vec::new();
        let mut run: Vec<(f64, f64)> = Vec::new();
        // Setpoint at which the reading last came up through it.
        let mut crossed_c: Option<f64> = None;
        let mut last_c = f64::NEG_INFINITY;
        for (row, air_c) in
            self.rows.iter().zip(&self.air_c).filter(|(row, _)| row.event.is_empty())
        {
            let steady = matches!(row.phase, Phase::Soak) && row.door_open != Some(true);
            let (Some(reading), Some(setpoint_c)) = (row.air, row.setpoint_c) else {
                keep_longest(&mut best, &mut run);
                continue;
            };
            let reading_c = f64::from(reading.to_celsius().0);
            // A setpoint that comes down leaves the reading above it; that is no overshoot.
            if last_c < setpoint_c && reading_c >= setpoint_c {
                crossed_c = Some(setpoint_c);
            }
            last_c = reading_c;
            let crossed_c = crossed_c.map_or(f64::INFINITY, |crossed_c| crossed_c.max(setpoint_c));
            overshoot_k = overshoot_k.max(reading_c - crossed_c);
            if steady {
                run.push((reading_c - setpoint_c, *air_c));
            } else {
                keep_longest(&mut best, &mut run);
            }
        }
        keep_longest(&mut best, &mut run);
        let tail = &best[best.len().saturating_sub(STEADY_S)..];
        if tail.len() < STEADY_S {
            return (None, None, overshoot_k);
        }
        let count = tail.len() as f64;
        let mean = tail.iter().map(|(error_k, _)| error_k).sum::<f64>() / count;
        let air = tail.iter().map(|(_, air_c)| air_c).sum::<f64>() / count;
        let spread =
            tail.iter().map(|(_, air_c)| (air_c - air) * (air_c - air)).sum::<f64>() / count;
        (Some(mean), Some(spread.sqrt()), overshoot_k)
    }
}

/// Keeps the longer of two stretches as the best and empties the other.
fn keep_longest(best: &mut Vec<(f64, f64)>, run: &mut Vec<(f64, f64)>) {
    if run.len() > best.len() {
        std::mem::swap(best, run);
    }
    run.clear();
}

/// First row from `from` after which the reading stays within a kelvin of the setpoint for 30 s.
fn back_from(rows: &[&Row], from: usize) -> Option<usize> {
    let near = |row: &&Row| match (row.air, row.setpoint_c) {
        (Some(air), Some(setpoint_c)) => {
            (f64::from(air.to_celsius().0) - setpoint_c).abs() <= RECOVERED_K
        }
        _ => false,
    };
    let mut streak = 0;
    for (index, row) in rows.iter().enumerate().skip(from) {
        streak = if near(row) { streak + 1 } else { 0 };
        // Nobody wants the air back.
        if row.setpoint_c.is_none() && index > from + 1 {
            return None;
        }
        // The second the door closed in still counts as open.
        if row.door_open == Some(true) && index > from + 1 {
            return None;
        }
        if streak == RECOVERED_ROWS {
            return Some(index + 1 - RECOVERED_ROWS);
        }
    }
    None
}

impl Observer for Trace {
    fn event(&mut self, now: u32, event: Event, runner: &dyn Runner, world: &World) {
        self.follow_event(now, event, runner, world);
        let last = self.rows.last().cloned().unwrap_or_default();
        self.push_row(Row { tick: now, event: event.to_string(), ..last });
    }

    fn second(&mut self, now: u32, record: &Record, _runner: &dyn Runner) {
        if let Some(step) = self.steps.last_mut() {
            step.credit_s = f64::from(record.credit_s);
        }
        self.rests_on_probe |= self.probe_believed && record.credit_s > 0;
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
        self.now_truth.clear();
        let shown = |part: &PartNow, value: f64| if part.inside { value } else { f64::NAN };
        self.now_truth.extend(self.seen.iter().map(|part| shown(part, part.coldest_c)));
        self.now_truth.extend(self.seen.iter().map(|part| shown(part, part.hottest_c)));
        self.tally.second(f64::from(now / TICKS_PER_SECOND), &self.seen);
    }
}
