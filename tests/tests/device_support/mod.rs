//! A virtual board with a bake on it, and ways between computer and board that go wrong.
#![allow(dead_code)] // every test file uses a part of it

use std::io::{Read, Write};
use std::net::{Ipv4Addr, TcpListener, TcpStream};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};
use truesoak::files::Setup;
use truesoak::link::{Address, Document, LinkError, Patience, Session, Taken};
use truesoak::rehearse::Bench;
use truesoak::virtual_board::{Options, VirtualBoard, Way};
use truesoak_core::wire::messages::{Request, StoredBake};

/// As fast as this machine goes.
pub(crate) const FAST: f64 = 100_000.0;

pub(crate) fn board(setup: &Setup, way: Way, speed: f64) -> VirtualBoard {
    VirtualBoard::start(Options { speed, ..Options::of(setup) }, way).expect("a port")
}

pub(crate) fn address(board: &VirtualBoard) -> Address {
    board.address().parse().expect("an address")
}

pub(crate) fn open(board: &VirtualBoard) -> Session {
    Session::open(&address(board)).expect("the board")
}

pub(crate) fn document(setup: &Setup, job: &str) -> Document {
    let bench = Bench::new(setup).expect("a bake");
    Document::of(setup, &bench, job, "a remark").expect("a document")
}

/// Sends the bake; the board's bytes are the ones meant.
pub(crate) fn send(session: &mut Session, document: &Document) {
    let outline = document.outline();
    let back = session.with(
        Patience::SHORT,
        |_| {},
        |client, _| {
            client.upload(document, |_| {})?;
            assert_eq!(client.outline()?, Some(outline));
            client.read_back(&outline, |_| {})
        },
    );
    assert_eq!(back.expect("sent"), document.bytes());
}

pub(crate) fn start_at_once(session: &mut Session) {
    let start = Request::Start { at_the_oven: true };
    assert_eq!(session.once(|client, _| client.hand_in(&start)), Ok(Taken::Done));
}

/// Waits until a look at the board shows what is wanted.
#[track_caller]
pub(crate) fn until<T>(
    session: &mut Session,
    mut look: impl FnMut(&mut truesoak::link::Client) -> Result<Option<T>, LinkError>,
) -> T {
    let since = Instant::now();
    loop {
        let seen = session.with(Patience::SHORT, |_| {}, |client, _| look(client));
        if let Some(seen) = seen.expect("the board") {
            return seen;
        }
        assert!(since.elapsed() < Duration::from_secs(240), "it never came");
        std::thread::sleep(Duration::from_millis(20));
    }
}

/// The first bake, once it is over.
pub(crate) fn finished(session: &mut Session) -> StoredBake {
    until(session, |client| Ok(client.bakes()?.into_iter().find(|bake| bake.finished)))
}

/// All bytes of a stored bake.
pub(crate) fn fetch(session: &mut Session, bake: &StoredBake) -> Vec<u8> {
    let mut bytes = Vec::new();
    let done = session.with(
        Patience::SHORT,
        |_| {},
        |client, _| {
            let from = u32::try_from(bytes.len()).expect("small");
            let ask = |offset| Request::Fetch { bake: bake.number, offset };
            client.pull(from..bake.bytes, ask, |piece| bytes.extend_from_slice(piece))
        },
    );
    assert_eq!(done, Ok(bake.bytes));
    bytes
}

/// What a way does to the bytes that pass it.
pub(crate) trait Passage: Send + Sync + 'static {
    /// Changes bytes on their way; `false` breaks the connection behind them.
    fn pass(&self, bytes: &mut Vec<u8>) -> bool;
}

impl<F: Fn(&mut Vec<u8>) -> bool + Send + Sync + 'static> Passage for F {
    fn pass(&self, bytes: &mut Vec<u8>) -> bool {
        self(bytes)
    }
}

/// A way between computer and board that does something to what passes.
pub(crate) struct Between {
    pub(crate) address: Address,
    off: Arc<AtomicBool>,
}

impl Between {
    pub(crate) fn new(board: &VirtualBoard, way: impl Passage) -> Self {
        let behind = board.address().strip_prefix("tcp:").expect("tcp").to_owned();
        let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, 0)).expect("a port");
        let address = format!("tcp:{}", listener.local_addr().expect("an address"));
        listener.set_nonblocking(true).expect("a listener");
        let off = Arc::new(AtomicBool::new(false));
        let (ends, way) = (Arc::clone(&off), Arc::new(way));
        std::thread::spawn(move || {
            while !ends.load(Ordering::Relaxed) {
                let Ok((near, _)) = listener.accept() else {
                    std::thread::sleep(Duration::from_millis(5));
                    continue;
                };
                let Ok(far) = TcpStream::connect(&behind) else { continue };
                let _ = near.set_nonblocking(false);
                let both = [(&near, &far), (&far, &near)];
                for (from, to) in both.map(|(a, b)| (a.try_clone(), b.try_clone())) {
                    let (from, to) = (from.expect("a copy"), to.expect("a copy"));
                    let way = Arc::clone(&way);
                    std::thread::spawn(move || carry(from, to, way.as_ref()));
                }
            }
        });
        Self { address: address.parse().expect("an address"), off }
    }
}

impl Drop for Between {
    fn drop(&mut self) {
        self.off.store(true, Ordering::Relaxed);
    }
}

fn carry(mut from: TcpStream, mut to: TcpStream, way: &dyn Passage) {
    let mut bytes = [0; 700];
    while let Ok(len @ 1..) = from.read(&mut bytes) {
        let mut passing = bytes[..len].to_vec();
        let goes_on = way.pass(&mut passing);
        if to.write_all(&passing).is_err() || !goes_on {
            break;
        }
    }
    for end in [&from, &to] {
        let _ = end.shutdown(std::net::Shutdown::Both);
    }
}
