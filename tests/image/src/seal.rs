//! The seal: two words in the image by which the board knows at its start that no bit has changed.
//!
//! Low byte first: the bytes that follow the seal, then a CRC-32/ISO-HDLC of all before the seal and
//! all behind it. `firmware/boards/rp2040/src/image.rs` reads it.

use crate::image::{FLASH_START, Fault, Image, section, symbol};
use crc::{CRC_32_ISO_HDLC, Crc};

/// The section of it.
pub const SECTION: &str = ".image_seal";
/// Bytes of it.
pub const BYTES: usize = 8;

/// A copy of the linker's file with its seal put in.
///
/// # Errors
/// No such file, or one without a place for it.
pub fn sealed(file: &[u8]) -> Result<Vec<u8>, Fault> {
    let image = Image::of_elf(file)?;
    let (offset, address) = section(file, SECTION)?;
    let end = symbol(file, "__image_end")?;
    if (end - FLASH_START) as usize != image.bytes.len() {
        return Err(Fault::Missing("__image_end where the image ends"));
    }
    let at = (address - FLASH_START) as usize;
    let seal = words(&image.bytes, at).ok_or(Fault::Missing(SECTION))?;
    let mut file = file.to_vec();
    let place = file.get_mut(offset..offset + BYTES).ok_or(Fault::Missing(SECTION))?;
    place.copy_from_slice(&seal);
    Ok(file)
}

/// What stands at `at` in a sealed image.
#[must_use]
pub fn words(image: &[u8], at: usize) -> Option<[u8; BYTES]> {
    let behind = image.get(at + BYTES..)?;
    let crc = Crc::<u32>::new(&CRC_32_ISO_HDLC);
    let mut digest = crc.digest();
    digest.update(image.get(..at)?);
    digest.update(behind);
    let mut seal = [0; BYTES];
    let (length, check) = seal.split_at_mut(BYTES / 2);
    length.copy_from_slice(&(behind.len() as u32).to_le_bytes());
    check.copy_from_slice(&digest.finalize().to_le_bytes());
    Some(seal)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The check value of CRC-32/ISO-HDLC in the catalogue of parametrised CRC algorithms, with the
    /// seal in the middle of the nine digits.
    #[test]
    fn the_seal_is_the_length_behind_it_and_the_check_of_all_but_itself() {
        let image = b"1234\xff\xff\xff\xff\xff\xff\xff\xff56789";
        let expected = [5, 0, 0, 0, 0x26, 0x39, 0xf4, 0xcb];
        assert_eq!(words(image, 4), Some(expected));
        assert_eq!(words(image, 10), None);
    }
}
