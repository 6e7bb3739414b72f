//! What must hold after every tick.

use truesoak_core::Controller;
use truesoak_core::bake::{Dip, Step};
use truesoak_core::event::Event;
use truesoak_core::io::{Answer, Door, Inputs, Outputs, Question, Sample};
use truesoak_core::ledger::Ledger;
use truesoak_core::record::{Checkpoint, Record};
use truesoak_core::sequence::Mode;
use truesoak_core::units::Celsius;
use truesoak_core::wire::checkpoint;
use truesoak_core::wire::row::{Row, SecondRow};

/// How far a bake got that a board takes.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Seen {
    pub(super) heated: bool,
    pub(super) counted: bool,
    pub(super) fell: bool,
    pub(super) tripped: bool,
}

impl Seen {
    #[cfg(test)]
    pub(super) fn and(self, other: Self) -> Self {
        Self {
            heated: self.heated || other.heated,
            counted: self.counted || other.counted,
            fell: self.fell || other.fell,
            tripped: self.tripped || other.tripped,
        }
    }
}

pub(super) struct Watch {
    pub(super) seen: Seen,
    /// A board would take this bake, and go on from this checkpoint.
    admitted: bool,
    /// Nothing waits for an answer since the supply came back.
    answered: bool,
    /// Credit before the tick, s; till a bake goes on, what was kept.
    credit_s: u32,
    trip: bool,
    /// Something was read below the room, where the bounds promise nothing: the oven is none of this
    /// model then.
    cold: bool,
}

impl Watch {
    pub(super) fn new(admitted: bool) -> Self {
        Self {
            seen: Seen::default(),
            admitted,
            answered: true,
            credit_s: 0,
            trip: false,
            cold: false,
        }
    }

    pub(super) fn resumed(&mut self, kept: &Checkpoint, controller: &Controller) {
        self.answered = kept.trip.is_some();
        self.credit_s = kept.credit_s;
        // A board goes on from nothing else: a step there is, bounds that do not cross, and nothing
        // hottest that is colder than the room.
        let hottest = [kept.hottest.oven, kept.hottest.parts, kept.hottest.element];
        let warm = |hottest: Celsius| hottest >= kept.coldest && hottest >= room(controller);
        self.admitted &= checkpoint::encode(kept).and_then(|it| checkpoint::decode(&it)).is_some()
            && usize::from(kept.step) < controller.bake().steps.len()
            && hottest.into_iter().all(warm);
    }

    pub(super) fn before(&mut self, controller: &Controller) {
        self.credit_s = controller.ledger().map_or(self.credit_s, Ledger::credit_s);
        self.trip = controller.trip().is_some();
    }

    pub(super) fn after(
        &mut self,
        controller: &Controller,
        inputs: &Inputs,
        outputs: &Outputs,
        now: u32,
    ) {
        let events = controller.events();
        assert!(events.len() < 12, "room for one more event: {events:?}");
        self.answered |= events.iter().any(|event| {
            matches!(event, Event::Answered(Question::PowerReturned, _) | Event::Started)
        });
        if outputs.heat.is_allowed() {
            assert!(self.answered, "heat before anybody answered");
            cold(controller, inputs, outputs);
        }
        if self.trip && controller.trip().is_none() {
            assert!(events.contains(&Event::Acknowledged), "a trip is gone, not acknowledged");
        }
        assert_eq!(controller.outputs(), outputs);
        events.iter().for_each(|event| comes_back(&Row::of_event(now, *event)));
        if self.admitted {
            self.seen.heated |= outputs.heat.is_allowed();
            self.seen.tripped |= controller.trip().is_some();
            self.credit(controller);
            let samples = [Some(inputs.air), inputs.air_b, inputs.part_probe];
            let is_cold = |sample: &Sample| sample.value < room(controller);
            self.cold |= samples.iter().flatten().any(is_cold);
            shown(controller, self.cold);
        }
    }

    /// Credit grows by at most a second, in a soak and its window alone, and falls by a rule alone.
    fn credit(&mut self, controller: &Controller) {
        let Some(ledger) = controller.ledger() else { return };
        let (before_s, credit_s) = (self.credit_s, ledger.credit_s());
        assert!(credit_s <= before_s.saturating_add(1), "{before_s} s and then {credit_s} s");
        self.seen.counted |= credit_s > before_s;
        self.seen.fell |= credit_s < before_s;
        let step = controller.bake().steps.get(usize::from(controller.step()));
        if credit_s > before_s {
            let Some(Step::Soak(soak)) = step else { panic!("credit outside a soak") };
            let range = ledger.coldest().zip(ledger.hottest());
            let inside = |(coldest, hottest)| coldest >= soak.at_least && hottest <= soak.at_most;
            assert!(range.is_some_and(inside), "credit out of the window: {range:?} {soak:?}");
        }
        let restarts = matches!(step, Some(Step::Soak(soak)) if soak.dip == Dip::Restart);
        let by_rule = |event: &Event| {
            matches!(
                event,
                Event::Started
                    | Event::StepBegan(_)
                    | Event::SupplyReturned { .. }
                    | Event::Answered(_, Answer::Fail)
            )
        };
        let by_rule = restarts || controller.events().iter().any(by_rule);
        assert!(credit_s >= before_s || by_rule, "{before_s} s fell to {credit_s} s by no rule");
    }
}

/// Nothing in the oven is colder than the room and what comes into it, by the model.
fn room(controller: &Controller) -> Celsius {
    let model = controller.model();
    model.classes.iter().fold(model.ambient, |room, class| room.max(class.starts_at))
}

/// Where heat must not be.
fn cold(controller: &Controller, inputs: &Inputs, outputs: &Outputs) {
    assert_eq!(controller.trip(), None, "heat with a trip latched");
    assert_eq!(controller.mode(), Mode::Running, "heat at rest");
    assert_ne!(inputs.door, Some(Door::Open), "heat with the door open");
    assert!(!inputs.stop, "heat with STOP pressed");
    let cutting = [Question::PowerReturned, Question::DoorLeftOpen, Question::Check];
    assert!(!outputs.asks.is_some_and(|asks| cutting.contains(&asks)), "heat with {outputs:?}");
}

/// What is seen and kept of a bake a board takes.
fn shown(controller: &Controller, cold: bool) {
    let finite = |value: Option<Celsius>| value.is_none_or(|value| value.0.is_finite());
    assert!(finite(controller.setpoint()), "{:?}", controller.setpoint());
    if let Some(ledger) = controller.ledger() {
        let (coldest, hottest) = (ledger.coldest(), ledger.hottest());
        assert!(finite(coldest) && finite(hottest), "{coldest:?} {hottest:?}");
        let crossed = coldest.zip(hottest).is_some_and(|(coldest, hottest)| coldest > hottest);
        assert!(cold || !crossed, "{coldest:?} above {hottest:?}");
    }
    if let Some(kept) = controller.checkpoint() {
        let bytes = checkpoint::encode(&kept).expect("a checkpoint fits");
        assert_eq!(checkpoint::decode(&bytes), Some(kept), "a bake goes on from what was kept");
    }
    if let Some(record) = controller.record() {
        second(record);
    }
}

fn second(record: &Record) {
    assert!(record.on_ticks <= 10, "{record:?}");
    comes_back(&Row::Second(SecondRow::from(record)));
}

fn comes_back(row: &Row) {
    let bytes = row.encode();
    assert!(bytes.is_some(), "no row for {row:?}");
    assert_eq!(bytes.as_ref().and_then(Row::decode), Some(*row));
}
