//! Best guesses, not bounds: what the nominal oven does next. They steer, they never count.

use super::Bounds;
use super::laws;
use super::model::{Film, Model};
use super::seen;
use super::side::Side;
use super::track::emissivity;
use crate::units::Celsius;

/// The nominal air's pull towards everything but the element, at one air temperature.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
struct Surroundings {
    /// Sum of conductances, W/K.
    conductance: f32,
    /// Sum of conductance times temperature, W.
    pull: f32,
}

impl Surroundings {
    fn add(&mut self, conductance: f32, temperature_c: f32) {
        self.conductance += conductance;
        self.pull += conductance * temperature_c;
    }
}

/// What the element's heat goes into once it is off.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Outlook {
    around: Surroundings,
    /// Time constant of the element's fall, s.
    decay_s: f32,
}

/// What holds a reading.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Hold {
    /// Duty; above 1 the heater is too weak, below 0 the oven too warm.
    pub duty: f32,
    /// Element, °C.
    pub element_c: f32,
}

impl Bounds {
    /// What the nominal oven's sensor shows, from duty alone.
    #[must_use]
    pub fn nominal_reading(&self) -> Celsius {
        Celsius(self.nominal.sensor.celsius())
    }

    /// What the element's heat goes into once it is off, the air where a reading and its slope tell.
    #[must_use]
    #[inline(never)]
    pub fn outlook(&self, model: &Model, reading: Celsius, slope_k_per_s: f32) -> Outlook {
        let around = self.surroundings(model, self.told_air(model, reading, slope_k_per_s).1);
        Outlook { around, decay_s: self.element_decay_s(model, around.conductance) }
    }

    /// What the sensor is drawn to now, and the air that draws it there, °C.
    fn told_air(&self, model: &Model, reading: Celsius, slope_k_per_s: f32) -> (f32, f32) {
        let liner = self.nominal.liner.celsius();
        let goal = seen::unlagged(Side::Nominal, &model.sensor, reading.0, slope_k_per_s, false);
        (goal, seen::air(Side::Nominal, self.view_ratio, goal, liner))
    }

    /// Greatest reading to come if full power ends now and the door stays shut, by the nominal
    /// model: the element's excess decays into the air, the sensor follows, liner and parts stand
    /// still meanwhile. What the air decays to is the setpoint, which the loop will hold, or more
    /// where the oven would stay hotter than that with the heater off. Air that is not there yet
    /// draws no reading past itself.
    #[must_use]
    pub fn peak_ahead(
        &self,
        model: &Model,
        outlook: &Outlook,
        reading: Celsius,
        slope_k_per_s: f32,
        setpoint: Celsius,
    ) -> Celsius {
        let around = &outlook.around;
        if slope_k_per_s <= 0.0 || around.conductance <= 0.0 {
            return reading;
        }
        let sensor = &model.sensor;
        let lag = sensor.lag_s.middle();
        let view = sensor.wall_view.middle();
        let liner = self.nominal.liner.celsius();
        let (goal, _) = self.told_air(model, reading, slope_k_per_s);
        // In the end.
        let off = (1.0 - view) * around.pull / around.conductance + view * liner;
        let end = off.max(setpoint.0);
        // The air lags the element too, by little: taken as more of the sensor's lag.
        let air_s = model.air.capacity_j_per_k / (around.conductance + convection(model));
        let goal = goal + (1.0 - view) * air_s * slope_k_per_s;
        if goal < end && off < end {
            // What is missing takes heat.
            return Celsius(reading.0.max(goal));
        }
        let peak = peak_behind_lag(reading.0, goal, end, outlook.decay_s, lag + air_s);
        Celsius(reading.0.max(peak))
    }

    /// Duty that holds the reading at `setpoint` with the nominal liner and parts as they are,
    /// 0..1.
    #[must_use]
    pub fn feed_forward(&self, model: &Model, setpoint: Celsius) -> f32 {
        self.holding_duty(model, setpoint).clamp(0.0, 1.0)
    }

    /// The same without its ends: above 1 the heater is too weak, below 0 the oven too warm.
    #[must_use]
    pub fn holding_duty(&self, model: &Model, setpoint: Celsius) -> f32 {
        self.hold(model, setpoint).duty
    }

    /// What holds the reading at `setpoint` with the nominal liner and parts as they are.
    #[must_use]
    #[inline(never)]
    pub fn hold(&self, model: &Model, setpoint: Celsius) -> Hold {
        let element = &model.element;
        let liner = self.nominal.liner.celsius();
        let air = seen::air(Side::Nominal, self.view_ratio, setpoint.0, liner);
        let around = self.surroundings(model, air);
        let to_air = around.conductance * air - around.pull;
        let convection = convection(model);
        if convection <= 0.0 {
            return Hold { duty: 0.0, element_c: air };
        }
        let needed = air + to_air / convection;
        let share = element.radiant_share.middle();
        let to_liner = share * element.radiation_m2 * laws::radiation(needed, liner);
        let duty = (to_air + to_liner) / (element.power.middle() * element.power_w);
        Hold { duty, element_c: needed }
    }

    /// The element of the nominal oven.
    #[must_use]
    pub fn nominal_element(&self) -> Celsius {
        Celsius(self.nominal.element.celsius())
    }

    fn surroundings(&self, model: &Model, air_c: f32) -> Surroundings {
        let exchange = model.exchange.middle();
        let mut around = Surroundings::default();
        let cabinet = &model.cabinet;
        let liner = self.nominal.liner.celsius();
        let warmth = model.air.warmth(air_c);
        let conductance = |film: &Film, area_m2: f32, difference_k: f32| {
            let coefficient = laws::coefficient(film, warmth, difference_k);
            exchange * area_m2 * film.law.middle() * coefficient
        };
        around.add(conductance(&cabinet.liner_film, cabinet.liner_m2, liner - air_c), liner);
        around.add(cabinet.losses.middle() * model.air.leak_w_per_k, model.ambient.0);
        self.nominal.each_point(model, self.load, |placed| {
            let point = placed.point;
            let surface = placed.cells.first().map_or(air_c, |cell| cell.celsius());
            let seen_by_air = surface - placed.spot_k;
            let conductance = conductance(&point.film, point.area_m2, seen_by_air - air_c);
            around.add(conductance, seen_by_air);
        });
        around
    }

    /// Time constant of the element once off, the air following it at once, s.
    fn element_decay_s(&self, model: &Model, around_w_per_k: f32) -> f32 {
        let element = &model.element;
        let share = element.radiant_share.middle();
        let now = self.nominal.element.celsius();
        let liner = self.nominal.liner.celsius();
        let convection = convection(model);
        // Of a kelvin the element falls, the air follows this much.
        let followed = convection / (convection + around_w_per_k);
        let radiation = share * element.radiation_m2 * laws::radiation_slope(now, liner);
        let mut seen_parts = 0.0;
        self.nominal.each_point(model, self.load, |placed| {
            if placed.point.element_m2 > 0.0 && emissivity(placed.point, self.load) > 0.0 {
                let surface = placed.cells.first().map_or(liner, |cell| cell.celsius());
                seen_parts += placed.point.element_m2 * laws::radiation_slope(now, surface);
            }
        });
        let loss = convection * (1.0 - followed) + radiation + seen_parts;
        if loss > 0.0 { element.capacity_j_per_k / loss } else { f32::MAX }
    }
}

/// Conductance from the nominal element to the air, W/K.
fn convection(model: &Model) -> f32 {
    (1.0 - model.element.radiant_share.middle()) * model.element.convection_w_per_k
}

/// Peak of a first-order lag that starts at `shown` behind something decaying from `goal` to `end`
/// with time constant `decay_s`.
fn peak_behind_lag(shown: f32, goal: f32, end: f32, decay_s: f32, lag_s: f32) -> f32 {
    if lag_s <= 0.0 {
        return shown.max(goal);
    }
    // The two exponentials merge where both times are equal; 2 % apart the peak is the same.
    let decay_s = if libm::fabsf(decay_s - lag_s) < 0.02 * lag_s { 1.02 * lag_s } else { decay_s };
    // shown(t) = end + slow·e^(-t/decay) + quick·e^(-t/lag)
    let slow = (goal - end) * decay_s / (decay_s - lag_s);
    let quick = shown - end - slow;
    let ratio = -quick * decay_s / (slow * lag_s);
    if !ratio.is_finite() || ratio <= 0.0 {
        return shown.max(end);
    }
    let when = libm::logf(ratio) / (1.0 / lag_s - 1.0 / decay_s);
    if !when.is_finite() || when <= 0.0 {
        return shown;
    }
    end + slow * libm::expf(-when / decay_s) + quick * libm::expf(-when / lag_s)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn marched(shown: f32, goal: f32, end: f32, decay_s: f32, lag_s: f32) -> f32 {
        let (mut now, mut peak, dt) = (f64::from(shown), f64::from(shown), 0.001);
        for step in 0..400_000 {
            let t = f64::from(step) * dt;
            let drawn = f64::from(end) + f64::from(goal - end) * libm::exp(-t / f64::from(decay_s));
            now += dt * (drawn - now) / f64::from(lag_s);
            peak = peak.max(now);
        }
        peak as f32
    }

    #[test]
    fn the_peak_behind_a_lag_is_the_marched_one() {
        for (shown, goal, end, decay_s, lag_s) in [
            (140.0, 170.0, 120.0, 40.0, 12.0),
            (140.0, 150.0, 130.0, 12.0, 12.0),
            (140.0, 190.0, 139.0, 8.0, 30.0),
            (140.0, 141.0, 100.0, 25.0, 12.0),
        ] {
            let found = peak_behind_lag(shown, goal, end, decay_s, lag_s);
            let truth = marched(shown, goal, end, decay_s, lag_s);
            assert!((found - truth).abs() < 0.05, "{found} against {truth}");
            assert!(found >= shown);
        }
    }
}
