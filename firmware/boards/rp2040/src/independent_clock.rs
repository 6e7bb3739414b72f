//! The independent clock: its rising edges on GPIO21, counted by hardware while the program sleeps.

use crate::pins::ClockPin;
use rp2040_hal::gpio::{FunctionPwm, PullDown, bank0::Gpio21};
use rp2040_hal::pwm::{CountRisingEdge, FreeRunning, Pwm2, Slice};

/// A counter of 16 bits that only ever goes up, and wraps.
pub struct IndependentClock {
    slice: Slice<Pwm2, CountRisingEdge>,
    _pin: rp2040_hal::gpio::Pin<Gpio21, FunctionPwm, PullDown>,
}

impl IndependentClock {
    /// Starts counting.
    pub fn new(slice: Slice<Pwm2, FreeRunning>, pin: ClockPin) -> Self {
        let mut slice = slice.into_mode::<CountRisingEdge>();
        let pin = slice.channel_b.input_from(pin);
        slice.set_top(u16::MAX);
        slice.enable();
        Self { slice, _pin: pin }
    }

    /// Edges so far, modulo 65,536: two seconds at 32.768 kHz.
    pub fn edges(&self) -> u16 {
        self.slice.get_counter()
    }
}
