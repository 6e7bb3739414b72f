//! What a board provides: one trait that names its types, one struct of its pins and devices.
//!
//! A board's binary owns the chip. It fills [`Parts`], gives them to
//! [`Shell::boot`](crate::shell::Shell::boot) and then calls
//! [`Shell::tick`](crate::shell::Shell::tick) ten times a second, asleep in between. Which of the
//! wired parts an oven has is not decided here but by the settings that commissioning stored: a
//! board hands over every pin its circuit has.
//!
//! Levels are those of `wiring.md`: a contact input is low while its contact is closed.

use crate::store::Region;
use embedded_hal::digital::{InputPin, OutputPin};
use embedded_hal::spi::{Mode, SpiDevice};
use embedded_io::{Read, ReadReady, Write, WriteReady};
use embedded_storage::nor_flash::NorFlash;

/// The types a board is made of. An empty enumeration of the board's own carries them; nothing is
/// ever called on it.
///
/// Pins of one kind share a type: chips whose pins are types of their own (RP2040) have one for
/// any pin (`DynPinId`), or the board wraps them in an enumeration.
pub trait Hardware {
    /// Drive and permit. `set_*` switches the pin; `is_*` reads the **pad**, not the register that
    /// was just written, or reading back proves nothing: wrap the pin if the chip's own
    /// `StatefulOutputPin` does not. A pad that takes time to settle is waited for in `is_*`.
    type Pad: OutputPin + InputPin;
    /// Fan, lamp, beeper.
    type Output: OutputPin;
    /// Contacts.
    type Input: InputPin;
    /// A converter on its bus.
    type Bus: SensorBus;
    /// The flash the store has a region of.
    type Flash: NorFlash;
    /// The port a computer talks through; a board with USB and UART merges both into one.
    type Port: Read + ReadReady + Write + WriteReady;
    /// Time.
    type Clock: Clock;
    /// The watchdog.
    type Watchdog: Watchdog;
    /// The chip itself.
    type Chip: Chip;
    /// The display; [`NoScreen`] where there is none.
    type Screen: Screen;
}

/// A board's pins and devices, named as in `wiring.md`.
#[derive(Debug)]
pub struct Parts<H: Hardware> {
    /// High: heater on. Low in reset.
    pub drive: H::Pad,
    /// Toggled once a tick while heat is allowed, by the shell and nothing else. Low in reset.
    pub permit: H::Pad,
    /// High: fan runs.
    pub fan: H::Output,
    /// High: lit.
    pub lamp: H::Output,
    /// High: sounds.
    pub beeper: H::Output,
    /// Low: pressed.
    pub go: H::Input,
    /// High: pressed, or a wire is cut.
    pub stop: H::Input,
    /// Low: shut.
    pub door: H::Input,
    /// Mirror contact of the contactor. High: closed, or a wire is cut.
    pub permit_read: H::Input,
    /// Low: mains at the heater.
    pub mains_proof: H::Input,
    /// Low: air moves.
    pub airflow: H::Input,
    /// Converters of the air sensor, the second air sensor and the part probe.
    pub converters: [H::Bus; 3],
    /// The flash.
    pub flash: H::Flash,
    /// The store's part of it; no part of the program lies there.
    pub region: Region,
    /// Towards the computer.
    pub port: H::Port,
    /// Time.
    pub clock: H::Clock,
    /// The watchdog, already running.
    pub watchdog: H::Watchdog,
    /// The chip.
    pub chip: H::Chip,
    /// The display.
    pub screen: H::Screen,
    /// Who this board is.
    pub identity: Identity,
}

/// Who a board is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub struct Identity {
    /// A number no other board has; the flash chip's own will do.
    pub number: [u8; 8],
    /// No oven hangs on it: the computer may stand for GO. Never true on a chip.
    pub is_virtual: bool,
    /// It has a display.
    pub has_display: bool,
}

/// Time, counted twice.
pub trait Clock {
    /// Ticks of 100 ms since the board started, by the processor's own timer.
    fn ticks(&self) -> u32;

    /// The same by a clock that does not hang on the processor's: 32.768 kHz or the mains, counted
    /// in hardware. Called once a tick, so that a counter of 16 bits can be followed
    /// ([`EdgeCount`]). Where none is fitted any number will do: the settings say so.
    fn independent_ticks(&mut self) -> u32;
}

/// A watchdog that resets the chip, and with it every output, unless fed within at most 1 s. It
/// outlasts the longest erase of the flash, 400 ms, and a tick.
pub trait Watchdog {
    /// Feeds it; in [`Shell::tick`](crate::shell::Shell::tick) only after a tick whose inputs were
    /// fresh and whose outputs read back right.
    fn feed(&mut self);
}

/// Why the chip started.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Reset {
    /// The supply came, or the supervisor let go.
    Supply,
    /// The watchdog bit.
    Watchdog,
}

/// The chip's knowledge of itself.
pub trait Chip {
    /// Why it started.
    fn reset(&self) -> Reset;

    /// The program in flash still has its checksum. Asked at boot only; may take 100 ms.
    fn image_holds(&mut self) -> bool;

    /// A part of the memory that nothing else uses keeps every pattern; [`pattern_holds`] does it.
    /// Asked at boot and once a minute; at most 1 ms.
    fn memory_holds(&mut self) -> bool;
}

/// A converter's bus: chip select and clock are the board's.
pub trait SensorBus: SpiDevice {
    /// Transfers are in this mode from now on. The converters differ (`converter`), and which one is
    /// fitted only the settings know.
    fn set_mode(&mut self, mode: Mode);
}

/// A display of lines of text.
pub trait Screen {
    /// Shows a line, from 0, of at most [`SCREEN_COLUMNS`] characters of ASCII. Called at most once
    /// a tick; may take 5 ms. One that does not answer is not waited for.
    fn show(&mut self, line: u8, text: &str);
}

/// Lines of a display.
pub const SCREEN_LINES: u8 = 4;
/// Characters of one.
pub const SCREEN_COLUMNS: usize = 16;

/// No display.
#[derive(Clone, Copy, Debug, Default)]
pub struct NoScreen;

impl Screen for NoScreen {
    fn show(&mut self, _: u8, _: &str) {}
}

/// Ticks from a hardware counter of 16 bits that counts an independent clock's edges.
#[derive(Clone, Copy, Debug)]
pub struct EdgeCount {
    edges_per_second: u32,
    last: u16,
    /// Tenths of an edge since the last whole tick.
    tenths: u32,
    ticks: u32,
}

impl EdgeCount {
    /// A counter that stands at `count` now and counts so many edges a second: 32,768, 50, 60.
    #[must_use]
    pub fn new(edges_per_second: u32, count: u16) -> Self {
        Self { edges_per_second: edges_per_second.max(1), last: count, tenths: 0, ticks: 0 }
    }

    /// Takes the counter and gives ticks since the start. The counter must not go round twice
    /// between two calls: at 32,768 Hz it does so in 2 s.
    pub fn take(&mut self, count: u16) -> u32 {
        let edges = u32::from(count.wrapping_sub(self.last));
        self.last = count;
        self.tenths += edges * 10;
        self.ticks = self.ticks.wrapping_add(self.tenths / self.edges_per_second);
        self.tenths %= self.edges_per_second;
        self.ticks
    }
}

/// Writes every bit of `scratch` as 0 and as 1, neighbours alike and unlike, and reads it back.
#[must_use]
pub fn pattern_holds(scratch: &mut [u32]) -> bool {
    const PATTERNS: [u32; 4] = [0, !0, 0x5555_5555, 0xaaaa_aaaa];
    PATTERNS.into_iter().all(|pattern| {
        // Each word differs from its neighbours, so that an address line that stands still shows.
        let at = |index: usize| pattern ^ (index as u32).wrapping_mul(0x9e37_79b9);
        for (index, word) in scratch.iter_mut().enumerate() {
            *word = at(index);
        }
        let scratch = core::hint::black_box(&mut *scratch);
        scratch.iter().enumerate().all(|(index, word)| *word == at(index))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ticks_of_an_independent_clock_neither_lose_nor_gain_an_edge_in_a_day() {
        for (hz, from) in [(32_768, 60_000_u16), (50, 0), (60, 65_530)] {
            let mut count = EdgeCount::new(hz, from);
            let mut ticks = 0;
            for tenth in 1..=864_000_u64 {
                let edges = tenth * u64::from(hz) / 10;
                ticks = count.take(from.wrapping_add(edges as u16));
                assert_eq!(u64::from(ticks), tenth * u64::from(hz) / 10 * 10 / u64::from(hz));
            }
            assert!(ticks.abs_diff(864_000) <= 1);
        }
    }

    #[test]
    fn a_pattern_holds_in_sound_memory() {
        assert!(pattern_holds(&mut [7; 64]));
        assert!(pattern_holds(&mut []));
    }
}
