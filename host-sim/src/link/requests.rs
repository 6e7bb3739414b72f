//! What this program asks a board, each in one call.

use super::client::Client;
use super::document::Document;
use super::fault::LinkError;
use crate::interrupt;
use std::time::{Duration, Instant};
use truesoak_core::units::Reading;
use truesoak_core::wire::PIECE_BYTES_MAX;
use truesoak_core::wire::messages::{Piece, Readiness, Reply, Request, Status, StoredBake};
use truesoak_core::wire::refusal::{Obstacle, Refusal};
use truesoak_core::wire::settings::BoardSettings;
use truesoak_core::wire::upload::{Outline, UploadFault};

/// A board that tests itself, stores a bake or makes room is asked again for so long …
const GETTING_READY: Duration = Duration::from_secs(120);
/// … so often.
const AGAIN: Duration = Duration::from_millis(250);

/// What becomes of a request that leads to heat.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Taken {
    /// It is done.
    Done,
    /// It waits so many seconds for GO to be held at the oven.
    AwaitsGo(u8),
}

impl Client {
    /// What the board is doing.
    ///
    /// # Errors
    /// A lost link, another answer.
    pub fn status(&mut self) -> Result<Status, LinkError> {
        self.ask(&Request::Status, |reply| match reply {
            Reply::Status(status) => Some(*status),
            _ => None,
        })
    }

    /// What it is fitted with; `None` if nobody has commissioned it.
    ///
    /// # Errors
    /// A lost link, another answer.
    pub fn settings(&mut self) -> Result<Option<BoardSettings>, LinkError> {
        let settings = self.ask(&Request::Settings, |reply| match reply {
            Reply::Settings(settings) => Some(*settings),
            _ => None,
        });
        match settings {
            Err(LinkError::Refused(Refusal::NotReady(Obstacle::Settings))) => Ok(None),
            settings => settings.map(Some),
        }
    }

    /// What forbids a start, and how far each sensor's check has come.
    ///
    /// # Errors
    /// A lost link, another answer.
    pub fn readiness(&mut self) -> Result<Readiness, LinkError> {
        self.ask(&Request::Readiness, |reply| match reply {
            Reply::Readiness(readiness) => Some(*readiness),
            _ => None,
        })
    }

    /// A sensor is in a bath that is this. True once it has been through both.
    ///
    /// # Errors
    /// A lost link; a bath that tells the board nothing of it.
    pub fn bath(&mut self, sensor: u8, is: Reading) -> Result<bool, LinkError> {
        self.command(&Request::Bath { sensor, is }, |reply| match reply {
            Reply::Done => Some(false),
            Reply::Settings(_) => Some(true),
            _ => None,
        })
    }

    /// Every bake it keeps, the oldest first.
    ///
    /// # Errors
    /// A lost link, another answer.
    pub fn bakes(&mut self) -> Result<Vec<StoredBake>, LinkError> {
        let mut all: Vec<StoredBake> = Vec::new();
        loop {
            let after = all.last().map_or(0, |bake| bake.number);
            let (listed, more) = self.ask(&Request::Bakes { after }, |reply| match reply {
                Reply::Bakes(bakes) => Some((bakes.listed.to_vec(), bakes.more)),
                _ => None,
            })?;
            // A board that says more and gives none, or the same again, is not asked for ever.
            let later: Vec<StoredBake> =
                listed.into_iter().filter(|bake| bake.number > after).collect();
            let ends = later.is_empty() || !more;
            all.extend(later);
            if ends {
                return Ok(all);
            }
        }
    }

    /// The document that is there; `None` if none is.
    ///
    /// # Errors
    /// A lost link, another answer.
    pub fn outline(&mut self) -> Result<Option<Outline>, LinkError> {
        let outline = self.ask(&Request::Document, |reply| match reply {
            Reply::Document(outline) => Some(*outline),
            _ => None,
        });
        match outline {
            Err(LinkError::Refused(Refusal::NoDocument)) => Ok(None),
            outline => outline.map(Some),
        }
    }

    /// Sends a document whole and has the board take it for the next bake. `told` hears how many
    /// bytes have gone.
    ///
    /// # Errors
    /// A lost link, a refusal; nothing has changed on the board then.
    pub fn upload(
        &mut self,
        document: &Document,
        mut told: impl FnMut(usize),
    ) -> Result<(), LinkError> {
        let outline = document.outline();
        self.when_ready(|client| client.done(&Request::Begin(outline)))?;
        let bytes = document.bytes();
        for (index, piece) in bytes.chunks(PIECE_BYTES_MAX).enumerate() {
            if interrupt::asked() {
                return Err(LinkError::Interrupted);
            }
            let at = index * PIECE_BYTES_MAX;
            let offset = u32::try_from(at).unwrap_or(u32::MAX);
            self.done(&Request::Piece(Piece { offset, bytes: piece }))?;
            told(at + piece.len());
        }
        match self.done(&Request::Commit) {
            // The reply to the first commit was lost: the second finds nothing to do.
            Err(LinkError::Refused(Refusal::Upload(UploadFault::NotBegun)))
                if self.outline()? == Some(outline) =>
            {
                Ok(())
            }
            done => done,
        }
    }

    /// Reads the document back, byte for byte.
    ///
    /// # Errors
    /// A lost link, no document.
    pub fn read_back(
        &mut self,
        outline: &Outline,
        mut told: impl FnMut(usize),
    ) -> Result<Vec<u8>, LinkError> {
        let mut bytes = Vec::new();
        self.pull(
            0..outline.bytes(),
            |offset| Request::ReadBack { offset },
            |piece| {
                bytes.extend_from_slice(piece);
                told(bytes.len());
            },
        )?;
        Ok(bytes)
    }

    /// Hands a request that leads to heat, or ends it, to the controller. It is sent once.
    ///
    /// # Errors
    /// A lost link, after which nobody knows whether it was taken; a refusal.
    pub fn hand_in(&mut self, request: &Request<'_>) -> Result<Taken, LinkError> {
        self.when_ready(|client| {
            client.command(request, |reply| match reply {
                Reply::Done => Some(Taken::Done),
                Reply::AwaitsGo(seconds) => Some(Taken::AwaitsGo(*seconds)),
                _ => None,
            })
        })
    }

    /// Asks again while the board says that it is getting ready.
    fn when_ready<T>(
        &mut self,
        mut work: impl FnMut(&mut Self) -> Result<T, LinkError>,
    ) -> Result<T, LinkError> {
        let until = Instant::now() + GETTING_READY;
        loop {
            match work(self) {
                Err(LinkError::Refused(Refusal::NotReady(
                    Obstacle::Testing | Obstacle::LastBake | Obstacle::MakingRoom,
                ))) if Instant::now() < until && !interrupt::asked() => std::thread::sleep(AGAIN),
                done => return done,
            }
        }
    }
}
