//! An oven's tables linearised: how the air and the reading answer a small change of duty.
//!
//! Every node of the tables is there: element, air, liner, insulation, skin, rack and both points
//! of every part, cells included. Where each of them is when the air is as hot as it is to be, is
//! the state the slopes are taken at: at rest, or on the way up. Nothing is refused: nonsense gives
//! nonsense.

pub use super::place::Stage;
use super::place::{Place, cube};
use truesoak_core::bounds::Present;
use truesoak_core::bounds::model::{Cabinet, INSULATION_CELLS, Model, Point};
use truesoak_core::units::{STEFAN_BOLTZMANN, Span};

/// The moment an oven is linearised at.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Moment {
    /// Air, °C.
    pub air_c: f64,
    /// What walls and element went through.
    pub stage: Stage,
    /// What is inside.
    pub present: Present,
    /// Factor on all films: less than 1 when a fan has stopped.
    pub fan: f64,
}

/// What is not known, as shares 0..1 of its span.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Corner {
    /// Heater power.
    pub power: f64,
    /// Radiant share of the element.
    pub radiant_share: f64,
    /// Exchange of liner, rack and parts.
    pub exchange: f64,
    /// Sensor's lag.
    pub sensor_lag: f64,
    /// Share of the wall the sensor sees.
    pub wall_view: f64,
    /// Losses.
    pub losses: f64,
    /// Heat capacity of the walls.
    pub capacity: f64,
}

impl Corner {
    /// The middle of everything.
    pub const NOMINAL: Self = Self {
        power: 0.5,
        radiant_share: 0.5,
        exchange: 0.5,
        sensor_lag: 0.5,
        wall_view: 0.5,
        losses: 0.5,
        capacity: 0.5,
    };
}

/// Heat exchanged by two nodes: it rises by one slope with the first and falls by the other with
/// the second, W/K.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Exchange {
    /// Slope by the first.
    pub first: f64,
    /// Slope by the second.
    pub second: f64,
}

/// Rack, or a point of a part.
#[derive(Clone, Debug, PartialEq)]
pub struct Body {
    /// Air to surface, W/K.
    pub air: f64,
    /// Liner to surface.
    pub liner: Exchange,
    /// Element to surface.
    pub element: Exchange,
    /// Heat capacity, J/K, and conductance inward, W/K, of each cell, surface first.
    pub cells: Vec<(f64, f64)>,
}

/// A linearised oven.
#[derive(Clone, Debug, PartialEq)]
pub struct Linear {
    /// Heater at full duty, W.
    pub power_w: f64,
    /// Heat capacity of the element, J/K.
    pub element_j_per_k: f64,
    /// Element to air, W/K.
    pub convection: f64,
    /// Element to liner.
    pub radiation: Exchange,
    /// Heat capacity of the air, J/K.
    pub air_j_per_k: f64,
    /// Air to room, W/K.
    pub leak: f64,
    /// Air to liner, W/K.
    pub liner_film: f64,
    /// Liner, insulation and skin outwards: heat capacity, J/K, and conductance outwards, W/K.
    pub shell: Vec<(f64, f64)>,
    /// What is inside.
    pub bodies: Vec<Body>,
    /// Sensor's lag, s.
    pub sensor_lag_s: f64,
    /// Share of the liner the sensor sees.
    pub wall_view: f64,
}

impl Linear {
    /// Of the tables, at a moment and a corner of what is not known.
    #[must_use]
    pub fn of(model: &Model, moment: &Moment, corner: &Corner) -> Self {
        let cabinet = &model.cabinet;
        let place = Place::of(model, moment, corner);
        Self {
            power_w: place.power_w,
            element_j_per_k: f64::from(model.element.capacity_j_per_k),
            convection: place.convection,
            radiation: radiated(place.sigma_m2, place.element_k, place.liner_k),
            air_j_per_k: f64::from(model.air.capacity_j_per_k),
            leak: place.leak,
            liner_film: place.film(&cabinet.liner_film, place.liner_k)
                * f64::from(cabinet.liner_m2),
            shell: shell(cabinet, pick(cabinet.capacity, corner.capacity), place.losses),
            bodies: bodies(model, moment, &place),
            sensor_lag_s: pick(model.sensor.lag_s, corner.sensor_lag),
            wall_view: pick(model.sensor.wall_view, corner.wall_view),
        }
    }
}

fn bodies(model: &Model, moment: &Moment, place: &Place) -> Vec<Body> {
    let present = moment.present;
    let rack = model.rack.iter().filter(|_| present.rack);
    let classes = model.classes.iter().enumerate().filter(|(index, _)| present.has(*index));
    let points = classes.flat_map(|(_, class)| [&class.slow, &class.fast]);
    rack.chain(points).map(|point| body(point, place)).collect()
}

fn body(point: &Point, place: &Place) -> Body {
    let sigma = place.exchange * f64::from(STEFAN_BOLTZMANN);
    let (liner_k, surface_k) = (place.liner_k, place.bodies_k);
    let inward = point.conduction_w_per_k.iter().copied().chain([0.0]);
    let cells = point.cell_share.iter().zip(inward).take(usize::from(point.cells).max(1));
    Body {
        air: place.film(&point.film, surface_k) * f64::from(point.area_m2),
        liner: radiated(sigma * f64::from(point.emissivity * point.area_m2), liner_k, surface_k),
        element: radiated(sigma * f64::from(point.element_m2), place.element_k, surface_k),
        cells: cells
            .map(|(share, inward)| (f64::from(share * point.capacity_j_per_k), f64::from(inward)))
            .collect(),
    }
}

/// Liner, insulation and skin, each with what carries heat on outwards.
fn shell(cabinet: &Cabinet, capacity: f64, losses: f64) -> Vec<(f64, f64)> {
    let cells = [cabinet.insulation_j_per_k; INSULATION_CELLS];
    let capacities = [cabinet.liner_j_per_k].into_iter().chain(cells).chain([cabinet.skin_j_per_k]);
    let outwards = cabinet.insulation_w_per_k.iter().map(|one| losses * f64::from(*one));
    capacities
        .map(|one| capacity * f64::from(one))
        .zip(outwards.chain([f64::from(cabinet.skin_w_per_k)]))
        .collect()
}

/// Slopes of σ·A·(Ta⁴ − Tb⁴), σ·A given.
fn radiated(sigma_m2: f64, first_k: f64, second_k: f64) -> Exchange {
    Exchange { first: 4.0 * sigma_m2 * cube(first_k), second: 4.0 * sigma_m2 * cube(second_k) }
}

/// A span's value at a share of it.
pub(super) fn pick(span: Span, at: f64) -> f64 {
    f64::from(span.low) + at * f64::from(span.high - span.low)
}
