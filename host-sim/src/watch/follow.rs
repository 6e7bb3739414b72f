//! Follows a board through a bake: its status, and its log as the board stores it.
//!
//! Rows are taken from the store and from nowhere else, in their order and from the byte where the
//! last look ended: what was missed while the link was down is fetched like everything else, so a
//! gap cannot stay. The log is written as it comes.

use crate::link::{Client, Flaw, Greeting, Head, LinkError, Recorder, Session, StoredReader};
use crate::log::{Row, Source, Writer};
use std::fs::File;
use std::io;
use truesoak_core::command::Command;
use truesoak_core::io::Question;
use truesoak_core::record::Phase;
use truesoak_core::wire::messages::{Request, Status, StoredBake};

/// Rows are fetched once so many seconds of them are there, or something happens.
const FETCH_S: u32 = 10;

/// What a look brought.
#[derive(Clone, Debug, Default)]
pub struct News {
    /// What the board is doing.
    pub status: Option<Status>,
    /// What is baked, the first time it is known.
    pub head: Option<Box<Head>>,
    /// Rows that are new.
    pub rows: Vec<Row>,
    /// The bake is over and its log whole.
    pub ended: bool,
}

/// Why following ends.
#[derive(Debug, thiserror::Error)]
pub enum FollowError {
    /// The board, or the link to it.
    #[error("{0}")]
    Link(#[from] LinkError),
    /// The log cannot be written.
    #[error("the log could not be written: {0}")]
    Log(#[from] io::Error),
    /// What the board stores cannot be read.
    #[error("{0}")]
    Head(#[from] crate::link::NoHead),
}

/// One board, one bake.
pub struct Follower {
    session: Session,
    /// Where the log goes, until its first line is known.
    file: Option<File>,
    writer: Option<Writer<File>>,
    bake: Option<u32>,
    at: u32,
    reader: StoredReader,
    recorder: Option<Recorder>,
    seen: Option<(u32, Phase, Option<Question>)>,
}

impl Follower {
    /// Of a board, with a file for the log if one is wanted.
    #[must_use]
    pub fn new(session: Session, file: Option<File>) -> Self {
        Self {
            session,
            file,
            writer: None,
            bake: None,
            at: 0,
            reader: StoredReader::default(),
            recorder: None,
            seen: None,
        }
    }

    /// Who the board is.
    #[must_use]
    pub fn greeting(&self) -> &Greeting {
        self.session.greeting()
    }

    /// What was missing or wrong in the rows so far.
    #[must_use]
    pub fn flaws(&self) -> &[Flaw] {
        self.recorder.as_ref().map_or(&[], Recorder::flaws)
    }

    /// Looks once; after a loss the next look opens the port again.
    ///
    /// # Errors
    /// A loss, which the next look may mend; a log that cannot be written; a bake that cannot be
    /// read.
    pub fn look(&mut self) -> Result<News, FollowError> {
        let Self { session, bake, at, reader, seen, .. } = self;
        let (status, finished) = session.once(|client, _| {
            let status = client.status()?;
            let due = is_due(*seen, &status) || bake.is_none();
            let stored = if due { chosen(client, *bake, &status)? } else { None };
            if let Some(stored) = stored {
                *bake = Some(stored.number);
                let ask = |offset| Request::Fetch { bake: stored.number, offset };
                // What has come stays, also when the link is lost before the rest.
                client.pull(*at..stored.bytes, ask, |bytes| {
                    reader.take(bytes);
                    *at += u32::try_from(bytes.len()).unwrap_or(0);
                })?;
                *seen = Some((status.second, status.phase, status.asks));
            }
            let whole = stored.is_some_and(|stored| stored.finished && *at >= stored.bytes);
            // A bake may end while its rows are on their way: then they are newer than the status.
            let status = if whole { client.status()? } else { status };
            Ok((status, whole))
        })?;
        let mut news = News { status: Some(status), ..News::default() };
        self.take_rows(&mut news)?;
        news.ended = finished;
        Ok(news)
    }

    /// Ends the log: with its last line if the bake ended, else as far as it came.
    ///
    /// # Errors
    /// A log that cannot be written.
    pub fn finish(mut self) -> io::Result<()> {
        let ended = self.recorder.as_ref().is_some_and(Recorder::has_ended);
        match self.writer.take() {
            Some(writer) if ended => writer.finish()?.sync_all(),
            Some(mut writer) => writer.flush(),
            None => Ok(()),
        }
    }

    fn take_rows(&mut self, news: &mut News) -> Result<(), FollowError> {
        if let Some(head) = self.reader.head()? {
            let greeting = self.session.greeting();
            let source = if greeting.is_virtual() { Source::Virtual } else { Source::Oven };
            let header = head.header(source, &greeting.board_name());
            self.writer =
                self.file.take().map(|file| Writer::new(file, &header, &[])).transpose()?;
            self.recorder = Some(Recorder::new(&head));
            news.head = Some(Box::new(head));
        }
        let Some(recorder) = &mut self.recorder else { return Ok(()) };
        while let Some(entry) = self.reader.entry() {
            recorder.entry(entry, |row| news.rows.push(row.clone()));
        }
        if let Some(writer) = &mut self.writer {
            for row in &news.rows {
                writer.row(row, &[])?;
            }
            writer.flush()?;
        }
        Ok(())
    }
}

/// There is enough to fetch, or something has happened.
fn is_due(seen: Option<(u32, Phase, Option<Question>)>, status: &Status) -> bool {
    seen.is_none_or(|(second, phase, asks)| {
        status.second < second
            || status.second >= second + FETCH_S
            || (status.phase, status.asks) != (phase, asks)
            || status.ended.is_some()
    })
}

/// The bake that is followed, once there is one: the one that runs, or the last if the board has
/// just ended it and is asked for no other.
fn chosen(
    client: &mut Client,
    known: Option<u32>,
    status: &Status,
) -> Result<Option<StoredBake>, LinkError> {
    let bakes = client.bakes()?;
    if let Some(number) = known {
        return Ok(bakes.into_iter().find(|bake| bake.number == number));
    }
    let starts = matches!(status.awaits_go, Some((Command::Start, _)));
    let last = bakes.into_iter().next_back();
    Ok(last.filter(|bake| !bake.finished || (status.ended.is_some() && !starts)))
}
