//! The chip's flash as a [`NorFlash`], by the boot ROM's functions, and the number it came with.
//!
//! The program runs from this very flash. While it is erased or programmed nothing may be fetched
//! from it, so these few functions run from memory, interrupts off, and call the ROM only.

use core::ptr;
use embedded_storage::nor_flash::{
    ErrorType, MultiwriteNorFlash, NorFlash, NorFlashErrorKind, ReadNorFlash,
};
use rp2040_hal::pac::{IO_QSPI, XIP_SSI};
use rp2040_hal::rom_data;

/// The longest operation, ms: a sector's erase, at most (W25Q16JV, from memory). The watchdog waits
/// longer.
pub const ERASE_MS_MAX: u32 = 400;
/// Bytes of the flash.
const FLASH_BYTES: usize = 2 * 1024 * 1024;
/// Bytes erased at once, and the flash's own command for it.
const SECTOR_BYTES: usize = 4096;
const ERASE_SECTOR: u8 = 0x20;
/// Bytes programmed at once.
const PAGE_BYTES: usize = 256;
/// Where the processor sees the flash.
const XIP: usize = 0x1000_0000;
/// Command that reads the unique number: four bytes without meaning follow, then eight of it.
const READ_UNIQUE: [u8; 5] = [0x4b, 0, 0, 0, 0];
/// Bytes of the unique number.
const UNIQUE_BYTES: usize = 8;
/// Bytes of the transfer that reads it.
const UNIQUE_TRANSFER: usize = READ_UNIQUE.len() + UNIQUE_BYTES;

/// The flash; there is one.
#[derive(Debug)]
pub struct Flash(());

impl Flash {
    /// # Safety
    /// Once in a program: two would not know of each other's operations.
    pub const unsafe fn new() -> Self {
        Self(())
    }

    /// The number its maker gave this one flash chip.
    pub fn unique(&mut self) -> [u8; UNIQUE_BYTES] {
        let rom = Rom::find();
        let mut transfer = [0; UNIQUE_TRANSFER];
        for (place, byte) in transfer.iter_mut().zip(READ_UNIQUE) {
            *place = byte;
        }
        // SAFETY: runs from memory with interrupts off and the second core never started.
        critical_section::with(|_| unsafe { transfer_from_ram(&rom, &mut transfer) });
        transfer.last_chunk().copied().unwrap_or_default()
    }
}

/// The ROM's functions, looked up while the flash can still be read.
struct Rom {
    connect: unsafe extern "C" fn(),
    exit_xip: unsafe extern "C" fn(),
    erase: unsafe extern "C" fn(u32, usize, u32, u8),
    program: unsafe extern "C" fn(u32, *const u8, usize),
    flush: unsafe extern "C" fn(),
    enter_xip: unsafe extern "C" fn(),
}

impl Rom {
    fn find() -> Self {
        Self {
            connect: rom_data::connect_internal_flash::ptr(),
            exit_xip: rom_data::flash_exit_xip::ptr(),
            erase: rom_data::flash_range_erase::ptr(),
            program: rom_data::flash_range_program::ptr(),
            flush: rom_data::flash_flush_cache::ptr(),
            enter_xip: rom_data::flash_enter_cmd_xip::ptr(),
        }
    }
}

/// Erases one sector.
///
/// # Safety
/// Interrupts are off, `address` is a sector's first, and nothing refers to what is in it.
#[inline(never)]
#[unsafe(link_section = ".data.ram_func")]
#[allow(clippy::multiple_unsafe_ops_per_block)]
unsafe fn erase_from_ram(rom: &Rom, address: u32) {
    // SAFETY: the ROM's own order: connect, leave reading, erase, drop what was cached, read again.
    unsafe {
        (rom.connect)();
        (rom.exit_xip)();
        (rom.erase)(address, SECTOR_BYTES, SECTOR_BYTES as u32, ERASE_SECTOR);
        (rom.flush)();
        (rom.enter_xip)();
    }
}

/// Programs one page.
///
/// # Safety
/// Interrupts are off, `address` is a page's first, and `page` is in memory, not in the flash.
#[inline(never)]
#[unsafe(link_section = ".data.ram_func")]
#[allow(clippy::multiple_unsafe_ops_per_block)]
unsafe fn program_from_ram(rom: &Rom, address: u32, page: &[u8; PAGE_BYTES]) {
    // SAFETY: as above, with a program in the erase's place.
    unsafe {
        (rom.connect)();
        (rom.exit_xip)();
        (rom.program)(address, page.as_ptr(), PAGE_BYTES);
        (rom.flush)();
        (rom.enter_xip)();
    }
}

/// Sends bytes to the flash chip and puts what came back in their place.
///
/// # Safety
/// Interrupts are off, and the command changes nothing in the flash.
#[inline(never)]
#[unsafe(link_section = ".data.ram_func")]
#[allow(clippy::multiple_unsafe_ops_per_block)]
unsafe fn transfer_from_ram(rom: &Rom, bytes: &mut [u8; UNIQUE_TRANSFER]) {
    // SAFETY: both blocks are at these addresses on every RP2040; reading has been left, so nobody
    // else uses them; flushing gives the select back to the controller. The accessors are addresses
    // only and are compiled into this function.
    unsafe {
        let select = (*IO_QSPI::ptr()).gpio_qspiss().gpio_ctrl().as_ptr();
        let status = (*XIP_SSI::ptr()).sr().as_ptr();
        let data = (*XIP_SSI::ptr()).dr0().as_ptr();
        (rom.connect)();
        (rom.exit_xip)();
        ptr::write_volatile(select, SELECT_LOW);
        for byte in bytes {
            // One at a time: the controller's store never overflows, and 13 bytes need no haste.
            while ptr::read_volatile(status) & SSI_ROOM == 0 {}
            ptr::write_volatile(data, *byte as u32);
            while ptr::read_volatile(status) & SSI_ARRIVED == 0 {}
            *byte = ptr::read_volatile(data) as u8;
        }
        ptr::write_volatile(select, SELECT_HIGH);
        (rom.flush)();
        (rom.enter_xip)();
    }
}

/// The select held low: output override 2 (data sheet, IO_QSPI: GPIO_QSPI_SS_CTRL.OUTOVER).
const SELECT_LOW: u32 = 2 << 8;
/// The select held high: output override 3.
const SELECT_HIGH: u32 = 3 << 8;
/// The controller takes a byte (data sheet, SSI: SR.TFNF).
const SSI_ROOM: u32 = 1 << 1;
/// The controller has one (SR.RFNE).
const SSI_ARRIVED: u32 = 1 << 3;

impl ErrorType for Flash {
    type Error = NorFlashErrorKind;
}

impl ReadNorFlash for Flash {
    const READ_SIZE: usize = 1;

    fn read(&mut self, offset: u32, bytes: &mut [u8]) -> Result<(), Self::Error> {
        within(offset, bytes.len())?;
        for (byte, address) in bytes.iter_mut().zip(XIP + offset as usize..) {
            // SAFETY: inside the flash, which is always readable here. Volatile: what is in it
            // changes without the compiler's knowing.
            *byte = unsafe { ptr::read_volatile(address as *const u8) };
        }
        Ok(())
    }

    fn capacity(&self) -> usize {
        FLASH_BYTES
    }
}

impl NorFlash for Flash {
    const WRITE_SIZE: usize = 4;
    const ERASE_SIZE: usize = SECTOR_BYTES;

    fn erase(&mut self, from: u32, to: u32) -> Result<(), Self::Error> {
        let length = to.checked_sub(from).ok_or(NorFlashErrorKind::OutOfBounds)?;
        within(from, length as usize)?;
        aligned(from, length as usize, SECTOR_BYTES)?;
        let rom = Rom::find();
        for address in (from..to).step_by(SECTOR_BYTES) {
            // SAFETY: whole sectors of the flash, above; the store's, which nobody has references
            // into. The function runs from memory, with interrupts off and the second core never started.
            critical_section::with(|_| unsafe { erase_from_ram(&rom, address) });
        }
        Ok(())
    }

    fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), Self::Error> {
        within(offset, bytes.len())?;
        aligned(offset, bytes.len(), Self::WRITE_SIZE)?;
        let rom = Rom::find();
        let (mut at, mut left) = (offset as usize, bytes);
        while !left.is_empty() {
            let in_page = at % PAGE_BYTES;
            let (now, later) = left.split_at(left.len().min(PAGE_BYTES - in_page));
            // Ones leave the flash's bits as they are.
            let mut page = [0xff; PAGE_BYTES];
            page.iter_mut().skip(in_page).zip(now).for_each(|(place, byte)| *place = *byte);
            // SAFETY: as for an erase; the page is on the stack.
            critical_section::with(|_| unsafe {
                program_from_ram(&rom, (at - in_page) as u32, &page);
            });
            (at, left) = (at + now.len(), later);
        }
        Ok(())
    }
}

/// The chip's words may be programmed again, ones to zeros.
impl MultiwriteNorFlash for Flash {}

fn within(offset: u32, length: usize) -> Result<(), NorFlashErrorKind> {
    let end = (offset as usize).checked_add(length);
    if end.is_some_and(|end| end <= FLASH_BYTES) {
        Ok(())
    } else {
        Err(NorFlashErrorKind::OutOfBounds)
    }
}

fn aligned(offset: u32, length: usize, unit: usize) -> Result<(), NorFlashErrorKind> {
    let whole = (offset as usize).is_multiple_of(unit) && length.is_multiple_of(unit);
    if whole { Ok(()) } else { Err(NorFlashErrorKind::NotAligned) }
}
