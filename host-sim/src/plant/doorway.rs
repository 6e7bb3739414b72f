//! Two-way exchange of air through an open doorway.
//!
//! Q = (C_d/3) W H √(g H ΔT/T̄) each way, from Bernoulli over half the height of a rectangular
//! opening (Brown and Solvason 1962, from memory); good to ±30 % through C_d. It holds while the
//! cabinet is full of warm air; afterwards the liner and rack feed it. Nothing flows when the
//! cabinet is not the warmer.

use super::GRAVITY_M_PER_S2;

/// Standard atmosphere, Pa.
pub const PRESSURE_PA: f64 = 101_325.0;
/// Gas constant of dry air, J/(kg K).
pub const GAS_CONSTANT_J_PER_KG_K: f64 = 287.05;

/// A doorway to the room.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Doorway {
    /// Width, m.
    pub width_m: f64,
    /// Height, m.
    pub height_m: f64,
    /// Discharge coefficient, 0.4–0.65 (common range, from memory).
    pub discharge: f64,
    /// Specific heat of the air that passes, J/(kg K).
    pub specific_heat_j_per_kg_k: f64,
}

impl Doorway {
    /// The part of the law that temperatures do not touch: q = factor · ΔT^1.5 / T̄^1.5.
    pub(super) fn factor(&self) -> f64 {
        let density_k = PRESSURE_PA / GAS_CONSTANT_J_PER_KG_K;
        density_k * self.specific_heat_j_per_kg_k * self.discharge / 3.0
            * self.width_m
            * self.height_m
            * libm::sqrt(GRAVITY_M_PER_S2 * self.height_m)
    }

    /// Heat carried out, W; temperatures in K.
    #[must_use]
    pub fn flow_w(&self, inside_k: f64, outside_k: f64) -> f64 {
        flow_and_slopes(self.factor(), inside_k, outside_k).0
    }
}

/// Flow and its derivatives by inside and outside temperature.
#[inline]
pub(super) fn flow_and_slopes(factor: f64, inside_k: f64, outside_k: f64) -> (f64, f64, f64) {
    let difference = inside_k - outside_k;
    let mean = 0.5 * (inside_k + outside_k);
    // WHY: the law has a kink at zero; the comparison also stops a not-a-number.
    if difference > 0.0 && mean > 0.0 {
        let root = factor * libm::sqrt(difference / mean) / mean;
        let flow = root * difference;
        let by_mean = -0.75 * flow / mean;
        (flow, 1.5 * root + by_mean, -1.5 * root + by_mean)
    } else {
        (0.0, 0.0, 0.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn door(width_m: f64, height_m: f64) -> Doorway {
        Doorway { width_m, height_m, discharge: 0.6, specific_heat_j_per_kg_k: 1_009.0 }
    }

    /// The same law integrated numerically over the height (check values, section 7).
    #[test]
    fn flows_agree_with_an_integral_over_the_height() {
        let first = door(0.3, 0.3).flow_w(423.15, 293.15);
        assert!((first / 2_404.702_156_861_986 - 1.0).abs() < 1e-9, "{first}");
        for (size, inside_c, watts) in
            [((0.4, 0.45), 150.0, 5_890.3), ((0.6, 0.8), 200.0, 30_837.7)]
        {
            let flow = door(size.0, size.1).flow_w(inside_c + 273.15, 293.15);
            assert!((flow / watts - 1.0).abs() < 1e-5, "{flow} against {watts}");
        }
    }

    #[test]
    fn nothing_flows_into_a_cold_cabinet() {
        assert!(door(0.4, 0.4).flow_w(280.0, 293.15).abs() < 1e-30);
        assert!(door(0.4, 0.4).flow_w(f64::NAN, 293.15).abs() < 1e-30);
    }

    #[test]
    fn slopes_are_those_of_the_flow() {
        let factor = door(0.4, 0.5).factor();
        let step = 1e-4;
        let (_, inside, outside) = flow_and_slopes(factor, 400.0, 300.0);
        let flow = |a, b| flow_and_slopes(factor, a, b).0;
        let by_inside = (flow(400.0 + step, 300.0) - flow(400.0 - step, 300.0)) / (2.0 * step);
        let by_outside = (flow(400.0, 300.0 + step) - flow(400.0, 300.0 - step)) / (2.0 * step);
        assert!((inside / by_inside - 1.0).abs() < 1e-6);
        assert!((outside / by_outside - 1.0).abs() < 1e-6);
    }
}
