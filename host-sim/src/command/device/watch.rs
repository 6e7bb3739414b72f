//! `device watch`: a bake on a screen, or a line a minute, until it ends.
//!
//! One thread talks to the board and writes the log, one rehearses the bake to foresee its end, and
//! this one shows. None of them changes anything at the oven: leaving leaves the bake running.

use super::{PortArgument, failed, log_file};
use crate::command::{Answer, Failure, Format, Globals, print};
use crate::interrupt;
use crate::link::{Address, Head, LinkError};
use crate::report::text::Paint;
use crate::report::units::Units;
use crate::watch::{Baked, FollowError, Follower, Foresight, News, Plain, View, Words, draw};
use ratatui::crossterm::event::{self, Event, KeyCode, KeyEventKind, KeyModifiers};
use std::io::IsTerminal as _;
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, channel};
use std::thread::JoinHandle;
use std::time::Duration;
use truesoak_core::event::Ending;

/// An oven's board is asked so often, one on the desk, whose time may run faster, more often.
const LOOK: Duration = Duration::from_secs(1);
const LOOK_AT_THE_DESK: Duration = Duration::from_millis(250);
/// The screen is drawn, and keys are heard, so often.
const DRAW: Duration = Duration::from_millis(100);
/// Ovens the bake is rehearsed in to foresee its end: enough for 19 in 20.
const DRAWS: u64 = 40;

/// How to watch.
#[derive(Clone, Debug, clap::Args)]
pub(super) struct Arguments {
    /// A line a minute that reads well aloud, instead of a screen.
    #[arg(long)]
    plain: bool,
    /// Write the log here as it comes; the log of an oven is never written over.
    #[arg(long, value_name = "F.csv")]
    log: Option<PathBuf>,
}

/// What the threads say.
enum Said {
    News(Box<News>),
    Lost(LinkError),
    Failed(FollowError),
    Foreseen(Arc<Foresight>),
    CannotForesee(String),
}

/// How watching ended.
enum End {
    /// The bake did; it was as it should be.
    Baked(bool),
    /// A person left.
    Left,
    Failed(FollowError),
}

/// Runs it.
pub(super) fn run(
    port: &PortArgument,
    arguments: &Arguments,
    globals: &Globals,
) -> Result<Answer, Failure> {
    let output = arguments.log.as_deref().map(log_file::open).transpose()?;
    let (address, session) = port.open()?;
    let file = output.as_ref().map(|output| output.emptied()?.try_clone()).transpose();
    let file = file.map_err(|error| Failure::Write(format!("error: the log: {error}")))?;
    let is_virtual = session.greeting().is_virtual();
    let (sender, said) = channel();
    let leaves = Arc::new(AtomicBool::new(false));
    let follower = Follower::new(session, file);
    let following = follow(follower, sender.clone(), Arc::clone(&leaves));
    let mut watched =
        Watched { view: View { is_virtual, ..View::default() }, sender, units: globals.units };
    let is_screen =
        !arguments.plain && globals.format == Format::Text && std::io::stdout().is_terminal();
    let end = if is_screen {
        on_a_screen(&mut watched, &said, globals.paint())
    } else {
        in_lines(&mut watched, &said, globals)
    };
    leaves.store(true, Ordering::Relaxed);
    let written = following.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic));
    written.map_err(|error| Failure::Write(format!("error: the log: {error}")))?;
    watched.leave(end?, arguments, &address, globals)
}

/// Looks at the board until it is over, or nobody listens; then ends the log.
fn follow(
    mut follower: Follower,
    said: Sender<Said>,
    leaves: Arc<AtomicBool>,
) -> JoinHandle<std::io::Result<()>> {
    let pause = if follower.greeting().is_virtual() { LOOK_AT_THE_DESK } else { LOOK };
    std::thread::spawn(move || {
        while !leaves.load(Ordering::Relaxed) {
            let (words, is_over) = match follower.look() {
                Ok(news) => {
                    let ended = news.ended;
                    (Said::News(Box::new(news)), ended)
                }
                Err(FollowError::Link(error)) if error.may_pass() => (Said::Lost(error), false),
                Err(error) => (Said::Failed(error), true),
            };
            if said.send(words).is_err() || is_over {
                break;
            }
            std::thread::sleep(pause);
        }
        follower.finish()
    })
}

/// The view and what changes it.
struct Watched {
    view: View,
    sender: Sender<Said>,
    units: Option<Units>,
}

impl Watched {
    /// Takes what a thread says; something once it is the end.
    fn hear(&mut self, said: Said) -> Option<End> {
        match said {
            Said::News(news) => return self.take(*news),
            Said::Lost(error) => self.view.lost = Some(error.to_string()),
            Said::Failed(error) => return Some(End::Failed(error)),
            Said::Foreseen(foresight) => self.view.foresight = Some(foresight),
            Said::CannotForesee(why) => self.view.note = Some(why),
        }
        None
    }

    fn take(&mut self, news: News) -> Option<End> {
        let view = &mut self.view;
        view.lost = None;
        view.status = news.status.or(view.status);
        view.rows.extend(news.rows);
        // A virtual board's hours are not those on the wall.
        view.now = (!view.is_virtual).then(|| jiff::Zoned::now().datetime());
        if let Some(head) = news.head {
            self.know(&head);
        }
        if !news.ended {
            return None;
        }
        let ended = self.view.status.and_then(|status| status.ended);
        let good = matches!(ended, Some((Ending::Finished, false)));
        Some(End::Baked(good && self.view.ending() == Some(Ending::Finished)))
    }

    /// What is baked is known: its end is foreseen from now on.
    fn know(&mut self, head: &Head) {
        let setup = head.document.setup().ok();
        let baked = Baked::of(head, setup.as_ref());
        self.view.units = self.units.unwrap_or(baked.units);
        self.view.baked = Some(baked);
        let Some(setup) = setup.filter(|_| head.told.built_in.is_none()) else { return };
        let sender = self.sender.clone();
        std::thread::spawn(move || {
            let said = match Foresight::of(&setup, DRAWS) {
                Ok(foresight) => Said::Foreseen(Arc::new(foresight)),
                Err(_) => Said::CannotForesee(
                    "this program cannot rehearse the board's bake: its end is not foreseen"
                        .to_owned(),
                ),
            };
            // Nobody listens any more once the bake is over.
            let _ = sender.send(said);
        });
    }

    fn leave(
        &self,
        end: End,
        arguments: &Arguments,
        address: &Address,
        globals: &Globals,
    ) -> Result<Answer, Failure> {
        let log = |tail: &str| match &arguments.log {
            Some(path) => format!(" {} {tail}", path.display()),
            None => String::new(),
        };
        match end {
            End::Baked(good) => {
                if globals.format == Format::Text {
                    let words = Words(&self.view);
                    let told = format!("{} {}", words.counted(), capital(&words.done()));
                    print(&format!("{}.{}\n", told.trim_end_matches('.'), log("has its log.")))?;
                }
                Ok(if good { Answer::Yes } else { Answer::No })
            }
            // Ctrl-C may come in the middle of a request.
            End::Left | End::Failed(FollowError::Link(LinkError::Interrupted)) => {
                let running = self.view.status.is_some_and(|status| status.step > 0);
                let goes_on = if running {
                    "the bake goes on at the oven. See it again: truesoak device watch. End it: STOP \
                     at the oven, or truesoak device stop."
                } else {
                    "no bake runs."
                };
                Err(Failure::Interrupted(format!(
                    "left watching; {goes_on}{}",
                    log("has every row until then.")
                )))
            }
            End::Failed(FollowError::Link(error)) => Err(failed(address, &error)),
            End::Failed(FollowError::Log(error)) => {
                Err(Failure::Write(format!("error: the log could not be written: {error}")))
            }
            End::Failed(error @ FollowError::Head(_)) => {
                Err(failed(address, &LinkError::Unexpected(format!("a stored bake ({error})"))))
            }
        }
    }
}

fn capital(text: &str) -> String {
    crate::report::pieces::capitalised(text)
}

fn in_lines(
    watched: &mut Watched,
    said: &Receiver<Said>,
    globals: &Globals,
) -> Result<End, Failure> {
    let mut plain = Plain::default();
    let mut told_waiting = false;
    loop {
        if interrupt::asked() {
            return Ok(End::Left);
        }
        let end = match said.recv_timeout(DRAW) {
            Ok(words) => watched.hear(words),
            Err(RecvTimeoutError::Timeout) => continue,
            Err(RecvTimeoutError::Disconnected) => return Ok(End::Left),
        };
        let nothing_yet = watched.view.status.is_some_and(|status| status.step == 0);
        if nothing_yet && watched.view.baked.is_none() && end.is_none() && !told_waiting {
            told_waiting = true;
            if !globals.quiet {
                eprintln!("No bake runs yet; waiting for one.");
            }
        }
        let lines = plain.lines(&watched.view);
        if globals.format == Format::Text {
            for line in lines {
                print(&format!("{line}\n"))?;
            }
        } else if let (false, Some(status)) = (lines.is_empty(), &watched.view.status) {
            print(&format!("{}\n", super::status::status_json(status)))?;
        }
        if let Some(end) = end {
            return Ok(end);
        }
    }
}

fn on_a_screen(watched: &mut Watched, said: &Receiver<Said>, paint: Paint) -> Result<End, Failure> {
    let mut terminal = ratatui::try_init()
        .map_err(|error| Failure::Write(format!("error: no screen can be shown: {error}")))?;
    let end = loop {
        // All that has been said, then a picture of it.
        let end = said.try_iter().find_map(|words| watched.hear(words));
        let drawn = terminal.draw(|frame| draw(frame, &watched.view, paint));
        if let Some(end) = end {
            break Ok(end);
        }
        match drawn.map(|_| ()).and_then(|()| leaves()) {
            Ok(false) => {}
            Ok(true) => break Ok(End::Left),
            Err(error) => {
                break Err(Failure::Write(format!("error: the screen cannot be drawn: {error}")));
            }
        }
    };
    ratatui::restore();
    end
}

/// Waits a moment for a key that leaves.
fn leaves() -> std::io::Result<bool> {
    if interrupt::asked() {
        return Ok(true);
    }
    if !event::poll(DRAW)? {
        return Ok(false);
    }
    let Event::Key(key) = event::read()? else { return Ok(false) };
    let control = key.modifiers.contains(KeyModifiers::CONTROL);
    Ok(key.kind != KeyEventKind::Release
        && match key.code {
            KeyCode::Char('q') | KeyCode::Esc => true,
            KeyCode::Char('c') => control,
            _ => false,
        })
}
