//! The sequence's turn in a tick: what a person said, and what the bake makes of it.

use super::{Controller, facts};
use crate::door::DoorNow;
use crate::event::Event;
use crate::guard::TripKind;
use crate::io::{Inputs, Question};
use crate::judge::Judged;
use crate::person::Press;
use crate::sequence::Sequence;
use crate::units::Tick;

impl Controller {
    /// What the person said in this tick, at the oven or by a request that GO has confirmed.
    pub(super) fn press(
        &mut self,
        now: Tick,
        inputs: &Inputs,
        found: Option<TripKind>,
    ) -> Option<Press> {
        // A button closed since boot is stuck until it has been seen released.
        self.buttons_free |= !inputs.go && !inputs.stop;
        if !self.buttons_free {
            return None;
        }
        let press = self.buttons.tick(inputs.go, inputs.stop);
        let press = if self.pending.is_empty() {
            press
        } else {
            self.pending.tick(now, press, self.asks(), self.settings.is_virtual)
        };
        if press == Some(Press::Go) && self.guard.trip().is_some() {
            if self.guard.acknowledge(found) {
                self.told.trip = false;
                self.tell(Event::Acknowledged);
                self.sequence = Sequence::idle();
            }
            return None;
        }
        press
    }

    /// Starts, steps and ends the bake.
    pub(super) fn carry_on(
        &mut self,
        now: Tick,
        inputs: &Inputs,
        air: &Judged,
        door: &DoorNow,
        press: Option<Press>,
    ) {
        if !self.sequence.is_running() {
            if press == Some(Press::Go) {
                self.start(now, inputs, air, door);
            }
            return;
        }
        // Where no switch tells, a door that was left to a cold oven looks open for good.
        let told_shut = press == Some(Press::Go)
            && match self.sequence.asks() {
                Some(Question::DoorLeftOpen) => true,
                Some(Question::LoadIn) => !door.has_switch,
                _ => false,
            };
        let ledger = self.ledger.as_ref();
        let facts = facts(&self.bake, ledger, self.last.heat, now, air.latest, door, press);
        self.sequence.tick(&facts, &mut self.events);
        if told_shut {
            self.door.told_shut();
        }
        if door.closed {
            self.regulator.door_closed();
        }
        self.keep_books();
    }

    /// Hands this tick's events to whatever follows them.
    pub(super) fn keep_books(&mut self) {
        let Some(ledger) = &mut self.ledger else { return };
        for event in &self.events {
            if let Event::StepBegan(_) = event {
                self.regulator.step_began();
            }
            ledger.note(&self.model, &self.bake, *event);
        }
        if !self.events.is_empty() {
            self.expectation = self.expect();
        }
    }
}
