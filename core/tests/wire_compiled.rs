//! A compiled bake is taken as it was sent, or refused for a reason.
//!
//! Goal: nothing a computer, a cable or a store makes of it is run that no real oven could have. A
//! controller made from whatever is taken neither panics nor hangs. Method: one value after the
//! other is made wrong; bytes are changed, cut off and drawn.

mod dice;
mod hand;

use dice::Dice;
use hand::{LIMITS, model, soak};
use truesoak_core::Controller;
use truesoak_core::bake::faults::Field;
use truesoak_core::bake::{
    Bake, Check, Cool, CoolOn, LoadIn, OnFail, Ramp, STEPS_MAX, Soak, Step, Wait,
};
use truesoak_core::bounds::model::{CLASSES_MAX, Probe};
use truesoak_core::regulate::Tuning;
use truesoak_core::tick::Settings;
use truesoak_core::units::{Celsius, Kelvins, Span};
use truesoak_core::wire::CHECK;
use truesoak_core::wire::compiled::ranges::Place;
use truesoak_core::wire::compiled::{COMPILED_BYTES_MAX, Compiled, Fault};

fn settings() -> Settings {
    Settings {
        tuning: Tuning { gain_per_k: 0.05, integral_time_s: 100.0, derivative_time_s: 0.0 },
        minimum_on_s: 1.0,
        minimum_off_s: 1.0,
        sensor_budget: Kelvins(10.0),
        fan: true,
        is_virtual: false,
    }
}

/// Some of everything.
fn compiled() -> Compiled {
    let mut model = model();
    model.sensor_b = Some(model.sensor);
    let lag_s = Span { low: 2.0, high: 4.0 };
    model.probe = Some(Probe { class: 0, lag_s, offset_k: 1.0, resolution_k: 0.25, noise_k: 0.1 });
    model.rack = Some(model.classes[0].slow);
    let steps = [
        Step::Ramp(Ramp { to: Celsius(150.0), rate_k_per_min: Some(Kelvins(6.0)) }),
        Step::LoadIn(LoadIn { at: Some(Celsius(150.0)) }),
        soak(),
        Step::Cool(Cool { to: Celsius(45.0), on: CoolOn::Parts }),
        Step::Check(Check { on_fail: OnFail::RepeatFrom(0), tries: 2, parts_stay: false }),
        Step::Wait(Wait { for_s: 600, parts_stay: false }),
        Step::LoadIn(LoadIn { at: None }),
        soak(),
    ];
    let bake = Bake { steps: steps.into_iter().collect(), limits: LIMITS };
    Compiled { bake, model, settings: settings() }
}

/// The longest there is.
fn longest() -> Compiled {
    let mut longest = compiled();
    let class = longest.model.classes[0];
    longest.model.classes = [class; CLASSES_MAX].into_iter().collect();
    let Step::Soak(soak) = soak() else { panic!("a soak") };
    let at_length = Soak {
        for_s: 100_000,
        give_up_after_s: Some(2_700_000),
        no_longer_than_s: Some(2_700_000),
        ..soak
    };
    longest.bake.steps = [Step::Soak(at_length); STEPS_MAX].into_iter().collect();
    longest.bake.limits.bake_max_s = 2_700_000;
    longest.bake.limits.door_open_max_s = 2_700_000;
    longest
}

fn encoded(compiled: &Compiled) -> Vec<u8> {
    let mut bytes = [0; COMPILED_BYTES_MAX];
    let len = compiled.encode(&mut bytes).expect("it has room");
    bytes[..len].to_vec()
}

/// The check made to hold again.
fn resealed(content: &[u8]) -> Vec<u8> {
    let mut sealed = content.to_vec();
    sealed.extend(CHECK.checksum(content).to_le_bytes());
    sealed
}

fn refused(change: impl FnOnce(&mut Compiled)) -> Option<Fault> {
    let mut changed = compiled();
    change(&mut changed);
    Compiled::decode(&encoded(&changed)).err()
}

#[test]
fn a_compiled_bake_comes_back_as_it_was_sent() {
    for sent in [compiled(), longest()] {
        assert_eq!(Compiled::decode(&encoded(&sent)), Ok(sent));
    }
}

#[test]
fn the_longest_there_is_has_room_and_is_as_long_as_stated() {
    let bytes = encoded(&longest()).len();
    println!("a compiled bake takes at most {bytes} bytes");
    assert!(bytes <= COMPILED_BYTES_MAX);
    // What `COMPILED_BYTES_MAX` says was counted.
    assert_eq!(bytes, 1834);
    assert_eq!(longest().encode(&mut [0; 1833]), None);
}

#[test]
fn a_computer_cannot_make_a_board_a_virtual_one() {
    let mut sent = compiled();
    sent.settings.is_virtual = true;
    let taken = Compiled::decode(&encoded(&sent)).expect("it is taken");
    assert!(!taken.settings.is_virtual);
}

#[test]
fn no_number_that_is_none_or_beyond_every_oven_is_taken_wherever_it_stands() {
    let whole = encoded(&compiled());
    let content = &whole[..whole.len() - 2];
    let mut refused_for_a_value = 0;
    for wrong in [f32::NAN, f32::INFINITY, f32::NEG_INFINITY, 3e30, -3e30] {
        // Every number of the tables is four of these bytes.
        for at in 0..content.len() - 3 {
            let mut changed = content.to_vec();
            changed[at..at + 4].copy_from_slice(&wrong.to_le_bytes());
            match Compiled::decode(&resealed(&changed)) {
                Ok(taken) => {
                    let shown = format!("{taken:?}");
                    let none = ["NaN", "inf", "3e30"];
                    assert!(!none.iter().any(|word| shown.contains(word)), "{at}: {shown}");
                    assert_eq!(taken.fault(), None);
                }
                Err(Fault::Value(_)) => refused_for_a_value += 1,
                Err(_) => {}
            }
        }
    }
    println!("{refused_for_a_value} refused for a value");
    assert!(refused_for_a_value > 1000, "{refused_for_a_value}");
}

/// Where a value is made wrong, and how.
type Wrong = (Place, fn(&mut Compiled));

#[test]
fn a_value_out_of_range_is_told_by_its_place() {
    let cases: [Wrong; 24] = [
        (Place::Ambient, |of| of.model.ambient = Celsius(-101.0)),
        (Place::Sensor, |of| of.model.sensor.lag_s = Span { low: 15.0, high: 9.0 }),
        (Place::Sensor, |of| of.model.sensor.wall_view.high = 1.01),
        (Place::SensorB, |of| of.model.sensor_b.as_mut().unwrap().noise_k = -0.1),
        (Place::Probe, |of| of.model.probe.as_mut().unwrap().class = 1),
        (Place::Probe, |of| of.model.probe.as_mut().unwrap().resolution_k = 11.0),
        (Place::Element, |of| of.model.element.power_w = 0.0),
        (Place::Element, |of| of.model.element.radiant_share.low = 0.6),
        (Place::Cabinet, |of| of.model.cabinet.insulation_w_per_k[3] = 0.0),
        (Place::Cabinet, |of| of.model.cabinet.liner_film.law.high = 101.0),
        (Place::Air, |of| of.model.air.stopped_fan = 1.5),
        (Place::Exchange, |of| of.model.exchange.low = -0.1),
        (Place::Rack, |of| of.model.rack.as_mut().unwrap().area_m2 = 0.0),
        (Place::Class(0), |of| of.model.classes[0].slow.cells = 0),
        (Place::Class(0), |of| of.model.classes[0].fast.cells = 5),
        (Place::Class(0), |of| of.model.classes[0].fast.cells = 2),
        (Place::Class(0), |of| of.model.classes[0].fast.cell_share = [0.5, 0.5, 0.0, 0.0]),
        (Place::Class(0), |of| of.model.classes[0].max = Celsius(1201.0)),
        (Place::Drive, |of| of.settings.minimum_on_s = 61.0),
        (Place::Drive, |of| of.settings.tuning.gain_per_k = -0.05),
        (Place::Limits, |of| of.bake.limits.air_max = Celsius(1201.0)),
        (Place::Limits, |of| of.bake.limits.bake_max_s = u32::MAX),
        (Place::Step(5), |of| of.bake.steps[5] = wait(u32::MAX)),
        (Place::Step(0), |of| of.bake.steps[0] = ramp(150.0, 0.0)),
    ];
    for (place, change) in cases {
        assert_eq!(refused(change), Some(Fault::Value(place)));
    }
    let two_cells = |of: &mut Compiled| {
        let point = &mut of.model.classes[0].slow;
        point.cells = 2;
        point.cell_share = [0.5, 0.5, 0.0, 0.0];
        point.conduction_w_per_k = [3.0, 0.0, 0.0];
    };
    assert_eq!(refused(two_cells), None);
}

fn wait(for_s: u32) -> Step {
    Step::Wait(Wait { for_s, parts_stay: false })
}

fn ramp(to: f32, rate: f32) -> Step {
    Step::Ramp(Ramp { to: Celsius(to), rate_k_per_min: Some(Kelvins(rate)) })
}

#[test]
fn a_bake_that_cannot_run_is_told_by_its_step() {
    let no_steps = refused(|of| of.bake.steps.clear());
    assert_eq!(no_steps, Some(Fault::Bake(None, Field::Steps)));
    let above = refused(|of| of.bake.steps[0] = ramp(221.0, 6.0));
    assert_eq!(above, Some(Fault::Bake(Some(0), Field::To)));
    let hands = refused(|of| of.bake.steps[6] = wait(1));
    assert_eq!(hands, Some(Fault::Bake(Some(7), Field::Step)));
}

#[test]
fn what_was_changed_cut_off_or_added_is_refused() {
    let whole = encoded(&compiled());
    for bit in 0..8 * whole.len() {
        let mut changed = whole.clone();
        changed[bit / 8] ^= 1 << (bit % 8);
        assert_eq!(Compiled::decode(&changed), Err(Fault::Damaged));
    }
    let content = &whole[..whole.len() - 2];
    for cut in 1..content.len() {
        assert_eq!(Compiled::decode(&resealed(&content[..cut])), Err(Fault::Malformed));
    }
    assert_eq!(Compiled::decode(&[]), Err(Fault::Damaged));
    assert_eq!(Compiled::decode(&resealed(&[])), Err(Fault::Layout));
    let mut other = content.to_vec();
    other[0] = 1;
    assert_eq!(Compiled::decode(&resealed(&other)), Err(Fault::Layout));
    other[0] = 2;
    other.push(0);
    assert_eq!(Compiled::decode(&resealed(&other)), Err(Fault::TrailingBytes));
    // More steps than fit: their count comes first.
    other[1] = STEPS_MAX as u8 + 1;
    assert_eq!(Compiled::decode(&resealed(&other)), Err(Fault::Malformed));
}

#[test]
fn whatever_is_taken_of_changed_bytes_makes_a_controller_that_runs() {
    let mut dice = Dice(31);
    let whole = encoded(&compiled());
    let content = &whole[..whole.len() - 2];
    let (mut taken, mut refused) = (0, 0);
    for _ in 0..100_000 {
        let mut changed = content.to_vec();
        for _ in 0..1 + dice.below(4) {
            let at = dice.below(changed.len() as u64) as usize;
            changed[at] = dice.u32() as u8;
        }
        match Compiled::decode(&resealed(&changed)) {
            Ok(compiled) => {
                taken += 1;
                if taken % 64 == 0 {
                    runs(compiled);
                }
            }
            Err(_) => refused += 1,
        }
    }
    assert!(taken > 1000 && refused > 1000, "{taken} taken, {refused} refused");
}

/// Starts it and lets it run for a while in an oven that stands still.
fn runs(compiled: Compiled) {
    let Compiled { bake, model, settings } = compiled;
    let mut bench = hand::Hand::new(&[soak()], false);
    bench.controller = Controller::new(bake, model, settings);
    bench.press_go().ticks(100);
    let _ = bench.controller.checkpoint();
}

#[test]
fn drawn_bytes_are_refused() {
    let mut dice = Dice(32);
    for _ in 0..100_000 {
        let len = dice.below(1500) as usize;
        let mut content = dice.bytes(len);
        if let Some(layout) = content.first_mut() {
            *layout = 2;
        }
        assert!(Compiled::decode(&resealed(&content)).is_err());
    }
}

#[test]
fn a_controller_takes_little_of_the_memory_there_is() {
    let bytes = size_of::<Controller>();
    println!("a controller takes {bytes} bytes, a compiled bake {}", size_of::<Compiled>());
    assert!(bytes <= 12 * 1024);
}
