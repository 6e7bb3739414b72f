//! The computer's requests, done or refused within a tick.
//!
//! What a state forbids is refused first (`truesoak_core::wire::admit`): documents, erasures and
//! settings while a bake runs or is still being written down, settings outside commissioning. What
//! leads to heat is handed to the controller, which waits for GO. Everything else is the store's.

use super::boot::write_settings;
use super::document::{NOT_BEGUN, PREFIX, Receiving, outline, refused};
use super::log_book::{End, Header};
use super::station::Station;
use crate::board::Hardware;
use crate::link::Desk;
use crate::store::{Bake, CHECKPOINT_MAX, Store};
use embedded_storage::nor_flash::NorFlash;
use truesoak_core::Controller;
use truesoak_core::command::{self, Command};
use truesoak_core::io::Door;
use truesoak_core::units::{Reading, Tick};
use truesoak_core::wire::admit::{Standing, admit, hand_on};
use truesoak_core::wire::commissioned::Commissioned;
use truesoak_core::wire::messages::{
    BAKES_MAX, Bakes, Capabilities, Hello, PRODUCT, Piece, Readiness, Reply, Request, Status,
    StoredBake,
};
use truesoak_core::wire::refusal::{BathFault, Obstacle, Refusal};
use truesoak_core::wire::settings::BoardSettings;
use truesoak_core::wire::stored::{HEAD_BYTES, Head};
use truesoak_core::wire::upload::Outline;

/// Version of this program.
const VERSION: [u8; 3] = [
    digits(env!("CARGO_PKG_VERSION_MAJOR")),
    digits(env!("CARGO_PKG_VERSION_MINOR")),
    digits(env!("CARGO_PKG_VERSION_PATCH")),
];

const fn digits(text: &str) -> u8 {
    match u8::from_str_radix(text, 10) {
        Ok(number) => number,
        Err(_) => u8::MAX,
    }
}

type Done = Result<(), Refusal>;

impl<H: Hardware> Desk for Station<'_, H> {
    fn answer<'b>(&'b mut self, request: &Request<'_>) -> Reply<'b> {
        self.try_answer(request).unwrap_or_else(Reply::Refused)
    }
}

impl<'a, H: Hardware> Station<'a, H> {
    #[inline(never)]
    fn try_answer<'b>(&'b mut self, request: &Request<'_>) -> Result<Reply<'b>, Refusal> {
        let now = self.now();
        let standing = self.standing();
        admit(request, standing)?;
        if let Some((command, _)) = request.command() {
            return self.hand_on(request, command, now, standing);
        }
        let done = |()| Reply::Done;
        match request {
            Request::Hello { unix_s } => Ok(Reply::Hello(self.hello(*unix_s, now))),
            Request::Status => {
                let controller = self.controller().ok_or(Refusal::StoreFailing)?;
                Ok(Reply::Status(self.status(controller, now)))
            }
            Request::Begin(outline) => {
                self.receiving = None;
                let store = self.store.as_mut().ok_or(Refusal::StoreFailing)?;
                self.receiving = Some(Receiving::begin(*outline, store)?);
                Ok(Reply::Done)
            }
            Request::Piece(piece) => self.take_piece(piece).map(done),
            Request::Commit => self.commit().map(done),
            Request::Document => self.document().map(Reply::Document),
            Request::ReadBack { offset } => self.read_back(*offset),
            Request::Settings => {
                let kept = self.kept.as_ref().ok_or(NO_SETTINGS)?;
                Ok(Reply::Settings(kept.settings))
            }
            Request::SetSettings(settings) => self.set(settings).map(done),
            Request::Bath { sensor, is } => self.bath(*sensor, *is),
            Request::Readiness => Ok(Reply::Readiness(self.readiness())),
            Request::Bakes { after } => Ok(Reply::Bakes(self.bakes(*after))),
            Request::Fetch { bake, offset } => self.fetch(*bake, *offset),
            Request::MarkFetched { bake } => self.mark_fetched(*bake).map(done),
            Request::Erase { bake, not_fetched } => self.erase(*bake, *not_fetched).map(done),
            // The link's own, or a command: answered before.
            Request::Watch(_)
            | Request::Start { .. }
            | Request::Answer { .. }
            | Request::Stop
            | Request::Acknowledge { .. } => Ok(Reply::Done),
        }
    }

    fn standing(&self) -> Standing {
        Standing {
            baking: self.is_running() || !self.log_book.is_closed(),
            commissioning: self.commission.is_open(),
            is_virtual: self.identity.is_virtual,
        }
    }

    fn hand_on<'b>(
        &'b mut self,
        request: &Request<'_>,
        command: Command,
        now: Tick,
        standing: Standing,
    ) -> Result<Reply<'b>, Refusal> {
        let tripped = self.controller().is_some_and(|controller| controller.trip().is_some());
        if command == Command::Start && !self.is_running() && !tripped {
            match self.obstacle() {
                None => {}
                Some(Obstacle::NoDocument) => return Err(Refusal::NoDocument),
                Some(Obstacle::AboveOven) => return Err(Refusal::AboveOven),
                Some(Obstacle::NoRoom) => return Err(Refusal::NoRoom),
                Some(obstacle) => return Err(Refusal::NotReady(obstacle)),
            }
        }
        let controller = self.memory.controller.as_mut();
        let reply = controller.and_then(|of| hand_on(request, of, now, standing));
        reply.ok_or(Refusal::Controller(command::Refusal::NoBake))
    }

    fn hello(&mut self, unix_s: Option<u32>, now: Tick) -> Hello<'static> {
        if let Some(unix_s) = unix_s {
            self.told_time = Some((unix_s, now));
        }
        let capabilities = [
            (self.identity.is_virtual, Capabilities::VIRTUAL),
            (self.commission.is_open(), Capabilities::COMMISSIONING),
            (self.identity.has_display, Capabilities::DISPLAY),
        ];
        let has = |all: Capabilities, (holds, one): (bool, Capabilities)| {
            if holds { all.and(one) } else { all }
        };
        Hello {
            product: PRODUCT,
            firmware: VERSION,
            board: self.identity.number,
            capabilities: capabilities.into_iter().fold(Capabilities::default(), has),
        }
    }

    fn status(&self, controller: &Controller, now: Tick) -> Status {
        let door_open = self.inputs.door.map(|door| door == Door::Open);
        let status = Status::of(controller, now, self.last.as_ref(), door_open, self.rejected);
        let at_rest = || Reading::from_celsius(self.inputs.air.value);
        Status { reading: status.reading.or_else(at_rest), ..status }
    }

    fn take_piece(&mut self, piece: &Piece<'_>) -> Done {
        let receiving = self.receiving.as_mut().ok_or(NOT_BEGUN)?;
        let store = self.store.as_mut().ok_or(Refusal::StoreFailing)?;
        let taken = receiving.piece(piece, &mut self.memory.compiled, store);
        if taken == Err(Refusal::StoreFailing) {
            self.receiving = None;
        }
        taken
    }

    /// The current document: its number and outline.
    fn current(&mut self) -> Result<(u32, Outline), Refusal> {
        let store = self.store.as_mut().ok_or(Refusal::StoreFailing)?;
        let current = store.document().ok_or(Refusal::NoDocument)?.id;
        Ok((current, outline(store, current).ok_or(Refusal::StoreFailing)?))
    }

    fn document(&mut self) -> Result<Outline, Refusal> {
        let (current, outline) = self.current()?;
        let holds = self.store.as_mut().is_some_and(|of| of.document_holds(current) == Ok(true));
        if holds { Ok(outline) } else { Err(Refusal::StoreFailing) }
    }

    fn read_back(&mut self, offset: u32) -> Result<Reply<'_>, Refusal> {
        let (current, _) = self.current()?;
        let store = self.store.as_mut().ok_or(Refusal::StoreFailing)?;
        let from = offset.checked_add(PREFIX as u32).ok_or(Refusal::PastTheEnd)?;
        let read = store.document_read(current, from, &mut self.piece).map_err(refused)?;
        piece_of(offset, self.piece.get(..read))
    }

    fn set(&mut self, settings: &BoardSettings) -> Done {
        let kept = match self.kept {
            Some(kept) => kept.with(*settings),
            None => Commissioned::unchecked(*settings),
        };
        self.keep_settings(kept)
    }

    /// Stores settings and goes by them from now on.
    fn keep_settings(&mut self, kept: Commissioned) -> Done {
        let store = self.store.as_mut().ok_or(Refusal::StoreFailing)?;
        write_settings(store, &kept).map_err(refused)?;
        if let Some(old) = self.kept.replace(kept) {
            self.commission.refit(&old.settings, &kept.settings);
        }
        self.self_test.settings = true;
        self.self_test.again();
        self.sensors = self.sensors.take().map(|of| of.refit(Some(&kept.settings)));
        self.load_current();
        Ok(())
    }

    fn bath(&mut self, sensor: u8, is: Reading) -> Result<Reply<'_>, Refusal> {
        let kept = self.kept.ok_or(NO_SETTINGS)?;
        let sensor = usize::from(sensor);
        if kept.settings.sensor(sensor).is_none() {
            return Err(Refusal::Bath(BathFault::NotFitted));
        }
        let correction_steps = self.commission.two_points.bath(sensor, is);
        let Some(correction_steps) = correction_steps.map_err(Refusal::Bath)? else {
            return Ok(Reply::Done);
        };
        let kept = kept.corrected(sensor, correction_steps);
        self.keep_settings(kept)?;
        Ok(Reply::Settings(kept.settings))
    }

    fn readiness(&self) -> Readiness {
        let state = |sensor| self.commission.sensor(sensor, &self.read, self.kept.as_ref()?);
        Readiness { obstacle: self.obstacle(), sensors: core::array::from_fn(state) }
    }

    fn bakes(&mut self, after: u32) -> Bakes {
        let mut found = heapless::Vec::<Bake, BAKES_MAX>::new();
        let mut more = false;
        let Some(store) = self.store.as_mut() else {
            return Bakes { listed: heapless::Vec::new(), more };
        };
        for bake in store.bakes().filter(|bake| bake.id > after) {
            more |= found.push(bake).is_err();
        }
        let open_entries = self.log_book.entries();
        let mut all = heapless::Vec::new();
        for bake in &found {
            // There is as much room as bakes were found.
            let _ = all.push(listed(store, bake, open_entries));
        }
        Bakes { listed: all, more }
    }

    fn fetch(&mut self, bake: u32, offset: u32) -> Result<Reply<'_>, Refusal> {
        let store = self.store.as_mut().ok_or(Refusal::StoreFailing)?;
        let found = store.bakes().find(|kept| kept.id == bake).ok_or(Refusal::NoSuchBake)?;
        let head = head(store, &found, self.log_book.entries());
        let read = if let Some(bytes) = head.encode().filter(|_| offset < HEAD_END) {
            let rest = bytes.get(offset as usize..).unwrap_or(&[]);
            for (to, from) in self.piece.iter_mut().zip(rest) {
                *to = *from;
            }
            Ok(rest.len().min(self.piece.len()))
        } else if offset < head.entries_offset() {
            let room = self.piece.len().min((head.entries_offset() - offset) as usize);
            let out = self.piece.get_mut(..room).unwrap_or(&mut []);
            store.document_read(found.document, PREFIX as u32 + offset - HEAD_END, out)
        } else {
            store.read(bake, offset - head.entries_offset(), &mut self.piece)
        };
        piece_of(offset, self.piece.get(..read.map_err(refused)?))
    }

    fn mark_fetched(&mut self, bake: u32) -> Done {
        let store = self.store.as_mut().ok_or(Refusal::StoreFailing)?;
        store.mark_fetched(bake).map_err(|error| match error {
            crate::store::StoreError::NotFinished => {
                Refusal::Controller(command::Refusal::BakeRuns)
            }
            error => refused(error),
        })?;
        self.room.is_wanted();
        Ok(())
    }

    /// Begins to erase; the next ticks do it, one sector each.
    fn erase(&mut self, bake: Option<u32>, not_fetched: bool) -> Done {
        let store = self.store.as_ref().ok_or(Refusal::StoreFailing)?;
        let Some(bake) = bake else {
            self.room.erase_all(not_fetched);
            return Ok(());
        };
        let found = store.bakes().find(|kept| kept.id == bake).ok_or(Refusal::NoSuchBake)?;
        if !(found.fetched || not_fetched) {
            return Err(Refusal::NotFetched);
        }
        self.room.erase_one(bake);
        Ok(())
    }
}

const NO_SETTINGS: Refusal = Refusal::NotReady(Obstacle::Settings);
const HEAD_END: u32 = HEAD_BYTES as u32;

fn piece_of(offset: u32, bytes: Option<&[u8]>) -> Result<Reply<'_>, Refusal> {
    match bytes {
        Some(bytes) if !bytes.is_empty() => Ok(Reply::Piece(Piece::of(offset, bytes))),
        _ => Err(Refusal::PastTheEnd),
    }
}

/// The head of a stored bake, as a computer fetches it.
fn head<F: NorFlash>(store: &mut Store<F>, bake: &Bake, open_entries: u32) -> Head {
    let mut bytes = [0; CHECKPOINT_MAX];
    let len = store.bake_header(bake.id, &mut bytes).unwrap_or(0);
    let header = bytes.get(..len).and_then(Header::read);
    let len = store.bake_end(bake.id, &mut bytes).unwrap_or(0);
    let end = bytes.get(..len).and_then(End::read);
    Head {
        document: header.map_or_else(Default::default, |header| header.outline),
        built_in: header.and_then(|header| header.built_in),
        started_unix_s: (bake.started != 0).then_some(bake.started),
        ended: end.and_then(|end| end.ended),
        seconds: bake.seconds,
        entries: end.map_or(open_entries, |end| end.entries),
    }
}

fn listed<F: NorFlash>(store: &mut Store<F>, bake: &Bake, open_entries: u32) -> StoredBake {
    let head = head(store, bake, open_entries);
    StoredBake {
        number: bake.id,
        started_unix_s: head.started_unix_s,
        seconds: bake.seconds,
        bytes: head.bytes(),
        finished: head.ended.is_some(),
        fetched: bake.fetched,
    }
}
