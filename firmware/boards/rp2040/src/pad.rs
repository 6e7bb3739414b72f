//! An output that reads back what its pad is at, and not what it was told.

use core::convert::Infallible;
use cortex_m::asm;
use embedded_hal::digital::{ErrorType, InputPin, OutputPin};
use rp2040_hal::gpio::{DynPinId, FunctionSioOutput, Pin, PullDown};

/// From setting the pin to reading its pad: two stages of the input's synchroniser, and time for a
/// transistor's input; 2 µs at 125 MHz.
const SETTLE_CYCLES: u32 = 250;

/// An output pin whose [`InputPin`] is the level of the pad: stuck, shorted or bridged, it reads
/// otherwise than it was set.
#[derive(Debug)]
pub struct Pad(Pin<DynPinId, FunctionSioOutput, PullDown>);

impl Pad {
    /// Takes the pin as it is.
    pub fn new(pin: Pin<DynPinId, FunctionSioOutput, PullDown>) -> Self {
        Self(pin)
    }
}

impl ErrorType for Pad {
    type Error = Infallible;
}

impl OutputPin for Pad {
    fn set_low(&mut self) -> Result<(), Infallible> {
        self.0.set_low()
    }

    fn set_high(&mut self) -> Result<(), Infallible> {
        self.0.set_high()
    }
}

impl InputPin for Pad {
    fn is_high(&mut self) -> Result<bool, Infallible> {
        asm::delay(SETTLE_CYCLES);
        self.0.as_input().is_high()
    }

    fn is_low(&mut self) -> Result<bool, Infallible> {
        self.is_high().map(|high| !high)
    }
}
