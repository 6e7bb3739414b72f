//! Goal: a verdict from the log alone is the controller's own, part by part and step by step.
//! Method: shipped bakes are rehearsed, written, read back and recounted by the files in the log.

mod verdict_support;

use truesoak::report::result::{Basis, Verdict};
use truesoak_tests::bakes;
use verdict_support::{Baked, bake, verdict};

/// Everything a recount says that does not rest on the truth.
fn agrees(name: &str, baked: &Baked) {
    let (told, own) = (verdict(&baked.log()), &baked.rehearsal.result);
    assert_eq!(told.verdict, own.verdict, "{name}");
    assert_eq!(told.truth, None, "{name}");
    assert_eq!(told.basis, own.basis, "{name}");
    assert_eq!(told.record, [], "{name}");
    assert_eq!(told.steps, own.steps, "{name}: steps and their credit");
    assert_eq!(told.doors, own.doors, "{name}");
    assert_eq!(told.answers, own.answers, "{name}");
    assert_eq!(told.duration_s.to_bits(), own.duration_s.to_bits(), "{name}");
    let kinds = |trips: &[truesoak::report::result::Trip]| {
        trips.iter().map(|trip| (trip.kind.clone(), trip.detected_s.to_bits())).collect::<Vec<_>>()
    };
    assert_eq!(kinds(&told.trips), kinds(&own.trips), "{name}");
    if own.verdict == Verdict::Pass || own.verdict == Verdict::Tripped {
        assert_eq!(told.reason, own.reason, "{name}");
    }
    assert_eq!(told.parts.len(), own.parts.len(), "{name}");
    for (told, own) in told.parts.iter().zip(&own.parts) {
        let name = format!("{name}, {}", own.name);
        assert_eq!((&told.name, told.count), (&own.name, own.count));
        let credits = |part: &truesoak::report::result::Part| {
            let soaks =
                part.soaks.iter().map(|soak| (soak.step, soak.round, soak.credited_s as u32));
            soaks.collect::<Vec<_>>()
        };
        assert_eq!(credits(told), credits(own), "{name}: credit of every soak");
        for (told, own) in told.soaks.iter().zip(&own.soaks) {
            assert!(told.in_window_s <= own.in_window_s, "{name}: proven, but not true");
            assert!(told.peak_c >= own.peak_c, "{name}: hotter than can be");
        }
    }
}

#[test]
fn the_recount_of_every_shipped_bake_is_the_controllers_own() {
    for name in bakes() {
        agrees(&name, &bake(&name, &[], false));
    }
}

#[test]
fn what_was_set_on_the_command_line_is_recounted_with_it() {
    let probed = bake(
        "gas-out-chain-guards-300f",
        &["load.part.1.probe=true", "bake.step.\"gas-out\".soak.for=20 min"],
        false,
    );
    agrees("a probe", &probed);
    assert_eq!(probed.rehearsal.result.basis, Basis::PartProbe);
}

#[test]
fn a_dip_that_starts_the_count_again_does_so_in_the_recount() {
    let baked = bake("door-mid-soak", &["bake.step.\"gas-out\".soak.dip=restart"], false);
    agrees("restart", &baked);
}

/// A timer knows of no bounds: what its readings prove is told, and that a timer ran it.
#[test]
fn a_bake_run_by_the_clock_is_counted_by_what_its_readings_prove() {
    let baked = bake("gas-out-chain-guards-300f", &[], true);
    assert_eq!(baked.rehearsal.result.verdict, Verdict::Pass, "the timer says so");
    let told = verdict(&baked.log());
    assert_eq!(told.verdict, Verdict::Short);
    assert!(told.record.iter().any(|found| found.what.contains("timer")), "{:?}", told.record);
}
