//! An oven whose truth is known, driven by a schedule and logged every ten seconds.
#![allow(dead_code)] // each test file uses a part of it

use std::path::PathBuf;
use truesoak::files::load::Load;
use truesoak::files::oven::Oven;
use truesoak::files::{Carried, read_carried, read_oven_alone};
use truesoak::fit::{Course, Estimate, Fitted, Quantity, Unfit, fit};
use truesoak::log::{End, Header, Log, Reading, Row, Source};
use truesoak::plant::{Draw, Plant};
use truesoak_tests::path;

/// Ticks between two rows.
const ROW_TICKS: u32 = 100;
/// A reading is the mean of the second that ends with its row: its middle.
const MIDDLE_TICKS: u32 = 5;

/// Six plates, a probe on one.
pub const PLATES: &str = r#"
name = "Six plates"
[[part]]
name = "plate"
count = 6
material = "aluminium 6061"
shape = { plate = { thickness = "8 mm", width = "150 mm", height = "200 mm" } }
probe = true
"#;

/// Full power, a hold by hand, then off: minutes and duty.
pub const STEP_TEST: [(f64, f64); 8] = [
    (8.0, 1.0),
    (6.0, 0.0),
    (10.0, 0.3),
    (10.0, 0.2),
    (4.0, 0.6),
    (20.0, 0.2),
    (1.0, 0.0),
    (60.0, 0.0),
];

/// The shipped oven.
pub fn oven() -> Oven {
    read_oven_alone(&profile("ovens/cabinet-60l.toml")).unwrap().oven
}

/// A shipped file.
pub fn profile(name: &str) -> PathBuf {
    path("profiles").join(name)
}

/// A load from its text.
pub fn load(text: &str) -> Load {
    let carried = Carried { load: Some(text), ..Carried::default() };
    let mut load = read_carried(&carried, "test").unwrap().1.unwrap();
    for part in &mut load.parts {
        part.starts_at_c = 20.0;
    }
    load
}

/// Nothing.
pub fn empty() -> Load {
    Load { name: String::new(), parts: Vec::new(), rack: None, coating: None }
}

/// What the oven of a draw logs under a schedule of minutes and duty; parts are in from the start.
pub fn logged(oven: &Oven, text: Option<&str>, draw: &Draw, schedule: &[(f64, f64)]) -> Log {
    let load = text.map_or_else(empty, load);
    let mut plant = Plant::new(oven, &load, draw, oven.ambient_c);
    plant.load_in(&vec![true; load.parts.len()], false);
    let mut header = Header::of(Source::Other);
    header.load = text.map(str::to_owned);
    let mut log = Log { header, rows: Vec::new(), truth: Vec::new(), end: End::Complete };
    log.rows.push(row(0, 0.0, &plant, 0, !load.parts.is_empty()));
    let mut tick = 0;
    for (minutes, duty) in schedule {
        let end = tick + (minutes * 600.0) as u32;
        plant.set_power(duty * oven.heater.power_w * draw.heater_power);
        while tick < end {
            let due = tick + ROW_TICKS;
            let mut read = None;
            while tick < due {
                let taken = plant.attempt(due - tick);
                let middle = due - MIDDLE_TICKS;
                if tick < middle && middle <= tick + taken {
                    read = Some(row(due, *duty, &plant, middle - tick, !load.parts.is_empty()));
                }
                plant.take(taken);
                tick += taken;
            }
            log.rows.extend(read);
        }
    }
    log
}

fn row(tick: u32, duty: f64, plant: &Plant, at: u32, probed: bool) -> Row {
    let shown = plant.shown_at(at);
    let reading = |celsius: f64| Reading((celsius * 128.0).round() as i32);
    Row {
        tick,
        air: Some(reading(shown.air_c)),
        part_probe: shown.part_probe_c.filter(|_| probed).map(reading),
        on_ticks: (duty * 10.0).round() as u8,
        ..Row::default()
    }
}

/// A log as a course of the shipped oven.
pub fn course(log: &Log) -> Result<Course, Unfit> {
    Course::of(log, "test.csv", &oven())
}

/// Fits the shipped oven to logs.
pub fn fitted(logs: &[Log]) -> Fitted {
    let courses: Vec<Course> = logs.iter().map(|log| course(log).unwrap()).collect();
    fit(&oven(), &courses).unwrap()
}

/// One quantity of a fit.
pub fn of(fitted: &Fitted, quantity: Quantity) -> &Estimate {
    fitted.estimates.iter().find(|estimate| estimate.quantity == quantity).unwrap()
}
