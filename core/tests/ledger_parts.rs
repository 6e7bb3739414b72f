//! A second that is worked on part by part comes to what one comes to that is worked on at once.
//!
//! Goal: a board, which does a part a tick, and a recount, which does all of them when the next row
//! comes, agree to the bit, whatever happens meanwhile. Two ledgers take the same seconds and events;
//! one does nothing in between, the other as many parts as chance has it.

mod dice;
mod hand;

use dice::Dice;
use hand::{LIMITS, model, soak};
use truesoak_core::bake::{Bake, LoadIn, Step};
use truesoak_core::bounds::model::{Model, Probe, Sensor};
use truesoak_core::bounds::{PARTS, Second};
use truesoak_core::event::Event;
use truesoak_core::io::{Answer, Question};
use truesoak_core::ledger::Ledger;
use truesoak_core::units::{Celsius, Reading, Span};

const SECONDS: u32 = 20_000;

/// With all that a second can have to follow.
fn fullest() -> Model {
    let mut model = model();
    model.sensor_b = Some(Sensor { lag_s: Span { low: 7.0, high: 11.0 }, ..model.sensor });
    model.probe = Some(Probe {
        class: 0,
        lag_s: Span { low: 1.0, high: 4.0 },
        offset_k: 1.0,
        resolution_k: 0.03,
        noise_k: 0.05,
    });
    model.rack = model.classes.first().map(|class| class.slow);
    let mut second = model.classes[0];
    second.slow.cells = 4;
    second.slow.cell_share = [0.1, 0.2, 0.3, 0.4];
    second.slow.conduction_w_per_k = [2.0, 1.5, 1.0];
    second.gas_out = false;
    let _ = model.classes.push(second);
    model
}

fn reading(celsius: f32) -> Reading {
    Reading::from_celsius(Celsius(celsius)).expect("a reading")
}

/// What happens now and then, whether or not it could on a board.
fn happens(dice: &mut Dice) -> Event {
    let answer = if dice.below(2) == 0 { Answer::Go } else { Answer::Fail };
    match dice.below(8) {
        0 => Event::StepBegan(dice.below(3) as u8),
        1 => Event::LoadOpened,
        2 => Event::LoadClosed,
        3 => Event::PartsOut,
        4 => Event::Asked(Question::AnythingNew),
        5 => Event::Answered(Question::AnythingNew, answer),
        6 => Event::SupplyReturned {
            coldest: reading(15.0),
            hottest: reading(130.0),
            parts: reading(120.0),
            element: reading(300.0),
            credit_s: dice.below(100) as u32,
        },
        _ => Event::Answered(Question::PowerReturned, answer),
    }
}

/// All that can be seen of a ledger.
fn shown(ledger: &Ledger, model: &Model) -> String {
    let classes = 0..model.classes.len();
    let class = |class| ledger.bounds().class(class);
    let ranges: Vec<_> = classes.clone().map(class).collect();
    let credits: Vec<_> = classes
        .map(|class| (ledger.class_credit_s(class), ledger.ended_class_credit_s(class)))
        .collect();
    format!(
        "{} {credits:?} {:?} {:?} {ranges:?} {:?} loaded {} doubted {} stayed {}",
        ledger.credit_s(),
        ledger.coldest(),
        ledger.hottest(),
        ledger.shown(),
        ledger.is_loaded(),
        ledger.is_doubted(),
        ledger.stay().longest_s(),
    )
}

#[test]
fn how_far_the_work_has_come_changes_nothing_that_is_shown() {
    let model = fullest();
    let Step::Soak(mut limited) = soak() else { unreachable!("the bench's step is a soak") };
    (limited.at_least, limited.at_most) = (Celsius(5.0), Celsius(200.0));
    limited.no_longer_than_s = Some(3_000);
    let load_in = Step::LoadIn(LoadIn { at: Some(Celsius(120.0)) });
    let steps = [load_in, Step::Soak(limited), soak()];
    let bake = Bake { steps: steps.iter().copied().collect(), limits: LIMITS };
    let mut dice = Dice(1);
    let start = Ledger::start(&model, &bake, reading(20.0));
    let (mut at_once, mut in_parts) = (start.clone(), start);
    let (mut counted, mut air_c) = (0, 20.0);
    for second in 0..SECONDS {
        for _ in 0..dice.below(u64::from(PARTS) + 3) {
            in_parts.work(&model);
        }
        while dice.below(60) == 0 {
            let event = happens(&mut dice);
            at_once.note(&model, &bake, event);
            in_parts.note(&model, &bake, event);
            assert_eq!(shown(&at_once, &model), shown(&in_parts, &model), "{second}: {event:?}");
            in_parts.work(&model);
        }
        air_c += (if second / 600 % 3 == 0 { 20.0 } else { 150.0 } - air_c) / 100.0;
        // Now and then nothing is read.
        let read = |off_k: f32| (second % 37 != 0).then(|| reading(air_c + off_k));
        let taken = Second {
            reading: read(0.0),
            reading_b: read(0.5),
            part_probe: read(-10.0),
            on_ticks: (second % 11) as u8,
            door_open: second % 100 < 3,
            ..Second::NOTHING
        };
        at_once.second(&model, &taken);
        in_parts.second(&model, &taken);
        assert_eq!(shown(&at_once, &model), shown(&in_parts, &model), "{second}");
        for class in 0..model.classes.len() {
            assert_eq!(at_once.proven(&model, class), in_parts.proven(&model, class), "{second}");
        }
        counted += u32::from(at_once.credit_s() > 0);
    }
    assert!(counted > 100, "something counted: {counted}");
}
