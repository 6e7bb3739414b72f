//! Bytes put into the flash past the store; some with the checks of its sectors and cells, written
//! here from what `firmware/src/store` says of itself.

use super::flash::SECTOR;
use crate::bytes::Bytes;
use crc::{CRC_24_OPENPGP, Crc};
use truesoak_core::wire::upload::DIGEST;

/// Bytes of a sector's header, and of those under its digest.
const HEADER: usize = 32;
const DIGESTED: usize = 28;
/// Bytes of a cell of each kind of sector, on flash that writes four at once.
const WIDTHS: [usize; 8] = [12, 12, 20, 264, 104, 104, 20, 32];
const CELL: Crc<u32> = Crc::<u32>::new(&CRC_24_OPENPGP);

fn sector<'c>(chip: &'c mut [u8], bytes: &mut Bytes<'_>) -> &'c mut [u8] {
    let at = bytes.below(chip.len() / SECTOR) * SECTOR;
    &mut chip[at..at + SECTOR]
}

/// Any bytes anywhere, or one byte all over.
pub(super) fn raw(chip: &mut [u8], bytes: &mut Bytes<'_>) {
    let sector = sector(chip, bytes);
    let from = usize::from(bytes.u16()) % SECTOR;
    if bytes.flag() {
        sector[from..].fill(bytes.byte());
        return;
    }
    let len = bytes.below(64);
    for (to, byte) in sector[from..].iter_mut().zip(bytes.take(len)) {
        *to = *byte;
    }
}

/// A header whose digest holds.
pub(super) fn header(chip: &mut [u8], bytes: &mut Bytes<'_>) {
    let sector = sector(chip, bytes);
    if bytes.flag() {
        sector.fill(0xFF);
    }
    let small = |bytes: &mut Bytes<'_>| match bytes.below(8) {
        0 => bytes.u32(),
        1 => u32::MAX,
        _ => u32::from(bytes.byte() % 8),
    };
    let mut header = [0xFF; HEADER];
    header[0] = bytes.byte() % 9;
    header[1] = 1;
    header[2..4].copy_from_slice(&small(bytes).to_le_bytes()[..2]);
    for at in [4, 8, 12] {
        header[at..at + 4].copy_from_slice(&small(bytes).to_le_bytes());
    }
    let digest = DIGEST.checksum(&header[..DIGESTED]);
    header[DIGESTED..].copy_from_slice(&digest.to_le_bytes());
    sector[..HEADER].copy_from_slice(&header);
}

/// A cell whose check holds in the sector it is put into.
pub(super) fn cell(chip: &mut [u8], bytes: &mut Bytes<'_>) {
    let sector = sector(chip, bytes);
    let width = WIDTHS[usize::from(sector[0] % 8)];
    let place = usize::from(bytes.byte()) % ((SECTOR - HEADER) / width);
    let mut cell = vec![0xFF; width];
    cell[0] = bytes.byte();
    let len = bytes.below(24);
    for (to, byte) in cell[4..].iter_mut().zip(bytes.take(len)) {
        *to = *byte;
    }
    let mut digest = CELL.digest();
    digest.update(&sector[..1]);
    digest.update(&sector[4..8]);
    digest.update(&sector[2..4]);
    digest.update(&(place as u16).to_le_bytes());
    digest.update(&cell[..1]);
    digest.update(&cell[4..]);
    cell[1..4].copy_from_slice(&digest.finalize().to_le_bytes()[..3]);
    let at = HEADER + place * width;
    sector[at..at + width].copy_from_slice(&cell);
}

/// One sector as another.
pub(super) fn copy(chip: &mut [u8], bytes: &mut Bytes<'_>) {
    let from = sector(chip, bytes).to_vec();
    sector(chip, bytes).copy_from_slice(&from);
}
