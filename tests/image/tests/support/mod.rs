//! Files put together by hand, and a reader of blocks that knows nothing of the writer.

/// Something to be loaded.
#[derive(Clone, Copy)]
pub struct Segment {
    /// Where the program sees it.
    pub virtual_address: u32,
    /// Where it is stored.
    pub physical_address: u32,
    /// What it is.
    pub bytes: &'static [u8],
}

/// An ELF file of 32 bits, low byte first (System V ABI, chapters 4 and 5): its header, a program header
/// for each segment, their bytes; no sections.
pub fn elf(segments: &[Segment], machine: u16) -> Vec<u8> {
    let mut file = b"\x7fELF\x01\x01\x01\0\0\0\0\0\0\0\0\0".to_vec();
    let half = |file: &mut Vec<u8>, value: u16| file.extend(value.to_le_bytes());
    let word = |file: &mut Vec<u8>, value: u32| file.extend(value.to_le_bytes());
    half(&mut file, 2); // executable
    half(&mut file, machine);
    word(&mut file, 1); // version
    word(&mut file, 0); // entry
    word(&mut file, 52); // program headers
    word(&mut file, 0); // no section headers
    word(&mut file, 0); // flags
    for value in [52, 32, segments.len() as u16, 40, 0, 0] {
        half(&mut file, value);
    }
    let mut offset = 52 + 32 * segments.len() as u32;
    for segment in segments {
        let length = segment.bytes.len() as u32;
        // Loaded; offset, addresses, bytes in file and memory, readable, aligned to words.
        let Segment { virtual_address, physical_address, .. } = *segment;
        for value in [1, offset, virtual_address, physical_address, length, length, 4, 4] {
            word(&mut file, value);
        }
        offset += length;
    }
    for segment in segments {
        file.extend_from_slice(segment.bytes);
    }
    file
}

/// The flash from 0x10000000 on, if every block is as the format's rules want it, in order and
/// without a gap.
pub fn read_uf2(file: &[u8]) -> Option<Vec<u8>> {
    let blocks = file.len() / 512;
    let mut flash = Vec::new();
    if blocks == 0 || !file.len().is_multiple_of(512) {
        return None;
    }
    for (number, block) in file.chunks(512).enumerate() {
        let word = |at: usize| u32::from_le_bytes(block[at..at + 4].try_into().expect("a word"));
        let as_told = [
            (0, 0x0a32_4655),                       // "UF2\n"
            (4, 0x9e5d_5157),                       // the second magic word
            (8, 0x0000_2000),                       // a family is given
            (12, 0x1000_0000 + flash.len() as u32), // where it goes
            (16, 256),                              // the only size this boot ROM takes
            (20, number as u32),                    // which block
            (24, blocks as u32),                    // of how many
            (28, 0xe48b_ff56),                      // the RP2040
            (508, 0x0ab1_6f30),                     // the last magic word
        ];
        if as_told.iter().any(|(at, expected)| word(*at) != *expected) {
            return None;
        }
        flash.extend_from_slice(&block[32..32 + 256]);
    }
    Some(flash)
}
