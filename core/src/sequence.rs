//! The sequence: which step the bake is in, what it waits for, and what it wants of the heat.
//!
//! ```text
//!          start                    last step ends, STOP, too long, check failed
//! idle ───────────► running ──────────────────────────────────────────────────► done
//!                   │    ▲  door left open, supply returned                       │
//!                   └────┘  (interrupted: heat cut until GO)          start again │
//!                   ▲─────────────────────────────────────────────────────────────┘
//! ```
//!
//! It decides nothing about safety: the guard runs before it and may cut whatever it wants. It
//! refuses to go on from a question without its answer; nothing shortens a wait.

use crate::bake::{Bake, CoolOn, OnFail, STEPS_MAX, Soak, Step};
use crate::door::{DoorNow, seconds_since};
use crate::event::{Ending, Event};
use crate::io::{Answer, Question};
use crate::person::Press;
use crate::record::Checkpoint;
use crate::units::{Celsius, TICKS_PER_SECOND, Tick};
use heapless::Vec;

/// Events of one tick.
pub type Events = Vec<Event, 12>;

/// An opening longer than this asks "anything new inside?", s.
const ANYTHING_NEW_S: u32 = 90;
/// A ramp has arrived this close to its goal, K.
const ARRIVED_K: f32 = 1.0;
/// So long without heat, and what still reads warmer than a cool waits for is the room or a sensor
/// that errs, s.
const COOL_MAX_S: u32 = 24 * 3600;

/// Where the bake is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Mode {
    /// Nothing started.
    Idle,
    /// In a step.
    Running,
    /// Over.
    Done(Ending),
}

/// What the sequence wants of the heat.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Aim {
    /// None.
    Cut,
    /// Air at a setpoint.
    Air(Celsius),
    /// Parts into a window.
    Window(Soak),
}

/// What a step is waiting for inside itself.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Stage {
    Ramp { from: Celsius },
    Soak,
    Cool,
    LoadIn { opened: bool },
    Check,
    Wait { since: Option<Tick> },
}

/// A question that cuts the heat and comes before the step's own.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Interruption {
    DoorLeftOpen,
    PowerReturned,
}

/// What the sequence looks at in one tick.
#[derive(Clone, Copy, Debug)]
pub struct Facts<'a> {
    /// Now.
    pub now: Tick,
    /// The bake.
    pub bake: &'a Bake,
    /// The door.
    pub door: &'a DoorNow,
    /// What the person said in this tick.
    pub press: Option<Press>,
    /// Last believed air reading.
    pub reading: Option<Celsius>,
    /// Hottest bound of the parts inside.
    pub hottest: Option<Celsius>,
    /// Credit of the present soak, s.
    pub credit_s: u32,
    /// The soak whose parts may stay above the lower end of its window no longer.
    pub no_longer: Option<u8>,
    /// Parts are inside.
    pub loaded: bool,
    /// Heat was allowed in the last tick.
    pub heat_allowed: bool,
}

/// The sequence of one bake.
#[derive(Clone, Debug)]
pub struct Sequence {
    mode: Mode,
    index: u8,
    stage: Stage,
    entered: Tick,
    /// What the step had behind it when the supply was lost, s.
    before_s: u32,
    rounds: [u8; STEPS_MAX],
    short: [bool; STEPS_MAX],
    interruption: Option<Interruption>,
    anything_new: bool,
    heat_ticks: u32,
    /// That parts stayed too long has been told in this run of their soak.
    told_no_longer: bool,
}

impl Sequence {
    /// Nothing started.
    #[must_use]
    pub fn idle() -> Self {
        Self {
            mode: Mode::Idle,
            index: 0,
            stage: Stage::Cool,
            entered: Tick(0),
            before_s: 0,
            rounds: [0; STEPS_MAX],
            short: [false; STEPS_MAX],
            interruption: None,
            anything_new: false,
            heat_ticks: 0,
            told_no_longer: false,
        }
    }

    /// Where the bake is.
    #[must_use]
    pub fn mode(&self) -> Mode {
        self.mode
    }

    /// In a step.
    #[must_use]
    pub fn is_running(&self) -> bool {
        matches!(self.mode, Mode::Running)
    }

    /// Index of the present step.
    #[must_use]
    pub fn step(&self) -> u8 {
        self.index
    }

    /// Some soak's last try ended short.
    #[must_use]
    pub fn is_short(&self) -> bool {
        self.short.contains(&true)
    }

    /// Soaks whose last try ended short, by step.
    #[must_use]
    pub fn short(&self) -> &[bool; STEPS_MAX] {
        &self.short
    }

    /// The present step is a check or a wait.
    #[must_use]
    pub fn waits_for_a_person(&self) -> bool {
        matches!(self.stage, Stage::Check | Stage::Wait { .. })
    }

    /// Ticks with heat allowed so far.
    #[must_use]
    pub fn heat_ticks(&self) -> u32 {
        self.heat_ticks
    }

    /// Time in the present step, s: what it had before a lost supply, and since heat was possible
    /// again.
    #[must_use]
    pub fn in_step_s(&self, now: Tick) -> u32 {
        self.before_s.saturating_add(seconds_since(now, self.entered))
    }

    /// Rounds of every check so far, by step.
    #[must_use]
    pub fn rounds(&self) -> &[u8; STEPS_MAX] {
        &self.rounds
    }

    /// Starts the bake.
    pub fn start(&mut self, facts: &Facts<'_>, events: &mut Events) {
        *self = Self { mode: Mode::Running, ..Self::idle() };
        tell(events, Event::Started);
        self.enter(0, facts, events);
    }

    /// Goes on after a lost supply: heat stays off until a person answers. A step that was under
    /// way begins again, but a soak gives up no later for that; its credit is the ledger's business.
    pub fn resume(&mut self, kept: &Checkpoint, facts: &Facts<'_>) {
        *self = Self {
            mode: Mode::Running,
            rounds: kept.rounds,
            short: kept.short,
            heat_ticks: kept.heat_ticks,
            ..Self::idle()
        };
        self.set_step(kept.step, facts);
        self.before_s = kept.in_step_s;
        self.rounds = kept.rounds;
        self.interruption = Some(Interruption::PowerReturned);
    }

    /// Ends the bake.
    pub fn end(&mut self, ending: Ending, events: &mut Events) {
        if self.is_running() {
            self.mode = Mode::Done(ending);
            self.interruption = None;
            self.anything_new = false;
            tell(events, Event::Ended(ending));
        }
    }

    /// What is being asked of the person.
    #[must_use]
    pub fn asks(&self) -> Option<Question> {
        if !self.is_running() {
            return None;
        }
        match self.interruption {
            Some(Interruption::DoorLeftOpen) => return Some(Question::DoorLeftOpen),
            Some(Interruption::PowerReturned) => return Some(Question::PowerReturned),
            None if self.anything_new => return Some(Question::AnythingNew),
            None => {}
        }
        match self.stage {
            Stage::LoadIn { .. } => Some(Question::LoadIn),
            Stage::Check => Some(Question::Check),
            Stage::Wait { since: None } => Some(Question::Wait),
            _ => None,
        }
    }

    /// One tick of the running bake.
    pub fn tick(&mut self, facts: &Facts<'_>, events: &mut Events) {
        if !self.is_running() {
            return;
        }
        if facts.heat_allowed {
            self.heat_ticks = self.heat_ticks.saturating_add(1);
        }
        self.follow_door(facts, events);
        self.listen(facts, events);
        if self.interruption.is_none() {
            self.follow_stay(facts, events);
            self.advance(facts, events);
        }
        if self.heat_ticks >= facts.bake.limits.bake_max_s.saturating_mul(TICKS_PER_SECOND) {
            self.end(Ending::TooLong, events);
        }
    }

    /// Some heat is wanted.
    #[must_use]
    pub fn wants_heat(&self, bake: &Bake) -> bool {
        let heated = match self.stage {
            Stage::Ramp { .. } | Stage::Soak => true,
            Stage::LoadIn { .. } => {
                matches!(self.step_of(bake), Some(Step::LoadIn(load_in)) if load_in.at.is_some())
            }
            Stage::Cool | Stage::Check | Stage::Wait { .. } => false,
        };
        heated && self.is_running() && self.interruption.is_none()
    }

    /// What is wanted of the heat.
    #[must_use]
    pub fn aim(&self, bake: &Bake, now: Tick) -> Aim {
        if !self.wants_heat(bake) {
            return Aim::Cut;
        }
        match (self.step_of(bake), self.stage) {
            (Some(Step::Ramp(ramp)), Stage::Ramp { from }) => {
                let risen = ramp.rate_k_per_min.map_or(f32::INFINITY, |rate| {
                    rate.0 * now.since(self.entered) as f32 / (60 * TICKS_PER_SECOND) as f32
                });
                Aim::Air(Celsius((from.0 + risen).min(ramp.to.0)))
            }
            (Some(Step::Soak(soak)), Stage::Soak) => Aim::Window(*soak),
            (Some(Step::LoadIn(load_in)), Stage::LoadIn { .. }) => {
                load_in.at.map_or(Aim::Cut, Aim::Air)
            }
            _ => Aim::Cut,
        }
    }

    fn follow_door(&mut self, facts: &Facts<'_>, events: &mut Events) {
        if !facts.door.open && !facts.door.closed {
            return;
        }
        let loading = matches!(self.stage, Stage::LoadIn { .. });
        if facts.door.opened {
            tell(events, Event::DoorOpened);
            if let Stage::LoadIn { opened } = &mut self.stage {
                *opened = true;
                tell(events, Event::LoadOpened);
            }
        }
        let open_s = facts.door.open_ticks / TICKS_PER_SECOND;
        if facts.door.closed {
            tell(events, Event::DoorClosed);
            if loading {
                tell(events, Event::LoadClosed);
            } else if open_s > ANYTHING_NEW_S && facts.loaded && self.soak_ahead(facts.bake) {
                self.anything_new = true;
                tell(events, Event::Asked(Question::AnythingNew));
            }
        }
        let heated = matches!(self.stage, Stage::Ramp { .. } | Stage::Soak);
        let too_long = facts.door.open && open_s >= facts.bake.limits.door_open_max_s;
        if heated && too_long && self.interruption.is_none() {
            self.interruption = Some(Interruption::DoorLeftOpen);
            tell(events, Event::Asked(Question::DoorLeftOpen));
        }
    }

    /// What is inside still has a soak before it, this step's included.
    fn soak_ahead(&self, bake: &Bake) -> bool {
        let ahead = bake.steps.iter().skip(usize::from(self.index));
        let next = ahead.into_iter().find(|step| matches!(step, Step::Soak(_) | Step::LoadIn(_)));
        matches!(next, Some(Step::Soak(_)))
    }

    /// One press, one meaning: that of the question asked when it came.
    fn listen(&mut self, facts: &Facts<'_>, events: &mut Events) {
        let Some(press) = facts.press else { return };
        if press == Press::Stop {
            self.end(Ending::Stopped, events);
            return;
        }
        let answer = if press == Press::Go { Answer::Go } else { Answer::Fail };
        let Some(question) = self.asks() else {
            if answer == Answer::Fail {
                self.end(Ending::Stopped, events);
            }
            return;
        };
        match (question, answer) {
            (Question::AnythingNew, _) => self.anything_new = false,
            (Question::PowerReturned, _) => {
                self.interruption = None;
                self.entered = facts.now;
            }
            (Question::DoorLeftOpen, Answer::Go) if !facts.door.open => {
                self.interruption = None;
            }
            (Question::LoadIn, Answer::Go) if !facts.door.open => {
                self.loaded(events);
                self.said(question, answer, events);
                return self.next(facts, events);
            }
            (Question::Check, Answer::Go) => {
                self.said(question, answer, events);
                return self.next(facts, events);
            }
            (Question::Check, Answer::Fail) => {
                self.said(question, answer, events);
                return self.check_failed(facts, events);
            }
            (Question::Wait, Answer::Go) => self.stage = Stage::Wait { since: Some(facts.now) },
            (_, Answer::Fail) => return self.end(Ending::Stopped, events),
            _ => return,
        }
        self.said(question, answer, events);
    }

    fn said(&self, question: Question, answer: Answer, events: &mut Events) {
        tell(events, Event::Answered(question, answer));
    }

    /// A load_in that ends without an opening seen: the parts went in unseen.
    fn loaded(&mut self, events: &mut Events) {
        if self.stage == (Stage::LoadIn { opened: false }) {
            tell(events, Event::LoadOpened);
            tell(events, Event::LoadClosed);
        }
    }

    fn check_failed(&mut self, facts: &Facts<'_>, events: &mut Events) {
        let Some(Step::Check(check)) = self.step_of(facts.bake).copied() else { return };
        let rounds = self.rounds.get(usize::from(self.index)).copied().unwrap_or(u8::MAX);
        match check.on_fail {
            OnFail::RepeatFrom(index) if rounds < check.tries => self.enter(index, facts, events),
            _ => self.end(Ending::CheckFailed, events),
        }
    }

    fn advance(&mut self, facts: &Facts<'_>, events: &mut Events) {
        let Some(step) = self.step_of(facts.bake) else { return };
        let over = match (step, self.stage) {
            (Step::Ramp(ramp), Stage::Ramp { .. }) => {
                let arrived =
                    facts.reading.is_some_and(|reading| (ramp.to - reading).0 <= ARRIVED_K);
                arrived && self.aim(facts.bake, facts.now) == Aim::Air(ramp.to) && !facts.door.open
            }
            (Step::Soak(soak), Stage::Soak) => self.is_soaked(soak, facts, events),
            (Step::Cool(cool), Stage::Cool) => {
                let of = match cool.on {
                    CoolOn::Air => facts.reading,
                    CoolOn::Parts if facts.loaded => facts.hottest,
                    CoolOn::Parts => facts.reading,
                };
                of.is_some_and(|of| of <= cool.to) || self.in_step_s(facts.now) >= COOL_MAX_S
            }
            (Step::Wait(wait), Stage::Wait { since: Some(since) }) => {
                seconds_since(facts.now, since) >= wait.for_s
            }
            _ => false,
        };
        if over {
            self.next(facts, events);
        }
    }

    /// A soak is over: it had its minutes, its parts may stay no longer, or it gives up.
    fn is_soaked(&mut self, soak: &Soak, facts: &Facts<'_>, events: &mut Events) -> bool {
        if facts.credit_s >= soak.for_s {
            self.mark(self.index, false);
        } else if facts.no_longer == Some(self.index) {
            self.stayed_too_long(self.index, events);
        } else if soak.give_up_after_s.is_some_and(|limit_s| self.in_step_s(facts.now) >= limit_s) {
            self.mark(self.index, true);
            tell(events, Event::GaveUp(self.index));
        } else {
            return false;
        }
        true
    }

    /// A soak that had its minutes falls short all the same if its parts then take too long to cool.
    fn follow_stay(&mut self, facts: &Facts<'_>, events: &mut Events) {
        if let Some(soak) = facts.no_longer.filter(|soak| *soak != self.index)
            && !self.told_no_longer
        {
            self.stayed_too_long(soak, events);
        }
    }

    fn stayed_too_long(&mut self, soak: u8, events: &mut Events) {
        self.told_no_longer = true;
        self.mark(soak, true);
        tell(events, Event::NoLonger(soak));
    }

    fn mark(&mut self, soak: u8, short: bool) {
        if let Some(mark) = self.short.get_mut(usize::from(soak)) {
            *mark = short;
        }
    }

    fn next(&mut self, facts: &Facts<'_>, events: &mut Events) {
        self.enter(self.index.saturating_add(1), facts, events);
    }

    fn enter(&mut self, index: u8, facts: &Facts<'_>, events: &mut Events) {
        if facts.bake.steps.get(usize::from(index)).is_none() {
            self.end(Ending::Finished, events);
            return;
        }
        self.set_step(index, facts);
        tell(events, Event::StepBegan(index));
        if matches!(self.stage, Stage::LoadIn { .. }) && !facts.door.has_switch {
            // Nobody will tell when the door opens: the parts may be going in from now on.
            tell(events, Event::LoadOpened);
        }
        let parts_stay = match self.step_of(facts.bake) {
            Some(Step::Check(check)) => check.parts_stay,
            Some(Step::Wait(wait)) => wait.parts_stay,
            _ => true,
        };
        if !parts_stay && facts.loaded {
            tell(events, Event::PartsOut);
        }
        if let (Some(question), false) = (self.asks(), self.anything_new) {
            tell(events, Event::Asked(question));
        }
    }

    fn set_step(&mut self, index: u8, facts: &Facts<'_>) {
        self.index = index;
        self.entered = facts.now;
        self.before_s = 0;
        self.stage = match self.step_of(facts.bake) {
            Some(Step::Ramp(ramp)) => Stage::Ramp { from: facts.reading.unwrap_or(ramp.to) },
            Some(Step::Soak(_)) => {
                self.told_no_longer = false;
                Stage::Soak
            }
            Some(Step::LoadIn(_)) => Stage::LoadIn { opened: false },
            Some(Step::Check(_)) => {
                if let Some(rounds) = self.rounds.get_mut(usize::from(index)) {
                    *rounds = rounds.saturating_add(1);
                }
                Stage::Check
            }
            Some(Step::Wait(_)) => Stage::Wait { since: None },
            Some(Step::Cool(_)) | None => Stage::Cool,
        };
    }

    fn step_of<'a>(&self, bake: &'a Bake) -> Option<&'a Step> {
        bake.steps.get(usize::from(self.index))
    }
}

/// Keeps an event; a tick has room for more than it can have.
fn tell(events: &mut Events, event: Event) {
    let _ = events.push(event);
}
