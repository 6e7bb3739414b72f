//! The contacts as the settings say they are fitted, and what a pin that cannot be read says.
//!
//! A contact input is low while its contact is closed. What a fault of the pin itself says is what
//! leads to no heat: the door is open, the contactor closed, mains at the heater, no air.

use crate::board::Hardware;
use crate::person::Buttons;
use embedded_hal::digital::InputPin;
use truesoak_core::io::Door;
use truesoak_core::wire::settings::BoardSettings;

/// Contacts besides the buttons.
pub(super) struct Contacts<H: Hardware> {
    pub buttons: Buttons<H::Input, H::Input>,
    pub door: H::Input,
    pub permit_read: H::Input,
    pub mains_proof: H::Input,
    pub airflow: H::Input,
}

/// What they said in one tick; `None` for what is not fitted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Said {
    pub go: bool,
    pub stop: bool,
    pub door: Option<Door>,
    pub permit_feedback: Option<bool>,
    pub mains_at_heater: Option<bool>,
    pub airflow: Option<bool>,
}

impl<H: Hardware> Contacts<H> {
    /// Reads all that is fitted; with no settings the buttons alone.
    pub fn read(&mut self, settings: Option<&BoardSettings>) -> Said {
        let pressed = self.buttons.read();
        let fitted = |is_fitted: fn(&BoardSettings) -> bool| settings.is_some_and(is_fitted);
        let low_or = |pin: &mut H::Input, unread| pin.is_low().unwrap_or(unread);
        let shut = fitted(|of| of.door_switch).then(|| low_or(&mut self.door, false));
        Said {
            go: pressed.go,
            stop: pressed.stop,
            door: shut.map(|shut| if shut { Door::Closed } else { Door::Open }),
            permit_feedback: fitted(|of| of.permit_feedback)
                .then(|| !low_or(&mut self.permit_read, false)),
            mains_at_heater: fitted(|of| of.mains_at_heater)
                .then(|| low_or(&mut self.mains_proof, true)),
            airflow: fitted(|of| of.airflow).then(|| low_or(&mut self.airflow, false)),
        }
    }
}

impl<H: Hardware> core::fmt::Debug for Contacts<H> {
    fn fmt(&self, formatter: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        formatter.write_str("Contacts")
    }
}
