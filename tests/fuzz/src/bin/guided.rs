//! The coverage-guided run of one target, which `TRUESOAK_FUZZ` names; `tests/fuzz/long` calls it.

#![no_main]

use libfuzzer_sys::fuzz_target;
use std::sync::OnceLock;
use truesoak_fuzz::{Target, target};

static TARGET: OnceLock<Target> = OnceLock::new();

fn named() -> Target {
    let name = std::env::var("TRUESOAK_FUZZ").expect("TRUESOAK_FUZZ names a target");
    target(&name).unwrap_or_else(|| panic!("there is no target {name}"))
}

fuzz_target!(|input: &[u8]| (TARGET.get_or_init(named).run)(input));
