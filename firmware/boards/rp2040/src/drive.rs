//! An output that reads back what its pad is at, and not what it was told.

use core::convert::Infallible;
use cortex_m::asm;
use embedded_hal::digital::{ErrorType, InputPin, OutputPin, StatefulOutputPin};
use rp2040_hal::gpio::{FunctionSioOutput, Pin, PinId, PullType};

/// From setting the pin to reading its pad: two stages of the input's synchroniser, and time for a
/// transistor's input; 2 µs at 125 MHz.
const SETTLE_CYCLES: u32 = 250;

/// An output pin whose [`StatefulOutputPin`] is the level of the pad: stuck, shorted or bridged, it
/// reads otherwise than it was set.
#[derive(Debug)]
pub struct ReadBack<I: PinId, P: PullType>(Pin<I, FunctionSioOutput, P>);

impl<I: PinId, P: PullType> ReadBack<I, P> {
    /// Takes the pin as it is.
    pub fn new(pin: Pin<I, FunctionSioOutput, P>) -> Self {
        Self(pin)
    }
}

impl<I: PinId, P: PullType> ErrorType for ReadBack<I, P> {
    type Error = Infallible;
}

impl<I: PinId, P: PullType> OutputPin for ReadBack<I, P> {
    fn set_low(&mut self) -> Result<(), Infallible> {
        self.0.set_low()
    }

    fn set_high(&mut self) -> Result<(), Infallible> {
        self.0.set_high()
    }
}

impl<I: PinId, P: PullType> StatefulOutputPin for ReadBack<I, P> {
    fn is_set_high(&mut self) -> Result<bool, Infallible> {
        asm::delay(SETTLE_CYCLES);
        self.0.as_input().is_high()
    }

    fn is_set_low(&mut self) -> Result<bool, Infallible> {
        asm::delay(SETTLE_CYCLES);
        self.0.as_input().is_low()
    }
}
