//! The two panels every picture has: temperatures above, something counted below, one time axis.

use super::PlotError;
use super::canvas::{Area, drawing, font};
use super::curves::ticks_min;
use super::style::INK;
use plotters::chart::MeshStyle;
use plotters::coord::types::RangedCoordf64;
use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, Pos, VPos};
use std::ops::Range;

/// Left of a panel's labels, px.
const LEFT: u32 = 16;
/// Room for a panel's labels, px.
const LABELS: u32 = 70;
/// Right of a panel, px.
const RIGHT: u32 = 8;

/// From where to where a panel of this width shows its time, px.
pub(super) fn across_px(width: u32) -> (u32, u32) {
    (LEFT + LABELS, width - RIGHT)
}

/// A panel: minutes to the right.
pub(super) type Panel<'a, B> = ChartContext<'a, B, Cartesian2d<RangedCoordf64, RangedCoordf64>>;

/// The upper panel, without its axes: what lies behind the lines is drawn first.
pub(super) fn upper<'a, B: DrawingBackend>(
    area: &Area<'a, B>,
    end_min: f64,
    values: Range<f64>,
) -> Result<Panel<'a, B>, PlotError> {
    ChartBuilder::on(area)
        .margin_top(6)
        .margin_left(LEFT)
        .margin_right(RIGHT)
        .x_label_area_size(0)
        .y_label_area_size(LABELS)
        .build_cartesian_2d(0.0..end_min.max(1.0), values)
        .map_err(drawing)
}

/// Lines and letters of both panels; the times are drawn apart.
fn mesh<'a, 'b, B: DrawingBackend>(
    panel: &'b mut Panel<'a, B>,
) -> MeshStyle<'a, 'b, RangedCoordf64, RangedCoordf64, B> {
    let mut mesh = panel.configure_mesh();
    mesh.bold_line_style(INK.mix(0.14))
        .light_line_style(TRANSPARENT)
        .axis_style(INK)
        .x_labels(0)
        .label_style(font(13))
        .axis_desc_style(font(14));
    mesh
}

/// The axes of the upper panel.
pub(super) fn upper_axes<B: DrawingBackend>(
    panel: &mut Panel<'_, B>,
    sign: &str,
) -> Result<(), PlotError> {
    mesh(panel)
        .y_labels(8)
        .y_desc(format!("temperature, {sign}"))
        .y_label_formatter(&|value| format!("{value:.0}"))
        .draw()
        .map_err(drawing)
}

/// A panel between the two, without times of its own.
pub(super) fn middle<'a, B: DrawingBackend>(
    area: &Area<'a, B>,
    end_min: f64,
    values: Range<f64>,
    what: &str,
) -> Result<Panel<'a, B>, PlotError> {
    let mut panel = upper(area, end_min, values)?;
    mesh(&mut panel)
        .y_labels(5)
        .y_desc(what)
        .y_label_formatter(&|value| match value.round() {
            0.0 => "0".to_owned(),
            value => format!("{value:+.0}"),
        })
        .draw()
        .map_err(drawing)?;
    Ok(panel)
}

/// What a lower panel shows, and where its times stand.
pub(super) struct Lower<'a> {
    /// What is counted.
    pub what: &'a str,
    /// Labels at its side.
    pub labels: usize,
    /// Decimals of them.
    pub decimals: usize,
    /// All that is drawn.
    pub values: Range<f64>,
    /// Lines of the times.
    pub lines: Range<f64>,
    /// Top of the times themselves.
    pub times_at: f64,
}

/// The lower panel with its axes and times.
pub(super) fn lower<'a, B: DrawingBackend>(
    area: &Area<'a, B>,
    end_min: f64,
    of: &Lower<'_>,
) -> Result<Panel<'a, B>, PlotError> {
    let mut panel = ChartBuilder::on(area)
        .margin_top(8)
        .margin_left(LEFT)
        .margin_right(RIGHT)
        .margin_bottom(6)
        .x_label_area_size(24)
        .y_label_area_size(LABELS)
        .build_cartesian_2d(0.0..end_min.max(1.0), of.values.clone())
        .map_err(drawing)?;
    mesh(&mut panel)
        .y_labels(of.labels)
        .x_desc("time since the start, h:mm")
        .y_desc(of.what)
        .y_label_formatter(&|value| {
            let is_below = *value < of.lines.start - 1e-9;
            // Not quite nothing would show as "-0.0".
            let value = if value.abs() < 1e-9 { 0.0 } else { *value };
            if is_below { String::new() } else { format!("{value:.*}", of.decimals) }
        })
        .draw()
        .map_err(drawing)?;
    for minutes in ticks_min(end_min) {
        let ends = vec![(minutes, of.lines.start), (minutes, of.lines.end)];
        let line = PathElement::new(ends, INK.mix(0.14));
        panel.draw_series(std::iter::once(line)).map_err(drawing)?;
        let style = font(13).pos(Pos::new(HPos::Center, VPos::Top));
        let words = Text::new(clock_label(minutes), (minutes, of.times_at), style);
        panel.draw_series(std::iter::once(words)).map_err(drawing)?;
    }
    Ok(panel)
}

fn clock_label(minutes: f64) -> String {
    let whole = minutes.round() as i64;
    format!("{}:{:02}", whole / 60, whole % 60)
}
