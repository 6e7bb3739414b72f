//! A survey's picture: readings above, what each place is off the control sensor below.

use super::PlotError;
use super::axes;
use super::canvas::{Area, Drawable, drawing, font};
use super::curves::Curve;
use super::style::{ACROSS, COLDEST, HOTTEST, INK, READING, WINDOW};
use crate::report::survey_words::{SurveyStory, one_line};
use crate::report::text::Paint;
use crate::survey::readings::Column;
use plotters::prelude::*;

/// Height of the lower panel, px.
const LOWER_HEIGHT: u32 = 300;
/// Most points of one line.
const POINTS_MAX: usize = 2400;
/// What is off is drawn so far at most, K: while it heats up it says nothing.
const FURTHEST_K: f64 = 30.0;

/// A survey.
pub(super) struct Places<'a> {
    pub story: &'a SurveyStory<'a>,
}

impl Places<'_> {
    fn curve(&self, of: impl Fn(usize) -> f64) -> Curve {
        let t_s = &self.story.readings.t_s;
        let step = t_s.len().div_ceil(POINTS_MAX).max(1);
        let points = (0..t_s.len()).step_by(step).map(|at| (t_s[at] / 60.0, of(at)));
        points.filter(|(_, y)| y.is_finite()).collect()
    }

    fn absolute(&self, column: &Column) -> Curve {
        self.curve(|at| self.story.units.from_celsius(column.celsius[at]))
    }

    fn off(&self, column: &Column) -> Curve {
        let control = &self.story.readings.control.celsius;
        self.curve(|at| self.story.units.from_kelvins(column.celsius[at] - control[at]))
    }

    /// The coldest and the hottest place have hues of their own.
    fn hue(&self, column: &Column) -> (RGBColor, u32) {
        let named = |place: Option<&crate::survey::Place>| {
            place.is_some_and(|place| place.name == column.name)
        };
        match self.story.found {
            Ok(found) if named(found.coldest()) => (COLDEST, 2),
            Ok(found) if named(found.hottest()) => (HOTTEST, 2),
            _ => (ACROSS, 1),
        }
    }

    /// Half height of the lower panel: what is off while steady, else of all.
    fn half(&self) -> f64 {
        let units = self.story.units;
        let greatest_k = match self.story.found {
            Ok(found) => found
                .places
                .iter()
                .map(|place| place.greatest_k.abs().max(place.least_k.abs()))
                .fold(1.0, f64::max),
            Err(_) => FURTHEST_K,
        };
        units.from_kelvins((1.6 * greatest_k).min(FURTHEST_K))
    }

    fn steady_min(&self) -> Option<(f64, f64)> {
        self.story.found.as_ref().ok().map(|found| (found.from_s / 60.0, found.to_s / 60.0))
    }
}

impl Drawable for Places<'_> {
    fn title(&self) -> String {
        one_line(self.story, Paint::Plain).split_whitespace().collect::<Vec<_>>().join(" ")
    }

    fn draw<B: DrawingBackend>(&self, area: &Area<'_, B>) -> Result<(), PlotError> {
        area.fill(&WHITE).map_err(drawing)?;
        let readings = self.story.readings;
        let end_min = readings.t_s.last().copied().unwrap_or(60.0) / 60.0;
        let (head, body) = area.split_vertically(46);
        head.draw(&Text::new(self.title(), (18, 8), font(13))).map_err(drawing)?;
        let key = "dark: control sensor; blue: coldest place; orange: hottest; grey: the others; \
                   green: where it is steady";
        head.draw(&Text::new(key, (18, 28), font(13))).map_err(drawing)?;
        let (_, height) = body.dim_in_pixel();
        let (upper, lower) = body.split_vertically(height - LOWER_HEIGHT);
        let all = readings.places.iter().map(|place| (self.absolute(place), self.hue(place)));
        let control = (self.absolute(&readings.control), (READING, 2));
        let curves: Vec<(Curve, (RGBColor, u32))> = all.chain([control]).collect();
        let (low, high) = curves
            .iter()
            .flat_map(|(curve, _)| curve)
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), (_, y)| {
                (low.min(*y), high.max(*y))
            });
        let (low, high) = if low > high { (0.0, 100.0) } else { (low - 4.0, high + 4.0) };
        let mut chart = axes::upper(&upper, end_min, low..high)?;
        let band = |low: f64, high: f64| {
            self.steady_min().map(|(from, to)| {
                Rectangle::new([(from, low), (to, high)], WINDOW.mix(0.35).filled())
            })
        };
        chart.draw_series(band(low, high)).map_err(drawing)?;
        axes::upper_axes(&mut chart, self.story.units.sign())?;
        for (curve, (hue, width)) in curves {
            let series = LineSeries::new(curve, hue.stroke_width(width));
            chart.draw_series(series).map_err(drawing)?;
        }
        let half = self.half();
        let panel = axes::Lower {
            what: &format!("off the control sensor, {}", self.story.units.sign()),
            labels: 9,
            decimals: 1,
            values: -1.3 * half..half,
            lines: -half..half,
            times_at: -1.05 * half,
        };
        let mut chart = axes::lower(&lower, end_min, &panel)?;
        chart.draw_series(band(-half, half)).map_err(drawing)?;
        let nothing = vec![(0.0, 0.0), (end_min, 0.0)];
        chart.draw_series(LineSeries::new(nothing, INK.stroke_width(1))).map_err(drawing)?;
        for place in &readings.places {
            let (hue, width) = self.hue(place);
            let curve = self.off(place).into_iter().filter(|(_, off)| off.abs() <= half);
            let points = curve.map(|point| Circle::new(point, width, hue.filled()));
            chart.draw_series(points).map_err(drawing)?;
        }
        Ok(())
    }
}
