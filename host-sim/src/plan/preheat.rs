//! A bake from cold turned into one whose oven is preheated empty.

use crate::files::Setup;
use crate::files::bake::{BakeFile, Moment, StepWords};
use truesoak_core::bake::{LoadIn, OnFail, Ramp, Step};
use truesoak_core::units::Celsius;

/// The same bake with an empty preheat and a load_in put before its first step; `None` where the
/// load is not in from the start, or no step more can be had.
pub(super) fn preheated(setup: &Setup, at_c: f64) -> Option<Setup> {
    let steps = &setup.bake.bake.steps;
    let first = steps.iter().find(|step| matches!(step, Step::LoadIn(_) | Step::Soak(_)));
    if !matches!(first, Some(Step::Soak(_))) {
        return None;
    }
    let at = Celsius(at_c as f32);
    let mut changed = setup.clone();
    let ramp = Step::Ramp(Ramp { to: at, rate_k_per_min: None });
    insert(&mut changed.bake, 0, ramp, "preheat")?;
    insert(&mut changed.bake, 1, Step::LoadIn(LoadIn { at: Some(at) }), "hang")?;
    Some(changed)
}

/// Puts a step in; everything that names a later step by its index follows it.
fn insert(bake: &mut BakeFile, index: usize, step: Step, name: &str) -> Option<()> {
    bake.bake.steps.insert(index, step).ok()?;
    bake.steps.insert(index, StepWords { name: name.to_owned(), ..StepWords::default() });
    for step in &mut bake.bake.steps {
        if let Step::Check(check) = step
            && let OnFail::RepeatFrom(to) = &mut check.on_fail
            && usize::from(*to) >= index
        {
            *to += 1;
        }
    }
    let moments = bake.doors.iter_mut().map(|door| &mut door.at);
    for moment in moments.chain(bake.faults.iter_mut().map(|fault| &mut fault.at)) {
        if let Moment::SinceStep(step, _) = moment
            && *step >= index
        {
            *step += 1;
        }
    }
    Some(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::files;
    use std::path::Path;

    fn shipped(bake: &str) -> Setup {
        let bakes = Path::new(env!("CARGO_MANIFEST_DIR")).join("../profiles/bakes");
        files::read(&bakes.join(bake), &[]).unwrap_or_else(|refusal| panic!("{refusal}"))
    }

    #[test]
    fn what_names_a_step_by_its_number_follows_it() {
        let mut setup = shipped("cure-hubs.toml");
        let was = setup.bake.doors[0].at;
        let Moment::SinceStep(cool, after_s) = was else { panic!("{was:?}") };
        setup.bake.doors.push(setup.bake.doors[0]);
        setup.bake.doors[1].at = Moment::SinceStart(60.0);
        let changed = preheated(&setup, 138.0).expect("its load is in from the start");
        let words: Vec<&str> = changed.bake.bake.steps.iter().map(Step::word).collect();
        assert_eq!(words, ["ramp", "load_in", "soak", "cool"]);
        assert_eq!(changed.bake.steps.len(), words.len());
        assert_eq!(changed.bake.steps[3].name, "cool");
        assert_eq!(changed.bake.doors[0].at, Moment::SinceStep(cool + 2, after_s));
        assert_eq!(changed.bake.doors[1].at, Moment::SinceStart(60.0));
    }

    #[test]
    fn a_round_goes_back_to_the_step_it_went_back_to() {
        let mut bake = shipped("whole-day.toml").bake;
        let back = |bake: &BakeFile| {
            bake.bake.steps.iter().find_map(|step| match step {
                Step::Check(check) => Some(check.on_fail),
                _ => None,
            })
        };
        assert_eq!(back(&bake), Some(OnFail::RepeatFrom(0)));
        let wait = Step::Ramp(Ramp { to: Celsius(60.0), rate_k_per_min: None });
        insert(&mut bake, 0, wait, "warm").expect("room for a step");
        assert_eq!(back(&bake), Some(OnFail::RepeatFrom(1)));
        insert(&mut bake, 2, wait, "later").expect("room for a step");
        assert_eq!(back(&bake), Some(OnFail::RepeatFrom(1)), "an earlier step stays where it is");
    }

    #[test]
    fn a_bake_that_asks_for_its_load_is_preheated_already() {
        assert!(preheated(&shipped("gas-out-hubs.toml"), 160.0).is_none());
        assert!(preheated(&shipped("whole-day.toml"), 160.0).is_none());
    }
}
