//! Shipped bakes with values changed, and plants the spread allows.

use rand_core::{RngCore, SeedableRng};
use rand_xoshiro::Xoshiro256PlusPlus;
use std::path::Path;
use truesoak::files::{self, Override, Setup};
use truesoak::plant::Draw;

/// Reads a shipped bake with values changed.
pub fn setup(bake: &str, set: &[&str]) -> Setup {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../profiles/bakes").join(bake);
    let set: Vec<Override> = set.iter().map(|typed| Override::set(typed)).collect();
    files::read(&path, &set).unwrap_or_else(|refusal| panic!("{bake}:\n{refusal}"))
}

/// The `number`-th plant of a setup: the even ones at corners of the spread, the odd ones inside.
/// Not the draws any figure of the bounds was found on.
pub fn plant(setup: &Setup, number: u64) -> Draw {
    let mut random = Xoshiro256PlusPlus::seed_from_u64(0x7275_6573_6F61_6B00 + number);
    let corner = number.is_multiple_of(2);
    let mut share = || {
        let share = (random.next_u64() >> 11) as f64 / (1_u64 << 53) as f64;
        if corner { share.round() } else { share }
    };
    Draw::at(&setup.oven, |_| share()).with_sensors(&setup.oven, share)
}
