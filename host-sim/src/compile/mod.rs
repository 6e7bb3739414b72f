//! From oven, load and spread to the tables the board bounds its parts with.
//!
//! [`compile`] gives nominal conductances and capacities, and spans for everything uncertain:
//! calibration times `1 ± spread`. It adds no physics; the tables come from the same
//! [`mod@derive`] as the plant. It refuses only what the tables cannot hold.

pub mod check;
pub mod steady;
pub mod tuning;

use crate::files::load::{Load, Part};
use crate::files::oven::{self, Circulation, Oven, Spread};
use crate::plant;
use crate::plant::derive::{self, Derived, Points};
use crate::plant::fit::Fit;
use truesoak_core::bounds::model::{
    Air, CELLS_MAX, CLASSES_MAX, Cabinet, Class, Element, Film, Model, Point, Probe, Sensor,
};
use truesoak_core::regulate::Tuning;
use truesoak_core::tick::Settings;
use truesoak_core::units::{Celsius, Kelvins, Span};

/// Why there are no tables.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Refused {
    /// Too many kinds of parts.
    #[error("a load has at most {CLASSES_MAX} kinds of parts, this one has {0}")]
    Classes(usize),
    /// A value the tables would need is not a finite positive number.
    #[error("{0} is not a positive number after derivation; check sizes, masses and materials")]
    NotPositive(&'static str),
}

/// Makes the board's tables.
///
/// # Errors
/// When the load has too many kinds of parts, or a derived capacity or area is not positive.
pub fn compile(oven: &Oven, load: &Load) -> Result<Model, Refused> {
    compile_derived(oven, load, &derive::derive(oven, load))
}

/// The same from what was derived already.
fn compile_derived(oven: &Oven, load: &Load, derived: &Derived) -> Result<Model, Refused> {
    let (calibration, spread) = (&oven.calibration, &oven.spread);
    let air = Air {
        capacity_j_per_k: derived.air.capacity_j_per_k as f32,
        leak_w_per_k: derived.air.leak_w_per_k as f32,
        stopped_fan: derived.air.stopped_fan as f32,
        airflow_proof: matches!(oven.circulation, Circulation::Fan { proof: true, .. }),
        cold_spot_k: spread.cold_spot_k as f32,
        hot_spot_k: spread.hot_spot_k as f32,
    };
    let mut model = Model {
        ambient: celsius(derived.ambient_c),
        sensor: air_sensor(&oven.sensor, spread),
        sensor_b: oven.sensor_b.as_ref().map(|sensor| air_sensor(sensor, spread)),
        probe: probe(oven, load),
        element: Element {
            power_w: derived.element.power_w as f32,
            power: scaled(calibration.heater_power, spread.heater_power),
            capacity_j_per_k: derived.element.capacity_j_per_k as f32,
            convection_w_per_k: derived.element.convection_w_per_k as f32,
            radiation_m2: derived.element.radiation_m2 as f32,
            radiant_share: share(derived.element.radiant_share, spread.radiant_share),
        },
        cabinet: cabinet(oven, derived, &air),
        air,
        exchange: scaled(calibration.part_exchange, spread.part_exchange),
        rack: derived.rack.as_ref().map(|rack| point(rack, &air)),
        rack_starts_at: celsius(
            load.rack.as_ref().map_or(derived.ambient_c, |rack| rack.starts_at_c),
        ),
        classes: heapless::Vec::new(),
    };
    for (part, points) in load.parts.iter().zip(&derived.parts) {
        if model.classes.push(class(part, points, &air)).is_err() {
            return Err(Refused::Classes(load.parts.len()));
        }
    }
    check(&model)?;
    Ok(model)
}

fn air_sensor(sensor: &oven::Sensor, spread: &Spread) -> Sensor {
    Sensor {
        lag_s: scaled(sensor.lag_s, spread.sensor_lag),
        wall_view: share(sensor.wall_view, spread.wall_view),
        offset_k: spread.sensor_offset_k as f32,
        resolution_k: sensor.resolution_k as f32,
        noise_k: sensor.noise_k as f32,
    }
}

/// The probe, where a part of the load carries it.
fn probe(oven: &Oven, load: &Load) -> Option<Probe> {
    let class = load.parts.iter().position(|part| part.probe)?;
    Some(Probe {
        class: u8::try_from(class).ok()?,
        lag_s: scaled(oven.probe.lag_s, oven.spread.sensor_lag),
        offset_k: oven.probe.offset_k as f32,
        resolution_k: oven.probe.resolution_k as f32,
        noise_k: oven.probe.noise_k as f32,
    })
}

fn cabinet(oven: &Oven, derived: &Derived, air: &Air) -> Cabinet {
    let from = &derived.cabinet;
    let (calibration, spread) = (&oven.calibration, &oven.spread);
    Cabinet {
        liner_m2: from.liner_m2 as f32,
        liner_film: stirred(film(&from.liner_film, air), calibration.liner_exchange),
        liner_j_per_k: from.liner_j_per_k as f32,
        insulation_j_per_k: from.insulation_j_per_k as f32,
        skin_j_per_k: from.skin_j_per_k as f32,
        capacity: scaled(calibration.wall_heat_capacity, spread.wall_heat_capacity),
        insulation_w_per_k: from.insulation_w_per_k.map(|conductance| conductance as f32),
        losses: scaled(calibration.losses, spread.losses),
        skin_w_per_k: from.skin_w_per_k as f32,
        doorway_m2: from.doorway_m2 as f32,
    }
}

fn class(part: &Part, points: &Points, air: &Air) -> Class {
    Class {
        slow: point(&points.slow, air),
        fast: point(&points.fast, air),
        max: celsius(part.max_c),
        starts_at: celsius(part.starts_at_c),
        gas_out: part.gas_out,
    }
}

fn point(from: &derive::Point, air: &Air) -> Point {
    let mut conduction_w_per_k = [0.0; CELLS_MAX - 1];
    let mut cell_share = [0.0; CELLS_MAX];
    for (link, cell) in conduction_w_per_k.iter_mut().zip(&from.cells) {
        *link = cell.inward_w_per_k as f32;
    }
    for (share, cell) in cell_share.iter_mut().zip(&from.cells) {
        *share = cell.share as f32;
    }
    Point {
        area_m2: from.area_m2 as f32,
        capacity_j_per_k: from.capacity_j_per_k as f32,
        film: film(&from.film, air),
        emissivity: from.emissivity as f32,
        emissivity_cure: from.emissivity_cure as f32,
        element_m2: from.element_m2 as f32,
        cells: from.cells.len().clamp(1, CELLS_MAX) as u8,
        conduction_w_per_k,
        cell_share,
    }
}

/// What lies between the points of the fit's grid, as a share of the law (measured in the fit's
/// own tests: 0.2 %).
const BETWEEN_GRID: f64 = 0.002;

fn film(law: &plant::convection::Film, air: &Air) -> Film {
    let fit = Fit::of(law, air);
    Film {
        constant: fit.constant as f32,
        quarter: fit.quarter as f32,
        law: Span {
            low: (fit.least - BETWEEN_GRID) as f32,
            high: (fit.greatest + BETWEEN_GRID) as f32,
        },
    }
}

fn stirred(film: Film, factor: f64) -> Film {
    let factor = factor as f32;
    Film { constant: film.constant * factor, quarter: film.quarter * factor, ..film }
}

fn celsius(value_c: f64) -> Celsius {
    Celsius(value_c as f32)
}

/// Nominal times `1 ± fraction`.
fn scaled(nominal: f64, fraction: f64) -> Span {
    Span {
        low: (nominal * (1.0 - fraction)).max(0.0) as f32,
        high: (nominal * (1.0 + fraction)) as f32,
    }
}

/// A share ± itself, inside 0..1.
fn share(nominal: f64, off: f64) -> Span {
    Span {
        low: (nominal - off).clamp(0.0, 1.0) as f32,
        high: (nominal + off).clamp(0.0, 1.0) as f32,
    }
}

fn check(model: &Model) -> Result<(), Refused> {
    let point_ok = |point: &Point| {
        positive(point.area_m2) && positive(point.capacity_j_per_k) && positive_film(&point.film)
    };
    let needed = [
        (positive(model.element.capacity_j_per_k), "the heater's heat capacity"),
        (positive(model.element.convection_w_per_k), "the heater's convection"),
        (positive(model.element.power_w), "the heater's power"),
        (positive(model.cabinet.liner_m2), "the liner's area"),
        (positive(model.cabinet.liner_j_per_k), "the liner's heat capacity"),
        (positive(model.cabinet.insulation_j_per_k), "the insulation's heat capacity"),
        (positive(model.cabinet.skin_j_per_k), "the skin's heat capacity"),
        (model.cabinet.insulation_w_per_k.iter().copied().all(positive), "the insulation"),
        (positive(model.air.capacity_j_per_k), "the air's heat capacity"),
        (positive(model.cabinet.capacity.low), "the least heat capacity of the walls"),
        (positive(model.exchange.low), "the least exchange of the parts"),
        (model.rack.iter().all(point_ok), "the rack's area or heat capacity"),
        (
            model.classes.iter().all(|class| point_ok(&class.slow) && point_ok(&class.fast)),
            "a part's area or heat capacity",
        ),
    ];
    needed
        .iter()
        .find(|(good, _)| !good)
        .map_or(Ok(()), |(_, what)| Err(Refused::NotPositive(what)))
}

fn positive(value: f32) -> bool {
    value.is_finite() && value > 0.0
}

fn positive_film(film: &Film) -> bool {
    positive(film.constant + film.quarter) && positive(film.law.low)
}

/// What the board is fitted with, from its oven and the gains of its air loop.
#[must_use]
pub fn settings(oven: &Oven, tuning: Tuning) -> Settings {
    let spread = &oven.spread;
    Settings {
        tuning,
        minimum_on_s: oven.drive.minimum_on_s as f32,
        minimum_off_s: oven.drive.minimum_off_s as f32,
        // Each sensor may be off by its offset, and the two may hang in different air.
        sensor_budget: Kelvins(
            (2.0 * spread.sensor_offset_k + spread.cold_spot_k + spread.hot_spot_k) as f32,
        ),
        fan: matches!(oven.circulation, Circulation::Fan { .. }),
        is_virtual: true,
    }
}

/// A digest of the tables, to tell whether two bakes ran with the same: CRC-32 of every value.
#[must_use]
pub fn digest(model: &Model) -> String {
    // The debug form names and writes every value exactly; nothing else is read from it.
    let crc = crc::Crc::<u32>::new(&crc::CRC_32_ISO_HDLC);
    format!("crc32:{:08x}", crc.checksum(format!("{model:?}").as_bytes()))
}
