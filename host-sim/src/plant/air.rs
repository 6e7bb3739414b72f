//! Dry air at 1 atm: density, specific heat, viscosity, conductivity and what follows from them.
//!
//! Tabulated 200–1,800 K and read with a cubic through four neighbours; outside that range the
//! last value holds, so that a runaway element cannot drive a property negative. Humidity is
//! ignored: at the few volume percent an oven's air can carry it moves these by less than 2 %
//! (GUESS), far inside the scatter of the correlations that use them.

use std::sync::LazyLock;

/// Coldest tabulated temperature, K.
pub const COLDEST_K: f64 = 200.0;
/// Hottest tabulated temperature, K.
pub const HOTTEST_K: f64 = 1_800.0;
/// Spacing of the fine table, K.
const FINE_K: f64 = 1.0;
/// Rows of the fine table.
const FINE_ROWS: usize = ((HOTTEST_K - COLDEST_K) / FINE_K) as usize;

/// T in K, ρ in kg/m³, c_p in J/(kg K), μ in 10⁻⁶ Pa s, k in 10⁻³ W/(m K) at 101,325 Pa.
///
/// REF: computed with CoolProp 8.0.0, fluid "Air" (Lemmon, Jacobsen, Penoncello and Friend 2000;
/// transport by Lemmon and Jacobsen 2004). Range of that formulation: 60–2,000 K.
const TABLE: [[f64; 5]; 45] = [
    [200.0, 1.76917, 1_006.80, 13.3335, 18.5028],
    [225.0, 1.57123, 1_005.87, 14.7142, 20.5666],
    [250.0, 1.41331, 1_005.54, 16.0381, 22.5644],
    [275.0, 1.28434, 1_005.71, 17.3109, 24.5019],
    [300.0, 1.17700, 1_006.37, 18.5373, 26.3845],
    [325.0, 1.08625, 1_007.53, 19.7215, 28.2168],
    [350.0, 1.00853, 1_009.21, 20.8671, 30.0033],
    [375.0, 0.94120, 1_011.41, 21.9775, 31.7476],
    [400.0, 0.88231, 1_014.14, 23.0554, 33.4532],
    [425.0, 0.83036, 1_017.39, 24.1035, 35.1231],
    [450.0, 0.78420, 1_021.11, 25.1240, 36.7601],
    [475.0, 0.74290, 1_025.29, 26.1189, 38.3665],
    [500.0, 0.70574, 1_029.87, 27.0901, 39.9446],
    [525.0, 0.67213, 1_034.80, 28.0393, 41.4964],
    [550.0, 0.64157, 1_040.04, 28.9679, 43.0237],
    [575.0, 0.61367, 1_045.52, 29.8773, 44.5282],
    [600.0, 0.58810, 1_051.20, 30.7687, 46.0113],
    [625.0, 0.56457, 1_057.03, 31.6433, 47.4743],
    [650.0, 0.54286, 1_062.96, 32.5020, 48.9186],
    [675.0, 0.52275, 1_068.96, 33.3459, 50.3453],
    [700.0, 0.50408, 1_074.97, 34.1757, 51.7555],
    [725.0, 0.48670, 1_080.98, 34.9923, 53.1500],
    [750.0, 0.47048, 1_086.95, 35.7964, 54.5299],
    [775.0, 0.45531, 1_092.86, 36.5888, 55.8959],
    [800.0, 0.44108, 1_098.69, 37.3700, 57.2488],
    [850.0, 0.41514, 1_110.04, 38.9011, 59.9182],
    [900.0, 0.39208, 1_120.91, 40.3941, 62.5432],
    [950.0, 0.37145, 1_131.24, 41.8526, 65.1282],
    [1_000.0, 0.35288, 1_141.00, 43.2798, 67.6771],
    [1_050.0, 0.33608, 1_150.19, 44.6787, 70.1935],
    [1_100.0, 0.32080, 1_158.82, 46.0515, 72.6803],
    [1_150.0, 0.30686, 1_166.91, 47.4007, 75.1402],
    [1_200.0, 0.29408, 1_174.49, 48.7282, 77.5756],
    [1_250.0, 0.28231, 1_181.58, 50.0357, 79.9888],
    [1_300.0, 0.27146, 1_188.24, 51.3249, 82.3816],
    [1_350.0, 0.26141, 1_194.47, 52.5973, 84.7557],
    [1_400.0, 0.25207, 1_200.33, 53.8540, 87.1128],
    [1_450.0, 0.24338, 1_205.84, 55.0964, 89.4543],
    [1_500.0, 0.23527, 1_211.02, 56.3255, 91.7816],
    [1_550.0, 0.22768, 1_215.91, 57.5422, 94.0956],
    [1_600.0, 0.22057, 1_220.53, 58.7476, 96.3977],
    [1_650.0, 0.21389, 1_224.91, 59.9424, 98.6888],
    [1_700.0, 0.20760, 1_229.05, 61.1275, 100.9697],
    [1_750.0, 0.20167, 1_233.00, 62.3034, 103.2414],
    [1_800.0, 0.19607, 1_236.75, 63.4710, 105.5046],
];

/// Properties at one temperature.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Air {
    /// Density, kg/m³.
    pub density_kg_per_m3: f64,
    /// Specific heat at constant pressure, J/(kg K).
    pub specific_heat_j_per_kg_k: f64,
    /// Conductivity, W/(m K).
    pub conductivity_w_per_m_k: f64,
    /// Kinematic viscosity ν, m²/s.
    pub viscosity_m2_per_s: f64,
    /// Prandtl number.
    pub prandtl: f64,
    /// Thermal expansion β of an ideal gas, 1/K.
    pub expansion_per_k: f64,
}

impl Air {
    /// Properties at `kelvin`; held at the ends of the table. Not-a-number reads as the coldest.
    #[must_use]
    pub fn at(kelvin: f64) -> Self {
        // WHY: `max` turns a not-a-number into the coldest, which `clamp` would pass on.
        let kelvin = kelvin.max(COLDEST_K).clamp(COLDEST_K, HOTTEST_K);
        let [density, heat, micro_viscosity, milli_conductivity] = interpolate(kelvin);
        let viscosity_pa_s = micro_viscosity * 1e-6;
        let conductivity = milli_conductivity * 1e-3;
        Self {
            density_kg_per_m3: density,
            specific_heat_j_per_kg_k: heat,
            conductivity_w_per_m_k: conductivity,
            viscosity_m2_per_s: viscosity_pa_s / density,
            prandtl: viscosity_pa_s * heat / conductivity,
            expansion_per_k: 1.0 / kelvin,
        }
    }

    /// Rayleigh number of 1 m and 1 K: g β / (ν α), 1/(m³ K).
    #[must_use]
    pub fn buoyancy_per_m3_k(&self) -> f64 {
        super::GRAVITY_M_PER_S2 * self.expansion_per_k * self.prandtl
            / (self.viscosity_m2_per_s * self.viscosity_m2_per_s)
    }
}

/// Cubic through the four table rows around `kelvin` (Lagrange).
fn interpolate(kelvin: f64) -> [f64; 4] {
    let above = TABLE.partition_point(|row| row[0] <= kelvin);
    let first = above.saturating_sub(2).min(TABLE.len() - 4);
    let rows = &TABLE[first..first + 4];
    let mut result = [0.0; 4];
    for (i, row) in rows.iter().enumerate() {
        let mut weight = 1.0;
        for (j, other) in rows.iter().enumerate() {
            if i != j {
                weight *= (kelvin - other[0]) / (row[0] - other[0]);
            }
        }
        for (sum, value) in result.iter_mut().zip(&row[1..]) {
            *sum += weight * value;
        }
    }
    result
}

/// Conductivity and buoyancy of a film at 1 K spacing, with their slopes, for the integrator.
#[derive(Debug)]
pub(super) struct FilmTable {
    rows: [FilmRow; FINE_ROWS],
}

/// Film properties and their slopes at one temperature.
#[derive(Clone, Copy, Debug)]
pub(super) struct FilmRow {
    /// Conductivity, W/(m K).
    pub conductivity: f64,
    /// Its slope, W/(m K²).
    pub conductivity_slope: f64,
    /// g β / (ν α), 1/(m³ K).
    pub buoyancy: f64,
    /// Its slope, 1/(m³ K²).
    pub buoyancy_slope: f64,
}

impl FilmTable {
    /// The one table of this process.
    pub(super) fn shared() -> &'static Self {
        static TABLE: LazyLock<FilmTable> = LazyLock::new(FilmTable::new);
        &TABLE
    }

    fn new() -> Self {
        let point = |i: usize| {
            let air = Air::at(COLDEST_K + i as f64 * FINE_K);
            (air.conductivity_w_per_m_k, air.buoyancy_per_m3_k())
        };
        let mut next = point(0);
        let rows = core::array::from_fn(|i| {
            let here = core::mem::replace(&mut next, point(i + 1));
            FilmRow {
                conductivity: here.0,
                conductivity_slope: (next.0 - here.0) / FINE_K,
                buoyancy: here.1,
                buoyancy_slope: (next.1 - here.1) / FINE_K,
            }
        });
        Self { rows }
    }

    /// Interpolated row; held (with slope 0) outside the table.
    #[inline]
    pub(super) fn at(&self, kelvin: f64) -> FilmRow {
        /// Adding 1.5·2⁵² leaves the nearest whole number in the lowest bits; what is below 0 or not
        /// a number comes out as a great one. A cast has to look for both.
        const NO_FRACTION: f64 = 6_755_399_441_055_744.0;
        let place = (kelvin - COLDEST_K) / FINE_K;
        // The row below; where it is on a row, that or the one before, which meet there.
        let shifted = (place - 0.5) + NO_FRACTION;
        let index = shifted.to_bits().wrapping_sub(NO_FRACTION.to_bits());
        match self.rows.get(index as usize) {
            Some(row) => {
                let past = (place - (shifted - NO_FRACTION)) * FINE_K;
                FilmRow {
                    conductivity: row.conductivity + row.conductivity_slope * past,
                    buoyancy: row.buoyancy + row.buoyancy_slope * past,
                    ..*row
                }
            }
            None => Self::outside(kelvin),
        }
    }

    /// Outside the table; a not-a-number reads as the coldest.
    #[cold]
    fn outside(kelvin: f64) -> FilmRow {
        let air = Air::at(kelvin);
        FilmRow {
            conductivity: air.conductivity_w_per_m_k,
            conductivity_slope: 0.0,
            buoyancy: air.buoyancy_per_m3_k(),
            buoyancy_slope: 0.0,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn off_by(value: f64, expected: f64) -> f64 {
        (value / expected - 1.0).abs()
    }

    /// CoolProp 8.0.0 "Air" at 101,325 Pa: temperatures between the table's rows.
    #[test]
    fn air_agrees_with_coolprop_between_the_rows() {
        // T °C, ρ, c_p, k, Pr
        let rows = [
            (20.0, 1.204_575, 1_006.144, 0.025_873_8, 0.707_956),
            (104.0, 0.935_825, 1_011.63, 0.031_896, 0.700_03),
            (149.0, 0.835_972_2, 1_016.991, 0.034_934_46, 0.698_249_9),
            (200.0, 0.745_81, 1_024.97, 0.038_249, 0.697_97),
            (260.0, 0.661_849, 1_036.48, 0.041_997, 0.699_53),
        ];
        for (celsius, density, heat, conductivity, prandtl) in rows {
            let air = Air::at(celsius + 273.15);
            assert!(off_by(air.density_kg_per_m3, density) < 1e-4, "{celsius} {air:?}");
            assert!(off_by(air.specific_heat_j_per_kg_k, heat) < 1e-4, "{celsius} {air:?}");
            assert!(off_by(air.conductivity_w_per_m_k, conductivity) < 1e-4, "{celsius} {air:?}");
            assert!(off_by(air.prandtl, prandtl) < 2e-4, "{celsius} {air:?}");
        }
    }

    /// Incropera Table A.4 (from memory; its pressure is nearer 100 kPa): within 2.5 %.
    #[test]
    fn air_agrees_with_a_textbook_table() {
        for (kelvin, viscosity, conductivity, prandtl) in [
            (300.0, 15.89e-6, 26.3e-3, 0.707),
            (400.0, 26.41e-6, 33.8e-3, 0.690),
            (500.0, 38.79e-6, 40.7e-3, 0.684),
        ] {
            let air = Air::at(kelvin);
            assert!(off_by(air.viscosity_m2_per_s, viscosity) < 0.025, "{kelvin}");
            assert!(off_by(air.conductivity_w_per_m_k, conductivity) < 0.025, "{kelvin}");
            assert!(off_by(air.prandtl, prandtl) < 0.025, "{kelvin}");
        }
    }

    #[test]
    fn properties_hold_outside_the_table() {
        assert_eq!(Air::at(100.0), Air::at(200.0));
        assert_eq!(Air::at(9_000.0), Air::at(1_800.0));
        let hot = FilmTable::shared().at(5_000.0);
        assert!(hot.conductivity > 0.1 && hot.conductivity_slope.abs() < 1e-12);
        let cold = FilmTable::shared().at(-40.0);
        assert!(off_by(cold.conductivity, 18.502_8e-3) < 1e-6);
    }

    #[test]
    fn the_fine_table_follows_the_properties() {
        for kelvin in [200.0, 251.3, 300.5, 422.0, 599.9, 1_200.7, 1_799.5] {
            let row = FilmTable::shared().at(kelvin);
            let air = Air::at(kelvin);
            assert!(off_by(row.conductivity, air.conductivity_w_per_m_k) < 1e-5, "{kelvin}");
            assert!(off_by(row.buoyancy, air.buoyancy_per_m3_k()) < 1e-4, "{kelvin}");
        }
    }
}
