//! What commissioning left: the settings, and which sensors went through ice and boiling water.
//!
//! ```text
//! layout · settings (postcard) · sensors checked, a bit each
//! ```
//!
//! The store keeps these bytes under a check of its own and gives back the old or the new. A layout
//! that is not known here, or settings that fit no board, are none: nothing heats until the board is
//! commissioned again.

use super::settings::BoardSettings;
use super::write;
use crate::two_points::SENSORS;

/// How the bytes are laid out.
const LAYOUT: u8 = 1;

/// Settings and what is known of the sensors they name.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Commissioned {
    /// What is fitted and what the oven stands.
    pub settings: BoardSettings,
    /// Air sensor, second air sensor, part probe: went through both baths since it was fitted.
    pub checked: [bool; SENSORS],
}

impl Commissioned {
    /// Settings whose sensors nobody has checked.
    #[must_use]
    pub const fn unchecked(settings: BoardSettings) -> Self {
        Self { settings, checked: [false; SENSORS] }
    }

    /// Writes them into `bytes`; how many, or `None` if there is no room.
    #[must_use]
    pub fn encode(&self, bytes: &mut [u8]) -> Option<usize> {
        let written = (LAYOUT, self.settings, self.checked);
        Some(write(&written, bytes)?.len())
    }

    /// The settings these bytes are.
    #[must_use]
    pub fn decode(bytes: &[u8]) -> Option<Self> {
        let read = postcard::take_from_bytes::<(u8, BoardSettings, [bool; SENSORS])>(bytes);
        let ((layout, settings, checked), rest) = read.ok()?;
        let holds = layout == LAYOUT && rest.is_empty() && settings.fault().is_none();
        holds.then_some(Self { settings, checked })
    }

    /// Other settings: what was checked stays so only where the very same is fitted.
    #[must_use]
    pub fn with(mut self, settings: BoardSettings) -> Self {
        for (sensor, checked) in self.checked.iter_mut().enumerate() {
            *checked &= self.settings.sensor(sensor) == settings.sensor(sensor);
        }
        Self { settings, ..self }
    }

    /// The same with a sensor that went through both baths and needs this correction.
    #[must_use]
    pub fn corrected(mut self, sensor: usize, correction_steps: i16) -> Self {
        if let Some(fitted) = self.settings.sensor_mut(sensor)
            && let Some(checked) = self.checked.get_mut(sensor)
        {
            fitted.correction_steps = correction_steps;
            *checked = true;
        }
        self
    }

    /// This one went through both baths since it was fitted.
    #[must_use]
    pub fn is_checked(&self, sensor: usize) -> bool {
        self.checked.get(sensor) == Some(&true)
    }

    /// Some fitted sensor has not been checked.
    #[must_use]
    pub fn lacks_a_check(&self) -> bool {
        (0..SENSORS).any(|of| self.settings.sensor(of).is_some() && !self.is_checked(of))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sensor::Thermocouple;
    use crate::wire::settings::{Fitted, Fitting};

    const AIR: Fitted =
        Fitted { fitting: Fitting::Max31856(Thermocouple::K), correction_steps: 12 };

    const SETTINGS: BoardSettings = BoardSettings {
        air: AIR,
        air_b: None,
        part_probe: Some(AIR),
        door_switch: true,
        permit_feedback: true,
        mains_at_heater: false,
        airflow: false,
        independent_clock: true,
        mains_60_hz: false,
        air_max_c: 230,
    };

    #[test]
    fn settings_come_back_and_nothing_else_is_taken_for_them() {
        let kept = Commissioned { settings: SETTINGS, checked: [true, false, true] };
        let mut bytes = [0; 64];
        let len = kept.encode(&mut bytes).unwrap();
        assert_eq!(Commissioned::decode(&bytes[..len]), Some(kept));
        assert_eq!(Commissioned::decode(&bytes[..len - 1]), None);
        assert_eq!(Commissioned::decode(&bytes[..=len]), None);
        bytes[0] = LAYOUT + 1;
        assert_eq!(Commissioned::decode(&bytes[..len]), None);
        let hot = BoardSettings { air_max_c: 601, ..SETTINGS };
        let len = Commissioned { settings: hot, ..kept }.encode(&mut bytes).unwrap();
        assert_eq!(Commissioned::decode(&bytes[..len]), None);
    }

    #[test]
    fn a_check_is_void_for_another_sensor_or_another_correction() {
        let kept = Commissioned { settings: SETTINGS, checked: [true, false, true] };
        assert!(!kept.lacks_a_check());
        assert_eq!(kept.with(BoardSettings { air_max_c: 200, ..SETTINGS }).checked, kept.checked);
        let corrected = Fitted { correction_steps: 13, ..AIR };
        let changed = kept.with(BoardSettings { air: corrected, part_probe: None, ..SETTINGS });
        assert_eq!(changed.checked, [false; 3]);
        assert!(changed.lacks_a_check());
        let second = kept.with(BoardSettings { air_b: Some(AIR), ..SETTINGS });
        assert!(second.lacks_a_check());
        let both = second.corrected(1, -5);
        assert_eq!(both.settings.air_b.map(|of| of.correction_steps), Some(-5));
        assert!(!both.lacks_a_check());
        assert_eq!(kept.corrected(1, -5), kept, "none is fitted");
    }
}
