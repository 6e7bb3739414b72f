//! How a bake begins: by GO on a board that is well, or again after a lost supply.

use super::second::SecondInMaking;
use super::{Controller, Told, facts};
use crate::bounds::Second;
use crate::door::DoorNow;
use crate::event::Event;
use crate::io::{Heat, Inputs, Question};
use crate::judge::Judged;
use crate::ledger::Ledger;
use crate::record::Checkpoint;
use crate::units::{Celsius, Kelvins, Reading, Tick};

/// How far below the room anything brought in can be, K.
const BELOW_ROOM_K: f32 = 5.0;

impl Controller {
    /// Goes on from a checkpoint: off, and asking, once the air has been read for a second.
    pub fn resume(&mut self, checkpoint: Checkpoint) {
        if let Some(trip) = checkpoint.trip {
            self.guard.latch(trip.kind, trip.at);
        } else {
            self.resume = Some(checkpoint);
        }
    }

    /// Starts a bake, if the board is well, the air is read, the door is shut and none waits to go on.
    #[inline(never)] // seldom: its frame is not every tick's
    pub(super) fn start(&mut self, now: Tick, inputs: &Inputs, air: &Judged, door: &DoorNow) {
        let healthy = inputs.health.memory && inputs.health.settings && inputs.health.store;
        let free = self.guard.trip().is_none() && self.resume.is_none();
        let startable = healthy && !door.open && free;
        let reading = air.value.and_then(Reading::from_celsius);
        let (Some(reading), true) = (reading, startable && !self.bake.steps.is_empty()) else {
            return;
        };
        self.ledger = Some(Ledger::start(&self.model, &self.bake, reading));
        self.guard.bake_begins();
        self.begin_bake(0, reading);
        let facts = facts(&self.bake, self.ledger.as_ref(), Heat::Cut, now, air.latest, door, None);
        self.sequence.start(&facts, &mut self.events);
        self.keep_books();
        let second = Second { reading: Some(reading), ..Second::NOTHING };
        self.record = Some(self.make_record(&second, false));
    }

    fn begin_bake(&mut self, seconds: u32, reading: Reading) {
        self.door.begin();
        self.told = Told::default();
        self.overruns = 0;
        self.seconds = seconds;
        self.second = SecondInMaking::default();
        let _ = self.air.end_second();
        self.reading = Some(reading.to_celsius());
    }

    /// Goes on after a lost supply, off and asking, from the worst that can be inside.
    #[inline(never)] // seldom: its frame is not every tick's
    pub(super) fn begin_again(&mut self, now: Tick, reading: Reading, door: &DoorNow) {
        let Some(kept) = self.resume.take() else { return };
        let air = reading.to_celsius();
        let coldest = kept.coldest.min(air).min(self.model.ambient - Kelvins(BELOW_ROOM_K));
        let grid = |value: Celsius| Reading::from_celsius(value).unwrap_or(reading);
        let mut ledger = Ledger::start(&self.model, &self.bake, reading);
        ledger.restore(&self.model, &self.bake, &kept);
        self.ledger = Some(ledger);
        self.guard.bake_goes_on(now);
        self.begin_bake(kept.second, reading);
        let facts = facts(&self.bake, self.ledger.as_ref(), Heat::Cut, now, Some(air), door, None);
        self.sequence.resume(&kept, &facts);
        self.tell(Event::SupplyReturned {
            coldest: grid(coldest),
            hottest: grid(kept.hottest.oven.max(air)),
            parts: grid(kept.hottest.parts),
            element: grid(kept.hottest.element.max(air)),
            credit_s: kept.credit_s,
        });
        self.tell(Event::Asked(Question::PowerReturned));
        self.keep_books();
    }
}
