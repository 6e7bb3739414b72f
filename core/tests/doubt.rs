//! Bounds in doubt hold whichever is true: that nothing new went in, or that something cold did.
//!
//! Each of the two is run apart, as bounds to which nothing is open: one goes on as it was, the other
//! was loaded cold. What is told in doubt must never be narrower than either, and the answer must
//! leave what holds in the world that was answered for.

mod hand;

use hand::model;
use truesoak_core::bounds::model::{Model, Sensor};
use truesoak_core::bounds::{Bounds, Present, Second};
use truesoak_core::io::Answer;
use truesoak_core::units::{Celsius, Reading, Span};

/// A warm oven that is opened, heated again and left alone for so long, s.
const SECONDS: u32 = 1_800;
/// Bounds that see a wall that may be colder are looser by no more than this, K (0.14 seen).
const LOOSER_K: f32 = 0.3;
/// A section that starts anew is even, and leaves less to what its cells do not show than one that
/// was on its way, K (0.53 seen).
const EVEN_K: f32 = 1.0;
/// Single precision puts the same sum, taken in another order, off by no more, K.
const ROUNDING_K: f32 = 1e-4;

fn second_of(second: u32) -> Second {
    let air_c = 60.0 + 90.0 * (1.0 - libm::expf(-(second as f32) / 300.0));
    let reading = |off_k: f32| Reading::from_celsius(Celsius(air_c + off_k));
    Second {
        reading: reading(0.0),
        reading_b: reading(1.0),
        on_ticks: if second < 400 { 10 } else { 3 },
        ..Second::NOTHING
    }
}

/// With a second sensor, a rack, and cells behind one of two kinds of parts.
fn loaded() -> (Model, Bounds) {
    let mut model = model();
    model.sensor_b = Some(Sensor { lag_s: Span { low: 7.0, high: 11.0 }, ..model.sensor });
    model.rack = model.classes.first().map(|class| class.slow);
    let mut second = model.classes[0];
    second.slow.cells = 4;
    second.slow.cell_share = [0.1, 0.2, 0.3, 0.4];
    second.slow.conduction_w_per_k = [60.0, 40.0, 40.0];
    // So heavy, and so much seen by the liner, that cold parts cool it.
    for point in [&mut second.slow, &mut second.fast] {
        (point.area_m2, point.capacity_j_per_k, point.emissivity) = (1.5, 12_000.0, 0.9);
    }
    let _ = model.classes.push(second);
    // So shiny that the colder of two walls makes it hotter, by the air.
    for first in model.classes.iter_mut().take(1) {
        (first.slow.emissivity, first.fast.emissivity) = (0.03, 0.03);
    }
    let inside = Present::everything(&model);
    let reading = Reading::from_celsius(Celsius(60.0)).expect("a reading");
    let mut bounds = Bounds::start(&model, reading, inside, Celsius(20.0));
    (0..SECONDS).for_each(|second| bounds.second(&model, &second_of(second)));
    (model, bounds)
}

#[test]
fn what_is_told_in_doubt_is_narrower_than_neither_of_what_may_be_true() {
    let (model, mut warm) = loaded();
    let mut doubted = warm.clone();
    let mut cold = warm.clone();
    cold.load_closed(&model);
    doubted.begin_doubt(&model);
    let mut apart_k = 0.0_f32;
    for second in 0..SECONDS {
        for bounds in [&mut warm, &mut cold, &mut doubted] {
            bounds.second(&model, &second_of(second));
        }
        for class in 0..model.classes.len() {
            let told = doubted.proven(&model, class).expect("inside");
            let plain = doubted.class(class).expect("inside");
            let (if_warm, if_cold) =
                (warm.class(class).expect("inside"), cold.class(class).expect("inside"));
            let coldest_c = if_cold.0.0 + ROUNDING_K;
            assert!(told.0.0 <= coldest_c, "{second}: {told:?} for {if_cold:?}");
            assert!(told.0 <= plain.0, "{second}: {told:?} {plain:?}");
            assert!(plain.0.0 <= if_warm.0.0 + ROUNDING_K, "{second}: {plain:?} {if_warm:?}");
            assert!(told.1 >= if_cold.1 && told.1 >= if_warm.1, "{second}");
            apart_k = apart_k.max((told.1 - if_cold.1).0).max((if_cold.0 - told.0).0);
            apart_k = apart_k.max((if_warm.0 - plain.0).0);
        }
    }
    assert!(doubted.upper_air() >= cold.upper_air() && doubted.upper_air() >= warm.upper_air());
    assert!(apart_k < LOOSER_K, "{apart_k} K");
}

#[test]
fn the_answer_leaves_the_bounds_it_was_given_for() {
    for (answer, is_cold) in [(Answer::Go, false), (Answer::Fail, true)] {
        let (model, mut apart) = loaded();
        let mut doubted = apart.clone();
        if is_cold {
            apart.load_closed(&model);
        }
        doubted.begin_doubt(&model);
        for second in 0..2 * SECONDS {
            if second == 120 {
                doubted.end_doubt(&model, answer);
                assert!(!doubted.is_doubted());
            }
            apart.second(&model, &second_of(second));
            doubted.second(&model, &second_of(second));
            if second < 120 {
                continue;
            }
            for class in 0..model.classes.len() {
                let (told, due) = (doubted.class(class).unwrap(), apart.class(class).unwrap());
                let is_around =
                    told.0.0 <= due.0.0 + ROUNDING_K && told.1.0 >= due.1.0 - ROUNDING_K;
                assert!(is_around, "{answer:?} {second}: {told:?} {due:?}");
                let off_k = (due.0 - told.0).0.max((told.1 - due.1).0);
                assert!(off_k < LOOSER_K, "{answer:?} {second}: {off_k} K");
            }
        }
    }
}

#[test]
fn what_may_have_gone_in_at_either_of_two_openings_stays_possible() {
    let (model, mut once) = loaded();
    once.begin_doubt(&model);
    (0..60).for_each(|second| once.second(&model, &second_of(second)));
    let mut twice = once.clone();
    twice.begin_doubt(&model);
    for second in 60..600 {
        once.second(&model, &second_of(second));
        twice.second(&model, &second_of(second));
        for class in 0..model.classes.len() {
            let told = |bounds: &Bounds| bounds.proven(&model, class).expect("inside");
            let warmer_k = (told(&twice).0 - told(&once).0).0;
            let even_k = if model.classes[class].slow.cells > 1 { EVEN_K } else { 0.0 };
            assert!(warmer_k <= even_k, "{second}: {warmer_k} K");
        }
    }
}
