//! One second of a bake as the log keeps it, and the checkpoint that outlives a lost supply.

use crate::bake::STEPS_MAX;
use crate::bounds::{Hottest, Trust};
use crate::guard::Trip;
use crate::units::{Celsius, Reading};
use serde::{Deserialize, Serialize};

/// What the bake is doing, one word.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default, Serialize, Deserialize)]
#[allow(missing_docs)] // the words of the log's phase column
pub enum Phase {
    #[default]
    Idle,
    Ramp,
    Approach,
    Soak,
    Recover,
    Cool,
    LoadIn,
    Check,
    Wait,
    Done,
    Tripped,
}

impl Phase {
    /// Every phase.
    pub const ALL: [Self; 11] = [
        Self::Idle,
        Self::Ramp,
        Self::Approach,
        Self::Soak,
        Self::Recover,
        Self::Cool,
        Self::LoadIn,
        Self::Check,
        Self::Wait,
        Self::Done,
        Self::Tripped,
    ];

    /// The phase a word names.
    #[must_use]
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|phase| phase.word() == word)
    }

    /// Its word.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Idle => "idle",
            Self::Ramp => "ramp",
            Self::Approach => "approach",
            Self::Soak => "soak",
            Self::Recover => "recover",
            Self::Cool => "cool",
            Self::LoadIn => "load_in",
            Self::Check => "check",
            Self::Wait => "wait",
            Self::Done => "done",
            Self::Tripped => "tripped",
        }
    }
}

/// One second.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Record {
    /// Seconds since the bake began.
    pub second: u32,
    /// Mean air reading; `None` when nothing was believed.
    pub reading: Option<Reading>,
    /// Mean reading of the second air sensor.
    pub reading_b: Option<Reading>,
    /// Mean reading of the part probe.
    pub part_probe: Option<Reading>,
    /// Setpoint of the reading.
    pub setpoint: Option<Celsius>,
    /// Ticks with the drive on, 0..=10.
    pub on_ticks: u8,
    /// Heat was allowed in the last tick of the second.
    pub permit: bool,
    /// The door was open in some tick of the second.
    pub door_open: bool,
    /// Step, from 1; 0 outside a bake.
    pub step: u8,
    /// Phase.
    pub phase: Phase,
    /// Coldest bound of what is inside.
    pub coldest: Option<Celsius>,
    /// Hottest bound.
    pub hottest: Option<Celsius>,
    /// Credit of the step, s.
    pub credit_s: u32,
    /// Some transfer of the second was not believed.
    pub projected: bool,
    /// What the airflow proof said; `None` without one.
    pub airflow: Option<bool>,
    /// The frame stood still so long that the bounds are widened by a step.
    pub widened: bool,
}

/// A checkpoint is kept so often, s.
pub const CHECKPOINT_S: u32 = 10;

/// What a bake needs to go on after a lost supply; kept every [`CHECKPOINT_S`].
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Checkpoint {
    /// Seconds since the bake began.
    pub second: u32,
    /// Step, by index.
    pub step: u8,
    /// Credit of the step, s.
    pub credit_s: u32,
    /// Time in the step, s.
    pub in_step_s: u32,
    /// Longest any part has been above the lower end of its window, s; 0 where no soak limits it.
    pub stayed_s: u32,
    /// The load was inside.
    pub loaded: bool,
    /// Rounds of every check so far.
    #[serde(with = "crate::wire::checkpoint::each")]
    pub rounds: [u8; STEPS_MAX],
    /// Soaks whose last try ended short.
    #[serde(with = "crate::wire::checkpoint::bits")]
    pub short: [bool; STEPS_MAX],
    /// Ticks with heat allowed so far.
    pub heat_ticks: u32,
    /// Coldest bound; the room if nothing was inside.
    pub coldest: Celsius,
    /// Upper ends of the bounds.
    pub hottest: Hottest,
    /// The air had left the spread: nothing counts for the rest of the bake.
    pub outside_model: bool,
    /// What was thought of the part probe.
    pub probe: Trust,
    /// A latched trip.
    pub trip: Option<Trip>,
}
