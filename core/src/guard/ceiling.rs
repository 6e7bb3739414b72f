//! A drive that is off makes no air rise: how far a reading may still go, and when it went further.
//!
//! With the drive commanded off the element only cools, so a reading ends near what it was already
//! on its way to. Near, because a heavy element or a light liner goes on heating the air for a
//! while: by as much as the model's own ovens, lowest to highest, pass what *they* were on their
//! way to. An oven between the models may pass both for a while, but then its rise slows down
//! ([`Rise`]). Whatever heats past both and does not slow is heat nobody commanded.

use super::View;
use super::rise::Rise;
use crate::persist::Persist;
use crate::units::{Celsius, Kelvins, TICKS_PER_SECOND};

/// The air follows the element within this, s.
const AIR_FOLLOWS_S: f32 = 8.0;
/// Reading above its ceiling, K, besides what the models pass theirs by and the sensor's own:
const ABOVE_K: f32 = 0.65;
/// two steps of its converter, one of which hides a slope, and this many deviations of its noise
/// (six of a second's mean) …
const STEPS: f32 = 2.0;
const SIGMAS: f32 = 2.0;
/// … for so long, and not slowing down, s …
const ABOVE_S: u32 = 3;
/// … and for so long where no switch tells of a door and the reading is below the nominal one or what it
/// was: a door that stood ajar and is shut lets it rise until it is back there, less and less.
const ABOVE_DOOR_S: u32 = 15;
/// The liner must be this far below the reading: a liner as hot as the air can heat it, K.
const LINER_BELOW_K: f32 = 5.0;
/// A weak heater takes long past its ceiling. A reading this far past it, K …
const RISES_PAST_K: f32 = 0.65;
/// … that rose by this, K, at least two and three steps of its converter …
const RISES_K: f32 = 0.5;
/// … over some seconds and does not slow down, in which every model fell faster than this, K/s, for
/// so long, s, is heated all the same.
const FALLS_K_PER_S: f32 = 0.008;
const FALLS_S: u32 = 15;
/// Share of a new slope that is taken in a second, for one smoothed over three: that of two
/// seconds' means is rough, and the reach multiplies it.
const SLOPE_SHARE: f32 = 0.2875;
/// So long after a door nothing is judged: the liner reheats the air, ticks.
const AFTER_DOOR_TICKS: u32 = 60 * TICKS_PER_SECOND;
/// A plant between the models may pass its ceiling by this share of what they do: the sum of a
/// slow element and a quick sensor is in none of the three.
const PASSED_SHARE: f32 = 1.6;
/// Single pulses of a loop that lets go are no end of being off, for the models take them too: up to
/// this share of the time, over so many seconds …
const PULSES_SHARE: f32 = 0.22;
const PULSES_S: f32 = 8.0;
/// … and for so long; then the ceiling is taken afresh, s.
const PULSES_FORGIVEN_S: u32 = 45;
/// Lowest, nominal and highest oven.
const MODELS: usize = 3;

/// Follows the reading and the models while the drive is off.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Ceiling {
    reading: Course,
    models: [Course; MODELS],
    begun: bool,
    /// The most a model has passed its ceiling, K.
    passed_k: f32,
    /// The highest reading.
    top: Celsius,
    above: Persist,
    /// Every model falls.
    falls: Persist,
    rise: Rise,
    /// Share of the last seconds the drive was on.
    on_share: f32,
    /// Since when it has been off but for pulses.
    off: Persist,
}

/// A reading, measured or a model's, and how far it may be.
#[derive(Clone, Copy, Debug, Default)]
struct Course {
    value: Celsius,
    slope_k_per_s: f32,
    way: Option<Way>,
}

/// From where a drive went off to where the reading was on its way then.
#[derive(Clone, Copy, Debug)]
struct Way {
    /// As far as it may be by now.
    now: Celsius,
    /// The least of what it was on its way to at any time since.
    end: Celsius,
}

impl Ceiling {
    /// True when the reading has gone further than a drive that is off explains. Judged while the
    /// drive is off but for pulses with heat allowed; without the permit a welded drive heats
    /// nothing. A fan that may have stopped unseen leaves heat in the element that its return sets
    /// free: then nothing is judged. Nor where two sensors are `apart`.
    pub(super) fn is_passed(&mut self, view: &View<'_>, on_ticks: u8, apart: bool) -> bool {
        let Some(expectation) = view.expectation.filter(|_| view.baking) else {
            *self = Self::default();
            return false;
        };
        let models =
            [expectation.reading_lowest, expectation.reading_nominal, expectation.reading_highest];
        self.follow(models);
        self.reading.turn(view.air.slope_k_per_s);
        let settled = view.door.shut_ticks >= AFTER_DOOR_TICKS;
        let off = self.is_off(on_ticks) && view.commanded.is_allowed();
        let judged = off && settled && !apart && view.standing.fan_is_known && !view.fan_stands();
        let Some(reading) = expectation.reading.filter(|_| judged) else {
            self.forget();
            return false;
        };
        let reach_s = view.standing.sensor_lag_longest_s + AIR_FOLLOWS_S;
        for model in &mut self.models {
            self.passed_k = self.passed_k.max(model.passed_k(reach_s));
        }
        self.reading.value = reading;
        let own_k = STEPS * view.standing.resolution.0 + SIGMAS * view.standing.noise.0;
        let passed_k = self.reading.passed_k(reach_s);
        let rises = self.rises_alone(reading, passed_k, view.standing.resolution);
        self.rise.take(reading, self.reading.slope_k_per_s);
        let slows = self.rise.slows(own_k);
        // A rise that the sensor's own errors could be slows down or does not as they will.
        let rose = self.rise.over_seconds(reading).is_none_or(|rose| rose.0 >= RISES_K + own_k);
        // It is followed from when the drive went off, and judged once no liner can be what heats it.
        let heated = !slows && (reading - expectation.liner).0 >= LINER_BELOW_K;
        let above = passed_k > ABOVE_K + own_k + PASSED_SHARE * self.passed_k;
        self.top = self.top.max(reading);
        let back = self.top.max(expectation.reading_nominal);
        let shuts = view.door.may_be_open && reading < back;
        let lasts = if shuts { ABOVE_DOOR_S } else { ABOVE_S };
        self.above.held(above && rose && heated, lasts) || rises && heated
    }

    /// The reading goes on rising, past its ceiling, where every model has long been falling.
    fn rises_alone(&mut self, reading: Celsius, passed_k: f32, step: Kelvins) -> bool {
        let all = self.models.iter().all(|model| model.slope_k_per_s < -FALLS_K_PER_S);
        let fall = self.falls.held(all, FALLS_S);
        let past = passed_k >= RISES_PAST_K.max(3.0 * step.0);
        let rose = self.rise.over_seconds(reading);
        fall && past && rose.is_some_and(|rose| rose.0 >= RISES_K.max(2.0 * step.0))
    }

    /// The drive has been off in this second, or has been off but for pulses for not too long.
    fn is_off(&mut self, on_ticks: u8) -> bool {
        let on = f32::from(on_ticks) / TICKS_PER_SECOND as f32;
        self.on_share += (on - self.on_share) / PULSES_S;
        let pulse = self.on_share <= PULSES_SHARE && self.off.count() < PULSES_FORGIVEN_S;
        self.off.held(on_ticks == 0 || pulse, 1)
    }

    /// Takes what the models show.
    fn follow(&mut self, models: [Celsius; MODELS]) {
        for (model, value) in self.models.iter_mut().zip(models) {
            model.turn(if self.begun { (value - model.value).0 } else { 0.0 });
            model.value = value;
        }
        self.begun = true;
    }

    fn forget(&mut self) {
        self.reading.way = None;
        self.models.iter_mut().for_each(|model| model.way = None);
        self.passed_k = 0.0;
        self.top = Celsius::default();
        self.above.clear();
        self.falls.clear();
        self.rise = Rise::default();
    }
}

impl Course {
    fn turn(&mut self, slope_k_per_s: f32) {
        self.slope_k_per_s += SLOPE_SHARE * (slope_k_per_s - self.slope_k_per_s);
    }

    /// How far it is past where a sensor that nothing heats any more may be, K.
    fn passed_k(&mut self, reach_s: f32) -> f32 {
        let end = self.value + Kelvins(reach_s * self.slope_k_per_s.max(0.0));
        let way = match self.way {
            None => Way { now: self.value, end },
            Some(way) => {
                let end = way.end.min(end);
                Way { now: way.now + Kelvins((end - way.now).0.max(0.0) / reach_s), end }
            }
        };
        self.way = Some(way);
        (self.value - way.now).0
    }
}
