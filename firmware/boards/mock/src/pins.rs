//! Pins: levels of the outside, as `wiring.md` has them.

use crate::World;
use crate::outside::{Act, Outside};
use embedded_hal::digital::{Error, ErrorKind, ErrorType, InputPin, OutputPin};

/// A pin that reports an error.
#[derive(Clone, Copy, Debug)]
pub struct Broken;

impl Error for Broken {
    fn kind(&self) -> ErrorKind {
        ErrorKind::Other
    }
}

/// Drive or permit: set as an output, read at the pad.
#[derive(Debug)]
pub struct Pad {
    pub(crate) world: World,
    pub(crate) is_drive: bool,
}

impl Pad {
    fn set(&mut self, high: bool) {
        self.world.change(|outside| {
            if self.is_drive {
                outside.drive = outside.drive_stuck.unwrap_or(high);
                outside.note(Act::Drives);
                return;
            }
            let high = outside.permit_stuck.unwrap_or(high);
            if outside.permit != high {
                outside.permit = high;
                outside.permit_edges += 1;
                outside.note(Act::Toggles);
                outside.last_edge = Some(outside.ticks);
            }
        });
    }
}

impl ErrorType for Pad {
    type Error = Broken;
}

impl OutputPin for Pad {
    fn set_low(&mut self) -> Result<(), Broken> {
        self.set(false);
        Ok(())
    }

    fn set_high(&mut self) -> Result<(), Broken> {
        self.set(true);
        Ok(())
    }
}

impl InputPin for Pad {
    fn is_high(&mut self) -> Result<bool, Broken> {
        let is_drive = self.is_drive;
        Ok(self.world.look(|outside| if is_drive { outside.drive } else { outside.permit }))
    }

    fn is_low(&mut self) -> Result<bool, Broken> {
        self.is_high().map(|high| !high)
    }
}

/// Which output.
#[derive(Clone, Copy, Debug)]
pub(crate) enum OutputKind {
    Fan,
    Lamp,
    Beeper,
}

/// Fan, lamp or beeper.
#[derive(Debug)]
pub struct SwitchedPin {
    pub(crate) world: World,
    pub(crate) kind: OutputKind,
}

impl SwitchedPin {
    fn set(&mut self, high: bool) {
        self.world.change(|outside| match self.kind {
            OutputKind::Fan => outside.fan = high,
            OutputKind::Lamp => outside.lamp = high,
            OutputKind::Beeper => outside.beeper = high,
        });
    }
}

impl ErrorType for SwitchedPin {
    type Error = Broken;
}

impl OutputPin for SwitchedPin {
    fn set_low(&mut self) -> Result<(), Broken> {
        self.set(false);
        Ok(())
    }

    fn set_high(&mut self) -> Result<(), Broken> {
        self.set(true);
        Ok(())
    }
}

/// Which contact.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Contact {
    Go,
    Stop,
    Door,
    Permit,
    Mains,
    Airflow,
}

/// A contact input: low while its contact is closed.
#[derive(Debug)]
pub struct ContactPin {
    pub(crate) world: World,
    pub(crate) contact: Contact,
}

impl ContactPin {
    fn is_closed(&self, outside: &Outside) -> bool {
        match self.contact {
            Contact::Go => outside.go,
            Contact::Stop => !outside.stop,
            Contact::Door => !outside.door_open,
            // The mirror contact is shut while the contactor is open.
            Contact::Permit => {
                !outside.contactor_shows.unwrap_or_else(|| outside.contactor_closed())
            }
            Contact::Mains => outside.mains_shows.unwrap_or_else(|| outside.heats()),
            Contact::Airflow => outside.air_moves,
        }
    }
}

impl ErrorType for ContactPin {
    type Error = Broken;
}

impl InputPin for ContactPin {
    fn is_high(&mut self) -> Result<bool, Broken> {
        self.is_low().map(|low| !low)
    }

    fn is_low(&mut self) -> Result<bool, Broken> {
        self.world.look(|outside| {
            if outside.contacts_broken { Err(Broken) } else { Ok(self.is_closed(outside)) }
        })
    }
}
