//! One row of a log.

use super::Reading;
pub use truesoak_core::record::Phase;

/// One row: a second of the bake, or an event (which repeats the last reading and is no input).
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Row {
    /// Time since the bake's start, ticks of 100 ms.
    pub tick: u32,
    /// The second's mean air reading; absent when it was not usable.
    pub air: Option<Reading>,
    /// Second air sensor; absent when not fitted or not usable.
    pub air_b: Option<Reading>,
    /// Part probe; absent when not fitted or not usable.
    pub part_probe: Option<Reading>,
    /// Setpoint of the air, °C; absent when heat is not wanted. Written to 1/1000 K.
    pub setpoint_c: Option<f64>,
    /// Ticks of the second with the drive on, 0 to 10.
    pub on_ticks: u8,
    /// The permit is held.
    pub permit: bool,
    /// The door is open; absent without a switch.
    pub door_open: Option<bool>,
    /// Step, counted from 1; 0 before the first and after the last.
    pub step: u8,
    /// What the controller is doing.
    pub phase: Phase,
    /// No part is colder than this, °C; absent when nothing is inside. Written to 1/1000 K.
    pub coldest_c: Option<f64>,
    /// No part is hotter than this, °C; absent when nothing is inside. Written to 1/1000 K.
    pub hottest_c: Option<f64>,
    /// Credit of the present soak, whole seconds.
    pub credit_s: u32,
    /// What is special about this second.
    pub flags: Flags,
    /// What happened, in words; empty on the row of a second.
    pub event: String,
}

impl Row {
    /// Time since the bake's start, s.
    #[must_use]
    pub fn t_s(&self) -> f64 {
        f64::from(self.tick) / 10.0
    }

    /// Share of full power in this second, 0..1.
    #[must_use]
    pub fn duty(&self) -> f64 {
        f64::from(self.on_ticks) / 10.0
    }
}

/// What is special about a second. On paper: the words that hold, with a space between.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub struct Flags {
    /// The reading was projected to the worst it can have become.
    pub projected: bool,
    /// The airflow proof says that air moves.
    pub airflow: bool,
    /// The bounds were widened by one step of the reading.
    pub widened: bool,
}

impl Flags {
    /// Words and their places, in the order they are written.
    pub(super) fn words(self) -> [(&'static str, bool); 3] {
        [("projected", self.projected), ("airflow", self.airflow), ("widened", self.widened)]
    }

    /// Reads a list of words; the first unknown one is the error.
    pub(super) fn from_words(text: &str) -> Result<Self, &str> {
        let mut flags = Self::default();
        for word in text.split(' ').filter(|word| !word.is_empty()) {
            match word {
                "projected" => flags.projected = true,
                "airflow" => flags.airflow = true,
                "widened" => flags.widened = true,
                other => return Err(other),
            }
        }
        Ok(flags)
    }
}
