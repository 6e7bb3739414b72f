//! Three converters on one hardware bus, each with its own select and its own mode.

use crate::pins::{Miso, Mosi, Sck};
use core::cell::RefCell;
use core::convert::Infallible;
use cortex_m::asm;
use embedded_hal::digital::OutputPin;
use embedded_hal::spi::{ErrorKind, ErrorType, MODE_0, Mode, Operation, SpiBus, SpiDevice};
use rp2040_hal::fugit::HertzU32;
use rp2040_hal::gpio::{DynPinId, FunctionSioOutput, Pin, PullUp};
use rp2040_hal::pac::{RESETS, SPI0};
use rp2040_hal::spi::{Enabled, Spi};
use truesoak_firmware::board::SensorBus;

/// 1 MHz: a fifth of what the converters stand, for wires longer than a circuit board's.
const RATE: HertzU32 = HertzU32::from_raw(1_000_000);
/// From select to clock and back: 400 ns or more (MAX31865, from memory); 1 µs at 125 MHz.
const SELECT_CYCLES: u32 = 125;

type Hardware = Spi<Enabled, SPI0, (Mosi, Miso, Sck), 8>;

/// The bus that the converters share; each takes it for one transaction.
pub struct Bus(RefCell<Hardware>);

impl Bus {
    /// Starts the bus.
    pub fn new(
        spi: SPI0,
        (mosi, miso, sck): (Mosi, Miso, Sck),
        resets: &mut RESETS,
        peripheral_clock: HertzU32,
    ) -> Self {
        let spi = Spi::<_, _, _, 8>::new(spi, (mosi, miso, sck));
        Self(RefCell::new(spi.init(resets, peripheral_clock, RATE, MODE_0)))
    }
}

/// One converter's end of the bus.
pub struct Chip {
    bus: &'static Bus,
    select: Pin<DynPinId, FunctionSioOutput, PullUp>,
    mode: Mode,
}

impl Chip {
    /// A converter that is not chosen yet.
    pub fn new(bus: &'static Bus, mut select: Pin<DynPinId, FunctionSioOutput, PullUp>) -> Self {
        let _ = select.set_high();
        Self { bus, select, mode: MODE_0 }
    }
}

impl SensorBus for Chip {
    fn set_mode(&mut self, mode: Mode) {
        self.mode = mode;
    }
}

impl ErrorType for Chip {
    type Error = ErrorKind;
}

impl SpiDevice for Chip {
    fn transaction(&mut self, operations: &mut [Operation<'_, u8>]) -> Result<(), ErrorKind> {
        let mut bus = self.bus.0.try_borrow_mut().map_err(|_| ErrorKind::Other)?;
        // Before the select: the modes that are used (0 and 1) both idle low, so this is no edge.
        bus.set_format(self.mode.into());
        let _ = self.select.set_low();
        asm::delay(SELECT_CYCLES);
        let done = operations.iter_mut().try_for_each(|operation| run(&mut bus, operation));
        let flushed = bus.flush();
        asm::delay(SELECT_CYCLES);
        let _ = self.select.set_high();
        asm::delay(SELECT_CYCLES);
        done.and(flushed).map_err(|_| ErrorKind::Other)
    }
}

fn run(bus: &mut Hardware, operation: &mut Operation<'_, u8>) -> Result<(), Infallible> {
    match operation {
        Operation::Read(words) => bus.read(words),
        Operation::Write(words) => bus.write(words),
        Operation::Transfer(read, write) => bus.transfer(read, write),
        Operation::TransferInPlace(words) => bus.transfer_in_place(words),
        Operation::DelayNs(ns) => {
            // 8 ns a cycle at 125 MHz, rounded up.
            asm::delay(ns.div_ceil(8));
            Ok(())
        }
    }
}
