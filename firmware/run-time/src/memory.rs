//! Bytes copied and filled: by words where both ends lie on one, else one by one, which is rare and short.
//!
//! Every access is volatile, so that the compiler does not see a copy in it and call for the very routine
//! that it is.
#![allow(unsafe_code)]

const WORD: usize = size_of::<u32>();

/// Copies bytes.
///
/// # Safety
/// `count` bytes can be read at `from` and written at `to`, and the two share none.
#[inline(always)]
pub unsafe fn copy(mut to: *mut u8, mut from: *const u8, mut count: usize) {
    // SAFETY: nothing is touched but the `count` bytes of the caller's promise, words only where aligned.
    unsafe {
        if (to.addr() | from.addr()).is_multiple_of(WORD) {
            while count >= WORD {
                to.cast::<u32>().write_volatile(from.cast::<u32>().read_volatile());
                (to, from, count) = (to.add(WORD), from.add(WORD), count - WORD);
            }
        }
        while count > 0 {
            to.write_volatile(from.read_volatile());
            (to, from, count) = (to.add(1), from.add(1), count - 1);
        }
    }
}

/// Fills bytes.
///
/// # Safety
/// `count` bytes can be written at `to`.
#[inline(always)]
pub unsafe fn fill(mut to: *mut u8, mut count: usize, byte: u8) {
    let word = u32::from_ne_bytes([byte; WORD]);
    // SAFETY: nothing is touched but the `count` bytes of the caller's promise, words only where aligned.
    unsafe {
        if to.addr().is_multiple_of(WORD) {
            while count >= WORD {
                to.cast::<u32>().write_volatile(word);
                (to, count) = (to.add(WORD), count - WORD);
            }
        }
        while count > 0 {
            to.write_volatile(byte);
            (to, count) = (to.add(1), count - 1);
        }
    }
}
