//! A board that is talked to for a while: what is lost is opened again, and is the same board.

use super::Address;
use super::client::{Client, Greeting};
use super::fault::LinkError;
use super::port;
use crate::interrupt;
use std::time::{Duration, Instant, SystemTime, UNIX_EPOCH};

/// A lost board is looked for so often.
const AGAIN: Duration = Duration::from_millis(500);

/// How long a lost board is looked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Patience {
    /// So long.
    For(Duration),
    /// Until a person stops it.
    Endless,
}

impl Patience {
    /// Of a command that a person waits for.
    pub const SHORT: Self = Self::For(Duration::from_secs(10));
}

/// A board, through lost links.
pub struct Session {
    address: Address,
    client: Option<Client>,
    greeting: Greeting,
}

impl Session {
    /// Opens the port and greets the board.
    ///
    /// # Errors
    /// No board, a port that cannot be opened, something else than a board.
    pub fn open(address: &Address) -> Result<Self, LinkError> {
        let (client, greeting) = connect(address)?;
        Ok(Self { address: address.clone(), client: Some(client), greeting })
    }

    /// Who it is.
    #[must_use]
    pub fn greeting(&self) -> &Greeting {
        &self.greeting
    }

    /// Does something with the board; when the link is lost, again from its beginning. `tell` hears
    /// of every loss, and once more, with `None`, when the board is back.
    ///
    /// # Errors
    /// What `work` gives but a loss, a loss that outlasts `patience`, Ctrl-C.
    pub fn with<T>(
        &mut self,
        patience: Patience,
        mut tell: impl FnMut(Option<&LinkError>),
        mut work: impl FnMut(&mut Client, &Greeting) -> Result<T, LinkError>,
    ) -> Result<T, LinkError> {
        loop {
            let client = match &mut self.client {
                Some(client) => client,
                None => {
                    let client = self.connect_again(patience, &mut tell)?;
                    self.client.insert(client)
                }
            };
            match work(client, &self.greeting) {
                Err(LinkError::Lost(why)) => {
                    tell(Some(&LinkError::Lost(why)));
                    self.client = None;
                }
                done => return done,
            }
        }
    }

    /// The same once: nothing is asked a second time.
    ///
    /// # Errors
    /// What `work` gives.
    pub fn once<T>(
        &mut self,
        work: impl FnOnce(&mut Client, &Greeting) -> Result<T, LinkError>,
    ) -> Result<T, LinkError> {
        let client = match &mut self.client {
            Some(client) => client,
            None => {
                let client = self.connect_again(Patience::SHORT, &mut |_| {})?;
                self.client.insert(client)
            }
        };
        let done = work(client, &self.greeting);
        if matches!(done, Err(LinkError::Lost(_))) {
            self.client = None;
        }
        done
    }

    fn connect_again(
        &mut self,
        patience: Patience,
        tell: &mut impl FnMut(Option<&LinkError>),
    ) -> Result<Client, LinkError> {
        let since = Instant::now();
        loop {
            if interrupt::asked() {
                return Err(LinkError::Interrupted);
            }
            match connect(&self.address) {
                Ok((client, greeting)) if greeting.board == self.greeting.board => {
                    self.greeting = greeting;
                    tell(None);
                    return Ok(client);
                }
                Ok(_) => return Err(LinkError::OtherBoard),
                Err(error) if !error.may_pass() => return Err(error),
                Err(error) => {
                    if let Patience::For(longest) = patience
                        && since.elapsed() >= longest
                    {
                        return Err(error);
                    }
                    std::thread::sleep(AGAIN);
                }
            }
        }
    }
}

fn connect(address: &Address) -> Result<(Client, Greeting), LinkError> {
    Client::greet(port::open(address)?, unix_s())
}

/// Seconds since 1970-01-01 UTC; the board tells by it when a bake began.
fn unix_s() -> Option<u32> {
    let since = SystemTime::now().duration_since(UNIX_EPOCH).ok()?;
    u32::try_from(since.as_secs()).ok()
}
