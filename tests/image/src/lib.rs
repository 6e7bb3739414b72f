//! The board's image after linking: what lies in the flash, its seal, its `.uf2`, its size.
//!
//! The linker gives an ELF file. [`Image`] is the bytes of it that the flash holds; [`seal`] puts the
//! check in that the board looks for at its start; [`uf2`] writes the file that is dropped on a board;
//! [`weight`] tells what each section takes and holds it to the last reviewed figures.

pub mod image;
pub mod seal;
pub mod uf2;
pub mod weight;

pub use image::{Fault, Image};
