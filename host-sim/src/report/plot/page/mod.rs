//! A bake as one page that needs nothing else, for a customer: the sentence first, then what was
//! counted, the chart, every part, what happened, the files used, and for an oven's record the lines
//! to sign.
//!
//! It has no script and fetches nothing. It follows the reader's light or dark, and prints on one
//! sheet of A4 or Letter.

mod hover;
mod style;

use super::chart::Chart;
use super::fan::Fan;
use super::{PlotError, canvas};
use crate::log::{Header, Source};
use crate::report::plan_words::{self, PlanStory};
use crate::report::result::{Part, Verdict};
use crate::report::sentence::{for_a_customer, not_covered};
use crate::report::text::Paint;
use crate::report::told::told;
use crate::report::units::{duration, h_mm, minutes_had, minutes_of};
use crate::report::{Story, Written, soaks_of};
use crate::report::{pieces, recounted};
use std::fmt::Write as _;
use truesoak_core::event::Event;

/// Words across a rehearsal.
const MARK: &str = "<p class=\"mark\">REHEARSAL, NOT A RECORD</p>\n";

/// The page.
pub(super) fn page(chart: &Chart<'_>, written: &[Written]) -> Result<String, PlotError> {
    let picture = canvas::svg(chart)?;
    let story = chart.story;
    let header = &chart.log.header;
    let hottest = chart.log.rows.iter().filter_map(|row| row.hottest_c);
    let said = for_a_customer(story, hottest.reduce(f64::max));
    let mut out = opened(&story.bake.name, picture.len());
    // Writing to a string cannot fail.
    let rest = said.rest.replace(" °", "\u{a0}°").replace(" min", "\u{a0}min");
    let _ = writeln!(out, "<h1>{}. {}</h1>", escaped(&said.word), escaped(&rest));
    if header.source.is_rehearsed() {
        out.push_str(MARK);
    }
    circumstances(&mut out, story);
    bars(&mut out, story);
    let hovered = format!("{}</svg>", hover::stretches(chart));
    out.push_str(&picture.replacen("</svg>", &hovered, 1));
    out.push_str("<p class=\"small screen\">Point at the chart for the values of a moment.</p>\n");
    parts(&mut out, story);
    compared(&mut out, chart);
    list(&mut out, "Not proven, and why", &not_proven(story));
    list(&mut out, "The log", &recounted::record(story));
    events(&mut out, chart);
    files(&mut out, header, written);
    if header.source == Source::Oven {
        out.push_str(
            "<div class=\"sign\"><div>Baked by</div><div>Checked by</div><div>Date</div></div>\n",
        );
    }
    out.push_str("</body></html>\n");
    Ok(out)
}

/// The page of a plan.
pub(super) fn plan(fan: &Fan<'_>, story: &PlanStory<'_>) -> Result<String, PlotError> {
    let picture = canvas::svg(fan)?;
    let mut out = opened(&story.bake.name, picture.len());
    let told = plan_words::report(story, Paint::Plain, &[]);
    let _ = write!(out, "{MARK}{picture}\n<pre>{}</pre>\n</body></html>\n", escaped(&told));
    Ok(out)
}

/// A page up to its body.
fn opened(title: &str, room: usize) -> String {
    let mut out = String::with_capacity(2 * room + 65_536);
    let _ = write!(
        out,
        "<!DOCTYPE html>\n<html lang=\"en\"><head><meta charset=\"utf-8\">\
         <meta name=\"viewport\" content=\"width=device-width\"><title>{}</title>\
         <style>{}</style></head><body>\n",
        escaped(title),
        style::style()
    );
    out
}

fn paragraph(out: &mut String, class: &str, words: &str) {
    if !words.is_empty() {
        let _ = writeln!(out, "<p{class}>{}</p>", escaped(words));
    }
}

fn circumstances(out: &mut String, story: &Story<'_>) {
    let small = " class=\"small\"";
    let setting = format!("{}, in \"{}\" with \"{}\".", story.bake.name, story.oven, story.load);
    paragraph(out, "", &format!("{setting} {}", pieces::took(story)));
    paragraph(out, small, &recounted::from(story).unwrap_or_default());
    if story.is_by_the_clock() {
        paragraph(out, small, &pieces::by_the_clock(story.bake));
    } else if story.result.verdict == Verdict::Pass {
        let no_certificate = "No certification is claimed: the word is proven.";
        let covered = not_covered(story.result.basis);
        paragraph(out, small, &format!("{covered} {no_certificate}"));
    }
}

/// What was counted of every soak, as a bar and in words.
fn bars(out: &mut String, story: &Story<'_>) {
    if story.is_by_the_clock() {
        return;
    }
    for soak in soaks_of(story.bake) {
        for run in story.result.steps.iter().filter(|run| run.index == soak.step) {
            let share = 100.0 * (run.credit_s / soak.for_s.max(1.0)).clamp(0.0, 1.0);
            let mut name = pieces::capitalised(&soak.title());
            if run.round > 1 {
                let _ = write!(name, ", try {}", run.round);
            }
            let _ = writeln!(
                out,
                "<div class=\"bar\"><b>{}</b><span><i style=\"width:{share:.1}%\"></i></span>\
                 <em>{} counted</em></div>",
                escaped(&name),
                minutes_of(run.credit_s, soak.for_s)
            );
        }
    }
}

fn parts(out: &mut String, story: &Story<'_>) {
    if story.result.parts.is_empty() {
        return;
    }
    let compared = story.result.parts.iter().any(|part| part.clock_s.is_some());
    out.push_str("<h2>Parts</h2>\n<div class=\"scroll\"><table><thead><tr>");
    let clock = compared.then_some("by the clock");
    let named = ["part", "count", "reached at", "in the window"].into_iter().chain(clock);
    for (index, name) in named.chain(["hottest", "verdict"]).enumerate() {
        let class = if index == 0 || name == "verdict" { "" } else { " class=\"n\"" };
        let _ = write!(out, "<th{class}>{name}</th>");
    }
    out.push_str("</tr></thead><tbody>\n");
    story.result.parts.iter().for_each(|part| part_row(out, story, part, compared));
    out.push_str("</tbody></table></div>\n");
    paragraph(out, " class=\"small\"", &pieces::columns_explained(story));
}

fn part_row(out: &mut String, story: &Story<'_>, part: &Part, compared: bool) {
    let mut cells = vec![
        part.count.to_string(),
        part.reached_s.map_or_else(|| "never".to_owned(), h_mm),
        minutes_had(part.in_window_s),
    ];
    if compared {
        cells.push(part.clock_s.map_or_else(|| "-".to_owned(), minutes_had));
    }
    cells.push(part.peak_c.map_or_else(|| "-".to_owned(), |c| story.units.temperature(c)));
    let _ = write!(out, "<tr><td>{}</td>", escaped(&part.name));
    for cell in cells {
        let _ = write!(out, "<td class=\"n\">{}</td>", escaped(&cell));
    }
    let _ = writeln!(out, "<td>{}</td></tr>", part.verdict.word());
}

/// How long every step took here and in the other log.
fn compared(out: &mut String, chart: &Chart<'_>) {
    let Some(against) = chart.against else { return };
    let rows = recounted::compared(chart.story, against.name, against.steps);
    out.push_str("<h2>Compared, step by step</h2>\n<div class=\"scroll\"><table>");
    for (index, row) in rows.iter().enumerate() {
        let tag = if index == 0 { "th" } else { "td" };
        out.push_str("<tr>");
        for (column, cell) in row.iter().enumerate() {
            let class = if column == 0 { "" } else { " class=\"n\"" };
            let _ = write!(out, "<{tag}{class}>{}</{tag}>", escaped(cell));
        }
        out.push_str("</tr>\n");
    }
    out.push_str("</table></div>\n");
}

fn not_proven(story: &Story<'_>) -> Vec<String> {
    if story.recounted.is_some() { recounted::not_proven(story) } else { Vec::new() }
}

fn list(out: &mut String, heading: &str, lines: &[String]) {
    if lines.is_empty() {
        return;
    }
    let _ = writeln!(out, "<h2>{heading}</h2>");
    lines.iter().for_each(|line| paragraph(out, "", &pieces::capitalised(line)));
}

fn events(out: &mut String, chart: &Chart<'_>) {
    let story = chart.story;
    out.push_str("<h2>What happened</h2><ol class=\"events\">\n");
    // A question is told with its answer, and parts going in with the door.
    let is_told = |words: &str| !words.is_empty() && !is_answered_below(words);
    for row in chart.log.rows.iter().filter(|row| is_told(&row.event)) {
        let words = told(&row.event, story.bake, story.units);
        let _ = writeln!(
            out,
            "<li><time>{}</time><span>{}</span></li>",
            h_mm(row.t_s()),
            escaped(&words)
        );
    }
    let _ = writeln!(
        out,
        "</ol><p class=\"small\">Hours and minutes since the start; it took {}.</p>",
        duration(story.result.duration_s)
    );
}

fn is_answered_below(words: &str) -> bool {
    matches!(Event::parse(words), Some(Event::Asked(_) | Event::LoadOpened))
}

fn files(out: &mut String, header: &Header, written: &[Written]) {
    out.push_str("<h2>Files used</h2>\n");
    let digest = header.models.as_deref().unwrap_or("not known");
    let mut named = format!("Bake, oven and load as written in the log; tables {digest}.");
    if !header.set.is_empty() {
        let _ = write!(named, " Changed on the command line: {}.", header.set.join(", "));
    }
    paragraph(out, " class=\"small\"", &named);
    for (name, text) in [("bake", &header.bake), ("oven", &header.oven), ("load", &header.load)] {
        if let Some(text) = text {
            let text = escaped(text);
            let _ = writeln!(out, "<details><summary>{name}</summary><pre>{text}</pre></details>");
        }
    }
    for file in written {
        paragraph(out, " class=\"small\"", &format!("{}: {}", file.path.display(), file.what));
    }
}

pub(super) fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for letter in text.chars() {
        match letter {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            other => out.push(other),
        }
    }
    out
}
