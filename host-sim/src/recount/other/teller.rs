//! A table told as a board would: a row a second, with the events that follow from the air's falls
//! and from what has been counted.

use super::Second;
use super::door::Fall;
use crate::log::{Flags, Header, Phase, Row};
use crate::recount::Tables;
use crate::recount::course::Course;
use truesoak_core::bake::{Bake, Step};
use truesoak_core::event::{Ending, Event};
use truesoak_core::ledger::Ledger;
use truesoak_core::units::{Reading, TICKS_PER_SECOND};

/// Tells a table as a board would: rows, with the events that follow from them.
pub(super) struct Teller<'a> {
    bake: &'a Bake,
    course: Course<'a>,
    falls: &'a [Fall],
    rows: Vec<Row>,
    /// Index of the step.
    step: usize,
    phase: Phase,
}

impl<'a> Teller<'a> {
    pub(super) fn new(header: &Header, tables: &'a Tables, falls: &'a [Fall]) -> Self {
        let bake = &tables.setup.bake.bake;
        let course = Course::new(header, tables);
        Self { bake, course, falls, rows: Vec::new(), step: 0, phase: Phase::Ramp }
    }

    pub(super) fn rows(mut self, seconds: &[Second]) -> Vec<Row> {
        let mut falls = self.falls.iter().peekable();
        let mut open: Option<&Fall> = None;
        for (index, second) in seconds.iter().enumerate() {
            self.second(second, open.is_some());
            if index == 0 {
                self.say(Event::Started);
                self.lead_to_a_soak(0);
            }
            if open.is_some_and(|fall| second.t_s >= fall.to_s) {
                open = None;
                self.closed();
            }
            if open.is_none()
                && let Some(fall) = falls.next_if(|fall| second.t_s >= fall.from_s)
            {
                open = Some(fall);
                self.opened();
            }
            self.follow_credit();
        }
        if !seconds.is_empty() {
            self.end();
        }
        self.rows
    }

    fn second(&mut self, second: &Second, door_open: bool) {
        let reading = |value_c: f64, round: fn(f64) -> f64| {
            let steps = round(value_c * 128.0);
            (steps.abs() < f64::from(i32::MAX)).then_some(Reading(steps as i32))
        };
        let on_ticks = libm::ceil(second.duty * f64::from(TICKS_PER_SECOND));
        let mut row = Row {
            tick: second.t_s * TICKS_PER_SECOND,
            air: reading(second.air_c.1, libm::ceil),
            air_b: reading(second.air_c.0, libm::floor),
            on_ticks: on_ticks as u8,
            permit: true,
            door_open: door_open.then_some(true),
            step: u8::try_from(self.step + 1).unwrap_or(u8::MAX),
            phase: self.phase,
            flags: Flags::default(),
            ..Row::default()
        };
        // A row without a first reading starts nothing; there is none here.
        let _ = self.course.second(self.rows.len(), &row);
        if let Some(ledger) = self.course.replay.ledger() {
            row.coldest_c = ledger.coldest().map(|bound| f64::from(bound.0));
            row.hottest_c = ledger.hottest().map(|bound| f64::from(bound.0));
            row.credit_s = ledger.credit_s();
        }
        self.rows.push(row);
    }

    fn say(&mut self, event: Event) {
        let last = self.rows.last().cloned().unwrap_or_default();
        let row = Row { event: event.to_string(), ..last };
        let _ = self.course.event(self.rows.len(), &row);
        self.rows.push(row);
    }

    fn enter(&mut self, step: usize) {
        self.step = step;
        self.phase = match self.bake.steps.get(step) {
            Some(Step::Soak(_)) => Phase::Soak,
            Some(Step::LoadIn(_)) => Phase::LoadIn,
            Some(Step::Cool(_)) => Phase::Cool,
            _ => Phase::Ramp,
        };
        if let Ok(index) = u8::try_from(step) {
            self.say(Event::StepBegan(index));
        }
    }

    /// From a step on to the next soak, or to the load_in before it.
    fn lead_to_a_soak(&mut self, from: usize) {
        let ahead = || self.bake.steps.iter().enumerate().skip(from);
        let soak = ahead().find(|(_, step)| matches!(step, Step::Soak(_)));
        let Some((soak, _)) = soak else {
            // What follows the last soak is told as its first step, to the end.
            if from < self.bake.steps.len() {
                self.enter(from);
            }
            return;
        };
        let before = self.bake.steps.iter().enumerate().take(soak).skip(from);
        let load_in = before.rev().find_map(|(index, step)| match step {
            Step::LoadIn(load_in) => Some((index, load_in.at)),
            _ => None,
        });
        match load_in {
            Some((index, Some(_))) => self.enter(index),
            Some((index, None)) => {
                self.enter(index);
                self.say(Event::LoadOpened);
                self.say(Event::LoadClosed);
                self.enter(soak);
            }
            None => self.enter(soak),
        }
    }

    /// Parts are to come in, or may be others.
    fn is_loading(&self) -> bool {
        let ahead = || self.bake.steps.iter().skip(self.step);
        matches!(ahead().next(), Some(Step::Soak(_) | Step::LoadIn(_)))
    }

    fn opened(&mut self) {
        self.say(Event::DoorOpened);
        if self.is_loading() {
            self.say(Event::LoadOpened);
        }
    }

    fn closed(&mut self) {
        self.say(Event::DoorClosed);
        if self.is_loading() {
            self.say(Event::LoadClosed);
            let ahead = self.bake.steps.iter().skip(self.step);
            let soak = ahead.into_iter().position(|step| matches!(step, Step::Soak(_)));
            soak.into_iter().for_each(|ahead| self.enter(self.step + ahead));
        }
    }

    fn follow_credit(&mut self) {
        let Some(Step::Soak(soak)) = self.bake.steps.get(self.step).copied() else { return };
        let credit_s = self.course.replay.ledger().map_or(0, Ledger::credit_s);
        if credit_s >= soak.for_s {
            self.lead_to_a_soak(self.step + 1);
        }
    }

    fn end(&mut self) {
        if let (Some(Step::Soak(_)), Ok(index)) =
            (self.bake.steps.get(self.step), u8::try_from(self.step))
        {
            self.say(Event::GaveUp(index));
        }
        self.say(Event::Ended(Ending::Finished));
    }
}
