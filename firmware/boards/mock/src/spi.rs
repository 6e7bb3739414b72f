//! Converters: the registers of a MAX31856 that reads what the outside says.

use crate::World;
use crate::outside::Sensor;
use embedded_hal::spi::{ErrorKind, ErrorType, Mode, Operation, SpiDevice};
use truesoak_firmware::SensorBus;
use truesoak_firmware::converter::max31856;

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
    fn converted(&mut self, offset: f64) -> [u8; 6] {
        if let (true, Some(last)) = (self.frozen, self.last) {
            return last;
        }
        let cold = (((self.junction + offset) * 64.0).round() as i16) << 2;
        let hot = ((self.celsius * 128.0).round() as i32) << 13;
        let [cold_high, cold_low] = cold.to_be_bytes();
        let [a, b, c, _] = hot.to_be_bytes();
        let status = u8::from(self.open) | u8::from(self.short) << 1;
        let registers = [cold_high, cold_low, a, b, c, status];
        self.last = Some(registers);
        registers
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
        for operation in operations {
            match operation {
                Operation::Write([address, data @ ..]) => {
                    self.address = *address & 0x7f;
                    let writes = *address & 0x80 != 0;
                    self.world.change(|outside| {
                        let written = &mut outside.sensors[self.sensor].written;
                        for (index, byte) in data.iter().enumerate().filter(|_| writes) {
                            written[usize::from(self.address) + index] = *byte;
                        }
                    });
                }
                Operation::Read(bytes) => {
                    let (sensor, address) = (self.sensor, usize::from(self.address));
                    self.world.change(|outside| {
                        let offset = outside.junction_offset;
                        outside.sensors[sensor].read(address, offset, bytes);
                    });
                }
                _ => {}
            }
        }
        Ok(())
    }
}

impl Sensor {
    fn read(&mut self, address: usize, offset: f64, bytes: &mut [u8]) {
        let mut registers = [0; 16];
        registers[..10].copy_from_slice(&self.written);
        registers[10..].copy_from_slice(&self.converted(offset));
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
