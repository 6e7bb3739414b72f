//! Where element, liner and parts are while the air is as hot as it is to be: from there come the
//! slopes of films and radiation.

use super::linear::{Corner, Moment, pick};
use truesoak_core::bounds::model::{Film, Model, Warmth};
use truesoak_core::units::{STEFAN_BOLTZMANN, ZERO_CELSIUS_K};

/// Rack and parts are so far behind the air of an oven at rest, K.
const BODIES_AT_REST_K: f64 = 1.0;
/// A liner at rest is not further above the air than this, K …
const LINER_ABOVE_K: f64 = 150.0;
/// … nor further below.
const LINER_BELOW_K: f64 = 300.0;
/// Halvings of that interval: to a thousandth of a kelvin.
const HALVINGS: usize = 19;
/// Rounds of Newton's method for the element; from the hot side each leaves at most a quarter.
const ROUNDS: usize = 8;

/// What walls and element went through.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Stage {
    /// Held for hours: what the liner takes from air and element goes out through the insulation.
    Rest,
    /// On the way up.
    Rising {
        /// Liner, rack and parts are so far behind the air, K.
        behind_k: f64,
        /// The element is as hot as this duty keeps it.
        duty: f64,
    },
}

/// Temperatures, and what of the tables they follow from.
pub(super) struct Place {
    /// Heater at full duty, W.
    pub(super) power_w: f64,
    /// Element to air, W/K.
    pub(super) convection: f64,
    /// Element to liner: σ times exchange area, W/K⁴.
    pub(super) sigma_m2: f64,
    /// Factor on all exchange areas.
    pub(super) exchange: f64,
    /// Factor on all films.
    pub(super) films: f64,
    /// Share of the span of a film's fit: a film weaker than told is one weaker than its fit too.
    law: f64,
    warmth: Warmth,
    /// Factor on the insulation.
    pub(super) losses: f64,
    /// Air to room, W/K.
    pub(super) leak: f64,
    air_k: f64,
    pub(super) liner_k: f64,
    pub(super) bodies_k: f64,
    pub(super) element_k: f64,
}

impl Place {
    pub(super) fn of(model: &Model, moment: &Moment, corner: &Corner) -> Self {
        let element = &model.element;
        let share = pick(element.radiant_share, corner.radiant_share);
        let area_m2 = share * f64::from(element.radiation_m2);
        let losses = pick(model.cabinet.losses, corner.losses);
        let air_k = moment.air_c + f64::from(ZERO_CELSIUS_K);
        let exchange = pick(model.exchange, corner.exchange);
        let mut place = Self {
            power_w: f64::from(element.power_w) * pick(element.power, corner.power),
            convection: moment.fan * (1.0 - share) * f64::from(element.convection_w_per_k),
            sigma_m2: area_m2 * f64::from(STEFAN_BOLTZMANN),
            exchange,
            films: exchange * moment.fan,
            law: corner.exchange,
            warmth: model.air.warmth(moment.air_c as f32),
            losses,
            leak: losses * f64::from(model.air.leak_w_per_k),
            air_k,
            liner_k: air_k,
            bodies_k: air_k,
            element_k: air_k,
        };
        match moment.stage {
            Stage::Rest => place.rest(model),
            Stage::Rising { behind_k, duty } => place.rise(behind_k, duty),
        }
        place
    }

    /// Slope of the film on a square metre of liner, rack or part, W/K.
    pub(super) fn film(&self, film: &Film, surface_k: f64) -> f64 {
        // d/dx of x^(5/4) is 5/4·x^(1/4).
        let root = 1.25 * fourth_root(self.air_k - surface_k);
        self.films * pick(film.law, self.law) * self.coefficient(film, root)
    }

    /// By the fit, with this fourth root, W/(m² K).
    fn coefficient(&self, film: &Film, root: f64) -> f64 {
        f64::from(self.warmth.constant) * f64::from(film.constant)
            + root * f64::from(self.warmth.quarter) * f64::from(film.quarter)
    }

    fn rest(&mut self, model: &Model) {
        let (cabinet, room_k) = (&model.cabinet, f64::from(model.ambient.0 + ZERO_CELSIUS_K));
        let outwards = cabinet.insulation_w_per_k.iter().map(|one| self.losses * f64::from(*one));
        let resistance: f64 =
            outwards.chain([f64::from(cabinet.skin_w_per_k)]).map(f64::recip).sum();
        let film = &cabinet.liner_film;
        let film_w_per_k = self.films * pick(film.law, self.law) * f64::from(cabinet.liner_m2);
        let (mut above, mut below) = (-LINER_ABOVE_K, LINER_BELOW_K);
        for _ in 0..HALVINGS {
            let behind_k = 0.5 * (above + below);
            let coefficient = self.coefficient(film, fourth_root(behind_k));
            let from_air_w = film_w_per_k * coefficient * behind_k;
            let leaked_w = self.leak * (self.air_k - room_k);
            self.liner_k = self.air_k - behind_k;
            self.element_k = self.air_k + (from_air_w + leaked_w) / self.convection;
            let radiated_w = self.sigma_m2 * (fourth(self.element_k) - fourth(self.liner_k));
            if from_air_w + radiated_w < (self.liner_k - room_k) / resistance {
                above = behind_k;
            } else {
                below = behind_k;
            }
        }
        self.element_k = self.element_k.max(self.air_k);
        self.bodies_k = self.air_k - BODIES_AT_REST_K;
    }

    fn rise(&mut self, behind_k: f64, duty: f64) {
        self.liner_k = self.air_k - behind_k;
        self.bodies_k = self.liner_k;
        let heat_w = duty * self.power_w;
        // Without any radiation: not colder than the root, from where each round comes down to it.
        self.element_k = self.air_k + heat_w / self.convection;
        for _ in 0..ROUNDS {
            let left_w = self.convection * (self.element_k - self.air_k)
                + self.sigma_m2 * (fourth(self.element_k) - fourth(self.liner_k));
            let slope = self.convection + 4.0 * self.sigma_m2 * cube(self.element_k);
            self.element_k -= (left_w - heat_w) / slope;
        }
    }
}

/// |x|^(1/4).
fn fourth_root(x: f64) -> f64 {
    libm::sqrt(libm::sqrt(x.abs()))
}

pub(super) fn cube(kelvin: f64) -> f64 {
    kelvin * kelvin * kelvin
}

fn fourth(kelvin: f64) -> f64 {
    kelvin * cube(kelvin)
}
