//! The ledger: bounds and credit, moved by logged seconds and events and by nothing else.
//!
//! The board and a recount from a log run the same ledger over the same integers, so both come to
//! the same credit. It adds one second when every part inside was provably in the window for all of
//! it; nothing else adds any: not time, a command or a restart.
//!
//! ```text
//!            work, work … work: one part a tick
//!  at rest ──────────────────────────────────────┐
//!     ▲ │ second ends: taken            finish   ▼
//!     │ └──────────────► under way ──────────► through: counted, shown;
//!     │                     │ ▲  changes kept          changes made
//!     └─────────────────────┘ └──────────────────────────────┘
//!      supply lost: dropped            the next second ends: taken
//! ```
//!
//! A second is worked on in the ticks of the one that follows ([`Bounds::part`]) and is counted and
//! shown when that one ends: everything the ledger shows is of the second before the last row. What
//! an event changes of the *account* (which step, its credit, whether anything counts) holds at
//! once, and a second that is under way when its step ends counts for neither step. What it changes
//! of the *bounds* (what is inside) is kept until the second under way is through. So the order is
//! that of the log, and nothing depends on how far the work had come: the board, which does a part
//! a tick, and a recount, which does all of it when the next row comes, agree to the bit.

use crate::bake::{Bake, Dip, Purpose, Soak, Step};
use crate::bounds::model::{CLASSES_MAX, Model};
use crate::bounds::{Bounds, Hottest, PARTS, Present, SETTLING, Second};
use crate::event::Event;
use crate::io::{Answer, Question};
use crate::record::Checkpoint;
use crate::stay::Stay;
use crate::units::{Celsius, Reading};
use heapless::Vec;

/// Most changes that wait for a second to be through; with more of them it is brought through.
const CHANGES_MAX: usize = 8;

/// Parts of a return: rounds of the air, and one class each.
const RETURN_PARTS: u8 = if CLASSES_MAX as u8 > SETTLING { CLASSES_MAX as u8 } else { SETTLING };

/// What is being worked on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Work {
    Nothing,
    /// The second that was taken last.
    Second,
    /// What a lost supply leaves to be found out.
    Return,
}

/// What an event changes of the bounds.
#[derive(Clone, Copy, Debug)]
enum Change {
    LoadOpened {
        present: Present,
        coated: bool,
    },
    LoadClosed,
    PartsOut,
    /// Something cold may have gone in.
    Doubted,
    /// A person has said.
    Settled(Answer),
}

/// Bounds and credit of a running bake.
#[derive(Clone, Debug)]
pub struct Ledger {
    bounds: Bounds,
    soak: Option<Soak>,
    step: u8,
    credit_s: u32,
    class_credit_s: [u32; CLASSES_MAX],
    ended_class_credit_s: [u32; CLASSES_MAX],
    outside_model: bool,
    stay: Stay,
    /// Coldest and hottest, whatever may have gone in, as of the last second that is through or change made.
    range: Option<(Celsius, Celsius)>,
    work: Work,
    /// Its next part.
    part: u8,
    /// The second that was taken last.
    taken: Second,
    /// Its step is still the one it was logged in.
    counts: bool,
    /// In the order of the log.
    changes: Vec<Change, CHANGES_MAX>,
    /// The last second that is through.
    shown: Option<Second>,
}

impl Ledger {
    /// A bake begins at a reading. Without a load_in before the first soak the load is inside.
    #[must_use]
    pub fn start(model: &Model, bake: &Bake, reading: Reading) -> Self {
        let mut bounds = Bounds::start(model, reading, Present::NOTHING, model.ambient);
        if let Some(Step::Soak(soak)) = first_of_load_in_and_soak(bake) {
            bounds.load_opened(model, hung_for(model, soak.purpose));
            bounds.load_closed(model);
            bounds.set_coated(model, soak.purpose == Purpose::Cure);
        }
        let mut ledger = Self {
            bounds,
            soak: None,
            step: 0,
            credit_s: 0,
            class_credit_s: [0; CLASSES_MAX],
            ended_class_credit_s: [0; CLASSES_MAX],
            outside_model: false,
            stay: Stay::default(),
            range: None,
            work: Work::Nothing,
            part: 0,
            taken: Second::NOTHING,
            counts: false,
            changes: Vec::new(),
            shown: None,
        };
        ledger.look(model);
        ledger
    }

    /// Takes an event, in the order of the log.
    pub fn note(&mut self, model: &Model, bake: &Bake, event: Event) {
        match event {
            Event::StepBegan(index) => self.begin_step(bake, index),
            Event::LoadOpened => {
                let purpose = next_soak(bake, self.step).map(|soak| soak.purpose);
                let present = purpose.map_or(Present::NOTHING, |purpose| hung_for(model, purpose));
                let coated = purpose == Some(Purpose::Cure);
                self.change(model, Change::LoadOpened { present, coated });
            }
            Event::LoadClosed => self.change(model, Change::LoadClosed),
            Event::PartsOut => self.change(model, Change::PartsOut),
            Event::SupplyReturned { coldest, hottest, parts, element, credit_s } => {
                self.supply_returned(credit_s);
                if matches!(bake.steps.get(usize::from(self.step)), Some(Step::LoadIn(_))) {
                    // The door may have been opened since the checkpoint.
                    self.hang(model, next_soak(bake, self.step).map(|soak| soak.purpose));
                }
                let hottest = Hottest {
                    oven: hottest.to_celsius(),
                    parts: parts.to_celsius(),
                    element: element.to_celsius(),
                };
                self.bounds.restart(model, coldest.to_celsius(), hottest);
                self.stay.supply_returns(true);
                self.begin(Work::Return);
                self.look(model);
            }
            Event::Asked(Question::AnythingNew | Question::PowerReturned) => {
                self.change(model, Change::Doubted);
            }
            Event::Answered(Question::AnythingNew | Question::PowerReturned, answer) => {
                if answer == Answer::Fail {
                    self.lose_credit();
                }
                self.change(model, Change::Settled(answer));
            }
            // What it made count was perhaps never so.
            Event::ProbeIgnored => self.lose_credit(),
            Event::OutsideModel => self.outside_model = true,
            _ => {}
        }
    }

    fn lose_credit(&mut self) {
        self.credit_s = 0;
        self.class_credit_s = [0; CLASSES_MAX];
        self.counts = false;
    }

    /// Takes the next second. The one before is brought through first: from here on its bounds and
    /// its credit are what is shown.
    pub fn second(&mut self, model: &Model, second: &Second) {
        self.finish(model);
        (self.taken, self.counts) = (*second, true);
        self.begin(Work::Second);
    }

    fn begin(&mut self, work: Work) {
        (self.work, self.part) = (work, 0);
    }

    /// One part of what is under way, if any is left. Nothing that is shown changes by it.
    pub fn work(&mut self, model: &Model) {
        if !self.is_under_way() {
            return;
        }
        let part = self.part;
        self.part += 1;
        if self.work == Work::Return {
            if part < SETTLING {
                self.bounds.settle(model, part);
            }
            self.stay.was_away(model, &self.bounds, usize::from(part));
            return;
        }
        if part + 1 == PARTS {
            self.stay.foresee(model, &self.bounds);
        }
        self.bounds.part(model, &self.taken, part);
    }

    /// Brings what is under way through, counts it, and makes the changes that waited for it.
    pub fn finish(&mut self, model: &Model) {
        while self.is_under_way() {
            self.work(model);
        }
        match self.work {
            Work::Second => {
                self.shown = Some(self.taken);
                self.bounds.show(model);
                self.look(model);
                self.stay.second(&self.bounds);
                if self.counts {
                    self.count(model);
                }
            }
            Work::Return => self.stay.supply_returns(false),
            Work::Nothing => {}
        }
        self.work = Work::Nothing;
        if !self.changes.is_empty() {
            for change in core::mem::take(&mut self.changes) {
                self.make(model, change);
            }
        }
    }

    /// Parts of what is under way that are through.
    #[must_use]
    pub fn parts(&self) -> u8 {
        self.part
    }

    fn is_under_way(&self) -> bool {
        let parts = match self.work {
            Work::Second => PARTS,
            Work::Return => RETURN_PARTS,
            Work::Nothing => 0,
        };
        self.part < parts
    }

    /// Counts the second that is through.
    fn count(&mut self, model: &Model) {
        let Some(soak) = self.soak else { return };
        if self.bounds.is_doubted() || self.outside_model {
            return;
        }
        for (index, credit_s) in self.class_credit_s.iter_mut().enumerate() {
            if is_inside(&soak, self.bounds.proven(model, index)) {
                *credit_s += 1;
            }
        }
        if is_inside(&soak, self.range) {
            self.credit_s += 1;
        } else if soak.dip == Dip::Restart {
            self.credit_s = 0;
        }
    }

    /// Makes a change at once where nothing is under way, else when that is through.
    fn change(&mut self, model: &Model, change: Change) {
        if self.work != Work::Nothing {
            if self.changes.push(change).is_ok() {
                return;
            }
            self.finish(model);
        }
        self.make(model, change);
    }

    fn make(&mut self, model: &Model, change: Change) {
        match change {
            Change::LoadOpened { present, coated } => {
                self.bounds.load_opened(model, present);
                self.bounds.set_coated(model, coated);
            }
            Change::LoadClosed => self.bounds.load_closed(model),
            Change::PartsOut => {
                self.bounds.end_doubt(model, Answer::Go);
                self.bounds.set_present(Present::NOTHING);
            }
            Change::Doubted => self.bounds.begin_doubt(model),
            Change::Settled(answer) => self.bounds.end_doubt(model, answer),
        }
        self.look(model);
    }

    /// Credit of the present soak, s.
    #[must_use]
    pub fn credit_s(&self) -> u32 {
        self.credit_s
    }

    /// Seconds of the present soak in which one class was proven in its window.
    #[must_use]
    pub fn class_credit_s(&self, class: usize) -> u32 {
        self.class_credit_s.get(class).copied().unwrap_or(0)
    }

    /// The same for the step that ended last.
    #[must_use]
    pub fn ended_class_credit_s(&self, class: usize) -> u32 {
        self.ended_class_credit_s.get(class).copied().unwrap_or(0)
    }

    /// No part inside is colder; `None` with nothing inside.
    #[must_use]
    pub fn coldest(&self) -> Option<Celsius> {
        self.range.map(|(coldest, _)| coldest)
    }

    /// No part inside is hotter; `None` with nothing inside.
    #[must_use]
    pub fn hottest(&self) -> Option<Celsius> {
        self.range.map(|(_, hottest)| hottest)
    }

    /// The same of one class, whatever may have gone in; `None` when it is not inside.
    #[must_use]
    pub fn proven(&self, model: &Model, class: usize) -> Option<(Celsius, Celsius)> {
        self.bounds.proven(model, class)
    }

    /// Nobody has said yet whether something new went in, the changes that wait included.
    #[must_use]
    pub fn is_doubted(&self) -> bool {
        let waits = self.changes.iter().rev().find_map(|change| match change {
            Change::Doubted => Some(true),
            Change::Settled(_) | Change::PartsOut => Some(false),
            Change::LoadOpened { .. } | Change::LoadClosed => None,
        });
        waits.unwrap_or(self.bounds.is_doubted())
    }

    fn look(&mut self, model: &Model) {
        let ranges = (0..model.classes.len()).filter_map(|class| self.bounds.proven(model, class));
        self.range = ranges.reduce(|a, b| (a.0.min(b.0), a.1.max(b.1)));
    }

    /// The bounds; the coldest of them holds if nothing new went in.
    #[must_use]
    pub fn bounds(&self) -> &Bounds {
        &self.bounds
    }

    /// Something is inside, the changes that wait included.
    #[must_use]
    pub fn is_loaded(&self) -> bool {
        let (mut inside, mut coming) = self.bounds.presence();
        for change in &self.changes {
            match change {
                Change::LoadOpened { present, .. } => {
                    inside = inside.or(*present);
                    coming = *present;
                }
                Change::LoadClosed => inside = coming,
                Change::PartsOut => (inside, coming) = (Present::NOTHING, Present::NOTHING),
                Change::Doubted | Change::Settled(_) => {}
            }
        }
        !inside.is_empty()
    }

    /// The second that bounds and credit are shown of; before the first one is through `None`.
    #[must_use]
    pub fn shown(&self) -> Option<&Second> {
        self.shown.as_ref()
    }

    /// The air has left the spread: nothing counts for the rest of the bake.
    #[must_use]
    pub fn is_outside_model(&self) -> bool {
        self.outside_model
    }

    /// How long what is inside has been above the lower end of its window.
    #[must_use]
    pub fn stay(&self) -> &Stay {
        &self.stay
    }

    /// What a board starts from that lost its supply: the step, its credit, whether the load was
    /// inside and how long it had been hot, and what it had ceased to believe. [`Event::SupplyReturned`] then sets the bounds and judges the credit.
    pub fn restore(&mut self, model: &Model, bake: &Bake, kept: &Checkpoint) {
        self.begin_step(bake, kept.step);
        self.credit_s = kept.credit_s;
        self.stay.restore(kept.stayed_s);
        self.outside_model = kept.outside_model;
        self.bounds.restore_probe(kept.probe);
        // What is inside was hung for the first soak after it went in, and that may be over.
        let hung = next_soak(bake, last_load_in(bake, kept.step)).map(|soak| soak.purpose);
        self.hang(model, hung.filter(|_| kept.loaded));
    }

    /// What hangs for this, or nothing, is inside.
    fn hang(&mut self, model: &Model, purpose: Option<Purpose>) {
        let inside = purpose.map_or(Present::NOTHING, |purpose| hung_for(model, purpose));
        self.bounds.set_present(inside);
        self.bounds.set_coated(model, purpose == Some(Purpose::Cure));
    }

    /// After a lost supply the credit stands where leaving the window would let it stand.
    fn supply_returned(&mut self, kept_s: u32) {
        self.credit_s = self.credit_s.min(kept_s);
        if !matches!(self.soak, Some(Soak { dip: Dip::Pause, .. })) {
            self.credit_s = 0;
        }
        // What each class had beyond that is not kept over a lost supply.
        self.class_credit_s = [self.credit_s; CLASSES_MAX];
        // What was under way is lost with it.
        (self.work, self.shown) = (Work::Nothing, None);
        self.changes.clear();
    }

    fn begin_step(&mut self, bake: &Bake, index: u8) {
        self.step = index;
        self.stay.begin_step(bake, index);
        self.credit_s = 0;
        self.ended_class_credit_s = core::mem::take(&mut self.class_credit_s);
        self.counts = false;
        self.soak = match bake.steps.get(usize::from(index)) {
            Some(Step::Soak(soak)) => Some(*soak),
            _ => None,
        };
    }
}

/// Both bounds in the window; a not-a-number is in no window.
fn is_inside(soak: &Soak, bounds: Option<(Celsius, Celsius)>) -> bool {
    bounds.is_some_and(|(coldest, hottest)| coldest >= soak.at_least && hottest <= soak.at_most)
}

fn first_of_load_in_and_soak(bake: &Bake) -> Option<&Step> {
    bake.steps.iter().find(|step| matches!(step, Step::LoadIn(_) | Step::Soak(_)))
}

/// The step in which what is inside at `step` went in: the bake's first where it was in from there.
fn last_load_in(bake: &Bake, step: u8) -> u8 {
    let is_load_in =
        |index: &u8| matches!(bake.steps.get(usize::from(*index)), Some(Step::LoadIn(_)));
    (0..=step).rev().find(is_load_in).unwrap_or(0)
}

/// The first soak after a step: what a load is hung for.
fn next_soak(bake: &Bake, step: u8) -> Option<&Soak> {
    bake.steps.iter().skip(usize::from(step)).find_map(|step| match step {
        Step::Soak(soak) => Some(soak),
        _ => None,
    })
}

/// What hangs in the oven for a purpose.
fn hung_for(model: &Model, purpose: Purpose) -> Present {
    if purpose == Purpose::GasOut { Present::gas_out(model) } else { Present::everything(model) }
}
