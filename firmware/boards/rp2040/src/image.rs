//! The image as it lies in the flash: where it is, where the store is, and whether a bit has changed.
//!
//! The seal is two words behind the vectors: bytes that follow it, and a CRC-32/ISO-HDLC of all
//! before it and all that follows it. They are put in after linking (`truesoak-tests`, `seal`); an
//! image that was never sealed does not pass, and a board that runs it refuses to heat.

use core::ptr::{addr_of, read_volatile};
use core::slice;
use crc::{CRC_32_ISO_HDLC, Crc, NoTable};

use truesoak_firmware::store::Region;

/// Where the processor sees the flash.
const XIP: usize = 0x1000_0000;
/// Bytes of a sector.
const SECTOR_BYTES: usize = 4096;

/// Bytes behind it, and the check; erased flash till it is sealed.
#[unsafe(link_section = ".image_seal")]
#[used]
static SEAL: [u32; 2] = [u32::MAX; 2];

// SAFETY: of the linker script `memory.x`; addresses only.
unsafe extern "C" {
    static __image_start: u8;
    static __image_end: u8;
    static __store_start: u8;
    static __store_end: u8;
}

fn address(symbol: *const u8) -> usize {
    symbol.addr()
}

/// Every bit of the image is as it was when it was sealed. Reads all of it once, bit by bit: a table
/// would be a kilobyte of image for a few milliseconds of one start.
pub fn is_whole() -> bool {
    let start = address(&raw const __image_start);
    let end = address(&raw const __image_end);
    let seal = addr_of!(SEAL).addr();
    let behind = seal + size_of_val(&SEAL);
    // SAFETY: both words are the static's own. Volatile: they were changed after it was compiled.
    let length = unsafe { read_volatile(addr_of!(SEAL[0])) };
    // SAFETY: as above.
    let check = unsafe { read_volatile(addr_of!(SEAL[1])) };
    if end.checked_sub(behind) != Some(length as usize) {
        return false;
    }
    let crc = Crc::<u32, NoTable>::new(&CRC_32_ISO_HDLC);
    let mut digest = crc.digest();
    digest.update(flash(start, seal));
    digest.update(flash(behind, end));
    digest.finalize() == check
}

/// The store's part of the flash, as the linker keeps it free.
pub fn store() -> Region {
    let start = address(&raw const __store_start);
    let end = address(&raw const __store_end);
    Region { start: (start - XIP) as u32, sectors: ((end - start) / SECTOR_BYTES) as u16 }
}

/// The image's bytes between two addresses of it.
fn flash(from: usize, to: usize) -> &'static [u8] {
    // SAFETY: part of the image, which nothing writes to while the program runs.
    unsafe { slice::from_raw_parts(from as *const u8, to - from) }
}
