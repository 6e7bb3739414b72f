//! The report of a bake for a person at a terminal.
//!
//! One sentence first, then a table for every soak, the air and the doors, what went wrong and what
//! to do, the steps, and the files written. It reads at 80 columns and without knowing the code.

use super::pieces;
use super::recounted;
use super::result::Verdict;
use super::sentence::{not_covered, sentence};
use super::text::{Paint, table, wrap};
use super::{Story, Written, files, lines, setting};

/// The whole report.
#[must_use]
pub fn report(story: &Story<'_>, paint: Paint, written: &[Written]) -> String {
    let mut out = String::with_capacity(4096);
    verdict(&mut out, story, paint);
    circumstances(&mut out, story);
    soaks(&mut out, story, paint);
    if story.recounted.is_some() {
        lines(&mut out, "Not proven, and why", 4, &recounted::not_proven(story));
        lines(&mut out, "The log", 4, &recounted::record(story));
    }
    lines(&mut out, "Air", 4, &pieces::air(story));
    trips(&mut out, story);
    steps(&mut out, story);
    lines(&mut out, "Asked", 7, &pieces::asked(story));
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

fn circumstances(out: &mut String, story: &Story<'_>) {
    let what = if story.rehearsed.is_some() { "Rehearsal of " } else { "" };
    wrap(out, "", 0, &format!("{what}\"{}\" in {}.", story.bake.name, setting(story)));
    if let Some(from) = recounted::from(story) {
        wrap(out, "", 0, &from);
    }
    wrap(out, "", 0, &pieces::took(story));
    if let Some(fastest) = pieces::fastest(story) {
        wrap(out, "", 0, &fastest);
    }
    if story.is_by_the_clock() {
        wrap(out, "", 0, &pieces::by_the_clock(story.bake));
    } else if story.result.verdict == Verdict::Pass {
        wrap(out, "", 0, not_covered(story.result.basis));
    }
}

fn soaks(out: &mut String, story: &Story<'_>, paint: Paint) {
    let told = pieces::soaks(story);
    for soak in &told {
        out.push('\n');
        wrap(out, "", 2, &soak.heading);
        let mut rows = soak.rows.clone();
        for word in rows.iter_mut().skip(1).filter_map(|row| row.last_mut()) {
            *word = paint.verdict(word, word == Verdict::Pass.word());
        }
        if rows.len() > 1 {
            table(out, 2, &rows);
        }
        if !soak.absent.is_empty() {
            wrap(out, "  ", 2, &soak.absent);
        }
    }
    if told.iter().any(|soak| soak.rows.len() > 1) {
        wrap(out, "  ", 2, &pieces::columns_explained(story));
    }
}

fn trips(out: &mut String, story: &Story<'_>) {
    for trip in pieces::trips(story) {
        out.push('\n');
        wrap(out, "Trip: ", 2, &trip.headline);
        for (name, words) in trip.lines {
            wrap(out, &format!("  {:<14}", format!("{name}:")), 16, words);
        }
    }
}

fn steps(out: &mut String, story: &Story<'_>) {
    if !story.result.steps.is_empty() {
        out.push_str("\nSteps, hours and minutes since the start\n");
        table(out, 2, &pieces::steps(story));
    }
}
