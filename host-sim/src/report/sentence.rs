//! The one sentence that leads every report: the verdict's word, then what it means here.
//!
//! A claim and the truth of a rehearsal are told apart: a claimed pass that the simulated parts did
//! not have is called a false pass, never a pass. No certification is claimed; the word is proven.

use std::fmt::Write as _;

use super::faults::fault;
use super::pieces::capitalised;
use super::result::{Basis, Part, PartSoak, Verdict};
use super::units::{duration, h_mm, minutes_of};
use super::{SoakWanted, Story, soaks_of, title};
use crate::log::Source;

/// The verdict: a word in capitals, whether it is good, and the rest of the sentence.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Sentence {
    /// "PASS", "FALSE PASS", "SHORT", …
    pub word: String,
    /// The answer is yes.
    pub good: bool,
    /// What it means here.
    pub rest: String,
}

/// Says what came of a bake.
#[must_use]
pub fn sentence(story: &Story<'_>) -> Sentence {
    let soaks = soaks_of(story.bake);
    let clock = story.is_by_the_clock();
    let result = story.result;
    let (word, mut rest) = match (result.verdict, result.truth) {
        (Verdict::Pass, Some(Verdict::Short)) => (
            if clock { "TRULY SHORT" } else { "FALSE PASS" },
            format!("{}, but {}", claim(clock), short_in_truth(story, &soaks)),
        ),
        (Verdict::Pass, Some(Verdict::Overheated)) => (
            if clock { "TRULY OVERHEATED" } else { "FALSE PASS" },
            format!("{}, but {}", claim(clock), too_hot(story)),
        ),
        (Verdict::Pass, _) => ("PASS", passed(story, &soaks, clock)),
        (Verdict::Short, _) => ("SHORT", short(story, &soaks)),
        (Verdict::Overheated, _) => ("OVERHEATED", capitalised(&too_hot(story))),
        (Verdict::Unfinished, _) => ("UNFINISHED", unfinished(story)),
        (Verdict::Tripped, _) => ("TRIPPED", tripped(story)),
    };
    let claims_less = !matches!(result.verdict, Verdict::Pass | Verdict::Overheated);
    if claims_less && result.truth == Some(Verdict::Overheated) {
        let _ = write!(rest, " Worse, {}", too_hot(story));
    }
    let word = if clock { format!("BY THE CLOCK, {word}") } else { word.to_owned() };
    Sentence { word, good: result.is_good(), rest }
}

fn claim(clock: bool) -> &'static str {
    if clock { "The timer said done" } else { "The controller says pass" }
}

/// What every part had, soak by soak.
fn wanted(story: &Story<'_>, soaks: &[SoakWanted]) -> String {
    let window = |soak: &SoakWanted| {
        let window = story.units.window(soak.at_least_c, soak.at_most_c);
        format!("between {} for at least {}", window.replace(" to ", " and "), duration(soak.for_s))
    };
    match soaks {
        [] => "every step was done".to_owned(),
        [soak] => format!("every part was {}", window(soak)),
        several => {
            let each = several.iter().map(|soak| format!("{} {}", soak.title(), window(soak)));
            format!("every part had its minutes ({})", each.collect::<Vec<_>>().join("; "))
        }
    }
}

fn passed(story: &Story<'_>, soaks: &[SoakWanted], clock: bool) -> String {
    let mut text = capitalised(&wanted(story, soaks));
    let _ = match (clock, story.tells_truth()) {
        _ if soaks.is_empty() => write!(text, "."),
        (true, _) => write!(text, ": not proven, but true in the simulated oven."),
        (false, true) => write!(text, ": proven {}, and true in the simulated oven.", how(story)),
        (false, false) => write!(text, ": proven {}.", how(story)),
    };
    text
}

/// What a customer is told first: the same verdict, for a pass as what every part had at least, how
/// that is known, and the hottest any part can have been (`hottest_c`).
#[must_use]
pub fn for_a_customer(story: &Story<'_>, hottest_c: Option<f64>) -> Sentence {
    let soaks = soaks_of(story.bake);
    let said = sentence(story);
    if !said.good || soaks.is_empty() || story.is_by_the_clock() {
        return said;
    }
    let each = soaks.iter().map(|soak| {
        let least = story.units.as_given(soak.at_least_c);
        let named = if soaks.len() > 1 { format!(" ({})", soak.title()) } else { String::new() };
        format!("at or above {least} for at least {}{named}", duration(soak.for_s))
    });
    let each: Vec<String> = each.collect();
    let mut rest = format!("Every part was {}: proven {}", each.join(" and "), how(story));
    if story.tells_truth() {
        rest.push_str(", and true in the simulated oven");
    }
    rest.push('.');
    if let Some(hottest_c) = hottest_c {
        let _ =
            write!(rest, " No part can have been hotter than {}.", story.units.at_most(hottest_c));
    }
    Sentence { rest, ..said }
}

/// How a claim is known.
#[must_use]
pub fn how(story: &Story<'_>) -> &'static str {
    match story.result.basis {
        Basis::OneSensor if is_blind(story) => "from one air sensor alone",
        Basis::OneSensor => "from one air sensor and the heat put in",
        Basis::TwoSensors => "from two air sensors and the heat put in",
        Basis::PartProbe => "from a probe on a part, the air and the heat put in",
    }
}

/// A log of another maker says nothing of the heat.
fn is_blind(story: &Story<'_>) -> bool {
    story.recounted.is_some_and(|header| header.source == Source::Other)
}

/// What is not covered by the basis of a claim.
#[must_use]
pub fn not_covered(basis: Basis) -> &'static str {
    match basis {
        Basis::OneSensor => {
            "Not covered with one sensor: one that has moved, one of another type than told, \
             and a part thicker than told."
        }
        Basis::TwoSensors => {
            "Not covered without a probe: sensors of another type than told, and a part \
             thicker than told."
        }
        Basis::PartProbe => {
            "Not covered: sensors of another type than told, and a part that hangs colder or is \
             thicker than the one with the probe."
        }
    }
}

/// The part and soak with the least of its minutes, truly.
fn shortest<'a>(
    story: &Story<'a>,
    soaks: &[SoakWanted],
) -> Option<(&'a Part, &'a PartSoak, SoakWanted)> {
    let mut worst: Option<(f64, &Part, &PartSoak, &SoakWanted)> = None;
    for part in &story.result.parts {
        for soak in part.soaks.iter().filter(|soak| is_last_try(part, soak)) {
            let Some(wanted) = soaks.iter().find(|wanted| wanted.step == soak.step) else {
                continue;
            };
            let share = soak.in_window_s / wanted.for_s.max(1.0);
            if worst.is_none_or(|(least, ..)| share < least) {
                worst = Some((share, part, soak, wanted));
            }
        }
    }
    worst.map(|(_, part, soak, wanted)| (part, soak, wanted.clone()))
}

pub(super) fn is_last_try(part: &Part, soak: &PartSoak) -> bool {
    part.soaks.iter().all(|other| other.step != soak.step || other.round <= soak.round)
}

fn short_in_truth(story: &Story<'_>, soaks: &[SoakWanted]) -> String {
    if let Some(text) = too_long(story, soaks) {
        return text;
    }
    let Some((part, soak, wanted)) = shortest(story, soaks) else {
        return "some part did not have its minutes.".to_owned();
    };
    let window = story.units.window(wanted.at_least_c, wanted.at_most_c).replace(" to ", " and ");
    let had = minutes_of(soak.in_window_s, wanted.for_s);
    format!("\"{}\" truly had {had} between {window} in {}.", part.name, wanted.title())
}

/// A part that truly was above a window's lower end for longer than its soak allows.
fn too_long(story: &Story<'_>, soaks: &[SoakWanted]) -> Option<String> {
    let had = story.result.parts.iter().flat_map(|part| {
        let last = part.soaks.iter().filter(|soak| is_last_try(part, soak));
        last.map(move |soak| (part, soak))
    });
    let over = had.filter_map(|(part, soak)| {
        let wanted = soaks.iter().find(|wanted| wanted.step == soak.step)?;
        let limit_s = wanted.no_longer_than_s.filter(|limit_s| soak.above_s > *limit_s)?;
        Some((soak.above_s - limit_s, part, soak, wanted))
    });
    let (_, part, soak, wanted) = over.max_by(|left, right| left.0.total_cmp(&right.0))?;
    Some(format!(
        "\"{}\" truly was above {} for {} around {}, longer than the {} allowed.",
        part.name,
        story.units.temperature(wanted.at_least_c),
        duration(soak.above_s),
        wanted.title(),
        duration(wanted.no_longer_than_s.unwrap_or(0.0)),
    ))
}

fn short(story: &Story<'_>, soaks: &[SoakWanted]) -> String {
    let mut text = reason(story).unwrap_or_else(|| "Not every part had its minutes.".to_owned());
    if story.result.truth.is_some()
        && let Some((part, soak, wanted)) = shortest(story, soaks)
    {
        let had = minutes_of(soak.in_window_s, wanted.for_s);
        let _ = write!(text, " In the simulated oven \"{}\" truly had {had}.", part.name);
    }
    text
}

/// The result's reason as a sentence of its own.
fn reason(story: &Story<'_>) -> Option<String> {
    let reason = story.result.reason.trim();
    let stop = if reason.ends_with(['.', '!', '?']) { "" } else { "." };
    (!reason.is_empty()).then(|| format!("{}{stop}", capitalised(reason)))
}

/// The part that went furthest over what it stands.
fn too_hot(story: &Story<'_>) -> String {
    let over_k = |part: &&Part| part.peak_c.map_or(f64::NEG_INFINITY, |peak| peak - part.limit_c);
    let parts = story.result.parts.iter();
    let worst = parts
        .filter(|part| part.verdict == Verdict::Overheated)
        .max_by(|left, right| over_k(left).total_cmp(&over_k(right)));
    match worst.and_then(|part| part.peak_c.map(|peak_c| (part, peak_c))) {
        Some((part, peak_c)) => {
            let (peak, limit) = (story.units.at_most(peak_c), story.units.at_least(part.limit_c));
            format!("\"{}\" reached {peak}, above the {limit} it stands.", part.name)
        }
        None => "some part was hotter than it stands.".to_owned(),
    }
}

fn unfinished(story: &Story<'_>) -> String {
    let mut text = match story.result.steps.last() {
        Some(run) => {
            let at = h_mm(story.result.duration_s);
            format!("The bake ended at {at} in {}.", title(run.index, &run.name))
        }
        None => "The bake ended before its first step.".to_owned(),
    };
    if let Some(reason) = reason(story) {
        let _ = write!(text, " {reason}");
    }
    text
}

fn tripped(story: &Story<'_>) -> String {
    let Some(trip) = story.result.trips.first() else {
        return reason(story).unwrap_or_else(|| "Heat was cut.".to_owned());
    };
    let name = fault(&trip.kind).map_or(trip.kind.as_str(), |fault| fault.name);
    format!("{name}; heat was cut at {} and stays cut.", h_mm(trip.detected_s))
}
