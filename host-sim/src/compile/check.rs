//! Contradictions that only the model shows: a window too narrow, a heater too weak, too strong or
//! too sluggish, an air limit that keeps the air from where the bake wants it.
//!
//! The limits on the heater are measured: beyond them fault-free bakes end in a trip that names a
//! fault nobody has. Five or six bakes on six to sixteen draws each, one value changed at a time.

use super::steady::{self, Span};
use super::tuning::{self, Tuned};
use crate::files::quantity::Scale;
use crate::files::{FileKind, Finding, KeyPath, Setup};
use truesoak_core::bake::{Purpose, Soak, Step};
use truesoak_core::bounds::Present;
use truesoak_core::bounds::model::Model;

/// A window must leave at least so much for the reading, K.
pub const SPAN_LEAST_K: f64 = 2.0;
/// Most that the shortest pulse of the drive may heat the air, K. Measured: 2.5 K trips on no draw,
/// 4.0 K on one of six (`drive-welded`).
const PULSE_MAX_K: f64 = 2.6;
/// Slowest element, s: what it still holds when it goes off must not look like a drive that does
/// not. Measured: 290 s trips on no draw, 345 s on one of sixteen (`drive-welded`).
const ELEMENT_MAX_S: f64 = 300.0;
/// Least heat capacity of the liner, elements: a lighter one is heated on by what the element still
/// holds. Measured: 3.4 trips on no draw of six, 2.9 on one or two of sixteen (`drive-welded`).
const LINER_LEAST: f64 = 3.3;
/// Least duty that holds [`HELD_C`]. Measured: 0.031 trips on no draw, 0.026 on one of six
/// (`drive-welded`).
const HOLDING_LEAST: f64 = 0.03;
/// Air the heater is judged at, °C: mid-bake.
const HELD_C: f64 = 150.0;
/// The controller keeps the air bound so far below its limit, K.
const AIR_LIMIT_CLEAR_K: f64 = 6.0;
/// A window is reached when the reading can be so far above its lower end, K: that is the nominal oven's;
/// with 1 K one of 20 draws never came in.
const INTO_WINDOW_K: f64 = 2.0;
/// Some oven of the spread needs so much more boost than the nominal one, K: 2.4 K seen in the campaign.
const OTHERS_MORE_K: f64 = 3.0;
/// No steady oven has its air bound so far above the reading, K: an air limit further off needs no
/// closer look.
const AIR_ABOVE_MAX_K: f64 = 40.0;

/// Every contradiction of a bake with its oven's model.
#[must_use]
pub fn findings(setup: &Setup, model: &Model, tuned: &Tuned) -> Vec<Finding> {
    let mut found = Vec::new();
    let hottest_c = hottest_wanted_c(setup);
    let held_duty = steady::holding_duty_at(model, HELD_C);
    // What holds more holds less.
    let holds_more = held_duty < 1.0 && hottest_c <= HELD_C;
    if !holds_more && !steady::can_hold(model, hottest_c) {
        found.push(too_weak(setup, hottest_c, steady::balance_c(model)));
        return found;
    }
    found.extend(heater(setup, model, held_duty));
    found.extend(air_loop(setup, model, tuned));
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
        } else if boost_wanted_k(soak, span) > f64::from(soak.boost.0) {
            found.push(too_low(setup, index, soak, span));
        } else {
            let at = KeyPath::step(index).key("soak").key("at_least");
            found.extend(kept_from(setup, model, span.lo_c + INTO_WINDOW_K, at));
        }
    }
    for (index, step) in setup.bake.bake.steps.iter().enumerate() {
        let Step::Ramp(ramp) = step else { continue };
        let at = KeyPath::step(index).key("ramp").key("to");
        found.extend(kept_from(setup, model, f64::from(ramp.to.0), at));
    }
    found
}

/// How far past `at_most` the air has to go to hold the parts in their window, K.
fn boost_wanted_k(soak: &Soak, span: Span) -> f64 {
    span.lo_c + SPAN_LEAST_K - f64::from(soak.at_most.0)
}

/// Parts that stay further below the air than it may be driven.
fn too_low(setup: &Setup, index: usize, soak: &Soak, span: Span) -> Finding {
    let scale = setup.bake.scale;
    let shown = |celsius: f64| format!("{:.0} {}", scale.from_celsius(celsius), scale.symbol());
    let wanted_k = (boost_wanted_k(soak, span) + OTHERS_MORE_K).ceil();
    Finding::new(
        KeyPath::step(index).key("soak").key("at_most"),
        "the air may not go where this oven and load need it".to_owned(),
        format!(
            "boost of {} {}: {} on the sensor brings the coldest part in, {} to hold in, and {} for \
             other ovens of the spread",
            degrees(wanted_k, scale),
            scale.symbol(),
            shown(span.lo_c),
            degrees(SPAN_LEAST_K, scale),
            degrees(OTHERS_MORE_K, scale)
        ),
        "raise boost: the air then stays so far above at_most, the parts do not; or lower at_least",
    )
}

/// A reading the air limit keeps the controller from, if it does.
fn kept_from(setup: &Setup, model: &Model, wanted_c: f64, at: KeyPath) -> Option<Finding> {
    let air_max_c = f64::from(setup.bake.bake.limits.air_max.0);
    if wanted_c + AIR_ABOVE_MAX_K < air_max_c {
        return None;
    }
    let needed_c = steady::upper_air_c(model, wanted_c) + AIR_LIMIT_CLEAR_K;
    if needed_c <= air_max_c {
        return None;
    }
    let scale = setup.bake.scale;
    let shown = |celsius: f64| format!("{:.0} {}", scale.from_celsius(celsius), scale.symbol());
    let finding = Finding::new(
        at,
        format!("air_max of {} keeps the air from getting there", shown(air_max_c)),
        format!(
            "air_max of at least {}: {} on the sensor, what the air may be above that, and 6 K \
             kept clear",
            shown(needed_c.ceil()),
            shown(wanted_c)
        ),
        "raise air_max, or lower this",
    );
    Some(finding.and_at(KeyPath::root(FileKind::Bake).key("limits").key("air_max")))
}

/// A heater whose heat comes in lumps, stays too long, or is far more than the oven can use.
fn heater(setup: &Setup, model: &Model, held_duty: f64) -> Option<Finding> {
    let oven = &setup.oven;
    let air = tuning::nominal(model);
    let at = |key: &str| KeyPath::oven("heater").key(key);
    let (power_w, holds_j) = (oven.heater.power_w, oven.heater.capacity_j_per_k);
    let pulse_k = air.gain_k * -libm::expm1(-oven.drive.minimum_on_s / air.element_s);
    if held_duty < HOLDING_LEAST {
        let most_w = power_w * held_duty / HOLDING_LEAST;
        return Some(Finding::new(
            at("power"),
            format!("the heater gives {:.0} times what holds 150 °C in this oven", 1.0 / held_duty),
            format!("at most {most_w:.0} W here, {:.0} times that", 1.0 / HOLDING_LEAST),
            "check power, cavity and insulation, or fit a smaller heater",
        ));
    }
    if pulse_k > PULSE_MAX_K {
        let least_j = holds_j * pulse_k / PULSE_MAX_K;
        return Some(
            Finding::new(
                at("mass"),
                format!("the shortest pulse of the drive heats the air by {pulse_k:.1} K"),
                format!("at most {PULSE_MAX_K} K: an element that holds {least_j:.0} J/K or more"),
                "weigh the element with its sheath, or leave mass out; or shorten minimum_on",
            )
            .and_at(KeyPath::oven("drive").key("minimum_on")),
        );
    }
    if air.element_s > ELEMENT_MAX_S {
        let most_j = holds_j * ELEMENT_MAX_S / air.element_s;
        return Some(
            Finding::new(
                at("mass"),
                format!("the element takes {:.0} s to give its heat to the oven", air.element_s),
                format!(
                    "at most {ELEMENT_MAX_S:.0} s: one that holds {most_j:.0} J/K or less, or a \
                     larger area"
                ),
                "weigh and measure the element alone, or leave mass and area out",
            )
            .and_at(at("area")),
        );
    }
    let liner_j = oven.liner.capacity_j_per_k * oven.calibration.wall_heat_capacity;
    if liner_j < LINER_LEAST * holds_j {
        return Some(
            Finding::new(
                KeyPath::oven("liner").key("heat_capacity"),
                format!("the liner holds {liner_j:.0} J/K, the element {holds_j:.0} J/K"),
                format!("a liner that holds at least {:.0} J/K", LINER_LEAST * holds_j),
                "count the door's inner pan and the rails in; check mass and wall_heat_capacity",
            )
            .and_at(KeyPath::oven("calibration").key("wall_heat_capacity")),
        );
    }
    None
}

/// Gains under which the air never comes to rest, or an oven that none keep calm.
fn air_loop(setup: &Setup, model: &Model, tuned: &Tuned) -> Option<Finding> {
    if setup.oven.tuning.is_none() {
        return (tuned.sensitivity > tuning::SENSITIVITY_MAX).then(|| {
            Finding::new(
                KeyPath::oven("drive").key("minimum_on"),
                "no gains keep the air calm in every oven the spread allows",
                "a drive and a sensor that answer sooner than the oven does",
                "shorten minimum_on and minimum_off, or fit a sensor with less lag",
            )
            .and_at(KeyPath::oven("sensor").key("lag"))
        });
    }
    tuned.sensitivity.is_infinite().then(|| {
        Finding::new(
            KeyPath::oven("tuning").key("gain"),
            "with these gains the air swings without end in an oven the spread allows",
            format!("gains that settle, such as {}", tuning::computed(setup, model).line()),
            "take those, or leave [tuning] out",
        )
    })
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
    let clear = if span.clear_k > 0.0 {
        format!("{} clear of what a part stands, ", of(span.clear_k))
    } else {
        String::new()
    };
    let expected = format!(
        "a window of at least {} {symbol}: sensor ± {}, spots {} + {}, resolution {}, liner, wall \
         view, surfaces and noise {}, {}and {} to hold in",
        of(loss_k + SPAN_LEAST_K),
        of(spread.sensor_offset_k),
        of(spread.cold_spot_k),
        of(spread.hot_spot_k),
        of(oven.sensor.resolution_k),
        of(loss_k - fixed_k - span.clear_k),
        clear,
        of(SPAN_LEAST_K),
    );
    Finding::new(
        KeyPath::step(index).key("soak").key("at_most"),
        format!("the window of {} {symbol} is too narrow for this oven and load", of(window_k)),
        expected,
        "widen the window; or check the sensor in ice and boiling water and lower sensor_offset, \
         survey the spots, time an empty heat-up and cool-down into [observed], or bake dull and \
         bright parts apart",
    )
}
