//! What goes wrong: faults drawn for a bake, each of a kind this oven has a part for.
//!
//! Half of the kinds are off in any seed, so that what is on meets itself and few others. A fault
//! begins with the bake, at a moment of it or in a step, and lasts from a single transfer to the end
//! of the safety phase.

use super::dice::Dice;
use crate::files::Setup;
use crate::files::bake::{FaultScript, Moment};
use crate::files::oven::Circulation;
use crate::rehearse::FaultKind;
use truesoak_core::bake::Step;
use truesoak_core::sensor::Kind;

/// How many faults a seed has, by weight.
const COUNTS: [(usize, usize); 4] = [(2, 0), (5, 1), (2, 2), (1, 3)];
/// A fault from a moment of the bake begins within so long, s.
const WITHIN_S: f64 = 3.0 * 3600.0;
/// Most strikes of a fault that comes and goes.
const STRIKES_MAX: usize = 4;

/// Draws what goes wrong in a bake.
pub(super) fn draw(setup: &Setup, dice: &mut Dice) -> Vec<FaultScript> {
    let mut on: Vec<FaultKind> = FaultKind::ALL
        .iter()
        .filter(|_| dice.chance(1, 2))
        .map(|(kind, _)| *kind)
        .filter(|kind| fits(*kind, setup))
        .collect();
    let count = if on.is_empty() { 0 } else { dice.weighted(&COUNTS).unwrap_or(0) };
    let mut faults = Vec::new();
    for _ in 0..count.min(on.len()) {
        let kind = on.swap_remove(dice.below(on.len()));
        faults.extend(strikes(kind, setup, dice));
    }
    faults
}

/// This oven and load have a part that can fail so; see `files/check_faults.rs`.
fn fits(kind: FaultKind, setup: &Setup) -> bool {
    let oven = &setup.oven;
    match kind {
        FaultKind::ThermocoupleReversed | FaultKind::SensorTypeWrong => {
            matches!(oven.sensor.kind, Kind::Thermocouple(_))
        }
        FaultKind::FanStopped => matches!(oven.circulation, Circulation::Fan { .. }),
        FaultKind::DoorSwitchStuck => oven.door.switch,
        FaultKind::ProbeDisagrees => setup.load.parts.iter().any(|part| part.probe),
        FaultKind::PermitWelded => oven.permit.feedback,
        _ => true,
    }
}

/// One fault, in as many strikes as it has.
fn strikes(kind: FaultKind, setup: &Setup, dice: &mut Dice) -> Vec<FaultScript> {
    let repeated = matches!(kind, FaultKind::TickOverrun | FaultKind::ProcessorHung);
    let count = if repeated { 1 + dice.below(STRIKES_MAX) } else { 1 };
    (0..count).map(|_| one(kind, setup, dice)).collect()
}

fn one(kind: FaultKind, setup: &Setup, dice: &mut Dice) -> FaultScript {
    FaultScript {
        at: moment(kind, setup, dice),
        kind: kind.word().to_owned(),
        for_s: lasts_s(kind, dice),
        by_k: size_k(kind, dice),
    }
}

fn moment(kind: FaultKind, setup: &Setup, dice: &mut Dice) -> Moment {
    let built_in = matches!(
        kind,
        FaultKind::ThermocoupleReversed | FaultKind::SensorTypeWrong | FaultKind::SettingsCorrupt
    );
    // What reads too much or too little from the start has not jumped or moved.
    let changes = matches!(kind, FaultKind::SensorMoved | FaultKind::ReadingJump);
    if built_in || (!changes && dice.chance(1, 10)) {
        return Moment::SinceStart(0.0);
    }
    let steps = &setup.bake.bake.steps;
    let is_soak = |step: &usize| matches!(steps.get(*step), Some(Step::Soak(_)));
    let soaks: Vec<usize> = (0..steps.len()).filter(is_soak).collect();
    // No place in a cold oven is colder than the room.
    let soaks_only = kind == FaultKind::SensorMoved;
    if !soaks_only && dice.chance(1, 4) {
        return Moment::SinceStart(dice.magnitude(1.0, WITHIN_S));
    }
    let any = dice.below(steps.len());
    let step = soaks.get(dice.below(soaks.len())).copied().filter(|_| soaks_only).unwrap_or(any);
    let within_s = match steps.get(step) {
        Some(Step::Soak(soak)) => 3600.0 + 1.2 * f64::from(soak.for_s),
        Some(Step::Wait(wait)) => f64::from(wait.for_s),
        _ => 1200.0,
    };
    Moment::SinceStep(step, dice.between(0.0, within_s))
}

/// How long it stays at least; `None`: until the safety phase is over.
fn lasts_s(kind: FaultKind, dice: &mut Dice) -> Option<f64> {
    let (low, high, for_good) = match kind {
        // Nobody mends these in a bake.
        FaultKind::ThermocoupleReversed | FaultKind::SensorTypeWrong => return None,
        FaultKind::TickOverrun => (0.2, 0.9, 0),
        FaultKind::ProcessorHung => (1.1, 30.0, 0),
        FaultKind::SupplyLost => (2.0, 7200.0, 0),
        FaultKind::DoorLeftOpen => (60.0, 2400.0, 1),
        FaultKind::DoorSwitchStuck => (30.0, 1800.0, 1),
        FaultKind::DriveWelded | FaultKind::PermitWelded | FaultKind::HeaterDead => {
            (60.0, 7200.0, 4)
        }
        FaultKind::SensorDetached | FaultKind::SensorMoved | FaultKind::ProbeDisagrees => {
            (60.0, 7200.0, 3)
        }
        // What comes free within ten seconds is a press.
        FaultKind::ButtonStuck => (12.0, 7200.0, 2),
        _ => (0.1, 7200.0, 2),
    };
    (!dice.chance(for_good, 5)).then(|| dice.magnitude(low, high))
}

fn size_k(kind: FaultKind, dice: &mut Dice) -> Option<f64> {
    let (low, high) = match kind {
        FaultKind::SensorMoved => (3.0, 40.0),
        FaultKind::ReadingJump => (15.0, 80.0),
        FaultKind::ProbeDisagrees if dice.chance(1, 2) => (5.0, 60.0),
        _ => return None,
    };
    let size_k = dice.between(low, high);
    Some(if dice.chance(1, 2) { size_k } else { -size_k })
}
