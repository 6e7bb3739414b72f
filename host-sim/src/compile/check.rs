//! Contradictions that only the model shows: a window too narrow, a heater too weak.

use super::steady::{self, Span};
use crate::files::quantity::Scale;
use crate::files::{FileKind, Finding, KeyPath, Setup};
use truesoak_core::bake::{Purpose, Soak, Step};
use truesoak_core::bounds::Present;
use truesoak_core::bounds::model::Model;

/// A window must leave at least so much for the reading, K.
pub const SPAN_LEAST_K: f64 = 2.0;

/// Every contradiction of a bake with its oven's model.
#[must_use]
pub fn findings(setup: &Setup, model: &Model) -> Vec<Finding> {
    let mut found = Vec::new();
    let hottest_c = hottest_wanted_c(setup);
    if !steady::can_hold(model, hottest_c) {
        found.push(too_weak(setup, hottest_c, steady::balance_c(model)));
        return found;
    }
    let mut seen: Vec<Soak> = Vec::new();
    for (index, step) in setup.bake.bake.steps.iter().enumerate() {
        let Step::Soak(soak) = step else { continue };
        if seen.iter().any(|other| is_same_window(other, soak)) {
            continue;
        }
        seen.push(*soak);
        let gas_out = soak.purpose == Purpose::GasOut;
        let present = if gas_out { Present::gas_out(model) } else { Present::everything(model) };
        let span = steady::span(model, soak, present, soak.purpose == Purpose::Cure);
        if span.width_k() < SPAN_LEAST_K {
            found.push(too_narrow(setup, index, soak, span));
        }
    }
    found
}

fn is_same_window(a: &Soak, b: &Soak) -> bool {
    a.at_least == b.at_least && a.at_most == b.at_most && a.purpose == b.purpose
}

fn hottest_wanted_c(setup: &Setup) -> f64 {
    let wanted = setup.bake.bake.steps.iter().map(|step| match step {
        Step::Ramp(ramp) => f64::from(ramp.to.0),
        Step::Soak(soak) => 0.5 * f64::from(soak.at_least.0 + soak.at_most.0),
        Step::LoadIn(load_in) => load_in.at.map_or(f64::NEG_INFINITY, |at| f64::from(at.0)),
        _ => f64::NEG_INFINITY,
    });
    wanted.fold(f64::NEG_INFINITY, f64::max)
}

fn degrees(kelvins: f64, scale: Scale) -> String {
    format!("{:.1}", kelvins / scale.degree_k())
}

fn too_weak(setup: &Setup, wanted_c: f64, balance_c: f64) -> Finding {
    let scale = setup.bake.scale;
    let shown = |celsius: f64| format!("{:.0} {}", scale.from_celsius(celsius), scale.symbol());
    let at = KeyPath::oven("heater").key("power");
    Finding::new(
        at,
        format!("the heater cannot reach {}", shown(wanted_c)),
        format!("at most about {}, where full power and losses balance", shown(balance_c)),
        "insulate better, heat with more power, or lower the bake",
    )
    .and_at(KeyPath::root(FileKind::Bake).key("step"))
}

fn too_narrow(setup: &Setup, index: usize, soak: &Soak, span: Span) -> Finding {
    let scale = setup.bake.scale;
    let (spread, oven) = (&setup.oven.spread, &setup.oven);
    let window_k = f64::from((soak.at_most - soak.at_least).0);
    let loss_k = window_k - span.width_k();
    let fixed_k = 2.0 * spread.sensor_offset_k
        + spread.cold_spot_k
        + spread.hot_spot_k
        + oven.sensor.resolution_k;
    let of = |kelvins: f64| degrees(kelvins, scale);
    let symbol = scale.symbol();
    let expected = format!(
        "a window of at least {} {symbol}: sensor ± {}, spots {} + {}, resolution {}, liner, wall \
         view and surfaces {}, and {} to hold in",
        of(loss_k + SPAN_LEAST_K),
        of(spread.sensor_offset_k),
        of(spread.cold_spot_k),
        of(spread.hot_spot_k),
        of(oven.sensor.resolution_k),
        of(loss_k - fixed_k),
        of(SPAN_LEAST_K),
    );
    Finding::new(
        KeyPath::step(index).key("soak").key("at_most"),
        format!("the window of {} {symbol} is too narrow for this oven and load", of(window_k)),
        expected,
        "widen the window; or time an empty heat-up and cool-down into [observed], check the \
         sensor in ice and boiling water and lower sensor_offset, survey the spots, or bake dull \
         and bright parts apart",
    )
}
