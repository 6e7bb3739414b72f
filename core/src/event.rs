//! What happens in a bake, in the words the log keeps.
//!
//! The bounds and the credit follow these events and the logged seconds and nothing else, so a log
//! replays to the same credit. [`Event::parse`] reads back what `Display` wrote.

use crate::guard::TripKind;
use crate::io::{Answer, Question};
use crate::units::Reading;
use core::fmt;
use serde::{Deserialize, Serialize};

/// How a bake ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Ending {
    /// Every step was gone through.
    Finished,
    /// STOP at the oven, or a stop from the computer.
    Stopped,
    /// More time with heat allowed than the bake may have.
    TooLong,
    /// A check failed and its rounds are used up, or it says to stop.
    CheckFailed,
    /// A trip.
    Tripped(TripKind),
}

/// One happening.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Event {
    /// The bake began.
    Started,
    /// A step began, by index from 0.
    StepBegan(u8),
    /// A soak gave up short.
    GaveUp(u8),
    /// Parts of a soak may stay above the lower end of its window no longer.
    NoLonger(u8),
    /// The door opened.
    DoorOpened,
    /// The door closed.
    DoorClosed,
    /// The air is back after a door.
    Recovered,
    /// Parts may be going in from now on.
    LoadOpened,
    /// Parts are in.
    LoadClosed,
    /// Parts are out of the oven.
    PartsOut,
    /// A question was put.
    Asked(Question),
    /// It was answered.
    Answered(Question, Answer),
    /// The supply came back; coldest and hottest anything inside can be.
    SupplyReturned {
        /// No part is colder.
        coldest: Reading,
        /// Nothing but the element is hotter.
        hottest: Reading,
        /// No part is hotter.
        parts: Reading,
        /// The element is not hotter.
        element: Reading,
        /// Credit that was kept, s; what came after the last checkpoint is lost.
        credit_s: u32,
    },
    /// The air answers duty as no oven of the spread does; nothing counts any more.
    OutsideModel,
    /// The part probe has risen as its part does; what it shows counts from now on.
    ProbeBelieved,
    /// The part probe disagrees with its own part and is ignored.
    ProbeIgnored,
    /// The store takes no more records.
    StoreFailing,
    /// A trip was latched.
    Tripped(TripKind),
    /// The trip was acknowledged at the oven.
    Acknowledged,
    /// The bake ended.
    Ended(Ending),
}

const QUESTIONS: [(Question, &str); 7] = [
    (Question::LoadIn, "load-in"),
    (Question::Check, "check"),
    (Question::Wait, "wait"),
    (Question::AnythingNew, "anything-new"),
    (Question::DoorLeftOpen, "door-left-open"),
    (Question::PowerReturned, "power-returned"),
    (Question::Tripped, "tripped"),
];

/// The word of a question.
#[must_use]
pub fn question_word(question: Question) -> &'static str {
    QUESTIONS.iter().find(|(known, _)| *known == question).map_or("", |(_, word)| word)
}

fn question_from_word(word: &str) -> Option<Question> {
    QUESTIONS.iter().find(|(_, known)| *known == word).map(|(question, _)| *question)
}

impl fmt::Display for Ending {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Finished => formatter.write_str("finished"),
            Self::Stopped => formatter.write_str("stopped"),
            Self::TooLong => formatter.write_str("bake-too-long"),
            Self::CheckFailed => formatter.write_str("check-failed"),
            Self::Tripped(kind) => write!(formatter, "tripped {kind}"),
        }
    }
}

impl fmt::Display for Event {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Started => formatter.write_str("started"),
            Self::StepBegan(index) => write!(formatter, "step {}", u16::from(*index) + 1),
            Self::GaveUp(index) => write!(formatter, "gave up step {}", u16::from(*index) + 1),
            Self::NoLonger(index) => write!(formatter, "no longer step {}", u16::from(*index) + 1),
            Self::DoorOpened => formatter.write_str("door opened"),
            Self::DoorClosed => formatter.write_str("door closed"),
            Self::Recovered => formatter.write_str("recovered"),
            Self::LoadOpened => formatter.write_str("load opened"),
            Self::LoadClosed => formatter.write_str("load closed"),
            Self::PartsOut => formatter.write_str("parts out"),
            Self::Asked(question) => write!(formatter, "asked {}", question_word(*question)),
            Self::Answered(question, answer) => {
                let said = if *answer == Answer::Go { "go" } else { "fail" };
                write!(formatter, "answered {} {said}", question_word(*question))
            }
            Self::SupplyReturned { coldest, hottest, parts, element, credit_s } => {
                let (coldest, hottest) = (coldest.0, hottest.0);
                let (parts, element) = (parts.0, element.0);
                write!(
                    formatter,
                    "supply returned {coldest} {hottest} {parts} {element} {credit_s}"
                )
            }
            Self::OutsideModel => formatter.write_str("outside-model"),
            Self::ProbeBelieved => formatter.write_str("probe-agrees"),
            Self::ProbeIgnored => formatter.write_str("probe-disagrees"),
            Self::StoreFailing => formatter.write_str("store-failing"),
            Self::Tripped(kind) => write!(formatter, "trip {kind}"),
            Self::Acknowledged => formatter.write_str("acknowledged"),
            Self::Ended(ending) => write!(formatter, "ended {ending}"),
        }
    }
}

impl Event {
    /// Reads the words of an event; `None` for anything else.
    #[must_use]
    pub fn parse(words: &str) -> Option<Self> {
        const PLAIN: [Event; 13] = [
            Event::Started,
            Event::DoorOpened,
            Event::DoorClosed,
            Event::Recovered,
            Event::LoadOpened,
            Event::LoadClosed,
            Event::PartsOut,
            Event::OutsideModel,
            Event::ProbeBelieved,
            Event::ProbeIgnored,
            Event::StoreFailing,
            Event::Acknowledged,
            Event::Ended(Ending::Finished),
        ];
        if let Some(rest) = words.strip_prefix("answered ") {
            let (question, said) = rest.split_once(' ')?;
            let answer = match said {
                "go" => Answer::Go,
                "fail" => Answer::Fail,
                _ => return None,
            };
            return Some(Self::Answered(question_from_word(question)?, answer));
        }
        if let Some(rest) = words.strip_prefix("supply returned ") {
            let (rest, credit) = rest.rsplit_once(' ')?;
            let mut steps = rest.split(' ').map(|step| step.parse().ok().map(Reading));
            return Some(Self::SupplyReturned {
                coldest: steps.next()??,
                hottest: steps.next()??,
                parts: steps.next()??,
                element: steps.next()??,
                credit_s: credit.parse().ok()?,
            });
        }
        if let Some(word) = words.strip_prefix("asked ") {
            return question_from_word(word).map(Self::Asked);
        }
        if let Some(word) = words.strip_prefix("trip ") {
            return TripKind::from_word(word).map(Self::Tripped);
        }
        if let Some(word) = words.strip_prefix("ended tripped ") {
            return TripKind::from_word(word).map(|kind| Self::Ended(Ending::Tripped(kind)));
        }
        if let Some(number) = words.strip_prefix("step ") {
            return index(number).map(Self::StepBegan);
        }
        if let Some(number) = words.strip_prefix("gave up step ") {
            return index(number).map(Self::GaveUp);
        }
        if let Some(number) = words.strip_prefix("no longer step ") {
            return index(number).map(Self::NoLonger);
        }
        match words {
            "ended stopped" => Some(Self::Ended(Ending::Stopped)),
            "ended bake-too-long" => Some(Self::Ended(Ending::TooLong)),
            "ended check-failed" => Some(Self::Ended(Ending::CheckFailed)),
            _ => PLAIN.into_iter().find(|event| is_written(event, words)),
        }
    }
}

fn index(number: &str) -> Option<u8> {
    number.parse::<u8>().ok()?.checked_sub(1)
}

fn is_written(event: &Event, words: &str) -> bool {
    let mut text = heapless::String::<48>::new();
    fmt::write(&mut text, format_args!("{event}")).is_ok() && text == words
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_event_reads_back_as_written() {
        let mut events = heapless::Vec::<Event, 80>::new();
        for event in [
            Event::Started,
            Event::StepBegan(0),
            Event::StepBegan(23),
            Event::GaveUp(4),
            Event::NoLonger(0),
            Event::DoorOpened,
            Event::DoorClosed,
            Event::Recovered,
            Event::LoadOpened,
            Event::LoadClosed,
            Event::PartsOut,
            Event::SupplyReturned {
                coldest: Reading(-300),
                hottest: Reading(23_000),
                parts: Reading(19_500),
                element: Reading(60_000),
                credit_s: 899,
            },
            Event::OutsideModel,
            Event::ProbeBelieved,
            Event::ProbeIgnored,
            Event::StoreFailing,
            Event::Acknowledged,
            Event::Ended(Ending::Finished),
            Event::Ended(Ending::Stopped),
            Event::Ended(Ending::TooLong),
            Event::Ended(Ending::CheckFailed),
        ] {
            events.push(event).unwrap();
        }
        for (question, _) in QUESTIONS {
            events.push(Event::Asked(question)).unwrap();
            events.push(Event::Answered(question, Answer::Go)).unwrap();
            events.push(Event::Answered(question, Answer::Fail)).unwrap();
        }
        for kind in [TripKind::DriveWelded, TripKind::MemoryCorrupt] {
            events.push(Event::Tripped(kind)).unwrap();
            events.push(Event::Ended(Ending::Tripped(kind))).unwrap();
        }
        for event in events {
            let mut text = heapless::String::<64>::new();
            fmt::write(&mut text, format_args!("{event}")).unwrap();
            assert_eq!(Event::parse(&text), Some(event), "{text}");
        }
        assert_eq!(Event::parse("step 0"), None);
        assert_eq!(Event::parse("said something"), None);
    }
}
