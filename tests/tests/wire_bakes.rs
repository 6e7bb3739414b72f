//! Every shipped bake through the bytes of the wire.
//!
//! Goal: what the store keeps of a bake gives the credit and the bounds the board had, and what a
//! computer sends of it is taken. Method: rehearsals whose rows and events go through the fourteen
//! bytes of a row and are recounted from nothing else; the compiled bake there and back.

use std::path::Path;
use truesoak::compile;
use truesoak::files::Setup;
use truesoak::files::bake::{FaultScript, Moment};
use truesoak::rehearse::{Rehearsal, Request};
use truesoak_core::Controller;
use truesoak_core::event::Event;
use truesoak_core::io::Question;
use truesoak_core::ledger::Ledger;
use truesoak_core::units::Celsius;
use truesoak_core::wire::compiled::{COMPILED_BYTES_MAX, Compiled};
use truesoak_core::wire::row::{ROW_BYTES, Row, SecondRow, Sixteenths};
use truesoak_core::wire::upload::TEXTS_BYTES_MAX;
use truesoak_tests::{bake_path, bakes, quick, rehearsed, setup};

fn run(setup: &Setup) -> Rehearsal {
    rehearsed(&Request { draw: Some(5), seed: 3, ..quick(setup) })
}

/// A row of the log as the store has it.
fn stored(row: &truesoak::log::Row, airflow_proof: bool) -> Row {
    if !row.event.is_empty() {
        let event = Event::parse(&row.event).unwrap_or_else(|| panic!("{}", row.event));
        return Row::of_event(row.tick, event);
    }
    Row::Second(SecondRow {
        second: row.tick / 10,
        reading: row.air,
        reading_b: row.air_b,
        part_probe: row.part_probe,
        setpoint: row.setpoint_c.map(|setpoint_c| Sixteenths::nearest(Celsius(setpoint_c as f32))),
        on_ticks: row.on_ticks,
        permit: row.permit,
        door_open: row.door_open == Some(true),
        projected: row.flags.projected,
        widened: row.flags.widened,
        airflow: airflow_proof.then_some(row.flags.airflow),
        step: row.step,
        phase: row.phase,
    })
}

/// Recounts a rehearsal from the bytes alone; how many seconds were compared.
fn recounts(setup: &Setup) -> usize {
    let rehearsal = run(setup);
    let (model, bake) = (&rehearsal.model, &setup.bake.bake);
    let rows = &rehearsal.trace.rows;
    let bytes: Vec<[u8; ROW_BYTES]> = rows
        .iter()
        .map(|row| stored(row, model.air.airflow_proof).encode().expect("it has a place"))
        .collect();
    let mut ledger: Option<Ledger> = None;
    let mut seconds = 0;
    for (bytes, row) in bytes.iter().zip(rows) {
        let at = format!("{} at {} s", setup.bake.name, row.t_s());
        match Row::decode(bytes).expect("a row") {
            Row::Second(second) => {
                match &mut ledger {
                    None => {
                        let first = second.reading.expect("a reading to start from");
                        ledger = Some(Ledger::start(model, bake, first));
                    }
                    Some(ledger) => {
                        ledger.second(model, &second.second());
                    }
                }
                let ledger = ledger.as_ref().expect("begun");
                assert_eq!(ledger.credit_s(), row.credit_s, "{at}");
                let coldest_c = ledger.coldest().map(|bound| f64::from(bound.0));
                let hottest_c = ledger.hottest().map(|bound| f64::from(bound.0));
                assert_eq!((coldest_c, hottest_c), (row.coldest_c, row.hottest_c), "{at}");
                assert!(
                    second.setpoint.zip(row.setpoint_c).is_none_or(|(kept, setpoint_c)| {
                        (f64::from(kept.to_celsius().0) - setpoint_c).abs() <= 1.0 / 32.0 + 1e-5
                    }),
                    "{at}"
                );
                seconds += 1;
            }
            Row::Event { event, .. } => {
                assert_eq!(event.to_string(), row.event, "{at}");
                if let Some(ledger) = &mut ledger {
                    ledger.note(model, bake, event);
                }
            }
            Row::Tick(_) => panic!("nobody wrote a tick"),
        }
    }
    seconds
}

#[test]
fn every_shipped_bake_recounts_from_the_bytes_of_its_rows_alone() {
    for bake in bakes() {
        let setup = setup(&bake, &[]);
        let seconds = recounts(&setup);
        println!("{}: {seconds} seconds, {} bytes", setup.bake.name, seconds * ROW_BYTES);
        assert!(seconds > 60);
    }
}

#[test]
fn a_second_sensor_a_probe_and_a_lost_supply_recount_from_the_bytes_too() {
    let mut setup = setup("gas-out-chain-guards-300f.toml", &[]);
    setup.load.parts[0].probe = true;
    setup.oven.sensor_b = Some(setup.oven.sensor);
    setup.bake.faults = vec![FaultScript {
        at: Moment::SinceStep(2, 300.0),
        kind: "supply-lost".to_owned(),
        for_s: Some(60.0),
        by_k: None,
    }];
    assert!(recounts(&setup) > 3000);
}

#[test]
fn the_supply_that_returns_stands_right_before_the_question_whose_time_it_has() {
    let mut setup = setup("gas-out-hubs.toml", &[]);
    setup.bake.faults = vec![FaultScript {
        at: Moment::SinceStep(2, 6600.0),
        kind: "supply-lost".to_owned(),
        for_s: Some(300.0),
        by_k: None,
    }];
    let rows = run(&setup).trace.rows;
    let at = rows.iter().position(|row| row.event.starts_with("supply returned")).expect("it does");
    let asked = Event::Asked(Question::PowerReturned).to_string();
    assert_eq!((&rows[at + 1].event, rows[at + 1].tick), (&asked, rows[at].tick));
}

/// Bytes of a bake's three files.
fn text_bytes(path: &Path) -> u64 {
    let folder = path.parent().expect("a folder");
    let text = std::fs::read_to_string(path).expect("the bake");
    let named = text.lines().filter_map(|line| {
        let (key, rest) = line.split_once(" = \"")?;
        matches!(key, "oven" | "load").then(|| folder.join(rest.split('"').next().expect("a name")))
    });
    let others: Vec<u64> = named.map(|path| path.metadata().expect("oven or load").len()).collect();
    assert_eq!(others.len(), 2, "{}", path.display());
    text.len() as u64 + others.iter().sum::<u64>()
}

#[test]
fn every_shipped_bake_is_taken_as_it_is_sent_and_fits_the_board() {
    for bake in bakes() {
        let setup = setup(&bake, &[]);
        let rehearsal = run(&setup);
        let tuning = compile::tuning::computed(&setup, &rehearsal.model).tuning;
        let mut settings = compile::settings(&setup.oven, tuning);
        settings.is_virtual = false;
        let compiled =
            Compiled { bake: setup.bake.bake.clone(), model: rehearsal.model.clone(), settings };
        let mut bytes = [0; COMPILED_BYTES_MAX];
        let len = compiled.encode(&mut bytes).expect("it fits");
        assert_eq!(Compiled::decode(&bytes[..len]), Ok(compiled), "{}", setup.bake.name);
        let texts = text_bytes(&bake_path(&bake));
        println!("{bake}: texts {texts} bytes, compiled {len}");
        assert!(texts < u64::from(TEXTS_BYTES_MAX));
    }
    println!("a controller: {} bytes on this machine", size_of::<Controller>());
}
