//! What happened in a bake, told by its events: steps, doors, trips, questions, and how it ended.
//!
//! A rehearsal and a recount keep the same chronicle of the same events, so that what they say of a
//! bake differs in what its parts had and in nothing else. It counts nothing.

use crate::files::bake::StepWords;
use crate::log::{Phase, Row};
use crate::report::result::{Answered, DoorEvent, StepRun, Trip};
use truesoak_core::bake::{Bake, Step};
use truesoak_core::event::{Ending, Event, question_word};
use truesoak_core::io::{Answer, Question};
use truesoak_core::units::TICKS_PER_SECOND;

/// A steady soak is judged over its last so many seconds.
const STEADY_S: usize = 1200;
/// Reading this close to its setpoint is back, K …
const RECOVERED_K: f64 = 1.0;
/// … for so many rows in a row.
const RECOVERED_ROWS: usize = 30;

/// Everything that happened, in order.
#[derive(Clone, Debug, Default)]
pub struct Chronicle {
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
    words: Vec<StepWords>,
}

impl Chronicle {
    /// Nothing happened yet; `words` are those on the bake's steps.
    #[must_use]
    pub fn new(words: &[StepWords]) -> Self {
        Self { words: words.to_vec(), ..Self::default() }
    }

    /// An event at a tick.
    pub fn event(&mut self, tick: u32, event: Event, bake: &Bake) {
        let now_s = f64::from(tick) / f64::from(TICKS_PER_SECOND);
        match event {
            Event::StepBegan(index) => self.step_began(usize::from(index), now_s, bake),
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
                self.asked(question, now_s, None);
            }
            Event::Answered(question, answer) => self.answered(question, answer, now_s),
            Event::OutsideModel => self.outside_model = true,
            Event::NoLonger(soak) => self.no_longer = Some(soak),
            Event::ProbeBelieved => self.probe_believed = true,
            Event::ProbeIgnored => self.probe_believed = false,
            Event::Tripped(kind) => {
                let kind = kind.word().to_owned();
                self.trips.push(Trip { kind, at_s: None, detected_s: now_s });
            }
            Event::Ended(ending) => {
                self.close_step(now_s);
                self.ending = Some(ending);
                self.ended = tick;
            }
            _ => {}
        }
    }

    /// A second at whose end so much of the present step was counted.
    pub fn second(&mut self, credit_s: u32) {
        if let Some(step) = self.steps.last_mut() {
            step.credit_s = f64::from(credit_s);
        }
        self.rests_on_probe |= self.probe_believed && credit_s > 0;
    }

    fn step_began(&mut self, index: usize, now_s: f64, bake: &Bake) {
        self.close_step(now_s);
        let round = 1 + self.steps.iter().filter(|step| step.index == index + 1).count() as u32;
        let name = self.words.get(index).map_or(String::new(), |words| words.name.clone());
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

    fn asked(&mut self, question: Question, now_s: f64, said: Option<&str>) {
        self.answers.push(Answered {
            step: self.steps.last().map_or(0, |step| step.index),
            question: question_word(question).to_owned(),
            asked_s: now_s,
            answered_s: said.map(|_| now_s),
            said: said.map(str::to_owned),
        });
    }

    fn answered(&mut self, question: Question, answer: Answer, now_s: f64) {
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
            self.asked(question, now_s, Some(said));
        }
    }

    /// Fills in, from the rows, how far each opening brought the reading down and when it was back.
    pub fn judge_doors(&mut self, rows: &[Row]) {
        let rows: Vec<&Row> = rows.iter().filter(|row| row.event.is_empty()).collect();
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

    /// To the bake's end, s; to the last row where it has none.
    #[must_use]
    pub fn duration_s(&self, rows: &[Row]) -> f64 {
        match self.ending {
            Some(_) => f64::from(self.ended) / f64::from(TICKS_PER_SECOND),
            None => rows.last().map_or(0.0, Row::t_s),
        }
    }
}

/// Mean of reading less setpoint and deviation of the air over the last 20 min of the longest soak,
/// K, and the most the reading went over its setpoint in any soak, K. Each row comes with the air
/// that is to be judged, °C.
pub fn steadiness<'a>(
    rows: impl Iterator<Item = (&'a Row, f64)> + Clone,
) -> (Option<f64>, Option<f64>, f64) {
    let seconds = rows.filter(|(row, _)| row.event.is_empty());
    let mut overshoot_k = 0.0_f64;
    let (mut best, mut run) = (0..0, 0..0);
    // Setpoint at which the reading last came up through it.
    let mut crossed_c: Option<f64> = None;
    let mut last_c = f64::NEG_INFINITY;
    for (index, (row, _)) in seconds.clone().enumerate() {
        let wanted = row.air.zip(row.setpoint_c);
        if let Some((reading, setpoint_c)) = wanted {
            let reading_c = f64::from(reading.to_celsius().0);
            // A setpoint that comes down leaves the reading above it; that is no overshoot.
            if last_c < setpoint_c && reading_c >= setpoint_c {
                crossed_c = Some(setpoint_c);
            }
            last_c = reading_c;
            let crossed_c = crossed_c.map_or(f64::INFINITY, |crossed_c| crossed_c.max(setpoint_c));
            overshoot_k = overshoot_k.max(reading_c - crossed_c);
        }
        let in_soak = matches!(row.phase, Phase::Soak) && row.door_open != Some(true);
        let from = if wanted.is_some() && in_soak { run.start } else { index + 1 };
        run = from..index + 1;
        if run.len() > best.len() {
            best = run.clone();
        }
    }
    if best.len() < STEADY_S {
        return (None, None, overshoot_k);
    }
    let held = seconds.skip(best.end - STEADY_S).take(STEADY_S).map(|(row, air_c)| {
        let reading_c = row.air.map_or(f64::NAN, |reading| f64::from(reading.to_celsius().0));
        (reading_c - row.setpoint_c.unwrap_or(f64::NAN), air_c)
    });
    let (mean_k, deviation_k) = mean_and_deviation(held);
    (Some(mean_k), Some(deviation_k), overshoot_k)
}

/// Mean of the firsts and standard deviation of the seconds of a whole steady stretch.
fn mean_and_deviation(held: impl Iterator<Item = (f64, f64)> + Clone) -> (f64, f64) {
    let count = STEADY_S as f64;
    let mean = held.clone().map(|(error_k, _)| error_k).sum::<f64>() / count;
    let air = held.clone().map(|(_, air_c)| air_c).sum::<f64>() / count;
    let spread = held.map(|(_, air_c)| (air_c - air) * (air_c - air)).sum::<f64>() / count;
    (mean, spread.sqrt())
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
