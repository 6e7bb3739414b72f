//! A log recounts to the credit and bounds the controller had, second by second.

use truesoak::files::Setup;
use truesoak::files::bake::{FaultScript, Moment};
use truesoak::log::{self, Header, Log, Source, Writer};
use truesoak::rehearse::{Rehearsal, Request};
use truesoak::replay::replay;
use truesoak_tests::{quick, rehearsed, setup};

fn run(setup: &Setup) -> Rehearsal {
    rehearsed(&Request { draw: Some(3), seed: 2, ..quick(setup) })
}

/// Through the file, as a recount would have it.
fn through_a_file(rehearsal: &Rehearsal) -> Log {
    let mut writer = Writer::new(Vec::new(), &Header::of(Source::Rehearsal), &[]).unwrap();
    for row in &rehearsal.trace.rows {
        writer.row(row, &[]).unwrap();
    }
    log::parse(&writer.finish().unwrap()).unwrap()
}

fn recounts(setup: &Setup) {
    let rehearsal = run(setup);
    let log = through_a_file(&rehearsal);
    let recounted = replay(&log, &setup.bake.bake, &rehearsal.model).unwrap();
    assert!(recounted.len() > 3000);
    for second in &recounted {
        let row = &rehearsal.trace.rows[second.row];
        let at = format!("{} at {} s", setup.bake.name, row.t_s());
        assert_eq!(second.credit_s, row.credit_s, "{at}");
        assert_eq!(second.coldest.map(|bound| f64::from(bound.0)), row.coldest_c, "{at}");
        assert_eq!(second.hottest.map(|bound| f64::from(bound.0)), row.hottest_c, "{at}");
    }
}

#[test]
fn every_kind_of_bake_recounts_to_the_same_credit_and_bounds() {
    for bake in ["gas-out-hubs.toml", "cure-hubs.toml", "door-mid-soak.toml", "whole-day.toml"] {
        recounts(&setup(bake, &[]));
    }
}

#[test]
fn a_second_sensor_and_a_part_probe_recount_too() {
    for (bake, part) in [("gas-out-chain-guards-300f.toml", 0), ("whole-day.toml", 0)] {
        let mut setup = setup(bake, &[]);
        setup.load.parts[part].probe = true;
        recounts(&setup);
        setup.oven.sensor_b = Some(setup.oven.sensor);
        recounts(&setup);
    }
}

fn fault(kind: &str, step: usize, at_s: f64, for_s: Option<f64>, by_k: Option<f64>) -> FaultScript {
    FaultScript { at: Moment::SinceStep(step, at_s), kind: kind.to_owned(), for_s, by_k }
}

#[test]
fn a_lost_supply_recounts_too() {
    let mut setup = setup("gas-out-hubs.toml", &[]);
    setup.bake.faults = vec![fault("supply-lost", 2, 6600.0, Some(300.0), None)];
    recounts(&setup);
}

#[test]
fn a_supply_lost_between_gas_out_and_cure_recounts_too() {
    // What cools was hung bare: the next soak's coating is not on it yet.
    let mut setup = setup("whole-day.toml", &[]);
    setup.bake.faults = vec![fault("supply-lost", 3, 600.0, Some(60.0), None)];
    recounts(&setup);
}

#[test]
fn a_probe_that_disagreed_before_a_lost_supply_still_does_after_it() {
    let mut setup = setup("gas-out-chain-guards-300f.toml", &[]);
    setup.load.parts[0].probe = true;
    setup.bake.faults = vec![
        fault("probe-disagrees", 2, 60.0, Some(60.0), Some(8.0)),
        fault("supply-lost", 2, 300.0, Some(60.0), None),
    ];
    let rows = run(&setup).trace.rows;
    let told = |words: &str| rows.iter().filter(|row| row.event == words).count();
    assert_eq!((told("probe-agrees"), told("probe-disagrees")), (0, 2));
    recounts(&setup);
}

#[test]
fn an_edited_log_recounts_to_less_or_is_refused() {
    let setup = setup("gas-out-hubs.toml", &[]);
    let rehearsal = run(&setup);
    let mut log = through_a_file(&rehearsal);
    let mid = log.rows.len() / 3;
    log.rows[mid].event = "everything was fine".to_owned();
    assert!(replay(&log, &setup.bake.bake, &rehearsal.model).is_err());
}
