//! The chart itself: temperatures above, heater and counted time below, a key on the right.

use super::axes;
use super::canvas::{Area, Drawable, drawing, font};
use super::curves::{Curve, Curves, curves};
use super::style::{
    ACROSS, COLDEST, COUNTED, DOOR, HEATER, HOTTEST, OTHER, READING, SETPOINT, TRUE_PARTS, WINDOW,
};
use super::{Against, HEIGHT, PlotError, WIDTH};
use crate::log::Log;
use crate::report::sentence::sentence;
use crate::report::{Story, soaks_of};
use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, Pos, VPos};

/// Width of the key, px.
pub(super) const KEY_WIDTH: u32 = 222;
/// Height of the heater's panel, px.
pub(super) const LOWER_HEIGHT: u32 = 170;
/// Height of the panel of differences, px.
const APART_HEIGHT: u32 = 110;
/// Height of the title, px.
const TITLE_HEIGHT: u32 = 46;
/// Height of the times below everything, px.
const LOWER_FOOT: u32 = 30;

/// A bake's log and its story.
pub(super) struct Chart<'a> {
    pub log: &'a Log,
    pub story: &'a Story<'a>,
    /// Another log to compare it with.
    pub against: Option<&'a Against<'a>>,
}

impl Chart<'_> {
    /// Height of the temperatures, px, below the title.
    fn upper_height(height: u32, compared: bool) -> u32 {
        height - LOWER_HEIGHT - if compared { APART_HEIGHT } else { 0 }
    }

    /// Left, top, right and bottom of where times and temperatures are, px.
    pub(super) fn plotted_px(&self) -> (u32, u32, u32, u32) {
        let (left, right) = axes::across_px(WIDTH - KEY_WIDTH);
        (left, TITLE_HEIGHT, right, HEIGHT - LOWER_FOOT)
    }
}

impl Drawable for Chart<'_> {
    fn title(&self) -> String {
        format!("{}: {}", self.story.bake.name, sentence(self.story).word)
    }

    fn draw<B: DrawingBackend>(&self, area: &Area<'_, B>) -> Result<(), PlotError> {
        let story = self.story;
        let all = curves(self.log, story.units, self.against);
        if all.heater.is_empty() {
            return Err(PlotError::Empty);
        }
        area.fill(&WHITE).map_err(drawing)?;
        let (head, body) = area.split_vertically(TITLE_HEIGHT);
        title(&head, story)?;
        let (width, height) = body.dim_in_pixel();
        let (left, key) = body.split_horizontally(width - KEY_WIDTH);
        let (above, lower) = left.split_vertically(height - LOWER_HEIGHT);
        let upper_height = Self::upper_height(height, self.against.is_some());
        let (upper, middle) = above.split_vertically(upper_height);
        temperatures(&upper, &all, story)?;
        if self.against.is_some() {
            differences(&middle, &all, story)?;
        }
        below(&lower, &all)?;
        draw_key(&key, &all, self)?;
        if self.log.header.source.is_rehearsed() {
            across(&upper)?;
        }
        Ok(())
    }
}

fn title<B: DrawingBackend>(area: &Area<'_, B>, story: &Story<'_>) -> Result<(), PlotError> {
    let said = sentence(story);
    let name = format!("{}: {}", story.bake.name, said.word);
    area.draw(&Text::new(name, (18, 8), font(20))).map_err(drawing)?;
    let setting = format!("in \"{}\" with \"{}\"", story.oven, story.load);
    area.draw(&Text::new(setting, (18, 30), font(13))).map_err(drawing)
}

/// Least and greatest temperature drawn, with room around.
fn range(all: &Curves, story: &Story<'_>) -> (f64, f64) {
    let other = [&all.other_reading, &all.other_hottest];
    let lines = [&all.reading, &all.setpoint, &all.true_coldest, &all.true_hottest, &all.hottest];
    let points = lines.into_iter().chain(other).flatten().flatten().map(|(_, value)| *value);
    let windows = soaks_of(story.bake).into_iter();
    let windows = windows.map(|soak| story.units.from_celsius(soak.at_most_c));
    let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
    for value in points.chain(windows) {
        low = low.min(value);
        high = high.max(value);
    }
    if low > high {
        // Nothing was ever read, and nothing wanted.
        (low, high) = (0.0, 100.0);
    }
    let room = 0.04 * (high - low).max(1.0);
    (low - room, high + room)
}

fn temperatures<B: DrawingBackend>(
    area: &Area<'_, B>,
    all: &Curves,
    story: &Story<'_>,
) -> Result<(), PlotError> {
    let (low, high) = range(all, story);
    let mut chart = axes::upper(area, all.end_min, low..high)?;
    for soak in soaks_of(story.bake) {
        let runs = story.result.steps.iter().filter(|run| run.index == soak.step);
        let (bottom, top) =
            (story.units.from_celsius(soak.at_least_c), story.units.from_celsius(soak.at_most_c));
        let bands = runs.map(|run| {
            let from = run.started_s / 60.0;
            let to = run.ended_s.map_or(all.end_min, |ended_s| ended_s / 60.0);
            Rectangle::new([(from, bottom), (to, top)], WINDOW.mix(0.45).filled())
        });
        chart.draw_series(bands).map_err(drawing)?;
    }
    let doors = all.doors.iter().map(|(from, to)| {
        let to = to.max(from + all.end_min / 600.0);
        Rectangle::new([(*from, low), (to, high)], DOOR.mix(0.45).filled())
    });
    chart.draw_series(doors).map_err(drawing)?;
    axes::upper_axes(&mut chart, story.units.sign())?;
    for line in LINES {
        for curve in (line.of)(all) {
            match line.dash {
                None => {
                    let style = line.hue.stroke_width(line.width);
                    chart.draw_series(LineSeries::new(curve.clone(), style)).map_err(drawing)?;
                }
                Some((on, off)) => {
                    let style = line.hue.stroke_width(line.width);
                    let series = DashedLineSeries::new(curve.clone(), on, off, style);
                    chart.draw_series(series).map_err(drawing)?;
                }
            }
        }
    }
    Ok(())
}

/// One kind of line.
struct Line {
    name: &'static str,
    hue: RGBColor,
    width: u32,
    /// On and off, px.
    dash: Option<(u32, u32)>,
    of: fn(&Curves) -> &Vec<Curve>,
}

/// Lines in the order they are drawn.
const LINES: [Line; 9] = [
    Line { name: "hottest, ", hue: OTHER, width: 1, dash: Some((12, 5)), of: |c| &c.other_hottest },
    Line { name: "coldest, ", hue: OTHER, width: 1, dash: Some((7, 5)), of: |c| &c.other_coldest },
    Line { name: "air, ", hue: OTHER, width: 1, dash: None, of: |c| &c.other_reading },
    Line { name: "setpoint", hue: SETPOINT, width: 2, dash: Some((3, 4)), of: |c| &c.setpoint },
    Line { name: "air reading", hue: READING, width: 1, dash: None, of: |c| &c.reading },
    Line {
        name: "hottest part at most",
        hue: HOTTEST,
        width: 2,
        dash: Some((12, 5)),
        of: |c| &c.hottest,
    },
    Line {
        name: "coldest part at least",
        hue: COLDEST,
        width: 2,
        dash: Some((7, 5)),
        of: |c| &c.coldest,
    },
    Line {
        name: "hottest part, truly",
        hue: TRUE_PARTS,
        width: 2,
        dash: Some((2, 3)),
        of: |c| &c.true_hottest,
    },
    Line {
        name: "coldest part, truly",
        hue: TRUE_PARTS,
        width: 2,
        dash: None,
        of: |c| &c.true_coldest,
    },
];

/// The reading less the other's.
fn differences<B: DrawingBackend>(
    area: &Area<'_, B>,
    all: &Curves,
    story: &Story<'_>,
) -> Result<(), PlotError> {
    let most = all.apart.iter().flatten().map(|(_, apart)| apart.abs()).fold(1.0, f64::max);
    let what = format!("apart, {}", story.units.sign());
    let mut chart = axes::middle(area, all.end_min, -1.1 * most..1.1 * most, &what)?;
    let level = vec![(0.0, 0.0), (all.end_min, 0.0)];
    chart.draw_series(LineSeries::new(level, SETPOINT.stroke_width(1))).map_err(drawing)?;
    for curve in &all.apart {
        let line = LineSeries::new(curve.clone(), OTHER.stroke_width(2));
        chart.draw_series(line).map_err(drawing)?;
    }
    Ok(())
}

fn below<B: DrawingBackend>(area: &Area<'_, B>, all: &Curves) -> Result<(), PlotError> {
    let panel = axes::Lower {
        what: "heater, %",
        labels: 3,
        decimals: 0,
        values: -72.0..105.0,
        lines: -36.0..105.0,
        times_at: -44.0,
    };
    let mut chart = axes::lower(area, all.end_min, &panel)?;
    let heater = AreaSeries::new(all.heater.clone(), 0.0, HEATER.mix(0.25))
        .border_style(HEATER.stroke_width(1));
    chart.draw_series(heater).map_err(drawing)?;
    let counted = all
        .counted
        .iter()
        .map(|(from, to)| Rectangle::new([(*from, -32.0), (*to, -10.0)], COUNTED.filled()));
    chart.draw_series(counted).map_err(drawing)?;
    Ok(())
}

fn draw_key<B: DrawingBackend>(
    area: &Area<'_, B>,
    all: &Curves,
    of: &Chart<'_>,
) -> Result<(), PlotError> {
    let story = of.story;
    let mut y = 20;
    let words = |y: i32, text: &str| Text::new(text.to_owned(), (46, y - 7), font(13));
    for line in LINES.iter().rev().filter(|line| !(line.of)(all).is_empty()) {
        let style = line.hue.stroke_width(line.width.max(2));
        let (from, to) = ((4, y), (40, y));
        match line.dash {
            None => area.draw(&PathElement::new(vec![from, to], style)).map_err(drawing)?,
            Some((on, off)) => {
                let mut x = from.0;
                while x < to.0 {
                    let end = (x + on as i32).min(to.0);
                    area.draw(&PathElement::new(vec![(x, y), (end, y)], style)).map_err(drawing)?;
                    x = end + off as i32;
                }
            }
        }
        let other = of.against.filter(|_| line.hue == OTHER).map_or("", |against| against.name);
        area.draw(&words(y, &format!("{}{other}", line.name))).map_err(drawing)?;
        y += 24;
    }
    let mut boxes: Vec<(RGBColor, f64, &str)> = vec![(WINDOW, 0.6, "window of a soak")];
    if !all.doors.is_empty() {
        boxes.push((DOOR, 0.6, "door open"));
    }
    boxes.push((HEATER, 0.4, "heater, mean of a min"));
    boxes.push((COUNTED, 1.0, "counted"));
    for (hue, mix, text) in boxes {
        let corners = [(4, y - 7), (40, y + 7)];
        area.draw(&Rectangle::new(corners, hue.mix(mix).filled())).map_err(drawing)?;
        area.draw(&words(y, text)).map_err(drawing)?;
        y += 24;
    }
    y += 12;
    for part in &story.result.parts {
        let name = crate::report::text::shortened(&part.name, 24);
        area.draw(&Text::new(name, (4, y), font(13))).map_err(drawing)?;
        let had = crate::report::units::minutes_had(part.in_window_s);
        let line = format!("{}, {had} in it", part.verdict.word());
        area.draw(&Text::new(line, (4, y + 16), font(12))).map_err(drawing)?;
        y += 38;
    }
    Ok(())
}

/// A rehearsal says so across the chart.
pub(super) fn across<B: DrawingBackend>(area: &Area<'_, B>) -> Result<(), PlotError> {
    let (width, height) = area.dim_in_pixel();
    let centre = Pos::new(HPos::Center, VPos::Center);
    let faint = ACROSS.mix(0.28);
    let style = font(34).pos(centre).color(&faint);
    let at = (width as i32 / 2 + 30, height as i32 * 3 / 5);
    area.draw(&Text::new("REHEARSAL, NOT A RECORD", at, style)).map_err(drawing)
}
