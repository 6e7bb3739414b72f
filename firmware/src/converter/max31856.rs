//! MAX31856: a thermocouple of any type, made linear by the chip.
//!
//! Sixteen registers, read whole in every tick, so that what was set up (0x00–0x09) is seen to
//! stand beside the temperatures it shaped:
//!
//! ```text
//! 00 CR0   one conversion, open detection, filter   05–08  thermocouple thresholds
//! 01 CR1   samples averaged, type                   09     offset of the cold junction
//! 02 MASK  faults kept off the FAULT pin            0a–0b  cold junction, 14 bits of 1/64 K
//! 03 CJHF  cold junction high threshold             0c–0e  hot junction, 19 bits of 1/128 K
//! 04 CJLF  low threshold                            0f SR  what is wrong
//! ```
//!
//! It is off but for the one conversion it is asked for, which begins when the chip is let go and
//! takes, not averaged, up to 155 ms (60 Hz) or 185 ms (50 Hz), and up to 15 ms for open wires. Until
//! it has ended bit 1SHOT reads 1 and the last reading stands, a tick older: in the second tick or the
//! third there is another. An input beyond the supply suspends it and is told without it. The chip's
//! own thresholds are left where nothing reaches them: limits are the core's.
//!
//! **Open wires.** Converting by itself the chip would look for them once in 16 conversions; asked for
//! single ones it does so in each (data sheet, from memory, and no chip was at hand: the wiring guide
//! has it tried at commissioning). A wire that breaks just after the look for it is then told 0.4 s
//! later at 170 ms a conversion, 0.6 s at 200 ms, and the fifth bad tick is the one at 0.8 or 1.0 s.

use super::{Converter, MainsFilter, Reading, WRITE, read_registers};
use embedded_hal::spi::{MODE_1, Mode, SpiDevice};
use truesoak_core::io::Transfer;
use truesoak_core::sensor::Thermocouple;
use truesoak_core::units::Celsius;

/// How the chip's bus is clocked; it takes mode 3 too (data sheet, serial interface).
pub const MODE: Mode = MODE_1;

/// Registers of the chip.
const REGISTERS: usize = 16;
/// CR0: one conversion; back to 0 when it has ended.
const ONE_SHOT: u8 = 0x40;
/// CR0: looks for open wires of less than 5 kΩ, which takes up to 15 ms.
const OPEN_DETECTION: u8 = 0x10;
/// 02–09 as after reset: no fault on the pin, thresholds out of reach, no offset.
const AS_AFTER_RESET: [u8; 8] = [0xff, 0x7f, 0xc0, 0x7f, 0xff, 0x80, 0x00, 0x00];
/// SR: wires open.
const OPEN: u8 = 0x01;
/// SR: an input below ground or above the supply; a conversion does not go on while it lasts.
const OVER_OR_UNDER: u8 = 0x02;
/// Where the cold junction is measured (data sheet, SR bit 7, for types J, K, N and T).
const COLD_MIN: Celsius = Celsius(-55.0);
const COLD_MAX: Celsius = Celsius(125.0);
/// What the last six registers say: cold junction, hot junction, status.
///
/// Impossible are any other flag than the two of the wires (a range left, or a threshold that
/// nothing reaches), a cold junction the chip does not measure, and a hot one this type does not
/// give. Zeros throughout are a chip that has not converted yet.
#[must_use]
pub fn decode(registers: [u8; 6], couple: Thermocouple) -> Reading {
    let [cold_high, cold_low, hot_high, hot_middle, hot_low, status] = registers;
    // Bits without meaning are no sign of life.
    let (cold_low, hot_low) = (cold_low & 0xfc, hot_low & 0xe0);
    let frame = [0, 0, cold_high, cold_low, hot_high, hot_middle, hot_low, status];
    let bits = u64::from_be_bytes(frame);
    if bits == 0 {
        return Reading::none(Transfer::Silent);
    }
    let cold = Celsius(f32::from(i16::from_be_bytes([cold_high, cold_low])) / 256.0);
    let believed = (COLD_MIN..=COLD_MAX).contains(&cold).then_some(cold);
    // A broken wire may be drawn to anywhere and then looks shorted too: open is the cause.
    if status & OPEN != 0 {
        return Reading::bad(Transfer::Open, bits, believed);
    }
    if status & OVER_OR_UNDER != 0 {
        return Reading::bad(Transfer::Short, bits, believed);
    }
    // The sign sits in the topmost of 32 bits and the shift keeps it; 19 bits are exact.
    let steps = i32::from_be_bytes([hot_high, hot_middle, hot_low, 0]) >> 13;
    let hot = Celsius(steps as f32 / 128.0);
    let (lowest, highest) = couple.range();
    if status == 0 && believed.is_some() && (lowest..=highest).contains(&hot) {
        Reading::good(hot, bits, believed)
    } else {
        Reading::bad(Transfer::Impossible, bits, None)
    }
}

/// The chip on its bus.
#[derive(Debug)]
pub struct Max31856<Spi> {
    spi: Spi,
    couple: Thermocouple,
    /// CR0 while nothing converts.
    control: u8,
    /// The last conversion that ended was asked for, and the chip seen to stand in every tick since.
    asked: bool,
}

impl<Spi: SpiDevice> Max31856<Spi> {
    /// A chip for wires of this type. Nothing is transferred yet; the first read finds out whether
    /// it has to be set up.
    pub fn new(spi: Spi, couple: Thermocouple, filter: MainsFilter) -> Self {
        let control = OPEN_DETECTION | filter.bit();
        Self { spi, couple, control, asked: false }
    }

    /// Gives the bus back.
    pub fn release(self) -> Spi {
        self.spi
    }

    /// Writes the whole set-up and asks for the first conversion under it. Whether it was taken the
    /// next read shows.
    fn set_up(&mut self) {
        let [a, b, c, d, e, f, g, h] = AS_AFTER_RESET;
        let set_up = [WRITE, self.asking(), type_code(self.couple), a, b, c, d, e, f, g, h];
        self.asked = self.spi.write(&set_up).is_ok();
    }

    fn ask(&mut self) {
        self.asked = self.spi.write(&[WRITE, self.asking()]).is_ok();
    }

    fn asking(&self) -> u8 {
        self.control | ONE_SHOT
    }
}

/// CR1: one sample, and the type.
fn type_code(couple: Thermocouple) -> u8 {
    match couple {
        Thermocouple::J => 0x02,
        Thermocouple::K => 0x03,
        Thermocouple::N => 0x04,
        Thermocouple::T => 0x07,
    }
}

impl<Spi: SpiDevice> Converter for Max31856<Spi> {
    fn look(&mut self, newest: &mut Reading) -> Result<(), Transfer> {
        let (control, kind) = (self.control, type_code(self.couple));
        let stands = |[first, second, others @ ..]: &[u8; REGISTERS]| {
            first & !ONE_SHOT == control && *second == kind && others.starts_with(&AS_AFTER_RESET)
        };
        match read_registers(&mut self.spi, stands) {
            Ok([first, .., a, b, c, d, e, status]) => {
                // A flag counts at once: one of the two keeps a conversion from its end.
                let mut tells = status & (OPEN | OVER_OR_UNDER) != 0;
                if first & ONE_SHOT == 0 {
                    tells |= self.asked;
                    self.ask();
                }
                if tells {
                    *newest = decode([a, b, c, d, e, status], self.couple);
                }
            }
            Err(transfer) => {
                self.asked = false;
                if transfer == Transfer::Impossible {
                    *newest = Reading::none(Transfer::Silent);
                    self.set_up();
                }
                return Err(transfer);
            }
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests;
#[cfg(test)]
mod turns;
