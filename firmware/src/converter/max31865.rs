//! MAX31865: a platinum resistor against a reference resistor, as a share of 15 bits.
//!
//! Eight registers, read whole in every tick, so that what was set up is seen to stand beside the
//! ratio it shaped:
//!
//! ```text
//! 00     bias · automatic · 1SHOT · three wires · fault cycle (2) · clear · 50 Hz
//! 01–02  resistance by reference, 15 bits; bit 0: some fault
//! 03–04  high threshold    05–06  low threshold
//! 07     high · low · REFIN− high · REFIN− low · RTDIN− low · over or under voltage · – · –
//! ```
//!
//! It is off but for the one conversion it is asked for, which begins when the chip is let go and takes
//! up to 55 ms (60 Hz) or 66 ms (50 Hz). Each is held against the two thresholds, set to what no oven's
//! sensor is at: above is open, below is short. What a conversion cannot tell (with FORCE− broken both
//! voltages are zero and their ratio is anything) only the chip's fault cycle does. So the two take
//! turns, a tick each, and while the cycle looks the last conversion stands, a tick older. One that has
//! not ended (bit 1SHOT reads 1) is waited for; an input beyond the supply suspends it and is told.
//!
//! ```text
//!              does not stand
//! anything ───────────────────▶ Biased ──cycle──▶ Checking ──one shot──▶ Converting
//!                set up           ▲                  ▲                       │
//!                                 └─ bus has failed  └─────────cycle─────────┘
//! ```
//!
//! A fault that comes just after a cycle is seen 0.3 s later; the fifth bad tick is then the one at
//! 0.7 s. The cycle takes 0.5 ms and asks for an input filter of at most 100 µs (100 nF at a Pt100,
//! 10 nF at a Pt1000). Two wires add their own resistance: that is for the sensor's correction.

use super::{Converter, MainsFilter, Reading, WRITE, read_registers};
use embedded_hal::spi::{MODE_1, Mode, SpiDevice};
use truesoak_core::io::Transfer;
use truesoak_core::sensor::{Ohms, Platinum};
use truesoak_core::units::Celsius;

/// How the chip's bus is clocked; it takes mode 3 too (data sheet, serial interface).
pub const MODE: Mode = MODE_1;

/// Registers of the chip.
const REGISTERS: usize = 8;
/// Address of the four thresholds.
const THRESHOLDS: u8 = 0x03;
/// Configuration: current through the sensor.
const BIAS: u8 = 0x80;
/// Configuration: one conversion; back to 0 when it has ended.
const ONE_SHOT: u8 = 0x20;
/// Configuration: three wires.
const THREE_WIRES: u8 = 0x10;
/// Configuration: one fault cycle with the chip's own delay; back to 0 when it has ended.
const CYCLE: u8 = 0x04;
/// Configuration: forget the faults; back to 0 by itself.
const CLEAR: u8 = 0x02;
/// Status: above the high threshold; current does not flow although it is let.
const OPEN: u8 = 0x80 | 0x20;
/// Status: below the low threshold; REFIN− or RTDIN− drawn down with FORCE− open, so by something
/// else; an input below ground or above the supply.
const SHORT: u8 = 0x40 | 0x10 | 0x08 | 0x04;
/// No sensor of an oven is colder.
const LOWEST: Celsius = Celsius(-50.0);
/// No sensor of an oven is hotter; the hottest oven a file may tell of ends at 400 °C.
const HIGHEST: Celsius = Celsius(500.0);
/// Full scale of the ratio.
const FULL: f32 = 32_768.0;
/// Greatest reference, as a multiple of the sensor at 0 °C: a step is then 0.08 K.
const REFERENCE_MAX: f32 = 10.0;

/// How the sensor is wired to the chip.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Wires {
    /// Two: what they add is read as heat.
    Two,
    /// Three: the chip takes one wire off for the other.
    Three,
    /// Four: none is measured.
    Four,
}

/// A reference resistor this sensor cannot be measured by: not above the sensor's own resistance at
/// 500 °C, or more than ten times the one at 0 °C.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct UnfitReference {
    /// What was given.
    pub reference: Ohms,
    /// The sensor.
    pub sensor: Platinum,
}

impl core::fmt::Display for UnfitReference {
    fn fmt(&self, formatter: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        write!(formatter, "a {:?} is not measured by {} ohms", self.sensor, self.reference.0)
    }
}

impl core::error::Error for UnfitReference {}

/// From ratios to temperatures.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Scale {
    sensor: Platinum,
    reference: Ohms,
    lowest: u16,
    highest: u16,
}

impl Scale {
    /// For a sensor and the resistor beside the chip: commonly four times the sensor's ohms at 0
    /// °C.
    ///
    /// # Errors
    /// A reference below or above what makes sense for the sensor; not-a-number too.
    pub fn new(sensor: Platinum, reference: Ohms) -> Result<Self, UnfitReference> {
        let unfit = UnfitReference { reference, sensor };
        let at = |temp| sensor.resistance(temp).ok_or(unfit);
        let fits = at(HIGHEST)? < reference && reference.0 <= REFERENCE_MAX * at(Celsius(0.0))?.0;
        if !fits {
            return Err(unfit);
        }
        // Both are between 0 and the reference: the casts lose nothing but the fraction.
        let code = |resistance: Ohms| (resistance.0 / reference.0 * FULL) as u16;
        Ok(Self { sensor, reference, lowest: code(at(LOWEST)?), highest: code(at(HIGHEST)?) })
    }

    /// The four threshold registers, high one first; bit 0 has no meaning.
    fn thresholds(&self) -> [u8; 4] {
        let [a, b] = (self.highest << 1).to_be_bytes();
        let [c, d] = (self.lowest << 1).to_be_bytes();
        [a, b, c, d]
    }

    /// What the two ratio registers and the status say.
    ///
    /// Impossible are a ratio at or beyond a threshold without its flag, and a mark of some fault
    /// where there is none.
    #[must_use]
    pub fn decode(&self, ratio: u16, status: u8) -> Reading {
        let bits = frame(ratio, status);
        if let Some(fault) = fault(status) {
            return Reading::bad(fault, bits, None);
        }
        let (code, marked) = (ratio >> 1, ratio & 1 != 0);
        let resistance = Ohms(f32::from(code) / FULL * self.reference.0);
        let inside = self.lowest < code && code < self.highest;
        match self.sensor.temperature(resistance) {
            Some(value) if inside && !marked => Reading::good(value, bits, None),
            _ => Reading::bad(Transfer::Impossible, bits, None),
        }
    }
}

/// All bits that mean something and change.
fn frame(ratio: u16, status: u8) -> u64 {
    u64::from(ratio) << 8 | u64::from(status & (OPEN | SHORT))
}

/// What a status says. Broken wires are drawn to anywhere and then look shorted too: open is the
/// cause.
fn fault(status: u8) -> Option<Transfer> {
    if status & OPEN != 0 {
        Some(Transfer::Open)
    } else if status & SHORT != 0 {
        Some(Transfer::Short)
    } else {
        None
    }
}

/// What the chip is doing while the board does other things.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Step {
    /// Current flows and the input filter charges; what was under way before, nobody knows.
    Biased,
    /// The fault cycle.
    Checking,
    /// One conversion.
    Converting,
}

/// The chip on its bus.
#[derive(Debug)]
pub struct Max31865<Spi> {
    spi: Spi,
    scale: Scale,
    /// Bias, wires and filter, as they always stand in the configuration.
    fixed: u8,
    step: Step,
    /// What the last cycle found; it stands until the next.
    found: Option<Transfer>,
}

impl<Spi: SpiDevice> Max31865<Spi> {
    /// A chip for this sensor. Nothing is transferred yet; the first read finds out whether it has
    /// to be set up.
    pub fn new(spi: Spi, scale: Scale, wires: Wires, filter: MainsFilter) -> Self {
        let three = if wires == Wires::Three { THREE_WIRES } else { 0 };
        Self { spi, scale, fixed: BIAS | three | filter.bit(), step: Step::Biased, found: None }
    }

    /// Gives the bus back.
    pub fn release(self) -> Spi {
        self.spi
    }

    /// Configuration and thresholds are as written, and a cycle has ended.
    fn read_standing(&mut self) -> Result<[u8; REGISTERS], Transfer> {
        let (fixed, thresholds) = (self.fixed, self.scale.thresholds());
        read_registers(&mut self.spi, |[first, _, _, a, b, c, d, _]| {
            first & !ONE_SHOT == fixed && [*a, *b & 0xfe, *c, *d & 0xfe] == thresholds
        })
    }

    /// Whether the bus took it; whether the chip did shows in the next read.
    fn configure(&mut self, bits: u8) -> bool {
        self.spi.write(&[WRITE, self.fixed | bits]).is_ok()
    }

    fn set_up(&mut self) {
        let _ = self.configure(CLEAR);
        let [a, b, c, d] = self.scale.thresholds();
        let _ = self.spi.write(&[WRITE | THRESHOLDS, a, b, c, d]);
    }

    /// Faults cannot be forgotten and looked for in one write. A cycle that never began would find
    /// nothing: it takes both writes.
    fn look_for_faults(&mut self) {
        let begun = self.configure(CLEAR) && self.configure(CYCLE);
        self.step = if begun { Step::Checking } else { Step::Biased };
    }

    /// What was asked for has ended.
    fn go_on(&mut self, ratio: u16, status: u8, newest: &mut Reading) {
        match self.step {
            Step::Biased => self.look_for_faults(),
            Step::Checking => {
                self.found = fault(status);
                let begun = self.configure(ONE_SHOT);
                self.step = if begun { Step::Converting } else { Step::Biased };
            }
            Step::Converting => {
                *newest = self.scale.decode(ratio, status);
                self.look_for_faults();
            }
        }
    }
}

impl<Spi: SpiDevice> Converter for Max31865<Spi> {
    fn look(&mut self, newest: &mut Reading) -> Result<(), Transfer> {
        match self.read_standing() {
            Ok([first, high, low, _, _, _, _, status]) => {
                let ratio = u16::from_be_bytes([high, low]);
                if first & ONE_SHOT == 0 {
                    self.go_on(ratio, status, newest);
                }
                // A flag counts at once: an input beyond the supply keeps a conversion from its end.
                if let Some(fault) = fault(status).or(self.found) {
                    *newest = Reading::bad(fault, frame(ratio, status), None);
                }
            }
            Err(transfer) => {
                self.step = Step::Biased;
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
