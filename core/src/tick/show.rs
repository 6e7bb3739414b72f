//! What a controller shows of itself between ticks: nothing here changes anything.

use super::Controller;
use crate::bake::{Bake, Step};
use crate::bounds::model::Model;
use crate::bounds::{Hottest, Second, Trust};
use crate::command::Command;
use crate::event::Event;
use crate::guard::Trip;
use crate::io::{Outputs, Question};
use crate::ledger::Ledger;
use crate::record::{CHECKPOINT_S, Checkpoint, Phase, Record};
use crate::sequence::Mode;
use crate::units::{Celsius, Tick};

impl Controller {
    /// Events of the last tick.
    #[must_use]
    pub fn events(&self) -> &[Event] {
        &self.events
    }

    /// The second that ended with the last tick.
    #[must_use]
    pub fn record(&self) -> Option<&Record> {
        self.record.as_ref()
    }

    /// Bounds and credit, once a bake has begun.
    #[must_use]
    pub fn ledger(&self) -> Option<&Ledger> {
        self.ledger.as_ref()
    }

    /// Where the bake is.
    #[must_use]
    pub fn mode(&self) -> Mode {
        self.sequence.mode()
    }

    /// Some soak's last try ended short.
    #[must_use]
    pub fn is_short(&self) -> bool {
        self.sequence.is_short()
    }

    /// The latched trip.
    #[must_use]
    pub fn trip(&self) -> Option<Trip> {
        self.guard.trip()
    }

    /// What is being asked of the person.
    #[must_use]
    pub fn asks(&self) -> Option<Question> {
        self.guard.trip().map_or(self.sequence.asks(), |_| Some(Question::Tripped))
    }

    /// A request from the computer that waits for GO, and the whole seconds it still does.
    #[must_use]
    pub fn waits_for_go(&self, now: Tick) -> Option<(Command, u8)> {
        self.pending.waits(now)
    }

    /// What the last tick gave out.
    #[must_use]
    pub fn outputs(&self) -> &Outputs {
        &self.last
    }

    /// Index of the present step.
    #[must_use]
    pub fn step(&self) -> u8 {
        self.sequence.step()
    }

    /// Seconds since the bake began.
    #[must_use]
    pub fn seconds(&self) -> u32 {
        self.seconds
    }

    /// Setpoint of the reading.
    #[must_use]
    pub fn setpoint(&self) -> Option<Celsius> {
        self.regulator.setpoint()
    }

    /// The bake that is run.
    #[must_use]
    pub fn bake(&self) -> &Bake {
        &self.bake
    }

    /// Model of oven and load.
    #[must_use]
    pub fn model(&self) -> &Model {
        &self.model
    }

    /// Now is when to keep a checkpoint: every [`CHECKPOINT_S`], and after whatever decides where a bake
    /// goes on from, so that none goes back over what its log says has happened.
    #[must_use]
    pub fn checkpoint_is_due(&self) -> bool {
        let decides = |event: &Event| {
            matches!(
                event,
                Event::Started
                    | Event::SupplyReturned { .. }
                    | Event::StepBegan(_)
                    | Event::Answered(..)
                    | Event::PartsOut
                    | Event::ProbeIgnored
            )
        };
        self.record.as_ref().is_some_and(|record| record.second % CHECKPOINT_S == 0)
            || self.events.iter().any(decides)
    }

    /// What to keep against a lost supply; `None` when no bake runs and no trip is latched.
    #[must_use]
    pub fn checkpoint(&self) -> Option<Checkpoint> {
        if !self.sequence.is_running() && self.guard.trip().is_none() {
            return None;
        }
        // A trip is kept even where no bake has run since the board was switched on.
        let room = self.model.ambient;
        let ledger = self.ledger.as_ref();
        Some(Checkpoint {
            second: self.seconds,
            step: self.sequence.step(),
            credit_s: ledger.map_or(0, Ledger::credit_s),
            in_step_s: self.sequence.in_step_s(self.last_tick.unwrap_or(Tick(0))),
            stayed_s: ledger.map_or(0, |ledger| ledger.stay().longest_s()),
            loaded: ledger.is_some_and(Ledger::is_loaded),
            rounds: *self.sequence.rounds(),
            short: *self.sequence.short(),
            heat_ticks: self.sequence.heat_ticks(),
            coldest: ledger.and_then(Ledger::coldest).unwrap_or(room),
            hottest: ledger
                .map_or(Hottest::all(room), |ledger| ledger.bounds().hottest_states(&self.model)),
            outside_model: ledger.is_some_and(Ledger::is_outside_model),
            probe: ledger.map_or(Trust::Proving, |ledger| ledger.bounds().probe_trust()),
            trip: self.guard.trip(),
        })
    }

    pub(super) fn make_record(&self, second: &Second, projected: bool) -> Record {
        let ledger = self.ledger.as_ref();
        Record {
            second: self.seconds,
            reading: second.reading,
            reading_b: second.reading_b,
            part_probe: second.part_probe,
            setpoint: self.regulator.setpoint(),
            on_ticks: second.on_ticks,
            permit: self.last.heat.is_allowed(),
            door_open: second.door_open,
            step: self.sequence.step() + 1,
            phase: self.phase(),
            coldest: ledger.and_then(Ledger::coldest),
            hottest: ledger.and_then(Ledger::hottest),
            credit_s: ledger.map_or(0, Ledger::credit_s),
            projected,
            airflow: second.airflow,
            widened: second.widened,
        }
    }

    /// What it is doing, one word.
    #[must_use]
    pub fn phase(&self) -> Phase {
        if self.guard.trip().is_some() {
            return Phase::Tripped;
        }
        match self.sequence.mode() {
            Mode::Idle => return Phase::Idle,
            Mode::Done(_) => return Phase::Done,
            Mode::Running => {}
        }
        match self.bake.steps.get(usize::from(self.sequence.step())) {
            Some(Step::Cool(_)) => Phase::Cool,
            Some(Step::LoadIn(_)) => Phase::LoadIn,
            Some(Step::Check(_)) => Phase::Check,
            Some(Step::Wait(_)) => Phase::Wait,
            _ if self.regulator.is_recovering() => Phase::Recover,
            Some(Step::Soak(_)) if self.regulator.is_in() => Phase::Soak,
            Some(Step::Soak(_)) => Phase::Approach,
            Some(Step::Ramp(_)) | None => Phase::Ramp,
        }
    }
}
