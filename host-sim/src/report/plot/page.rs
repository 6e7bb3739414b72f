//! A bake as one page that needs nothing else: the sentence first, the chart, a table, events.

use super::chart::Chart;
use super::fan::Fan;
use super::{PlotError, canvas};
use crate::log::Log;
use crate::report::plan_words::{self, PlanStory};
use crate::report::text::Paint;
use crate::report::units::{h_mm, minutes_had};
use crate::report::{Story, Written, sentence};
use std::fmt::Write as _;

const STYLE: &str = "body{font:16px/1.5 system-ui,sans-serif;margin:2rem auto;max-width:76rem;\
padding:0 1rem;color:#26262b;background:#fff}h1{font-size:1.3rem}svg{max-width:100%;height:auto}\
table{border-collapse:collapse;margin:1rem 0}th,td{padding:.25rem .8rem;text-align:left;\
border-bottom:1px solid #ccc}td.n{text-align:right}.mark{border:2px solid #666;padding:.4rem .8rem;\
display:inline-block;letter-spacing:.08em}pre{white-space:pre-wrap}\
@media print{body{margin:0;max-width:none}}";

/// The page.
pub(super) fn page(log: &Log, story: &Story<'_>, written: &[Written]) -> Result<String, PlotError> {
    let picture = canvas::svg(&Chart { log, story })?;
    let said = sentence::sentence(story);
    let mut out = opened(&story.bake.name, picture.len());
    let title = escaped(&story.bake.name);
    let _ = writeln!(out, "<h1>{}. {}</h1>", escaped(&said.word), escaped(&said.rest));
    if log.header.source.is_rehearsed() {
        out.push_str("<p class=\"mark\">REHEARSAL, NOT A RECORD</p>\n");
    }
    let _ = write!(
        out,
        "<p>{title}, in \"{}\" with \"{}\".</p>\n{picture}\n",
        escaped(story.oven),
        escaped(story.load)
    );
    parts(&mut out, story);
    events(&mut out, log);
    files(&mut out, log, written);
    out.push_str("</body></html>\n");
    Ok(out)
}

/// The page of a plan.
pub(super) fn plan(fan: &Fan<'_>, story: &PlanStory<'_>) -> Result<String, PlotError> {
    let picture = canvas::svg(fan)?;
    let mut out = opened(story.bake, picture.len());
    let told = plan_words::report(story, Paint::Plain, &[]);
    let _ = write!(
        out,
        "<p class=\"mark\">REHEARSAL, NOT A RECORD</p>\n{picture}\n<pre>{}</pre>\n</body></html>\n",
        escaped(&told)
    );
    Ok(out)
}

/// A page up to its body.
fn opened(title: &str, room: usize) -> String {
    let mut out = String::with_capacity(room + 8192);
    let _ = write!(
        out,
        "<!DOCTYPE html>\n<html lang=\"en\"><head><meta charset=\"utf-8\">\
         <meta name=\"viewport\" content=\"width=device-width\"><title>{}</title>\
         <style>{STYLE}</style></head><body>\n",
        escaped(title)
    );
    out
}

fn parts(out: &mut String, story: &Story<'_>) {
    out.push_str(
        "<table><thead><tr><th>part</th><th>count</th><th>reached at</th><th>in the window</th>\
         <th>by the clock</th><th>hottest</th><th>verdict</th></tr></thead><tbody>\n",
    );
    for part in &story.result.parts {
        let _ = writeln!(
            out,
            "<tr><td>{}</td><td class=\"n\">{}</td><td class=\"n\">{}</td><td class=\"n\">{}</td>\
             <td class=\"n\">{}</td><td class=\"n\">{}</td><td>{}</td></tr>",
            escaped(&part.name),
            part.count,
            part.reached_s.map_or_else(|| "never".to_owned(), h_mm),
            minutes_had(part.in_window_s),
            part.clock_s.map_or_else(|| "-".to_owned(), minutes_had),
            part.peak_c.map_or_else(|| "-".to_owned(), |peak_c| story.units.temperature(peak_c)),
            part.verdict.word()
        );
    }
    out.push_str("</tbody></table>\n");
}

fn events(out: &mut String, log: &Log) {
    out.push_str("<h2>Events</h2><table><tbody>\n");
    for row in log.rows.iter().filter(|row| !row.event.is_empty()) {
        let _ =
            writeln!(out, "<tr><td>{}</td><td>{}</td></tr>", h_mm(row.t_s()), escaped(&row.event));
    }
    out.push_str("</tbody></table>\n");
}

fn files(out: &mut String, log: &Log, written: &[Written]) {
    out.push_str("<h2>Files used</h2>\n");
    let header = &log.header;
    for (name, text) in [("bake", &header.bake), ("oven", &header.oven), ("load", &header.load)] {
        if let Some(text) = text {
            let text = escaped(text);
            let _ = writeln!(out, "<details><summary>{name}</summary><pre>{text}</pre></details>");
        }
    }
    for file in written {
        let path = escaped(&file.path.display().to_string());
        let _ = writeln!(out, "<p>{path}: {}</p>", file.what);
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
