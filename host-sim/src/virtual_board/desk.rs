//! What a board on the desk answers, by the rules of one at an oven.

use super::Button;
use super::state::{BAKES_MAX, Kept, Loaded, State};
use crate::rehearse::Runner as _;
use truesoak_core::command::{self, Command};
use truesoak_core::record::Phase;
use truesoak_core::sequence::Mode;
use truesoak_core::two_points::SENSORS;
use truesoak_core::units::Reading;
use truesoak_core::wire::PIECE_BYTES_MAX;
use truesoak_core::wire::admit::{Standing, admit, hand_on};
use truesoak_core::wire::commissioned::Commissioned;
use truesoak_core::wire::compiled::Compiled;
use truesoak_core::wire::messages::{
    Bakes, Capabilities, CheckState, Hello, PRODUCT, Piece, Readiness, Reply, Request, SensorState,
    Status, StoredBake,
};
use truesoak_core::wire::refusal::{BathFault, Obstacle, Refusal};
use truesoak_core::wire::stored::ENTRY_BYTES;
use truesoak_core::wire::upload::Upload;

/// Answers a request; `say` gets the one reply.
pub(super) fn answer(state: &mut State, request: &Request<'_>, say: &mut dyn FnMut(&Reply<'_>)) {
    let standing = Standing {
        baking: state.is_baking(),
        commissioning: state.commissioning,
        is_virtual: true,
    };
    if let Err(refusal) = admit(request, standing) {
        return say(&Reply::Refused(refusal));
    }
    match request {
        Request::Hello { unix_s } => {
            state.hear_time(*unix_s);
            say(&hello(state));
        }
        Request::Status => say(&Reply::Status(status(state))),
        Request::Settings => {
            let kept = state.kept.ok_or(NO_SETTINGS);
            say(&or_refused(kept.map(|kept| Reply::Settings(kept.settings))));
        }
        Request::SetSettings(settings) => {
            let bare = || Commissioned::unchecked(*settings);
            state.keep_settings(state.kept.map_or_else(bare, |kept| kept.with(*settings)));
            say(&Reply::Done);
        }
        Request::Begin(_) | Request::Piece(_) | Request::Commit => {
            say(&or_refused(take_document(state, request).map(|()| Reply::Done)));
        }
        Request::Document => {
            let outline = state.loaded.as_ref().map(|loaded| Reply::Document(loaded.outline));
            say(&outline.unwrap_or(Reply::Refused(Refusal::NoDocument)));
        }
        Request::ReadBack { offset } => match &state.loaded {
            None => say(&Reply::Refused(Refusal::NoDocument)),
            Some(loaded) => give(*offset, loaded.bytes.get(*offset as usize..), say),
        },
        Request::Bakes { after } => say(&Reply::Bakes(bakes(state, *after))),
        Request::Fetch { bake, offset } => fetch(state, *bake, *offset, say),
        Request::MarkFetched { bake } => say(&or_refused(mark_fetched(state, *bake))),
        Request::Erase { bake, not_fetched } => {
            say(&or_refused(erase(state, *bake, *not_fetched)));
        }
        Request::Bath { sensor, is } => say(&or_refused(bath(state, usize::from(*sensor), *is))),
        Request::Readiness => say(&Reply::Readiness(readiness(state))),
        // The port's own end does that.
        Request::Watch(_) => say(&Reply::Done),
        Request::Start { .. }
        | Request::Answer { .. }
        | Request::Stop
        | Request::Acknowledge { .. } => say(&or_refused(command_of(state, request))),
    }
}

fn or_refused(done: Result<Reply<'static>, Refusal>) -> Reply<'static> {
    done.unwrap_or_else(Reply::Refused)
}

const NO_SETTINGS: Refusal = Refusal::NotReady(Obstacle::Settings);

fn bath(state: &mut State, sensor: usize, is: Reading) -> Result<Reply<'static>, Refusal> {
    let kept = state.kept.ok_or(NO_SETTINGS)?;
    if kept.settings.sensor(sensor).is_none() {
        return Err(Refusal::Bath(BathFault::NotFitted));
    }
    let correction_steps = state.two_points.bath(sensor, is).map_err(Refusal::Bath)?;
    let Some(correction_steps) = correction_steps else { return Ok(Reply::Done) };
    let kept = kept.corrected(sensor, correction_steps);
    state.keep_settings(kept);
    Ok(Reply::Settings(kept.settings))
}

/// What forbids a start, as on a board; what a board on the desk has none of is never wrong.
pub(super) fn obstacle(state: &State) -> Option<Obstacle> {
    let Some(kept) = &state.kept else { return Some(Obstacle::Settings) };
    let silent = |sensor: usize| {
        kept.settings.sensor(sensor).is_some() && state.readings.get(sensor) == Some(&None)
    };
    let found = [
        ((0..SENSORS).any(silent), Obstacle::Sensor),
        (kept.lacks_a_check(), Obstacle::TwoPoints),
        (state.loaded.is_none(), Obstacle::NoDocument),
        (state.bakes.len() >= BAKES_MAX, Obstacle::NoRoom),
    ];
    found.into_iter().find(|(holds, _)| *holds).map(|(_, obstacle)| obstacle)
}

fn readiness(state: &State) -> Readiness {
    let sensor = |sensor: usize| {
        let kept = state.kept.filter(|kept| kept.settings.sensor(sensor).is_some())?;
        let reading = state.readings.get(sensor).copied().flatten();
        Some(SensorState {
            reading: reading.and_then(Reading::from_celsius),
            check: CheckState::of(kept.is_checked(sensor), state.two_points.waits_for(sensor)),
        })
    };
    Readiness { obstacle: obstacle(state), sensors: core::array::from_fn(sensor) }
}

fn hello(state: &State) -> Reply<'static> {
    let part = |text: &str| text.parse().unwrap_or(0);
    let capabilities = if state.commissioning {
        Capabilities::VIRTUAL.and(Capabilities::COMMISSIONING)
    } else {
        Capabilities::VIRTUAL
    };
    Reply::Hello(Hello {
        product: PRODUCT,
        firmware: [
            part(env!("CARGO_PKG_VERSION_MAJOR")),
            part(env!("CARGO_PKG_VERSION_MINOR")),
            part(env!("CARGO_PKG_VERSION_PATCH")),
        ],
        board: number_of_this_board(),
        capabilities,
    })
}

/// Another for every process.
fn number_of_this_board() -> [u8; 8] {
    let [p0, p1, p2, p3] = std::process::id().to_be_bytes();
    [b'v', b'i', b'r', b't', p0, p1, p2, p3]
}

fn status(state: &State) -> Status {
    match &state.board {
        Some(board) => {
            let (last, door_open) = (state.last.as_ref(), state.door_open);
            let controller = board.controller();
            let status = Status::of(controller, state.now, last, door_open, state.rejected);
            if status.phase == Phase::Idle && state.ended.is_some() {
                Status { phase: Phase::Done, ended: state.ended, ..status }
            } else {
                status
            }
        }
        None => Status {
            phase: Phase::Idle,
            step: 0,
            second: 0,
            reading: None,
            setpoint: None,
            coldest: None,
            hottest: None,
            credit_s: 0,
            for_s: 0,
            on_ticks: 0,
            permit: false,
            door_open: state.door_open,
            asks: None,
            trip: None,
            awaits_go: None,
            ended: None,
            rejected: state.rejected,
        },
    }
}

fn take_document(state: &mut State, request: &Request<'_>) -> Result<(), Refusal> {
    if state.board.as_ref().is_some_and(|board| board.controller().trip().is_some()) {
        return Err(Refusal::Controller(command::Refusal::TripLatched));
    }
    match request {
        Request::Begin(outline) => {
            let upload = Upload::begin(*outline).map_err(Refusal::Upload)?;
            state.upload = Some((upload, Vec::new()));
        }
        Request::Piece(piece) => {
            let (upload, bytes) = state.upload.as_mut().ok_or(NOT_BEGUN)?;
            bytes.extend_from_slice(upload.piece(piece).map_err(Refusal::Upload)?);
        }
        _ => commit(state)?,
    }
    Ok(())
}

const NOT_BEGUN: Refusal = Refusal::Upload(truesoak_core::wire::upload::UploadFault::NotBegun);

fn commit(state: &mut State) -> Result<(), Refusal> {
    let Some((upload, bytes)) = state.upload.take() else {
        // A commit whose reply was lost is asked for again.
        return if state.loaded.is_some() { Ok(()) } else { Err(NOT_BEGUN) };
    };
    let outline = upload.finish().map_err(Refusal::Upload)?;
    let compiled = bytes.get(outline.compiled_offset() as usize..).unwrap_or(&[]);
    let compiled = Compiled::decode(compiled).map_err(Refusal::Document)?;
    if state.kept.is_some_and(|kept| !kept.settings.allows(&compiled.bake)) {
        return Err(Refusal::AboveOven);
    }
    state.ended = None;
    state.loaded = Some(Loaded { outline, bytes });
    state.make_ready().map_err(Refusal::Document)
}

fn bakes(state: &State, after: u32) -> Bakes {
    let mut later = state.bakes.iter().filter(|kept| kept.number > after);
    let listed: heapless::Vec<StoredBake, 8> =
        later.by_ref().take(truesoak_core::wire::messages::BAKES_MAX).map(listed).collect();
    Bakes { listed, more: later.next().is_some() }
}

fn listed(kept: &Kept) -> StoredBake {
    let head = kept.head();
    StoredBake {
        number: kept.number,
        started_unix_s: head.started_unix_s,
        seconds: head.seconds,
        bytes: head.bytes(),
        finished: head.ended.is_some(),
        fetched: kept.fetched,
    }
}

fn fetch(state: &State, bake: u32, offset: u32, say: &mut dyn FnMut(&Reply<'_>)) {
    let Some(kept) = state.bakes.iter().find(|kept| kept.number == bake) else {
        return say(&Reply::Refused(Refusal::NoSuchBake));
    };
    let head = kept.head();
    let Some(head_bytes) = head.encode() else {
        return say(&Reply::Refused(Refusal::StoreFailing));
    };
    let entries_at = head.entries_offset();
    if offset >= entries_at {
        let entry = (offset - entries_at) as usize / ENTRY_BYTES;
        let within = (offset - entries_at) as usize % ENTRY_BYTES;
        let some: Vec<u8> = kept
            .entries
            .iter()
            .skip(entry)
            .take(PIECE_BYTES_MAX / ENTRY_BYTES + 2)
            .flatten()
            .copied()
            .collect();
        return give(offset, some.get(within..), say);
    }
    let before = [head_bytes.as_slice(), &kept.document].concat();
    give(offset, before.get(offset as usize..), say);
}

/// A piece of what is left from an offset on.
fn give(offset: u32, left: Option<&[u8]>, say: &mut dyn FnMut(&Reply<'_>)) {
    match left {
        Some(left) if !left.is_empty() => say(&Reply::Piece(Piece::of(offset, left))),
        _ => say(&Reply::Refused(Refusal::PastTheEnd)),
    }
}

fn mark_fetched(state: &mut State, bake: u32) -> Result<Reply<'static>, Refusal> {
    let kept = state.bakes.iter_mut().find(|kept| kept.number == bake);
    let kept = kept.ok_or(Refusal::NoSuchBake)?;
    if kept.head.ended.is_none() {
        return Err(Refusal::Controller(command::Refusal::BakeRuns));
    }
    kept.fetched = true;
    Ok(Reply::Done)
}

fn erase(
    state: &mut State,
    bake: Option<u32>,
    not_fetched: bool,
) -> Result<Reply<'static>, Refusal> {
    match bake {
        None => state.bakes.retain(|kept| !(kept.fetched || not_fetched)),
        Some(number) => {
            let at = state.bakes.iter().position(|kept| kept.number == number);
            let at = at.ok_or(Refusal::NoSuchBake)?;
            if !(state.bakes[at].fetched || not_fetched) {
                return Err(Refusal::NotFetched);
            }
            state.bakes.remove(at);
        }
    }
    Ok(Reply::Done)
}

/// Start, answer, stop, acknowledge. Where the computer stands at the oven it presses GO as well.
fn command_of(state: &mut State, request: &Request<'_>) -> Result<Reply<'static>, Refusal> {
    let Some((asked, at_the_oven)) = request.command() else {
        return Err(Refusal::NoDocument);
    };
    let obstacle = obstacle(state);
    let now = state.now;
    let Some(board) = &mut state.board else {
        return Err(match asked {
            Command::Start => Refusal::NotReady(Obstacle::NoDocument),
            Command::Stop => Refusal::Controller(command::Refusal::NoBake),
            Command::Acknowledge => Refusal::Controller(command::Refusal::NoTrip),
            Command::Answer(_) => Refusal::Controller(command::Refusal::NothingAsked),
        });
    };
    let at_rest = board.mode() != Mode::Running && board.controller().trip().is_none();
    if let (Command::Start, true, Some(obstacle)) = (asked, at_rest, obstacle) {
        return Err(Refusal::NotReady(obstacle));
    }
    let standing = Standing { baking: false, commissioning: false, is_virtual: at_the_oven };
    let reply = hand_on(request, board.controller_mut(), now, standing);
    if at_the_oven && reply == Some(Reply::Done) {
        state.buttons.press(Button::Go);
    }
    reply.ok_or(Refusal::NoDocument)
}

const _: () = assert!(BAKES_MAX >= truesoak_core::wire::messages::BAKES_MAX);
