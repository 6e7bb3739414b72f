//! `device fetch`: the log of a bake, off the board's store.
//!
//! What has come is kept beside the log in a file of its own until the log is written, so that a
//! broken link, and a command that was interrupted too, go on where they stopped. The log of an oven
//! is never written over.

use super::{PortArgument, failed, log_file, tell_loss};
use crate::command::outputs::{NewFile, Output, failed as write_failed};
use crate::command::{Answer, Failure, Format, Globals, failure_text, print};
use crate::link::{Address, Flaw, Head, LinkError, Patience, Recorder, Session, StoredReader};
use crate::log::{BlackBoxHeader, Source, Writer, write_black_box};
use crate::report::units::duration;
use std::fs::{File, OpenOptions};
use std::io::{self, BufRead as _, BufReader, Read as _, Write as _};
use std::path::{Path, PathBuf};
use truesoak_core::event::Ending;
use truesoak_core::guard::TripKind;
use truesoak_core::wire::messages::{Request, StoredBake};
use truesoak_core::wire::tick_row::TickRow;

/// Which bake, and where to.
#[derive(Clone, Debug, clap::Args)]
pub(super) struct Arguments {
    /// The number of the bake [default: the last].
    #[arg(long, value_name = "N")]
    bake: Option<u32>,
    /// Write the log here; the log of an oven is never written over.
    #[arg(long, value_name = "F.csv")]
    log: PathBuf,
    /// Write the last minute before a trip here, tick by tick, to a new file.
    #[arg(long, value_name = "F.csv")]
    black_box: Option<PathBuf>,
}

/// Runs it.
pub(super) fn run(
    port: &PortArgument,
    arguments: &Arguments,
    globals: &Globals,
) -> Result<Answer, Failure> {
    let (address, mut session) = port.open()?;
    let bake = chosen(&mut session, &address, arguments.bake)?;
    let output = log_file::open(&arguments.log)?;
    let black_box = arguments.black_box.as_deref().map(NewFile::open).transpose();
    let black_box = black_box.inspect_err(|_| output.take_back())?;
    let fetched = fetch(&mut session, &address, &bake, &output, globals);
    // A new file that stayed empty would keep the same command from going on.
    let take_back = || black_box.iter().for_each(NewFile::take_back);
    let (part, fetched) = fetched.inspect_err(|_| take_back())?;
    let kept = black_box.as_ref().map(|file| fetched.write_black_box(file, &bake)).transpose()?;
    part.remove();
    if bake.finished {
        let marked = session.with(Patience::SHORT, tell_loss, |client, _| {
            client.done(&Request::MarkFetched { bake: bake.number })
        });
        marked.map_err(|error| failed(&address, &error))?;
    }
    let written = arguments.black_box.as_deref().filter(|_| kept == Some(true));
    fetched.tell(&bake, &arguments.log, written, globals)?;
    let all = fetched.flaws.is_empty() && kept != Some(false);
    Ok(if all { Answer::Yes } else { Answer::No })
}

/// Pulls what is missing and writes the log.
fn fetch(
    session: &mut Session,
    address: &Address,
    bake: &StoredBake,
    output: &Output,
    globals: &Globals,
) -> Result<(Part, Fetched), Failure> {
    let mut part =
        Part::open(output.path(), session, bake).map_err(|error| write_failed(output, &error))?;
    if part.len > 0 && !globals.quiet {
        eprintln!("going on where the last fetch stopped, after {} bytes", part.len);
    }
    pull(session, address, bake, &mut part)?;
    let fetched = write(session, output, &part)?;
    Ok((part, fetched))
}

/// The bake with this number, else the last.
fn chosen(
    session: &mut Session,
    address: &Address,
    number: Option<u32>,
) -> Result<StoredBake, Failure> {
    let bakes = session.with(Patience::SHORT, tell_loss, |client, _| client.bakes());
    let bakes = bakes.map_err(|error| failed(address, &error))?;
    let bake = match number {
        Some(number) => bakes.iter().find(|bake| bake.number == number),
        None => bakes.last(),
    };
    bake.copied().ok_or_else(|| {
        let known: Vec<String> = bakes.iter().map(|bake| bake.number.to_string()).collect();
        let expected = match known.as_slice() {
            [] => "a board that has baked".to_owned(),
            known => format!("one of {}", known.join(", ")),
        };
        let what = match number {
            Some(number) => format!("the board keeps no bake {number}"),
            None => "the board keeps no bake".to_owned(),
        };
        Failure::Refused(failure_text(
            &what,
            &address.to_string(),
            &expected,
            "truesoak device status lists what it keeps",
        ))
    })
}

fn pull(
    session: &mut Session,
    address: &Address,
    bake: &StoredBake,
    part: &mut Part,
) -> Result<(), Failure> {
    let path = part.path.clone();
    let mut trouble = None;
    let done = session.with(Patience::SHORT, tell_loss, |client, _| {
        let ask = |offset| Request::Fetch { bake: bake.number, offset };
        let range = part.len..bake.bytes;
        let reached = client.pull(range, ask, |bytes| {
            if let Err(error) = part.push(bytes) {
                trouble = Some(error);
            }
        })?;
        if reached < bake.bytes {
            return Err(LinkError::Unexpected(format!(
                "{reached} of {} bytes, and no more",
                bake.bytes
            )));
        }
        Ok(())
    });
    if let Some(error) = trouble {
        return Err(Failure::Write(format!(
            "error: {} could not be written: {error}",
            path.display()
        )));
    }
    done.map_err(|error| match error {
        LinkError::Interrupted => Failure::Interrupted(format!(
            "interrupted; {} has what has come, and the same command goes on from there",
            path.display()
        )),
        error => failed(address, &error),
    })
}

/// What came of a bake.
struct Fetched {
    rows: usize,
    ended: bool,
    flaws: Vec<Flaw>,
    board: String,
    trip: Option<TripKind>,
    /// The last minute before it.
    black_box: Vec<TickRow>,
}

/// Turns the bytes into the log.
fn write(session: &Session, output: &Output, part: &Part) -> Result<Fetched, Failure> {
    let bytes = part.bytes().map_err(|error| write_failed(output, &error))?;
    let mut reader = StoredReader::default();
    reader.take(&bytes);
    let head = reader.head().map_err(|error| unreadable(&error.to_string()))?;
    let head = head.ok_or_else(|| unreadable("it ends before its first row"))?;
    let greeting = session.greeting();
    let source = if greeting.is_virtual() { Source::Virtual } else { Source::Oven };
    let board = greeting.board_name();
    write_log(&head, source, board, reader, output).map_err(|error| write_failed(output, &error))
}

fn write_log(
    head: &Head,
    source: Source,
    board: String,
    mut reader: StoredReader,
    output: &Output,
) -> io::Result<Fetched> {
    let mut recorder = Recorder::new(head);
    let header = head.header(source, &board);
    let mut writer = Writer::new(output.emptied()?, &header, &[])?;
    let mut rows = 0;
    let mut trouble = Ok(());
    while let Some(entry) = reader.entry() {
        recorder.entry(entry, |row| {
            rows += 1;
            if trouble.is_ok() {
                trouble = writer.row(row, &[]);
            }
        });
    }
    trouble?;
    // A bake that has not ended has a log without a last line: its reader says where it breaks off.
    let ended = recorder.has_ended();
    if ended {
        writer.finish()?.sync_all()?;
    } else {
        writer.flush()?;
    }
    let trip = match head.told.ended {
        Some((Ending::Tripped(kind), _)) => Some(kind),
        _ => None,
    };
    let (flaws, black_box) = (recorder.flaws().to_vec(), recorder.black_box().to_vec());
    Ok(Fetched { rows, ended, flaws, board, trip, black_box })
}

fn unreadable(why: &str) -> Failure {
    Failure::Link(failure_text(
        &format!("the bake cannot be read: {why}"),
        "the board's store",
        "a bake as a board stores it",
        "use the truesoak of the same release as the board's program; the board keeps the bake",
    ))
}

impl Fetched {
    /// Writes the last minute before the trip; false, and no file, where there is none.
    fn write_black_box(&self, file: &NewFile, bake: &StoredBake) -> Result<bool, Failure> {
        let Some(trip) = self.trip.filter(|_| !self.black_box.is_empty()) else {
            file.take_back();
            eprintln!(
                "note: bake {} has no last minute before a trip; {} was not written",
                bake.number,
                file.path().display()
            );
            return Ok(false);
        };
        let (board, bake) = (self.board.clone(), bake.number);
        let header = BlackBoxHeader { board, bake, trip: trip.to_string() };
        let mut bytes = Vec::new();
        write_black_box(&mut bytes, &header, &self.black_box).map_err(|error| {
            Failure::Write(format!("error: {}: {error}", file.path().display()))
        })?;
        file.put(&bytes).map(|()| true)
    }

    fn tell(
        &self,
        bake: &StoredBake,
        log: &Path,
        black_box: Option<&Path>,
        globals: &Globals,
    ) -> Result<(), Failure> {
        for flaw in &self.flaws {
            eprintln!("note: {flaw}; nothing is counted past it");
        }
        if !self.black_box.is_empty() && black_box.is_none() && !globals.quiet {
            eprintln!(
                "note: the board keeps the last minute before the trip, tick by tick: \
                 --black-box F.csv writes it too"
            );
        }
        let shown = log.display();
        print(&match globals.format {
            Format::Json => format!(
                "{}\n",
                serde_json::json!({
                    "schema": "truesoak.fetch/1",
                    "board": self.board,
                    "bake": bake.number,
                    "seconds": bake.seconds,
                    "rows": self.rows,
                    "ended": self.ended,
                    "flaws": self.flaws.iter().map(ToString::to_string).collect::<Vec<_>>(),
                    "log": shown.to_string(),
                    "black_box": black_box,
                })
            ),
            Format::Text => {
                let end = if self.ended { "" } else { "; it has no end, and neither has its log" };
                format!(
                    "Bake {}: {}, {} rows in {shown}{end}.\n",
                    bake.number,
                    duration(bake.seconds.into()),
                    self.rows
                )
            }
        })
    }
}

/// What has come of a bake so far, in a file beside its log: a line that says which bake it is, then
/// the bytes.
struct Part {
    path: PathBuf,
    file: File,
    /// Bytes of the bake that are in it.
    len: u32,
    line: String,
}

impl Part {
    fn open(log: &Path, session: &Session, bake: &StoredBake) -> io::Result<Self> {
        let mut name = log.as_os_str().to_owned();
        name.push(".part");
        let path = PathBuf::from(name);
        let key = serde_json::json!({
            "board": session.greeting().board_name(),
            "bake": bake.number,
            "started_unix_s": bake.started_unix_s,
        });
        let line = format!("# truesoak.part/1 {key}\n");
        let known = Self::known(&path, &line).filter(|len| *len <= bake.bytes);
        let file = match known {
            Some(_) => OpenOptions::new().append(true).open(&path)?,
            None => {
                let mut file = File::create(&path)?;
                file.write_all(line.as_bytes())?;
                file
            }
        };
        Ok(Self { path, file, len: known.unwrap_or(0), line })
    }

    /// Bytes of the same bake that are there from before.
    fn known(path: &Path, line: &str) -> Option<u32> {
        let file = File::open(path).ok()?;
        let len = file.metadata().ok()?.len();
        let mut first = String::new();
        BufReader::new(file.take(line.len() as u64)).read_line(&mut first).ok()?;
        let bytes = len.checked_sub(line.len() as u64)?;
        (first == line).then(|| u32::try_from(bytes).ok()).flatten()
    }

    fn push(&mut self, bytes: &[u8]) -> io::Result<()> {
        self.file.write_all(bytes)?;
        self.len += u32::try_from(bytes.len()).unwrap_or(0);
        Ok(())
    }

    fn bytes(&self) -> io::Result<Vec<u8>> {
        let mut bytes = std::fs::read(&self.path)?;
        Ok(bytes.split_off(self.line.len().min(bytes.len())))
    }

    fn remove(self) {
        // One that stays is known as this bake's, and harms nobody.
        let _ = std::fs::remove_file(&self.path);
    }
}
