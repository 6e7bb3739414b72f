//! Everything one seed draws: oven, load, bake, what is fitted, the people, the plant, and what goes
//! wrong when.

use super::bakes::{plant, random_bake};
use super::dice::Dice;
use super::mishaps;
use crate::files::Setup;
use crate::files::bake::{AnswerScript, DoorScript, Moment, Say};
use crate::files::load::Shape;
use crate::files::oven::{Circulation, Sensor};
use crate::plant::Draw;
use truesoak_core::bake::{Dip, Step};
use truesoak_core::units::Kelvins;

/// Keeps this stream from those of bakes and plants.
const SCENE_STREAM: u64 = 0x7472_6961_6C00;
/// Bakes drawn for a seed until one is no contradiction.
pub(super) const TRIES: u64 = 24;
/// Answers of one script; whoever is asked more often answers as patient people do.
const ANSWERS: usize = 8;
/// Somebody who never comes back: longer than any rehearsal, s.
const NEVER_S: f64 = 30.0 * 24.0 * 3600.0;

/// What is true and nobody told: the cases the contract does not cover.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Untold {
    /// A part is thicker and heavier than told.
    ThickerPart,
    /// The reading is further off than told: a sensor that had moved, a thermocouple of a near type.
    ReadingOff,
}

impl Untold {
    /// Its words.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::ThickerPart => "part-thicker-than-told",
            Self::ReadingOff => "reading-off",
        }
    }
}

/// One drawn bake.
#[derive(Clone, Debug)]
pub struct Scene {
    /// The seed.
    pub seed: u64,
    /// What the controller believes, with the script: doors, answers, faults.
    pub believed: Setup,
    /// What is true, before the draw.
    pub truth: Setup,
    /// Everything the spread leaves open.
    pub draw: Draw,
    /// What is true outside the spread.
    pub untold: Option<Untold>,
    /// The safety phase ends here: faults are over, s.
    pub calm_from_s: u32,
}

impl Scene {
    /// The `attempt`-th drawing of a seed; whether it contradicts itself is for the caller to see.
    #[must_use]
    pub(super) fn draw(seed: u64, attempt: u64) -> Self {
        let number = seed.wrapping_mul(TRIES).wrapping_add(attempt);
        let mut dice = Dice::of(SCENE_STREAM.wrapping_add(number));
        let mut believed = random_bake(number);
        shorten(&mut believed, &mut dice);
        fit(&mut believed, &mut dice);
        ask(&mut believed, &mut dice);
        people(&mut believed, &mut dice);
        let untold = dice
            .chance(1, 16)
            .then(|| if dice.chance(1, 2) { Untold::ThickerPart } else { Untold::ReadingOff });
        if untold.is_none() {
            believed.bake.faults = mishaps::draw(&believed, &mut dice);
        }
        let mut truth = believed.clone();
        let mut draw = plant(&believed, 2 * number + u64::from(dice.chance(1, 2)));
        match untold {
            Some(Untold::ThickerPart) => thicken(&mut truth, &mut dice),
            Some(Untold::ReadingOff) => {
                let beyond = dice.between(1.5, 5.0) * if dice.chance(1, 2) { 1.0 } else { -1.0 };
                draw.sensor_offset_k = beyond * believed.oven.spread.sensor_offset_k;
            }
            None => {}
        }
        let calm_from_s = dice.between(1.0, 14.0) * 3600.0;
        Self { seed, believed, truth, draw, untold, calm_from_s: calm_from_s as u32 }
    }
}

/// A load that is in from the start, in one bake of six that can have it.
fn shorten(setup: &mut Setup, dice: &mut Dice) {
    let steps = &setup.bake.bake.steps;
    let repeats = steps.iter().any(|step| matches!(step, Step::Check(_)));
    let Some(soak) = steps.iter().position(|step| matches!(step, Step::Soak(_))) else { return };
    if repeats || soak == 0 || !dice.chance(1, 6) {
        return;
    }
    let kept = setup.bake.bake.steps.iter().skip(soak).copied().collect();
    setup.bake.bake.steps = kept;
    setup.bake.steps.drain(..soak.min(setup.bake.steps.len()));
    setup.bake.doors.retain(|door| !door.loads);
    for door in &mut setup.bake.doors {
        if let Moment::SinceStep(step, _) = &mut door.at {
            *step = step.saturating_sub(soak);
        }
    }
}

/// What the oven is fitted with.
fn fit(setup: &mut Setup, dice: &mut Dice) {
    let oven = &mut setup.oven;
    oven.door.switch = dice.chance(4, 5);
    oven.permit.feedback = dice.chance(3, 4);
    oven.permit.mains_proof = dice.chance(1, 3);
    oven.drive.minimum_on_s = dice.between(0.5, 1.5);
    oven.drive.minimum_off_s = dice.between(0.5, 1.5);
    if dice.chance(1, 3) {
        let like = oven.sensor;
        oven.sensor_b = Some(Sensor {
            lag_s: like.lag_s * dice.factor(1.6),
            wall_view: (like.wall_view + dice.between(-0.1, 0.1)).clamp(0.0, 0.4),
            ..like
        });
    }
    match &mut oven.circulation {
        Circulation::Fan { speed_m_per_s, .. } => *speed_m_per_s *= dice.factor(1.8),
        still @ Circulation::Natural if dice.chance(1, 10) => {
            *still = Circulation::Fan { speed_m_per_s: dice.between(0.5, 3.0), proof: true };
        }
        Circulation::Natural => {}
    }
    if dice.chance(1, 3) {
        let part = dice.below(setup.load.parts.len());
        for (index, each) in setup.load.parts.iter_mut().enumerate() {
            each.probe = index == part;
        }
    }
}

/// What the bake asks.
fn ask(setup: &mut Setup, dice: &mut Dice) {
    let limits = &mut setup.bake.bake.limits;
    limits.bake_max_s = dice.between(4.0, 16.0) as u32 * 3600;
    limits.door_open_max_s = dice.between(60.0, 600.0) as u32;
    for step in &mut setup.bake.bake.steps {
        if let Step::Soak(soak) = step {
            if dice.chance(1, 4) {
                soak.dip = Dip::Restart;
            }
            if dice.chance(1, 3) {
                soak.boost = Kelvins(dice.between(0.0, 10.0) as f32);
            }
        }
    }
}

/// People who load at other times, answer at once, late or never, and say now and then the other
/// thing.
fn people(setup: &mut Setup, dice: &mut Dice) {
    let steps = setup.bake.bake.steps.clone();
    let bake = &mut setup.bake;
    for (index, step) in steps.iter().enumerate() {
        if matches!(step, Step::LoadIn(_)) && dice.chance(1, 2) {
            bake.doors.retain(|door| !(door.loads && is_in(door, index)));
            bake.doors.push(DoorScript {
                at: Moment::SinceStep(index, dice.magnitude(5.0, 3600.0)),
                open_for_s: dice.magnitude(10.0, 300.0),
                loads: true,
                opening: dice.between(0.15, 1.0),
            });
        }
    }
    bake.answers = (0..dice.below(ANSWERS + 1)).map(|_| answer(dice)).collect();
}

fn is_in(door: &DoorScript, index: usize) -> bool {
    matches!(door.at, Moment::SinceStep(step, _) if step == index)
}

fn answer(dice: &mut Dice) -> AnswerScript {
    let say = if dice.chance(1, 8) { Say::Fail } else { Say::Go };
    let after_s = match dice.below(40) {
        0 => Some(NEVER_S),
        1..=9 => Some(dice.magnitude(600.0, 10_800.0)),
        10..=25 => Some(dice.magnitude(1.0, 120.0)),
        _ => None,
    };
    AnswerScript { say, after_s }
}

/// One kind of part is up to two and a half times as thick, and heavier with it.
fn thicken(truth: &mut Setup, dice: &mut Dice) {
    let part = dice.below(truth.load.parts.len());
    let by = dice.between(1.3, 2.5);
    let Some(part) = truth.load.parts.get_mut(part) else { return };
    part.mass_kg *= by;
    match &mut part.shape {
        Shape::Weighed { thickest_m, .. } => *thickest_m *= by,
        Shape::Plate { thickness_m, .. } => *thickness_m *= by,
        Shape::Tube { wall_m, .. } => *wall_m *= by,
        Shape::Bar { .. } | Shape::Lump { .. } => {}
    }
}
