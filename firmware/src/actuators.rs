//! The two pins heat depends on: drive and permit.
//!
//! A tick puts out its outputs in two halves. [`Actuators::drive`] comes right after the
//! controller's tick: a trip cuts the drive before anything else is done. [`Actuators::hold`] is
//! the tick's last act: the drive is read back once more, and only if it is as commanded the permit
//! is toggled, once. A processor that hangs anywhere in a tick therefore stops toggling.

use embedded_hal::digital::{InputPin, OutputPin};
use truesoak_core::io::Outputs;

/// Why a tick's outputs could not be put out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ActError {
    /// A pin reported an error.
    Pin,
    /// The drive does not read back as commanded; the permit was left untoggled.
    DriveReadBack,
    /// The permit does not read back as it was last set; it was left untoggled.
    PermitReadBack,
}

/// The two pins heat depends on.
#[derive(Debug)]
pub struct Actuators<Drive, Permit> {
    drive: Drive,
    permit: Permit,
    permit_high: bool,
}

impl<Drive: OutputPin + InputPin, Permit: OutputPin + InputPin> Actuators<Drive, Permit> {
    /// Takes the pins, both low. A pin that reports an error shows in the next tick.
    pub fn new(mut drive: Drive, mut permit: Permit) -> Self {
        drop_outputs(&mut drive, &mut permit);
        Self { drive, permit, permit_high: false }
    }

    /// Switches the drive and reads it back.
    ///
    /// # Errors
    /// A pin error, or a drive that does not read back; then it has been tried off.
    pub fn drive(&mut self, outputs: &Outputs) -> Result<(), ActError> {
        let done = self.drive.set_state(outputs.heat.drives().into()).map_err(|_| ActError::Pin);
        self.or_cut(outputs, done)
    }

    /// The tick's last act: reads both pins back and, where heat is allowed, toggles the permit.
    ///
    /// # Errors
    /// A pin error, or a pin that does not read back; then the drive has been tried off and the
    /// permit was not toggled, so the pump lets go.
    pub fn hold(&mut self, outputs: &Outputs) -> Result<(), ActError> {
        let done = self.permit_stands();
        self.or_cut(outputs, done)?;
        if outputs.heat.is_allowed() {
            self.permit_high = !self.permit_high;
            let done = self.permit.set_state(self.permit_high.into()).map_err(|_| ActError::Pin);
            return self.or_cut(outputs, done);
        }
        Ok(())
    }

    /// Drive off; the permit falls by itself.
    ///
    /// # Errors
    /// A pin that reports one.
    pub fn cut(&mut self) -> Result<(), ActError> {
        self.drive.set_low().map_err(|_| ActError::Pin)
    }

    fn permit_stands(&mut self) -> Result<(), ActError> {
        let is_high = self.permit.is_high().map_err(|_| ActError::Pin)?;
        if is_high == self.permit_high { Ok(()) } else { Err(ActError::PermitReadBack) }
    }

    fn or_cut(&mut self, outputs: &Outputs, done: Result<(), ActError>) -> Result<(), ActError> {
        let on = outputs.heat.drives();
        let done = done.and_then(|()| match self.drive.is_high() {
            Ok(is_high) if is_high == on => Ok(()),
            Ok(_) => Err(ActError::DriveReadBack),
            Err(_) => Err(ActError::Pin),
        });
        if done.is_err() {
            let _ = self.cut();
        }
        done
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
            self.high |= !self.stuck;
            Ok(())
        }
    }

    impl InputPin for &mut Pin {
        fn is_high(&mut self) -> Result<bool, Infallible> {
            Ok(self.high)
        }

        fn is_low(&mut self) -> Result<bool, Infallible> {
            Ok(!self.high)
        }
    }

    type Pins<'a> = Actuators<&'a mut Pin, &'a mut Pin>;

    fn put_out(actuators: &mut Pins<'_>, outputs: &Outputs) -> Result<(), ActError> {
        actuators.drive(outputs)?;
        actuators.hold(outputs)
    }

    fn allowed(drive: bool) -> Outputs {
        Outputs { heat: Heat::Allowed { drive }, ..Outputs::default() }
    }

    #[test]
    fn the_permit_is_toggled_once_a_tick_while_heat_is_allowed_and_never_else() {
        let (mut drive, mut permit) = (Pin::default(), Pin::default());
        let mut actuators = Actuators::new(&mut drive, &mut permit);
        for _ in 0..10 {
            put_out(&mut actuators, &allowed(true)).unwrap();
        }
        for _ in 0..10 {
            put_out(&mut actuators, &Outputs::default()).unwrap();
        }
        assert_eq!(permit.edges, 10);
        assert!(!drive.high);
    }

    #[test]
    fn a_drive_that_does_not_read_back_lets_the_permit_fall() {
        let mut drive = Pin { high: true, stuck: true, edges: 0 };
        let mut permit = Pin::default();
        let mut actuators = Actuators::new(&mut drive, &mut permit);
        assert_eq!(actuators.drive(&allowed(false)), Err(ActError::DriveReadBack));
        assert_eq!(actuators.hold(&allowed(false)), Err(ActError::DriveReadBack));
        assert_eq!(permit.edges, 0);
    }

    /// A pin that notes when it was set low.
    struct Noted<'a>(&'a core::cell::RefCell<heapless::Vec<&'static str, 2>>, &'static str);

    impl ErrorType for Noted<'_> {
        type Error = Infallible;
    }

    impl OutputPin for Noted<'_> {
        fn set_low(&mut self) -> Result<(), Infallible> {
            self.0.borrow_mut().push(self.1).expect("each once");
            Ok(())
        }

        fn set_high(&mut self) -> Result<(), Infallible> {
            unreachable!("{} is only dropped", self.1)
        }
    }

    #[test]
    fn outputs_are_dropped_permit_first() {
        let order = core::cell::RefCell::default();
        drop_outputs(&mut Noted(&order, "drive"), &mut Noted(&order, "permit"));
        assert_eq!(order.borrow().as_slice(), ["permit", "drive"]);
    }

    #[test]
    fn a_permit_that_does_not_follow_cuts_the_drive() {
        let mut drive = Pin::default();
        let mut permit = Pin { high: false, stuck: true, edges: 0 };
        let mut actuators = Actuators::new(&mut drive, &mut permit);
        assert_eq!(put_out(&mut actuators, &allowed(true)), Ok(()));
        assert_eq!(put_out(&mut actuators, &allowed(true)), Err(ActError::PermitReadBack));
        assert!(!drive.high);
    }
}
