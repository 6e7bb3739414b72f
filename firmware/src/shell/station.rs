//! Everything of a board but its link and its watchdog: what a tick and the computer's requests
//! share.

use super::Memory;
use super::commission::{Commission, RELEASE_TICKS};
use super::contacts::{Contacts, Said};
use super::document::{Loaded, Receiving};
use super::log_book::LogBook;
use super::panel::Panel;
use super::room::{Found, Rooms};
use super::self_test::SelfTest;
use super::sensors::{Read, Sensors};
use crate::board::{Chip, Clock, Hardware, Identity};
use crate::store::Store;
use crate::{ActError, Actuators};
use truesoak_core::Controller;
use truesoak_core::command::Command;
use truesoak_core::event::{Ending, Event};
use truesoak_core::io::{Health, Heat, Inputs, Outputs};
use truesoak_core::ledger::Ledger;
use truesoak_core::record::Record;
use truesoak_core::sequence::Mode;
use truesoak_core::units::{TICKS_PER_SECOND, Tick};
use truesoak_core::wire::PIECE_BYTES_MAX;
use truesoak_core::wire::built_in::BuiltIn;
use truesoak_core::wire::commissioned::Commissioned;
use truesoak_core::wire::messages::LiveRow;
use truesoak_core::wire::refusal::Obstacle;
use truesoak_core::wire::row::{Row, SecondRow};
use truesoak_core::wire::tick_row::TickRow;

/// Memory and settings are looked at again so often, ticks: a minute, less the second that a bake may
/// let it wait …
const LOOK_TICKS: u32 = 59 * TICKS_PER_SECOND;
/// … for the tick with so many parts of the bounds' second through, in which these take least.
const LOOK_AFTER: u8 = 1;
/// The end of a bake of the board's own is shown for so long before the next is made ready, ticks.
const SHOWN_TICKS: u32 = 60 * TICKS_PER_SECOND;

/// What forbids a start, in the order it is told.
const OBSTACLES: [Obstacle; 13] = [
    Obstacle::Memory,
    Obstacle::Store,
    Obstacle::Settings,
    Obstacle::Button,
    Obstacle::PermitClosed,
    Obstacle::Clock,
    Obstacle::Sensor,
    Obstacle::TwoPoints,
    Obstacle::AboveOven,
    Obstacle::NoDocument,
    Obstacle::LastBake,
    Obstacle::MakingRoom,
    Obstacle::NoRoom,
];

/// A board without its link and its watchdog.
pub(super) struct Station<'a, H: Hardware> {
    pub memory: &'a mut Memory,
    pub actuators: Actuators<H::Pad, H::Pad>,
    pub contacts: Contacts<H>,
    pub sensors: Option<Sensors<H::Bus>>,
    pub panel: Panel<H>,
    pub clock: H::Clock,
    pub chip: H::Chip,
    pub identity: Identity,
    pub store: Option<Store<H::Flash>>,
    pub kept: Option<Commissioned>,
    pub self_test: SelfTest,
    pub commission: Commission,
    pub loaded: Option<Loaded>,
    /// The document may let the air exceed what this oven stands.
    pub above_oven: bool,
    pub log_book: LogBook,
    pub room: Rooms,
    pub receiving: Option<Receiving>,
    pub read: Read,
    pub inputs: Inputs,
    /// Both buttons have been seen released since the board started.
    pub buttons_free: bool,
    pub booted: Tick,
    /// The last second of the bake that runs.
    pub last: Option<Record>,
    pub ended: Option<Tick>,
    /// What a computer said the time is, and when.
    pub told_time: Option<(u32, Tick)>,
    /// Frames the link did not take.
    pub rejected: u16,
    pub piece: [u8; PIECE_BYTES_MAX],
}

impl<H: Hardware> Station<'_, H> {
    /// What time it is.
    pub fn now(&self) -> Tick {
        Tick(self.clock.ticks())
    }

    /// The controller.
    pub fn controller(&self) -> Option<&Controller> {
        self.memory.controller.as_ref()
    }

    /// A bake is running or waiting for a person.
    pub fn is_running(&self) -> bool {
        self.controller().is_some_and(|controller| controller.mode() == Mode::Running)
    }

    /// Reads, ticks, switches the drive; then stores and shows.
    #[inline(never)]
    pub fn tick(&mut self, now: Tick) -> Result<Outputs, ActError> {
        self.read(now);
        let controller = self.memory.controller.as_mut();
        let mut outputs = controller.map_or(Outputs::default(), |of| of.tick(now, &self.inputs));
        if self.has(|event| matches!(event, Event::Started)) && !self.begin(now) {
            outputs.heat = Heat::Cut;
        }
        let acted = self.actuators.drive(&outputs);
        self.write_down(now, &outputs);
        if !self.is_running() && self.log_book.is_closed() {
            self.rest(now);
        }
        self.commission(now);
        self.look_again(now);
        let situation = self.situation(now);
        let air = self.inputs.air.value;
        self.panel.tick(now, &situation, &outputs, air, self.memory.controller.as_ref());
        acted.map(|()| outputs)
    }

    /// The tick's last act.
    pub fn hold(&mut self, outputs: &Outputs) -> Result<(), ActError> {
        self.actuators.hold(outputs)
    }

    fn read(&mut self, now: Tick) {
        if let Some(sensors) = &mut self.sensors {
            self.read = sensors.read();
        }
        let settings = self.kept.as_ref().map(|kept| &kept.settings);
        let independent = self.clock.independent_ticks();
        let is_counted = settings.is_some_and(|settings| settings.independent_clock);
        let Read { air, air_b, part_probe } = self.read;
        let Said { go, stop, door, permit_feedback, mains_at_heater, airflow } =
            self.contacts.read(settings);
        self.buttons_free |= !go && !stop;
        self.inputs = Inputs {
            air: air.sample,
            air_b: air_b.map(|reading| reading.sample),
            part_probe: part_probe.map(|reading| reading.sample),
            cold_junction: air.cold_junction,
            door,
            go,
            stop,
            permit_feedback,
            mains_at_heater,
            airflow,
            independent_ticks: is_counted.then_some(independent),
            health: Inputs::NOTHING.health,
        };
        self.self_test.tick(now, &self.inputs);
        self.inputs.health = self.health();
    }

    fn health(&self) -> Health {
        let memory = self.self_test.memory;
        let (settings, store) = if self.is_running() {
            (self.self_test.settings, !self.log_book.is_failing)
        } else {
            let obstacle = self.obstacle();
            let of_store = matches!(
                obstacle,
                Some(
                    Obstacle::Store | Obstacle::LastBake | Obstacle::MakingRoom | Obstacle::NoRoom
                )
            );
            (obstacle.is_none() || of_store, !of_store)
        };
        Health { memory, settings, store, watchdog_resets: self.log_book.resets }
    }

    /// What forbids a start.
    pub fn obstacle(&self) -> Option<Obstacle> {
        let test = &self.self_test;
        let Some(shown) = test.shown() else { return Some(Obstacle::Testing) };
        let kept = self.kept.as_ref();
        let holds = |obstacle: Obstacle| match obstacle {
            Obstacle::Testing => false,
            Obstacle::Memory => !test.memory,
            Obstacle::Store => self.store.is_none() || self.log_book.is_failing,
            Obstacle::Settings => kept.is_none() || !test.settings,
            Obstacle::Button => !self.buttons_free || self.inputs.stop,
            Obstacle::PermitClosed => !shown.permit_open,
            Obstacle::Clock => !shown.clocks_agree,
            Obstacle::Sensor => !self.read.all_answer(),
            Obstacle::TwoPoints => kept.is_some_and(Commissioned::lacks_a_check),
            Obstacle::AboveOven => self.above_oven,
            Obstacle::NoDocument => self.loaded.is_none(),
            Obstacle::LastBake => !self.log_book.is_closed(),
            Obstacle::MakingRoom => self.room.found() == Found::Working,
            Obstacle::NoRoom => self.room.found() == Found::None,
        };
        OBSTACLES.into_iter().find(|obstacle| holds(*obstacle))
    }

    fn has(&self, wanted: impl Fn(&Event) -> bool) -> bool {
        self.controller().is_some_and(|controller| controller.events().iter().any(wanted))
    }

    /// The store's side of a bake's beginning; false if there is none: then the bake ends at once.
    fn begin(&mut self, now: Tick) -> bool {
        let started = self.unix_s(now).unwrap_or(0);
        let begun = match (&mut self.store, &self.loaded) {
            (Some(store), Some(loaded)) => self.log_book.begin(store, loaded, started).is_ok(),
            _ => false,
        };
        if !begun {
            self.log_book.is_failing = true;
            if let Some(controller) = &mut self.memory.controller {
                let _ = controller.command(now, Command::Stop);
            }
        }
        begun
    }

    /// Seconds since 1970, once a computer has told.
    pub fn unix_s(&self, now: Tick) -> Option<u32> {
        let (told, at) = self.told_time?;
        told.checked_add(now.since(at) / TICKS_PER_SECOND)
    }

    /// What the store and the black box keep of this tick.
    fn write_down(&mut self, now: Tick, outputs: &Outputs) {
        let Memory { controller: Some(controller), black_box, .. } = &mut *self.memory else {
            return;
        };
        if !self.log_book.is_dumping() {
            let tripped = controller.trip().is_some();
            black_box.keep(TickRow::of(now, &self.inputs, outputs, tripped));
        }
        let record = controller.record().copied();
        if record.is_some() {
            self.last = record;
        }
        for event in controller.events() {
            super::log::say_of!("{}", event);
        }
        if controller.events().iter().any(|event| matches!(event, Event::Ended(_))) {
            self.ended = Some(now);
        }
        let Some(store) = &mut self.store else { return };
        self.log_book.latch(store, controller);
        self.log_book.tick(now, store, controller, black_box);
    }

    /// Tells what happened in this tick, as it is stored, to whoever watches.
    pub fn report(&self, now: Tick, mut tell: impl FnMut(&LiveRow)) {
        let Some(controller) = self.controller() else { return };
        let ledger = controller.ledger();
        let second = controller.record().map(|record| Row::Second(SecondRow::from(record)));
        let events = controller.events().iter().map(|event| self.log_book.event_row(now, *event));
        for row in second.into_iter().chain(events).filter_map(|row| row.encode()) {
            tell(&LiveRow {
                row,
                coldest: ledger.and_then(Ledger::coldest),
                hottest: ledger.and_then(Ledger::hottest),
                credit_s: ledger.map_or(0, Ledger::credit_s),
            });
        }
    }

    /// What a tick at rest does beside reading: room, erasures, the next bake of commissioning.
    fn rest(&mut self, now: Tick) {
        if let Some(ended) = self.ended
            && let Some(built_in) = self.loaded.and_then(|loaded| loaded.built_in)
            && now.since(ended) >= SHOWN_TICKS
        {
            self.ended = None;
            let mode = self.controller().map(Controller::mode);
            let finished = mode == Some(Mode::Done(Ending::Finished));
            self.commission.step_tested |= finished && built_in == BuiltIn::StepTest;
            self.load_current();
        }
        if self.ended == Some(now) {
            self.room.is_wanted();
        }
        let Some(store) = &mut self.store else { return };
        if let Err(error) = self.room.tick(store, self.loaded.as_ref()) {
            super::log::say_of!("no room is made: {}", error);
            self.log_book.is_failing = true;
        }
    }

    fn commission(&mut self, now: Tick) {
        let was_open = self.commission.is_open();
        self.commission.tick(now, self.inputs.go, &self.read, self.kept.as_ref());
        if self.commission.is_open() && !was_open {
            self.load_current();
        }
    }

    /// Once a minute: memory, and the settings in the store.
    fn look_again(&mut self, now: Tick) {
        let since = now.since(self.booted) % LOOK_TICKS;
        let parts = self.controller().and_then(Controller::ledger).map_or(0, Ledger::parts);
        let is_due = if self.is_running() {
            since < TICKS_PER_SECOND && parts == LOOK_AFTER
        } else {
            since == 0
        };
        if !is_due {
            return;
        }
        self.self_test.memory &= self.chip.memory_holds();
        let found = self.store.as_mut().and_then(super::boot::read_settings);
        self.self_test.settings = found == self.kept;
    }

    /// What is known of board and bake, for lamp and beeper.
    fn situation(&self, now: Tick) -> crate::person::Situation {
        let controller = self.controller();
        let obstacle = self.obstacle();
        let cannot_start = match obstacle {
            None | Some(Obstacle::Testing | Obstacle::LastBake | Obstacle::MakingRoom) => false,
            // No bake has been sent: nothing is wrong.
            Some(Obstacle::NoDocument) => false,
            // GO held at boot may be for commissioning.
            Some(Obstacle::Button) => now.since(self.booted) >= RELEASE_TICKS,
            Some(_) => true,
        };
        crate::person::Situation {
            starting: now.since(self.booted) < crate::person::signal::STARTING_TICKS,
            trip: controller.and_then(Controller::trip).map(|trip| trip.kind),
            confirm: controller.is_some_and(|of| of.waits_for_go(now).is_some()),
            asks: controller.and_then(Controller::asks),
            mode: controller.map_or(Mode::Idle, Controller::mode),
            is_short: controller.is_some_and(Controller::is_short),
            cannot_start,
        }
    }
}
