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

macro_rules! profile {
    ($path:literal) => {
        include_str!(concat!("../../../profiles/", $path))
    };
}

/// Bake, oven and load of each, in the order of [`BASES`].
const TEXTS: [[&str; 3]; BASES.len()] = [
    [
        profile!("bakes/gas-out-hubs.toml"),
        profile!("ovens/cabinet-60l.toml"),
        profile!("loads/hubs-and-levers.toml"),
    ],
    [
        profile!("bakes/cure-hubs.toml"),
        profile!("ovens/bench-25l.toml"),
        profile!("loads/hubs-and-levers.toml"),
    ],
    [
        profile!("bakes/gas-out-chain-guards-300f.toml"),
        profile!("ovens/garage-75l.toml"),
        profile!("loads/chain-guards.toml"),
    ],
    [
        profile!("bakes/door-mid-soak.toml"),
        profile!("ovens/garage-75l.toml"),
        profile!("loads/chain-guards.toml"),
    ],
    [
        profile!("bakes/gas-out-crown.toml"),
        profile!("ovens/garage-75l.toml"),
        profile!("loads/fork-crown-and-clips.toml"),
    ],
    [
        profile!("bakes/low-cure-pedals.toml"),
        profile!("ovens/upright-200l-fan.toml"),
        profile!("loads/pedal-bodies.toml"),
    ],
    [
        profile!("bakes/whole-day.toml"),
        profile!("ovens/upright-200l-fan.toml"),
        profile!("loads/mixed-metals.toml"),
    ],
];

/// A shipped bake by its place in [`BASES`].
///
/// # Panics
/// Never: every shipped bake is read in the tests.
pub(super) fn base(index: usize) -> Setup {
    let [bake, oven, load] = TEXTS[index.min(TEXTS.len() - 1)];
    files::read_kept(Kept { bake, oven, load }, &[])
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
