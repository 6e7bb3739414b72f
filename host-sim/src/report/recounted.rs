//! What a recount adds to a report: where its figures are from, what is not proven and why, what was
//! found of the log itself, and how another log went beside it.

use std::fmt::Write as _;

use super::pieces::{part_name, step_name};
use super::result::{Found, PartSoak, StepRun, Verdict, Why};
use super::sentence::is_last_try;
use super::units::{Units, duration, minutes_had, minutes_of};
use super::{SoakWanted, Story, soaks_of};
use crate::log::Source;

/// Where a recount has its figures from.
#[must_use]
pub fn from(story: &Story<'_>) -> Option<String> {
    let header = story.recounted?;
    let mut text = match header.source {
        Source::Oven => "Recounted from the log of the oven".to_owned(),
        Source::Rehearsal => "Recounted from the log of a rehearsal, which is no record".to_owned(),
        Source::Virtual => {
            "Recounted from the log of a virtual board, which is no record".to_owned()
        }
        Source::Other => "Recounted from a log of another maker".to_owned(),
    };
    for (name, value) in [
        ("begun", &header.started_at),
        ("board", &header.board),
        ("job", &header.job),
        ("note", &header.note),
    ] {
        if let Some(value) = value {
            // Writing to a string cannot fail.
            let _ = write!(text, "; {name} {value}");
        }
    }
    text.push('.');
    Some(text)
}

/// What a recount found of the log itself, each with its line.
#[must_use]
pub fn record(story: &Story<'_>) -> Vec<String> {
    let line = |found: &Found| match found.line {
        Some(line) => format!("line {line}: {}", found.what),
        None => found.what.clone(),
    };
    story.result.record.iter().map(line).collect()
}

/// Of every part that had less than its minutes in the last try of a soak: what is proven, and what
/// kept the rest from being proven.
#[must_use]
pub fn not_proven(story: &Story<'_>) -> Vec<String> {
    let mut lines = Vec::new();
    for wanted in soaks_of(story.bake) {
        for part in &story.result.parts {
            let is_last = |soak: &&PartSoak| soak.step == wanted.step && is_last_try(part, soak);
            let Some(had) = part.soaks.iter().rfind(is_last) else {
                lines.push(format!("{} in {}: it was not run", part_name(part), wanted.title()));
                continue;
            };
            if had.verdict == Verdict::Pass {
                continue;
            }
            let proven = minutes_of(had.in_window_s, wanted.for_s);
            let mut line = format!("{} in {}: {proven} proven", part_name(part), wanted.title());
            let same = |why: &&Why| {
                why.part == part.name && why.step == had.step && why.round == had.round
            };
            if let Some(why) = story.result.why.iter().find(same) {
                line.push_str(&reasons(story.units, &wanted, why));
            }
            if had.peak_c > part.limit_c {
                let stands = story.units.as_given(part.limit_c);
                let _ =
                    write!(line, "; nor is it proven to have stayed below the {stands} it stands");
            }
            lines.push(line);
        }
    }
    lines
}

fn reasons(units: Units, wanted: &SoakWanted, why: &Why) -> String {
    let mut text = String::new();
    let mut say = |seconds: f64, words: String| {
        if seconds > 0.0 {
            let _ = write!(text, "; for {} {words}", duration(seconds));
        }
    };
    let (low, high) = (units.as_given(wanted.at_least_c), units.as_given(wanted.at_most_c));
    let most = why.hottest_most_c.map_or_else(String::new, |c| units.at_most(c));
    let least = match why.coldest_most_c {
        Some(c) if c < wanted.at_least_c => format!(", proven no more than {}", units.at_least(c)),
        _ => String::new(),
    };
    say(why.too_cold_s, format!("it may have been below {low}{least}"));
    say(why.too_hot_s, format!("it may have been above {high}, at most {most}"));
    say(why.doubted_s, "nothing counted, though its bounds were in the window".to_owned());
    text
}

/// Every step beside the same run of it in another log; the first row names the columns.
#[must_use]
pub fn compared(story: &Story<'_>, other: &str, there: &[StepRun]) -> Vec<Vec<String>> {
    let took = |run: &StepRun| run.ended_s.map(|ended_s| ended_s - run.started_s);
    let shown = |took_s: Option<f64>| took_s.map_or_else(|| "-".to_owned(), duration);
    let heads = ["step", "took", other, "longer", "counted", other];
    let mut rows = vec![heads.map(String::from).to_vec()];
    for run in &story.result.steps {
        let same = |there: &&StepRun| there.index == run.index && there.round == run.round;
        let beside = there.iter().find(same);
        let (here_s, there_s) = (took(run), beside.and_then(took));
        let longer = here_s.zip(there_s).map_or_else(
            || "-".to_owned(),
            |(here_s, there_s)| match here_s - there_s {
                less if less < -0.5 => format!("-{}", duration(-less)),
                more => duration(more),
            },
        );
        let counted = |run: Option<&StepRun>| match run {
            Some(run) if run.kind == "soak" => minutes_had(run.credit_s),
            _ => String::new(),
        };
        let (here, beyond) = (shown(here_s), shown(there_s));
        rows.push(vec![step_name(run), here, beyond, longer, counted(Some(run)), counted(beside)]);
    }
    rows
}
