//! Ovens, bakes, checkpoints and inputs from bytes: mostly such as there are, with numbers among
//! them that are none.

#[path = "../../../../core/tests/hand/mod.rs"]
mod hand;

use crate::bytes::Bytes;
use std::sync::OnceLock;
use truesoak_core::bake::{
    Bake, Check, Cool, CoolOn, Dip, Limits, LoadIn, OnFail, Purpose, Ramp, STEPS_MAX, Soak, Step,
    Wait,
};
use truesoak_core::bounds::model::{Model, Probe, Sensor};
use truesoak_core::bounds::{Hottest, Trust};
use truesoak_core::command::Settings;
use truesoak_core::guard::{Trip, TripKind};
use truesoak_core::io::{Door, Health, Inputs, Sample, Transfer};
use truesoak_core::record::Checkpoint;
use truesoak_core::regulate::Tuning;
use truesoak_core::units::{Celsius, Kelvins, Span, Tick};

/// A row has no place for the seconds of a bake of 194 days.
const LONGEST_S: u32 = 193 * 86_400;

/// A temperature: mostly one an oven has, in quarters of a kelvin.
fn celsius(bytes: &mut Bytes<'_>) -> Celsius {
    Celsius(match bytes.below(16) {
        0 => bytes.f32(),
        1 => [f32::NAN, f32::INFINITY, -300.0, 1400.0][bytes.below(4)],
        _ => f32::from(bytes.u16() % 1200) / 4.0,
    })
}

/// The same as a converter gives it: nothing past the ends of its sensor, or not a number.
fn sensed(bytes: &mut Bytes<'_>) -> Celsius {
    Celsius(celsius(bytes).0.clamp(-270.0, 1372.0))
}

fn kelvins(bytes: &mut Bytes<'_>) -> Kelvins {
    Kelvins(if bytes.below(16) == 1 { bytes.f32() } else { f32::from(bytes.byte()) / 8.0 })
}

fn seconds(bytes: &mut Bytes<'_>) -> u32 {
    match bytes.below(8) {
        0 => bytes.u32(),
        1 => u32::from(bytes.u16()),
        _ => u32::from(bytes.byte()),
    }
}

fn maybe<T>(bytes: &mut Bytes<'_>, some: impl FnOnce(&mut Bytes<'_>) -> T) -> Option<T> {
    bytes.flag().then(|| some(bytes))
}

/// The bench's oven, or one of foil that follows its air within seconds; with a few of its numbers
/// changed, where they stand in its bytes.
pub(super) fn model(bytes: &mut Bytes<'_>) -> Model {
    static WRITTEN: OnceLock<[Vec<u8>; 2]> = OnceLock::new();
    let written = WRITTEN.get_or_init(|| [postcard_of(&two_sensors()), postcard_of(&foil())]);
    let mut changed = written[bytes.below(2)].clone();
    for _ in 0..bytes.below(16).saturating_sub(8) {
        let at = usize::from(bytes.u16()) % (changed.len() - 4);
        let number = bytes.f32().to_le_bytes();
        changed[at..at + 4].copy_from_slice(&number);
    }
    postcard::from_bytes(&changed).unwrap_or_else(|_| hand::model())
}

fn two_sensors() -> Model {
    let mut model = hand::model();
    model.sensor_b = Some(model.sensor);
    model
}

fn foil() -> Model {
    let mut model = two_sensors();
    let quick = Span { low: 0.1, high: 0.2 };
    let sensor = Sensor { lag_s: quick, wall_view: Span { low: 0.0, high: 0.0 }, ..model.sensor };
    model.probe = Some(Probe {
        class: 0,
        lag_s: quick,
        offset_k: sensor.offset_k,
        resolution_k: sensor.resolution_k,
        noise_k: sensor.noise_k,
    });
    (model.sensor, model.sensor_b) = (sensor, Some(sensor));
    model.element.capacity_j_per_k = 1.0;
    model.cabinet.liner_j_per_k = 10.0;
    for class in &mut model.classes {
        class.slow.capacity_j_per_k = 0.1;
        class.fast.capacity_j_per_k = 0.1;
    }
    model
}

fn postcard_of(model: &Model) -> Vec<u8> {
    let mut room = vec![0; 4096];
    truesoak_core::wire::write(model, &mut room).expect("it fits").to_vec()
}

pub(super) fn settings(bytes: &mut Bytes<'_>) -> Settings {
    let mut settings = Settings {
        tuning: Tuning { gain_per_k: 0.05, integral_time_s: 100.0, derivative_time_s: 0.0 },
        minimum_on_s: 1.0,
        minimum_off_s: 1.0,
        sensor_budget: Kelvins(10.0),
        fan: bytes.flag(),
        is_virtual: false,
    };
    if bytes.below(8) == 1 {
        let Settings { tuning, minimum_on_s, minimum_off_s, sensor_budget, .. } = &mut settings;
        let numbers: [&mut f32; 6] = [
            &mut tuning.gain_per_k,
            &mut tuning.integral_time_s,
            &mut tuning.derivative_time_s,
            minimum_on_s,
            minimum_off_s,
            &mut sensor_budget.0,
        ];
        *numbers.into_iter().nth(bytes.below(6)).expect("one of six") = bytes.f32();
    }
    settings
}

pub(super) fn bake(bytes: &mut Bytes<'_>) -> Bake {
    let limits = if bytes.below(8) == 1 {
        Limits {
            air_max: celsius(bytes),
            bake_max_s: seconds(bytes),
            door_open_max_s: seconds(bytes),
        }
    } else {
        hand::LIMITS
    };
    let count = bytes.below(STEPS_MAX.min(6) + 1);
    Bake { steps: (0..count).map(|_| step(bytes)).collect(), limits }
}

fn step(bytes: &mut Bytes<'_>) -> Step {
    match bytes.below(12) {
        0 | 1 => Step::Ramp(Ramp { to: celsius(bytes), rate_k_per_min: maybe(bytes, kelvins) }),
        2 => Step::Cool(Cool {
            to: celsius(bytes),
            on: if bytes.flag() { CoolOn::Air } else { CoolOn::Parts },
        }),
        3 => Step::LoadIn(LoadIn { at: maybe(bytes, celsius) }),
        4 => Step::Check(Check {
            on_fail: if bytes.flag() { OnFail::RepeatFrom(bytes.byte()) } else { OnFail::Stop },
            tries: bytes.byte(),
            parts_stay: bytes.flag(),
        }),
        5 => Step::Wait(Wait { for_s: seconds(bytes), parts_stay: bytes.flag() }),
        6 => hand::soak(),
        _ => Step::Soak(soak(bytes)),
    }
}

fn soak(bytes: &mut Bytes<'_>) -> Soak {
    Soak {
        purpose: [Purpose::GasOut, Purpose::Cure, Purpose::Other][bytes.below(3)],
        // Often the room is in the window, so that credit flows.
        at_least: if bytes.flag() { Celsius(-40.0) } else { celsius(bytes) },
        at_most: celsius(bytes),
        for_s: seconds(bytes),
        dip: if bytes.flag() { Dip::Restart } else { Dip::Pause },
        boost: kelvins(bytes),
        give_up_after_s: maybe(bytes, seconds),
        no_longer_than_s: maybe(bytes, seconds),
    }
}

pub(super) fn checkpoint(bytes: &mut Bytes<'_>) -> Checkpoint {
    let mut rounds = [0; STEPS_MAX];
    rounds[bytes.below(STEPS_MAX)] = bytes.byte();
    let mut short = [false; STEPS_MAX];
    short[bytes.below(STEPS_MAX)] = bytes.flag();
    let trip = (bytes.below(8) == 1).then(|| Trip {
        kind: TripKind::ALL[bytes.below(TripKind::ALL.len())],
        at: Tick(bytes.u32()),
    });
    Checkpoint {
        second: seconds(bytes) % LONGEST_S,
        step: bytes.byte() % 8,
        credit_s: seconds(bytes),
        in_step_s: seconds(bytes),
        stayed_s: seconds(bytes),
        loaded: bytes.flag(),
        rounds,
        short,
        heat_ticks: seconds(bytes),
        coldest: sensed(bytes),
        hottest: Hottest { oven: sensed(bytes), parts: sensed(bytes), element: sensed(bytes) },
        outside_model: bytes.below(8) == 1,
        probe: [Trust::Proving, Trust::Believed, Trust::Lost][bytes.below(3)],
        trip,
    }
}

/// What a board reads at rest in a room.
pub(super) fn at_rest() -> Inputs {
    let air = Sample { value: Celsius(20.0), age_ticks: 0, frame: 0, transfer: Transfer::Good };
    Inputs {
        air,
        cold_junction: Some(Celsius(25.0)),
        door: Some(Door::Closed),
        health: Health::default(),
        ..Inputs::NOTHING
    }
}

/// Changes one thing of what comes in, or none.
pub(super) fn inputs(bytes: &mut Bytes<'_>, inputs: &mut Inputs) {
    let yes_or_no = |bytes: &mut Bytes<'_>| [None, Some(false), Some(true)][bytes.below(3)];
    match bytes.below(24) {
        0..=4 => inputs.air.value = sensed(bytes),
        5 => inputs.air = sample(bytes),
        6 => inputs.air_b = maybe(bytes, sample),
        7 => inputs.part_probe = maybe(bytes, sample),
        8 => inputs.cold_junction = maybe(bytes, sensed),
        9 | 10 => inputs.door = [None, Some(Door::Open), Some(Door::Closed)][bytes.below(3)],
        11..=13 => inputs.go = bytes.flag(),
        14 => inputs.stop = bytes.flag(),
        15 => inputs.permit_feedback = yes_or_no(bytes),
        16 => inputs.mains_at_heater = yes_or_no(bytes),
        17 => inputs.airflow = yes_or_no(bytes),
        18 => inputs.independent_ticks = bytes.flag().then(|| bytes.u32()),
        19 => {
            inputs.health = Health {
                memory: bytes.flag(),
                settings: bytes.flag(),
                store: bytes.flag(),
                watchdog_resets: bytes.byte(),
            }
        }
        20 => *inputs = at_rest(),
        _ => {}
    }
}

fn sample(bytes: &mut Bytes<'_>) -> Sample {
    let transfers =
        [Transfer::Good, Transfer::Open, Transfer::Short, Transfer::Impossible, Transfer::Silent];
    Sample {
        value: sensed(bytes),
        age_ticks: u16::from(bytes.byte()),
        frame: u64::from(bytes.byte()),
        transfer: transfers[bytes.below(8).saturating_sub(3)],
    }
}
