//! Radiation between grey, diffuse surfaces.
//!
//! Two surfaces that see only each other, the first convex: any heat-transfer text, for instance
//! Incropera, chapter 13. Everything is reduced to an *exchange area*: q = σ·A·(T₁⁴ − T₂⁴).

/// Stefan–Boltzmann constant, W/(m² K⁴) (CODATA 2018).
pub const STEFAN_BOLTZMANN: f64 = 5.670_374_419e-8;

/// Exchange area of a convex body inside an enclosure, m². With an enclosure much the larger this
/// is `emissivity · area_m2`: the small grey body.
#[must_use]
pub fn enclosed_m2(
    area_m2: f64,
    emissivity: f64,
    enclosure_m2: f64,
    enclosure_emissivity: f64,
) -> f64 {
    area_m2 * enclosed_emissivity(emissivity, area_m2 / enclosure_m2, enclosure_emissivity)
}

/// Effective emissivity of a convex body that fills `area_ratio` of its enclosure's area.
#[must_use]
pub fn enclosed_emissivity(emissivity: f64, area_ratio: f64, enclosure_emissivity: f64) -> f64 {
    1.0 / (1.0 / emissivity + area_ratio * (1.0 / enclosure_emissivity - 1.0))
}

/// Exchange area of two surfaces of which the first sees the second with `view`, m².
#[must_use]
pub fn between_m2(
    area_a_m2: f64,
    emissivity_a: f64,
    view: f64,
    area_b_m2: f64,
    emissivity_b: f64,
) -> f64 {
    1.0 / ((1.0 - emissivity_a) / (emissivity_a * area_a_m2)
        + 1.0 / (area_a_m2 * view)
        + (1.0 - emissivity_b) / (emissivity_b * area_b_m2))
}

/// Net flow from a to b over an exchange area, W; temperatures in K.
#[must_use]
pub fn flow_w(exchange_m2: f64, a_k: f64, b_k: f64) -> f64 {
    STEFAN_BOLTZMANN * exchange_m2 * (a_k * a_k * a_k * a_k - b_k * b_k * b_k * b_k)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn close(value: f64, expected: f64) {
        assert!((value / expected - 1.0).abs() < 1e-9, "{value} against {expected}");
    }

    /// Closed forms evaluated apart with SciPy's constants (check values, section 6).
    #[test]
    fn enclosures_agree_with_their_closed_forms() {
        close(flow_w(enclosed_m2(1.0, 0.8, 1.0, 0.3), 500.0, 300.0), 860.841_957_818_845_2);
        let part = enclosed_m2(0.10, 0.85, 1.05, 0.30);
        close(flow_w(part, 422.15, 293.15), 98.812_959_792_869_31);
        close(flow_w(0.10 * 0.85, 422.15, 293.15), 117.477_629_975_966_85);
        let area = 2.0 * core::f64::consts::PI * 0.4;
        let tubes = enclosed_m2(area * 0.01, 0.9, area * 0.05, 0.5);
        close(flow_w(tubes, 900.0, 420.0), 679.329_275_222_681_3);
    }

    #[test]
    fn two_surfaces_that_see_only_each_other_are_the_enclosure() {
        close(between_m2(0.04, 0.9, 1.0, 1.05, 0.3), enclosed_m2(0.04, 0.9, 1.05, 0.3));
    }
}
