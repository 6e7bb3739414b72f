//! A bake: the list of steps and limits one run of the oven follows, in SI units.
//!
//! Names and questions stay with the file the bake was read from; here a step is known by its
//! index. [`Bake::faults`] reports every reason a bake cannot run, at once.

pub mod faults;

pub use faults::{BakeFault, FAULTS_MAX, Field, NEAREST_TO_ROOM_K, Reason};

use crate::units::{Celsius, Kelvins};
use heapless::Vec;
use serde::{Deserialize, Serialize};

/// Most steps a bake may have.
pub const STEPS_MAX: usize = 24;

/// One run of the oven.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Bake {
    /// Steps in order.
    pub steps: Vec<Step, STEPS_MAX>,
    /// What no step may exceed.
    pub limits: Limits,
}

/// Limits of the whole bake.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Limits {
    /// Trips above; judged on the upper bound of the true air.
    pub air_max: Celsius,
    /// Longest time with heat allowed, s.
    pub bake_max_s: u32,
    /// Longest door opening in a heated step before the board asks, s.
    pub door_open_max_s: u32,
}

/// One step.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub enum Step {
    /// Bring the air to a temperature, as fast as limits allow or at a rate.
    Ramp(Ramp),
    /// Keep every part in a window for so long.
    Soak(Soak),
    /// Wait, heat cut, until the air or the hottest part is down.
    Cool(Cool),
    /// Ask for the load to be put in.
    LoadIn(LoadIn),
    /// Ask a person for a verdict, heat cut.
    Check(Check),
    /// Wait for a person and then for a time, heat cut.
    Wait(Wait),
}

impl Step {
    /// Its word, the key it has in a file.
    #[must_use]
    pub const fn word(&self) -> &'static str {
        match self {
            Self::Ramp(_) => "ramp",
            Self::Soak(_) => "soak",
            Self::Cool(_) => "cool",
            Self::LoadIn(_) => "load_in",
            Self::Check(_) => "check",
            Self::Wait(_) => "wait",
        }
    }
}

/// See [`Step::Ramp`].
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Ramp {
    /// Air temperature to reach.
    pub to: Celsius,
    /// Rate of the setpoint, K/min; absent: as fast as limits allow.
    pub rate_k_per_min: Option<Kelvins>,
}

/// What a soak is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Purpose {
    /// Bare parts, to drive trapped oil out.
    GasOut,
    /// Coated parts.
    Cure,
    /// Anything else.
    Other,
}

/// What leaving the window does to the credit of a soak.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Dip {
    /// Credit stands still.
    Pause,
    /// Credit starts again at nothing.
    Restart,
}

/// See [`Step::Soak`].
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Soak {
    /// What it is for.
    pub purpose: Purpose,
    /// Lower end of the window every part must be in.
    pub at_least: Celsius,
    /// Upper end.
    pub at_most: Celsius,
    /// Credit that ends the step, s.
    pub for_s: u32,
    /// What leaving the window does.
    pub dip: Dip,
    /// How far the air may be driven above `at_most` while parts lag.
    pub boost: Kelvins,
    /// Ends the step short after so long, s.
    pub give_up_after_s: Option<u32>,
    /// Longest any part may spend above `at_least`, s.
    pub no_longer_than_s: Option<u32>,
}

/// What a cool waits for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum CoolOn {
    /// The air reading.
    Air,
    /// The hottest bound of the parts.
    Parts,
}

/// See [`Step::Cool`].
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Cool {
    /// Temperature to fall to.
    pub to: Celsius,
    /// Of what.
    pub on: CoolOn,
}

/// See [`Step::LoadIn`].
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct LoadIn {
    /// Holds the empty oven there; absent: no heat before the parts are in.
    pub at: Option<Celsius>,
}

/// What a failed check leads to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum OnFail {
    /// Go back to the step with this index.
    RepeatFrom(u8),
    /// The bake ends unfinished.
    Stop,
}

/// See [`Step::Check`].
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Check {
    /// What a fail leads to.
    pub on_fail: OnFail,
    /// Rounds in all, the first included.
    pub tries: u8,
    /// The parts stay in the oven meanwhile.
    pub parts_stay: bool,
}

/// See [`Step::Wait`].
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Wait {
    /// Time from GO, s.
    pub for_s: u32,
    /// The parts stay in the oven meanwhile.
    pub parts_stay: bool,
}
