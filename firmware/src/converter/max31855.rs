//! MAX31855: a thermocouple taken for straight, 32 bits, read only.
//!
//! One variant of the chip for each type of wires; the letter is in its name and cannot be read. It
//! adds `slope · (hot − cold)` to its own temperature, so the core turns the reading back into an
//! emf and looks that up ([`Thermocouple::straightened`]).
//!
//! ```text
//! 31 … 18        17  16     15 … 4          3   2          1          0
//! hot, 0.25 K    0   fault  cold, 1/16 K    0   to supply  to ground  open
//! ```
//!
//! Selecting the chip stops its conversion and the next one begins when it is let go; one takes up
//! to 100 ms (data sheet), a whole tick. So it is asked in every other tick, and what it said
//! stands for the tick between with an age of one. A fault that comes just after a conversion is in
//! the second frame after it at the latest, 0.4 s; the fifth bad tick is then the one at 0.8 s.

use super::{Converter, Reading, nobody_answers};
use embedded_hal::spi::{MODE_0, Mode, SpiDevice};
use truesoak_core::io::Transfer;
use truesoak_core::sensor::Thermocouple;
use truesoak_core::units::Celsius;

/// How the chip's bus is clocked (data sheet, serial interface).
pub const MODE: Mode = MODE_0;

/// Bits 17 and 3: reserved, always 0.
const RESERVED: u32 = 1 << 17 | 1 << 3;
/// Bit 16: one of the three causes.
const FAULT: u32 = 1 << 16;
/// Bit 0: no wires, or broken ones.
const OPEN: u32 = 1 << 0;
/// Bit 1: wires touch ground; bit 2: the supply.
const SHORT: u32 = 1 << 1 | 1 << 2;
/// Where the chip is made to work (data sheet, operating temperature). What tells of less or more
/// is no chip that can be believed.
const COLD_MIN: Celsius = Celsius(-40.0);
const COLD_MAX: Celsius = Celsius(125.0);

/// Microvolts for every kelvin by which the chip of this type takes the hot end to be hotter (data
/// sheet, Table 1, nominal sensitivities).
#[must_use]
pub fn slope_uv_per_k(couple: Thermocouple) -> f32 {
    match couple {
        Thermocouple::K => 41.276,
        Thermocouple::J => 57.953,
        Thermocouple::T => 52.18,
        Thermocouple::N => 36.256,
    }
}

/// Bits 31–18: the hot end as the chip has it, before the core's correction.
fn hot_by_chip(frame: u32) -> Celsius {
    // An arithmetic shift keeps the sign; 14 bits are exact in single precision.
    Celsius((frame as i32 >> 18) as f32 / 4.0)
}

/// Bits 15–4: the chip itself.
fn cold_junction(frame: u32) -> Celsius {
    Celsius((((frame << 16) as i32) >> 20) as f32 / 16.0)
}

/// What a frame says.
///
/// Impossible are frames with a reserved bit, a fault without cause or a cause without fault, a
/// cold junction the chip does not work at, and a hot end that gives an emf this type does not.
#[must_use]
pub fn decode(frame: u32, couple: Thermocouple) -> Reading {
    let bits = u64::from(frame);
    if nobody_answers(&frame.to_be_bytes()) {
        return Reading::bad(Transfer::Silent, bits, None);
    }
    let cold = cold_junction(frame);
    let caused = frame & (OPEN | SHORT) != 0;
    let told = frame & FAULT != 0;
    if frame & RESERVED != 0 || caused != told || !(COLD_MIN..=COLD_MAX).contains(&cold) {
        return Reading::bad(Transfer::Impossible, bits, None);
    }
    // A broken wire may be drawn to anywhere and then looks shorted too: open is the cause.
    if frame & OPEN != 0 {
        return Reading::bad(Transfer::Open, bits, Some(cold));
    }
    if frame & SHORT != 0 {
        return Reading::bad(Transfer::Short, bits, Some(cold));
    }
    match couple.straightened(hot_by_chip(frame), cold, slope_uv_per_k(couple)) {
        Some(value) => Reading::good(value, bits, Some(cold)),
        None => Reading::bad(Transfer::Impossible, bits, None),
    }
}

/// The chip on its bus.
#[derive(Debug)]
pub struct Max31855<Spi> {
    spi: Spi,
    couple: Thermocouple,
    /// It was selected in the tick before.
    converting: bool,
}

impl<Spi: SpiDevice> Max31855<Spi> {
    /// A chip of the variant for `couple`. Nothing is transferred yet.
    pub fn new(spi: Spi, couple: Thermocouple) -> Self {
        Self { spi, couple, converting: false }
    }

    /// Gives the bus back.
    pub fn release(self) -> Spi {
        self.spi
    }
}

impl<Spi: SpiDevice> Converter for Max31855<Spi> {
    fn look(&mut self, newest: &mut Reading) -> Result<(), Transfer> {
        self.converting = !self.converting;
        if self.converting {
            let mut bytes = [0; 4];
            *newest = match self.spi.read(&mut bytes) {
                Ok(()) => decode(u32::from_be_bytes(bytes), self.couple),
                Err(_) => Reading::none(Transfer::Silent),
            };
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests;
