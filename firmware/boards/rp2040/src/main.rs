//! truesoak on an RP2040.
//!
//! What is here is the chip: clocks, pins, flash, ports, watchdog, and a tick ten times a second. Every
//! decision is the firmware's and the core's. Which pin is what stands in `firmware/wiring.md`.
#![no_std]
#![no_main]

mod board;
mod chip;
mod clock;
mod flash;
mod floor;
mod image;
mod independent_clock;
mod outputs_off;
mod pad;
mod pins;
mod port;
mod spi;
mod tick;
mod uart;
mod usb;
mod watchdog;

use cortex_m::singleton;
use truesoak_firmware::shell::{Memory, Shell};

/// The second stage of the start, which lets the processor run from flash: commands that every
/// flash chip knows.
// SAFETY: the boot ROM looks for it in this section, and the linker script keeps the section first.
#[unsafe(link_section = ".boot2")]
#[used]
static BOOT2: [u8; 256] = rp2040_boot2::BOOT_LOADER_GENERIC_03H;

#[rp2040_hal::entry]
fn main() -> ! {
    let Some((parts, ticks)) = board::start() else { panic!() };
    let Some(memory) = singleton!(: Memory = Memory::new()) else { panic!() };
    let mut shell = Shell::boot(parts, memory);
    loop {
        ticks.sleep(|| {
            if port::take_heard() {
                shell.serve();
            }
        });
        shell.tick();
    }
}
