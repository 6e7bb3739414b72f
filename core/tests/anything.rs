//! Anything at all comes in, for hours: inputs drawn at random over their whole range, no plant.
//!
//! Goal: no panic, no heat where there must be none, credit no faster than the clock and only with
//! both bounds in the window, whatever sensors, switches, buttons, gaps and lost supplies do.
//! Method: each world keeps one mood for a while (the nominal oven's own answer, a wander over the
//! whole range, noise, nonsense), so that bakes get far, and cuts in from all sides meanwhile.

mod hand;

use hand::{Hand, LIMITS, soak};
use truesoak_core::bake::{Check, Cool, CoolOn, LoadIn, OnFail, Ramp, Step, Wait};
use truesoak_core::bounds::Bounds;
use truesoak_core::event::Event;
use truesoak_core::io::{Answer, Door, Question, Transfer};
use truesoak_core::ledger::Ledger;
use truesoak_core::sequence::Mode;
use truesoak_core::tick::Command;
use truesoak_core::units::{Celsius, Tick};

/// Ticks of one world.
const TICKS: u32 = 20_000;
/// Most ticks in which one mood lasts.
const MOOD_TICKS: u64 = 3_000;

/// Marsaglia's xorshift with 64 bits.
struct Dice(u64);

impl Dice {
    fn roll(&mut self) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        self.0
    }

    /// True once in `times`.
    fn once_in(&mut self, times: u64) -> bool {
        self.roll().is_multiple_of(times)
    }

    /// 0..1.
    fn share(&mut self) -> f32 {
        (self.roll() >> 40) as f32 / (1_u32 << 24) as f32
    }
}

/// How the reading behaves for a while.
#[derive(Clone, Copy, Debug)]
enum Mood {
    /// As the nominal oven's would: bakes get on.
    Obeys,
    /// Wanders over everything a converter can say.
    Wanders,
    /// Stands still, frame and all.
    Stands,
    /// Not-a-number, infinities, any bits at all.
    Nonsense,
}

fn bake_of(dice: &mut Dice) -> Vec<Step> {
    let ramp = Step::Ramp(Ramp { to: Celsius(120.0), rate_k_per_min: None });
    let load_in = Step::LoadIn(LoadIn { at: dice.once_in(2).then_some(Celsius(60.0)) });
    let cool = Step::Cool(Cool { to: Celsius(60.0), on: CoolOn::Parts });
    let check = Step::Check(Check { on_fail: OnFail::RepeatFrom(0), tries: 2, parts_stay: true });
    let wait = Step::Wait(Wait { for_s: 30, parts_stay: false });
    // A window that lies around the room, so that credit flows.
    let Step::Soak(mut low) = soak() else { unreachable!("the bench's step is a soak") };
    (low.at_least, low.at_most, low.for_s) = (Celsius(-40.0), Celsius(90.0), 300);
    let all = [ramp, load_in, soak(), cool, check, wait, Step::Soak(low)];
    let from = (dice.roll() % 4) as usize;
    if dice.once_in(3) { vec![Step::Soak(low), soak()] } else { all[from..].to_vec() }
}

/// What is drawn for the next tick.
fn draw(hand: &mut Hand, dice: &mut Dice, mood: Mood) {
    let bounds = hand.controller.ledger().map(Ledger::bounds);
    let nominal = bounds.map_or(Celsius(20.0), Bounds::nominal_reading);
    let before = hand.inputs.air.value;
    hand.inputs.air.value = match mood {
        Mood::Obeys => Celsius(nominal.0 + 0.2 * (dice.share() - 0.5)),
        Mood::Wanders if !before.0.is_finite() => Celsius(20.0),
        Mood::Wanders => Celsius((before.0 + 6.0 * (dice.share() - 0.495)).clamp(-280.0, 1400.0)),
        Mood::Stands => before,
        Mood::Nonsense => match dice.roll() % 8 {
            0 => Celsius(f32::NAN),
            1 => Celsius(f32::INFINITY),
            2 => Celsius(f32::NEG_INFINITY),
            3 => Celsius(f32::MAX),
            4 => Celsius(-300.0),
            5 => Celsius(f32::from_bits(dice.roll() as u32)),
            _ => nominal,
        },
    };
    if matches!(mood, Mood::Stands) {
        hand.inputs.air.frame = hand.inputs.air.frame.wrapping_sub(1);
    }
    hand.inputs.air.transfer = match dice.roll() % 400 {
        0 => Transfer::Open,
        1 => Transfer::Short,
        2 => Transfer::Impossible,
        _ => Transfer::Good,
    };
    hand.inputs.air.age_ticks = if dice.once_in(50) { (dice.roll() % 70) as u16 } else { 0 };
    let second = hand.inputs.air;
    hand.inputs.air_b = dice.once_in(2).then_some(second);
    hand.inputs.part_probe = dice.once_in(2).then_some(second);
    let chatter = dice.once_in(4);
    if dice.once_in(600) || (chatter && dice.once_in(100)) {
        hand.inputs.door = match hand.inputs.door {
            Some(Door::Closed) => Some(Door::Open),
            Some(Door::Open) if dice.once_in(20) => None,
            _ => Some(Door::Closed),
        };
    }
    hand.inputs.stop = dice.once_in(if hand.inputs.stop { 2 } else { 4_000 });
    // Held often enough that GO is heard, let go often enough that it is a press again.
    hand.inputs.go = !dice.once_in(if hand.inputs.go { 60 } else { 2 });
    hand.inputs.cold_junction = match dice.roll() % 2_000 {
        0 => Some(Celsius(f32::NAN)),
        1 => None,
        _ => Some(Celsius(25.0)),
    };
    let drives = hand.last.heat.drives();
    hand.inputs.permit_feedback = (!dice.once_in(1_000)).then_some(hand.last.heat.is_allowed());
    hand.inputs.mains_at_heater = (!dice.once_in(1_000)).then_some(drives);
    hand.inputs.airflow = (!dice.once_in(1_000)).then_some(!dice.once_in(100));
    hand.inputs.health.store = !dice.once_in(3_000);
    if dice.once_in(5_000) {
        hand.now = hand.now.wrapping_add((dice.roll() % 15) as u32);
    }
}

/// What must hold after every tick. `before` is the credit of a second ago.
fn hold(hand: &Hand, at: &str, before_s: u32) {
    let (controller, heat) = (&hand.controller, hand.last.heat);
    if heat.is_allowed() {
        assert_eq!(controller.trip(), None, "{at}: heat with a trip latched");
        assert_eq!(controller.mode(), Mode::Running, "{at}: heat at rest");
        assert_ne!(hand.inputs.door, Some(Door::Open), "{at}: heat with the door open");
        assert!(!hand.inputs.stop, "{at}: heat with STOP pressed");
        let cutting = [Question::PowerReturned, Question::DoorLeftOpen, Question::Check];
        assert!(!hand.last.asks.is_some_and(|asks| cutting.contains(&asks)), "{at}: heat unasked");
    }
    assert!(controller.events().len() < 12, "{at}: room for one more event");
    let Some(ledger) = controller.ledger() else { return };
    if let (Some(coldest), Some(hottest)) = (ledger.coldest(), ledger.hottest()) {
        assert!(coldest <= hottest, "{at}: {coldest:?} above {hottest:?}");
    }
    let credit_s = ledger.credit_s();
    assert!(credit_s <= before_s + 1, "{at}: {before_s} s and then {credit_s} s");
    if credit_s > before_s {
        let step = controller.record().map_or(0, |record| usize::from(record.step));
        let Some(Step::Soak(soak)) = controller.bake().steps.get(step - 1) else {
            panic!("{at}: credit outside a soak");
        };
        let (coldest, hottest) = (ledger.coldest().unwrap(), ledger.hottest().unwrap());
        assert!(coldest >= soak.at_least && hottest <= soak.at_most, "{at}: credit out of window");
    }
}

/// Counts of what a run got to see, so that it is known to have gone anywhere.
#[derive(Debug, Default)]
struct Seen {
    driven: u32,
    counted: u32,
    trips: u32,
    returns: u32,
    steps: u32,
}

fn live(round: u64, seen: &mut Seen) {
    let mut dice = Dice(0x9E37_79B9_7F4A_7C15 ^ (round + 1).wrapping_mul(0xD134_2543_DE82_EF95));
    let steps = bake_of(&mut dice);
    let fresh = |steps: &[Step]| Hand::with(steps, LIMITS, round.is_multiple_of(2));
    let mut hand = fresh(&steps);
    let (mut mood, mut mood_ends) = (Mood::Obeys, 2_000);
    // Until a bake goes on, the credit it is due is what was kept.
    let (mut answered, mut kept_s) = (true, 0);
    for tick in 0..TICKS {
        if tick == mood_ends {
            let moods = [
                Mood::Obeys,
                Mood::Obeys,
                Mood::Obeys,
                Mood::Wanders,
                Mood::Stands,
                Mood::Nonsense,
            ];
            mood = moods[(dice.roll() % moods.len() as u64) as usize];
            mood_ends = tick + 1 + (dice.roll() % MOOD_TICKS) as u32;
        }
        draw(&mut hand, &mut dice, mood);
        if dice.once_in(4_000) {
            // The supply is gone for a while; what was kept is all that is left.
            if let Some(kept) = hand.controller.checkpoint() {
                let (now, inputs) = (hand.now, hand.inputs);
                hand = fresh(&steps);
                (hand.now, hand.inputs) = (now.wrapping_add(dice.roll() as u32 % 9_000), inputs);
                hand.controller.resume(kept);
                (answered, kept_s) = (kept.trip.is_some(), kept.credit_s);
                seen.returns += 1;
            }
        }
        let command = [
            Command::Start,
            Command::Answer(Answer::Go),
            Command::Answer(Answer::Fail),
            Command::Acknowledge,
        ][(dice.roll() % 4) as usize];
        if dice.once_in(30) {
            let _ = hand.controller.command(Tick(hand.now), command);
        }
        let before_s = hand.controller.ledger().map_or(kept_s, Ledger::credit_s);
        hand.heard.clear();
        hand.ticks(1);
        let at = format!("world {round}, tick {tick}, {mood:?}");
        answered |= hand.heard.iter().any(|event| {
            matches!(event, Event::Answered(Question::PowerReturned, _) | Event::Started)
        });
        assert!(answered || !hand.last.heat.is_allowed(), "{at}: heat before anybody answered");
        hold(&hand, &at, before_s);
        seen.driven += u32::from(hand.last.heat.drives());
        let credit_s = hand.controller.ledger().map_or(0, Ledger::credit_s);
        seen.counted += credit_s.saturating_sub(before_s);
        for event in &hand.heard {
            seen.trips += u32::from(matches!(event, Event::Tripped(_)));
            seen.steps += u32::from(matches!(event, Event::StepBegan(_)));
        }
    }
}

#[test]
fn whatever_comes_in_heat_is_never_where_it_must_not_be() {
    let mut seen = Seen::default();
    for round in 0..60 {
        live(round, &mut seen);
    }
    println!("{seen:?}");
    assert!(seen.driven > 10_000 && seen.counted > 500, "the worlds go nowhere: {seen:?}");
    assert!(seen.trips > 20 && seen.returns > 50 && seen.steps > 100, "{seen:?}");
}
