//! The ports of a board on the desk. Several may talk to it at once, each with its own replies.

use super::Way;
use super::desk::answer;
use super::state::{Shared, State};
use std::io::{self, ErrorKind, Read, Write};
use std::net::{Ipv4Addr, TcpListener, TcpStream};
use std::sync::Arc;
use std::thread::JoinHandle;
use std::time::Duration;
use truesoak_core::wire::frame::{Decoder, Frame, parse};
use truesoak_core::wire::messages::{Reply, Request};
use truesoak_core::wire::refusal::Refusal;

/// A read gives up after so long, and a port nobody has open is looked at again.
const MOMENT: Duration = Duration::from_millis(10);
/// A reader that takes nothing for so long is gone.
const WRITE: Duration = Duration::from_secs(5);

/// Opens the way in and serves it.
///
/// # Errors
/// A system that gives none.
pub(super) fn open(shared: &Arc<Shared>, way: Way) -> io::Result<(String, JoinHandle<()>)> {
    match way {
        #[cfg(unix)]
        Way::PseudoTerminal => terminal::open(shared),
        #[cfg(not(unix))]
        Way::PseudoTerminal => open_tcp(shared),
        Way::Tcp => open_tcp(shared),
    }
}

fn open_tcp(shared: &Arc<Shared>) -> io::Result<(String, JoinHandle<()>)> {
    // Only this machine: the link has no password.
    let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, 0))?;
    listener.set_nonblocking(true)?;
    let address = format!("tcp:{}", listener.local_addr()?);
    let shared = Arc::clone(shared);
    Ok((address, std::thread::spawn(move || accept(&shared, &listener))))
}

fn accept(shared: &Arc<Shared>, listener: &TcpListener) {
    let mut talks: Vec<JoinHandle<()>> = Vec::new();
    while !shared.is_off() {
        match listener.accept() {
            Ok((stream, _)) => {
                let shared = Arc::clone(shared);
                talks.push(std::thread::spawn(move || talk(&shared, stream)));
            }
            Err(_) => std::thread::sleep(MOMENT),
        }
        talks.retain(|talk| !talk.is_finished());
    }
    for talk in talks {
        // A thread that panicked has said so itself.
        let _ = talk.join();
    }
}

fn talk(shared: &Shared, mut stream: TcpStream) {
    let ready = stream
        .set_nonblocking(false)
        .and_then(|()| stream.set_read_timeout(Some(MOMENT)))
        .and_then(|()| stream.set_write_timeout(Some(WRITE)))
        .and_then(|()| stream.set_nodelay(true));
    let mut end = BoardEnd::default();
    while ready.is_ok() && !shared.is_off() {
        match end.turn(shared, &mut stream) {
            Ok(true) => {}
            // The other side has closed.
            Ok(false) | Err(_) => return,
        }
    }
}

#[cfg(unix)]
mod terminal {
    use super::{Arc, BoardEnd, JoinHandle, MOMENT, Shared, io};
    use serialport::{SerialPort as _, TTYPort};

    pub(super) fn open(shared: &Arc<Shared>) -> io::Result<(String, JoinHandle<()>)> {
        let (mut master, slave) = TTYPort::pair()?;
        master.set_timeout(MOMENT)?;
        let name = slave.name().ok_or_else(|| io::Error::other("the terminal has no name"))?;
        // Held open here, a program that ends without closing it would keep it for ever.
        drop(slave);
        let shared = Arc::clone(shared);
        Ok((name, std::thread::spawn(move || talk(&shared, &mut master))))
    }

    fn talk(shared: &Shared, master: &mut TTYPort) {
        let mut end = BoardEnd::default();
        while !shared.is_off() {
            if !end.turn(shared, master).unwrap_or(false) {
                // Nobody has it open. Whoever does next begins afresh.
                end = BoardEnd::default();
                std::thread::sleep(MOMENT);
            }
        }
    }
}

/// The board's end of one connection.
#[derive(Default)]
struct BoardEnd {
    decoder: Decoder,
    /// Number of the next live row, where they are wanted.
    watched: Option<u64>,
}

impl BoardEnd {
    /// Takes what has come and says what is to be said; false once nobody is there.
    fn turn<Port: Read + Write>(&mut self, shared: &Shared, port: &mut Port) -> io::Result<bool> {
        let mut bytes = [0; 1024];
        let len = match port.read(&mut bytes) {
            Ok(0) => return Ok(false),
            Ok(len) => len,
            Err(error) if passes(error.kind()) => 0,
            Err(error) => return Err(error),
        };
        let mut said = Vec::new();
        let mut state = shared.lock();
        if state.alive {
            for byte in bytes.iter().take(len) {
                self.hear(*byte, &mut state, &mut said);
            }
            self.show_rows(&state, &mut said);
        }
        drop(state);
        if !said.is_empty() {
            port.write_all(&said)?;
            port.flush()?;
        }
        Ok(true)
    }

    fn hear(&mut self, byte: u8, state: &mut State, said: &mut Vec<u8>) {
        match self.decoder.push(byte) {
            None => {}
            Some(Err(_)) => state.rejected = state.rejected.saturating_add(1),
            Some(Ok(content)) => match parse::<Request<'_>>(content) {
                Ok((request, number)) => {
                    if let Request::Watch(wanted) = request {
                        self.watched = wanted.then_some(state.live.next);
                    }
                    answer(state, &request, &mut |reply| say(reply, number, said));
                }
                Err(reject) => {
                    state.rejected = state.rejected.saturating_add(1);
                    say(&Reply::Refused(Refusal::Frame(reject)), 0, said);
                }
            },
        }
    }

    fn show_rows(&mut self, state: &State, said: &mut Vec<u8>) {
        let Some(from) = self.watched.as_mut() else { return };
        for row in state.live.since(*from) {
            say(&Reply::Row(*row), 0, said);
        }
        *from = state.live.next;
    }
}

fn say(reply: &Reply<'_>, number: u8, said: &mut Vec<u8>) {
    // Every reply fits: a piece is cut to what does.
    if let Ok(frame) = Frame::of(reply, number) {
        said.extend_from_slice(frame.bytes());
    }
}

fn passes(kind: ErrorKind) -> bool {
    matches!(kind, ErrorKind::TimedOut | ErrorKind::WouldBlock | ErrorKind::Interrupted)
}
