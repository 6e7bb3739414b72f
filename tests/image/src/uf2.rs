//! A file to drop on the board's drive: blocks of 512 bytes, each with 256 bytes and where they go.
//!
//! Figures of the format are those of its specification and of the RP2040 data sheet, 2.8.4.

use crate::image::{ERASED, FLASH_START, Image};

/// Bytes of a block.
pub const BLOCK: usize = 512;
/// Bytes of the flash that a block carries.
pub const PAYLOAD: usize = 256;
/// First, second and last word of every block.
pub const MAGIC: [u32; 3] = [0x0a32_4655, 0x9e5d_5157, 0x0ab1_6f30];
/// Flag: the eighth word is a family.
pub const FAMILY_GIVEN: u32 = 0x2000;
/// The RP2040's family.
pub const FAMILY: u32 = 0xe48b_ff56;

/// The file of an image. Its last page is filled with what an erased flash reads as; no page but the
/// image's is in it, so the board's store is left as it is.
#[must_use]
pub fn of(image: &Image) -> Vec<u8> {
    let pages = image.bytes.chunks(PAYLOAD);
    let blocks = pages.len() as u32;
    let mut file = Vec::with_capacity(pages.len() * BLOCK);
    for (number, page) in (0..).zip(pages) {
        let address = FLASH_START + number * PAYLOAD as u32;
        let head =
            [MAGIC[0], MAGIC[1], FAMILY_GIVEN, address, PAYLOAD as u32, number, blocks, FAMILY];
        let start = file.len();
        file.extend(head.into_iter().flat_map(u32::to_le_bytes));
        file.extend_from_slice(page);
        file.resize(start + 32 + PAYLOAD, ERASED);
        file.resize(start + BLOCK - 4, 0);
        file.extend(MAGIC[2].to_le_bytes());
    }
    file
}
