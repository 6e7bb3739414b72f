//! A fit for a person at a terminal: what the logs tell, what they do not, and what would.

use super::text::{Paint, table, wrap};
use super::units::{Units, counted};
use super::{Written, files, lines};
use crate::fit::{Estimate, Fitted, Quantity, Standing};
use std::path::Path;

/// What the words are about.
#[derive(Clone, Copy, Debug)]
pub struct FitStory<'a> {
    /// The fit.
    pub fitted: &'a Fitted,
    /// Name of the oven.
    pub oven: &'a str,
    /// The file that is written.
    pub out: &'a Path,
    /// Units of temperatures.
    pub units: Units,
}

/// The whole fit.
#[must_use]
pub fn report(story: &FitStory<'_>, paint: Paint, written: &[Written]) -> String {
    let mut out = one_line(story, paint);
    wrap(&mut out, "", 0, &residuals(story));
    out.push('\n');
    numbers(&mut out, story);
    let not_told: Vec<String> = story.fitted.estimates.iter().filter_map(not_told).collect();
    lines(&mut out, "Not told, and left as the file has it", 4, &not_told);
    let surprises: Vec<String> = story.fitted.told().filter_map(surprise).collect();
    lines(&mut out, "Outside what the file said", 4, &surprises);
    lines(&mut out, "Of the logs", 4, &story.fitted.notes);
    files(&mut out, written);
    out
}

/// The answer alone.
#[must_use]
pub fn one_line(story: &FitStory<'_>, paint: Paint) -> String {
    let told: Vec<&str> = story.fitted.told().map(|told| told.quantity.words()).collect();
    let logs = counted(story.fitted.left_over.len(), "log", "logs");
    let one = story.fitted.left_over.len() == 1;
    let verb = |verb: &str| if one { format!("{verb}s") } else { verb.to_owned() };
    let (word, rest) = if told.is_empty() {
        let rest = format!(
            "{logs} of \"{}\" {} nothing narrower; no file is written.",
            story.oven,
            verb("make")
        );
        ("NOT TOLD", rest)
    } else {
        let rest = format!("{logs} of \"{}\" {} {}.", story.oven, verb("tell"), listed(&told));
        ("TOLD", rest)
    };
    let mut plain = String::new();
    wrap(&mut plain, "", 0, &format!("{word}. {rest}"));
    plain.replacen(word, &paint.verdict(word, !told.is_empty()), 1)
}

fn listed(words: &[&str]) -> String {
    match words {
        [] => String::new(),
        [one] => (*one).to_owned(),
        [all @ .., last] => format!("{} and {last}", all.join(", ")),
    }
}

fn residuals(story: &FitStory<'_>) -> String {
    let fitted = story.fitted;
    let of = |what: &str, worth: &crate::fit::Worth| {
        format!(
            "{what} by {} rms ({} means of ten seconds, worth {:.0} independent ones)",
            small(story.units, worth.rms_k),
            worth.count,
            worth.effective()
        )
    };
    let mut said = format!("The fitted oven misses {}", of("the air reading", &fitted.air));
    if fitted.probe.count > 0 {
        said.push_str(&format!(" and {}", of("the part probe", &fitted.probe)));
    }
    said.push_str(&format!(
        ". The logs tell {} of {} unknowns more closely than they were known.",
        fitted.told_directions, fitted.unknowns
    ));
    said
}

/// A small difference, to hundredths.
pub(crate) fn small(units: Units, value_k: f64) -> String {
    format!("{:.2} {}", units.from_kelvins(value_k), units.sign())
}

fn numbers(out: &mut String, story: &FitStory<'_>) {
    let heads = ["", "by the file", "by the logs", "95 % interval", "spread was", "is"];
    let mut rows = vec![heads.map(String::from).to_vec()];
    for told in story.fitted.told() {
        let shown = |value: f64| value_of(told.quantity, value);
        let (low, high) = told.interval;
        rows.push(vec![
            told.quantity.words().to_owned(),
            shown(told.was.0),
            shown(told.value),
            format!("{} to {}", shown(low), shown(high)),
            spread_of(told.quantity, told.was.1),
            spread_of(told.quantity, told.half()),
        ]);
    }
    if rows.len() > 1 {
        table(out, 2, &rows);
        let said = "An interval holds 1.96 standard errors, everything else that is not known, and \
                    an allowance for a real oven not being this plant.";
        wrap(out, "  ", 2, said);
    }
}

fn value_of(quantity: Quantity, value: f64) -> String {
    match quantity {
        Quantity::SensorLag => format!("{value:.1} s"),
        Quantity::WallView => format!("{value:.3}"),
        _ => format!("{value:.2}"),
    }
}

fn spread_of(quantity: Quantity, half: f64) -> String {
    if quantity.is_factor() { format!("± {:.1} %", 100.0 * half) } else { format!("± {half:.3}") }
}

fn not_told(estimate: &Estimate) -> Option<String> {
    let Standing::NotTold { why, next } = &estimate.standing else { return None };
    Some(format!("{}: {why}. Step test: {next}", estimate.quantity.words()))
}

fn surprise(told: &Estimate) -> Option<String> {
    told.is_surprising().then(|| {
        let quantity = told.quantity;
        format!(
            "{}: {} by the logs, {} {} by the file; check the file's sizes before you rely on it",
            quantity.words(),
            value_of(quantity, told.value),
            value_of(quantity, told.was.0),
            spread_of(quantity, told.was.1)
        )
    })
}
