//! The serial link, served by its interrupt alone.

use crate::pins::{UartRx, UartTx};
use crate::port::{Act, Port, Rings};
use core::cell::RefCell;
use cortex_m::singleton;
use critical_section::Mutex;
use nb::Error::{Other, WouldBlock};
use rp2040_hal::fugit::HertzU32;
use rp2040_hal::pac::{self, RESETS, UART0, interrupt};
use rp2040_hal::uart::{DataBits, Enabled, StopBits, UartConfig, UartPeripheral};

/// Bits a second.
const RATE: HertzU32 = HertzU32::from_raw(115_200);
/// Bytes the chip holds in each direction.
const FIFO_BYTES: usize = 32;

type Hardware = UartPeripheral<Enabled, UART0, (UartTx, UartRx)>;

static UART: Mutex<RefCell<Option<&'static mut Uart>>> = Mutex::new(RefCell::new(None));

struct Uart {
    hardware: Hardware,
    rings: Rings,
}

/// Starts the port; at most once. `None` if it was started before.
pub fn start(
    uart: UART0,
    pins: (UartTx, UartRx),
    resets: &mut RESETS,
    peripheral_clock: HertzU32,
) -> Option<Port> {
    let config = UartConfig::new(RATE, DataBits::Eight, None, StopBits::One);
    let uart = UartPeripheral::new(uart, pins, resets);
    let mut hardware = uart.enable(config, peripheral_clock).ok()?;
    hardware.enable_rx_interrupt();
    let uart = singleton!(: Uart = Uart { hardware, rings: Rings::new() })?;
    critical_section::with(|token| UART.replace(token, Some(uart)));
    // SAFETY: its handler shares only what is in the mutex above.
    unsafe { pac::NVIC::unmask(pac::Interrupt::UART0_IRQ) };
    Some(Port(with_rings))
}

impl Uart {
    fn serve(&mut self) {
        self.hear();
        self.say();
    }

    /// Takes all that has come. A byte that came damaged is left out; its frame's check tells.
    fn hear(&mut self) {
        let mut bytes = [0; FIFO_BYTES];
        while self.hardware.uart_is_readable() {
            match self.hardware.read_raw(&mut bytes) {
                Ok(length) => self.rings.hear(bytes.get(..length).unwrap_or_default()),
                Err(Other(error)) => self.rings.hear(error.discarded),
                Err(WouldBlock) => return,
            }
        }
    }

    /// Fills the chip's own store. What is left goes out when that is half empty; with nothing left
    /// nobody asks, for the chip would ask without end.
    fn say(&mut self) {
        while let Ok(left) = self.hardware.write_raw(self.rings.said.first()) {
            let sent = self.rings.said.first().len() - left.len();
            if sent == 0 {
                break;
            }
            self.rings.said.drop_first(sent);
        }
        if self.rings.said.first().is_empty() {
            self.hardware.disable_tx_interrupt();
        } else {
            self.hardware.enable_tx_interrupt();
        }
    }
}

#[interrupt]
fn UART0_IRQ() {
    serve();
}

/// Moves what can be moved.
fn serve() {
    with_rings(&mut |_| ());
}

fn with_rings(act: &mut Act<'_>) {
    critical_section::with(|token| {
        if let Some(uart) = UART.borrow_ref_mut(token).as_mut() {
            act(&mut uart.rings);
            uart.serve();
        }
    });
}
