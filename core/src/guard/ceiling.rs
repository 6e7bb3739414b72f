//! A drive that is off makes no air rise: how far a reading may still go, and when it went further.
//!
//! With the drive commanded off the element only cools, so a reading ends near what it was already
//! on its way to. Near, because a heavy element or a light liner goes on heating the air for a
//! while: by as much as the model's own ovens, lowest to highest, pass what *they* were on their
//! way to. An oven between the models may pass both for a while, but then its rise slows down
//! ([`Rise`]). Whatever heats past both and does not slow is heat nobody commanded.

use super::View;
use super::rise::{HALF_A_MINUTE, HALF_A_MINUTE_S, Rise, SOME_SECONDS};
use crate::persist::Persist;
use crate::units::{Celsius, Kelvins, TICKS_PER_SECOND};

/// The air follows the element within this, s.
const AIR_FOLLOWS_S: f32 = 8.0;
/// Reading above its ceiling, K, besides what the models pass theirs by and the sensor's own:
const ABOVE_K: f32 = 1.0;
/// two steps of its converter, one of which hides a slope, and this many deviations of its noise
/// (six of a second's mean) …
const STEPS: f32 = 2.0;
const SIGMAS: f32 = 2.0;
/// … for so long, and not slowing down, s …
const ABOVE_S: u32 = 3;
/// … nor for as long before as it did slow down, up to this, s: with the seconds above longer than a
/// reading is kept for, one of which by itself can hide that a rise slows …
const SLOWED_S: u8 = 4;
/// … and for so long where no switch tells of a door: one that stood ajar and is shut lets the air rise
/// to where it would have been, wherever that is, less and less.
const ABOVE_DOOR_S: u32 = 15;
/// … and faster than any drive heats it: by so many times the fastest rise at full power in this bake.
const LEAPS: f32 = 1.15;
/// No model rises by more than this share of its slope: what an oven of the spread may do is no weld.
const SLOWER_SHARE: f32 = 0.75;
/// So far above, K, a rise that goes on over half a minute is enough, if it has not slowed down for a
/// minute: whether a slow one does in some seconds is lost in its sensor's errors. It lasts so long, s, or
/// without a switch so long, and by so much less for every kelvin that it is further above, s/K. And it
/// is no less than this share of what full power last made in as long: a liner goes on warming the air
/// for minutes, hardly less in each, a drive as fast as before.
const FAR_K: f32 = 2.0;
const FAR_S: f32 = 10.0;
const FAR_DOOR_S: f32 = 50.0;
const FAR_DOOR_S_PER_K: f32 = 5.0;
const FAR_SHARE: f32 = 0.25;
/// Longer than this, s, the models rise with the liner that the reading heats.
const EARLY_S: u32 = 60;
/// The liner must be this far below the reading: a liner as hot as the air can heat it, K.
const LINER_BELOW_K: f32 = 5.0;
/// A weak heater takes long past its ceiling. A reading this far past it, K …
const RISES_PAST_K: f32 = 0.65;
/// … that rose by this, K, at least two and three steps of its converter …
const RISES_K: f32 = 0.5;
/// … in some seconds, where every model falls about as fast, by this share …
const FALLS_SHARE: f32 = 0.5;
/// … or by so many times that, or in half a minute where it has not slowed down for a minute …
const QUICKLY: f32 = 2.0;
/// … and does not slow down, in which every model fell faster than this, K/s, for so long, s, is heated all
/// the same …
const FALLS_K_PER_S: f32 = 0.008;
const FALLS_S: u32 = 15;
/// … and so is one as far below it, where a drive welds that has long been off, for so long, s, or one
/// that has come up from its lowest by this, K, where no model rises by more than this share of its slope.
const FALLEN_S: u32 = 30;
const TURNED_K: f32 = 2.0;
const TURNED_SHARE: f32 = 0.25;
/// A rise of at least so many times the sensor's own that in half a minute has lost nothing to speak of
/// is heated as before; half of what ovens between the models may pass their ceiling by is enough then.
const UNSLOWED_OWN: f32 = 4.0;
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
    /// … while no liner can have risen by what heats it.
    passed_early_k: f32,
    above: Persist,
    /// Every model falls.
    falls: Persist,
    /// The reading goes on rising far past its ceiling, or from far below it, or as if nothing had ended.
    far: Persist,
    fallen: Persist,
    weak: Persist,
    unslowed: Persist,
    /// The lowest reading since the drive went off.
    lowest: Option<Celsius>,
    /// The fastest rise at full power, long after any door, K/s; 0 until there was one.
    full_power_k_per_s: f32,
    /// The rise when full power was last on, long after any door, K/s.
    last_full_k_per_s: f32,
    rise: Rise,
    /// It slowed down in the last second.
    slowed: bool,
    /// For so long a rise that slowed down is taken to do so yet, s.
    slow_s: u8,
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

/// What a second shows while the drive is off.
#[derive(Clone, Copy, Debug)]
struct Seen {
    /// How far the reading is past its ceiling, K, and how far is more than its sensor's steps.
    passed_k: f32,
    past_k: f32,
    /// What of it neither the sensor nor an oven between the models explains, K.
    over_k: f32,
    /// The same, of ovens whose liner does not rise with the reading, K, and of the models alone.
    far_k: f32,
    near_k: f32,
    /// Its rise over some seconds and over half a minute, K, and how much is one.
    rose_k: f32,
    rose_slowly_k: f32,
    rises_k: f32,
    /// What the sensor's steps and noise can add to a rise, K.
    own_k: f32,
    slows: bool,
    /// It has not slowed down for a minute, and is as fast as something heated.
    goes_on: bool,
    as_heated: bool,
    /// It has lost nothing in half a minute.
    unslowed: bool,
    /// It has come up from its lowest, and no model with it.
    turned: bool,
    /// It rises faster than full power has made it.
    leaps: bool,
    /// It rises faster than any model by more than a slope is rough by.
    outpaces: bool,
    /// Every model falls about as fast as it rises.
    opposite: bool,
    /// Every model has long been falling.
    alone: bool,
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
        if settled && u32::from(on_ticks) == TICKS_PER_SECOND {
            let slope_k_per_s = self.reading.slope_k_per_s;
            self.full_power_k_per_s = self.full_power_k_per_s.max(slope_k_per_s);
            self.last_full_k_per_s = slope_k_per_s;
        }
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
        if self.off.count() <= EARLY_S {
            self.passed_early_k = self.passed_k;
        }
        self.reading.value = reading;
        let passed_k = self.reading.passed_k(reach_s);
        let seen = self.look(view, reading, passed_k);
        // It is followed from when the drive went off, and judged once no liner can be what heats it.
        let heated = (reading - expectation.liner).0 >= LINER_BELOW_K;
        self.finds(&seen, heated, view.door.may_have_been_shut())
    }

    /// What the second shows of a reading that is so far past its ceiling, K.
    #[inline(never)] // inlined it takes 76 bytes more of the chip's flash
    fn look(&mut self, view: &View<'_>, reading: Celsius, passed_k: f32) -> Seen {
        let step_k = view.standing.resolution.0;
        let own_k = STEPS * step_k + SIGMAS * view.standing.noise.0;
        self.rise.take(reading, self.reading.slope_k_per_s);
        let slope_k_per_s = self.reading.slope_k_per_s;
        let model_slopes_k_per_s = self.models.iter().map(|model| model.slope_k_per_s);
        let fastest_k_per_s = model_slopes_k_per_s.fold(f32::NEG_INFINITY, f32::max);
        let rose_slowly_k = self.rise.over(HALF_A_MINUTE, reading);
        let lowest = self.lowest.map_or(reading, |lowest| lowest.min(reading));
        self.lowest = Some(lowest);
        let turned = (reading - lowest).0 >= TURNED_K + own_k;
        Seen {
            passed_k,
            past_k: RISES_PAST_K.max(3.0 * step_k),
            over_k: passed_k - own_k - PASSED_SHARE * self.passed_k,
            far_k: passed_k - own_k - PASSED_SHARE * self.passed_early_k,
            near_k: passed_k - own_k - self.passed_early_k,
            rose_k: self.rise.over(SOME_SECONDS, reading),
            rose_slowly_k,
            rises_k: RISES_K.max(2.0 * step_k),
            own_k,
            slows: self.rise.slows(own_k),
            goes_on: self.rise.goes_on(own_k),
            as_heated: rose_slowly_k >= FAR_SHARE * HALF_A_MINUTE_S * self.last_full_k_per_s,
            unslowed: rose_slowly_k >= UNSLOWED_OWN * own_k && self.rise.is_unslowed(own_k),
            turned: turned && fastest_k_per_s < TURNED_SHARE * slope_k_per_s,
            leaps: self.full_power_k_per_s > 0.0 && slope_k_per_s > LEAPS * self.full_power_k_per_s,
            outpaces: fastest_k_per_s < SLOWER_SHARE * slope_k_per_s,
            opposite: fastest_k_per_s < -FALLS_SHARE * slope_k_per_s,
            alone: self.falls.held(fastest_k_per_s < -FALLS_K_PER_S, FALLS_S),
        }
    }

    /// Each finding follows its own time, whatever the others found.
    fn finds(&mut self, seen: &Seen, heated: bool, may_be_shut: bool) -> bool {
        let (above_s, far_s) = if may_be_shut {
            let sooner_s = FAR_DOOR_S_PER_K * (seen.far_k - FAR_K);
            (ABOVE_DOOR_S, (FAR_DOOR_S - sooner_s).max(FAR_S))
        } else {
            (ABOVE_S, FAR_S)
        };
        let leaps = may_be_shut && seen.leaps;
        // Looked at for long enough, a rise that slows down does so for more than a second.
        let slows = seen.slows && (!may_be_shut || self.slowed);
        self.slowed = seen.slows;
        self.slow_s = if seen.slows {
            (self.slow_s + 1).min(SLOWED_S)
        } else {
            self.slow_s.saturating_sub(1)
        };
        let may_slow_yet = !may_be_shut && self.slow_s > 0;
        let steady = heated && !slows && !leaps;
        let quickly_k = if seen.opposite { seen.rises_k } else { QUICKLY * seen.rises_k };
        let quickly = seen.rose_k >= quickly_k;
        let slowly = seen.rose_slowly_k >= seen.rises_k;
        // A rise that the sensor's own errors could be slows down or does not as they will.
        let rose = seen.rose_k >= RISES_K + seen.own_k;
        let above = steady && !may_slow_yet && rose && seen.outpaces && seen.over_k > ABOVE_K;
        let above = self.above.held(above, above_s);
        let goes_on = heated && slowly && seen.goes_on && seen.as_heated;
        // How long is asked of it moves with how far it is, a part of a second too.
        let far = self.far.held(goes_on && seen.far_k > FAR_K, 1);
        let far = far && (self.far.count() + 1) as f32 > far_s;
        let fell = seen.passed_k <= -seen.past_k;
        let from_below = seen.alone && fell || seen.turned;
        let fallen = self.fallen.held(steady && slowly && from_below, FALLEN_S);
        let unslowed = steady && seen.unslowed && seen.outpaces && seen.near_k > FAR_K;
        let unslowed = self.unslowed.held(unslowed, FAR_S as u32);
        let risen = quickly || slowly && seen.goes_on;
        let weak = steady && !may_slow_yet && risen && seen.alone && seen.passed_k >= seen.past_k;
        let weak = self.weak.held(weak, above_s);
        above || far || fallen || unslowed || weak
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
        (self.passed_k, self.passed_early_k) = (0.0, 0.0);
        self.above.clear();
        self.falls.clear();
        self.far.clear();
        self.fallen.clear();
        self.weak.clear();
        self.unslowed.clear();
        self.lowest = None;
        self.rise = Rise::default();
        (self.slowed, self.slow_s) = (false, 0);
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
