//! The display's two wires: I²C at 400 kHz, in which no wait is without an end.
//!
//! The crate for the chip sets the pins and the clock up; its own way of writing waits for a wire that is
//! held as long as it is held, and a display must never cost a tick, let alone the watchdog. So bytes
//! are put into the queue here, one after the other, and given up after [`SPINS`] looks.

use embedded_hal::i2c::{ErrorKind, ErrorType, I2c, NoAcknowledgeSource, Operation};
use fugit::{HertzU32, RateExtU32 as _};
use rp2040_hal::gpio::bank0::{Gpio4, Gpio5};
use rp2040_hal::gpio::{FunctionI2C, Pin, PullUp};
use rp2040_hal::i2c::I2C;
use rp2040_hal::pac::{I2C0, RESETS, i2c0};

/// Looks at the queue before a byte is given up: over 1 ms, where a byte takes 25 µs.
const SPINS: u32 = 20_000;

/// The pins.
pub type Wires = (Pin<Gpio4, FunctionI2C, PullUp>, Pin<Gpio5, FunctionI2C, PullUp>);

/// The bus.
pub struct TwoWire {
    _set_up: I2C<I2C0, Wires>,
}

impl TwoWire {
    /// Sets it up.
    pub fn new(chip: I2C0, wires: Wires, resets: &mut RESETS, clock: HertzU32) -> Self {
        let (data, pace) = wires;
        Self { _set_up: I2C::i2c0(chip, data, pace, 400.kHz(), resets, clock) }
    }

    fn registers(&mut self) -> &'static i2c0::RegisterBlock {
        // SAFETY: they belong to the bus this is, which is borrowed alone.
        unsafe { &*I2C0::ptr() }
    }

    fn send(&mut self, address: u8, bytes: &[u8]) -> Result<(), ErrorKind> {
        let chip = self.registers();
        chip.ic_enable().write(|w| w.enable().disabled());
        // SAFETY: seven bits of an address.
        chip.ic_tar().write(|w| unsafe { w.ic_tar().bits(u16::from(address & 0x7f)) });
        chip.ic_enable().write(|w| w.enable().enabled());
        let sent = queue(chip, bytes).and_then(|()| ended(chip));
        let _ = chip.ic_clr_tx_abrt().read();
        let _ = chip.ic_clr_stop_det().read();
        chip.ic_enable().write(|w| w.enable().disabled());
        sent
    }
}

fn queue(chip: &i2c0::RegisterBlock, bytes: &[u8]) -> Result<(), ErrorKind> {
    let Some(last) = bytes.len().checked_sub(1) else { return Ok(()) };
    for (index, byte) in bytes.iter().enumerate() {
        wait(chip, |chip| chip.ic_status().read().tfnf().is_not_full())?;
        chip.ic_data_cmd().write(|w| {
            // SAFETY: a byte.
            let w = unsafe { w.dat().bits(*byte) };
            w.stop().bit(index == last)
        });
    }
    Ok(())
}

fn ended(chip: &i2c0::RegisterBlock) -> Result<(), ErrorKind> {
    wait(chip, |chip| chip.ic_raw_intr_stat().read().stop_det().is_active())
}

/// Until something holds, the display says no, or it has taken too long.
fn wait(
    chip: &i2c0::RegisterBlock,
    holds: impl Fn(&i2c0::RegisterBlock) -> bool,
) -> Result<(), ErrorKind> {
    for _ in 0..SPINS {
        if chip.ic_raw_intr_stat().read().tx_abrt().is_active() {
            return Err(ErrorKind::NoAcknowledge(NoAcknowledgeSource::Unknown));
        }
        if holds(chip) {
            return Ok(());
        }
    }
    Err(ErrorKind::Bus)
}

impl ErrorType for TwoWire {
    type Error = ErrorKind;
}

impl I2c for TwoWire {
    fn transaction(
        &mut self,
        address: u8,
        operations: &mut [Operation<'_>],
    ) -> Result<(), ErrorKind> {
        operations.iter().try_for_each(|operation| match operation {
            Operation::Write(bytes) => self.send(address, bytes),
            // Nothing is asked of a display.
            Operation::Read(_) => Err(ErrorKind::Other),
        })
    }
}
