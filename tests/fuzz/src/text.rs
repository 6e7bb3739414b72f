//! Bake, oven and load as texts: two as `new` writes them, the third anything, or an override.
//!
//! What is refused says what is wrong, what was expected and what to do next, and shows no number
//! that is none; what is read has finite numbers where the plant needs them.
//!
//! An oven with an `[observed]` is timed in the model till the model agrees, which takes a third of
//! a second. So of inputs with that word one in 256 is read to its end; of the others all is judged
//! but the times themselves, and what the bake asks of oven and load.

use crate::bytes::one_in;
use std::sync::LazyLock;
use truesoak::files::{Carried, Kept, Override, Refusal, read_carried, read_kept};

const BAKE: &str = include_str!("../../../host-sim/src/command/new/bake.toml");
const OVEN: &str = include_str!("../../../host-sim/src/command/new/oven.toml");
const LOAD: &str = include_str!("../../../host-sim/src/command/new/load.toml");
/// The same without their comments, which are read anew for every input.
static SOUND: LazyLock<[String; 3]> = LazyLock::new(|| [BAKE, OVEN, LOAD].map(without_comments));

pub(crate) fn run(input: &[u8]) {
    let Some((which, text)) = input.split_first() else { return };
    let Ok(text) = std::str::from_utf8(text) else { return };
    let [bake, oven, load] = SOUND.each_ref().map(String::as_str);
    let sound = Kept { bake, oven, load };
    let (kept, set) = match which % 4 {
        0 => (Kept { bake: text, ..sound }, None),
        1 => (Kept { oven: text, ..sound }, None),
        2 => (Kept { load: text, ..sound }, None),
        _ => (sound, Some(text)),
    };
    if text.contains("observed") && !one_in(256, input) {
        let set = set.map(str::to_owned);
        let (bake, oven, load) = (Some(kept.bake), Some(kept.oven), Some(kept.load));
        let carried = Carried { bake, oven, load, set: set.as_slice() };
        if let Err(refusal) = read_carried(&carried, "a log") {
            is_clear(&refusal, input);
        }
        return;
    }
    match read_kept(kept, set.map(Override::set).as_slice()) {
        Ok(setup) => {
            let oven = &setup.oven;
            let numbers = [oven.ambient_c, oven.air_max_c, oven.sensor.lag_s];
            assert!(numbers.into_iter().all(f64::is_finite), "{numbers:?}");
            assert!(!setup.bake.bake.steps.is_empty() && !setup.load.parts.is_empty());
            let faults =
                setup.bake.bake.faults(truesoak_core::units::Celsius(oven.ambient_c as f32));
            assert!(faults.is_empty(), "read, and cannot run: {faults:?}");
        }
        Err(refusal) => is_clear(&refusal, input),
    }
}

/// It says what, expected and next, and shows no number that is none but where one was written.
fn is_clear(refusal: &Refusal, input: &[u8]) {
    let told = refusal.to_string();
    let clear = ["error: ", "expected: ", "next: "].iter().all(|word| told.contains(word));
    let written = input.windows(3).any(|three| three == b"NaN");
    assert!(clear && (written || !told.contains("NaN")), "{told}");
}

/// No text of these files has a # in it.
fn without_comments(file: &str) -> String {
    let lines = file.lines().map(|line| line.split('#').next().unwrap_or_default().trim_end());
    lines.filter(|line| !line.is_empty()).flat_map(|line| [line, "\n"]).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_stands_beside_an_input_is_sound_with_its_comments_and_without() {
        let [bake, oven, load] = SOUND.each_ref().map(String::as_str);
        assert!(!bake.contains('#') && bake.contains("at_least"), "{bake}");
        for (bake, oven, load) in [(bake, oven, load), (BAKE, OVEN, LOAD)] {
            assert!(read_kept(Kept { bake, oven, load }, &[]).is_ok());
        }
    }
}
