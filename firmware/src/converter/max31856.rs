//! MAX31856: a thermocouple of any type, made linear by the chip.
//!
//! Sixteen registers, read whole in every tick, so that what was set up (0x00–0x09) is seen to
//! stand beside the temperatures it shaped:
//!
//! ```text
//! 00 CR0   automatic, open detection, filter    05–08  thermocouple thresholds
//! 01 CR1   samples averaged, type               09     offset of the cold junction
//! 02 MASK  faults kept off the FAULT pin        0a–0b  cold junction, 14 bits of 1/64 K
//! 03 CJHF  cold junction high threshold         0c–0e  hot junction, 19 bits of 1/128 K
//! 04 CJLF  low threshold                        0f SR  what is wrong
//! ```
//!
//! It converts by itself, a conversion in up to 90 ms (60 Hz) or 110 ms (50 Hz), not averaged. The
//! chip's own thresholds are left where nothing reaches them: limits are the core's.
//!
//! **Open wires.** Converting by itself the chip looks for them once in 16 conversions: up to 1.5 s
//! at 60 Hz, 1.8 s at 50 Hz (data sheet), before the five bad ticks that trip: 2.3 s where the guard's
//! row says 1 s. No setting shortens that. Nothing is averaged already, and the other two kinds of open
//! detection only allow for slower inputs. Asked for single conversions instead, the chip takes 185 ms
//! and 15 ms for the wires, so that an answer is up to three ticks old; whether it looks for open wires
//! in each of them the data sheet, as we remember it, leaves open, and a second that hangs on that
//! is none. Until it looks, the reading drifts off and is a jump or out of range at most; where open
//! wires must be told as such within a second, take a 31855.

use super::{Converter, MainsFilter, Reading, WRITE, read_registers};
use embedded_hal::spi::{MODE_1, Mode, SpiDevice};
use truesoak_core::io::Transfer;
use truesoak_core::sensor::Thermocouple;
use truesoak_core::units::Celsius;

/// How the chip's bus is clocked; it takes mode 3 too (data sheet, serial interface).
pub const MODE: Mode = MODE_1;

/// Registers of the chip.
const REGISTERS: usize = 16;
/// Those that are set up, the first of them.
const WRITTEN: usize = 10;
/// CR0: converts by itself.
const AUTOMATIC: u8 = 0x80;
/// CR0: looks for open wires of less than 5 kΩ, which takes up to 15 ms.
const OPEN_DETECTION: u8 = 0x10;
/// 02–09 as after reset: no fault on the pin, thresholds out of reach, no offset.
const AS_AFTER_RESET: [u8; 8] = [0xff, 0x7f, 0xc0, 0x7f, 0xff, 0x80, 0x00, 0x00];
/// SR: wires open.
const OPEN: u8 = 0x01;
/// SR: an input below ground or above the supply; the chip does not convert while it lasts.
const OVER_OR_UNDER: u8 = 0x02;
/// Where the cold junction is measured (data sheet, SR bit 7, for types J, K, N and T).
const COLD_MIN: Celsius = Celsius(-55.0);
const COLD_MAX: Celsius = Celsius(125.0);
/// Ticks after setting up without a conversion: the first takes 185 ms at most (50 Hz), and 15 ms
/// for open wires.
const TICKS_TO_FIRST: u8 = 2;

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
    written: [u8; WRITTEN],
    ticks_to_first: u8,
}

impl<Spi: SpiDevice> Max31856<Spi> {
    /// A chip for wires of this type. Nothing is transferred yet; the first read finds out whether
    /// it has to be set up.
    pub fn new(spi: Spi, couple: Thermocouple, filter: MainsFilter) -> Self {
        let automatic = AUTOMATIC | OPEN_DETECTION | filter.bit();
        let [a, b, c, d, e, f, g, h] = AS_AFTER_RESET;
        let written = [automatic, type_code(couple), a, b, c, d, e, f, g, h];
        Self { spi, couple, written, ticks_to_first: 0 }
    }

    /// Gives the bus back.
    pub fn release(self) -> Spi {
        self.spi
    }

    /// Writes the whole set-up, stopped, since filter and type are not to be changed while the chip
    /// converts; then lets it convert. Whether it was taken the next read shows.
    fn set_up(&mut self) {
        self.ticks_to_first = TICKS_TO_FIRST;
        let [automatic, b, c, d, e, f, g, h, i, j] = self.written;
        let stopped = automatic & !AUTOMATIC;
        if self.spi.write(&[WRITE, stopped, b, c, d, e, f, g, h, i, j]).is_ok() {
            let _ = self.spi.write(&[WRITE, automatic]);
        }
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
    fn read(&mut self) -> Reading {
        let written = self.written;
        let stands = |registers: &[u8; REGISTERS]| registers.starts_with(&written);
        let registers = match read_registers(&mut self.spi, stands) {
            Ok(registers) => registers,
            Err(transfer) => {
                if transfer == Transfer::Impossible {
                    self.set_up();
                }
                return Reading::none(transfer);
            }
        };
        if let Some(ticks) = self.ticks_to_first.checked_sub(1) {
            self.ticks_to_first = ticks;
            return Reading::none(Transfer::Silent);
        }
        let [.., a, b, c, d, e, f] = registers;
        decode([a, b, c, d, e, f], self.couple)
    }
}

#[cfg(test)]
mod tests;
