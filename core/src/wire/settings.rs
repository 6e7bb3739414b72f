//! What an oven's board is fitted with, as commissioning left it.
//!
//! The board takes them over the wire only while it is being commissioned (GO held at boot), and
//! keeps them over everything; [`BoardSettings::fault`] refuses what no board can be fitted with.
//! What a bake brings along (gains, pulses) is not here but in [`super::compiled`].

use crate::bake::Bake;
use crate::sensor::{Platinum, Thermocouple};
use crate::two_points::SENSORS;
use crate::units::{Celsius, Kelvins, READING_STEPS_PER_KELVIN};
use serde::{Deserialize, Serialize};

/// The oven's own air limit may be set between these, °C.
pub const AIR_MAX_C: core::ops::RangeInclusive<u16> = 40..=600;
/// Most a sensor is corrected by, either way, K.
pub const CORRECTION_MAX_K: i16 = 50;
/// Reference resistors a converter for resistance sensors may have, Ω.
pub const REFERENCE_OHMS: core::ops::RangeInclusive<u16> = 100..=10_000;

/// What reads a sensor, and which sensor.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Fitting {
    /// MAX31855; the letter must be the chip's own.
    Max31855(Thermocouple),
    /// MAX31856.
    Max31856(Thermocouple),
    /// MAX31865.
    Max31865 {
        /// Its sensor.
        sensor: Platinum,
        /// Wires to the sensor, 2 to 4.
        wires: u8,
        /// Reference resistor, Ω.
        reference_ohms: u16,
    },
}

/// One sensor.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Fitted {
    /// What reads it.
    pub fitting: Fitting,
    /// Added to every reading, steps of 1/128 K; from ice and boiling water.
    pub correction_steps: i16,
}

/// What is fitted and what the oven stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct BoardSettings {
    /// Air sensor.
    pub air: Fitted,
    /// Second air sensor.
    pub air_b: Option<Fitted>,
    /// Part probe.
    pub part_probe: Option<Fitted>,
    /// A switch says whether the door is open.
    pub door_switch: bool,
    /// The contactor's mirror contact is wired.
    pub permit_feedback: bool,
    /// Mains at the heater is seen.
    pub mains_at_heater: bool,
    /// The fan's air is proven.
    pub airflow: bool,
    /// A clock that does not hang on the processor's is counted.
    pub independent_clock: bool,
    /// Mains has 60 Hz, not 50; the converters filter it.
    pub mains_60_hz: bool,
    /// No bake may let the air exceed this, °C.
    pub air_max_c: u16,
}

/// What no board can be fitted with.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum SettingsFault {
    /// Wires or reference resistor of a resistance sensor.
    Fitting,
    /// A correction beyond [`CORRECTION_MAX_K`]: that is another sensor.
    Correction,
    /// An air limit outside [`AIR_MAX_C`].
    AirMax,
}

impl BoardSettings {
    /// The first thing wrong with them.
    #[must_use]
    pub fn fault(&self) -> Option<SettingsFault> {
        let fault = (0..SENSORS).find_map(|sensor| self.sensor(sensor)?.fault());
        fault.or((!AIR_MAX_C.contains(&self.air_max_c)).then_some(SettingsFault::AirMax))
    }

    /// What is fitted as air sensor (0), second air sensor (1) or part probe (2).
    #[must_use]
    pub const fn sensor(&self, sensor: usize) -> Option<&Fitted> {
        match sensor {
            0 => Some(&self.air),
            1 => self.air_b.as_ref(),
            2 => self.part_probe.as_ref(),
            _ => None,
        }
    }

    /// The same, to be changed.
    pub(super) const fn sensor_mut(&mut self, sensor: usize) -> Option<&mut Fitted> {
        match sensor {
            0 => Some(&mut self.air),
            1 => self.air_b.as_mut(),
            2 => self.part_probe.as_mut(),
            _ => None,
        }
    }

    /// The bake stays below what the oven stands.
    #[must_use]
    pub fn allows(&self, bake: &Bake) -> bool {
        bake.limits.air_max <= Celsius(f32::from(self.air_max_c))
    }
}

impl Fitted {
    /// What is added to every reading.
    #[must_use]
    pub fn correction(&self) -> Kelvins {
        Kelvins(f32::from(self.correction_steps) / READING_STEPS_PER_KELVIN)
    }

    fn fault(&self) -> Option<SettingsFault> {
        if let Fitting::Max31865 { wires, reference_ohms, .. } = self.fitting
            && !((2..=4).contains(&wires) && REFERENCE_OHMS.contains(&reference_ohms))
        {
            return Some(SettingsFault::Fitting);
        }
        let largest = CORRECTION_MAX_K * READING_STEPS_PER_KELVIN as i16;
        let corrected = (-largest..=largest).contains(&self.correction_steps);
        (!corrected).then_some(SettingsFault::Correction)
    }
}
