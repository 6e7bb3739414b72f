//! The bake so far beside its rehearsal, as a chart of signs.

use super::View;
use super::foresee::Curve;
use crate::log::Row;
use ratatui::Frame;
use ratatui::layout::Rect;
use ratatui::style::{Modifier, Style};
use ratatui::symbols::Marker;
use ratatui::widgets::{Axis, Block, Chart, Dataset, GraphType};
use truesoak_core::bake::Step;

/// Draws it.
pub(super) fn draw(frame: &mut Frame<'_>, area: Rect, view: &View) {
    let units = view.units;
    let shown = |row: &Row, value_c: Option<f64>| {
        value_c.map(|celsius| (row.t_s() / 60.0, units.from_celsius(celsius)))
    };
    let seconds = || view.rows.iter().filter(|row| row.event.is_empty());
    let air: Curve = seconds()
        .filter_map(|row| shown(row, row.air.map(|air| air.to_celsius().0.into())))
        .collect();
    let coldest: Curve = seconds().filter_map(|row| shown(row, row.coldest_c)).collect();
    let (rehearsed_air, rehearsed_coldest) =
        view.foresight.as_ref().map_or_else(Default::default, |foresight| foresight.curves(units));
    let rehearsed_min = view.foresight.as_ref().map_or(0.0, |known| known.nominal_s() / 60.0);
    let end_min = view.rows.last().map_or(0.0, |row| row.t_s() / 60.0).max(rehearsed_min).max(1.0);
    let window = window(view, end_min);
    let all = [&air, &coldest, &rehearsed_air, &rehearsed_coldest, &window];
    let values = all.into_iter().flatten().map(|point| point.1);
    let (low, high) = values.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| {
        (low.min(value), high.max(value))
    });
    if low > high {
        return;
    }
    let (low, high) = ((low / 20.0).floor() * 20.0, (high / 20.0).ceil() * 20.0 + 20.0);
    let dataset = |name: &'static str, marker: Marker, curve| {
        Dataset::default().name(name).marker(marker).graph_type(GraphType::Scatter).data(curve)
    };
    let dim = Style::new().add_modifier(Modifier::DIM);
    let datasets = vec![
        dataset("", Marker::Custom('-'), &window).style(dim),
        dataset("", Marker::Dot, &rehearsed_air).style(dim),
        dataset("", Marker::Dot, &rehearsed_coldest).style(dim),
        dataset("", Marker::Braille, &air),
        dataset("", Marker::Block, &coldest).style(Style::new().add_modifier(Modifier::BOLD)),
    ];
    let chart = Chart::new(datasets)
        .block(Block::new().title(format!(
            "█ coldest part   ⣿ air   • both as rehearsed   - window   ({}, hours)",
            units.sign()
        )))
        .x_axis(Axis::default().bounds([0.0, end_min]).labels(hours(end_min)))
        .y_axis(Axis::default().bounds([low, high]).labels(labels(low, high)));
    frame.render_widget(chart, area);
}

/// Both ends of the soak's window, as far as the chart goes.
fn window(view: &View, end_min: f64) -> Curve {
    let step = view.status.as_ref().map_or(0, |status| status.step);
    let soak = view.baked.as_ref().and_then(|baked| match baked.step(step)?.0 {
        Step::Soak(soak) => Some(soak),
        _ => None,
    });
    let Some(soak) = soak else { return Curve::new() };
    let ends = [soak.at_least, soak.at_most];
    // A stroke in some columns of a wide screen.
    let across = (0..=40).map(|column| f64::from(column) / 40.0 * end_min);
    let line = |value: f64| across.clone().map(move |minute| (minute, value));
    ends.into_iter().flat_map(|end| line(view.units.from_celsius(end.0.into()))).collect()
}

fn hours(end_min: f64) -> Vec<String> {
    [0.0, 0.5, 1.0].map(|share| crate::report::units::h_mm(share * end_min * 60.0)).to_vec()
}

fn labels(low: f64, high: f64) -> Vec<String> {
    [low, (low + high) / 2.0, high].map(|value| format!("{value:.0}")).to_vec()
}
