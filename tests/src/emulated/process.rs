//! The emulator as a child process: a request, a reply, and nothing runs in between.
//!
//! A child that ends or an answer that is too short ends the scenario: its own words are on stderr.
//! One that is still there when its time is up is ended, whatever it does.

use serde_json::Value;
use std::io::{BufReader, Read, Write};
use std::path::PathBuf;
use std::process::{Child, ChildStdin, ChildStdout, Command, Stdio};
use std::sync::mpsc::{RecvTimeoutError, Sender, channel};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

/// How the processor is emulated.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Mode {
    /// As the emulator's package does it: the truth.
    Exact,
    /// The same instructions, found faster.
    Fast,
    /// The same, with single-precision arithmetic done outside; times are not the chip's.
    Float,
}

/// What a child is started with.
#[derive(Clone, Debug)]
pub struct Start {
    /// The image, sealed.
    pub elf: PathBuf,
    /// How the processor is emulated.
    pub mode: Mode,
    /// Converters on the three selects by their chip's name, `-` for none.
    pub fitted: [&'static str; 3],
    /// Seed of torn flash operations.
    pub seed: u32,
    /// It is ended after so long.
    pub longest: Duration,
}

/// A running child.
#[derive(Debug)]
pub struct Process {
    child: Arc<Mutex<Child>>,
    /// Whoever waits for its time to be up hears that it is over.
    _over: Sender<()>,
    until: Instant,
    longest: Duration,
    requests: ChildStdin,
    replies: BufReader<ChildStdout>,
}

const ORDER: u8 = 2;
const READ_FLASH: u8 = 3;
const WRITE_FLASH: u8 = 4;
const READ_MEMORY: u8 = 5;

impl Process {
    /// Starts a child.
    ///
    /// # Errors
    /// No `node`, or one that cannot be talked to.
    pub fn start(start: &Start) -> std::io::Result<Self> {
        let server = crate::path("tests/emulator/server.mjs");
        let mode = match start.mode {
            Mode::Exact => "exact",
            Mode::Fast => "fast",
            Mode::Float => "float",
        };
        let mut command = Command::new("node");
        command.arg(server).arg(&start.elf);
        command.args(["--mode", mode, "--fitted", &start.fitted.join(",")]);
        command.args(["--seed", &start.seed.to_string()]);
        let mut child = command.stdin(Stdio::piped()).stdout(Stdio::piped()).spawn()?;
        let missing = || std::io::Error::other("the emulator has no pipe");
        let requests = child.stdin.take().ok_or_else(missing)?;
        let replies = BufReader::new(child.stdout.take().ok_or_else(missing)?);
        let child = Arc::new(Mutex::new(child));
        let (over, is_over) = channel::<()>();
        let (longest, watched) = (start.longest, child.clone());
        std::thread::spawn(move || {
            if is_over.recv_timeout(longest) == Err(RecvTimeoutError::Timeout) {
                end(&watched);
            }
        });
        let until = Instant::now() + longest;
        Ok(Self { child, _over: over, until, longest, requests, replies })
    }

    /// A request and its reply.
    ///
    /// # Panics
    /// The emulator ended: the scenario is over, and it has said why.
    pub fn call(&mut self, request: &[u8]) -> Vec<u8> {
        self.exchange(request).unwrap_or_else(|error| {
            let is_late = Instant::now() >= self.until;
            assert!(!is_late, "not over after {:.0} s of wall time", self.longest.as_secs_f64());
            panic!("the emulator ended: {error}")
        })
    }

    fn exchange(&mut self, request: &[u8]) -> std::io::Result<Vec<u8>> {
        let length = u32::try_from(request.len()).map_err(std::io::Error::other)?;
        let mut message = length.to_le_bytes().to_vec();
        message.extend_from_slice(request);
        self.requests.write_all(&message)?;
        self.requests.flush()?;
        let mut length = [0; 4];
        self.replies.read_exact(&mut length)?;
        let mut reply = vec![0; u32::from_le_bytes(length) as usize];
        self.replies.read_exact(&mut reply)?;
        Ok(reply)
    }

    /// Something rare, by its name (`tests/emulator/orders.mjs`).
    ///
    /// # Panics
    /// The emulator ended, or does not know the order.
    pub fn order(&mut self, order: &Value) -> Value {
        let mut request = vec![ORDER];
        request.extend_from_slice(order.to_string().as_bytes());
        let reply = self.call(&request);
        serde_json::from_slice(&reply).expect("the emulator answers orders in JSON")
    }

    /// Bytes of the flash.
    pub fn read_flash(&mut self, offset: u32, bytes: u32) -> Vec<u8> {
        let [from, length] = [offset.to_le_bytes(), bytes.to_le_bytes()];
        self.call(&[&[READ_FLASH], &from[..], &length[..]].concat())
    }

    /// Bytes of the memory.
    pub fn read_memory(&mut self, address: u32, bytes: u32) -> Vec<u8> {
        let [from, length] = [address.to_le_bytes(), bytes.to_le_bytes()];
        self.call(&[&[READ_MEMORY], &from[..], &length[..]].concat())
    }

    /// Overwrites the flash, as no program could.
    pub fn write_flash(&mut self, offset: u32, bytes: &[u8]) {
        let _ = self.call(&[&[WRITE_FLASH], &offset.to_le_bytes()[..], bytes].concat());
    }
}

impl Drop for Process {
    fn drop(&mut self) {
        // It ends with its pipe; this one only does not wait for that.
        end(&self.child);
    }
}

fn end(child: &Mutex<Child>) {
    if let Ok(mut child) = child.lock() {
        let _ = child.kill();
        let _ = child.wait();
    }
}
