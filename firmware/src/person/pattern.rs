//! Patterns of lamp and beeper: how many beeps, how long, how often.
//!
//! A pattern is a group of long beeps, then short ones, then a pause. A person counts it: no group
//! has more than five of either. The lamp tells the same without the ear: it is lit with each beep
//! where something is asked, dark with each beep where something is wrong. [`level`] is the whole
//! of it, a pure function of the tick since the pattern began.

use core::fmt;
use truesoak_core::units::TICKS_PER_SECOND;

/// A short beep, ticks.
pub const SHORT_TICKS: u32 = 2;
/// A long beep, ticks.
pub const LONG_TICKS: u32 = 8;
/// Silence after a beep of a group, ticks.
pub const GAP_TICKS: u32 = 3;

/// What the lamp does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Lamp {
    /// Dark.
    Off,
    /// Lit.
    On,
    /// Lit with each beep, also where the beeper has gone silent.
    LitWithBeeps,
    /// Lit but for each beep.
    DarkWithBeeps,
}

/// A pattern of lamp and beeper.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Pattern {
    /// What the lamp does.
    pub lamp: Lamp,
    /// Long beeps of a group, first.
    pub long: u8,
    /// Short beeps of a group, after them.
    pub short: u8,
    /// From the start of a group to the start of the next, ticks; 0: no beeps.
    pub every_ticks: u32,
    /// Groups until the beeper is silent for good; `None`: it goes on.
    pub groups: Option<u32>,
}

/// Lamp and beeper in one tick.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Level {
    /// The lamp is lit.
    pub lamp: bool,
    /// The beeper sounds.
    pub beeper: bool,
}

/// Lamp and beeper `tick` ticks after the pattern began.
#[must_use]
pub fn level(pattern: Pattern, tick: u32) -> Level {
    let beat = pattern.is_beat(tick);
    let silent = pattern.groups.is_some_and(|groups| pattern.group(tick) >= groups);
    let lamp = match pattern.lamp {
        Lamp::Off => false,
        Lamp::On => true,
        Lamp::LitWithBeeps => beat,
        Lamp::DarkWithBeeps => !beat,
    };
    Level { lamp, beeper: beat && !silent }
}

impl Pattern {
    /// A pattern without a beep.
    pub(super) const fn silent(lamp: Lamp) -> Self {
        Self { lamp, long: 0, short: 0, every_ticks: 0, groups: None }
    }

    /// Groups of beeps with a pause between them, for as long as it is shown.
    pub(super) const fn every_s(lamp: Lamp, long: u8, short: u8, seconds: u32) -> Self {
        let every_ticks = seconds * TICKS_PER_SECOND;
        Self { lamp, long, short, every_ticks, groups: None }
    }

    /// The same, silent after so many groups.
    pub(super) const fn at_most(self, groups: u32) -> Self {
        Self { groups: Some(groups), ..self }
    }

    /// Long beeps without a pause.
    pub(super) const fn long_without_pause(lamp: Lamp) -> Self {
        let every_ticks = LONG_TICKS + GAP_TICKS;
        Self { lamp, long: 1, short: 0, every_ticks, groups: None }
    }

    /// Short beeps without a pause.
    pub(super) const fn short_without_pause(lamp: Lamp) -> Self {
        let every_ticks = 2 * SHORT_TICKS;
        Self { lamp, long: 0, short: 1, every_ticks, groups: None }
    }

    /// Sound or light of a beep `tick` ticks after the pattern began, were it never to go silent.
    fn is_beat(self, tick: u32) -> bool {
        let Some(within) = tick.checked_rem(self.every_ticks) else { return false };
        let long_ends = u32::from(self.long) * (LONG_TICKS + GAP_TICKS);
        if within < long_ends {
            return within % (LONG_TICKS + GAP_TICKS) < LONG_TICKS;
        }
        let within = within - long_ends;
        within < u32::from(self.short) * (SHORT_TICKS + GAP_TICKS)
            && within % (SHORT_TICKS + GAP_TICKS) < SHORT_TICKS
    }

    fn group(self, tick: u32) -> u32 {
        tick.checked_div(self.every_ticks).unwrap_or(0)
    }

    /// From the start of a group to the end of its last beep, ticks.
    #[must_use]
    pub fn group_ticks(self) -> u32 {
        let long = u32::from(self.long) * (LONG_TICKS + GAP_TICKS);
        let short = u32::from(self.short) * (SHORT_TICKS + GAP_TICKS);
        (long + short).saturating_sub(GAP_TICKS)
    }
}

impl fmt::Display for Lamp {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        formatter.write_str(match self {
            Self::Off => "off",
            Self::On => "on",
            Self::LitWithBeeps => "lit with each beep",
            Self::DarkWithBeeps => "dark with each beep",
        })
    }
}

/// The beeps in words, the same in docs and on screens: "1 long, 2 short, every 6 s".
impl fmt::Display for Pattern {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        match (self.long, self.short) {
            (0, 0) => return formatter.write_str("silent"),
            (long, 0) => write!(formatter, "{long} long")?,
            (0, short) => write!(formatter, "{short} short")?,
            (long, short) => write!(formatter, "{long} long, {short} short")?,
        }
        if self.every_ticks < 2 * TICKS_PER_SECOND {
            return formatter.write_str(", without a pause");
        }
        match self.groups {
            Some(1) => formatter.write_str(", once"),
            Some(groups) => write!(formatter, ", every {} s, {groups} times", self.every_s_told()),
            None => write!(formatter, ", every {} s", self.every_s_told()),
        }
    }
}

impl Pattern {
    fn every_s_told(&self) -> u32 {
        self.every_ticks / TICKS_PER_SECOND
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn drawn(pattern: Pattern, ticks: u32) -> ([bool; 64], [bool; 64]) {
        let at = |tick: usize| level(pattern, tick as u32);
        assert!(ticks as usize <= 64);
        let on = |tick: usize| tick < ticks as usize;
        (
            core::array::from_fn(|tick| on(tick) && at(tick).lamp),
            core::array::from_fn(|tick| on(tick) && at(tick).beeper),
        )
    }

    fn written(text: &str) -> [bool; 64] {
        let bytes = text.as_bytes();
        core::array::from_fn(|index| bytes.get(index) == Some(&b'#'))
    }

    #[test]
    fn a_group_is_its_long_beeps_then_its_short_ones_then_a_pause() {
        let pattern = Pattern::every_s(Lamp::LitWithBeeps, 1, 2, 3);
        let expected = written("########...##...##............########...##...##............");
        assert_eq!(drawn(pattern, 60), (expected, expected));
        assert_eq!(pattern.group_ticks(), 18);
    }

    #[test]
    fn a_lamp_that_is_dark_with_the_beeps_is_lit_in_the_pause() {
        let pattern = Pattern::every_s(Lamp::DarkWithBeeps, 0, 2, 2);
        let (lamp, beeper) = drawn(pattern, 20);
        assert_eq!(beeper, written("##...##............."));
        assert_eq!(lamp, written("..###..#############"));
    }

    #[test]
    fn a_beeper_that_has_said_it_often_enough_is_silent_while_the_lamp_goes_on() {
        let pattern = Pattern::every_s(Lamp::LitWithBeeps, 0, 1, 2).at_most(2);
        let (lamp, beeper) = drawn(pattern, 60);
        assert_eq!(beeper, written("##..................##"));
        assert_eq!(lamp, written("##..................##..................##"));
        assert!(!level(pattern, u32::MAX - 15).beeper, "for good");
    }

    #[test]
    fn beeps_without_a_pause_never_pause_longer_than_a_gap() {
        for pattern in
            [Pattern::short_without_pause(Lamp::On), Pattern::long_without_pause(Lamp::On)]
        {
            let silences = (0..500).map(|tick| !level(pattern, tick).beeper);
            let mut run = 0;
            for silent in silences {
                run = if silent { run + 1 } else { 0 };
                assert!(run <= GAP_TICKS);
            }
        }
    }
}
