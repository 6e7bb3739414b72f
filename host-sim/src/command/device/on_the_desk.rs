//! `device virtual`: a board and a bake's oven on this machine.
//!
//! Its first line on stdout is the port; what else it says goes to stderr. The oven's buttons are
//! this command's input: a line with go, fail or stop presses them. For commissioning its sensors go
//! into ice, boiling water (at sea level) and out again, and it is switched off and on.

use crate::command::{Answer, Failure, Globals, failure_text, print};
use crate::files::{self, Override};
use crate::interrupt;
use crate::plant::Draw;
use crate::rehearse::Bench;
use crate::virtual_board::{Button, Options, SPEED_MAX, VirtualBoard, Way};
use std::io::BufRead as _;
use std::path::PathBuf;
use std::sync::mpsc::{Receiver, channel};
use std::time::Duration;
use truesoak_core::units::Celsius;

/// What water boils at here: 1013.25 hPa, by the wiring guide.
const BOILS_AT: Celsius = Celsius(99.97);
const TYPED: &str = "go, fail, stop, ice, boiling, out, restart, restart go";

/// What stands on the desk.
#[derive(Debug, clap::Args)]
pub(super) struct Arguments {
    /// The bake whose oven and load are true, and whose doors, answers and faults are played.
    bake: PathBuf,
    /// Times real time, while a bake runs.
    #[arg(long, value_name = "N", default_value_t = 1.0)]
    speed: f64,
    /// Open a port of this machine instead of a pseudo-terminal.
    #[arg(long)]
    tcp: bool,
    /// Change a value of oven or load in truth only: the bake that is sent is not told.
    #[arg(long, value_name = "KEY=VALUE")]
    plant: Vec<String>,
    /// The true oven is the N-th draw of what is not known about it.
    #[arg(long, value_name = "N")]
    draw: Option<u64>,
    /// A board that nobody has commissioned, switched on with GO held and let go.
    #[arg(long)]
    bare: bool,
    /// Seed of the sensor noise.
    #[arg(long, value_name = "N", default_value_t = 1)]
    seed: u64,
}

/// Runs it until it is interrupted.
pub(super) fn run(arguments: &Arguments, globals: &Globals) -> Result<Answer, Failure> {
    if !(arguments.speed > 0.0 && arguments.speed <= SPEED_MAX) {
        return Err(Failure::Input(failure_text(
            &format!("{} is no speed", arguments.speed),
            "--speed",
            &format!("a number above 0, at most {SPEED_MAX}"),
            "leave it out for real time",
        )));
    }
    let believed = files::read(&arguments.bake, &[])?;
    let plant: Vec<Override> = arguments.plant.iter().map(|typed| Override::plant(typed)).collect();
    let truth =
        if plant.is_empty() { believed.clone() } else { files::read(&arguments.bake, &plant)? };
    // A bake no board would take is refused here, with every reason.
    Bench::new(&believed)?;
    let draw = match arguments.draw {
        Some(number) => Draw::nth(&truth.oven, number),
        None => Draw::nominal(&truth.oven),
    };
    let (seed, speed) = (arguments.seed, arguments.speed);
    let bare = arguments.bare;
    let options = Options { truth, believed, draw, seed, speed, commissioning: bare, bare };
    let way = if arguments.tcp || cfg!(not(unix)) { Way::Tcp } else { Way::PseudoTerminal };
    let board = VirtualBoard::start(options, way).map_err(|error| {
        Failure::Link(failure_text(
            &format!("no port could be opened: {error}"),
            "device virtual",
            "a system that gives a pseudo-terminal or a port of its own",
            "try --tcp",
        ))
    })?;
    print(&format!("{}\n", board.address()))?;
    if !globals.quiet {
        eprintln!(
            "A virtual board: no oven hangs on it. In another window:\n  \
             truesoak device --port {} status\n\
             The oven's buttons are here: type go, fail or stop, and Enter. Its sensors: ice, boiling, out.\n\
             Its switch: restart, or restart go with GO held. Ctrl-C switches it off.",
            board.address()
        );
    }
    stand_at_the_oven(&board);
    Err(Failure::Interrupted("the virtual board is switched off; its records are gone".to_owned()))
}

/// Presses what is typed until Ctrl-C.
fn stand_at_the_oven(board: &VirtualBoard) {
    let typed = typed_lines();
    while !interrupt::asked() {
        let Ok(line) = typed.recv_timeout(Duration::from_millis(100)) else { continue };
        match line.trim() {
            "go" => board.press(Button::Go),
            "fail" => board.press(Button::Fail),
            "stop" => board.press(Button::Stop),
            "ice" => board.dip(Some(Celsius(0.0))),
            "boiling" => board.dip(Some(BOILS_AT)),
            "out" => board.dip(None),
            "restart" => restart(board, false),
            "restart go" => restart(board, true),
            "" => {}
            other => eprintln!("\"{other}\" is neither button, bath nor switch: {TYPED}"),
        }
    }
}

fn restart(board: &VirtualBoard, go_held: bool) {
    if !board.restart(go_held) {
        eprintln!("a bake runs: stop it first");
    }
}

/// Lines of the input, until it ends; nobody waits for that.
fn typed_lines() -> Receiver<String> {
    let (sender, receiver) = channel();
    std::thread::spawn(move || {
        for line in std::io::stdin().lock().lines().map_while(Result::ok) {
            if sender.send(line).is_err() {
                return;
            }
        }
        // Without an input the board runs on; the sender stays so that nobody spins.
        loop {
            std::thread::park();
        }
    });
    receiver
}
