//! Bake, oven and load as texts: two as `new` writes them, the third anything, or an override.
//!
//! What is refused says what is wrong, what was expected and what to do next, and shows no number
//! that is none; what is read has finite numbers where the plant needs them.

use truesoak::files::{Kept, Override, read_kept};

const BAKE: &str = include_str!("../../../host-sim/src/command/new/bake.toml");
const OVEN: &str = include_str!("../../../host-sim/src/command/new/oven.toml");
const LOAD: &str = include_str!("../../../host-sim/src/command/new/load.toml");

pub(crate) fn run(input: &[u8]) {
    let Some((which, text)) = input.split_first() else { return };
    let Ok(text) = std::str::from_utf8(text) else { return };
    let sound = Kept { bake: BAKE, oven: OVEN, load: LOAD };
    let (kept, set) = match which % 4 {
        0 => (Kept { bake: text, ..sound }, None),
        1 => (Kept { oven: text, ..sound }, None),
        2 => (Kept { load: text, ..sound }, None),
        _ => (sound, Some(Override::set(text))),
    };
    match read_kept(kept, set.as_slice()) {
        Ok(setup) => {
            let oven = &setup.oven;
            let numbers = [oven.ambient_c, oven.air_max_c, oven.sensor.lag_s];
            assert!(numbers.into_iter().all(f64::is_finite), "{numbers:?}");
            assert!(!setup.bake.bake.steps.is_empty() && !setup.load.parts.is_empty());
            let faults =
                setup.bake.bake.faults(truesoak_core::units::Celsius(oven.ambient_c as f32));
            assert!(faults.is_empty(), "read, and cannot run: {faults:?}");
        }
        Err(refusal) => {
            let told = refusal.to_string();
            let clear = ["error: ", "expected: ", "next: "].iter().all(|word| told.contains(word));
            assert!(clear && !told.contains("NaN"), "{told}");
        }
    }
}
