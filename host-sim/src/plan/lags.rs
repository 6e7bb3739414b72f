//! How quickly each part follows the oven, over the whole spread.
//!
//! A lag is the mean delay of a step (Elmore 1948): of a lump its time constant, of a chain of cells
//! every cell's capacity times the resistance its heat shares with the cell that is looked at.

use crate::files::Setup;
use crate::plant::ZERO_CELSIUS_K;
use crate::plant::radiation::STEFAN_BOLTZMANN;
use truesoak_core::bake::{Purpose, Step};
use truesoak_core::bounds::model::{Model, Point, Warmth};

/// Air above a part that is nearly there, K: what its film is judged at.
const NEARLY_K: f64 = 10.0;

/// Lags of one kind of part, s.
#[derive(Clone, Debug, PartialEq)]
pub struct Lag {
    /// Name.
    pub part: String,
    /// Greatest lag of its slowest point: its middle, least exchange.
    pub coldest_s: f64,
    /// Least lag of its fastest point: its surface, greatest exchange.
    pub hottest_s: f64,
}

/// Lags in the first soak a part is in, in the order of the load.
pub(super) fn of(setup: &Setup, model: &Model) -> Vec<Lag> {
    let soaks = || {
        setup.bake.bake.steps.iter().filter_map(|step| match step {
            Step::Soak(soak) => Some(soak),
            _ => None,
        })
    };
    let each = setup.load.parts.iter().zip(&model.classes);
    each.map(|(part, class)| {
        let soak = soaks().find(|soak| part.gas_out || soak.purpose != Purpose::GasOut);
        let at_c = soak.map_or(0.0, |soak| f64::from(soak.at_least.0));
        let coated = soak.is_some_and(|soak| soak.purpose == Purpose::Cure);
        let exchange = model.exchange;
        let lag_s = |point: &Point, factor: f32, law: f32, cell: usize| {
            let warmth = model.air.warmth(at_c as f32);
            let around = surface_w_per_k(point, at_c, coated, (warmth, law));
            delay_s(point, f64::from(factor) * around, cell)
        };
        let middle = usize::from(class.slow.cells).max(1) - 1;
        Lag {
            part: part.name.clone(),
            coldest_s: lag_s(&class.slow, exchange.low, class.slow.film.law.low, middle),
            hottest_s: lag_s(&class.fast, exchange.high, class.fast.film.law.high, 0),
        }
    })
    .collect()
}

/// Convection and radiation to what surrounds a part, W/K.
fn surface_w_per_k(point: &Point, at_c: f64, coated: bool, (warmth, law): (Warmth, f32)) -> f64 {
    let kelvin = at_c + ZERO_CELSIUS_K;
    let root = libm::sqrt(libm::sqrt(NEARLY_K)) as f32;
    let film = f64::from(law * point.film.coefficient(warmth, root));
    let emissivity = f64::from(if coated { point.emissivity_cure } else { point.emissivity });
    let radiated = emissivity * 4.0 * STEFAN_BOLTZMANN * kelvin * kelvin * kelvin;
    f64::from(point.area_m2) * (film + radiated)
}

/// Mean delay of a cell behind a step around its part, s.
fn delay_s(point: &Point, around_w_per_k: f64, cell: usize) -> f64 {
    let cells = usize::from(point.cells).max(1);
    let capacity = f64::from(point.capacity_j_per_k);
    let mut resistance_k_per_w = 1.0 / around_w_per_k;
    let mut delay_s = 0.0;
    for (index, share) in point.cell_share.iter().take(cells).enumerate() {
        let share = if cells == 1 { 1.0 } else { f64::from(*share) };
        delay_s += share * capacity * resistance_k_per_w;
        if index < cell {
            resistance_k_per_w += 1.0 / f64::from(point.conduction_w_per_k[index]);
        }
    }
    delay_s
}

#[cfg(test)]
mod tests {
    use super::*;
    use truesoak_core::bounds::model::Film;
    use truesoak_core::units::Span;

    fn chain(cells: u8, cell_share: [f32; 4]) -> Point {
        Point {
            area_m2: 0.02,
            capacity_j_per_k: 400.0,
            film: Film { constant: 8.0, quarter: 0.0, law: Span::exactly(1.0) },
            emissivity: 0.0,
            emissivity_cure: 0.0,
            element_m2: 0.0,
            cells,
            conduction_w_per_k: [0.9, 0.6, 0.3],
            cell_share,
        }
    }

    #[test]
    fn the_lag_of_a_lump_is_its_time_constant() {
        let lump = chain(1, [1.0, 0.0, 0.0, 0.0]);
        assert!((delay_s(&lump, 0.16, 0) - 2_500.0).abs() < 1e-3);
    }

    /// The mean delay of a step is the area between the step and its answer.
    #[test]
    fn the_lag_of_a_chain_is_the_area_above_its_answer_to_a_step() {
        let point = chain(4, [0.3, 0.3, 0.25, 0.15]);
        let around = 0.4;
        let (mut now, mut area) = ([0.0_f64; 4], [0.0_f64; 4]);
        let dt_s = 0.5;
        for _ in 0..80_000 {
            let mut flows = [0.0; 5];
            flows[0] = around * (1.0 - now[0]);
            for link in 0..3 {
                flows[link + 1] =
                    f64::from(point.conduction_w_per_k[link]) * (now[link] - now[link + 1]);
            }
            for cell in 0..4 {
                area[cell] += (1.0 - now[cell]) * dt_s;
                let capacity = f64::from(point.cell_share[cell] * point.capacity_j_per_k);
                now[cell] += (flows[cell] - flows[cell + 1]) / capacity * dt_s;
            }
        }
        for (cell, area_s) in area.into_iter().enumerate() {
            let lag_s = delay_s(&point, around, cell);
            assert!((lag_s - area_s).abs() < 1.0, "cell {cell}: {lag_s} s, {area_s} s by steps");
        }
    }
}
