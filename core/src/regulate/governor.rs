//! The governor: from a window for the parts to a setpoint for the air.
//!
//! Every ten seconds the bounds are asked for the least and greatest temperature any point would
//! settle at with the air and liner as they are; the answer is there a second or two later. Their
//! distance from the reading is what stands between the reading and the parts: liner, wall view,
//! spots, sensor error, all of it, signed. `lo` and `hi` are the readings that would keep the
//! slowest part just above `at_least` and the fastest just below `at_most`. What the bounds are beyond
//! that, by a noisy reading above all, shows where they come to: a hottest bound that stays past the end
//! of what counts lowers `hi` until it is in. Whatever the window says, no part is to settle above
//! what it stands, once the liner has taken in what the element still holds.
//!
//! Where a soak limits how long parts may be above `at_least`, thin parts wait for thick ones: the
//! air is held so that the hottest part stays just below `at_least` until the slowest is near enough
//! to follow within what the limit leaves, or waiting brings it no nearer.

use crate::bake::Soak;
use crate::units::{Celsius, Kelvins};

/// Seconds between two looks at the equilibria.
const LOOK_S: u8 = 10;
/// Share of a new look in the smoothed value.
const SMOOTHING: f32 = 0.28;
/// Held this far under `hi` while parts lag, K.
const UNDER_HI_K: f32 = 0.5;
/// Boost per K the hottest part is still below `at_most`.
const BOOST_FACTOR: f32 = 0.5;
/// The hottest part is kept this far below `at_most` by the boost, K.
const BOOST_MARGIN_K: f32 = 1.0;
/// A hottest bound that stays past the window's end lowers `hi` by as much in so long, s …
const LOWERS_S: f32 = 900.0;
/// … until it is this far below the window's end, K.
const BELOW_END_K: f32 = 0.1;
/// The coldest must fall this far below `at_least` to be out again, K.
const OUT_AGAIN_K: f32 = 0.5;

/// While parts wait the hottest is kept so far below `at_least`, K.
const WAIT_BELOW_K: f32 = 1.0;
/// Waiting is over when the hottest has passed `at_least` by this, K.
const WAIT_LOST_K: f32 = 2.0;
/// Whether to wait is open as long as the hottest is this far below `at_least`, K.
const OPEN_BELOW_K: f32 = 10.0;
/// Waiting ends when a second of it saves less than this of the stay, s.
const WAIT_GAINS: f32 = 0.05;
/// Least the slowest part is drawn past `at_least`, K.
const DRAWN_LEAST_K: f32 = 1.0;
/// A window is aimed for as if it ended so far below what a part stands: a thin one in quick air
/// comes past the window's end by some of it, and by all of it where a drive welds.
const WINDOW_CLEAR: Kelvins = Kelvins(3.0);

/// The air may come past the peak that full power ends by so far, where power, exchange and sensor are
/// all other than told, K.
const PEAK_UNSURE_K: f32 = 8.0;

/// What a liner was to warm by is forgotten so fast, K/s. When heat ends it warms less at once: a setpoint
/// that followed would have the heat back.
const FORGOTTEN_K_PER_S: f32 = 0.05;

/// Whether thin parts wait for thick ones.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
enum Waiting {
    /// Not decided: nothing is near `at_least`.
    #[default]
    Open,
    /// The hottest part is held below `at_least`.
    Waits,
    /// It need not, or no longer.
    Over,
}

/// State of the governor within one soak.
#[derive(Clone, Copy, Debug, Default)]
pub struct Governor {
    waiting: Waiting,
    below_k: Option<f32>,
    above_k: Option<f32>,
    lowered_k: f32,
    seconds: u8,
    is_in: bool,
    /// What the liner was to warm by, K.
    warms_on_k: f32,
    /// Full power is to end so far below the setpoint, K.
    early_k: f32,
}

/// The soak that is aimed for where the least that a part inside stands is `part_max`: what counts is
/// its whole window all the same.
#[must_use]
pub fn aimed_at(soak: Soak, part_max: Option<Celsius>) -> Soak {
    let clear = part_max.map_or(soak.at_most, |max| max - WINDOW_CLEAR);
    Soak { at_most: soak.at_most.min(clear), ..soak }
}

/// A reading, and the least and greatest equilibrium of any point at it, liner as it is.
pub type Surveyed = (Celsius, (Celsius, Celsius));

/// What the governor looks at.
#[derive(Clone, Copy, Debug)]
pub struct Look {
    /// What a look at the equilibria found, if one has come to its end.
    pub equilibria: Option<Surveyed>,
    /// Coldest bound.
    pub coldest: Celsius,
    /// Hottest bound past the end of what counts, K.
    pub past_k: f32,
    /// Hottest bound, predicted with the heater off.
    pub hottest_ahead: Celsius,
    /// No part is to settle above this.
    pub stands: Celsius,
    /// What the liner still warms by once heat ends, K.
    pub warms_on_k: f32,
    /// What a limit on the parts' stay leaves; `None` without one.
    pub stay: Option<StayLeft>,
}

/// What a limit on the parts' stay above `at_least` leaves.
#[derive(Clone, Copy, Debug)]
pub struct StayLeft {
    /// For the slowest part to come up, s.
    pub for_approach_s: f32,
    /// Longest lag of any part inside, s.
    pub slowest_s: f32,
    /// Hottest bound.
    pub hottest: Celsius,
}

impl Governor {
    /// True when the equilibria are wanted this second.
    #[must_use]
    pub fn wants_equilibria(&self) -> bool {
        self.seconds == 0
    }

    /// It has had a look at the equilibria.
    #[must_use]
    pub fn is_informed(&self) -> bool {
        self.below_k.is_some()
    }

    /// Coldest part in the window.
    #[must_use]
    pub fn is_in(&self) -> bool {
        self.is_in
    }

    /// Thin parts wait for thick ones.
    #[must_use]
    pub fn waits(&self) -> bool {
        self.waiting == Waiting::Waits
    }

    /// So far below the setpoint full power is to end: what a part that settled there would lack to
    /// stand a peak that comes out higher than predicted, K.
    #[must_use]
    pub fn early(&self) -> Kelvins {
        Kelvins(self.early_k)
    }

    /// What no part is to pass for now.
    #[must_use]
    pub fn top(&self, soak: &Soak) -> Celsius {
        if self.waits() { wait_top(soak) } else { soak.at_most }
    }

    /// One second: the setpoint.
    pub fn second(&mut self, soak: &Soak, look: &Look) -> Celsius {
        if let Some((held, (least, greatest))) = look.equilibria {
            smooth(&mut self.below_k, (held - least).0);
            smooth(&mut self.above_k, (greatest - held).0);
        }
        self.warms_on_k = look.warms_on_k.max(self.warms_on_k - FORGOTTEN_K_PER_S);
        let settles = look.stands - Kelvins(self.above_k.unwrap_or(0.0));
        let setpoint = self.setpoint(soak, look).min(settles - Kelvins(self.warms_on_k));
        self.early_k = (PEAK_UNSURE_K - (settles - setpoint).0).max(0.0);
        setpoint
    }

    /// What the window asks for.
    fn setpoint(&mut self, soak: &Soak, look: &Look) -> Celsius {
        self.seconds = if self.seconds + 1 >= LOOK_S { 0 } else { self.seconds + 1 };
        let at_least =
            if self.is_in { soak.at_least - Kelvins(OUT_AGAIN_K) } else { soak.at_least };
        self.is_in = look.coldest >= at_least;
        let lo = soak.at_least + Kelvins(self.below_k.unwrap_or(0.0));
        let past_k = look.past_k + BELOW_END_K;
        self.lowered_k = (self.lowered_k + past_k / LOWERS_S).max(0.0);
        let hi = soak.at_most - Kelvins(self.above_k.unwrap_or(0.0) + self.lowered_k);
        // However far the parts stay below the air, the air goes no further than it was allowed.
        let ceiling = soak.at_most + soak.boost;
        self.waiting = self.next_waiting(soak, look);
        if self.waits() {
            return self.top(soak) - Kelvins(self.above_k.unwrap_or(0.0) + UNDER_HI_K);
        }
        if self.is_in {
            // Where the span is too narrow, `hi` wins: a part too hot is lost, one too cold waits.
            return Celsius(0.5 * (lo.0 + hi.0)).min(hi).min(ceiling);
        }
        let room_k = (soak.at_most - look.hottest_ahead).0 - BOOST_MARGIN_K;
        let boost_k = if soak.boost.0 > 0.0 { BOOST_FACTOR * room_k.max(0.0) } else { 0.0 };
        (hi + Kelvins(boost_k - UNDER_HI_K)).min(ceiling)
    }

    fn next_waiting(&self, soak: &Soak, look: &Look) -> Waiting {
        let Some(stay) = look.stay else { return Waiting::Over };
        let above_k = (stay.hottest - soak.at_least).0;
        if above_k > WAIT_LOST_K || (self.waiting == Waiting::Over && above_k > -OPEN_BELOW_K) {
            return Waiting::Over;
        }
        let need_not = self.is_in || self.follows(soak, look, &stay);
        match (need_not, self.waiting) {
            (false, _) => Waiting::Waits,
            (true, Waiting::Waits) => Waiting::Over,
            (true, _) => Waiting::Open,
        }
    }

    /// The slowest part would follow within what is left, or comes no nearer by waiting.
    fn follows(&self, soak: &Soak, look: &Look, stay: &StayLeft) -> bool {
        let (below_k, above_k) = (self.below_k.unwrap_or(0.0), self.above_k.unwrap_or(0.0));
        let drawn_to = |top: Celsius| top.0 - above_k - UNDER_HI_K - below_k;
        let (held_c, free_c) = (drawn_to(wait_top(soak)), drawn_to(soak.at_most));
        let past_k = (free_c - soak.at_least.0).max(DRAWN_LEAST_K);
        let lacks_k = (soak.at_least - look.coldest).0.max(0.0);
        let follows_s = stay.slowest_s * libm::logf(1.0 + lacks_k / past_k);
        let gains = (held_c - look.coldest.0) / (lacks_k + past_k);
        // Nothing known or not a number: wait.
        follows_s <= stay.for_approach_s || gains < WAIT_GAINS
    }
}

/// What the hottest part is not to pass while it waits.
fn wait_top(soak: &Soak) -> Celsius {
    soak.at_least - Kelvins(WAIT_BELOW_K)
}

fn smooth(value: &mut Option<f32>, new: f32) {
    if new.is_finite() {
        *value = Some(value.map_or(new, |old| old + SMOOTHING * (new - old)));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bake::{Dip, Purpose};

    const SOAK: Soak = Soak {
        purpose: Purpose::Other,
        at_least: Celsius(150.0),
        at_most: Celsius(180.0),
        for_s: 3600,
        dip: Dip::Pause,
        boost: Kelvins(0.0),
        give_up_after_s: None,
        no_longer_than_s: Some(7200),
    };

    /// Parts settle between 8 K below and 6 K above the reading; their slowest lags half an hour.
    fn look(coldest: f32, hottest: f32, for_approach_s: f32) -> Look {
        let held = Celsius(150.0);
        let stay = StayLeft { for_approach_s, slowest_s: 1800.0, hottest: Celsius(hottest) };
        Look {
            equilibria: Some((held, (held - Kelvins(8.0), held + Kelvins(6.0)))),
            coldest: Celsius(coldest),
            past_k: hottest - SOAK.at_most.0,
            hottest_ahead: Celsius(hottest),
            stands: Celsius(f32::INFINITY),
            warms_on_k: 0.0,
            stay: Some(stay),
        }
    }

    fn settled(look: &Look) -> (Governor, Celsius) {
        let mut governor = Governor::default();
        let setpoint = (0..LOOK_S).map(|_| governor.second(&SOAK, look)).last();
        (governor, setpoint.unwrap_or_default())
    }

    #[test]
    fn a_window_that_ends_near_what_a_part_stands_is_aimed_for_three_kelvins_below_that() {
        let top = |part_max: Option<f32>| aimed_at(SOAK, part_max.map(Celsius)).at_most;
        assert_eq!(top(Some(180.0)), Celsius(177.0));
        assert_eq!(top(Some(182.0)), Celsius(179.0));
        assert_eq!([top(Some(190.0)), top(None)], [SOAK.at_most; 2]);
        assert_eq!(aimed_at(SOAK, Some(Celsius(180.0))).at_least, SOAK.at_least);
    }

    #[test]
    fn thin_parts_wait_below_the_window_until_the_slowest_can_follow_in_time() {
        // 20 K to go, drawn 15.5 K past: 1800 s times ln(1 + 20/15.5) is 1491 s.
        let (mut governor, setpoint) = settled(&look(130.0, 140.0, 1480.0));
        assert!(governor.waits());
        // The hottest settles a kelvin below 150 °C, and half a kelvin is kept below that.
        assert!((setpoint.0 - 142.5).abs() < 0.01, "{setpoint:?}");
        assert_eq!(governor.top(&SOAK), Celsius(149.0));
        let setpoint = governor.second(&SOAK, &look(130.0, 149.0, 1500.0));
        assert!(!governor.waits());
        assert!((setpoint.0 - 173.5).abs() < 0.01, "{setpoint:?}");
        // Near the window the decision stands, whatever the estimate says next.
        let _ = governor.second(&SOAK, &look(130.0, 149.0, 1400.0));
        assert!(!governor.waits());
    }

    #[test]
    fn a_liner_that_stops_warming_gives_its_kelvins_back_slowly() {
        // The hottest settles 6 K above what is held, and is to stand 165 °C.
        let warming = |warms_on_k| Look {
            stands: Celsius(165.0),
            warms_on_k,
            stay: None,
            ..look(140.0, 150.0, 0.0)
        };
        let (mut governor, setpoint) = settled(&warming(10.0));
        assert!((setpoint.0 - 149.0).abs() < 0.01, "{setpoint:?}");
        let setpoint = (0..20).map(|_| governor.second(&SOAK, &warming(0.0))).last().unwrap();
        assert!((setpoint.0 - 150.0).abs() < 0.01, "{setpoint:?}");
        // What it comes to warm by counts at once.
        let setpoint = governor.second(&SOAK, &warming(12.0));
        assert!((setpoint.0 - 147.0).abs() < 0.01, "{setpoint:?}");
    }

    #[test]
    fn nobody_waits_who_has_the_time_or_nothing_to_gain() {
        assert!(!settled(&look(130.0, 140.0, 1500.0)).0.waits());
        // Held, the slowest would settle at 134.5 °C.
        assert!(settled(&look(132.0, 148.0, 0.0)).0.waits());
        assert!(!settled(&look(134.0, 148.0, 0.0)).0.waits());
        // Above already: waiting would cost what it is to save.
        assert!(!settled(&look(120.0, 153.0, 0.0)).0.waits());
        let free = Look { stay: None, ..look(20.0, 20.0, 0.0) };
        assert!(!settled(&free).0.waits());
    }

    #[test]
    fn a_hottest_bound_that_stays_past_the_window_lowers_the_setpoint_until_it_is_in() {
        let free = |hottest| Look { stay: None, ..look(151.0, hottest, 0.0) };
        let (mut governor, middle) = settled(&free(179.0));
        assert!((middle.0 - 166.0).abs() < 0.01, "{middle:?}");
        // The bound settles 14.6 K above the reading: with the middle held it is past the end.
        let setpoint =
            (0..7200).fold(middle, |setpoint, _| governor.second(&SOAK, &free(setpoint.0 + 14.6)));
        assert!((setpoint.0 + 14.6 - 179.9).abs() < 0.02, "{setpoint:?}");
        let setpoint = (0..7200).map(|_| governor.second(&SOAK, &free(179.0))).last();
        assert_eq!(setpoint, Some(middle));
        let _ = governor.second(&SOAK, &free(f32::NAN));
        assert_eq!(governor.second(&SOAK, &free(179.0)), middle);
    }

    #[test]
    fn no_part_is_to_settle_above_what_it_stands_wherever_its_window_ends() {
        let stands = |stands_c: f32, coldest: f32| {
            let free = Look { stay: None, ..look(coldest, 140.0, 0.0) };
            settled(&Look { stands: Celsius(stands_c), ..free }).1.0
        };
        // Of 6 K above the reading: 174 is the window's end, 173.5 and 166 what is held below it.
        for (coldest, held_c) in [(130.0, 173.5), (151.0, 166.0)] {
            assert!((stands(200.0, coldest) - held_c).abs() < 0.01);
            assert!((stands(170.0, coldest) - 164.0).abs() < 0.01);
        }
    }

    #[test]
    fn full_power_ends_early_by_what_the_air_lacks_of_eight_kelvins_below_what_a_part_stands() {
        // Of 6 K above the reading: what is held at most is 173.5, or as low as the part asks for.
        let early_k = |stands_c: f32| {
            let free = Look { stay: None, ..look(130.0, 140.0, 0.0) };
            settled(&Look { stands: Celsius(stands_c), ..free }).0.early().0
        };
        for (stands_c, expected_k) in
            [(f32::INFINITY, 0.0), (188.0, 0.0), (185.0, 2.5), (170.0, 8.0)]
        {
            assert!((early_k(stands_c) - expected_k).abs() < 0.01, "{stands_c}");
        }
    }

    #[test]
    fn parts_that_have_cooled_again_wait_again() {
        let (mut governor, _) = settled(&look(120.0, 153.0, 0.0));
        let _ = governor.second(&SOAK, &look(120.0, 145.0, 0.0));
        assert!(!governor.waits());
        let _ = governor.second(&SOAK, &look(120.0, 139.0, 0.0));
        assert!(governor.waits());
    }

    #[test]
    fn while_nothing_is_known_parts_wait() {
        assert!(settled(&look(20.0, 20.0, f32::NEG_INFINITY)).0.waits());
        assert!(settled(&look(20.0, 20.0, f32::NAN)).0.waits());
    }
}
