//! The sentences of a watched bake. A screen and a line a minute say the same ones.

use super::clock::clock_time;
use super::happened::ended;
use super::{View, happened};
use crate::report::faults::fault;
use crate::report::units::{duration, h_mm, minutes_of};
use truesoak_core::bake::{Soak, Step};
use truesoak_core::command::Command;
use truesoak_core::event::{Ending, Event};
use truesoak_core::io::{Answer, Question};
use truesoak_core::record::Phase;
use truesoak_core::units::Celsius;
use truesoak_core::wire::messages::Status;

/// The heater's share is told over so many seconds.
const HEATER_S: usize = 60;

/// Says what a view shows.
#[derive(Clone, Copy, Debug)]
pub struct Words<'a>(pub &'a View);

impl Words<'_> {
    fn status(&self) -> Option<&Status> {
        self.0.status.as_ref()
    }

    fn soak(&self) -> Option<&Soak> {
        let (step, _) = self.0.baked.as_ref()?.step(self.status()?.step)?;
        if let Step::Soak(soak) = step { Some(soak) } else { None }
    }

    /// The step is one in which minutes are counted.
    #[must_use]
    pub fn counts(&self) -> bool {
        self.soak().is_some()
    }

    /// It is worked out when the bake will be done.
    #[must_use]
    pub fn foresees(&self) -> bool {
        self.0.foresight.is_some()
    }

    /// What is baked, where, and how long it has run.
    #[must_use]
    pub fn heading(&self) -> String {
        let board = if self.0.is_virtual { "virtual board" } else { "oven" };
        match &self.0.baked {
            None => format!("{board}: no bake yet"),
            Some(baked) => {
                let at = self.status().map_or(0.0, |status| f64::from(status.second));
                format!("{} · {} · {board} · {}", baked.name, baked.oven, h_mm(at))
            }
        }
    }

    /// The step and what is done in it.
    #[must_use]
    pub fn step(&self) -> String {
        let Some(status) = self.status() else { return "asking the board".to_owned() };
        let doing = phase(status.phase);
        let Some(baked) = self.0.baked.as_ref().filter(|_| status.step > 0) else {
            return doing.to_owned();
        };
        let of = baked.bake.steps.len();
        let name = baked.step(status.step).and_then(|(_, words)| words).map(|words| &words.name);
        match name.filter(|name| !name.is_empty()) {
            Some(name) => format!("step {} of {of}, {name}: {doing}", status.step),
            None => format!("step {} of {of}: {doing}", status.step),
        }
    }

    /// The one thing to be read from across the room.
    #[must_use]
    pub fn large(&self) -> String {
        let Some(status) = self.status() else { return "...".to_owned() };
        if status.trip.is_some() {
            return "TRIPPED".to_owned();
        }
        if let Some((ending, is_short)) = status.ended {
            return match (ending, is_short) {
                (Ending::Finished, false) => "PASS".to_owned(),
                (Ending::Finished, true) => "SHORT".to_owned(),
                _ => "ENDED".to_owned(),
            };
        }
        if status.awaits_go.is_some() {
            return "HOLD GO".to_owned();
        }
        if let Some(question) = status.asks {
            return (if question == Question::LoadIn { "LOAD NOW" } else { "PLEASE ANSWER" })
                .to_owned();
        }
        if self.soak().is_some() {
            return minutes_of(f64::from(status.credit_s), f64::from(status.for_s));
        }
        let air = status.reading.map(|reading| f64::from(reading.to_celsius().0));
        air.map_or_else(|| "AT REST".to_owned(), |air_c| self.0.units.temperature(air_c))
    }

    /// What is counted, or why nothing is.
    #[must_use]
    pub fn counted(&self) -> String {
        let Some(status) = self.status() else { return String::new() };
        if let Some((ending, is_short)) = status.ended {
            return match (ending, is_short) {
                (Ending::Finished, false) => "Every part had its minutes: proven.".to_owned(),
                (Ending::Finished, true) => "Not every part had its minutes.".to_owned(),
                (ending, _) => format!("Not done: {}.", ended(ending)),
            };
        }
        let Some(soak) = self.soak() else {
            return "nothing is counted in this step".to_owned();
        };
        match self.not_counting(status, soak) {
            None => format!("{} counted", self.minutes(status, soak)),
            Some(why) => format!("NOT COUNTING: {why}"),
        }
    }

    /// The same with the minutes always in it, for whoever hears nothing else.
    #[must_use]
    pub fn counted_aloud(&self) -> String {
        let said = self.counted();
        match (self.status(), self.soak()) {
            (Some(status), Some(soak)) if said.starts_with("NOT") => {
                format!("{} counted. {said}", self.minutes(status, soak))
            }
            _ => said,
        }
    }

    fn minutes(&self, status: &Status, soak: &Soak) -> String {
        minutes_of(f64::from(status.credit_s), f64::from(soak.for_s))
    }

    fn not_counting(&self, status: &Status, soak: &Soak) -> Option<String> {
        let units = self.0.units;
        if self.0.events().any(|(_, event)| event == Event::OutsideModel) {
            return Some("the air answers the heat as no such oven does".to_owned());
        }
        if matches!(status.asks, Some(Question::AnythingNew | Question::PowerReturned)) {
            return Some("until you say whether anything new went in".to_owned());
        }
        let (Some(coldest), Some(hottest)) = (status.coldest, status.hottest) else {
            return Some("no part is inside".to_owned());
        };
        if coldest < soak.at_least {
            let needs = whole(&units.temperature(soak.at_least.0.into()));
            let about = self.0.foreseen().and_then(|foreseen| foreseen.counting_s);
            // Nobody foresees seconds.
            let minutes = |in_s: f64| duration((in_s / 60.0).ceil() * 60.0);
            let about = about.map_or_else(String::new, |in_s| format!(", about {}", minutes(in_s)));
            let is = units.at_least(coldest.0.into());
            return Some(format!("coldest part may be only {is}, needs {needs}{about}"));
        }
        if hottest > soak.at_most {
            let is = units.at_most(hottest.0.into());
            let limit = whole(&units.temperature(soak.at_most.0.into()));
            return Some(format!("hottest part may be {is}, must not pass {limit}"));
        }
        None
    }

    /// When it will be done.
    #[must_use]
    pub fn done(&self) -> String {
        let Some(status) = self.status() else { return String::new() };
        if status.ended.is_some() || status.trip.is_some() {
            // A board at rest again has no second of a bake.
            let took_s = self.0.ended_s().unwrap_or_else(|| status.second.into());
            return format!("took {}", duration(took_s));
        }
        if status.phase == Phase::Idle {
            return String::new();
        }
        let Some(foreseen) = self.0.foreseen() else {
            return if self.0.foresight.is_some() {
                "when it will be done cannot be told from here".to_owned()
            } else {
                "working out when it will be done".to_owned()
            };
        };
        let units = self.0.units;
        match (self.0.now, foreseen.most_s) {
            (Some(now), Some(most_s)) => format!(
                "done about {} (by {}, 19 times in 20)",
                clock_time(now, foreseen.half_s, units),
                clock_time(now, most_s, units)
            ),
            (Some(now), None) => format!("done about {}", clock_time(now, foreseen.half_s, units)),
            (None, Some(most_s)) => format!(
                "done in about {} (within {}, 19 times in 20)",
                duration(foreseen.half_s),
                duration(most_s)
            ),
            (None, None) => format!("done in about {}", duration(foreseen.half_s)),
        }
    }

    /// The coldest part.
    #[must_use]
    pub fn coldest(&self) -> String {
        let Some(status) = self.status() else { return String::new() };
        let told = |bound: Celsius| {
            format!("coldest part at least {}", self.0.units.at_least(bound.0.into()))
        };
        match status.coldest {
            Some(bound) => told(bound),
            None if status.step > 0 => "no part inside".to_owned(),
            None => String::new(),
        }
    }

    /// The hottest part.
    #[must_use]
    pub fn hottest(&self) -> String {
        let hottest = self.status().and_then(|status| status.hottest);
        hottest.map_or_else(String::new, |bound| {
            format!("hottest part at most {}", self.0.units.at_most(bound.0.into()))
        })
    }

    /// The soak's window.
    #[must_use]
    pub fn window(&self) -> String {
        self.soak().map_or_else(String::new, |soak| {
            let (at_least, at_most) = (soak.at_least.0.into(), soak.at_most.0.into());
            format!("window {}", self.0.units.window(at_least, at_most))
        })
    }

    /// The air, and what it is held at.
    #[must_use]
    pub fn air(&self) -> String {
        let Some(status) = self.status() else { return String::new() };
        let units = self.0.units;
        let reads = status.reading.map_or_else(
            || if status.step > 0 { "no air reading".to_owned() } else { String::new() },
            |reading| format!("air {}", units.temperature(reading.to_celsius().0.into())),
        );
        match status.setpoint {
            Some(setpoint) => {
                format!("{reads}, held at {}", units.temperature(setpoint.to_celsius().0.into()))
            }
            None => reads,
        }
    }

    /// The heater over the last minute.
    #[must_use]
    pub fn heater(&self) -> String {
        let Some(status) = self.status() else { return String::new() };
        if !status.permit {
            return "heat cut".to_owned();
        }
        let seconds = self.0.rows.iter().rev().filter(|row| row.event.is_empty());
        let ticks: Vec<u32> = seconds.take(HEATER_S).map(|row| u32::from(row.on_ticks)).collect();
        let (sum, count) = if ticks.is_empty() {
            (u32::from(status.on_ticks), 1)
        } else {
            (ticks.iter().sum(), ticks.len() as u32)
        };
        // A second has ten ticks.
        format!("heater {} %, heat allowed", (sum * 10 + count / 2) / count)
    }

    /// The door.
    #[must_use]
    pub fn door(&self) -> &'static str {
        let Some(status) = self.status() else { return "" };
        match status.door_open {
            Some(true) => "DOOR OPEN",
            Some(false) => "door closed",
            None => "no door switch",
        }
    }

    /// What is waited for, and how it is answered at the oven; empty if nothing is.
    #[must_use]
    pub fn waiting(&self) -> Vec<String> {
        let Some(status) = self.status() else { return Vec::new() };
        let mut lines = Vec::new();
        if let Some((command, left_s)) = status.awaits_go {
            lines.push(format!(
                "ASKED FOR FROM A COMPUTER: {}. Hold GO at the oven for 2 s and let go, within {left_s} s.",
                request(command)
            ));
        }
        if let Some(kind) = status.trip {
            let row = fault(kind.word());
            lines.push(format!("TRIPPED: {}.", row.map_or(kind.word(), |row| row.name)));
            lines.extend(row.map(|row| format!("What to do: {}.", row.next)));
            lines.push(
                "Then, with the cause gone, hold GO at the oven for 2 s and let go.".to_owned(),
            );
        } else if let Some(question) = status.asks {
            lines.push(format!("WAITING FOR YOU: {}", self.question(status, question)));
            lines.push(format!("At the oven: {}", self.how(status, question)));
        }
        lines
    }

    fn question(&self, status: &Status, question: Question) -> String {
        let asks = |otherwise: &str| {
            let step = self.0.baked.as_ref().and_then(|baked| baked.step(status.step));
            let words = step.and_then(|(_, words)| words).map(|words| words.ask.trim());
            words.filter(|ask| !ask.is_empty()).unwrap_or(otherwise).to_owned()
        };
        match question {
            Question::LoadIn => "put the load in and close the door.".to_owned(),
            Question::Check => asks("is it as it should be?"),
            Question::Wait => asks("do the step's work."),
            Question::AnythingNew => "was anything new put in while the door was open?".to_owned(),
            Question::DoorLeftOpen => "the door is still open.".to_owned(),
            Question::PowerReturned => {
                "the supply was lost and is back. Was anything new put in?".to_owned()
            }
            Question::Tripped => "a trip is latched.".to_owned(),
        }
    }

    fn how(&self, status: &Status, question: Question) -> String {
        match question {
            Question::LoadIn => "close the door, then hold GO for 2 s and let go.".to_owned(),
            Question::Check => {
                let step = self.0.baked.as_ref().and_then(|baked| baked.step(status.step));
                let said = |word: Option<&str>, otherwise: &str| {
                    let word = word.filter(|word| !word.is_empty()).unwrap_or(otherwise);
                    format!("\"{word}\"")
                };
                let words = step.and_then(|(_, words)| words);
                format!(
                    "GO held for 2 s and let go says {}, STOP held for 5 s says {}.",
                    said(words.map(|words| words.pass.as_str()), "pass"),
                    said(words.map(|words| words.fail.as_str()), "fail")
                )
            }
            Question::Wait => {
                "when it is done, hold GO for 2 s and let go; the step's time starts then."
                    .to_owned()
            }
            Question::AnythingNew | Question::PowerReturned => {
                "GO held for 2 s and let go says no, STOP held for 5 s says yes.".to_owned()
            }
            Question::DoorLeftOpen => "close it, then hold GO for 2 s and let go.".to_owned(),
            Question::Tripped => "remove the cause, then hold GO for 2 s and let go.".to_owned(),
        }
    }

    /// The last events, the newest first.
    #[must_use]
    pub fn happened(&self, most: usize) -> Vec<String> {
        let baked = self.0.baked.as_ref();
        let told = self.0.events().rev().filter_map(|(at_s, event)| {
            happened::words_of(event, baked).map(|words| format!("{}  {words}", h_mm(at_s)))
        });
        told.take(most).collect()
    }

    /// What is wrong with the watching itself; empty if nothing is.
    #[must_use]
    pub fn trouble(&self) -> String {
        let lost = || "LINK LOST: looking for the board; the bake goes on at the oven".to_owned();
        let lost = self.0.lost.as_ref().map(|_| lost());
        lost.or_else(|| self.0.note.clone()).unwrap_or_default()
    }
}

/// A temperature as its file has it: no decimals where there are none.
fn whole(shown: &str) -> String {
    shown.replace(".0 ", " ")
}

/// What the board is doing, in words.
fn phase(phase: Phase) -> &'static str {
    match phase {
        Phase::Idle => "at rest",
        Phase::Ramp => "heating up",
        Phase::Approach => "bringing the parts in",
        Phase::Soak => "holding",
        Phase::Recover => "coming back after the door",
        Phase::Cool => "cooling",
        Phase::LoadIn => "taking the load in",
        Phase::Check => "being checked",
        Phase::Wait => "waiting",
        Phase::Done => "over",
        Phase::Tripped => "tripped",
    }
}

/// A request in words.
fn request(command: Command) -> &'static str {
    match command {
        Command::Start => "start the bake",
        Command::Answer(Answer::Go) => "answer pass, or go on",
        Command::Answer(Answer::Fail) => "answer fail",
        Command::Stop => "stop the bake",
        Command::Acknowledge => "acknowledge the trip",
    }
}
