//! What the board is fitted with, and what the computer may ask of it.

use crate::io::Answer;
use crate::regulate::Tuning;
use crate::units::Kelvins;
use serde::{Deserialize, Serialize};

/// What the board is fitted with and tuned to.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Settings {
    /// Air loop.
    pub tuning: Tuning,
    /// Shortest drive pulse, s.
    pub minimum_on_s: f32,
    /// Shortest drive pause, s.
    pub minimum_off_s: f32,
    /// Largest honest difference of two air sensors.
    pub sensor_budget: Kelvins,
    /// The oven has a circulation fan.
    pub fan: bool,
    /// A board on the desk: requests need no GO at the oven.
    #[serde(skip)] // never a computer's to say
    pub is_virtual: bool,
}

/// A request from outside the oven.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Command {
    /// Start the bake.
    Start,
    /// Answer what is asked.
    Answer(Answer),
    /// End the bake.
    Stop,
    /// Acknowledge a trip.
    Acknowledge,
}

/// Why a request was refused.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Refusal {
    /// A bake is running.
    BakeRuns,
    /// No bake is running.
    NoBake,
    /// Nothing is asked.
    NothingAsked,
    /// No trip is latched.
    NoTrip,
    /// A trip is latched.
    TripLatched,
}

impl core::fmt::Display for Refusal {
    fn fmt(&self, formatter: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        formatter.write_str(match self {
            Self::BakeRuns => "a bake is running: stop it first",
            Self::NoBake => "no bake is running",
            Self::NothingAsked => "nothing is being asked",
            Self::NoTrip => "no trip is latched",
            Self::TripLatched => "a trip is latched: remove its cause, then acknowledge it",
        })
    }
}

impl core::error::Error for Refusal {}
