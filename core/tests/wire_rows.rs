//! Rows and checkpoints are what they were after they have been bytes.
//!
//! Goal: a replay has exactly the integers the board had, and bytes that were none give nothing.
//! Method: ends of every field and drawn values there and back; drawn and changed bytes back and
//! there.

mod dice;

use dice::Dice;
use truesoak_core::bake::STEPS_MAX;
use truesoak_core::bounds::{Hottest, Second, Trust};
use truesoak_core::event::{Ending, Event};
use truesoak_core::guard::{Trip, TripKind};
use truesoak_core::io::{Answer, Door, Health, Heat, Inputs, Outputs, Question, Sample, Transfer};
use truesoak_core::record::{Checkpoint, Phase, Record};
use truesoak_core::units::{Celsius, Reading, Tick};
use truesoak_core::wire::checkpoint::{self, CHECKPOINT_BYTES};
use truesoak_core::wire::row::{
    READING_LEAST, READING_MOST, ROW_BYTES, Row, SecondRow, Sixteenths,
};
use truesoak_core::wire::tick_row::{Seen, TickRow};

const QUESTIONS: [Question; 7] = [
    Question::LoadIn,
    Question::Check,
    Question::Wait,
    Question::AnythingNew,
    Question::DoorLeftOpen,
    Question::PowerReturned,
    Question::Tripped,
];

fn reading(dice: &mut Dice) -> Reading {
    let width = (READING_MOST.0 - READING_LEAST.0 + 1) as u64;
    match dice.below(16) {
        0 => READING_LEAST,
        1 => READING_MOST,
        _ => Reading(READING_LEAST.0 + dice.below(width) as i32),
    }
}

fn record(dice: &mut Dice) -> Record {
    Record {
        second: dice.u32() >> 8,
        reading: dice.maybe(reading),
        reading_b: dice.maybe(reading),
        part_probe: dice.maybe(reading),
        setpoint: dice.maybe(|dice| Celsius(dice.below(10_240) as f32 / 16.0 - 50.0)),
        on_ticks: dice.below(11) as u8,
        permit: dice.flag(),
        door_open: dice.flag(),
        step: dice.below(STEPS_MAX as u64 + 1) as u8,
        phase: dice.one_of(&Phase::ALL),
        coldest: None,
        hottest: None,
        credit_s: 0,
        projected: dice.flag(),
        airflow: dice.maybe(Dice::flag),
        widened: dice.flag(),
    }
}

fn there_and_back(row: Row) -> [u8; ROW_BYTES] {
    let bytes = row.encode().unwrap_or_else(|| panic!("{row:?} has no place"));
    assert_eq!(Row::decode(&bytes), Some(row));
    bytes
}

#[test]
fn a_second_comes_back_as_the_very_integers_the_bounds_ran_on() {
    let mut dice = Dice(11);
    for _ in 0..200_000 {
        let record = record(&mut dice);
        let row = SecondRow::from(&record);
        there_and_back(Row::Second(row));
        let ran_on = Second {
            reading: record.reading,
            reading_b: record.reading_b,
            part_probe: record.part_probe,
            on_ticks: record.on_ticks,
            door_open: record.door_open,
            airflow: record.airflow,
            widened: record.widened,
        };
        assert_eq!(row.second(), ran_on);
        assert_eq!(row.setpoint.map(Sixteenths::to_celsius), record.setpoint);
    }
}

#[test]
fn every_reading_and_every_setpoint_of_the_range_has_its_own_place() {
    let mut dice = Dice(12);
    let any = SecondRow::from(&record(&mut dice));
    for steps in READING_LEAST.0..=READING_MOST.0 {
        let row = SecondRow { reading: Some(Reading(steps)), ..any };
        there_and_back(Row::Second(row));
    }
    for sixteenths in -50 * 16..=973 * 16 + 14 {
        let value = Celsius(sixteenths as f32 / 16.0);
        let row = SecondRow { setpoint: Some(Sixteenths::nearest(value)), ..any };
        there_and_back(Row::Second(row));
        assert_eq!(row.setpoint.unwrap().to_celsius(), value);
    }
}

#[test]
fn what_has_no_place_is_refused_and_a_setpoint_is_shown_by_the_nearest() {
    let any = SecondRow::from(&record(&mut Dice(13)));
    let refused = |row| assert_eq!(Row::Second(row).encode(), None, "{row:?}");
    refused(SecondRow { second: 1 << 24, ..any });
    refused(SecondRow { reading: Some(Reading(READING_LEAST.0 - 1)), ..any });
    refused(SecondRow { reading_b: Some(Reading(READING_MOST.0 + 1)), ..any });
    refused(SecondRow { part_probe: Some(Reading(i32::MIN)), ..any });
    refused(SecondRow { on_ticks: 11, ..any });
    refused(SecondRow { step: 32, ..any });
    for (value, shown) in [(-1e9, -50.0), (1e9, 973.875), (f32::NAN, 0.0), (150.04, 150.0625)] {
        assert_eq!(Sixteenths::nearest(Celsius(value)).to_celsius(), Celsius(shown));
    }
}

fn events(dice: &mut Dice) -> Vec<Event> {
    let mut events = vec![
        Event::Started,
        Event::DoorOpened,
        Event::DoorClosed,
        Event::Recovered,
        Event::LoadOpened,
        Event::LoadClosed,
        Event::PartsOut,
        Event::OutsideModel,
        Event::ProbeBelieved,
        Event::ProbeIgnored,
        Event::StoreFailing,
        Event::Acknowledged,
        Event::Ended(Ending::Finished),
        Event::Ended(Ending::Stopped),
        Event::Ended(Ending::TooLong),
        Event::Ended(Ending::CheckFailed),
    ];
    for step in 0..=u8::MAX {
        events.extend([Event::StepBegan(step), Event::GaveUp(step), Event::NoLonger(step)]);
    }
    for question in QUESTIONS {
        events.push(Event::Asked(question));
        events.extend([Answer::Go, Answer::Fail].map(|said| Event::Answered(question, said)));
    }
    for kind in TripKind::ALL {
        events.extend([Event::Tripped(kind), Event::Ended(Ending::Tripped(kind))]);
    }
    for _ in 0..1000 {
        events.push(Event::SupplyReturned {
            coldest: reading(dice),
            hottest: reading(dice),
            parts: reading(dice),
            element: reading(dice),
            credit_s: dice.u32(),
        });
    }
    events
}

#[test]
fn every_event_comes_back_with_its_tick_but_the_supply_without() {
    let mut dice = Dice(14);
    for event in events(&mut dice) {
        let tick = dice.u32();
        let row = Row::of_event(tick, event);
        there_and_back(row);
        let has_time = !matches!(event, Event::SupplyReturned { .. });
        assert_eq!(row, Row::Event { tick: has_time.then_some(tick), event });
    }
    let timeless = Row::Event { tick: None, event: Event::Started };
    assert_eq!(timeless.encode(), None);
}

fn sample(dice: &mut Dice) -> Sample {
    const TRANSFERS: [Transfer; 5] =
        [Transfer::Good, Transfer::Open, Transfer::Short, Transfer::Silent, Transfer::Impossible];
    Sample {
        value: Celsius(f32::from_bits(dice.u32())),
        age_ticks: dice.u32() as u16,
        frame: dice.roll(),
        transfer: dice.one_of(&TRANSFERS),
    }
}

fn inputs(dice: &mut Dice) -> Inputs {
    Inputs {
        air: sample(dice),
        air_b: dice.maybe(sample),
        part_probe: dice.maybe(sample),
        cold_junction: dice.maybe(|dice| Celsius(f32::from_bits(dice.u32()))),
        door: dice.maybe(|dice| dice.one_of(&[Door::Open, Door::Closed])),
        go: dice.flag(),
        stop: dice.flag(),
        permit_feedback: dice.maybe(Dice::flag),
        mains_at_heater: dice.maybe(Dice::flag),
        airflow: dice.maybe(Dice::flag),
        independent_ticks: None,
        health: Health::default(),
    }
}

#[test]
fn a_tick_of_the_black_box_has_a_row_whatever_came_in() {
    const HEATS: [Heat; 3] =
        [Heat::Cut, Heat::Allowed { drive: false }, Heat::Allowed { drive: true }];
    let mut dice = Dice(15);
    for _ in 0..100_000 {
        let asks = dice.maybe(|dice| dice.one_of(&QUESTIONS));
        let outputs = Outputs { heat: dice.one_of(&HEATS), fan: false, asks };
        let row = TickRow::of(Tick(dice.u32()), &inputs(&mut dice), &outputs, dice.flag());
        there_and_back(Row::Tick(row));
    }
}

#[test]
fn a_tick_shows_what_came_in() {
    let mut inputs = inputs(&mut Dice(16));
    inputs.air =
        Sample { value: Celsius(148.992_19), age_ticks: 40, frame: 0, transfer: Transfer::Open };
    inputs.cold_junction = Some(Celsius(31.3));
    let row = TickRow::of(Tick(0x1_4002), &inputs, &Outputs::default(), true);
    assert_eq!(row.tick, 2);
    assert_eq!(row.air, Seen { reading: Some(Reading(19_071)), transfer: Transfer::Open });
    assert_eq!((row.air_age, row.cold_junction_quarters), (15, Some(125)));
}

#[test]
fn bytes_are_one_row_or_none_and_a_row_is_always_the_same_bytes() {
    let mut dice = Dice(17);
    let mut rows = 0;
    for _ in 0..1_000_000 {
        let mut bytes = [0; ROW_BYTES];
        bytes.copy_from_slice(&dice.bytes(ROW_BYTES));
        // Half of them begin as an event, a returned supply or a tick does.
        if dice.flag() {
            bytes[0] = dice.one_of(&[1, 3, 5]);
        }
        if dice.flag() {
            let kept = dice.below(ROW_BYTES as u64) as usize;
            bytes[kept..].fill(0);
        }
        if let Some(row) = Row::decode(&bytes) {
            rows += 1;
            assert_eq!(row.encode(), Some(bytes), "{row:?}");
        }
    }
    assert!(rows > 100_000, "too few to say anything: {rows}");
    assert_eq!(Row::decode(&[0xff; ROW_BYTES]), None, "erased flash");
}

fn temperature(dice: &mut Dice) -> Celsius {
    Celsius(dice.below(1_000_000) as f32 / 512.0 - 273.0)
}

fn kept(dice: &mut Dice) -> Checkpoint {
    const TRUSTS: [Trust; 4] = [Trust::Proving, Trust::Believed, Trust::Lost, Trust::Behind];
    Checkpoint {
        second: dice.u32(),
        step: dice.below(STEPS_MAX as u64) as u8,
        credit_s: dice.u32(),
        in_step_s: dice.u32(),
        stayed_s: dice.u32(),
        loaded: dice.flag(),
        rounds: core::array::from_fn(|_| dice.u32() as u8),
        short: core::array::from_fn(|_| dice.flag()),
        heat_ticks: dice.u32(),
        coldest: temperature(dice),
        hottest: Hottest {
            oven: temperature(dice),
            parts: temperature(dice),
            element: temperature(dice),
        },
        outside_model: dice.flag(),
        probe: dice.one_of(&TRUSTS),
        trip: dice.maybe(|dice| Trip { kind: dice.one_of(&TripKind::ALL), at: Tick(dice.u32()) }),
    }
}

#[test]
fn a_checkpoint_comes_back_as_it_was() {
    let mut dice = Dice(18);
    for _ in 0..100_000 {
        let kept = kept(&mut dice);
        let bytes = checkpoint::encode(&kept).expect("it always has room");
        assert_eq!(checkpoint::decode(&bytes), Some(kept));
    }
    // The longest there is.
    let longest = Checkpoint {
        second: u32::MAX,
        credit_s: u32::MAX,
        in_step_s: u32::MAX,
        stayed_s: u32::MAX,
        rounds: [u8::MAX; STEPS_MAX],
        short: [true; STEPS_MAX],
        heat_ticks: u32::MAX,
        trip: Some(Trip { kind: TripKind::MemoryCorrupt, at: Tick(u32::MAX) }),
        ..kept(&mut dice)
    };
    assert_eq!(checkpoint::decode(&checkpoint::encode(&longest).unwrap()), Some(longest));
}

#[test]
fn a_checkpoint_with_a_bit_changed_or_a_part_torn_off_is_none() {
    let mut dice = Dice(19);
    for _ in 0..50 {
        let whole = checkpoint::encode(&kept(&mut dice)).unwrap();
        for bit in 0..8 * CHECKPOINT_BYTES {
            let mut bytes = whole;
            bytes[bit / 8] ^= 1 << (bit % 8);
            assert_eq!(checkpoint::decode(&bytes), None);
        }
        for torn in 0..CHECKPOINT_BYTES {
            let mut bytes = whole;
            bytes[torn..].fill(0xff);
            // The last bytes may have been ones already.
            assert!(bytes == whole || checkpoint::decode(&bytes).is_none());
        }
    }
    assert_eq!(checkpoint::decode(&[0xff; CHECKPOINT_BYTES]), None);
    assert_eq!(checkpoint::decode(&[0; CHECKPOINT_BYTES]), None);
}

#[test]
fn nothing_goes_on_from_a_step_or_temperature_that_is_none_but_a_trip_stays() {
    let sound = Checkpoint { trip: None, ..kept(&mut Dice(20)) };
    let through = |kept: &Checkpoint| checkpoint::decode(&checkpoint::encode(kept).unwrap());
    let no_step = Checkpoint { step: STEPS_MAX as u8, ..sound };
    let mut no_bound = sound;
    no_bound.hottest.parts = Celsius(f32::INFINITY);
    for wrong in [no_step, no_bound, Checkpoint { coldest: Celsius(f32::NAN), ..sound }] {
        assert_eq!(through(&wrong), None);
        let trip = Some(Trip { kind: TripKind::PartOverLimit, at: Tick(7) });
        let kept = through(&Checkpoint { trip, ..wrong }).expect("the trip");
        assert_eq!(kept.trip, trip);
    }
}
