//! What several benches need: shipped bakes, an oven that is known, and how figures are printed.

use truesoak::files::oven::{Oven, Spread};
use truesoak::plant::Draw;

/// The oven as its owner would write it who knows this plant.
pub fn told(oven: &Oven, draw: &Draw) -> Oven {
    let mut told = oven.clone();
    told.calibration.losses = draw.losses;
    told.calibration.wall_heat_capacity = draw.wall_heat_capacity;
    told.calibration.part_exchange = draw.part_exchange;
    told.calibration.heater_power = draw.heater_power;
    told.heater.radiant_share = draw.radiant_share;
    told.sensor.wall_view = draw.wall_view;
    told.sensor.lag_s *= draw.sensor_lag;
    told.sensor.correction_k -= draw.sensor_offset_k;
    told.spread =
        Spread { cold_spot_k: draw.cold_spot_k, hot_spot_k: draw.hot_spot_k, ..Spread::NOTHING };
    told
}

/// Median and 95th percentile.
pub fn shown(values: &mut [f64], digits: usize) -> String {
    values.sort_by(f64::total_cmp);
    let at = |share: f64| values[((values.len() - 1) as f64 * share).round() as usize];
    format!("{:.digits$} {:.digits$}", at(0.5), at(0.95))
}
