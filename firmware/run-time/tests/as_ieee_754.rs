//! Every result is the one this machine's own processor comes to, which is IEEE 754's.

#![allow(clippy::float_cmp)] // bit for bit is what is asked

use rand_core::{RngCore, SeedableRng};
use rand_xoshiro::Xoshiro256PlusPlus;
use truesoak_run_time::float::{
    have_no_order, is_equal, is_less, opposite, product, quotient, sum,
};

const PAIRS: u32 = 4_000_000;

/// Numbers at which something changes, and their neighbours.
fn edges() -> Vec<u32> {
    let marks = [
        0,
        1,
        0x0040_0000,
        0x0080_0000,
        0x0c80_0000,
        0x3380_0000,
        0x3f00_0000,
        0x3f80_0000,
        0x4000_0000,
        0x4b00_0000,
        0x4b80_0000,
        0x7e80_0000,
        0x7f00_0000,
        0x7f80_0000,
        0x7fc0_0000,
    ];
    let near = marks.iter().flat_map(|mark| (-3..=3).map(move |off| (*mark + off) as u32));
    near.flat_map(|number| [number, number | 1 << 31]).collect()
}

fn agrees(name: &str, ours: u32, theirs: f32, a: u32, b: u32) {
    let same =
        if theirs.is_nan() { f32::from_bits(ours).is_nan() } else { ours == theirs.to_bits() };
    assert!(same, "{name} of {a:08x} and {b:08x}: {ours:08x}, not {:08x}", theirs.to_bits());
}

fn all_agree(a: u32, b: u32) {
    let (x, y) = (f32::from_bits(a), f32::from_bits(b));
    agrees("sum", sum(a, b), x + y, a, b);
    agrees("difference", sum(a, opposite(b)), x - y, a, b);
    agrees("product", product(a, b), x * y, a, b);
    agrees("quotient", quotient(a, b), x / y, a, b);
    let ours = (is_less(a, b), is_equal(a, b), have_no_order(a, b));
    assert_eq!(ours, (x < y, x == y, x.partial_cmp(&y).is_none()), "{a:08x} and {b:08x}");
}

#[test]
fn the_edges_of_the_numbers_are_met() {
    let edges = edges();
    edges.iter().for_each(|a| edges.iter().for_each(|b| all_agree(*a, *b)));
}

#[test]
fn any_two_numbers_are_met() {
    let mut random = Xoshiro256PlusPlus::seed_from_u64(1);
    for _ in 0..PAIRS {
        let both = random.next_u64();
        all_agree(both as u32, (both >> 32) as u32);
    }
}

#[test]
fn numbers_near_each_other_are_met() {
    let mut random = Xoshiro256PlusPlus::seed_from_u64(2);
    for _ in 0..PAIRS {
        let (a, other) = (random.next_u32(), random.next_u64());
        // Of the same size within 2^±32, with few or many digits alike.
        let exponent = (a >> 23 & 0xff).wrapping_add(other as u32 & 63).wrapping_sub(32) & 0xff;
        let digits = (a ^ (other >> 6) as u32 >> (other >> 40 & 31)) & 0x7f_ffff;
        let sign = (other >> 63 << 31) as u32;
        all_agree(a, sign | exponent << 23 | digits);
    }
}

#[test]
fn numbers_with_few_digits_tie_as_they_must() {
    let mut random = Xoshiro256PlusPlus::seed_from_u64(3);
    for _ in 0..PAIRS {
        let (both, cut) = (random.next_u64(), random.next_u32());
        let coarse = |number: u32, cut: u32| number & (u32::MAX << (cut & 23));
        all_agree(coarse(both as u32, cut), coarse((both >> 32) as u32, cut >> 8));
    }
}
