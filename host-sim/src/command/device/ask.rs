//! `device start`, `answer`, `stop`, `acknowledge`: requests, and whether they came to anything.
//!
//! What leads to heat waits at the oven for GO; this waits beside it and says which way it went. A
//! request is sent once: when its reply is lost, the board's status tells whether it was taken.

use super::{PortArgument, failed, tell_loss};
use crate::command::{Answer, Failure, Format, Globals, failure_text, print};
use crate::interrupt;
use crate::link::{Address, LinkError, Patience, Session, Taken};
use clap::ValueEnum;
use std::time::Duration;
use truesoak_core::io::Question;
use truesoak_core::wire::messages::{Request, Said, Status};

/// The board's status is looked at so often.
const LOOK: Duration = Duration::from_millis(250);
/// A request that needs no GO has come to something within so many looks.
const LOOKS: u32 = 40;

/// Who stands at the oven.
#[derive(Clone, Copy, Debug, clap::Args)]
pub(super) struct AtTheOven {
    /// Press GO as well; only a virtual board lets a computer do that.
    #[arg(long)]
    i_am_at_the_oven: bool,
}

/// How to answer.
#[derive(Clone, Copy, Debug, clap::Args)]
pub(super) struct AnswerArguments {
    /// Pass and go are one press of GO; fail is STOP held for five seconds.
    #[arg(value_enum)]
    say: Say,
    #[command(flatten)]
    at: AtTheOven,
}

/// An answer as it is typed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum Say {
    /// The check is passed.
    Pass,
    /// It is not; or: yes, something new is inside.
    Fail,
    /// Go on; loaded; nothing new.
    Go,
}

/// One request and what it is to come to.
struct Wish {
    request: Request<'static>,
    /// What is done once GO was held, as "the bake has started".
    done: &'static str,
    /// What was not, as "nothing was started".
    not_done: &'static str,
    came_true: fn(&Before, &Status) -> bool,
}

/// What the board was asking before.
struct Before {
    asks: Option<Question>,
    step: u8,
}

pub(super) fn start(
    port: &PortArgument,
    at: &AtTheOven,
    globals: &Globals,
) -> Result<Answer, Failure> {
    let wish = Wish {
        request: Request::Start { at_the_oven: at.i_am_at_the_oven },
        done: "The bake has started.",
        not_done: "Nothing was started",
        came_true: |_, status| status.step > 0,
    };
    wish.ask(port, globals)
}

pub(super) fn answer(
    port: &PortArgument,
    arguments: &AnswerArguments,
    globals: &Globals,
) -> Result<Answer, Failure> {
    let said = match arguments.say {
        Say::Pass => Said::Pass,
        Say::Fail => Said::Fail,
        Say::Go => Said::Go,
    };
    let wish = Wish {
        request: Request::Answer { said, at_the_oven: arguments.at.i_am_at_the_oven },
        done: "It was answered.",
        not_done: "Nothing was answered",
        came_true: |before, status| status.asks != before.asks || status.step != before.step,
    };
    wish.ask(port, globals)
}

pub(super) fn stop(port: &PortArgument, globals: &Globals) -> Result<Answer, Failure> {
    let wish = Wish {
        request: Request::Stop,
        done: "The bake was stopped; heat is cut.",
        not_done: "The bake was not stopped: press STOP at the oven",
        came_true: |_, status| status.step == 0,
    };
    wish.ask(port, globals)
}

pub(super) fn acknowledge(
    port: &PortArgument,
    at: &AtTheOven,
    globals: &Globals,
) -> Result<Answer, Failure> {
    let wish = Wish {
        request: Request::Acknowledge { at_the_oven: at.i_am_at_the_oven },
        done: "The trip is acknowledged; the board is at rest.",
        not_done: "The trip stays latched",
        came_true: |_, status| status.trip.is_none(),
    };
    wish.ask(port, globals)
}

impl Wish {
    fn ask(&self, port: &PortArgument, globals: &Globals) -> Result<Answer, Failure> {
        let (address, mut session) = port.open()?;
        let before = look(&mut session, &address)?;
        let before = Before { asks: before.asks, step: before.step };
        let taken = match session.once(|client, _| client.hand_in(&self.request)) {
            // Whether it was taken is seen at the board.
            Err(LinkError::Lost(_)) => Taken::Done,
            taken => taken.map_err(|error| failed(&address, &error))?,
        };
        if let (Taken::AwaitsGo(seconds), false) = (taken, globals.quiet) {
            eprintln!("Hold GO at the oven for 2 s and let go, within {seconds} s.");
        }
        let done = self.wait(&mut session, &address, &before, taken)?;
        self.say(done, taken, globals)?;
        Ok(if done { Answer::Yes } else { Answer::No })
    }

    /// Waits until it came true, or until nothing waits for GO any more.
    fn wait(
        &self,
        session: &mut Session,
        address: &Address,
        before: &Before,
        taken: Taken,
    ) -> Result<bool, Failure> {
        let mut looks = 0;
        loop {
            let status = look(session, address)?;
            if (self.came_true)(before, &status) {
                return Ok(true);
            }
            let waits = status.awaits_go.is_some();
            looks = if waits { 0 } else { looks + 1 };
            // A moment lies between GO and what comes of it.
            let patience = if taken == Taken::Done { LOOKS } else { 4 };
            if looks >= patience {
                return Ok(false);
            }
            if interrupt::asked() {
                return Err(Failure::Interrupted(
                    "interrupted; the request still waits for GO at the oven, for a minute at most"
                        .to_owned(),
                ));
            }
            std::thread::sleep(LOOK);
        }
    }

    fn say(&self, done: bool, taken: Taken, globals: &Globals) -> Result<(), Failure> {
        if globals.format == Format::Json {
            return print(&format!("{}\n", serde_json::json!({ "done": done })));
        }
        if done {
            return print(&format!("{}\n", self.done));
        }
        let why = match (self.request, taken) {
            (Request::Stop, _) => "it goes on",
            (_, Taken::AwaitsGo(_)) => {
                "nobody held GO, or the board saw a reason not to (an open door, a sensor, the \
                 cause of a trip)"
            }
            (_, Taken::Done) => {
                "the board saw a reason not to (an open door, a sensor, the cause of a trip)"
            }
        };
        eprintln!(
            "{}",
            failure_text(
                &format!("{}: {why}", self.not_done),
                "the oven",
                "GO held at the oven within a minute, and a board that is well",
                "truesoak device status, then ask again"
            )
        );
        Ok(())
    }
}

fn look(session: &mut Session, address: &Address) -> Result<Status, Failure> {
    let status = session.with(Patience::SHORT, tell_loss, |client, _| client.status());
    status.map_err(|error| failed(address, &error))
}
