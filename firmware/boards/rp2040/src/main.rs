//! truesoak on an RP2040.
//!
//! What is here is the chip: clocks, pins, flash, ports, watchdog, and a tick ten times a second. Every
//! decision is the firmware's and the core's. Which pin is what stands in `firmware/wiring.md`.
#![no_std]
#![no_main]

mod board;
mod drive;
mod flash;
mod image;
mod independent_clock;
mod outputs_off;
mod pins;
mod port;
mod spi;
mod tick;
mod uart;
mod usb;
mod watchdog;

use board::Board;
use truesoak_core::wire::messages::{Capabilities, Hello, PRODUCT, Reply, Request};
use truesoak_core::wire::refusal::Refusal;
use truesoak_firmware::Watchdog as _;
use truesoak_firmware::link::{Desk, Link};

/// The second stage of the start, which lets the processor run from flash: commands that every
/// flash chip knows.
// SAFETY: the boot ROM looks for it in this section, and the linker script keeps the section first.
#[unsafe(link_section = ".boot2")]
#[used]
static BOOT2: [u8; 256] = rp2040_boot2::BOOT_LOADER_GENERIC_03H;

struct Greeter([u8; 8]);

impl Desk for Greeter {
    fn answer<'a>(&'a mut self, request: &Request<'_>) -> Reply<'a> {
        match request {
            Request::Hello { .. } => Reply::Hello(Hello {
                product: PRODUCT,
                firmware: [0, 1, 0],
                board: self.0,
                capabilities: Capabilities::default(),
            }),
            _ => Reply::Refused(Refusal::NoDocument),
        }
    }
}

#[rp2040_hal::entry]
fn main() -> ! {
    let Some(board) = Board::new() else { panic!() };
    let mut watchdog = board.watchdog;
    let mut desk = Greeter(board.number);
    let mut links = [Link::new(board.usb), Link::new(board.uart)];
    loop {
        board.ticks.sleep();
        for link in &mut links {
            link.tick(&mut desk);
        }
        watchdog.feed();
    }
}
