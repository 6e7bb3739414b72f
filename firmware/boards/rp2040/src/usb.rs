//! A serial port over USB, served by its interrupt alone.

use crate::port::{Port, Rings, Wires};
use core::cell::RefCell;
use cortex_m::singleton;
use critical_section::Mutex;
use heapless::Vec;
use rp2040_hal::clocks::UsbClock;
use rp2040_hal::pac::{self, RESETS, USBCTRL_DPRAM, USBCTRL_REGS, interrupt};
use rp2040_hal::usb::UsbBus;
use truesoak_core::wire::messages::PRODUCT;
use usb_device::bus::UsbBusAllocator;
use usb_device::device::{
    StringDescriptors, UsbDevice, UsbDeviceBuilder, UsbDeviceState, UsbVidPid,
};
use usbd_serial::{CdcAcmClass, USB_CLASS_CDC};

/// A number that serial ports may share whose maker has none of his own; told apart by their
/// names (from memory).
const VENDOR_PRODUCT: UsbVidPid = UsbVidPid(0x16c0, 0x27dd);
/// Longest packet of full-speed USB.
const PACKET_BYTES: usize = 64;

static USB: Mutex<RefCell<Option<Usb>>> = Mutex::new(RefCell::new(None));

struct Usb {
    device: UsbDevice<'static, UsbBus>,
    serial: CdcAcmClass<'static, UsbBus>,
    wires: Wires,
    /// On its way out.
    packet: Vec<u8, PACKET_BYTES>,
    /// The packet before was a full one, so the computer waits for more: a shorter one, or an empty
    /// one, ends that.
    was_full: bool,
}

/// Starts the port; at most once. `None` if it was started before.
pub fn start(
    registers: (USBCTRL_REGS, USBCTRL_DPRAM),
    clock: UsbClock,
    resets: &mut RESETS,
    board: &'static str,
) -> Option<Port> {
    let (registers, memory) = registers;
    let bus = UsbBus::new(registers, memory, clock, true, resets);
    let allocator: &'static UsbBusAllocator<UsbBus> =
        singleton!(: UsbBusAllocator<UsbBus> = UsbBusAllocator::new(bus))?;
    let serial = CdcAcmClass::new(allocator, PACKET_BYTES as u16);
    let names =
        StringDescriptors::default().manufacturer(PRODUCT).product(PRODUCT).serial_number(board);
    let device = UsbDeviceBuilder::new(allocator, VENDOR_PRODUCT)
        .strings(&[names])
        .ok()?
        // Some hosts take the first descriptor in one packet or not at all.
        .max_packet_size_0(PACKET_BYTES as u8)
        .ok()?
        .device_class(USB_CLASS_CDC)
        .build();
    let rings: &'static mut Rings = singleton!(: Rings = Rings::new())?;
    let (port, wires) = rings.split(serve);
    let usb = Usb { device, serial, wires, packet: Vec::new(), was_full: false };
    critical_section::with(|token| USB.replace(token, Some(usb)));
    serve();
    Some(port)
}

impl Usb {
    fn serve(&mut self) {
        self.device.poll(&mut [&mut self.serial]);
        if self.device.state() == UsbDeviceState::Configured {
            self.hear();
            self.say();
        } else {
            self.forget();
        }
        self.ask();
    }

    /// A packet that there is no room for would interrupt without end: nobody asks then, and the
    /// program, which serves the port each time it reads, goes on from there.
    fn ask(&self) {
        if self.wires.room() < PACKET_BYTES {
            pac::NVIC::mask(pac::Interrupt::USBCTRL_IRQ);
        } else {
            // SAFETY: its handler shares only what is in the mutex, which is held here.
            unsafe { pac::NVIC::unmask(pac::Interrupt::USBCTRL_IRQ) };
        }
    }

    /// Takes packets while there is room for a whole one; else the computer waits.
    fn hear(&mut self) {
        let mut packet = [0; PACKET_BYTES];
        while self.wires.room() >= PACKET_BYTES {
            let Ok(length) = self.serial.read_packet(&mut packet) else { return };
            self.wires.hear(packet.get(..length).unwrap_or_default());
        }
    }

    /// Hands over packets while the port takes them.
    fn say(&mut self) {
        loop {
            while !self.packet.is_full() {
                let Some(byte) = self.wires.says.dequeue() else { break };
                let _ = self.packet.push(byte);
            }
            let is_nothing = self.packet.is_empty() && !self.was_full;
            if is_nothing || self.serial.write_packet(&self.packet).is_err() {
                return;
            }
            self.was_full = self.packet.is_full();
            self.packet.clear();
        }
    }

    /// Nobody is there: what was meant for the one who was is not kept for the next.
    fn forget(&mut self) {
        self.packet.clear();
        self.was_full = false;
        while self.wires.says.dequeue().is_some() {}
    }
}

#[interrupt]
fn USBCTRL_IRQ() {
    serve();
}

/// Moves what can be moved.
fn serve() {
    critical_section::with(|token| {
        if let Some(usb) = USB.borrow_ref_mut(token).as_mut() {
            usb.serve();
        }
    });
}
