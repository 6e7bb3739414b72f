//! What the image takes: flash and memory by section, held to design section 9 and to the last
//! reviewed figures.
//!
//! Compilers differ by a little, so a figure may be off the reviewed one by [`SLACK_PERCENT`]; the
//! limits themselves are exact.

use crate::image::{FLASH_START, Fault, parse};
use core::fmt::Write as _;
use object::{Object, ObjectSection, SectionFlags, elf};

/// Most bytes of flash.
pub const FLASH_MAX: u64 = 128 * 1024;
/// Most bytes of memory that is taken at the start.
pub const MEMORY_MAX: u64 = 32 * 1024;
/// All of the memory in one piece (RP2040: four striped banks).
pub const MEMORY_BYTES: u64 = 256 * 1024;
/// How far a figure may be off the reviewed one, and not less than 256 bytes.
pub const SLACK_PERCENT: u64 = 3;
const SLACK_LEAST: u64 = 256;

/// One section and what it takes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Section {
    /// Its name.
    pub name: String,
    /// Bytes in the flash.
    pub flash: u64,
    /// Bytes in memory.
    pub memory: u64,
}

/// All sections that take anything.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Weight(pub Vec<Section>);

impl Weight {
    /// Weighs the linker's file.
    ///
    /// # Errors
    /// No such file.
    pub fn of_elf(file: &[u8]) -> Result<Self, Fault> {
        let linked = parse(file)?;
        let sections = linked.sections().filter_map(|section| {
            let SectionFlags::Elf { sh_flags, .. } = section.flags() else { return None };
            let is_loaded = sh_flags.0 & elf::SHF_ALLOC.0 != 0 && section.size() > 0;
            let in_flash = section.address() >= u64::from(FLASH_START)
                && section.address() < u64::from(FLASH_START) + 0x0100_0000;
            // What has bytes in the file is in the flash, though it may be copied to memory.
            let has_bytes = section.file_range().is_some_and(|(_, length)| length > 0);
            is_loaded.then(|| Section {
                name: section.name().unwrap_or("?").to_owned(),
                flash: if has_bytes { section.size() } else { 0 },
                memory: if in_flash { 0 } else { section.size() },
            })
        });
        Ok(Self(sections.collect()))
    }

    /// Bytes of flash.
    #[must_use]
    pub fn flash(&self) -> u64 {
        self.0.iter().map(|section| section.flash).sum()
    }

    /// Bytes of memory, without the stack.
    #[must_use]
    pub fn memory(&self) -> u64 {
        self.0.iter().map(|section| section.memory).sum()
    }

    /// A table of it, the last line a sum.
    #[must_use]
    pub fn table(&self) -> String {
        let mut table = format!("{:<16} {:>8} {:>8}\n", "section", "flash", "memory");
        let sum = Section { name: "all".to_owned(), flash: self.flash(), memory: self.memory() };
        for Section { name, flash, memory } in self.0.iter().chain([&sum]) {
            let _ = writeln!(table, "{name:<16} {flash:>8} {memory:>8}");
        }
        table
    }

    /// Bytes of memory left for the stack.
    #[must_use]
    pub fn left_for_stack(&self) -> u64 {
        MEMORY_BYTES.saturating_sub(self.memory())
    }

    /// What is wrong with it against the limits and a reviewed table; nothing if all is well.
    #[must_use]
    pub fn problems(&self, reviewed: &str) -> Vec<String> {
        let mut problems = Vec::new();
        for (what, is, most) in
            [("flash", self.flash(), FLASH_MAX), ("memory", self.memory(), MEMORY_MAX)]
        {
            if is > most {
                problems
                    .push(format!("{is} bytes of {what} are past the {most} of design section 9"));
            }
        }
        let Some((flash, memory)) = sums(reviewed) else {
            problems.push("the reviewed table has no line \"all\"".to_owned());
            return problems;
        };
        for (what, is, was) in [("flash", self.flash(), flash), ("memory", self.memory(), memory)] {
            let slack = (was * SLACK_PERCENT / 100).max(SLACK_LEAST);
            if is.abs_diff(was) > slack {
                problems.push(format!(
                    "{is} bytes of {what} are not the {was} that were reviewed (± {slack})"
                ));
            }
        }
        problems
    }
}

/// The sums of a table that was printed before.
fn sums(table: &str) -> Option<(u64, u64)> {
    let line = table.lines().find_map(|line| line.strip_prefix("all "))?;
    let mut figures = line.split_whitespace().map(str::parse);
    Some((figures.next()?.ok()?, figures.next()?.ok()?))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn weight(flash: u64, memory: u64) -> Weight {
        Weight(vec![Section { name: ".text".to_owned(), flash, memory }])
    }

    #[test]
    fn a_table_that_was_printed_is_its_own_review() {
        let weight = weight(100_000, 20_000);
        assert_eq!(weight.problems(&weight.table()), Vec::<String>::new());
        assert_eq!(sums(&weight.table()), Some((100_000, 20_000)));
    }

    #[test]
    fn more_and_less_than_reviewed_are_told_beyond_the_slack() {
        let reviewed = weight(100_000, 4_000).table();
        assert!(weight(103_000, 4_256).problems(&reviewed).is_empty());
        assert_eq!(weight(103_001, 4_257).problems(&reviewed).len(), 2);
        assert_eq!(weight(96_999, 3_743).problems(&reviewed).len(), 2);
    }

    #[test]
    fn the_limits_are_exact_whatever_was_reviewed() {
        let at = weight(FLASH_MAX, MEMORY_MAX);
        assert!(at.problems(&at.table()).is_empty());
        let past = weight(FLASH_MAX + 1, MEMORY_MAX + 1);
        assert_eq!(past.problems(&past.table()).len(), 2);
        assert_eq!(at.problems("").len(), 1);
    }
}
