//! The oven as the oracle sees it: the plant itself, every point of every part.

use super::heat::{Body, Seen};
use crate::plant::Plant;
use crate::rehearse::tally::PartNow;

/// A plant with what else is true of the oven.
#[derive(Clone, Debug)]
pub(super) struct Oven {
    pub plant: Plant,
    pub full_w: f64,
    /// Constant error of the reading, K.
    pub reading_error_k: f64,
    /// Hottest air at the parts, above the sensor's, K.
    pub hot_spot_k: f64,
    /// Coldest, below it, K.
    pub cold_spot_k: f64,
    pub parts: Vec<PartNow>,
}

impl Oven {
    /// Looks at a tick of the tried step of another state of this plant.
    pub fn look(&mut self, plant: &Plant, tick: u32) -> Seen {
        let air_c = plant.look_at(tick, &mut self.parts);
        self.seen(air_c, plant.shown_at(tick).air_c + self.reading_error_k)
    }

    /// With the parts as they were last looked at.
    fn seen(&self, air_c: f64, reading_c: f64) -> Seen {
        let inside = || self.parts.iter().filter(|part| part.inside);
        Seen {
            reading_c,
            air_c,
            coldest_c: inside().map(|part| part.coldest_c).fold(f64::INFINITY, f64::min),
            hottest_c: inside().map(|part| part.hottest_c).fold(f64::NEG_INFINITY, f64::max),
            pull_c: air_c + self.hot_spot_k,
            draw_c: air_c - self.cold_spot_k,
        }
    }
}

impl Body for Oven {
    fn heat(&mut self, share: f64) {
        self.plant.set_power(share * self.full_w);
    }

    fn attempt(&mut self, ticks_max: u32) -> u32 {
        self.plant.attempt(ticks_max)
    }

    fn reading_at(&self, tick: u32) -> f64 {
        self.plant.shown_at(tick).air_c + self.reading_error_k
    }

    fn take(&mut self, ticks: u32) {
        self.plant.take(ticks);
    }

    fn seen_at(&mut self, tick: u32) -> Seen {
        let Self { plant, parts, .. } = self;
        let air_c = plant.look_at(tick, parts);
        self.seen(air_c, self.reading_at(tick))
    }
}
