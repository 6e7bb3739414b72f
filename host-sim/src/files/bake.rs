//! A bake file: the controller's bake, the words on its steps, and what a rehearsal replays.

use truesoak_core::bake::{Bake, Limits};
use truesoak_core::units::Celsius;

use super::quantity::Scale;

/// One bake file, read.
#[derive(Clone, Debug, PartialEq)]
pub struct BakeFile {
    /// Name.
    pub name: String,
    /// Steps and limits as the controller has them.
    pub bake: Bake,
    /// Words on the steps, same order as `bake.steps`.
    pub steps: Vec<StepWords>,
    /// The scale its first soak is written in (°C without a soak): what screens show by default.
    pub scale: Scale,
    /// Temperature of the oven at the start, °C.
    pub oven_starts_at_c: f64,
    /// `[limits] part_max`, °C, if given.
    pub part_max_c: Option<f64>,
    /// Doors a rehearsal plays.
    pub doors: Vec<DoorScript>,
    /// Answers a rehearsal gives, in order.
    pub answers: Vec<AnswerScript>,
    /// Faults a rehearsal injects.
    pub faults: Vec<FaultScript>,
}

impl BakeFile {
    /// A bake of which nothing is known but what it is called.
    #[must_use]
    pub fn nameless(name: &str) -> Self {
        let limits = Limits { air_max: Celsius(f32::NAN), bake_max_s: 0, door_open_max_s: 0 };
        Self {
            name: name.to_owned(),
            bake: Bake { steps: heapless::Vec::new(), limits },
            steps: Vec::new(),
            scale: Scale::Celsius,
            oven_starts_at_c: f64::NAN,
            part_max_c: None,
            doors: Vec::new(),
            answers: Vec::new(),
            faults: Vec::new(),
        }
    }
}

/// Words on one step.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct StepWords {
    /// Name; `""` where none was given.
    pub name: String,
    /// Question of a check or wait.
    pub ask: String,
    /// The word that means pass.
    pub pass: String,
    /// The word that means fail.
    pub fail: String,
}

/// A moment of a bake.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Moment {
    /// Seconds since the bake's start.
    SinceStart(f64),
    /// Seconds since a step (by index) begins, at every try.
    SinceStep(usize, f64),
}

/// A door opening to play.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DoorScript {
    /// When.
    pub at: Moment,
    /// s.
    pub open_for_s: f64,
    /// The load goes in; only during a load_in.
    pub loads: bool,
    /// Share of the doorway's width, 0..1.
    pub opening: f64,
}

/// What a person says.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Say {
    /// Check passed.
    Pass,
    /// Check failed.
    Fail,
    /// Go on, loaded, coated.
    Go,
}

/// An answer to give.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AnswerScript {
    /// What is said.
    pub say: Say,
    /// After so long, s; absent: 10 min, or as soon as the door has closed.
    pub after_s: Option<f64>,
}

/// Every kind of fault a script may name: the words of the fault table.
pub const FAULT_KINDS: &[&str] = &[
    "thermocouple-open",
    "thermocouple-short",
    "converter-silent",
    "thermocouple-reversed",
    "sensor-type-wrong",
    "reading-stale",
    "reading-frozen",
    "reading-jump",
    "sensor-detached",
    "heater-dead",
    "sensor-moved",
    "drive-welded",
    "permit-welded",
    "air-over-limit",
    "part-over-limit",
    "probe-disagrees",
    "door-left-open",
    "door-switch-stuck",
    "fan-stopped",
    "enclosure-hot",
    "processor-hung",
    "tick-overrun",
    "clock-wrong",
    "memory-corrupt",
    "settings-corrupt",
    "store-failing",
    "supply-lost",
    "button-stuck",
    "link-garbage",
    "link-flood",
    "link-lost",
    "bake-too-long",
    "outside-model",
];

/// Kinds whose size `by` gives, K.
pub const FAULT_KINDS_WITH_SIZE: &[&str] = &["sensor-moved", "reading-jump", "probe-disagrees"];

/// A fault to inject.
#[derive(Clone, Debug, PartialEq)]
pub struct FaultScript {
    /// When.
    pub at: Moment,
    /// Kind, a word of the fault table.
    pub kind: String,
    /// How long, s; absent: stays.
    pub for_s: Option<f64>,
    /// Size where one makes sense, K.
    pub by_k: Option<f64>,
}
