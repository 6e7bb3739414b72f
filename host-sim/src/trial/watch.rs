//! Who watches a drawn bake: on one side the ticks the board gives out, on the other the plant.
//!
//! [`Watched`] stands between board and world and notes what is commanded; [`Watch`] follows the
//! plant's truth, the log's seconds and its events, recounts the log as it is written, and holds the
//! invariants of [`super::invariants`] against all of it.

use super::invariants::{self, Broken};
use super::limits::{Limits, Passed};
use super::named::{Scenery, reports};
use super::openings::Doorway;
use super::scene::Scene;
use super::sight::{Fate, Now, Sight, Struck};
use crate::rehearse::{Board, Fault, FaultKind, Observer, Runner, Trace, World};
use std::cell::RefCell;
use std::rc::Rc;
use truesoak_core::bake::Bake;
use truesoak_core::bounds::Second;
use truesoak_core::bounds::model::Model;
use truesoak_core::event::Event;
use truesoak_core::guard::TripKind;
use truesoak_core::io::{Inputs, Outputs, Question};
use truesoak_core::ledger::Ledger;
use truesoak_core::record::Record;
use truesoak_core::sequence::Mode;
use truesoak_core::units::Tick;

/// What a fault leaves behind is its own for so long after it is over, ticks.
const AFTERMATH_TICKS: u32 = 6_000;
/// A board that came back has so long to say so, ticks.
const RETURN_TICKS: u32 = 40;

/// What was commanded, as of the last tick.
#[derive(Clone, Debug, Default)]
pub(super) struct Commanded {
    /// Heat was last allowed, and the drive last on, at these ticks.
    allowed: u32,
    driven: u32,
    /// Ticks driven since they were last asked for.
    on_ticks: u32,
    /// The first tick after the drive came on in which it was not: a trip's own among them.
    let_go: Option<u32>,
    /// A trip is latched since.
    latched: Option<u32>,
    broken: Option<Broken>,
}

/// The board, with its commands noted.
pub(super) struct Watched {
    board: Board,
    commanded: Rc<RefCell<Commanded>>,
}

impl Watched {
    pub(super) fn new(board: Board, commanded: Rc<RefCell<Commanded>>) -> Self {
        Self { board, commanded }
    }
}

impl Runner for Watched {
    fn begin(&mut self) {
        self.board.begin();
    }

    fn tick(&mut self, now: Tick, inputs: &Inputs) -> Outputs {
        let outputs = self.board.tick(now, inputs);
        let mut commanded = self.commanded.borrow_mut();
        if outputs.heat.is_allowed() {
            commanded.allowed = now.0;
        }
        if outputs.heat.drives() {
            (commanded.driven, commanded.on_ticks) = (now.0, commanded.on_ticks + 1);
        } else {
            let began = commanded.driven > 0;
            commanded.let_go = commanded.let_go.or(began.then_some(now.0));
        }
        if let (Some(latched), None) = (commanded.latched, &commanded.broken) {
            let since = now.0.saturating_sub(latched);
            let allowed = outputs.heat.is_allowed();
            commanded.broken = invariants::no_heat_after_a_trip(since, allowed, false, false)
                .map(|what| Broken { invariant: 1, tick: now.0, what });
        }
        for event in self.board.events() {
            match event {
                Event::Tripped(_) => commanded.latched = Some(now.0),
                Event::Acknowledged => commanded.latched = None,
                _ => {}
            }
        }
        outputs
    }

    fn events(&self) -> &[Event] {
        self.board.events()
    }

    fn record(&self) -> Option<&Record> {
        self.board.record()
    }

    fn mode(&self) -> Mode {
        self.board.mode()
    }

    fn ended_credit_s(&self, part: usize) -> u32 {
        self.board.ended_credit_s(part)
    }

    fn credit_s(&self, part: usize) -> u32 {
        self.board.credit_s(part)
    }

    fn bake(&self) -> &Bake {
        self.board.bake()
    }

    fn restart(&mut self) {
        self.board.restart();
    }

    fn is_short(&self) -> bool {
        self.board.is_short()
    }
}

/// Everything seen of one bake.
pub(super) struct Watch<'s> {
    scene: &'s Scene,
    model: &'s Model,
    commanded: Rc<RefCell<Commanded>>,
    pub(super) trace: Trace,
    recount: Option<Ledger>,
    pub(super) sights: Vec<Sight>,
    pub(super) tripped: Option<(u32, TripKind)>,
    pub(super) broken: Vec<Broken>,
    pub(super) may_not_start: bool,
    /// The last second's tick.
    pub(super) last: u32,
    exposed_c: f64,
    door: Doorway,
    /// When the board last came back.
    returned: Option<u32>,
    limits: Limits,
    /// The board asks about a door that stands open, and has no answer.
    door_is_asked: bool,
    /// The board has told of the probe and goes by it no more.
    probe_is_ignored: bool,
}

impl<'s> Watch<'s> {
    pub(super) fn new(
        scene: &'s Scene,
        model: &'s Model,
        trace: Trace,
        commanded: Rc<RefCell<Commanded>>,
    ) -> Self {
        Self {
            scene,
            model,
            commanded,
            trace,
            recount: None,
            sights: Vec::new(),
            tripped: None,
            broken: Vec::new(),
            may_not_start: false,
            last: 0,
            exposed_c: f64::NAN,
            door: Doorway::SHUT,
            returned: None,
            limits: Limits::default(),
            door_is_asked: false,
            probe_is_ignored: false,
        }
    }

    /// The run is over: what only its end tells.
    pub(super) fn finish(&mut self, tick: u32, ran: bool) {
        let commanded = self.commanded.borrow().broken.clone();
        self.broken.extend(commanded);
        if !ran {
            self.sights.iter_mut().for_each(|sight| {
                let _ = sight.fate.get_or_insert(Fate::NoStart);
            });
        }
        for sight in &mut self.sights {
            let _ = sight.fate.get_or_insert(Fate::NothingToSee);
        }
        self.broken.sort_by_key(|broken| broken.tick.min(tick));
    }

    fn break_one(&mut self, invariant: u8, tick: u32, what: Option<String>) {
        if let Some(what) = what
            && !self.broken.iter().any(|broken| broken.invariant == invariant)
        {
            self.broken.push(Broken { invariant, tick, what });
        }
    }

    /// Faults that have struck by now; one that meets another is no longer held to its row's time.
    fn notice(&mut self, now: u32, world: &World) {
        if self.exposed_c.is_nan() {
            // What is wrong from the start strikes before the first second.
            self.exposed_c = world.plant.shown_at(0).air_c;
        }
        let mut struck: Vec<Fault> = Vec::new();
        for fault in world.faults.iter().filter(|fault| fault.from <= now) {
            let same = |sight: &&mut Sight| {
                sight.fault.kind == fault.kind && sight.fault.from == fault.from
            };
            match self.sights.iter_mut().find(same) {
                Some(sight) => sight.fault.to = fault.to,
                None => struck.push(*fault),
            }
        }
        struck.sort_by_key(|fault| fault.from);
        for fault in struck {
            // One that begins before another of its kind is over is the same strike; late ticks from
            // before the board came back are forgotten.
            let late = fault.kind == FaultKind::TickOverrun;
            let returned = self.returned.filter(|_| late);
            let before = |sight: &&Sight| {
                sight.fault.kind == fault.kind
                    && sight.fault.to < fault.from
                    && returned.is_none_or(|returned| sight.fault.to > returned)
                    && sight.struck_a_bake()
            };
            let strike =
                1 + self.sights.iter().filter(before).map(Sight::strike).max().unwrap_or(0);
            let struck = Struck {
                exposed_c: self.exposed_c,
                running: !self.trace.chronicle.steps.is_empty()
                    && self.trace.chronicle.ending.is_none(),
                shut_ticks: fault.from.saturating_sub(self.door.moved),
            };
            let told = fault.kind == FaultKind::ProbeDisagrees && self.probe_is_ignored;
            let covered = told || self.sights.iter().any(|other| other.covers(&fault));
            let mut sight = Sight::new(fault, strike, struck);
            sight.fate = covered.then_some(Fate::NothingToSee);
            self.sights.push(sight);
            // Nothing that is wrong as it starts keeps a board from refusing to.
            self.may_not_start |= fault.from <= START_TICKS;
        }
        let first = self.sights.first().map(|sight| sight.fault.kind);
        if self.sights.iter().any(|sight| Some(sight.fault.kind) != first) {
            self.sights.iter_mut().for_each(|sight| sight.is_crowded = true);
        }
    }

    /// The kind of fault that is alone in this bake so far.
    fn alone(&self) -> Option<FaultKind> {
        let first = self.sights.first().filter(|sight| !sight.is_crowded)?;
        let unseen = first.fault.kind == FaultKind::SensorMoved
            && self.scene.believed.oven.sensor_b.is_none();
        (!unseen).then_some(first.fault.kind)
    }

    fn trip(&mut self, now: u32, kind: TripKind) {
        self.tripped = Some((now, kind));
        let stands = |sight: &&Sight| now <= sight.fault.to.saturating_add(AFTERMATH_TICKS);
        let wrong = self.sights.iter().filter(stands).count();
        if self.scene.untold.is_none() {
            self.break_one(7, now, invariants::no_false_trip(kind, wrong));
        }
        let named = self.sights.iter().any(Sight::has_a_name);
        if let Some(alone) = self.alone().filter(|_| wrong > 0 && named) {
            let oven = &self.scene.believed.oven;
            let scenery = Scenery {
                two_sensors: oven.sensor_b.is_some(),
                door_switch: oven.door.switch,
                is_over: self.sights.iter().all(|sight| sight.fault.to <= now),
            };
            self.break_one(8, now, invariants::own_kind(alone, kind, scenery));
        }
    }

    /// Of several strikes of one kind the last is the one that is reported.
    fn tell(&mut self, now: u32, event: Event) {
        let mut told = Vec::new();
        for sight in self.sights.iter_mut().rev() {
            let kind = sight.fault.kind;
            if reports(kind, event) && told.contains(&kind) {
                let _ = sight.fate.get_or_insert(Fate::NothingToSee);
            } else {
                sight.event(now, event);
                told.push(kind);
            }
        }
    }

    /// A supply or a processor that is back, and nothing was said.
    fn look_for_returns(&mut self, now: u32) {
        if self.tripped.is_some() || self.trace.chronicle.ending.is_some() {
            return;
        }
        // One that came down again before it could say so has not come back.
        let back = self.sights.iter().filter_map(Sight::due_to_return).max().unwrap_or(0);
        let late = |sight: &Sight| {
            sight.due_to_return().is_some() && now >= back.saturating_add(RETURN_TICKS)
        };
        let Some(sight) = self.sights.iter_mut().find(|sight| late(sight)) else { return };
        sight.fate = Some(Fate::Missed);
        let (kind, to) = (sight.fault.kind, sight.fault.to);
        let said = "nothing was said of it".to_owned();
        let what = invariants::in_its_time(kind, now - to, &said);
        self.break_one(8, now, Some(what));
    }

    fn hold_times(&mut self, now: u32, record: &Record) {
        let commanded = self.commanded.borrow();
        let probed = self.scene.believed.load.parts.iter().position(|part| part.probe);
        let facts = Now {
            tick: now,
            record,
            exposed_c: self.exposed_c,
            door: self.door,
            allowed: commanded.allowed,
            driven: commanded.driven,
            full_so_far: commanded.driven > 0 && commanded.let_go.is_none_or(|tick| tick >= now),
            offset_k: self.scene.draw.sensor_offset_k,
            probed_inside: probed.is_some_and(|part| self.trace.is_inside(part)),
            door_is_asked: self.door_is_asked,
            setup: &self.scene.believed,
        };
        let missed: Vec<(FaultKind, u32)> = self
            .sights
            .iter_mut()
            .filter_map(|sight| {
                let over = sight.second(&facts)?;
                let since = sight.shows_since().map_or(over, |since| now - since);
                Some((sight.fault.kind, since))
            })
            .collect();
        drop(commanded);
        for (kind, shown) in missed {
            let what = invariants::in_its_time(kind, shown, "its row said nothing");
            self.break_one(8, now, Some(what));
        }
    }

    fn recount(&mut self, now: u32, record: &Record, runner: &dyn Runner) {
        let second = Second {
            reading: record.reading,
            reading_b: record.reading_b,
            part_probe: record.part_probe,
            on_ticks: record.on_ticks,
            door_open: record.door_open,
            airflow: record.airflow,
            widened: record.widened,
        };
        match (&mut self.recount, record.reading) {
            (Some(ledger), _) => {
                ledger.second(self.model, &second);
            }
            (None, Some(reading)) => {
                self.recount = Some(Ledger::start(self.model, runner.bake(), reading));
            }
            (None, None) => return,
        }
        let Some(ledger) = &self.recount else { return };
        let agree = ledger.coldest() == record.coldest && ledger.hottest() == record.hottest;
        let what = invariants::recounts(record.credit_s, ledger.credit_s(), agree);
        self.break_one(5, now, what);
    }
}

/// What is wrong within so long of the start may keep a board from starting, ticks.
const START_TICKS: u32 = 20;

impl Observer for Watch<'_> {
    fn event(&mut self, now: u32, event: Event, runner: &dyn Runner, world: &World) {
        // What strikes within the second that a door opens in strikes behind a door.
        if world.door_is_open() {
            self.door.stands_open(now, self.exposed_c);
        }
        self.notice(now, world);
        self.trace.event(now, event, runner, world);
        if let Event::Tripped(kind) = event {
            self.trip(now, kind);
        }
        if matches!(event, Event::SupplyReturned { .. }) {
            self.returned = Some(now);
            self.limits = Limits::default();
        }
        match event {
            Event::ProbeIgnored => self.probe_is_ignored = true,
            Event::Asked(Question::DoorLeftOpen) => self.door_is_asked = true,
            Event::Answered(Question::DoorLeftOpen, _)
            | Event::StepBegan(_)
            | Event::SupplyReturned { .. } => self.door_is_asked = false,
            _ => (),
        }
        self.tell(now, event);
        if let Some(ledger) = &mut self.recount {
            ledger.note(self.model, runner.bake(), event);
        }
    }

    fn second(&mut self, now: u32, record: &Record, runner: &dyn Runner) {
        self.trace.second(now, record, runner);
        self.recount(now, record, runner);
        if self.tripped.is_none() {
            self.hold_times(now, record);
            let shut_ticks = now.saturating_sub(self.door.moved);
            let passed = self.limits.second(&Passed {
                record,
                recount: self.recount.as_ref(),
                model: self.model,
                setup: &self.scene.believed,
                shut_ticks,
                returned: self.returned.is_some(),
            });
            self.break_one(8, now, passed);
        }
    }

    fn truth(&mut self, now: u32, done: u32, world: &World) {
        if world.door_is_open() {
            self.door.stands_open(now, self.exposed_c);
        }
        self.last = now;
        self.exposed_c = world.plant.shown_at(done).air_c;
        self.notice(now, world);
        let on_ticks = core::mem::take(&mut self.commanded.borrow_mut().on_ticks);
        for sight in &mut self.sights {
            sight.truth(done, world, on_ticks, &self.scene.truth);
        }
        if let Some((tripped, _)) = self.tripped {
            let welded = world.faults.is_on(FaultKind::PermitWelded, now);
            let flows = world.is_heating(now);
            let since = now.saturating_sub(tripped);
            let what = invariants::no_heat_after_a_trip(since, false, flows, welded);
            self.break_one(1, now, what);
        }
        self.look_for_returns(now);
        self.trace.truth(now, done, world);
    }
}
