//! Reads what a rehearsal replays: doors, answers and faults.

use truesoak_core::bake::{Bake, Step};

use super::bake::{
    AnswerScript, DoorScript, FAULT_KINDS, FAULT_KINDS_WITH_SIZE, FaultScript, Moment, Say,
    StepWords,
};
use super::problem::nearest;
use super::quantity::Dimension::{Difference, Duration};
use super::quantity::{self, shorten};
use super::read_bake::no_such_step;
use super::reader::{DURATION_MAX_S, Range, Section};

/// Most entries of one list.
const ENTRIES_MAX: usize = 200;

/// Everything a rehearsal replays.
pub(super) struct Scripts {
    /// Doors.
    pub(super) doors: Vec<DoorScript>,
    /// Answers.
    pub(super) answers: Vec<AnswerScript>,
    /// Faults.
    pub(super) faults: Vec<FaultScript>,
}

/// Reads the three lists.
pub(super) fn read(root: &Section<'_>, bake: &Bake, words: &[StepWords]) -> Scripts {
    let doors = root.items("door", ENTRIES_MAX);
    let answers = root.items("answer", ENTRIES_MAX);
    let faults = root.items("fault", ENTRIES_MAX);
    Scripts {
        doors: doors.iter().filter_map(|section| door(section, bake, words)).collect(),
        answers: answers.iter().filter_map(|section| answer(section, bake, words)).collect(),
        faults: faults.iter().filter_map(|section| fault(section, bake, words)).collect(),
    }
}

fn door(section: &Section<'_>, bake: &Bake, words: &[StepWords]) -> Option<DoorScript> {
    let at = moment(section, bake, words);
    let open_for = "75 s";
    let source = "common practice: hanging a rack takes about that long";
    let open_for_s = section.quantity_or("open_for", Duration, Range::Positive, open_for, source);
    let loads = section.flag("loads").unwrap_or(false);
    let opening = section.number("opening", 0.01, 1.0).unwrap_or(1.0);
    let in_load_in = |index: usize| matches!(bake.steps.get(index), Some(Step::LoadIn(_)));
    if loads && at.is_some_and(|at| !matches!(at, Moment::SinceStep(index, _) if in_load_in(index)))
    {
        let what = "loads = true, but the door does not open during a load_in".to_owned();
        let next = "write at = \"load_in 1\", or remove loads".to_owned();
        section.report("loads", what, "loads only at a load_in", next);
    }
    section.finish();
    Some(DoorScript { at: at?, open_for_s, loads, opening })
}

fn answer(section: &Section<'_>, bake: &Bake, words: &[StepWords]) -> Option<AnswerScript> {
    let say = say(section, bake, words);
    let after_s = section.quantity("after", Duration, Range::NotNegative);
    section.finish();
    Some(AnswerScript { say: say?, after_s })
}

/// `pass`, `fail`, `go`, or a word some check of this bake uses for one of them.
fn say(section: &Section<'_>, bake: &Bake, words: &[StepWords]) -> Option<Say> {
    let said = section.need_text("say", "pass");
    let fixed = [("pass", Say::Pass), ("fail", Say::Fail), ("go", Say::Go)];
    if let Some((_, say)) = fixed.iter().find(|(word, _)| word.eq_ignore_ascii_case(&said)) {
        return Some(*say);
    }
    let checks: Vec<&StepWords> = bake
        .steps
        .iter()
        .zip(words)
        .filter(|(step, _)| matches!(step, Step::Check(_)))
        .map(|(_, words)| words)
        .collect();
    let passes = checks.iter().any(|words| words.pass == said);
    let fails = checks.iter().any(|words| words.fail == said);
    if passes && fails {
        let what = format!("\"{}\" passes one check and fails another", shorten(&said));
        let next = "write \"pass\" or \"fail\"".to_owned();
        section.report("say", what, "a word with one meaning", next);
        return None;
    }
    if passes || fails {
        return Some(if passes { Say::Pass } else { Say::Fail });
    }
    if !said.is_empty() {
        let known: Vec<&str> = fixed
            .iter()
            .map(|(word, _)| *word)
            .chain(checks.iter().flat_map(|words| [words.pass.as_str(), words.fail.as_str()]))
            .collect();
        let next = match nearest(&said, known.iter().copied()) {
            Some(near) => format!("did you mean \"{near}\"?"),
            None => "write one of them".to_owned(),
        };
        let what = format!("say: \"{}\" is no answer to anything here", shorten(&said));
        section.report("say", what, &format!("one of {}", known.join(", ")), next);
    }
    None
}

fn fault(section: &Section<'_>, bake: &Bake, words: &[StepWords]) -> Option<FaultScript> {
    let at = moment(section, bake, words);
    let kind = section.need_text("kind", "thermocouple-open");
    let known = FAULT_KINDS.contains(&kind.as_str());
    if !known && !kind.is_empty() {
        let next = match nearest(&kind, FAULT_KINDS.iter().copied()) {
            Some(near) => format!("did you mean \"{near}\"?"),
            None => format!("kinds: {}", FAULT_KINDS.join(", ")),
        };
        let what = format!("kind: \"{}\" is no fault known here", shorten(&kind));
        section.report("kind", what, "a kind of the fault table", next);
    }
    let for_s = section.quantity("for", Duration, Range::Positive);
    let range = Range::Within(-500.0, 500.0, "from -500 °C to 500 °C");
    let mut by_k = section.quantity("by", Difference, range);
    if by_k.is_some() && known && !FAULT_KINDS_WITH_SIZE.contains(&kind.as_str()) {
        let what = format!("by: {kind} has no size");
        let expected = format!("by only with {}", FAULT_KINDS_WITH_SIZE.join(", "));
        section.report("by", what, &expected, "remove by".to_owned());
    }
    if by_k.is_none() && kind == "sensor-moved" {
        section.defaulted("by", "-10 °C", "GUESS: slipped half out of the air stream");
        by_k = Some(-10.0);
    }
    section.finish();
    Some(FaultScript { at: at?, kind, for_s, by_k })
}

/// `"35 min"`, `"gas-out"`, `"gas-out + 20 min"`, `"load_in 1"`.
fn moment(section: &Section<'_>, bake: &Bake, words: &[StepWords]) -> Option<Moment> {
    let text = section.need_text("at", "gas-out + 20 min");
    if text.is_empty() {
        return None;
    }
    if let Some(index) = step_called(&text, bake, words) {
        return Some(Moment::SinceStep(index, 0.0));
    }
    if let Some((name, later)) = text.rsplit_once('+') {
        let seconds = time(section, later.trim())?;
        let name = name.trim();
        if name.is_empty() {
            return Some(Moment::SinceStart(seconds));
        }
        let Some(index) = step_called(name, bake, words) else {
            unknown_moment(section, name, bake, words);
            return None;
        };
        return Some(Moment::SinceStep(index, seconds));
    }
    if text.starts_with(|c: char| c.is_ascii_digit() || "-+−.½¼¾".contains(c)) {
        return time(section, &text).map(Moment::SinceStart);
    }
    unknown_moment(section, &text, bake, words);
    None
}

fn time(section: &Section<'_>, text: &str) -> Option<f64> {
    match quantity::parse(text, Duration) {
        Ok(seconds) if (0.0..=DURATION_MAX_S).contains(&seconds) => Some(seconds),
        Ok(seconds) => {
            let (fault, expected) = if seconds < 0.0 {
                ("is before the bake's start", "zero or more")
            } else {
                ("is longer than any bake", "at most 31 days")
            };
            let next = "check the number and the unit".to_owned();
            section.report("at", format!("at: {} {fault}", shorten(text)), expected, next);
            None
        }
        Err(complaint) => {
            let what = format!("at: {}", complaint.what);
            section.report("at", what, &complaint.expected, complaint.next);
            None
        }
    }
}

/// A step by its own name, or by its kind and a number from 1: `load_in 2`.
fn step_called(text: &str, bake: &Bake, words: &[StepWords]) -> Option<usize> {
    if let Some(index) = words.iter().position(|words| words.name == text) {
        return Some(index);
    }
    let (kind, number) = match text.rsplit_once(' ') {
        Some((kind, number)) => (kind.trim(), number.parse::<usize>().ok()?),
        None => (text, 1),
    };
    if kind == "step" {
        return number.checked_sub(1).filter(|index| *index < bake.steps.len());
    }
    let mut of_kind =
        bake.steps.iter().enumerate().filter(|(_, step)| step.word() == kind).map(|(i, _)| i);
    of_kind.nth(number.checked_sub(1)?)
}

fn unknown_moment(section: &Section<'_>, name: &str, bake: &Bake, words: &[StepWords]) {
    let mut names: Vec<String> = words.iter().map(|words| words.name.clone()).collect();
    for kind in ["load_in", "soak", "check", "wait", "ramp", "cool"] {
        let count = bake.steps.iter().filter(|step| step.word() == kind).count();
        names.extend((1..=count).map(|number| format!("{kind} {number}")));
    }
    no_such_step(section, "at", name, &names);
}
