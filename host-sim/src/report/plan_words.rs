//! A plan for a person at a terminal: when it is done, how sure that is, what a clock would have
//! given, what to change and what that costs, and the draw that came out worst.

use super::pieces;
use super::text::{Paint, table, wrap};
use super::units::{counted, duration, minutes_had};
use super::{Written, files, lines};
use crate::files::bake::BakeFile;
use crate::plan::{Advice, CLOCK_EXTRA_S, Plan};
use std::fmt::Write as _;

/// Most changes told in full.
const ADVICE_TOLD: usize = 5;

/// What the words are about.
#[derive(Clone, Copy, Debug)]
pub struct PlanStory<'a> {
    /// The plan.
    pub plan: &'a Plan,
    /// The bake.
    pub bake: &'a BakeFile,
    /// Name of the oven.
    pub oven: &'a str,
    /// Name of the load.
    pub load: &'a str,
    /// Share of draws that must pass, 0..1.
    pub confidence: f64,
    /// What to type to see the worst draw: the bake file and what was set.
    pub typed: &'a str,
}

/// The whole plan.
#[must_use]
pub fn report(story: &PlanStory<'_>, paint: Paint, written: &[Written]) -> String {
    let mut out = one_line(story, paint);
    let plan = story.plan;
    wrap(&mut out, "", 0, &setting(story));
    if plan.drawn.is_empty() {
        return out;
    }
    out.push('\n');
    clock(&mut out, story);
    lines(&mut out, "What to change, each change rehearsed on the same ovens", 4, &helpful(plan));
    lines(&mut out, "Tried as well", 4, &useless(plan));
    out.push('\n');
    worst(&mut out, story);
    files(&mut out, written);
    out
}

/// The answer alone.
#[must_use]
pub fn one_line(story: &PlanStory<'_>, paint: Paint) -> String {
    let plan = story.plan;
    let (passes, all) = (plan.passes(), plan.drawn.len());
    let good = plan.pass_probability() >= story.confidence;
    let word = if good { "GOOD" } else { "NOT SURE ENOUGH" };
    let mut said = match (plan.finish_s(0.5), plan.finish_s(0.95)) {
        (Some(half_s), Some(most_s)) => format!(
            "Done after about {} (within {}, 19 times in 20): ",
            duration(half_s),
            duration(most_s)
        ),
        (Some(half_s), None) => {
            format!("Done after about {}, but not 19 times in 20: ", duration(half_s))
        }
        (None, _) => "Not done as often as it is: ".to_owned(),
    };
    if passes == 0 {
        said = "Not done in any oven this may be: ".to_owned();
    }
    let interval = plan.pass_interval();
    let _ = write!(
        said,
        "{passes} of {} pass, a chance of {} to {} (95 % interval after Wilson).",
        counted(all, "draw", "draws"),
        percent(interval.low),
        percent(interval.high)
    );
    let mut plain = String::new();
    wrap(&mut plain, "", 0, &format!("{word}. {said}"));
    plain.replacen(word, &paint.verdict(word, good), 1)
}

/// A share in percent, never rounded to all or nothing.
fn percent(share: f64) -> String {
    let tenths = libm::round(share * 1000.0) / 10.0;
    if share > 0.0 && share < 1.0 {
        format!("{:.1} %", tenths.clamp(0.1, 99.9))
    } else {
        format!("{tenths:.0} %")
    }
}

fn setting(story: &PlanStory<'_>) -> String {
    let mut line =
        format!("Plan of \"{}\" in \"{}\" with \"{}\".", story.bake.name, story.oven, story.load);
    let trips = story.plan.drawn.iter().filter(|drawn| drawn.is_false_trip).count();
    if trips > 0 {
        let _ = write!(line, " {} trip with nothing wrong.", counted(trips, "draw", "draws"));
    }
    if let Some(half_s) = story.plan.oracle_finish_s(0.5) {
        let _ = write!(line, " Were all of the oven known: after about {}.", duration(half_s));
    }
    line
}

fn clock(out: &mut String, story: &PlanStory<'_>) {
    let plan = story.plan;
    let said = format!(
        "By the clock, started as {} and set {} min longer than asked (common \
         practice), every part would have its minutes in {} of {}:",
        pieces::clock_start(story.bake).now,
        CLOCK_EXTRA_S / 60,
        plan.clock_passes(),
        counted(plan.clocked(), "draw", "draws")
    );
    wrap(out, "", 2, &said);
    let heads = ["part", "lag, slowest", "lag, fastest", "by the clock", "at worst", "wanted"];
    let mut rows = vec![heads.map(String::from).to_vec()];
    for (index, lag) in plan.lags.iter().enumerate() {
        let had = plan.clock_had(index);
        let of = |get: fn(&crate::plan::ClockShare) -> f64| {
            had.as_ref().map_or_else(|| "-".to_owned(), |had| minutes_had(get(had)))
        };
        rows.push(vec![
            lag.part.clone(),
            duration(lag.coldest_s),
            duration(lag.hottest_s),
            of(|had| had.median_s),
            of(|had| had.least_s),
            of(|had| had.wanted_s),
        ]);
    }
    table(out, 2, &rows);
}

/// Changes that help, best first.
fn helpful(plan: &Plan) -> Vec<String> {
    let helps = plan.advice.iter().filter(|advice| advice.helps());
    helps.take(ADVICE_TOLD).map(advised).collect()
}

fn advised(advice: &Advice) -> String {
    let mut line = advice.change.clone();
    match advice.saves_s {
        Some(saves_s) if saves_s >= 0.0 => {
            let _ = write!(line, ": saves {}", duration(saves_s));
        }
        Some(saves_s) => {
            let _ = write!(line, ": takes {} longer", duration(-saves_s));
        }
        None => line.push(':'),
    }
    if advice.passes > advice.passes_without {
        let (with, without) = (advice.passes, advice.passes_without);
        let comma = if advice.saves_s.is_some() { "," } else { "" };
        let _ = write!(line, "{comma} {with} of {} pass instead of {without}", advice.draws);
    }
    let _ = write!(line, "; costs {}", advice.costs);
    line
}

/// Changes that were tried for nothing, or worse: one line for each of the two.
fn useless(plan: &Plan) -> Vec<String> {
    let of = |nothing: bool| {
        let tried = plan.advice.iter().filter(move |advice| !advice.helps());
        tried.filter(move |advice| advice.does_nothing() == nothing)
    };
    let nothing: Vec<&str> = of(true).map(|advice| advice.change.as_str()).collect();
    let worse: Vec<String> = of(false).map(worsened).collect();
    let mut lines = Vec::new();
    if !nothing.is_empty() {
        lines.push(format!("does nothing: {}", nothing.join("; ")));
    }
    if !worse.is_empty() {
        lines.push(format!("makes it worse: {}", worse.join("; ")));
    }
    lines
}

fn worsened(advice: &Advice) -> String {
    let (with, without) = (advice.passes, advice.passes_without);
    if with < without {
        return format!("{} ({with} of {} pass, not {without})", advice.change, advice.draws);
    }
    format!("{} ({} longer)", advice.change, duration(-advice.saves_s.unwrap_or(0.0)))
}

/// The worst draw, and a line to type that replays it: never wrapped, so that it can be copied.
fn worst(out: &mut String, story: &PlanStory<'_>) {
    let Some(worst) = story.plan.worst() else { return };
    let word = if worst.verdict == worst.truth || worst.is_good() {
        worst.verdict.word().to_owned()
    } else {
        format!("{}, truly {}", worst.verdict.word(), worst.truth.word())
    };
    let mut line =
        format!("Worst draw: {}, {word} after {}", worst.number, duration(worst.duration_s));
    if !worst.is_good() {
        let _ = write!(line, " ({})", worst.reason);
    }
    line.push_str(", as you see with");
    wrap(out, "", 2, &line);
    let _ = writeln!(out, "  truesoak simulate {} --draw {}", story.typed, worst.number);
}
