//! A display of 128 by 64 dots on I²C, by the `ssd1306` crate; behind the feature `display`.
//!
//! Four lines of sixteen characters, every second row of the chip's eight. A line is 16 × 8 bytes and
//! their addresses: 6.3 ms at 400 kHz. One that does not answer is asked again once a minute, by the
//! 30 bytes that set it up; the bus must give up by itself (no acknowledge, clock held).

use crate::board::{SCREEN_COLUMNS, SCREEN_LINES, Screen};
use embedded_hal::i2c::I2c;
use ssd1306::mode::{DisplayConfig, TerminalMode};
use ssd1306::prelude::{DisplayRotation, I2CInterface};
use ssd1306::size::DisplaySize128x64;
use ssd1306::{I2CDisplayInterface, Ssd1306};

/// Lines that are left out before a display that did not answer is asked again.
const LEFT_OUT: u16 = 600;
/// Rows of the chip for one line.
const ROWS: u8 = 2;

/// The display.
pub struct Display<Bus> {
    chip: Ssd1306<I2CInterface<Bus>, DisplaySize128x64, TerminalMode>,
    left_out: Option<u16>,
}

impl<Bus: I2c> Display<Bus> {
    /// Takes the bus; sets the display up and clears it, in 30 ms.
    pub fn new(bus: Bus) -> Self {
        let interface = I2CDisplayInterface::new(bus);
        let chip = Ssd1306::new(interface, DisplaySize128x64, DisplayRotation::Rotate0)
            .into_terminal_mode();
        let mut display = Self { chip, left_out: None };
        let is_up = display.set_up() && display.chip.clear().is_ok();
        display.left_out = (!is_up).then_some(LEFT_OUT);
        display
    }

    fn set_up(&mut self) -> bool {
        self.chip.init().is_ok()
    }

    fn write(&mut self, line: u8, text: &str) -> bool {
        let characters = text.chars().chain(core::iter::repeat(' ')).take(SCREEN_COLUMNS);
        self.chip.set_position(0, line * ROWS).is_ok()
            && characters.into_iter().all(|of| self.chip.print_char(of).is_ok())
    }
}

impl<Bus: I2c> Screen for Display<Bus> {
    fn show(&mut self, line: u8, text: &str) {
        if line >= SCREEN_LINES {
            return;
        }
        let shown = match self.left_out {
            None => self.write(line, text),
            Some(0) => self.set_up(),
            Some(left) => return self.left_out = Some(left - 1),
        };
        self.left_out = (!shown).then_some(LEFT_OUT);
    }
}

impl<Bus> core::fmt::Debug for Display<Bus> {
    fn fmt(&self, formatter: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        formatter.debug_struct("Display").field("left_out", &self.left_out).finish_non_exhaustive()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use embedded_hal::i2c::{ErrorKind, ErrorType, NoAcknowledgeSource, Operation};

    /// A bus that counts bytes, or has nobody on it.
    #[derive(Default)]
    struct Bus {
        bytes: usize,
        is_empty: bool,
    }

    impl ErrorType for &mut Bus {
        type Error = ErrorKind;
    }

    impl I2c for &mut Bus {
        fn transaction(
            &mut self,
            address: u8,
            operations: &mut [Operation<'_>],
        ) -> Result<(), ErrorKind> {
            assert_eq!(address, 0x3c);
            self.bytes += 1;
            if self.is_empty {
                return Err(ErrorKind::NoAcknowledge(NoAcknowledgeSource::Address));
            }
            for operation in operations {
                if let Operation::Write(bytes) = operation {
                    self.bytes += bytes.len();
                }
            }
            Ok(())
        }
    }

    #[test]
    fn a_line_of_any_length_takes_less_than_seven_milliseconds() {
        for text in ["", "air 149.2 C", "a line that is far too long for it", "149.0..151.3 C µ"] {
            let mut bus = Bus::default();
            Display::new(&mut bus);
            let set_up = bus.bytes;
            bus.bytes = 0;
            Display::new(&mut bus).show(3, text);
            let bits = 9 * (bus.bytes - set_up);
            assert!(bits > 16 * 8 * 9 && bits <= 2800, "{bits} bits at 400 kHz");
        }
    }

    #[test]
    fn a_display_that_is_not_there_costs_a_byte_now_and_then() {
        let mut bus = Bus { is_empty: true, ..Bus::default() };
        let mut display = Display::new(&mut bus);
        for line in 0..6000 {
            display.show((line % 4) as u8, "idle");
        }
        assert!(bus.bytes <= 20, "{} bytes in ten minutes", bus.bytes);
    }
}
