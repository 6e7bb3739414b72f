//! The oven board's shell around `truesoak-core`: read, tick, act.
//!
//! Generic over embedded-hal 1.0. The shell owns pins, clock and watchdog; every decision is the
//! core's. Here are the way out of a tick ([`Actuators`]), the ways in ([`converter`], [`person`]), what
//! outlives a supply ([`store`]), the board's end of the [`link`], and the traits a board provides. No
//! binary is built from this crate so far, and nothing in it has driven a heater.
//!
//! The permit is a charge pump that must be toggled every tick: a processor that stops toggling,
//! for whatever reason, drops the contactor. The drive is set before the permit is toggled, and the
//! permit is toggled only when the drive reads back as commanded.
#![no_std]
#![forbid(unsafe_code)]

pub mod converter;
pub mod link;
pub mod person;
pub mod store;

use embedded_hal::digital::{OutputPin, StatefulOutputPin};
use truesoak_core::io::Outputs;

/// A clock that counts ticks of 100 ms.
pub trait Clock {
    /// Ticks since the board started.
    fn ticks(&self) -> u32;
}

/// A watchdog that resets the chip, and with it every output, unless fed.
pub trait Watchdog {
    /// Feeds it; called only after a tick whose outputs read back right.
    fn feed(&mut self);
}

/// Why a tick's outputs could not be put out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ActError {
    /// A pin reported an error.
    Pin,
    /// The drive pin does not read back as commanded; the permit was left untoggled.
    DriveReadBack,
}

/// The two pins heat depends on.
#[derive(Debug)]
pub struct Actuators<Drive, Permit> {
    drive: Drive,
    permit: Permit,
}

impl<Drive: StatefulOutputPin, Permit: StatefulOutputPin> Actuators<Drive, Permit> {
    /// Takes the pins, drive off.
    ///
    /// # Errors
    /// A pin that reports one.
    pub fn new(drive: Drive, permit: Permit) -> Result<Self, ActError> {
        let mut actuators = Self { drive, permit };
        actuators.cut()?;
        Ok(actuators)
    }

    /// Puts a tick's outputs out: drive, read-back, then one toggle of the permit.
    ///
    /// # Errors
    /// A pin error, or a drive that does not read back; then the drive has been tried off and the
    /// permit was not toggled, so the pump lets go.
    pub fn act(&mut self, outputs: &Outputs) -> Result<(), ActError> {
        let done = self.put_out(outputs);
        if done.is_err() {
            let _ = self.cut();
        }
        done
    }

    /// Drive off; the permit falls by itself.
    ///
    /// # Errors
    /// A pin that reports one.
    pub fn cut(&mut self) -> Result<(), ActError> {
        self.drive.set_low().map_err(|_| ActError::Pin)
    }

    fn put_out(&mut self, outputs: &Outputs) -> Result<(), ActError> {
        let on = outputs.heat.drives();
        self.drive.set_state(on.into()).map_err(|_| ActError::Pin)?;
        if self.drive.is_set_high().map_err(|_| ActError::Pin)? != on {
            return Err(ActError::DriveReadBack);
        }
        if outputs.heat.is_allowed() {
            self.permit.toggle().map_err(|_| ActError::Pin)?;
        }
        Ok(())
    }
}

/// Drops every output that could heat; for a panic handler, which has nothing else left.
pub fn drop_outputs(drive: &mut impl OutputPin, permit: &mut impl OutputPin) {
    let _ = permit.set_low();
    let _ = drive.set_low();
}

#[cfg(test)]
mod tests {
    use super::*;
    use core::convert::Infallible;
    use embedded_hal::digital::ErrorType;
    use truesoak_core::io::Heat;

    #[derive(Default)]
    struct Pin {
        high: bool,
        stuck: bool,
        edges: u32,
    }

    impl ErrorType for &mut Pin {
        type Error = Infallible;
    }

    impl OutputPin for &mut Pin {
        fn set_low(&mut self) -> Result<(), Infallible> {
            self.edges += u32::from(self.high);
            self.high &= self.stuck;
            Ok(())
        }

        fn set_high(&mut self) -> Result<(), Infallible> {
            self.edges += u32::from(!self.high);
            self.high = true;
            Ok(())
        }
    }

    impl StatefulOutputPin for &mut Pin {
        fn is_set_high(&mut self) -> Result<bool, Infallible> {
            Ok(self.high)
        }

        fn is_set_low(&mut self) -> Result<bool, Infallible> {
            Ok(!self.high)
        }
    }

    fn allowed(drive: bool) -> Outputs {
        Outputs { heat: Heat::Allowed { drive }, ..Outputs::default() }
    }

    #[test]
    fn the_permit_is_toggled_once_a_tick_while_heat_is_allowed_and_never_else() {
        let (mut drive, mut permit) = (Pin::default(), Pin::default());
        let mut actuators = Actuators::new(&mut drive, &mut permit).unwrap();
        for _ in 0..10 {
            actuators.act(&allowed(true)).unwrap();
        }
        for _ in 0..10 {
            actuators.act(&Outputs::default()).unwrap();
        }
        assert_eq!(permit.edges, 10);
        assert!(!drive.high);
    }

    #[test]
    fn a_drive_that_does_not_read_back_lets_the_permit_fall() {
        let mut drive = Pin { high: true, stuck: true, edges: 0 };
        let mut permit = Pin::default();
        let mut actuators = Actuators::new(&mut drive, &mut permit).unwrap();
        assert_eq!(actuators.act(&allowed(false)), Err(ActError::DriveReadBack));
        assert_eq!(permit.edges, 0);
    }
}
