//! What the flash holds, read from the linker's file.

use object::elf::{EM_ARM, FileHeader32, PT_LOAD};
use object::read::elf::{ElfFile32, FileHeader, ProgramHeader};
use object::{Endianness, Object, ObjectSection, ObjectSymbol};

/// Where the processor sees the flash.
pub const FLASH_START: u32 = 0x1000_0000;
/// Bytes of it.
pub const FLASH_BYTES: u32 = 2 * 1024 * 1024;
/// What an erased flash reads as; also what is put where the linker left a hole.
pub const ERASED: u8 = 0xff;

/// A linked file that is no image for this chip.
#[derive(Debug, PartialEq, Eq, thiserror::Error)]
pub enum Fault {
    /// Not an ELF file of 32 bits for ARM, or a damaged one.
    #[error("not an ELF file for this processor: {0}")]
    NotElf(String),
    /// Something is loaded where there is no flash.
    #[error("{0:#010x} is not in the flash")]
    NotInFlash(u64),
    /// Two parts of it want the same place.
    #[error("two segments overlap at {0:#010x}")]
    Overlap(u32),
    /// A section or a symbol the board's linker script gives is missing.
    #[error("no {0}: not linked by the board's memory.x")]
    Missing(&'static str),
}

/// The bytes from the start of the flash to the end of the image.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Image {
    /// From [`FLASH_START`] on.
    pub bytes: Vec<u8>,
}

impl Image {
    /// Reads what the linker puts in the flash, by physical address, so that what is copied to
    /// memory at the start is where it is copied from.
    ///
    /// # Errors
    /// Not such a file; something that is not in the flash, or twice in it.
    pub fn of_elf(file: &[u8]) -> Result<Self, Fault> {
        let elf = parse(file)?;
        let mut bytes = Vec::new();
        let mut taken = Vec::new();
        for segment in elf.elf_program_headers() {
            let endian = Endianness::Little;
            if segment.p_type(endian) != PT_LOAD || segment.p_filesz(endian) == 0 {
                continue;
            }
            let at = place(segment.p_paddr(endian), segment.p_filesz(endian))?;
            let data = segment.data(endian, file).map_err(|()| truncated())?;
            if bytes.len() < at.end {
                bytes.resize(at.end, ERASED);
                taken.resize(at.end, false);
            }
            if let Some(twice) = taken[at.clone()].iter().position(|taken| *taken) {
                return Err(Fault::Overlap(FLASH_START + (at.start + twice) as u32));
            }
            taken[at.clone()].fill(true);
            bytes[at].copy_from_slice(data);
        }
        Ok(Self { bytes })
    }
}

/// The file, if it is one for this processor.
///
/// # Errors
/// It is not.
pub(crate) fn parse(file: &[u8]) -> Result<ElfFile32<'_, Endianness>, Fault> {
    let elf = ElfFile32::parse(file).map_err(|error| Fault::NotElf(error.to_string()))?;
    let header: &FileHeader32<Endianness> = elf.elf_header();
    if header.e_machine(Endianness::Little) == EM_ARM {
        Ok(elf)
    } else {
        Err(Fault::NotElf("another processor's".to_owned()))
    }
}

/// Where a section's bytes are in the file, and its address.
pub(crate) fn section(file: &[u8], name: &'static str) -> Result<(usize, u32), Fault> {
    let elf = parse(file)?;
    let section = elf.section_by_name(name).ok_or(Fault::Missing(name))?;
    let (offset, _) = section.file_range().ok_or(Fault::Missing(name))?;
    Ok((offset as usize, section.address() as u32))
}

/// The address of a symbol.
pub(crate) fn symbol(file: &[u8], name: &'static str) -> Result<u32, Fault> {
    let elf = parse(file)?;
    let found = elf.symbols().find(|symbol| symbol.name() == Ok(name));
    found.map(|symbol| symbol.address() as u32).ok_or(Fault::Missing(name))
}

fn place(address: u32, length: u32) -> Result<core::ops::Range<usize>, Fault> {
    let start = u64::from(address);
    let end = start + u64::from(length);
    let flash = u64::from(FLASH_START)..=u64::from(FLASH_START + FLASH_BYTES);
    if flash.contains(&start) && flash.contains(&end) {
        let from = u64::from(FLASH_START);
        Ok((start - from) as usize..(end - from) as usize)
    } else {
        Err(Fault::NotInFlash(start))
    }
}

fn truncated() -> Fault {
    Fault::NotElf("cut short".to_owned())
}
