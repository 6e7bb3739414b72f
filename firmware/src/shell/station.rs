//! Everything of a board but its link: one place that the tick and the computer's requests share.

use super::contacts::Contacts;
use super::sensors::{Read, Sensors};
use super::{Memory, NOTHING, rest};
use crate::board::{Chip, Clock, Hardware, Identity, Parts, Watchdog};
use crate::link::Desk;
use crate::person::Buttons;
use crate::store::Store;
use crate::{ActError, Actuators};
use truesoak_core::Controller;
use truesoak_core::io::{Inputs, Outputs};
use truesoak_core::units::Tick;
use truesoak_core::wire::messages::{Reply, Request};
use truesoak_core::wire::refusal::Refusal;
use truesoak_core::wire::settings::BoardSettings;

/// A board without its link.
pub(super) struct Station<'a, H: Hardware> {
    memory: &'a mut Memory,
    actuators: Actuators<H::Pad, H::Pad>,
    contacts: Contacts<H>,
    sensors: Sensors<H::Bus>,
    clock: H::Clock,
    chip: H::Chip,
    identity: Identity,
    store: Option<Store<H::Flash>>,
    settings: Option<BoardSettings>,
    inputs: Inputs,
}

impl<'a, H: Hardware> Station<'a, H> {
    /// The station, and what is left of the parts.
    pub fn boot(parts: Parts<H>, memory: &'a mut Memory) -> (Self, H::Port, H::Watchdog) {
        let Parts { drive, permit, port, clock, mut watchdog, chip, identity, .. } = parts;
        let actuators = Actuators::new(drive, permit);
        let store = Store::open(parts.flash, parts.region, || watchdog.feed()).ok();
        memory.controller = Some(rest::controller(identity.is_virtual));
        let station = Self {
            memory,
            actuators,
            contacts: Contacts {
                buttons: Buttons::new(parts.go, parts.stop),
                door: parts.door,
                permit_read: parts.permit_read,
                mains_proof: parts.mains_proof,
                airflow: parts.airflow,
            },
            sensors: Sensors::new(parts.converters, None),
            clock,
            chip,
            identity,
            store,
            settings: None,
            inputs: NOTHING,
        };
        (station, port, watchdog)
    }

    /// What time it is.
    pub fn now(&self) -> Tick {
        Tick(self.clock.ticks())
    }

    /// The controller.
    pub fn controller(&self) -> Option<&Controller> {
        self.memory.controller.as_ref()
    }

    /// Reads, ticks and switches the drive.
    pub fn tick(&mut self, now: Tick) -> Result<Outputs, ActError> {
        self.inputs = self.read();
        let controller = self.memory.controller.as_mut();
        let outputs = controller.map_or(Outputs::default(), |of| of.tick(now, &self.inputs));
        self.actuators.drive(&outputs)?;
        Ok(outputs)
    }

    /// The tick's last act.
    pub fn hold(&mut self, outputs: &Outputs) -> Result<(), ActError> {
        self.actuators.hold(outputs)
    }

    fn read(&mut self) -> Inputs {
        let Read { air, air_b, part_probe } = self.sensors.read();
        let said = self.contacts.read(self.settings.as_ref());
        let independent = self.clock.independent_ticks();
        let is_counted = self.settings.is_some_and(|settings| settings.independent_clock);
        Inputs {
            air: air.sample,
            air_b: air_b.map(|reading| reading.sample),
            part_probe: part_probe.map(|reading| reading.sample),
            cold_junction: air.cold_junction,
            door: said.door,
            go: said.go,
            stop: said.stop,
            permit_feedback: said.permit_feedback,
            mains_at_heater: said.mains_at_heater,
            airflow: said.airflow,
            independent_ticks: is_counted.then_some(independent),
            health: NOTHING.health,
        }
    }
}

impl<H: Hardware> Desk for Station<'_, H> {
    fn answer<'b>(&'b mut self, _: &Request<'_>) -> Reply<'b> {
        Reply::Refused(Refusal::NoDocument)
    }
}
