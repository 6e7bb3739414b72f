//! Bytes come out as this machine's own copying and filling leaves them, wherever they begin and however
//! many they are; quotients as its own division finds them.

#![allow(unsafe_code)]

use rand_core::{RngCore, SeedableRng};
use rand_xoshiro::Xoshiro256PlusPlus;
use truesoak_run_time::division::quotient_and_remainder;
use truesoak_run_time::memory::{copy, fill};

/// Longer than a few words, with room on both sides where nothing may be touched.
const BYTES: usize = 64;
const PAIRS: u32 = 4_000_000;

/// Aligned as words are, so that every offset is what it says.
#[repr(align(8))]
struct Row([u8; BYTES]);

impl Row {
    fn numbered(from: u8) -> Self {
        Self(core::array::from_fn(|at| from + at as u8))
    }
}

/// Every place in a word and every count that leaves a word's room at the end.
fn places() -> impl Iterator<Item = (usize, usize)> {
    (0..8).flat_map(|at| (0..BYTES - 16).map(move |count| (at, count)))
}

#[test]
fn what_is_copied_is_all_and_nothing_else() {
    let from = Row::numbered(100);
    for (at, count) in places() {
        for begin in 0..8 {
            let (mut ours, mut theirs) = (Row::numbered(0), Row::numbered(0));
            theirs.0[at..at + count].copy_from_slice(&from.0[begin..begin + count]);
            // SAFETY: both places and their counts are inside rows, which are two.
            unsafe { copy(ours.0.as_mut_ptr().add(at), from.0.as_ptr().add(begin), count) };
            assert_eq!(ours.0, theirs.0, "{count} bytes from {begin} to {at}");
        }
    }
}

#[test]
fn what_is_filled_is_all_and_nothing_else() {
    for (at, count) in places() {
        let (mut ours, mut theirs) = (Row::numbered(0), Row::numbered(0));
        theirs.0[at..at + count].fill(0xa5);
        // SAFETY: the place and its count are inside the row.
        unsafe { fill(ours.0.as_mut_ptr().add(at), count, 0xa5) };
        assert_eq!(ours.0, theirs.0, "{count} bytes at {at}");
    }
}

fn agrees(number: u32, by: u32) {
    assert_eq!(quotient_and_remainder(number, by), (number / by, number % by), "{number} by {by}");
}

#[test]
fn quotients_are_the_processors_own() {
    let edges = (0..32).flat_map(|bit| [1_u32 << bit, (1 << bit) - 1, (1 << bit) + 1, !(1 << bit)]);
    let edges: Vec<u32> = edges.chain([u32::MAX, u32::MAX - 1, 10, 1000]).collect();
    for number in &edges {
        edges.iter().filter(|by| **by != 0).for_each(|by| agrees(*number, *by));
    }
    let mut random = Xoshiro256PlusPlus::seed_from_u64(4);
    for _ in 0..PAIRS {
        let (number, by, narrower) = (random.next_u32(), random.next_u32(), random.next_u32() % 32);
        agrees(number, (by >> narrower).max(1));
    }
}

#[test]
fn a_division_by_zero_ends() {
    for number in [0, 1, u32::MAX] {
        let _ = quotient_and_remainder(number, 0);
    }
}
