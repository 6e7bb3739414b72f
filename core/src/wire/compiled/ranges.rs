//! The range of every number of a compiled bake: what a real oven can have, with room around it.
//!
//! Wider than what the computer's own readers take, so that nothing they let through is refused
//! here; narrow enough that no number means what it cannot. A not-a-number is in no range.

use crate::bake::{Bake, Step};
use crate::bounds::model::{
    Air, CELLS_MAX, Cabinet, Class, Element, Film, Model, Point, Probe, Sensor,
};
use crate::command::Settings;
use crate::units::Span;
use core::ops::RangeInclusive;
use serde::{Deserialize, Serialize};

/// Where a number is out of range.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Place {
    /// Room temperature.
    Ambient,
    /// Air sensor.
    Sensor,
    /// Second air sensor.
    SensorB,
    /// Part probe.
    Probe,
    /// Heating element.
    Element,
    /// Liner, insulation and skin.
    Cabinet,
    /// Air of the cabinet.
    Air,
    /// Factor on the exchange of parts and rack.
    Exchange,
    /// Rack.
    Rack,
    /// A kind of part, from 0.
    Class(u8),
    /// Gains and pulses.
    Drive,
    /// Limits of the bake.
    Limits,
    /// A step, from 0.
    Step(u8),
}

impl core::fmt::Display for Place {
    fn fmt(&self, formatter: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        formatter.write_str(match self {
            Self::Ambient => "the room temperature",
            Self::Sensor => "a value of the air sensor",
            Self::SensorB => "a value of the second air sensor",
            Self::Probe => "a value of the part probe",
            Self::Element => "a value of the heater",
            Self::Cabinet => "a value of the cabinet",
            Self::Air => "a value of the cabinet's air",
            Self::Exchange => "the exchange of the parts",
            Self::Rack => "a value of the rack",
            Self::Class(index) => {
                return write!(formatter, "a value of part {}", u16::from(*index) + 1);
            }
            Self::Drive => "a gain or pulse",
            Self::Limits => "a limit of the bake",
            Self::Step(index) => {
                return write!(formatter, "a value of step {}", u16::from(*index) + 1);
            }
        })
    }
}

/// A temperature of anything, °C: from winter to where heating elements end.
const TEMPERATURE_C: RangeInclusive<f32> = -100.0..=1200.0;
/// A difference of two, K.
const DIFFERENCE_K: RangeInclusive<f32> = 0.0..=1200.0;
/// What a sensor is off by, or air at the parts, K.
const OFF_K: RangeInclusive<f32> = 0.0..=100.0;
/// Step of a converter, K.
const RESOLUTION_K: RangeInclusive<f32> = 0.0..=10.0;
const LAG_S: RangeInclusive<f32> = 0.0..=1000.0;
const SHARE: RangeInclusive<f32> = 0.0..=1.0;
const FACTOR: RangeInclusive<f32> = 0.0..=100.0;
/// Something there is not none of, from a milligram and a square millimetre to a walk-in oven.
const AMOUNT: RangeInclusive<f32> = 1e-9..=1e9;
/// Something there may be none of.
const SOME: RangeInclusive<f32> = 0.0..=1e9;
/// A pulse of the drive, s.
const PULSE_S: RangeInclusive<f32> = 0.0..=60.0;
/// A gain, duty per K.
const GAIN_PER_K: RangeInclusive<f32> = 0.0..=100.0;
/// A time constant of the air loop, s; infinite is none, but must not be written so.
const LOOP_S: RangeInclusive<f32> = 0.0..=1e6;
/// Longest time of a bake, s: a little more than the 31 days its file may say.
const TIME_S: RangeInclusive<u32> = 0..=32 * 86_400;
/// What the used shares of a point's cells may sum up to.
const WHOLE: RangeInclusive<f32> = 0.99..=1.01;

/// The first place with a number out of its range, in the order of the tables.
#[must_use]
pub fn out_of_range(model: &Model, settings: &Settings, bake: &Bake) -> Option<Place> {
    let classes = u8::try_from(model.classes.len()).unwrap_or(u8::MAX);
    let points = model.rack.as_ref().is_none_or(point);
    let places = [
        (Place::Ambient, TEMPERATURE_C.contains(&model.ambient.0)),
        (Place::Sensor, sensor(&model.sensor)),
        (Place::SensorB, model.sensor_b.as_ref().is_none_or(sensor)),
        (Place::Probe, model.probe.as_ref().is_none_or(|fitted| probe(fitted, classes))),
        (Place::Element, element(&model.element)),
        (Place::Cabinet, cabinet(&model.cabinet)),
        (Place::Air, air(&model.air)),
        (Place::Exchange, span(model.exchange, &FACTOR)),
        (Place::Rack, points && TEMPERATURE_C.contains(&model.rack_starts_at.0)),
        (Place::Drive, drive(settings)),
        (Place::Limits, limits(bake)),
    ];
    let wrong_place = places.into_iter().find(|(_, good)| !good).map(|(place, _)| place);
    let wrong_class = || (0..).zip(&model.classes).find(|(_, of)| !class(of));
    let wrong_step = || (0..).zip(&bake.steps).find(|(_, of)| !step(of));
    wrong_place
        .or_else(|| wrong_class().map(|(index, _)| Place::Class(index)))
        .or_else(|| wrong_step().map(|(index, _)| Place::Step(index)))
}

fn all(values: &[f32], range: &RangeInclusive<f32>) -> bool {
    values.iter().all(|value| range.contains(value))
}

/// Both ends in range, and the lower not above the higher.
fn span(of: Span, range: &RangeInclusive<f32>) -> bool {
    all(&[of.low, of.high], range) && of.low <= of.high
}

fn sensor(of: &Sensor) -> bool {
    span(of.lag_s, &LAG_S)
        && span(of.wall_view, &SHARE)
        && all(&[of.offset_k, of.noise_k], &OFF_K)
        && RESOLUTION_K.contains(&of.resolution_k)
}

fn probe(of: &Probe, classes: u8) -> bool {
    of.class < classes
        && span(of.lag_s, &LAG_S)
        && all(&[of.offset_k, of.noise_k], &OFF_K)
        && RESOLUTION_K.contains(&of.resolution_k)
}

fn element(of: &Element) -> bool {
    all(&[of.power_w, of.capacity_j_per_k, of.convection_w_per_k], &AMOUNT)
        && SOME.contains(&of.radiation_m2)
        && span(of.power, &FACTOR)
        && span(of.radiant_share, &SHARE)
}

fn film(of: &Film) -> bool {
    all(&[of.constant, of.quarter], &SOME)
        && AMOUNT.contains(&(of.constant + of.quarter))
        && span(of.law, &FACTOR)
}

fn cabinet(of: &Cabinet) -> bool {
    let amounts = [of.liner_m2, of.liner_j_per_k, of.insulation_j_per_k, of.skin_j_per_k];
    all(&amounts, &AMOUNT)
        && all(&of.insulation_w_per_k, &AMOUNT)
        && all(&[of.skin_w_per_k, of.doorway_m2], &SOME)
        && film(&of.liner_film)
        && span(of.capacity, &FACTOR)
        && span(of.losses, &FACTOR)
}

fn air(of: &Air) -> bool {
    AMOUNT.contains(&of.capacity_j_per_k)
        && SOME.contains(&of.leak_w_per_k)
        && SHARE.contains(&of.stopped_fan)
        && all(&[of.cold_spot_k, of.hot_spot_k], &OFF_K)
}

fn point(of: &Point) -> bool {
    let cells = usize::from(of.cells);
    let used = || of.cell_share.iter().take(cells);
    all(&[of.area_m2, of.capacity_j_per_k], &AMOUNT)
        && film(&of.film)
        && all(&[of.emissivity, of.emissivity_cure], &SHARE)
        && SOME.contains(&of.element_m2)
        && (1..=CELLS_MAX).contains(&cells)
        && all(&of.conduction_w_per_k, &SOME)
        && of.conduction_w_per_k.iter().take(cells.saturating_sub(1)).all(|link| *link > 0.0)
        && all(&of.cell_share, &SHARE)
        && used().all(|share| *share > 0.0)
        && WHOLE.contains(&used().sum())
}

fn class(of: &Class) -> bool {
    point(&of.slow) && point(&of.fast) && all(&[of.max.0, of.starts_at.0], &TEMPERATURE_C)
}

fn drive(of: &Settings) -> bool {
    let tuning = &of.tuning;
    GAIN_PER_K.contains(&tuning.gain_per_k)
        && all(&[tuning.integral_time_s, tuning.derivative_time_s], &LOOP_S)
        && all(&[of.minimum_on_s, of.minimum_off_s], &PULSE_S)
        && DIFFERENCE_K.contains(&of.sensor_budget.0)
}

fn limits(bake: &Bake) -> bool {
    let of = &bake.limits;
    TEMPERATURE_C.contains(&of.air_max.0)
        && TIME_S.contains(&of.bake_max_s)
        && TIME_S.contains(&of.door_open_max_s)
}

/// What [`Bake::faults`] does not look at, and numbers it would take for ones.
fn step(of: &Step) -> bool {
    match of {
        Step::Ramp(ramp) => {
            TEMPERATURE_C.contains(&ramp.to.0)
                && ramp.rate_k_per_min.is_none_or(|rate| AMOUNT.contains(&rate.0))
        }
        Step::Soak(soak) => {
            let times = [Some(soak.for_s), soak.give_up_after_s, soak.no_longer_than_s];
            all(&[soak.at_least.0, soak.at_most.0], &TEMPERATURE_C)
                && DIFFERENCE_K.contains(&soak.boost.0)
                && times.into_iter().flatten().all(|time| TIME_S.contains(&time))
        }
        Step::Cool(cool) => TEMPERATURE_C.contains(&cool.to.0),
        Step::LoadIn(load_in) => load_in.at.is_none_or(|at| TEMPERATURE_C.contains(&at.0)),
        Step::Check(_) => true,
        Step::Wait(wait) => TIME_S.contains(&wait.for_s),
    }
}
