//! The bakes a trial begins with: those shipped, in the program itself, so that a seed gives the
//! same bake wherever it is run.

use crate::files::{self, Kept, Setup};

/// Names of the bakes that are changed at random.
pub const BASES: [&str; 7] = [
    "gas-out-hubs.toml",
    "cure-hubs.toml",
    "gas-out-chain-guards-300f.toml",
    "door-mid-soak.toml",
    "gas-out-crown.toml",
    "low-cure-pedals.toml",
    "whole-day.toml",
];

macro_rules! texts {
    ($bake:literal, $oven:literal, $load:literal) => {
        Kept {
            bake: include_str!(concat!("../../../profiles/bakes/", $bake, ".toml")),
            oven: include_str!(concat!("../../../profiles/ovens/", $oven, ".toml")),
            load: include_str!(concat!("../../../profiles/loads/", $load, ".toml")),
        }
    };
}

/// Bake, oven and load of each, in the order of [`BASES`].
const TEXTS: [Kept<'_>; BASES.len()] = [
    texts!("gas-out-hubs", "cabinet-60l", "hubs-and-levers"),
    texts!("cure-hubs", "bench-25l", "hubs-and-levers"),
    texts!("gas-out-chain-guards-300f", "garage-75l", "chain-guards"),
    texts!("door-mid-soak", "garage-75l", "chain-guards"),
    texts!("gas-out-crown", "garage-75l", "fork-crown-and-clips"),
    texts!("low-cure-pedals", "upright-200l-fan", "pedal-bodies"),
    texts!("whole-day", "upright-200l-fan", "mixed-metals"),
];

/// A shipped bake by its place in [`BASES`].
///
/// # Panics
/// Never: every shipped bake is read in the tests.
pub(super) fn base(index: usize) -> Setup {
    files::read_kept(TEXTS[index.min(TEXTS.len() - 1)], &[])
        .unwrap_or_else(|refusal| panic!("a shipped bake:\n{refusal}"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::path::Path;

    #[test]
    fn what_is_built_in_is_what_the_bake_names() {
        for (index, name) in BASES.iter().enumerate() {
            let profiles = Path::new(env!("CARGO_MANIFEST_DIR")).join("../profiles/bakes");
            let read = files::read(&profiles.join(name), &[]).expect("it is shipped");
            let built_in = base(index);
            assert_eq!(built_in.bake, read.bake, "{name}");
            assert_eq!((&built_in.oven, &built_in.load), (&read.oven, &read.load), "{name}");
        }
    }
}
