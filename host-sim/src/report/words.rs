//! The report of a bake for a person at a terminal.
//!
//! One sentence first, then a table for every soak, the air and the doors, what went wrong and what
//! to do, the steps, and the files written. It reads at 80 columns and without knowing the code.

use std::fmt::Write as _;

use super::faults::fault;
use super::result::{Part, PartSoak, StepRun, Verdict};
use super::sentence::{not_covered, sentence};
use super::text::{Paint, table, wrap};
use super::units::{Units, counted, duration, h_mm, minutes_had, minutes_of};
use super::{SoakWanted, Story, Written, soaks_of, title};

/// Largest distance from the setpoint that counts as recovered, K (see the result's doors).
const RECOVERED_WITHIN_K: f64 = 1.0;

/// The whole report.
#[must_use]
pub fn report(story: &Story<'_>, paint: Paint, written: &[Written]) -> String {
    let mut out = String::with_capacity(4096);
    verdict(&mut out, story, paint);
    setting(&mut out, story);
    for soak in soaks_of(story.bake) {
        for round in rounds(story, soak.step) {
            soak_table(&mut out, story, &soak, round, paint);
        }
    }
    trips(&mut out, story);
    air(&mut out, story);
    steps(&mut out, story);
    answers(&mut out, story);
    files(&mut out, written);
    out
}

/// The verdict's sentence alone.
#[must_use]
pub fn one_line(story: &Story<'_>, paint: Paint) -> String {
    let mut out = String::new();
    verdict(&mut out, story, paint);
    out
}

fn verdict(out: &mut String, story: &Story<'_>, paint: Paint) {
    let said = sentence(story);
    let mut plain = String::new();
    wrap(&mut plain, "", 0, &format!("{}. {}", said.word, said.rest));
    // Wrapped as plain words first, so that an accent does not count as letters.
    let painted = paint.verdict(&said.word, said.good);
    out.push_str(&plain.replacen(&said.word, &painted, 1));
}

fn setting(out: &mut String, story: &Story<'_>) {
    let mut line = format!("\"{}\" in \"{}\" with \"{}\"", story.bake.name, story.oven, story.load);
    match story.rehearsed {
        Some(rehearsed) => {
            line.insert_str(0, "Rehearsal of ");
            let _ = match rehearsed.draw {
                Some(draw) => write!(line, "; draw {draw} of what is not known"),
                None => write!(line, "; the oven as its files say"),
            };
            if rehearsed.plant_changed {
                line.push_str(", changed without the controller knowing");
            }
            let _ = write!(line, "; noise seed {}.", rehearsed.seed);
        }
        None => line.push('.'),
    }
    wrap(out, "", 0, &line);
    let took = duration(story.result.duration_s);
    let _ = writeln!(out, "It took {took} and {:.1} kWh.", story.result.energy_kwh);
    if story.result.verdict == Verdict::Pass && !is_by_the_clock(story) {
        wrap(out, "", 0, not_covered(story.result.basis));
    }
}

fn is_by_the_clock(story: &Story<'_>) -> bool {
    story.rehearsed.is_some_and(|rehearsed| rehearsed.by_the_clock)
}

/// Which tries of a step were run.
fn rounds(story: &Story<'_>, step: usize) -> Vec<u32> {
    let mut rounds: Vec<u32> =
        story.result.steps.iter().filter(|run| run.index == step).map(|run| run.round).collect();
    rounds.dedup();
    rounds
}

fn soak_table(out: &mut String, story: &Story<'_>, soak: &SoakWanted, round: u32, paint: Paint) {
    let run = story.result.steps.iter().find(|run| run.index == soak.step && run.round == round);
    let window = story.units.window(soak.at_least_c, soak.at_most_c);
    let mut heading = format!("\n{}", capital(&soak.title()));
    if !soak.name.is_empty() {
        let _ = write!(heading, " (step {})", soak.step);
    }
    if round > 1 {
        let _ = write!(heading, ", try {round}");
    }
    let _ = write!(heading, ": {window} for {}", duration(soak.for_s));
    if let Some(run) = run.filter(|_| !is_by_the_clock(story)) {
        let _ = write!(heading, "; counted {}", minutes_of(run.credit_s, soak.for_s));
    }
    let _ = writeln!(out, "{heading}");
    let mut rows = vec![heads(story)];
    let mut absent = Vec::new();
    for part in &story.result.parts {
        let had = part.soaks.iter().find(|had| had.step == soak.step && had.round == round);
        match had {
            Some(had) => rows.push(cells(story.units, part, had)),
            None => absent.push(format!("\"{}\"", part.name)),
        }
    }
    let mut lines = String::new();
    table(&mut lines, 2, &rows);
    for (line, row) in lines.lines().zip(&rows) {
        // Only the last column is painted: the widths are settled by then.
        let word = row.last().map_or("", String::as_str);
        let good = word == Verdict::Pass.word();
        match line.strip_suffix(word).filter(|_| row.first() != rows[0].first()) {
            Some(start) => {
                let _ = writeln!(out, "{start}{}", paint.verdict(word, good));
            }
            None => {
                let _ = writeln!(out, "{line}");
            }
        }
    }
    if !absent.is_empty() {
        wrap(out, "  ", 2, &format!("Not in the oven for this soak: {}.", absent.join(", ")));
    }
}

fn heads(story: &Story<'_>) -> Vec<String> {
    let truly = story.rehearsed.is_some();
    let window = if truly { "truly in window" } else { "in window" };
    ["part", "reached at", window, "by the clock", "hottest", "verdict"].map(String::from).into()
}

fn cells(units: Units, part: &Part, had: &PartSoak) -> Vec<String> {
    let name = match part.count {
        1 => part.name.clone(),
        count => format!("{} ×{count}", part.name),
    };
    vec![
        name,
        had.reached_s.map_or_else(|| "never".to_owned(), h_mm),
        minutes_had(had.in_window_s),
        had.clock_s.map_or_else(|| "-".to_owned(), minutes_had),
        units.temperature(had.peak_c),
        had.verdict.word().to_owned(),
    ]
}

fn trips(out: &mut String, story: &Story<'_>) {
    for trip in &story.result.trips {
        let since = trip.at_s.map(|at_s| (trip.detected_s - at_s).max(0.0));
        let since =
            since.map_or_else(String::new, |since_s| format!(", {since_s:.1} s after it began"));
        let when = format!("seen at {}{since}", h_mm(trip.detected_s));
        out.push('\n');
        let Some(fault) = fault(&trip.kind) else {
            wrap(out, "Trip: ", 2, &format!("{} ({when}).", trip.kind));
            continue;
        };
        wrap(out, "Trip: ", 2, &format!("{} ({}), {when}.", fault.name, fault.kind));
        wrap(out, "  looks like:   ", 16, fault.looks_like);
        wrap(out, "  likely cause: ", 16, fault.cause);
        wrap(out, "  do next:      ", 16, fault.next);
    }
}

fn air(out: &mut String, story: &Story<'_>) {
    let (units, air) = (story.units, &story.result.air);
    out.push_str("\nAir\n");
    for door in &story.result.doors {
        wrap(out, "  ", 4, &door_line(units, door));
    }
    let mut line = format!("hottest reading {}", units.temperature(air.peak_c));
    if let (Some(mean_k), Some(deviation_k)) = (air.soak_mean_error_k, air.soak_sd_k) {
        let side = if mean_k < 0.0 { "below" } else { "above" };
        let _ = write!(
            line,
            "; in steady soak {} {side} the setpoint on average, varying by {}",
            units.difference(mean_k.abs()),
            units.difference(deviation_k)
        );
    }
    if air.overshoot_k > 0.0 {
        let _ = write!(line, "; at most {} over it", units.difference(air.overshoot_k));
    }
    wrap(out, "  ", 4, &line);
}

fn door_line(units: Units, door: &super::result::DoorEvent) -> String {
    let mut line = format!("door opened at {}", h_mm(door.opened_s));
    let Some(closed_s) = door.closed_s else {
        line.push_str(" and not closed again");
        return line;
    };
    let _ = write!(line, " for {}", duration(closed_s - door.opened_s));
    if let Some(low_c) = door.reading_low_c {
        let _ = write!(line, ": low {}", units.temperature(low_c));
    }
    let within = units.difference(RECOVERED_WITHIN_K);
    let _ = match door.recovered_s {
        Some(back_s) => write!(
            line,
            ", back within {within} of the setpoint {} after closing",
            duration(back_s - closed_s)
        ),
        None => write!(line, ", not back at the setpoint after it"),
    };
    line
}

fn steps(out: &mut String, story: &Story<'_>) {
    if story.result.steps.is_empty() {
        return;
    }
    out.push_str("\nSteps, hours and minutes since the start\n");
    let mut rows = Vec::new();
    for run in &story.result.steps {
        let again = if run.round > 1 { format!(", try {}", run.round) } else { String::new() };
        rows.push(vec![
            format!("{:>2} {}{again}", run.index, title_of(run)),
            run.kind.replace('_', "-"),
            h_mm(run.started_s),
            run.ended_s.map_or_else(|| "-".to_owned(), h_mm),
            run.ended_s.map_or_else(String::new, |ended_s| duration(ended_s - run.started_s)),
        ]);
    }
    table(out, 2, &rows);
}

fn title_of(run: &StepRun) -> String {
    if run.name.is_empty() { String::new() } else { title(run.index, &run.name) }
}

fn answers(out: &mut String, story: &Story<'_>) {
    if story.result.answers.is_empty() {
        return;
    }
    out.push_str("\nAsked\n");
    for answer in &story.result.answers {
        let words = answer.step.checked_sub(1).and_then(|index| story.bake.steps.get(index));
        let question = match words.map(|words| words.ask.as_str()) {
            Some(ask) if !ask.is_empty() => format!("\"{ask}\""),
            _ => format!("in step {}", answer.step),
        };
        let mut line = format!("{} {question}", h_mm(answer.asked_s));
        let _ = match (&answer.said, answer.answered_s) {
            (Some(said), Some(at_s)) => {
                write!(line, ": \"{said}\" after {}", duration(at_s - answer.asked_s))
            }
            _ => write!(line, ": no answer"),
        };
        wrap(out, "  ", 7, &line);
    }
}

fn files(out: &mut String, written: &[Written]) {
    if written.is_empty() {
        return;
    }
    let _ = writeln!(out, "\n{} written", capital(&counted(written.len(), "file", "files")));
    for file in written {
        let _ = writeln!(out, "  {} ({})", file.path.display(), file.what);
    }
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}
