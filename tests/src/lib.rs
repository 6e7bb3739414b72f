//! Helpers shared by the tests that cross crates.

pub mod emulated;
pub mod fetched;

use std::path::{Path, PathBuf};
use truesoak::compile::{self, tuning};
use truesoak::files::{self, Override, Setup};
use truesoak::rehearse::{Rehearsal, Request, model_of, rehearse};
use truesoak_core::wire::compiled::Compiled;
use truesoak_core::wire::settings::{BoardSettings, Fitted, Fitting};
use truesoak_firmware::shell::Commissioned;
use truesoak_firmware::store::SETTINGS_MAX;

/// A file or folder of this project, from its root.
#[must_use]
pub fn path(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("..").join(name)
}

/// Where a shipped bake is, by its file's name with or without its ending.
#[must_use]
pub fn bake_path(bake: &str) -> PathBuf {
    path("profiles/bakes").join(bake).with_extension("toml")
}

/// Every shipped bake, by its file's name without its ending.
///
/// # Panics
/// With fewer of them than there have ever been.
#[must_use]
pub fn bakes() -> Vec<String> {
    let files = path("profiles/bakes").read_dir().expect("the shipped bakes");
    let mut bakes: Vec<String> = files
        .map(|file| file.expect("one").path())
        .filter(|path| path.extension().is_some_and(|ending| ending == "toml"))
        .map(|path| path.file_stem().expect("a name").to_string_lossy().into_owned())
        .collect();
    bakes.sort();
    assert!(bakes.len() >= 9, "{bakes:?}");
    bakes
}

/// A bake's files with values set, as on the command line.
///
/// # Panics
/// With the refusal of their reader.
#[must_use]
#[track_caller]
pub fn read(path: &Path, set: &[&str]) -> Setup {
    let set: Vec<Override> = set.iter().map(|typed| Override::set(typed)).collect();
    files::read(path, &set).unwrap_or_else(|refusal| panic!("{}:\n{refusal}", path.display()))
}

/// A shipped bake with values set.
///
/// # Panics
/// With the refusal of its reader.
#[must_use]
#[track_caller]
pub fn setup(bake: &str, set: &[&str]) -> Setup {
    read(&bake_path(bake), set)
}

/// On how many plants something is tried: `TRUESOAK_DRAWS`, or else this many.
#[must_use]
pub fn draws(otherwise: u64) -> u64 {
    std::env::var("TRUESOAK_DRAWS").ok().and_then(|text| text.parse().ok()).unwrap_or(otherwise)
}

/// The bake alone on the nominal plant that it believes in, seed 1.
#[must_use]
pub fn quick(setup: &Setup) -> Request<'_> {
    Request {
        believed: setup,
        truth: setup,
        draw: None,
        exactly: None,
        seed: 1,
        by_the_clock: false,
        quick: true,
    }
}

/// What came of a rehearsal.
///
/// # Panics
/// With its refusal.
#[must_use]
#[track_caller]
pub fn rehearsed(request: &Request<'_>) -> Rehearsal {
    rehearse(request).unwrap_or_else(|refusal| panic!("{refusal}"))
}

/// What a computer sends of a setup.
///
/// # Panics
/// A setup that does not compile.
#[must_use]
pub fn compiled(setup: &Setup) -> Compiled {
    let model = model_of(setup).unwrap_or_else(|refusal| panic!("{refusal}"));
    let tuned = tuning::tune(setup, &model);
    let mut settings = compile::settings(&setup.oven, tuned.tuning);
    settings.is_virtual = false;
    Compiled { bake: setup.bake.bake.clone(), model, settings }
}

/// What commissioning an oven like this leaves in the store, its sensors read like this.
///
/// # Panics
/// A setup that does not compile.
#[must_use]
pub fn settings(setup: &Setup, fitting: Fitting) -> Vec<u8> {
    let fitted = Fitted { fitting, correction_steps: 0 };
    let oven = &setup.oven;
    let settings = BoardSettings {
        air: fitted,
        air_b: oven.sensor_b.map(|_| fitted),
        part_probe: setup.load.parts.iter().any(|part| part.probe).then_some(fitted),
        door_switch: oven.door.switch,
        permit_feedback: oven.permit.feedback,
        mains_at_heater: oven.permit.mains_proof,
        airflow: compiled(setup).model.air.airflow_proof,
        independent_clock: true,
        mains_60_hz: false,
        air_max_c: oven.air_max_c as u16,
    };
    let mut bytes = [0; SETTINGS_MAX];
    let len = Commissioned { settings, checked: [true; 3] }.encode(&mut bytes).expect("they fit");
    bytes[..len].to_vec()
}
