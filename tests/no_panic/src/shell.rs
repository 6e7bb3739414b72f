//! A board's whole shell, on hardware nothing is known of.

use core::convert::Infallible;
use core::hint::black_box;
use embedded_hal::digital::{ErrorType, InputPin, OutputPin};
use embedded_hal::spi::{self, Mode, Operation, SpiDevice};
use embedded_io::{Read, ReadReady, Write, WriteReady};
use truesoak_firmware::board::NoScreen;
use truesoak_firmware::{Chip, Clock, Hardware, Memory, Parts, Reset, SensorBus, Shell, Watchdog};

/// Every pin, bus, port and clock: anything may come of it.
pub struct Anything(u32);

impl ErrorType for Anything {
    type Error = Infallible;
}

impl OutputPin for Anything {
    fn set_low(&mut self) -> Result<(), Infallible> {
        self.0 = black_box(0);
        Ok(())
    }

    fn set_high(&mut self) -> Result<(), Infallible> {
        self.0 = black_box(1);
        Ok(())
    }
}

impl InputPin for Anything {
    fn is_high(&mut self) -> Result<bool, Infallible> {
        Ok(black_box(self.0) != 0)
    }

    fn is_low(&mut self) -> Result<bool, Infallible> {
        Ok(black_box(self.0) == 0)
    }
}

pub struct Bus(u8);

impl spi::ErrorType for Bus {
    type Error = spi::ErrorKind;
}

impl SpiDevice for Bus {
    fn transaction(&mut self, operations: &mut [Operation<'_, u8>]) -> Result<(), spi::ErrorKind> {
        black_box(operations);
        black_box(Ok(()))
    }
}

impl SensorBus for Bus {
    fn set_mode(&mut self, mode: Mode) {
        black_box((mode, self.0));
    }
}

pub struct Port(u8);

impl embedded_io::ErrorType for Port {
    type Error = embedded_io::ErrorKind;
}

impl ReadReady for Port {
    fn read_ready(&mut self) -> Result<bool, embedded_io::ErrorKind> {
        black_box(Ok(true))
    }
}

impl Read for Port {
    fn read(&mut self, bytes: &mut [u8]) -> Result<usize, embedded_io::ErrorKind> {
        black_box(bytes);
        black_box(Ok(usize::from(self.0)))
    }
}

impl WriteReady for Port {
    fn write_ready(&mut self) -> Result<bool, embedded_io::ErrorKind> {
        black_box(Ok(true))
    }
}

impl Write for Port {
    fn write(&mut self, bytes: &[u8]) -> Result<usize, embedded_io::ErrorKind> {
        black_box(bytes);
        black_box(Ok(usize::from(self.0)))
    }

    fn flush(&mut self) -> Result<(), embedded_io::ErrorKind> {
        Ok(())
    }
}

impl Clock for Anything {
    fn ticks(&self) -> u32 {
        black_box(self.0)
    }

    fn independent_ticks(&mut self) -> u32 {
        black_box(self.0)
    }
}

impl Watchdog for Anything {
    fn feed(&mut self) {
        self.0 = black_box(0);
    }
}

impl Chip for Anything {
    fn reset(&self) -> Reset {
        black_box(Reset::Supply)
    }

    fn image_holds(&mut self) -> bool {
        black_box(true)
    }

    fn memory_holds(&mut self) -> bool {
        black_box(true)
    }
}

pub enum Board {}

impl Hardware for Board {
    type Pad = Anything;
    type Output = Anything;
    type Input = Anything;
    type Bus = Bus;
    type Flash = super::store::Flash;
    type Port = Port;
    type Clock = Anything;
    type Watchdog = Anything;
    type Chip = Anything;
    type Screen = NoScreen;
}

/// Each way into a shell.
pub fn board() {
    type Boot = fn(Parts<Board>, &'static mut Memory) -> Shell<'static, Board>;
    black_box(Shell::<Board>::boot as Boot);
    black_box(Shell::<Board>::tick as fn(&mut Shell<'static, Board>));
    black_box(Shell::<Board>::serve as fn(&mut Shell<'static, Board>));
}
