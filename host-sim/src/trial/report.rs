//! A campaign in words and as JSON, `truesoak.trial/1`.

use super::{Broken, End, KindLine, Summary};
use crate::report::text::{Paint, table, wrap};
use crate::report::units::h_mm;
use serde_json::{Value, json};
use std::collections::BTreeMap;
use std::fmt::Write as _;

/// Name and version of the format.
pub const SCHEMA: &str = "truesoak.trial/1";

/// The line that has a seed again.
#[must_use]
pub fn reproduce(seed: u64) -> String {
    format!("truesoak trial --seeds 1 --from-seed {seed} --log {seed}.csv --plot {seed}.svg")
}

/// One broken invariant in one line.
#[must_use]
pub fn broken_line(seed: u64, broken: &Broken) -> String {
    let Broken { invariant, tick, what } = broken;
    let at = h_mm(f64::from(*tick) / 10.0);
    format!("seed {seed}: INV-{invariant} broken at {at}: {what}; {}", reproduce(seed))
}

/// The verdict in a line or two.
#[must_use]
pub fn one_line(summary: &Summary, paint: Paint) -> String {
    let good = summary.is_good();
    let word = paint.verdict(if good { "HOLDS." } else { "BROKEN." }, good);
    let mut out = String::new();
    let sentence = match (good, summary.broken.first()) {
        (_, Some((seed, broken))) => {
            return format!("{word} {}\n", broken_line(*seed, broken));
        }
        (_, None) => format!(
            "{word} The eight invariants held in {} bakes drawn at random, from seed {} on.",
            summary.runs, summary.from
        ),
    };
    wrap(&mut out, "", 0, &sentence);
    out
}

/// Everything for a person.
#[must_use]
pub fn text(summary: &Summary, paint: Paint) -> String {
    let mut out = one_line(summary, paint);
    for (seed, broken) in summary.broken.iter().skip(1) {
        let _ = writeln!(out, "{}", broken_line(*seed, broken));
    }
    out.push('\n');
    passes(&mut out, summary);
    out.push_str("\nFaults\n");
    let heads = ["kind", "drawn", "struck", "seen", "median", "worst", "limit", "ended"];
    let mut rows = vec![heads.map(str::to_owned).into()];
    rows.extend(summary.kinds.iter().filter(|line| line.drawn > 0).map(row));
    table(&mut out, 2, &rows);
    wrap(&mut out, "  ", 2, WHAT);
    uncovered(&mut out, summary);
    out
}

const WHAT: &str = "Drawn: seeds with it. Struck: times it began before the bake was over. Seen: \
    reported under its own kind, or the bake would not start. The others never showed for as long \
    as the row may take, or another fault was first. Times run from when it shows in the plant to \
    the report, s, with nothing else wrong; a weld's from when the drive was off, for it shows only \
    where no sound oven's air would go. Ended: how those bakes did.";

fn passes(out: &mut String, summary: &Summary) {
    let bound = summary.false_pass_bound().map_or_else(String::new, |bound| {
        format!(
            ": with 95 % confidence fewer than {:.2} in 1000 passes are false (3/N)",
            1000.0 * bound
        )
    });
    let words = format!(
        "{} of {} passes false{bound}. {} of {} bakes with nothing wrong tripped; in {} the \
         controller gave up counting. {} seeds gave no bake that could be taken on.",
        summary.false_passes,
        summary.passes,
        summary.false_trips,
        summary.fault_free,
        summary.gave_up_counting,
        summary.seeds - summary.runs,
    );
    wrap(out, "", 0, &words);
    let words = format!(
        "Several kinds of faults met in {} bakes; {} of them took a part more than a kelvin past \
         what it stands, which the contract rules out for one fault only.",
        summary.crowded, summary.crowded_overheated
    );
    wrap(out, "", 0, &words);
}

fn row(line: &KindLine) -> Vec<String> {
    let seconds = |value: Option<f64>| value.map_or_else(String::new, |s| format!("{s:.1}"));
    let ends = line.ends.iter().map(|(end, count)| format!("{count} {}", end.word()));
    vec![
        line.kind.to_owned(),
        line.drawn.to_string(),
        line.struck.to_string(),
        (line.seen + line.no_start).to_string(),
        seconds(line.median_s),
        seconds(line.worst_s),
        seconds(line.allowed_s),
        ends.collect::<Vec<_>>().join(", "),
    ]
}

fn uncovered(out: &mut String, summary: &Summary) {
    if summary.untold.is_empty() {
        return;
    }
    out.push_str("\nNot covered, and counted apart\n");
    let heads = ["what", "bakes", "passes", "false", "overheated", "tripped"];
    let mut rows = vec![heads.map(str::to_owned).into()];
    rows.extend(summary.untold.iter().map(|(words, line)| {
        let counts = [line.runs, line.passes, line.false_passes, line.overheated, line.tripped];
        let words = std::iter::once((*words).to_owned());
        words.chain(counts.map(|count| count.to_string())).collect()
    }));
    table(out, 2, &rows);
}

/// Everything for a program.
#[must_use]
pub fn to_json(summary: &Summary) -> String {
    let faults: Vec<Value> = summary.kinds.iter().map(fault).collect();
    let broken = summary.broken.iter().map(|(seed, broken)| {
        json!({
            "seed": seed,
            "invariant": format!("INV-{}", broken.invariant),
            "at_s": f64::from(broken.tick) / 10.0,
            "what": broken.what,
            "reproduce": reproduce(*seed),
        })
    });
    let apart: Value = summary
        .untold
        .iter()
        .map(|(words, line)| {
            let counts = json!({
                "runs": line.runs,
                "passes": line.passes,
                "false_passes": line.false_passes,
                "overheated": line.overheated,
                "tripped": line.tripped,
            });
            ((*words).to_owned(), counts)
        })
        .collect();
    let value = json!({
        "schema": SCHEMA,
        "from_seed": summary.from,
        "seeds": summary.seeds,
        "runs": summary.runs,
        "redrawn": summary.redrawn,
        "holds": summary.is_good(),
        "broken": broken.collect::<Vec<_>>(),
        "ends": by_end(&summary.ends),
        "passes": summary.passes,
        "false_passes": summary.false_passes,
        "false_pass_bound_95": summary.false_pass_bound(),
        "fault_free": summary.fault_free,
        "false_trips": summary.false_trips,
        "gave_up_counting": summary.gave_up_counting,
        "several_kinds": { "runs": summary.crowded, "overheated": summary.crowded_overheated },
        "faults": faults,
        "not_covered": apart,
    });
    format!("{value}\n")
}

fn by_end(ends: &BTreeMap<End, u64>) -> Value {
    ends.iter().map(|(end, count)| (end.word().to_owned(), json!(count))).collect()
}

fn fault(line: &KindLine) -> Value {
    json!({
        "kind": line.kind,
        "injected": line.drawn,
        "struck": line.struck,
        "detected": line.seen,
        "no_start": line.no_start,
        "another_tripped": line.other,
        "never_showed": line.unseen,
        "missed": line.missed,
        "median_s": line.median_s,
        "worst_s": line.worst_s,
        "allowed_s": line.allowed_s,
        "outcomes": by_end(&line.ends),
    })
}
