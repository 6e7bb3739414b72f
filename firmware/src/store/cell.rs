//! The one unit that is written: a cell, whole or not at all.
//!
//! ```text
//! ┌─────┬──────────┬───────────────┬───────────────────────┐
//! │ tag │ CRC-24   │ payload       │ 0xFF up to the width  │
//! └─────┴──────────┴───────────────┴───────────────────────┘
//! ```
//!
//! The check covers everything else of the cell and where it stands (stream, number, sector of the
//! stream, place in the sector), so neither a torn cell nor one of a former life passes. A torn one
//! passes by chance once in 16 million.

use super::sector::Sheet;
use crc::{Algorithm, CRC_24_OPENPGP};
/// Digest of headers and documents, CRC-32/ISO-HDLC.
pub(super) use truesoak_core::wire::upload::DIGEST;

/// Check of a cell, CRC-24/OPENPGP (RFC 9580, section 6.1).
const CHECK: Algorithm<u32> = CRC_24_OPENPGP;
/// A register of 24 bits stands at the upper end of 32.
const ABOVE: u32 = 8;
/// What four bits that leave the register do to it.
///
/// WHY: the library takes a bit at a time, three times as many instructions in the tick that keeps a
/// checkpoint, or a kilobyte of table.
const FOUR_BITS: [u32; 16] = {
    let mut table = [0; 16];
    let mut bits = 0;
    while bits < table.len() {
        let (mut register, mut step) = ((bits as u32) << 28, 0);
        while step < 4 {
            let leaves = register >> 31;
            register = (register << 1) ^ (leaves * (CHECK.poly << ABOVE));
            step += 1;
        }
        table[bits] = register;
        bits += 1;
    }
    table
};

/// Bytes of a cell before its payload.
pub(super) const HEAD: usize = 4;
/// The widest cell: settings on a flash that writes 32 bytes at once.
pub(super) const CELL_MAX: usize = 288;
/// No cell's tag: what a blank one reads.
const BLANK: u8 = 0xFF;

/// What stands in a cell's place.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Found {
    Blank,
    Torn,
    /// A cell with this tag.
    Good(u8),
}

/// Fills `cell`, of the stream's width, with a tag and what the parts make together.
pub(super) fn seal(cell: &mut [u8], sheet: &Sheet, place: u16, tag: u8, parts: &[&[u8]]) {
    cell.fill(BLANK);
    let Some((head, mut rest)) = cell.split_first_chunk_mut::<HEAD>() else { return };
    for part in parts {
        let (here, after) = rest.split_at_mut(part.len().min(rest.len()));
        here.iter_mut().zip(*part).for_each(|(to, from)| *to = *from);
        rest = after;
    }
    head[0] = tag;
    let [c0, c1, c2, _] = check(cell, sheet, place).to_le_bytes();
    cell.iter_mut().skip(1).zip([c0, c1, c2]).for_each(|(to, from)| *to = from);
}

/// What these bytes of the stream's width are in that place.
pub(super) fn look(cell: &[u8], sheet: &Sheet, place: u16) -> Found {
    if cell.iter().all(|byte| *byte == BLANK) {
        return Found::Blank;
    }
    match cell.first_chunk::<HEAD>() {
        Some([tag, c0, c1, c2])
            if *tag != BLANK
                && u32::from_le_bytes([*c0, *c1, *c2, 0]) == check(cell, sheet, place) =>
        {
            Found::Good(*tag)
        }
        _ => Found::Torn,
    }
}

fn check(cell: &[u8], sheet: &Sheet, place: u16) -> u32 {
    let header = &sheet.header;
    let mut register = CHECK.init << ABOVE;
    register = taken(register, &[header.stream as u8]);
    register = taken(register, &header.id.to_le_bytes());
    register = taken(register, &header.index.to_le_bytes());
    register = taken(register, &place.to_le_bytes());
    register = taken(register, cell.get(..1).unwrap_or_default());
    taken(register, cell.get(HEAD..).unwrap_or_default()) >> ABOVE
}

/// The register once these bytes were taken in.
#[inline(never)]
fn taken(register: u32, bytes: &[u8]) -> u32 {
    let shifted = |register: u32| {
        let leave = (register >> 28) as usize;
        (register << 4) ^ FOUR_BITS.get(leave).copied().unwrap_or_default()
    };
    bytes
        .iter()
        .fold(register, |register, byte| shifted(shifted(register ^ (u32::from(*byte) << 24))))
}

#[cfg(test)]
mod tests {
    use super::super::sector::{Header, Stream};
    use super::*;

    fn sheet(id: u32, index: u16) -> Sheet {
        Sheet { sector: 9, header: Header::new(Stream::Rows, id, index) }
    }

    #[test]
    fn both_checks_give_the_catalogued_values() {
        // Catalogue of parametrised CRC algorithms (RevEng), check over "123456789".
        assert_eq!(taken(CHECK.init << ABOVE, b"123456789") >> ABOVE, 0x21_CF02);
        assert_eq!(DIGEST.checksum(b"123456789"), 0xCBF4_3926);
    }

    #[test]
    fn four_bits_at_a_time_come_to_what_the_library_comes_to() {
        let library = crc::Crc::<u32>::new(&CHECK);
        let bytes: [u8; 256] = core::array::from_fn(|at| (at as u8).wrapping_mul(151) ^ 0x5A);
        for length in 0..bytes.len() {
            let found = taken(CHECK.init << ABOVE, &bytes[..length]) >> ABOVE;
            assert_eq!(found, library.checksum(&bytes[..length]), "{length} bytes");
        }
    }

    #[test]
    fn a_cell_holds_only_whole_and_only_in_its_own_place() {
        let mut cell = [0; 20];
        seal(&mut cell, &sheet(3, 1), 7, 0x0C, &[b"abc", b"defgh"]);
        assert_eq!(&cell[HEAD..HEAD + 8], b"abcdefgh");
        assert_eq!(look(&cell, &sheet(3, 1), 7), Found::Good(0x0C));
        assert_eq!(look(&cell, &sheet(3, 1), 8), Found::Torn);
        assert_eq!(look(&cell, &sheet(3, 2), 7), Found::Torn);
        assert_eq!(look(&cell, &sheet(4, 1), 7), Found::Torn);
        for bit in 0..cell.len() * 8 {
            let mut other = cell;
            other[bit / 8] ^= 1 << (bit % 8);
            assert_eq!(look(&other, &sheet(3, 1), 7), Found::Torn, "bit {bit}");
        }
        assert_eq!(look(&[0xFF; 20], &sheet(3, 1), 7), Found::Blank);
        assert_eq!(look(&[0; 20], &sheet(3, 1), 7), Found::Torn);
    }

    #[test]
    fn a_prefix_of_a_cell_is_torn_at_every_length() {
        let mut cell = [0; 20];
        seal(&mut cell, &sheet(1, 0), 0, 0x10, &[&[0x5A; 16]]);
        for length in 1..cell.len() {
            let mut torn = [0xFF; 20];
            torn[..length].copy_from_slice(&cell[..length]);
            assert_eq!(look(&torn, &sheet(1, 0), 0), Found::Torn, "{length} bytes");
        }
    }
}
