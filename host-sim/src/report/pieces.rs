//! What a report is made of, as plain words: the same for a terminal and for a page.
//!
//! Nothing here knows how wide a line is or what a table looks like; differences are always told
//! as differences ("within", "above", "over"), never as a bare temperature.

use std::fmt::Write as _;

use super::faults::fault;
use super::result::{Answered, DoorEvent, Part, PartSoak, StepRun, Trip, Verdict};
use super::units::{Units, duration, h_mm, minutes_had, minutes_of};
use super::{SoakWanted, Story, soaks_of};
use crate::files::bake::BakeFile;
use truesoak_core::bake::Step;

/// Largest distance from the setpoint that counts as recovered, K (see the result's doors).
const RECOVERED_WITHIN_K: f64 = 1.0;

/// One run of one soak: a heading, a table whose first row names the columns, and who was not in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SoakTold {
    /// Which soak, what it asks for and what counted.
    pub heading: String,
    /// Rows of a table; the last column is the verdict.
    pub rows: Vec<Vec<String>>,
    /// Parts that were not in the oven, as a sentence; empty if all were.
    pub absent: String,
}

/// A trip: what happened and what to do.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TripTold {
    /// What happened, its kind and when.
    pub headline: String,
    /// What it looks like, its likely cause, what to do next: each with its name.
    pub lines: Vec<(&'static str, &'static str)>,
}

/// Every run of every soak.
#[must_use]
pub fn soaks(story: &Story<'_>) -> Vec<SoakTold> {
    let soaks = soaks_of(story.bake);
    let runs = soaks.iter().flat_map(|soak| {
        let runs = story.result.steps.iter().filter(|run| run.index == soak.step);
        runs.map(move |run| soak_told(story, soak, run))
    });
    runs.collect()
}

fn soak_told(story: &Story<'_>, soak: &SoakWanted, run: &StepRun) -> SoakTold {
    let window = story.units.window(soak.at_least_c, soak.at_most_c);
    let mut heading = capitalised(&soak.title());
    if !soak.name.is_empty() {
        let _ = write!(heading, " (step {})", soak.step);
    }
    if run.round > 1 {
        let _ = write!(heading, ", try {}", run.round);
    }
    let _ = write!(heading, ": {window} for {}", duration(soak.for_s));
    if !story.is_by_the_clock() {
        let _ = write!(heading, "; counted {}", minutes_of(run.credit_s, soak.for_s));
    }
    let compared = is_compared(story);
    let mut rows = vec![heads(compared)];
    let mut absent = Vec::new();
    for part in &story.result.parts {
        let had = part.soaks.iter().find(|had| had.step == soak.step && had.round == run.round);
        match had {
            Some(had) => rows.push(cells(story.units, part, had, compared)),
            None => absent.push(format!("\"{}\"", part.name)),
        }
    }
    let absent = match absent.as_slice() {
        [] => String::new(),
        names => format!("Not in the oven for this soak: {}.", names.join(", ")),
    };
    SoakTold { heading, rows, absent }
}

/// The practice was rehearsed beside the controller.
fn is_compared(story: &Story<'_>) -> bool {
    let mut soaks = story.result.parts.iter().flat_map(|part| &part.soaks);
    !story.is_by_the_clock() && soaks.any(|soak| soak.clock_s.is_some())
}

fn heads(compared: bool) -> Vec<String> {
    let clock = compared.then_some("by the clock");
    let heads = ["part", "reached", "in window"].into_iter().chain(clock);
    heads.chain(["hottest", "verdict"]).map(String::from).collect()
}

fn cells(units: Units, part: &Part, had: &PartSoak, compared: bool) -> Vec<String> {
    let mut cells = vec![
        part_name(part),
        had.reached_s.map_or_else(|| "never".to_owned(), h_mm),
        minutes_had(had.in_window_s),
    ];
    if compared {
        cells.push(had.clock_s.map_or_else(|| "-".to_owned(), minutes_had));
    }
    cells.extend([units.temperature(had.peak_c), had.verdict.word().to_owned()]);
    cells
}

/// A part's name, and how many there are.
pub(super) fn part_name(part: &Part) -> String {
    match part.count {
        1 => part.name.clone(),
        count => format!("{} ×{count}", part.name),
    }
}

/// What the columns of the tables mean.
#[must_use]
pub fn columns_explained(story: &Story<'_>) -> String {
    let mut text = "Reached: hours and minutes since the start. In window: ".to_owned();
    text.push_str(if story.tells_truth() {
        "what each part truly had in the simulated oven"
    } else {
        "what is proven of each part"
    });
    if is_compared(story) {
        text.push_str(
            ". By the clock: what it would have had, were the oven run by its air and by a timer \
             started as ",
        );
        text.push_str(clock_start(story.bake).past);
    }
    text.push('.');
    text
}

/// What starts the practice's timer, as it is told now and afterwards.
pub(super) struct ClockStart {
    pub(super) now: &'static str,
    pub(super) past: &'static str,
}

/// The door behind the load; the air, where none is put in before a soak ([`crate::rehearse`]).
pub(super) fn clock_start(bake: &BakeFile) -> ClockStart {
    let (mut loaded, mut by_door, mut by_air) = (false, false, false);
    for step in &bake.bake.steps {
        match step {
            Step::LoadIn(_) => loaded = true,
            Step::Soak(_) => {
                by_door |= loaded;
                by_air |= !loaded;
                loaded = false;
            }
            _ => {}
        }
    }
    match (by_door, by_air) {
        (false, true) => {
            ClockStart { now: "the air gets into the window", past: "the air got into the window" }
        }
        (true, true) => ClockStart {
            now: "the door closes (without a load, as the air gets into the window)",
            past: "the door closed (without a load, as the air got into the window)",
        },
        _ => ClockStart { now: "the door closes", past: "the door closed" },
    }
}

/// A deviation that no screen could show is not told as none.
fn swing(units: Units, deviation_k: f64) -> String {
    let told = units.difference(deviation_k);
    if told == units.difference(0.0) {
        format!("less than {}", units.difference(units.least_difference_k()))
    } else {
        told
    }
}

/// Doors, then how the air was held.
#[must_use]
pub fn air(story: &Story<'_>) -> Vec<String> {
    let (units, air) = (story.units, &story.result.air);
    let mut lines: Vec<String> =
        story.result.doors.iter().map(|door| door_line(story, door)).collect();
    if let (Some(mean_k), Some(deviation_k)) = (air.soak_mean_error_k, air.soak_sd_k) {
        lines.push(format!(
            "steady soak: reading {} on average, air varying by {} either way",
            beside_setpoint(units, mean_k),
            swing(units, deviation_k)
        ));
    }
    let mut line = match air.peak_c {
        Some(peak_c) => format!("hottest reading {}", units.temperature(peak_c)),
        None => "no usable reading".to_owned(),
    };
    if air.overshoot_k > 0.0 {
        let _ = write!(line, "; at most {} over the setpoint", units.difference(air.overshoot_k));
    }
    lines.push(line);
    lines
}

fn beside_setpoint(units: Units, mean_k: f64) -> String {
    let off = units.difference(mean_k.abs());
    match units.from_kelvins(mean_k) {
        off_by if off_by.abs() < 0.05 => "at the setpoint".to_owned(),
        off_by if off_by < 0.0 => format!("{off} below the setpoint"),
        _ => format!("{off} above the setpoint"),
    }
}

fn door_line(story: &Story<'_>, door: &DoorEvent) -> String {
    let units = story.units;
    let mut line = format!("door opened at {}", h_mm(door.opened_s));
    let Some(closed_s) = door.closed_s else {
        line.push_str(", still open at the end");
        return line;
    };
    let _ = write!(line, " for {}", duration(closed_s - door.opened_s));
    if let Some(low_c) = door.reading_low_c {
        let _ = write!(line, ": reading down to {}", units.temperature(low_c));
    }
    let within = units.difference(RECOVERED_WITHIN_K);
    if let Some(back_s) = door.recovered_s {
        let after = duration(back_s - closed_s);
        let _ = write!(line, ", within {within} of the setpoint {after} after closing");
    } else if is_heated(story, closed_s) {
        let _ = write!(line, ", not within {within} of the setpoint after it");
    }
    line
}

/// Some step wants the air back at this time.
fn is_heated(story: &Story<'_>, at_s: f64) -> bool {
    let runs = &story.result.steps;
    let run = runs.iter().rev().find(|run| run.started_s <= at_s);
    run.is_some_and(|run| matches!(run.kind.as_str(), "ramp" | "soak" | "load_in"))
}

/// Trips, in order.
#[must_use]
pub fn trips(story: &Story<'_>) -> Vec<TripTold> {
    story.result.trips.iter().map(trip).collect()
}

fn trip(trip: &Trip) -> TripTold {
    let mut when = format!("seen at {}", h_mm(trip.detected_s));
    if let Some(at_s) = trip.at_s {
        let _ = write!(when, ", {:.1} s after it began", (trip.detected_s - at_s).max(0.0));
    }
    match fault(&trip.kind) {
        Some(fault) => TripTold {
            headline: format!("{} ({}), {when}.", fault.name, fault.kind),
            lines: vec![
                ("looks like", fault.looks_like),
                ("likely cause", fault.cause),
                ("do next", fault.next),
            ],
        },
        None => TripTold { headline: format!("{}, {when}.", trip.kind), lines: Vec::new() },
    }
}

/// Steps as they were run; the first row names the columns.
#[must_use]
pub fn steps(story: &Story<'_>) -> Vec<Vec<String>> {
    let mut rows = vec![["step", "from", "to", "took"].map(String::from).to_vec()];
    for run in &story.result.steps {
        rows.push(vec![
            step_name(run),
            h_mm(run.started_s),
            run.ended_s.map_or_else(|| "-".to_owned(), h_mm),
            run.ended_s.map_or_else(String::new, |ended_s| duration(ended_s - run.started_s)),
        ]);
    }
    rows
}

pub(super) fn step_name(run: &StepRun) -> String {
    let mut name = format!("{} {}", run.index, run.kind);
    if !run.name.is_empty() {
        // Writing to a string cannot fail.
        let _ = write!(name, " \"{}\"", run.name);
    }
    if run.round > 1 {
        let _ = write!(name, ", try {}", run.round);
    }
    name
}

/// Questions and answers.
#[must_use]
pub fn asked(story: &Story<'_>) -> Vec<String> {
    let line = |answer: &Answered| {
        let words = answer.step.checked_sub(1).and_then(|index| story.bake.steps.get(index));
        let question = match answer.question.as_str() {
            "load-in" => "Hang the parts, close the door, then GO",
            "anything-new" => "Anything new inside?",
            "door-left-open" => "The door is still open: close it, then GO",
            "power-returned" => "The supply is back: anything new inside?",
            _ => words.map_or("", |words| words.ask.as_str()),
        };
        let mut line = format!("{} \"{question}\"", h_mm(answer.asked_s));
        let _ = match (&answer.said, answer.answered_s) {
            (Some(said), Some(at_s)) => {
                // A check has words of its own for its answers.
                let own = words.filter(|_| answer.question == "check");
                let own = own.map(|words| if said == "pass" { &words.pass } else { &words.fail });
                let said = own.filter(|own| !own.is_empty()).unwrap_or(said);
                write!(line, ": \"{said}\" after {}", duration(at_s - answer.asked_s))
            }
            _ => write!(line, ": no answer"),
        };
        line
    };
    story.result.answers.iter().map(line).collect()
}

/// What a rehearsal by the clock is.
#[must_use]
pub fn by_the_clock(bake: &BakeFile) -> String {
    format!(
        "By the clock: the air is held at the middle of the window and a timer starts as {}, as is \
         common practice. Nothing is proven.",
        clock_start(bake).now
    )
}

/// How long it took and how much heat.
#[must_use]
pub fn took(story: &Story<'_>) -> String {
    let took = duration(story.result.duration_s);
    if story.result.energy_kwh.is_nan() {
        return format!("It took {took}.");
    }
    format!("It took {took} and {:.1} kWh of heat.", story.result.energy_kwh)
}

/// How short it could have been, if that was asked.
#[must_use]
pub fn fastest(story: &Story<'_>) -> Option<String> {
    let oracle = story.result.oracle.as_ref()?;
    let took = duration(oracle.duration_s);
    if oracle.verdict != Verdict::Pass {
        let word = oracle.verdict.word();
        return Some(format!("Even knowing everything, the bake would be {word} after {took}."));
    }
    let mut said = format!("The fastest possible, knowing everything, would take {took}");
    if story.result.is_good() {
        let more = 100.0 * (story.result.duration_s / oracle.duration_s - 1.0);
        let _ = write!(said, "; this bake takes {more:.0} % more");
    }
    said.push('.');
    Some(said)
}

/// The same text with its first letter large.
#[must_use]
pub fn capitalised(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}
