//! The board's file, byte by byte against the rules of its format, and the images it is made from.
//!
//! Goal: what is dropped on a board is what the linker made, sealed, where the boot ROM wants it.
//! Method: a reader of blocks written from the format's rules (its specification; RP2040 data sheet,
//! 2.8.4) and not from the writer, on small files put together by hand. The board's own image goes
//! through the same reader once it was built (`firmware/boards/rp2040/build`).

mod support;

use crc::{CRC_32_MPEG_2, Crc};
use std::fs;
use std::path::PathBuf;
use support::{Segment, elf, read_uf2};
use truesoak_image::image::{ERASED, FLASH_START};
use truesoak_image::{Fault, Image, seal, uf2};

#[test]
fn a_file_of_blocks_holds_the_image_and_nothing_else() {
    for length in [1, 255, 256, 257, 4_096, 10_001] {
        let bytes: Vec<u8> = (0..length).map(|at| (at * 7 % 251) as u8).collect();
        let read = read_uf2(&uf2::of(&Image { bytes: bytes.clone() })).expect("by the rules");
        assert_eq!(read.len(), usize::div_ceil(length, 256) * 256);
        assert_eq!(read[..length], bytes);
        assert!(read[length..].iter().all(|byte| *byte == 0xff), "the rest stays erased");
    }
}

#[test]
fn the_reader_finds_every_word_that_is_changed() {
    let file = uf2::of(&Image { bytes: vec![0x5a; 600] });
    // Words of a block: eight before the bytes, one at its end.
    for word in (0..8).chain([127]) {
        let mut damaged = file.clone();
        damaged[512 + 4 * word] ^= 0x01;
        assert_eq!(read_uf2(&damaged), None, "word {word}");
    }
    assert_eq!(read_uf2(&file[..1_000]), None, "cut short");
}

#[test]
fn what_is_copied_to_memory_lies_where_it_is_copied_from() {
    let data =
        Segment { virtual_address: 0x2000_0000, physical_address: 0x1000_0008, bytes: b"data" };
    let code =
        Segment { virtual_address: 0x1000_0000, physical_address: 0x1000_0000, bytes: b"code" };
    let image = Image::of_elf(&elf(&[data, code], 40)).expect("an image");
    assert_eq!(image.bytes, b"code\xff\xff\xff\xffdata");
}

#[test]
fn what_is_no_image_for_this_chip_is_refused() {
    let at = |address: u32| Segment {
        virtual_address: address,
        physical_address: address,
        bytes: b"four",
    };
    let refused =
        |segments: &[Segment], machine| Image::of_elf(&elf(segments, machine)).unwrap_err();
    assert_eq!(refused(&[at(0x2000_0000)], 40), Fault::NotInFlash(0x2000_0000));
    assert_eq!(refused(&[at(0x101f_fffe)], 40), Fault::NotInFlash(0x101f_fffe));
    assert_eq!(
        refused(&[at(FLASH_START), at(FLASH_START + 2)], 40),
        Fault::Overlap(FLASH_START + 2)
    );
    assert!(matches!(refused(&[at(FLASH_START)], 243), Fault::NotElf(_)), "RISC-V");
    assert!(matches!(Image::of_elf(b"\x7fELF"), Err(Fault::NotElf(_))));
    let whole = elf(&[at(FLASH_START)], 40);
    assert!(Image::of_elf(&whole[..whole.len() - 2]).is_err(), "cut short");
    assert_eq!(seal::sealed(&whole), Err(Fault::Missing(seal::SECTION)));
}

/// What `firmware/boards/rp2040/build` leaves.
fn built(name: &str) -> Vec<u8> {
    let folder =
        PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../../firmware/boards/rp2040/target");
    let path = folder.join(name);
    fs::read(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

#[test]
#[ignore = "reads what firmware/boards/rp2040/build leaves"]
fn the_board_s_file_is_its_image_and_starts_as_the_boot_rom_demands() {
    let image = Image::of_elf(&built("truesoak.elf")).expect("an image");
    let flash = read_uf2(&built("truesoak.uf2")).expect("by the rules");
    assert_eq!(flash[..image.bytes.len()], image.bytes);
    assert!(flash[image.bytes.len()..].iter().all(|byte| *byte == ERASED));
    // RP2040 data sheet, 2.8.1.3.1: 252 bytes and their CRC-32, polynomial 0x04c11db7, begun with
    // ones, not reflected: CRC-32/MPEG-2 of the catalogue.
    let (start, check) = flash[..256].split_at(252);
    assert_eq!(Crc::<u32>::new(&CRC_32_MPEG_2).checksum(start).to_le_bytes(), check);
    // The vectors: where the stack begins, and where the program does (thumb, so odd).
    let word = |at: usize| u32::from_le_bytes(flash[at..at + 4].try_into().expect("a word"));
    assert_eq!(word(256), 0x2004_0000);
    assert_eq!(word(260) % 2, 1);
    assert!((FLASH_START..FLASH_START + image.bytes.len() as u32).contains(&word(260)));
}

#[test]
#[ignore = "reads what firmware/boards/rp2040/build leaves"]
fn the_board_s_image_is_sealed_and_any_changed_byte_breaks_the_seal() {
    let mut flash = read_uf2(&built("truesoak.uf2")).expect("by the rules");
    let length = Image::of_elf(&built("truesoak.elf")).expect("an image").bytes.len();
    flash.truncate(length);
    // The vectors: 16 of the processor and 26 of the chip (data sheet, 2.3.2), from 0x100 on.
    let at = 0x100 + 4 * (16 + 26);
    let at = at + (0..64).find(|more| holds(&flash, at + more)).expect("a seal behind the vectors");
    for place in [0, 255, at + 8, length / 2, length - 1] {
        flash[place] ^= 0x10;
        assert!(!holds(&flash, at), "byte {place}");
        flash[place] ^= 0x10;
    }
}

fn holds(image: &[u8], at: usize) -> bool {
    seal::words(image, at).as_ref().map(<[u8; 8]>::as_slice) == image.get(at..at + 8)
}
