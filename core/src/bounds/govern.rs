//! What the controller asks of the bounds: where parts are, and what follows if the heater goes off
//! now.

use super::laws;
use super::load::Load;
use super::model::{CLASSES_MAX, Class, Model, Point, Warmth};
use super::section::{coldest_of, hottest_of};
use super::seen::{self, Liner};
use super::side::Side;
use super::track::{Track, emissivity};
use super::{Bounds, STEP_ALLOWANCE_K};
use crate::units::{Celsius, Kelvins};

/// How far ahead the hottest part is predicted with the heater off, s.
const AHEAD_S: f32 = 60.0;
/// Lags of a part that it may rise on for as it does now, once the heater is off.
const RISES_ON_LAGS: f32 = 1.5;
/// Age of a second's mean at its end, for a slope that has just begun, s.
pub(super) const MEAN_AGE_S: f32 = 1.0;

impl Bounds {
    /// No part inside is colder; `None` when none is inside.
    #[must_use]
    pub fn coldest(&self) -> Option<Celsius> {
        self.inside().map(|range| range.0).reduce(Celsius::min)
    }

    /// No part inside is hotter; `None` when none is inside.
    #[must_use]
    pub fn hottest(&self) -> Option<Celsius> {
        self.inside().map(|range| range.1).reduce(Celsius::max)
    }

    /// Coldest and hottest any part of one class can be; `None` when it is not inside.
    #[must_use]
    pub fn class(&self, index: usize) -> Option<(Celsius, Celsius)> {
        self.ranges.get(index).copied().filter(|_| self.load.present.has(index))
    }

    /// The least that a part inside stands; `None` for an empty oven.
    #[must_use]
    pub fn part_max(&self, model: &Model) -> Option<Celsius> {
        let classes = model.classes.iter().enumerate();
        let inside = classes.filter(|(index, _)| self.load.present.has(*index));
        inside.map(|(_, class)| class.max).reduce(Celsius::min)
    }

    /// The hottest of one class a second after what is shown, if it rises on as it did.
    #[must_use]
    pub fn hottest_ahead(&self, index: usize) -> Option<Celsius> {
        let (_, hottest) = self.class(index)?;
        self.rose_k.get(index).map(|rose_k| hottest + Kelvins(*rose_k))
    }

    /// The hottest any part can come to with the heater off, by how it rises: were the air to stay, as
    /// far as it rises in its lag; what the element holds adds to that. Of an empty oven nothing does.
    #[must_use]
    pub fn hottest_to_come(&self) -> Celsius {
        let rises = self.rose_k.iter().zip(&self.quickest_s).enumerate();
        let to_come = rises.filter_map(|(index, (rose_k, quickest_s))| {
            let (_, hottest) = self.class(index)?;
            Some(hottest + Kelvins(RISES_ON_LAGS * quickest_s * rose_k.max(0.0)))
        });
        to_come.fold(Celsius(f32::NEG_INFINITY), Celsius::max)
    }

    fn inside(&self) -> impl Iterator<Item = (Celsius, Celsius)> {
        (0..self.ranges.len()).filter_map(|index| self.class(index))
    }

    /// Takes every class's range from its cells; after each change of them.
    pub(super) fn look(&mut self, model: &Model) {
        let slow = self.lower.slow.iter().zip(&self.upper.slow);
        let fast = self.lower.fast.iter().zip(&self.upper.fast);
        let points = slow.zip(fast).zip(self.late_k.iter().zip(&mut self.ranges));
        for (class, ((slow, fast), (late_k, range))) in model.classes.iter().zip(points) {
            let cells = (class.slow.cells, class.fast.cells);
            let coldest = coldest_of(slow.0, cells.0).min(coldest_of(fast.0, cells.1));
            let hottest = hottest_of(slow.1, cells.0).max(hottest_of(fast.1, cells.1));
            *range = (
                Celsius(coldest - STEP_ALLOWANCE_K + late_k.min(0.0)),
                Celsius(hottest + STEP_ALLOWANCE_K + late_k.max(0.0)),
            );
        }
        self.look_by_second();
        self.look_in_doubt(model);
    }

    /// What the age of a second's mean may hide from each class, K: rising above 0, falling below.
    ///
    /// WHY: over its seconds the air that heats a part sums up to the readings and, times the lag,
    /// the *last* reading less the first. A mean is half a second older than that last reading,
    /// and a second older where a slope has only begun.
    pub(super) fn late(&self, model: &Model, slope_k_per_s: f32) -> [f32; CLASSES_MAX] {
        let hidden_k_s = MEAN_AGE_S * model.sensor.lag_s.high * slope_k_per_s;
        self.quickest_s.map(|quickest_s| hidden_k_s / quickest_s)
    }

    /// The hottest any part can get if the heater goes off now: the fastest part moves towards the
    /// hottest air for a minute, by when the element's heat is out.
    #[must_use]
    pub fn hottest_if_heater_off(&self, model: &Model) -> Option<Celsius> {
        let hottest = self.hottest()?;
        let quickest = self
            .quickest_s
            .iter()
            .enumerate()
            .filter(|(index, _)| self.load.present.has(*index))
            .map(|(_, quickest_s)| *quickest_s)
            .fold(f32::MAX, f32::min);
        let air = self.upper_air.0 + model.air.hot_spot_k;
        let share = 1.0 - libm::expf(-AHEAD_S / quickest);
        Some(Celsius(hottest.0 + share * (air - hottest.0).max(0.0)))
    }

    /// No true air at the sensor was hotter in the last second.
    #[must_use]
    pub fn upper_air(&self) -> Celsius {
        self.upper_air
    }

    /// The liner of the nominal oven.
    #[must_use]
    pub fn nominal_liner(&self) -> Celsius {
        Celsius(self.nominal.liner.celsius())
    }

    /// No liner is hotter.
    #[must_use]
    pub fn upper_liner(&self) -> Celsius {
        Celsius(self.upper.liner.celsius())
    }

    /// No true air was hotter, if the heater did what it was told.
    #[must_use]
    pub fn upper_air_by_duty(&self) -> Celsius {
        Celsius(self.upper.air.celsius())
    }

    /// [`Self::upper_air`] from a newer reading and its slope, for a limit judged every tick.
    #[must_use]
    pub fn upper_air_now(&self, model: &Model, reading: Celsius, slope_k_per_s: f32) -> Celsius {
        let unlagged = seen::unlagged(Side::Upper, &model.sensor, reading.0, slope_k_per_s, false);
        // The colder the liner the sensor sees, the hotter the air must be.
        let coldest_liner = self.coldest_liner();
        Celsius(seen::air(Side::Upper, self.view_ratio, unlagged, coldest_liner))
    }

    /// The coldest the liner can be, °C.
    pub(super) fn coldest_liner(&self) -> f32 {
        let doubted = self.doubt.as_ref().map(|doubt| doubt.lower.liner);
        doubted.map_or(self.lower.liner, |liner| liner.min(self.lower.liner)).celsius()
    }

    /// Both liners as one track sees them.
    pub(super) fn liner(&self, track: &Track) -> Liner {
        let own = track.liner.celsius();
        let other = match track.side {
            Side::Lower => self.upper.liner.celsius(),
            Side::Nominal => own,
            Side::Upper => self.coldest_liner(),
        };
        Liner { own, other }
    }
}

/// Shortest time constant a class can have at baking temperatures, s.
pub(super) fn quickest_s(class: &Class, model: &Model, load: Load) -> f32 {
    /// A difference no part keeps for long while the heater is on, K.
    const FAR_K: f32 = 60.0;
    /// Hot end of any bake, °C.
    const HOT_C: f32 = 230.0;
    let of = |point: &Point| {
        // Hot air conducts most, and what rises most is cold.
        let warmth = Warmth { quarter: 1.0, ..model.air.warmth(HOT_C) };
        let film = laws::film(Side::Upper, &point.film, 1.0, warmth, FAR_K);
        let film = film.slope * point.film.law.high;
        let radiated = emissivity(point, load) * laws::radiation_slope(HOT_C, HOT_C);
        // The surface of a chain moves first.
        let share =
            if point.cells > 1 { point.cell_share.first().copied().unwrap_or(1.0) } else { 1.0 };
        share * point.capacity_j_per_k / (model.exchange.high * point.area_m2 * (film + radiated))
    };
    of(&class.fast).min(of(&class.slow))
}
