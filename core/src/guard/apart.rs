//! How far apart two sound air sensors can be, and whether these two are further, or one is on its way
//! there.

use super::View;
use crate::bounds::model::Sensor;
use crate::judge::Judged;
use crate::units::Kelvins;

/// A lag may be so much longer than told, and the difference of two of them with it.
const WIDEST_LAG: f32 = 1.5;
/// Air that makes one sensor rise by this, K/s …
const RISES_K_PER_S: f32 = 0.5;
/// … makes another rise by more than this …
const STANDS_K_PER_S: f32 = 0.1;
/// … within seconds, unless their lags are this far apart, s: while a jump lasts, lags explain where it
/// has got to, but not that only one goes there.
const WITNESS_LAG_S: f32 = 60.0 * WIDEST_LAG;

/// How far two sound air sensors may be apart: they are off by a constant each, hang in different
/// air, and, where they are not alike, follow it with another lag and see another share of the wall.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SensorBudget {
    /// While nothing moves and the wall is as hot as the air.
    pub steady: Kelvins,
    /// More for every kelvin a second the reading moves by, s.
    pub lag_s: f32,
    /// More for every kelvin between reading and wall, 0..1.
    pub wall_view: f32,
}

impl SensorBudget {
    /// Of these two sensors.
    #[must_use]
    pub fn of(steady: Kelvins, first: &Sensor, second: Option<&Sensor>) -> Self {
        let Some(second) = second else { return Self { steady, lag_s: 0.0, wall_view: 0.0 } };
        let apart = |a: f32, b: f32| (a - b).abs();
        let view = apart(first.wall_view.middle(), second.wall_view.middle());
        let unseen = 1.0 - first.wall_view.high.min(0.9);
        Self {
            steady,
            lag_s: apart(first.lag_s.middle(), second.lag_s.middle()) * WIDEST_LAG,
            wall_view: view / unseen,
        }
    }
}

/// Two sensors further apart than sound ones can be now, or that part as sound ones do not.
pub(super) fn are_apart(view: &View<'_>, air_b: &Judged) -> bool {
    let (Some(first), Some(second)) = (view.air.value, air_b.value) else { return false };
    let budget = &view.standing.sensor_budget;
    let slopes_k_per_s = [view.air, air_b].map(|sensor| sensor.steady_slope_k_per_s);
    let alone = budget.lag_s < WITNESS_LAG_S
        && slopes_k_per_s.iter().any(|slope| *slope > RISES_K_PER_S)
        && slopes_k_per_s.iter().any(|slope| *slope < STANDS_K_PER_S);
    let slope_k_per_s = view.air.slope_k_per_s.abs().max(air_b.slope_k_per_s.abs());
    let to_wall_k = view.expectation.map_or(0.0, |expectation| (first - expectation.liner).0.abs());
    let honest_k = budget.steady.0 + budget.lag_s * slope_k_per_s + budget.wall_view * to_wall_k;
    alone || (first - second).0.abs() > honest_k
}
