//! One possible plant: a value for everything the spread says is not known.

use super::derive::Sections;
use crate::files::oven::Oven;
use rand_core::{RngCore, SeedableRng};
use rand_xoshiro::Xoshiro256PlusPlus;
use truesoak_core::bounds::model::DOORWAY_VIEW_MAX;

/// What is true of one plant. Factors stand on the files' nominal values, calibration included.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Draw {
    /// On insulation and leak.
    pub losses: f64,
    /// On heat capacities of liner, insulation and skin.
    pub wall_heat_capacity: f64,
    /// On convection and radiation at parts and rack, and air to liner.
    pub part_exchange: f64,
    /// On rated power.
    pub heater_power: f64,
    /// Share of the element's heat to the liner at rated power, 0..1.
    pub radiant_share: f64,
    /// Share of the wall's temperature the air sensor sees, 0..1.
    pub wall_view: f64,
    /// On the sensor's time constant.
    pub sensor_lag: f64,
    /// Constant error of a reading, K.
    pub sensor_offset_k: f64,
    /// Coldest air at the parts, below the sensor's, K.
    pub cold_spot_k: f64,
    /// Hottest, above it, K.
    pub hot_spot_k: f64,
    /// Constant error of the second sensor, K.
    pub sensor_b_offset_k: f64,
    /// Constant error of the part probe, K.
    pub probe_offset_k: f64,
    /// On the probe's time constant.
    pub probe_lag: f64,
    /// Share of what every part sees that is the room while the door is open, 0 to
    /// [`DOORWAY_VIEW_MAX`].
    pub doorway_view: f64,
    /// How finely its parts are taken apart.
    pub sections: Sections,
}

impl Draw {
    /// The nominal plant, with half the spots.
    #[must_use]
    pub fn nominal(oven: &Oven) -> Self {
        Self::at(oven, |_| 0.5)
    }

    /// The `number`-th draw: every value uniform over its spread. Xoshiro256++ seeded with the
    /// number, one output a value in the order of the fields: the same on every machine.
    #[must_use]
    pub fn nth(oven: &Oven, number: u64) -> Self {
        let mut random = Xoshiro256PlusPlus::seed_from_u64(number);
        let mut share = || (random.next_u64() >> 11) as f64 / (1_u64 << 53) as f64;
        Self::at(oven, |_| share()).with_others(oven, share)
    }

    /// With every value at a share 0..1 of its spread, by index in the order of the fields.
    #[must_use]
    pub fn at(oven: &Oven, mut share: impl FnMut(usize) -> f64) -> Self {
        let (spread, calibration) = (&oven.spread, &oven.calibration);
        let mut either = |index: usize, half: f64| half * (2.0 * share(index) - 1.0);
        Self {
            losses: calibration.losses * (1.0 + either(0, spread.losses)),
            wall_heat_capacity: calibration.wall_heat_capacity
                * (1.0 + either(1, spread.wall_heat_capacity)),
            part_exchange: calibration.part_exchange * (1.0 + either(2, spread.part_exchange)),
            heater_power: calibration.heater_power * (1.0 + either(3, spread.heater_power)),
            radiant_share: (oven.heater.radiant_share + either(4, spread.radiant_share))
                .clamp(0.0, 1.0),
            wall_view: (oven.sensor.wall_view + either(5, spread.wall_view)).clamp(0.0, 0.95),
            sensor_lag: 1.0 + either(6, spread.sensor_lag),
            sensor_offset_k: either(7, spread.sensor_offset_k),
            cold_spot_k: spread.cold_spot_k * share(8),
            hot_spot_k: spread.hot_spot_k * share(9),
            sensor_b_offset_k: 0.0,
            probe_offset_k: 0.0,
            probe_lag: 1.0,
            doorway_view: 0.5 * f64::from(DOORWAY_VIEW_MAX),
            sections: Sections::AsOnBoard,
        }
    }

    /// With the other sensors' own errors, and what the parts see of the room, at shares of their
    /// spread, in the order of the fields.
    #[must_use]
    pub fn with_others(self, oven: &Oven, mut share: impl FnMut() -> f64) -> Self {
        let mut either = |half: f64| half * (2.0 * share() - 1.0);
        Self {
            sensor_b_offset_k: either(oven.spread.sensor_offset_k),
            probe_offset_k: either(oven.probe.offset_k),
            probe_lag: 1.0 + either(oven.spread.sensor_lag),
            doorway_view: f64::from(DOORWAY_VIEW_MAX) * share(),
            ..self
        }
    }
}
