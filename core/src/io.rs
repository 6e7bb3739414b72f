//! What one tick takes in and gives out.
//!
//! [`Outputs`] cannot say "heat" while a trip is latched or the permit is open: the drive exists
//! only inside [`Heat::Allowed`].

use crate::units::Celsius;
use serde::{Deserialize, Serialize};

/// What a converter says of its own transfer.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum Transfer {
    /// A plausible frame.
    #[default]
    Good,
    /// Sensor open.
    Open,
    /// Sensor short to supply or ground.
    Short,
    /// All bits 0 or all bits 1: nobody answers.
    Silent,
    /// A frame the converter cannot send.
    Impossible,
}

/// The newest transfer of one sensor.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sample {
    /// Temperature read; anything, if the transfer was not good.
    pub value: Celsius,
    /// Age of the transfer, ticks; 0 when taken in this tick.
    pub age_ticks: u16,
    /// All bits of the frame, cold junction included; a live sensor's change.
    pub frame: u64,
    /// What the converter says.
    pub transfer: Transfer,
}

/// A transfer older than this is not believed, ticks (0.5 s).
const STALE_TICKS: u16 = 5;

impl Sample {
    /// Of a converter that nobody answers for.
    pub const SILENT: Self =
        Self { value: Celsius(f32::NAN), age_ticks: 0, frame: 0, transfer: Transfer::Silent };

    /// Too old to be believed.
    #[must_use]
    pub fn is_stale(&self) -> bool {
        self.age_ticks > STALE_TICKS
    }
}

/// A door switch.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Door {
    /// Open.
    Open,
    /// Closed.
    Closed,
}

/// Everything the controller knows of the outside in one tick. What is not fitted is `None`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Inputs {
    /// Air sensor.
    pub air: Sample,
    /// Second air sensor.
    pub air_b: Option<Sample>,
    /// Probe on a part.
    pub part_probe: Option<Sample>,
    /// Cold junction of the air sensor's converter.
    pub cold_junction: Option<Celsius>,
    /// Door switch.
    pub door: Option<Door>,
    /// GO is pressed.
    pub go: bool,
    /// STOP is pressed (its normally closed contact is open).
    pub stop: bool,
    /// The contactor's mirror contact says it is closed.
    pub permit_feedback: Option<bool>,
    /// Mains is present at the heater.
    pub mains_at_heater: Option<bool>,
    /// The fan moves air.
    pub airflow: Option<bool>,
    /// Ticks counted by an independent clock since the board started.
    pub independent_ticks: Option<u32>,
    /// The board's own state.
    pub health: Health,
}

impl Inputs {
    /// Before anything was read: a sensor that does not answer, nothing else fitted, no store.
    pub const NOTHING: Self = Self {
        air: Sample::SILENT,
        air_b: None,
        part_probe: None,
        cold_junction: None,
        door: None,
        go: false,
        stop: false,
        permit_feedback: None,
        mains_at_heater: None,
        airflow: None,
        independent_ticks: None,
        health: Health { memory: true, settings: false, store: false, watchdog_resets: 0 },
    };
}

/// What the shell found out about the board itself.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Health {
    /// Memory pattern and image checksum hold.
    pub memory: bool,
    /// Settings read back with a good checksum.
    pub settings: bool,
    /// The store takes records.
    pub store: bool,
    /// Resets by the watchdog since the bake began.
    pub watchdog_resets: u8,
}

impl Default for Health {
    fn default() -> Self {
        Self { memory: true, settings: true, store: true, watchdog_resets: 0 }
    }
}

/// What is done about heat in this tick.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum Heat {
    /// Permit dropped, drive off.
    #[default]
    Cut,
    /// Permit toggled; the drive as given.
    Allowed {
        /// Heater on in this tick.
        drive: bool,
    },
}

impl Heat {
    /// Heater on in this tick.
    #[must_use]
    pub fn drives(self) -> bool {
        matches!(self, Self::Allowed { drive: true })
    }

    /// Permit held in this tick.
    #[must_use]
    pub fn is_allowed(self) -> bool {
        matches!(self, Self::Allowed { .. })
    }
}

/// What is asked of the person at the oven; one question at a time.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Question {
    /// Put the load in, close the door, then GO.
    LoadIn,
    /// The check of the step: GO passes, STOP held fails.
    Check,
    /// The step's work done? then GO.
    Wait,
    /// Was anything new put in while the door was open? GO: no. STOP held: yes.
    AnythingNew,
    /// The door is still open: close it, then GO.
    DoorLeftOpen,
    /// Supply came back: anything new inside? GO: no, go on. STOP held: yes.
    PowerReturned,
    /// A trip is latched: remove the cause, then GO acknowledges.
    Tripped,
}

/// An answer to a question.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Answer {
    /// GO held.
    Go,
    /// STOP held.
    Fail,
}

/// What one tick gives out.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub struct Outputs {
    /// Heat.
    pub heat: Heat,
    /// Circulation fan on.
    pub fan: bool,
    /// What is being asked; lamp and beeper patterns follow from it.
    pub asks: Option<Question>,
}
