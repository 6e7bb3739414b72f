//! A plan's picture: the fan of part temperatures over its draws above, when they were done below.

use super::PlotError;
use super::axes;
use super::canvas::{Area, Drawable, drawing, font};
use super::chart::{KEY_WIDTH, LOWER_HEIGHT, across};
use super::curves::Curve;
use super::style::{COLDEST, COUNTED, HOTTEST, INK, WINDOW};
use crate::files::bake::BakeFile;
use crate::plan::{COURSE_EVERY_S, Course, Drawn};
use crate::report::plan_words::PlanStory;
use crate::report::soaks_of;
use crate::report::units::{Units, duration};
use plotters::prelude::*;

/// The fan leaves out the draws furthest out: this share at either side.
const TAIL: f64 = 0.05;
/// Bars of the finish times, at most.
const BARS_MAX: f64 = 40.0;

/// One line of a fan with what lies around it.
struct Band {
    /// 5 % below it.
    low: Curve,
    /// Half.
    middle: Curve,
    /// 5 % above it.
    high: Curve,
}

/// What is drawn.
pub(super) struct Fan<'a> {
    story: &'a PlanStory<'a>,
    coldest: Vec<Band>,
    hottest: Vec<Band>,
    /// Windows of the soaks, in shown units.
    windows: Vec<(f64, f64)>,
    /// When the draws were done, min.
    finishes_min: Vec<f64>,
    end_min: f64,
    units: Units,
}

impl<'a> Fan<'a> {
    pub(super) fn new(story: &'a PlanStory<'a>, bake: &BakeFile, units: Units) -> Self {
        let drawn = &story.plan.drawn;
        let courses: Vec<&Course> =
            drawn.iter().filter_map(|drawn| drawn.course.as_ref()).collect();
        let shown = |celsius: f64| units.from_celsius(celsius);
        let window =
            |soak: crate::report::SoakWanted| (shown(soak.at_least_c), shown(soak.at_most_c));
        let minutes = |drawn: &Drawn| drawn.finish_s().map(|finish_s| finish_s / 60.0);
        let longest_s = drawn.iter().map(|drawn| drawn.duration_s).fold(0.0, f64::max);
        Self {
            story,
            coldest: bands(&courses, units, |course| &course.coldest_c),
            hottest: bands(&courses, units, |course| &course.hottest_c),
            windows: soaks_of(bake).into_iter().map(window).collect(),
            finishes_min: drawn.iter().filter_map(minutes).collect(),
            // Room for the last bar.
            end_min: (1.02 * longest_s / 60.0).max(1.0),
            units,
        }
    }
}

/// A fan, in pieces where fewer than half of the draws have anything inside.
fn bands(courses: &[&Course], units: Units, of: impl Fn(&Course) -> &Vec<f32>) -> Vec<Band> {
    let longest = courses.iter().map(|course| of(course).len()).max().unwrap_or(0);
    let mut bands: Vec<Band> = Vec::new();
    let mut is_broken = true;
    for index in 0..longest {
        let values = courses.iter().filter_map(|course| of(course).get(index).copied());
        let mut now: Vec<f32> = values.filter(|celsius| celsius.is_finite()).collect();
        if 2 * now.len() < courses.len() || now.is_empty() {
            is_broken = true;
            continue;
        }
        now.sort_by(f32::total_cmp);
        if std::mem::take(&mut is_broken) {
            bands.push(Band { low: Vec::new(), middle: Vec::new(), high: Vec::new() });
        }
        let at_min = f64::from(COURSE_EVERY_S) / 60.0 * index as f64;
        let at = |share: f64| {
            let place = libm::round(share * (now.len() - 1) as f64) as usize;
            (at_min, units.from_celsius(f64::from(now[place])))
        };
        if let Some(band) = bands.last_mut() {
            band.low.push(at(TAIL));
            band.middle.push(at(0.5));
            band.high.push(at(1.0 - TAIL));
        }
    }
    bands
}

impl Drawable for Fan<'_> {
    fn title(&self) -> String {
        let plan = self.story.plan;
        format!("{}: {} of {} draws pass", self.story.bake.name, plan.passes(), plan.drawn.len())
    }

    fn draw<B: DrawingBackend>(&self, area: &Area<'_, B>) -> Result<(), PlotError> {
        area.fill(&WHITE).map_err(drawing)?;
        let (head, body) = area.split_vertically(46);
        head.draw(&Text::new(self.title(), (18, 8), font(20))).map_err(drawing)?;
        let setting = format!("in \"{}\" with \"{}\"", self.story.oven, self.story.load);
        head.draw(&Text::new(setting, (18, 30), font(13))).map_err(drawing)?;
        let (width, height) = body.dim_in_pixel();
        let (left, key) = body.split_horizontally(width - KEY_WIDTH);
        let (upper, lower) = left.split_vertically(height - LOWER_HEIGHT);
        self.temperatures(&upper)?;
        self.finishes(&lower)?;
        self.key(&key)?;
        across(&upper)
    }
}

impl Fan<'_> {
    /// Least and greatest temperature drawn, with room around.
    fn range(&self) -> (f64, f64) {
        let points = self.coldest.iter().chain(&self.hottest);
        let points = points.flat_map(|band| band.low.iter().chain(&band.high).map(|(_, y)| *y));
        let windows = self.windows.iter().map(|(_, high)| *high);
        let (low, high) = points
            .chain(windows)
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), y| (low.min(y), high.max(y)));
        if low > high {
            // No part was ever inside, and nothing is wanted of any.
            return (0.0, 100.0);
        }
        let room = 0.04 * (high - low).max(1.0);
        (low - room, high + room)
    }

    fn temperatures<B: DrawingBackend>(&self, area: &Area<'_, B>) -> Result<(), PlotError> {
        let (low, high) = self.range();
        let mut chart = axes::upper(area, self.end_min, low..high)?;
        let windows = self.windows.iter().map(|(bottom, top)| {
            Rectangle::new([(0.0, *bottom), (self.end_min, *top)], WINDOW.mix(0.35).filled())
        });
        chart.draw_series(windows).map_err(drawing)?;
        axes::upper_axes(&mut chart, self.units.sign())?;
        for (bands, hue, dash) in [(&self.hottest, HOTTEST, true), (&self.coldest, COLDEST, false)]
        {
            for band in bands {
                let around: Curve =
                    band.high.iter().chain(band.low.iter().rev()).copied().collect();
                let filled = Polygon::new(around, hue.mix(0.22));
                chart.draw_series(std::iter::once(filled)).map_err(drawing)?;
                let (line, style) = (band.middle.clone(), hue.stroke_width(2));
                if dash {
                    let dashed = DashedLineSeries::new(line, 12, 5, style);
                    chart.draw_series(dashed).map_err(drawing)?;
                } else {
                    chart.draw_series(LineSeries::new(line, style)).map_err(drawing)?;
                }
            }
        }
        Ok(())
    }

    /// Bars of finish times, as minutes from, to and how many.
    fn bars(&self) -> Vec<(f64, f64, u32)> {
        let least = self.finishes_min.iter().copied().fold(f64::INFINITY, f64::min);
        let most = self.finishes_min.iter().copied().fold(0.0, f64::max);
        if least > most {
            return Vec::new();
        }
        let wide = libm::ceil((most - least) / BARS_MAX).max(1.0);
        let first = libm::floor(least / wide);
        let mut counts = vec![0_u32; (libm::floor(most / wide) - first) as usize + 1];
        for finish_min in &self.finishes_min {
            let bar = (libm::floor(finish_min / wide) - first) as usize;
            counts.iter_mut().skip(bar).take(1).for_each(|count| *count += 1);
        }
        let bar = |(index, count): (usize, &u32)| {
            let from = (first + index as f64) * wide;
            (from, from + wide, *count)
        };
        counts.iter().enumerate().map(bar).collect()
    }

    fn finishes<B: DrawingBackend>(&self, area: &Area<'_, B>) -> Result<(), PlotError> {
        let bars = self.bars();
        let most = f64::from(bars.iter().map(|(.., count)| *count).max().unwrap_or(1));
        let panel = axes::Lower {
            what: "draws done",
            labels: 4,
            decimals: 0,
            values: -0.25 * most..1.05 * most,
            lines: 0.0..most,
            times_at: -0.06 * most,
        };
        let mut chart = axes::lower(area, self.end_min, &panel)?;
        let bars = bars.iter().map(|(from, to, count)| {
            let corners = [(*from, 0.0), (*to, f64::from(*count))];
            Rectangle::new(corners, COUNTED.mix(0.75).filled())
        });
        chart.draw_series(bars).map_err(drawing)?;
        for at_s in [0.5, 0.95].into_iter().filter_map(|share| self.story.plan.finish_s(share)) {
            let line = vec![(at_s / 60.0, 0.0), (at_s / 60.0, 1.05 * most)];
            let series = DashedLineSeries::new(line, 4, 3, INK.stroke_width(2));
            chart.draw_series(series).map_err(drawing)?;
        }
        Ok(())
    }

    fn key<B: DrawingBackend>(&self, area: &Area<'_, B>) -> Result<(), PlotError> {
        let plan = self.story.plan;
        let told = |share: f64, whom: &str, done: &str| match plan.finish_s(share) {
            Some(done_s) => format!("{whom} {done} {}", duration(done_s)),
            None => format!("fewer than {whom} done"),
        };
        let boxes = [
            (HOTTEST.mix(0.35), "hottest part, 9 in 10".to_owned()),
            (COLDEST.mix(0.35), "coldest part, 9 in 10".to_owned()),
            (WINDOW.mix(0.6), "window of a soak".to_owned()),
            (COUNTED.mix(0.75), "draws done".to_owned()),
        ];
        let mut y = 20;
        for (hue, words) in boxes {
            area.draw(&Rectangle::new([(4, y - 7), (24, y + 7)], hue.filled())).map_err(drawing)?;
            area.draw(&Text::new(words, (30, y - 7), font(12))).map_err(drawing)?;
            y += 24;
        }
        y += 12;
        for words in [
            told(0.5, "half", "done after"),
            told(0.95, "19 in 20", "within"),
            "(dashed lines below)".to_owned(),
        ] {
            area.draw(&Text::new(words, (4, y), font(13))).map_err(drawing)?;
            y += 20;
        }
        Ok(())
    }
}
