//! Bakes made at random that take the time they need.

use truesoak::files::Setup;
use truesoak::trial::random_bake;
use truesoak_core::bake::Step;

/// Longer than any of these bakes can take, s.
const PATIENCE_S: u32 = 48 * 3600;

/// A random bake that takes the time it needs.
pub fn patient(number: u64) -> Setup {
    let mut setup = random_bake(number);
    let bake = &mut setup.bake.bake;
    bake.limits.bake_max_s = PATIENCE_S;
    for step in &mut bake.steps {
        if let Step::Soak(soak) = step {
            soak.give_up_after_s = None;
        }
    }
    setup
}

/// The same, with parts that stand 3 to 15 K more than the hottest of its windows asks of them.
pub fn tight(number: u64) -> Setup {
    let mut setup = patient(number);
    let ends_c = setup.bake.bake.steps.iter().filter_map(|step| match step {
        Step::Soak(soak) => Some(f64::from(soak.at_most.0)),
        _ => None,
    });
    let stands_c = ends_c.fold(f64::NEG_INFINITY, f64::max) + (3 + number % 13) as f64;
    for part in &mut setup.load.parts {
        part.max_c = part.max_c.min(stands_c);
    }
    setup
}
