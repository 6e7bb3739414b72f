//! Converters: the registers of a MAX31856 that reads what the outside says, one conversion at a time.

use crate::World;
use crate::outside::{Act, Sensor};
use embedded_hal::spi::{ErrorKind, ErrorType, Mode, Operation, SpiDevice};
use truesoak_firmware::SensorBus;
use truesoak_firmware::converter::max31856;

/// CR0, bit 6: one conversion, back to 0 when it has ended.
const ONE_SHOT: u8 = 0x40;
/// Ticks a conversion takes, the look for open wires in it: 170 ms at 60 Hz (data sheet, from memory).
const CONVERSION_TICKS: u32 = 2;

/// One converter on its bus.
#[derive(Debug)]
pub struct ConverterBus {
    world: World,
    sensor: usize,
    mode: Option<Mode>,
    address: u8,
}

impl ConverterBus {
    pub(crate) fn new(world: World, sensor: usize) -> Self {
        Self { world, sensor, mode: None, address: 0 }
    }
}

impl Sensor {
    /// Hot junction, cold junction, status; 1/128 and 1/64 K.
    fn converted(&self, offset: f64) -> [u8; 6] {
        let cold = (((self.junction + offset) * 64.0).round() as i16) << 2;
        let hot = ((self.celsius * 128.0).round() as i32) << 13;
        let [cold_high, cold_low] = cold.to_be_bytes();
        let [a, b, c, _] = hot.to_be_bytes();
        let status = u8::from(self.open);
        [cold_high, cold_low, a, b, c, status]
    }
}

impl ErrorType for ConverterBus {
    type Error = ErrorKind;
}

impl SpiDevice for ConverterBus {
    fn transaction(&mut self, operations: &mut [Operation<'_, u8>]) -> Result<(), ErrorKind> {
        // In another mode the chip would hear other bits.
        if self.mode != Some(max31856::MODE) {
            return Err(ErrorKind::ModeFault);
        }
        self.world.change(|outside| outside.note(Act::Asks));
        for operation in operations {
            match operation {
                Operation::Write([address, data @ ..]) => {
                    self.address = *address & 0x7f;
                    let writes = *address & 0x80 != 0;
                    let (sensor, address) = (self.sensor, usize::from(self.address));
                    self.world.change(|outside| {
                        if writes {
                            let now = outside.ticks;
                            outside.sensors[sensor].write(address, now, data);
                        }
                    });
                }
                Operation::Read(bytes) => {
                    let (sensor, address) = (self.sensor, usize::from(self.address));
                    self.world.change(|outside| {
                        let (now, offset) = (outside.ticks, outside.junction_offset);
                        outside.sensors[sensor].read(address, now, offset, bytes);
                    });
                }
                _ => {}
            }
        }
        Ok(())
    }
}

impl Sensor {
    fn write(&mut self, address: usize, now: u32, bytes: &[u8]) {
        for (register, byte) in self.written[address..].iter_mut().zip(bytes) {
            *register = *byte;
        }
        if address == 0 && self.written[0] & ONE_SHOT != 0 {
            self.asked_at = now;
        }
    }

    fn read(&mut self, address: usize, now: u32, offset: f64, bytes: &mut [u8]) {
        let takes = now.wrapping_sub(self.asked_at) < CONVERSION_TICKS;
        // An input beyond the supply is told at once, and no conversion goes on.
        let suspended = self.short || self.never_ends;
        if self.written[0] & ONE_SHOT != 0 && !takes && !suspended {
            self.written[0] &= !ONE_SHOT;
            self.result = self.converted(offset);
        }
        let mut registers = [0; 16];
        registers[..10].copy_from_slice(&self.written);
        registers[10..].copy_from_slice(&self.result);
        registers[15] |= u8::from(self.short) << 1;
        for (byte, register) in bytes.iter_mut().zip(&registers[address..]) {
            *byte = self.silent.unwrap_or(*register);
        }
    }
}

impl SensorBus for ConverterBus {
    fn set_mode(&mut self, mode: Mode) {
        self.mode = Some(mode);
    }
}
