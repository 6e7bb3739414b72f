//! The chip's watchdog: resets every output unless it is fed.

use crate::flash::ERASE_MS_MAX;
use rp2040_hal::fugit::MicrosDurationU32;

/// From the last feeding to the reset.
const PERIOD: MicrosDurationU32 = MicrosDurationU32::millis(1_000);
// A sector's erase may begin at the end of a tick that was 100 ms late …
const _: () = assert!(PERIOD.to_millis() > 2 * 100 + ERASE_MS_MAX);
// … and the guard's times allow for no more than a second.
const _: () = assert!(PERIOD.to_millis() <= 1_000);

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
