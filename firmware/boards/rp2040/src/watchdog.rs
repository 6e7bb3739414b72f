//! The chip's watchdog: resets every output unless it is fed.

use rp2040_hal::fugit::MicrosDurationU32;

/// From the last feeding to the reset. Longer than the longest operation of the flash (erasing a
/// sector, 400 ms at most: W25Q16JV, from memory) and a tick; at most the second that the guard's
/// times allow.
const PERIOD: MicrosDurationU32 = MicrosDurationU32::millis(1_000);

/// The running watchdog. It pauses while a debugger holds the processor; the permit does not.
pub struct Watchdog(rp2040_hal::Watchdog);

impl Watchdog {
    /// Starts it; it cannot be stopped any more.
    pub fn start(mut watchdog: rp2040_hal::Watchdog) -> Self {
        watchdog.start(PERIOD);
        Self(watchdog)
    }
}

impl truesoak_firmware::board::Watchdog for Watchdog {
    fn feed(&mut self) {
        self.0.feed();
    }
}
