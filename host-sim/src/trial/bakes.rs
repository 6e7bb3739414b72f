//! Bakes nobody wrote: a shipped one with its oven, its load and its doors changed at random, each
//! inside what a home-built oven and a rack of bicycle parts may be.

use super::bases::{BASES, base};
use super::dice::Dice;
use crate::files::Setup;
use crate::files::bake::{DoorScript, Moment};
use crate::plant::Draw;
use truesoak_core::bake::Step;

/// A soak is given up after so long, s: some of these ovens are too slow for a day.
const GIVE_UP_S: u32 = 4 * 3600;
/// Keeps the streams of bakes and plants apart, and from the draws any figure was found on.
const BAKE_STREAM: u64 = 0x6261_6B65_0000;
const PLANT_STREAM: u64 = 0x7275_6573_6F61_6B00;

/// The `number`-th of them, without a fault.
#[must_use]
pub fn random_bake(number: u64) -> Setup {
    let mut dice = Dice::of(BAKE_STREAM.wrapping_add(number));
    let mut setup = base((dice.share() * BASES.len() as f64) as usize);
    setup.bake.faults.clear();
    change_oven(&mut setup, &mut dice);
    change_load(&mut setup, &mut dice);
    change_bake(&mut setup, &mut dice);
    setup
}

/// The `number`-th plant of a setup: the even ones at corners of the spread, the odd ones inside.
/// Not the draws any figure of the bounds was found on.
#[must_use]
pub fn plant(setup: &Setup, number: u64) -> Draw {
    let mut dice = Dice::of(PLANT_STREAM.wrapping_add(number));
    let corner = number.is_multiple_of(2);
    let mut share = || {
        let share = dice.share();
        if corner { share.round() } else { share }
    };
    Draw::at(&setup.oven, |_| share()).with_others(&setup.oven, share)
}

fn change_oven(setup: &mut Setup, dice: &mut Dice) {
    let oven = &mut setup.oven;
    oven.ambient_c = dice.between(5.0, 32.0);
    oven.heater.power_w *= dice.factor(1.5);
    oven.heater.capacity_j_per_k *= dice.factor(1.7);
    oven.heater.radiant_share = dice.between(0.1, 0.6);
    oven.liner.capacity_j_per_k *= dice.factor(2.0);
    oven.liner.emissivity = dice.between(0.1, 0.9);
    oven.insulation.thickness_m *= dice.factor(1.6);
    oven.sensor.lag_s *= dice.factor(2.0);
    oven.sensor.wall_view = dice.between(0.0, 0.25);
    oven.sensor.noise_k = dice.between(0.02, 0.25);
    setup.bake.oven_starts_at_c = oven.ambient_c + (60.0 * dice.share() - 30.0).max(0.0);
}

fn change_load(setup: &mut Setup, dice: &mut Dice) {
    for part in &mut setup.load.parts {
        part.count = ((f64::from(part.count) * dice.factor(3.0)).round() as u32).max(1);
        part.mass_kg *= dice.factor(1.6);
        let emissivity = dice.between(0.06, 0.95);
        (part.emissivity, part.emissivity_cure) = (emissivity, emissivity.max(0.8));
        part.starts_at_c = setup.oven.ambient_c + dice.between(-3.0, 8.0);
    }
    if dice.share() < 0.3 {
        setup.load.rack = None;
    }
}

fn change_bake(setup: &mut Setup, dice: &mut Dice) {
    for step in &mut setup.bake.bake.steps {
        if let Step::Soak(soak) = step {
            soak.for_s = (f64::from(soak.for_s) * dice.factor(2.0)) as u32;
            soak.give_up_after_s.get_or_insert(GIVE_UP_S);
        }
    }
    let is_soak = |step: &Step| matches!(step, Step::Soak(_));
    let Some(soak) = setup.bake.bake.steps.iter().position(is_soak) else { return };
    for _ in 0..(3.0 * dice.share()) as usize {
        let at = Moment::SinceStep(soak, dice.between(60.0, 5000.0));
        let (open_for_s, opening) = (dice.factor(5.5) * 55.0, dice.between(0.05, 1.0));
        setup.bake.doors.push(DoorScript { at, open_for_s, loads: false, opening });
    }
}
