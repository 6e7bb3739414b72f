//! What a window leaves once the oven is steady: the span of readings that keeps every part in it.
//!
//! The pair of bounds is run to its equilibrium with the reading held in the middle of the window;
//! capacities do not matter there, so they are shrunk and it takes minutes instead of hours. The reading
//! goes to and fro as its noise makes it: each side of the pair takes every change by the lag that is
//! worse for it, which takes a kelvin where the sensor is noisy.

use truesoak_core::bake::Soak;
use truesoak_core::bounds::model::{Model, Point};
use truesoak_core::bounds::{Bounds, Present, Second};
use truesoak_core::regulate::governor::aimed_at;
use truesoak_core::regulate::modulate::Modulator;
use truesoak_core::units::{Celsius, Kelvins, Reading};

/// Time constant capacities are shrunk to, s …
const SHRUNK_S: f32 = 40.0;
/// … and to for the span: the liner's is several times that, and walls not yet warm would narrow it.
const QUICK_S: f32 = 12.0;
/// Seconds to equilibrium.
const SETTLING_S: u32 = 450;
/// Seconds averaged afterwards.
const AVERAGED_S: u32 = 60;
/// Mean change between the means of two seconds' ten readings, by the deviation of one reading:
/// 2/√(10π) of a normal one.
const CHANGE_BY_NOISE: f32 = 0.357;

/// Span of readings that keeps every part in a window.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Span {
    /// Lowest, °C.
    pub lo_c: f64,
    /// Highest, °C.
    pub hi_c: f64,
    /// Of the window is kept clear of what a part stands, K.
    pub clear_k: f64,
}

impl Span {
    /// What is left of the window, K; negative when nothing is.
    #[must_use]
    pub fn width_k(&self) -> f64 {
        self.hi_c - self.lo_c
    }
}

/// The span of a soak for what hangs in it.
#[must_use]
pub fn span(model: &Model, soak: &Soak, present: Present, coated: bool) -> Span {
    let quick = shrunk(model, QUICK_S);
    let middle = Celsius(0.5 * (soak.at_least.0 + soak.at_most.0));
    let reading = Reading::from_celsius(middle).unwrap_or(Reading(0));
    let mut bounds = Bounds::start(&quick, reading, present, middle);
    bounds.set_coated(model, coated);
    let mut drive = Modulator::new(0.1, 0.1);
    let (mut below, mut above) = (0.0, 0.0);
    let noise_k = 0.5 * CHANGE_BY_NOISE * model.sensor.noise_k;
    for second in 0..SETTLING_S + AVERAGED_S {
        let duty = bounds.feed_forward(&quick, middle);
        let on_ticks = (0..10).filter(|_| drive.tick(duty)).count() as u8;
        let noise_k = if second.is_multiple_of(2) { noise_k } else { -noise_k };
        let reading = Reading::from_celsius(middle + Kelvins(noise_k)).unwrap_or(reading);
        bounds.second(&quick, &held_second(&quick, &bounds, reading, on_ticks));
        if second >= SETTLING_S
            && let (Some(coldest), Some(hottest)) = (bounds.coldest(), bounds.hottest())
        {
            below += f64::from((middle - coldest).0);
            above += f64::from((hottest - middle).0);
        }
    }
    let count = f64::from(AVERAGED_S);
    let aimed = aimed_at(*soak, bounds.part_max(model));
    Span {
        lo_c: f64::from(soak.at_least.0) + below / count,
        hi_c: f64::from(aimed.at_most.0) - above / count,
        clear_k: f64::from((soak.at_most - aimed.at_most).0),
    }
}

/// A second of a steady oven; the second sensor reads what it would beside the first.
fn held_second(model: &Model, bounds: &Bounds, reading: Reading, on_ticks: u8) -> Second {
    let reading_b = model.sensor_b.as_ref().and_then(|second| {
        let (first, liner) = (model.sensor.wall_view.middle(), bounds.nominal_liner().0);
        let air = (reading.to_celsius().0 - first * liner) / (1.0 - first);
        Reading::from_celsius(Celsius(air + second.wall_view.middle() * (liner - air)))
    });
    Second { reading: Some(reading), reading_b, on_ticks, ..Second::NOTHING }
}

/// The same oven with all its capacities so small that it settles within minutes.
fn shrunk(model: &Model, to_s: f32) -> Model {
    let mut quick = model.clone();
    let cabinet = &mut quick.cabinet;
    let out = cabinet.insulation_w_per_k.iter().copied().fold(f32::INFINITY, f32::min);
    cabinet.liner_j_per_k = cabinet.liner_j_per_k.min(to_s * cabinet.liner_m2 * 12.0);
    cabinet.insulation_j_per_k = cabinet.insulation_j_per_k.min(to_s * out);
    cabinet.skin_j_per_k = cabinet.skin_j_per_k.min(to_s * (out + cabinet.skin_w_per_k));
    let shrink = |point: &mut Point| {
        point.capacity_j_per_k = point.capacity_j_per_k.min(to_s * point.area_m2 * 12.0);
        point.cells = 1;
    };
    quick.rack.iter_mut().for_each(shrink);
    for class in &mut quick.classes {
        shrink(&mut class.slow);
        shrink(&mut class.fast);
    }
    quick
}

/// The nominal heater holds the air there.
#[must_use]
pub fn can_hold(model: &Model, air_c: f64) -> bool {
    holding_duty_at(model, air_c) < 1.0
}

/// Duty of the nominal heater that holds the air there; more than 1 where it cannot.
#[must_use]
pub fn holding_duty_at(model: &Model, air_c: f64) -> f64 {
    f64::from(holding_duty(&seeing_air_alone(model), Celsius(air_c as f32)))
}

/// Hottest the true air can be in a steady oven whose sensor reads this, °C.
#[must_use]
pub fn upper_air_c(model: &Model, reading_c: f64) -> f64 {
    let quick = shrunk(model, SHRUNK_S);
    let held = Celsius(reading_c as f32);
    let Some(reading) = Reading::from_celsius(held) else { return f64::INFINITY };
    let mut bounds = Bounds::start(&quick, reading, Present::NOTHING, held);
    let mut drive = Modulator::new(0.1, 0.1);
    for _ in 0..SETTLING_S {
        let duty = bounds.feed_forward(&quick, held);
        let on_ticks = (0..10).filter(|_| drive.tick(duty)).count() as u8;
        bounds.second(&quick, &held_second(&quick, &bounds, reading, on_ticks));
    }
    f64::from(bounds.upper_air().0)
}

fn seeing_air_alone(model: &Model) -> Model {
    let mut quick = shrunk(model, SHRUNK_S);
    quick.sensor.wall_view = truesoak_core::units::Span::exactly(0.0);
    quick.sensor_b = None;
    quick
}

/// Hottest air the nominal heater holds at full power, °C.
#[must_use]
pub fn balance_c(model: &Model) -> f64 {
    let quick = seeing_air_alone(model);
    let (mut low, mut high) = (model.ambient.0, 600.0_f32);
    // The liner of a steady oven follows its air, so the duty that holds an air is judged there.
    for _ in 0..12 {
        let middle = Celsius(0.5 * (low + high));
        if holding_duty(&quick, middle) < 1.0 {
            low = middle.0;
        } else {
            high = middle.0;
        }
    }
    f64::from(low)
}

fn holding_duty(model: &Model, air: Celsius) -> f32 {
    let Some(reading) = Reading::from_celsius(air) else { return f32::INFINITY };
    let mut bounds = Bounds::start(model, reading, Present::NOTHING, air);
    let mut drive = Modulator::new(0.1, 0.1);
    let mut duty = 0.0;
    for _ in 0..SETTLING_S {
        duty = bounds.holding_duty(model, air);
        let on_ticks = (0..10).filter(|_| drive.tick(duty)).count() as u8;
        bounds.second(model, &Second { reading: Some(reading), on_ticks, ..Second::NOTHING });
    }
    duty
}
