//! What happened in a bake in a person's words: the log keeps short ones.

use super::faults::fault;
use super::title;
use super::units::{Units, duration};
use crate::files::bake::BakeFile;
use truesoak_core::event::{Ending, Event};
use truesoak_core::io::{Answer, Question};

/// An event of the log as a sentence; words that are no event stay as they are.
#[must_use]
pub fn told(words: &str, bake: &BakeFile, units: Units) -> String {
    let Some(event) = Event::parse(words) else { return words.to_owned() };
    match event {
        Event::Started => "The bake began".to_owned(),
        Event::StepBegan(index) => format!("{} began", step(bake, index)),
        Event::GaveUp(index) => format!("{} gave up short of its minutes", step(bake, index)),
        Event::NoLonger(index) => {
            format!("Parts could stay no longer: {} fell short", step(bake, index))
        }
        Event::DoorOpened => "Door opened".to_owned(),
        Event::DoorClosed => "Door closed".to_owned(),
        Event::Recovered => "Air back at its setpoint".to_owned(),
        Event::LoadOpened => "Parts may be going in".to_owned(),
        Event::LoadClosed => "Parts in".to_owned(),
        Event::PartsOut => "Parts taken out".to_owned(),
        Event::Asked(question) => format!("Asked: {}", asked(question)),
        Event::Answered(question, answer) => {
            format!("Answered \"{}\": {}", said(question, answer), asked(question))
        }
        Event::SupplyReturned { coldest, hottest, credit_s, .. } => format!(
            "Supply back: everything inside from {} to {}; {} counted before stand",
            units.at_least(f64::from(coldest.to_celsius().0)),
            units.at_most(f64::from(hottest.to_celsius().0)),
            duration(f64::from(credit_s)),
        ),
        Event::OutsideModel => {
            "The air answered as no oven of the spread does: nothing counts from here on".to_owned()
        }
        Event::ProbeBelieved => "The part probe agrees with its part".to_owned(),
        Event::ProbeIgnored => "The part probe disagrees with its part and is ignored".to_owned(),
        Event::StoreFailing => "The store takes no more records".to_owned(),
        Event::Tripped(kind) => named(kind.word()),
        Event::Acknowledged => "The trip was acknowledged at the oven".to_owned(),
        Event::Ended(ending) => ended(ending).to_owned(),
    }
}

fn step(bake: &BakeFile, index: u8) -> String {
    let index = usize::from(index);
    let kind = bake.bake.steps.get(index).map_or("step", |step| step.word());
    let name = bake.steps.get(index).map_or("", |words| words.name.as_str());
    match name {
        "" => format!("Step {}, {kind},", index + 1),
        name => format!("Step {}, {kind} \"{}\",", index + 1, title(index + 1, name)),
    }
}

fn asked(question: Question) -> &'static str {
    match question {
        Question::LoadIn => "hang the parts and close the door",
        Question::Check => "the check",
        Question::Wait => "go on after the wait",
        Question::AnythingNew => "anything new inside?",
        Question::DoorLeftOpen => "the door is still open",
        Question::PowerReturned => "the supply is back, anything new inside?",
        Question::Tripped => "heat is cut for good",
    }
}

fn said(question: Question, answer: Answer) -> &'static str {
    match (question, answer) {
        (Question::Check, Answer::Go) => "pass",
        (Question::AnythingNew | Question::PowerReturned, Answer::Go) => "no",
        (Question::AnythingNew | Question::PowerReturned, Answer::Fail) => "yes",
        (_, Answer::Go) => "go",
        (_, Answer::Fail) => "fail",
    }
}

fn named(kind: &str) -> String {
    fault(kind).map_or_else(
        || format!("Heat was cut for good: {kind}"),
        |fault| format!("{}: heat was cut for good", fault.name),
    )
}

fn ended(ending: Ending) -> &'static str {
    match ending {
        Ending::Finished => "The bake ended, every step done",
        Ending::Stopped => "The bake was stopped",
        Ending::TooLong => "The bake ended: more time with heat allowed than it may have",
        Ending::CheckFailed => "The bake ended: the check failed in its last round",
        Ending::Tripped(_) => "The bake ended by the trip",
    }
}
