//! The display's two wires: I²C at 400 kHz, in which no wait is without an end.
//!
//! The crate for the chip sets the pins and the clock up; its own way of writing waits for a wire that is
//! held as long as it is held, and a display must never cost a tick, let alone the watchdog. So bytes
//! are put into the queue here, one after the other, and a write as a whole is given up after [`SPINS`]
//! looks, however a display draws out its single bytes.

use embedded_hal::i2c::{ErrorKind, ErrorType, I2c, NoAcknowledgeSource, Operation};
use fugit::{HertzU32, RateExtU32 as _};
use rp2040_hal::gpio::bank0::{Gpio4, Gpio5};
use rp2040_hal::gpio::{FunctionI2C, Pin, PullUp};
use rp2040_hal::i2c::I2C;
use rp2040_hal::pac::{I2C0, RESETS, i2c0};

/// Looks at the chip before a write is given up: over 1 ms, where the longest the display's crate
/// sends, 17 bytes and the address, takes 0.4 ms.
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

    fn registers(&mut self) -> &i2c0::RegisterBlock {
        // SAFETY: the address is the chip's own and never goes away. `_set_up` owns the peripheral, so
        // nothing else reaches its registers, and the reference lasts no longer than the borrow of
        // this bus.
        unsafe { &*I2C0::ptr() }
    }

    fn send(&mut self, address: u8, bytes: &[u8]) -> Result<(), ErrorKind> {
        let Some((last, first)) = bytes.split_last() else { return Ok(()) };
        let chip = self.registers();
        let mut patience = Patience { looks: SPINS };
        chip.ic_enable().write(|w| w.enable().disabled());
        // What was given up before may still be on the wires; till then the address cannot be set.
        patience.wait(|| chip.ic_enable_status().read().ic_en().is_disabled())?;
        // SAFETY: the field has ten bits and takes each value; this is seven of them.
        chip.ic_tar().write(|w| unsafe { w.ic_tar().bits(u16::from(address & 0x7f)) });
        chip.ic_enable().write(|w| w.enable().enabled());
        let sent = first
            .iter()
            .try_for_each(|byte| queue(chip, &mut patience, *byte, false))
            .and_then(|()| queue(chip, &mut patience, *last, true))
            .and_then(|()| ended(chip, &mut patience));
        let _ = chip.ic_clr_tx_abrt().read();
        let _ = chip.ic_clr_stop_det().read();
        chip.ic_enable().write(|w| w.enable().disabled());
        sent
    }
}

/// Looks that are left for one write.
struct Patience {
    looks: u32,
}

impl Patience {
    /// Until something holds, or it has taken too long.
    fn wait(&mut self, mut holds: impl FnMut() -> bool) -> Result<(), ErrorKind> {
        while !holds() {
            self.looks = self.looks.checked_sub(1).ok_or(ErrorKind::Bus)?;
        }
        Ok(())
    }
}

fn queue(
    chip: &i2c0::RegisterBlock,
    patience: &mut Patience,
    byte: u8,
    is_last: bool,
) -> Result<(), ErrorKind> {
    patience.wait(|| is_refused(chip) || chip.ic_status().read().tfnf().is_not_full())?;
    refusal(chip)?;
    chip.ic_data_cmd().write(|w| {
        // SAFETY: the field has eight bits and takes each value.
        let w = unsafe { w.dat().bits(byte) };
        w.stop().bit(is_last)
    });
    Ok(())
}

fn ended(chip: &i2c0::RegisterBlock, patience: &mut Patience) -> Result<(), ErrorKind> {
    patience.wait(|| is_refused(chip) || chip.ic_raw_intr_stat().read().stop_det().is_active())?;
    refusal(chip)
}

/// The display said no.
fn is_refused(chip: &i2c0::RegisterBlock) -> bool {
    chip.ic_raw_intr_stat().read().tx_abrt().is_active()
}

fn refusal(chip: &i2c0::RegisterBlock) -> Result<(), ErrorKind> {
    match is_refused(chip) {
        true => Err(ErrorKind::NoAcknowledge(NoAcknowledgeSource::Unknown)),
        false => Ok(()),
    }
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
