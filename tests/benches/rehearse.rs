//! What a rehearsal costs, part by part. Prints; judges nothing.
//!
//! `cargo bench -p truesoak-tests`

use divan::Bencher;
use truesoak::compile::{self, tuning::tune};
use truesoak::files::Setup;
use truesoak::plant::{Draw, Plant};
use truesoak::rehearse::{model_of, rehearse};
use truesoak_core::Controller;
use truesoak_core::io::{Door, Health, Inputs, Sample, Transfer};
use truesoak_core::tick::Command;
use truesoak_core::units::{Celsius, Tick};
use truesoak_tests::{path, quick, read, setup};

fn main() {
    divan::main();
}

/// Three hours heated, three kinds of which two are chains of cells.
fn mixed_batch() -> Setup {
    read(&path("tests/benches/mixed-batch/bake.toml"), &[])
}

/// Three hours heated, ten ticks a second, main rehearsal alone.
#[divan::bench]
fn rehearsal_of_three_hours(bencher: Bencher<'_, '_>) {
    let setup = mixed_batch();
    let draw = Draw::nominal(&setup.oven);
    let nodes = Plant::new(&setup.oven, &setup.load, &draw, 20.0).nodes();
    let duration_s = rehearse(&quick(&setup)).expect("fits").result.duration_s;
    println!("{nodes} nodes, {:.2} h heated", duration_s / 3600.0);
    bencher.bench_local(|| rehearse(&quick(&setup)).expect("fits").result.duration_s);
}

#[divan::bench]
fn reading_and_compiling_the_files(bencher: Bencher<'_, '_>) {
    bencher.bench_local(|| {
        let setup = setup("gas-out-hubs.toml", &[]);
        let model = model_of(&setup).expect("fits");
        let tuned = tune(&setup, &model);
        let findings = compile::check::findings(&setup, &model, &tuned);
        (compile::settings(&setup.oven, tuned.tuning), findings)
    });
}

/// The plant alone: a minute at full power, read every tick.
#[divan::bench]
fn plant_of_one_minute(bencher: Bencher<'_, '_>) {
    let setup = setup("gas-out-hubs.toml", &[]);
    let draw = Draw::nominal(&setup.oven);
    let mut plant = Plant::new(&setup.oven, &setup.load, &draw, 20.0);
    plant.load_in(&[true, true], false);
    let mut on = false;
    bencher.bench_local(|| {
        let mut tick = 0;
        while tick < 600 {
            on = !on;
            plant.set_power(if on { 1500.0 } else { 0.0 });
            let length = plant.attempt(40);
            let sum: f64 = (1..=length).map(|at| plant.shown_at(at).air_c).sum();
            divan::black_box(sum);
            plant.take(length);
            tick += length;
        }
    });
}

/// Ten ticks of the controller in a soak, bounds included.
#[divan::bench]
fn controller_of_one_second(bencher: Bencher<'_, '_>) {
    let setup = setup("cure-hubs.toml", &[]);
    let model = model_of(&setup).expect("fits");
    let settings = compile::settings(&setup.oven, tune(&setup, &model).tuning);
    let mut controller = Controller::new(setup.bake.bake.clone(), model, settings);
    controller.command(Tick(0), Command::Start).expect("at rest");
    let mut now = 0_u32;
    bencher.bench_local(|| {
        for _ in 0..10 {
            let wiggle = (now % 3) as f32 * 0.25;
            let inputs = Inputs {
                air: Sample {
                    value: Celsius(21.0 + wiggle),
                    age_ticks: 0,
                    frame: u64::from(now),
                    transfer: Transfer::Good,
                },
                air_b: None,
                part_probe: None,
                cold_junction: Some(Celsius(25.0)),
                door: Some(Door::Closed),
                go: false,
                stop: false,
                permit_feedback: None,
                mains_at_heater: None,
                airflow: None,
                independent_ticks: None,
                health: Health::default(),
            };
            divan::black_box(controller.tick(Tick(now), &inputs));
            now += 1;
        }
    });
}
