//! What happened, as a person at the oven says it.

use super::Baked;
use crate::report::faults::fault;
use crate::report::title;
use truesoak_core::event::{Ending, Event};
use truesoak_core::io::{Answer, Question};

/// An event in words; `None` for what nobody needs to be told.
pub(super) fn words_of(event: Event, baked: Option<&Baked>) -> Option<String> {
    let step = |index: u8| {
        let words = baked.and_then(|baked| baked.steps.get(usize::from(index)));
        title(usize::from(index) + 1, words.map_or("", |words| words.name.as_str()))
    };
    Some(match event {
        Event::Started => "the bake began".to_owned(),
        Event::StepBegan(index) => format!("{} began", step(index)),
        Event::GaveUp(index) => format!("{} gave up short", step(index)),
        Event::NoLonger(index) => {
            format!("{} ended: parts may be hot no longer", step(index))
        }
        Event::DoorOpened => "the door was opened".to_owned(),
        Event::DoorClosed => "the door was closed".to_owned(),
        Event::Recovered => "the air is back".to_owned(),
        Event::LoadOpened => "the load goes in".to_owned(),
        Event::LoadClosed => "the load is in".to_owned(),
        Event::PartsOut => "the parts are out".to_owned(),
        Event::Asked(Question::Tripped) => return None,
        Event::Asked(question) => format!("asked: {}", asked(question)),
        Event::Answered(question, answer) => format!("answered: {}", answered(question, answer)),
        Event::SupplyReturned { .. } => "the supply was lost and is back".to_owned(),
        Event::OutsideModel => {
            "the air answers the heat as no such oven does: nothing counts any more".to_owned()
        }
        Event::ProbeBelieved => "the part probe is believed".to_owned(),
        Event::ProbeIgnored => "the part probe is ignored".to_owned(),
        Event::StoreFailing => "the board can store no more".to_owned(),
        Event::Tripped(kind) => {
            let name = fault(kind.word()).map_or(kind.word(), |fault| fault.name);
            format!("TRIPPED: {name}")
        }
        Event::Acknowledged => "the trip was acknowledged".to_owned(),
        Event::Ended(Ending::Tripped(_)) => return None,
        Event::Ended(ending) => ended(ending).to_owned(),
    })
}

/// How a bake ended, in words.
pub(super) fn ended(ending: Ending) -> &'static str {
    match ending {
        Ending::Finished => "the bake is done",
        Ending::Stopped => "the bake was stopped",
        Ending::TooLong => "the bake took longer than it may",
        Ending::CheckFailed => "a check failed, and no try is left",
        Ending::Tripped(_) => "the bake tripped",
    }
}

fn asked(question: Question) -> &'static str {
    match question {
        Question::LoadIn => "put the load in",
        Question::Check => "the step's check",
        Question::Wait => "the step's work",
        Question::AnythingNew => "anything new inside?",
        Question::DoorLeftOpen => "the door is still open",
        Question::PowerReturned => "the supply is back: anything new inside?",
        Question::Tripped => "a trip",
    }
}

fn answered(question: Question, answer: Answer) -> &'static str {
    match (question, answer) {
        (Question::Check, Answer::Go) => "pass",
        (Question::Check, Answer::Fail) => "fail",
        (Question::AnythingNew | Question::PowerReturned, Answer::Go) => "nothing new",
        (Question::AnythingNew | Question::PowerReturned, Answer::Fail) => {
            "something new is inside"
        }
        (_, Answer::Go) => "go on",
        (_, Answer::Fail) => "no",
    }
}
