//! What stands of an oven while the guard's rows are shown their courses by hand.

use truesoak_core::guard::{SensorBudget, Standing};
use truesoak_core::io::Heat;
use truesoak_core::units::{Celsius, Kelvins};

pub const STANDING: Standing = Standing {
    ambient: Celsius(20.0),
    resolution: Kelvins(0.25),
    noise: Kelvins(0.1),
    sensor_lag_s: 12.0,
    sensor_lag_longest_s: 15.0,
    sensor_budget: SensorBudget { steady: Kelvins(10.0), lag_s: 0.0, wall_view: 0.0 },
    fan_is_known: true,
};
pub const ON: Heat = Heat::Allowed { drive: true };
pub const OFF: Heat = Heat::Allowed { drive: false };
