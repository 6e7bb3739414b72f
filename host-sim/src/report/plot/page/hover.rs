//! Values under the pointer, without a script: every stretch of time has its own words, shown while
//! the pointer is over it.

use super::super::chart::Chart;
use super::escaped;
use crate::log::Row;
use crate::report::text::shortened;
use crate::report::title;
use crate::report::units::{h_mm, minutes_had};
use std::fmt::Write as _;

/// Stretches of time at most.
const STRETCHES_MAX: usize = 260;
/// Where the words stand, px.
const WORDS_PX: (u32, [u32; 2]) = (972, [18, 36]);
/// Letters of a step's name.
const NAME_MAX: usize = 24;

/// The stretches as SVG, to stand last in the picture.
pub(super) fn stretches(chart: &Chart<'_>) -> String {
    let rows: Vec<&Row> = chart.log.seconds().collect();
    let Some(end_s) = rows.last().map(|row| row.t_s().max(60.0)) else { return String::new() };
    let (left, top, right, bottom) = chart.plotted_px();
    let per_second = f64::from(right - left) / end_s;
    let at_px = |t_s: f64| f64::from(left) + t_s * per_second;
    let each = rows.len().div_ceil(STRETCHES_MAX).max(1);
    let mut out = String::from("<g class=\"at\">");
    for (number, stretch) in rows.chunks(each).enumerate() {
        let (Some(first), Some(row)) = (stretch.first(), stretch.get(stretch.len() / 2)) else {
            continue;
        };
        let next_s = rows.get((number + 1) * each).map_or(end_s, |row| row.t_s());
        let (from, to, here) = (at_px(first.t_s()), at_px(next_s), at_px(row.t_s()));
        let wide = (to - from).max(0.5);
        // Writing to a string cannot fail.
        let _ = write!(
            out,
            "<g><rect x=\"{from:.1}\" y=\"{top}\" width=\"{wide:.1}\" height=\"{}\"/>\
             <line x1=\"{here:.1}\" x2=\"{here:.1}\" y1=\"{top}\" y2=\"{bottom}\"/>",
            bottom - top
        );
        let (x, lines) = WORDS_PX;
        let _ =
            write!(out, "<rect class=\"behind\" x=\"462\" y=\"2\" width=\"516\" height=\"42\"/>");
        for (y, words) in
            lines.into_iter().zip(words(chart, row, number * each + stretch.len() / 2))
        {
            let _ = write!(out, "<text x=\"{x}\" y=\"{y}\">{}</text>", escaped(&words));
        }
        out.push_str("</g>");
    }
    out.push_str("</g>");
    out
}

/// Two lines of what a second shows.
fn words(chart: &Chart<'_>, row: &Row, second: usize) -> [String; 2] {
    let units = chart.story.units;
    let reading = |row: &Row| row.air.map(|air| f64::from(air.to_celsius().0));
    let mut first = h_mm(row.t_s());
    if let Some(index) = usize::from(row.step).checked_sub(1) {
        let name = chart.story.bake.steps.get(index).map_or("", |words| words.name.as_str());
        let _ = write!(first, ", {}", shortened(&title(index + 1, name), NAME_MAX));
    }
    if row.door_open == Some(true) {
        first.push_str(", door open");
    }
    let _ = write!(first, "; counted {}", minutes_had(f64::from(row.credit_s)));
    let _ = write!(first, "; heater {:.0} %", 100.0 * row.duty());
    let air = reading(row).map_or_else(|| "no reading".to_owned(), |c| units.temperature(c));
    let mut second_line = format!("air {air}");
    if let Some(c) = row.coldest_c {
        let _ = write!(second_line, "; coldest at least {}", units.at_least(c));
    }
    if let Some(c) = row.hottest_c {
        let _ = write!(second_line, "; hottest at most {}", units.at_most(c));
    }
    if let Some(against) = chart.against {
        let there = against.row(second).and_then(reading);
        let there = there.map_or_else(|| "-".to_owned(), |c| units.temperature(c));
        let _ = write!(first, "; {} {there}", against.name);
    }
    [first, second_line]
}
