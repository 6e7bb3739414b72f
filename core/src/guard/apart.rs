//! How far apart two sound air sensors can be, and whether these two are further.

use super::View;
use crate::bounds::model::Sensor;
use crate::judge::Judged;
use crate::units::Kelvins;

/// A lag may be so much longer than told, and the difference of two of them with it.
const WIDEST_LAG: f32 = 1.5;

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

/// Two sensors further apart than sound ones can be now.
pub(super) fn are_apart(view: &View<'_>, air_b: &Judged) -> bool {
    let (Some(first), Some(second)) = (view.air.value, air_b.value) else { return false };
    let budget = &view.standing.sensor_budget;
    let slope_k_per_s = view.air.slope_k_per_s.abs().max(air_b.slope_k_per_s.abs());
    let to_wall_k = view.expectation.map_or(0.0, |expectation| (first - expectation.liner).0.abs());
    let honest_k = budget.steady.0 + budget.lag_s * slope_k_per_s + budget.wall_view * to_wall_k;
    (first - second).0.abs() > honest_k
}
