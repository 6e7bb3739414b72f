//! What a fit leaves over: readings of its logs above, one after the other, residuals below.

use super::PlotError;
use super::axes;
use super::canvas::{Area, Drawable, drawing, font};
use super::curves::Curve;
use super::style::{HOTTEST, INK, READING};
use crate::fit::{LeftOver, Leftover};
use crate::report::fit_words::{FitStory, small};
use plotters::prelude::*;

/// Height of the lower panel, px: it is what the picture is for.
const LOWER_HEIGHT: u32 = 300;
/// Between two logs, min.
const BETWEEN_MIN: f64 = 10.0;
/// Least half height of the lower panel, K.
const LEAST_K: f64 = 0.5;

/// A fit's residuals.
pub(super) struct Residuals<'a> {
    pub story: &'a FitStory<'a>,
}

/// One sensor of one log, shifted to its place.
struct Lines {
    read: Curve,
    left: Curve,
    is_probe: bool,
}

impl Residuals<'_> {
    fn lines(&self) -> (Vec<Lines>, f64) {
        let units = self.story.units;
        let (mut lines, mut start_min) = (Vec::new(), 0.0);
        for LeftOver { air, probe, .. } in &self.story.fitted.left_over {
            let mut end_min = start_min;
            for (points, is_probe) in [(air, false), (probe, true)] {
                let at = |point: &Leftover| start_min + point.t_s / 60.0;
                let read = points.iter().map(|point| (at(point), units.from_celsius(point.read_c)));
                let left =
                    points.iter().map(|point| (at(point), units.from_kelvins(point.residual_k)));
                end_min = points.last().map_or(end_min, |last| at(last).max(end_min));
                if !points.is_empty() {
                    lines.push(Lines { read: read.collect(), left: left.collect(), is_probe });
                }
            }
            start_min = end_min + BETWEEN_MIN;
        }
        (lines, (start_min - BETWEEN_MIN).max(1.0))
    }
}

fn range<'a>(curves: impl Iterator<Item = &'a Curve>) -> (f64, f64) {
    curves
        .flatten()
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), (_, y)| (low.min(*y), high.max(*y)))
}

impl Drawable for Residuals<'_> {
    fn title(&self) -> String {
        let rms = small(self.story.units, self.story.fitted.air.rms_k);
        format!("{}: what the fit leaves over, {rms} rms", self.story.oven)
    }

    fn draw<B: DrawingBackend>(&self, area: &Area<'_, B>) -> Result<(), PlotError> {
        area.fill(&WHITE).map_err(drawing)?;
        let (lines, end_min) = self.lines();
        let (head, body) = area.split_vertically(46);
        head.draw(&Text::new(self.title(), (18, 8), font(20))).map_err(drawing)?;
        let key =
            "readings above, reading less foretold below; dark: air sensor, orange: part probe";
        head.draw(&Text::new(key, (18, 30), font(13))).map_err(drawing)?;
        let (_, height) = body.dim_in_pixel();
        let (upper, lower) = body.split_vertically(height - LOWER_HEIGHT);
        let (low, high) = range(lines.iter().map(|line| &line.read));
        let (low, high) = if low > high { (0.0, 100.0) } else { (low - 5.0, high + 5.0) };
        let mut chart = axes::upper(&upper, end_min, low..high)?;
        axes::upper_axes(&mut chart, self.story.units.sign())?;
        for line in &lines {
            let series = LineSeries::new(line.read.clone(), hue(line).stroke_width(2));
            chart.draw_series(series).map_err(drawing)?;
        }
        let (low, high) = range(lines.iter().map(|line| &line.left));
        let half = if low > high { LEAST_K } else { 1.1 * high.max(-low).max(LEAST_K) };
        let panel = axes::Lower {
            what: &format!("left over, {}", self.story.units.sign()),
            labels: 9,
            decimals: 1,
            values: -1.3 * half..half,
            lines: -half..half,
            times_at: -1.05 * half,
        };
        let mut chart = axes::lower(&lower, end_min, &panel)?;
        let nothing = vec![(0.0, 0.0), (end_min, 0.0)];
        chart.draw_series(LineSeries::new(nothing, INK.stroke_width(1))).map_err(drawing)?;
        for line in &lines {
            let series = LineSeries::new(line.left.clone(), hue(line).stroke_width(1));
            chart.draw_series(series).map_err(drawing)?;
        }
        Ok(())
    }
}

fn hue(line: &Lines) -> RGBColor {
    if line.is_probe { HOTTEST } else { READING }
}
