//! A board on the desk: the same controller, frames and rules as one at an oven, in front of a
//! simulated one, so that everything about a bake can be tried with no hardware.
//!
//! ```text
//! run    the oven and its people, tick by tick, in real time or faster while a bake runs
//! state  what the board knows and keeps: bakes, document, buttons
//! desk   requests answered; a running bake's are refused as a board refuses them
//! serve  a pseudo-terminal, or a port of this machine
//! ```
//!
//! At rest its oven stands as the bake's files say, in real time; every start finds it so. While its
//! sensors are in a bath the time goes as in a bake. Whatever
//! leads to heat waits for GO as on a real board: pressed by [`VirtualBoard::press`], or by the
//! computer where a request says that it stands at the oven. Records are kept in memory and go with
//! the process. It heats nothing and is no evidence of anything: it says that it is virtual.

mod desk;
mod run;
mod serve;
mod state;

use crate::files::Setup;
use crate::link::fitted_as;
use crate::plant::Draw;
use run::SimulatedOven;
use state::{Shared, State};
use std::io;
use std::sync::Arc;
use std::thread::JoinHandle;
use truesoak_core::two_points::SENSORS;
use truesoak_core::units::Celsius;
use truesoak_core::wire::commissioned::Commissioned;

/// Fastest a board on the desk can be asked to be.
pub const SPEED_MAX: f64 = 100_000.0;

/// What stands on the desk.
#[derive(Clone, Debug)]
pub struct Options {
    /// The bake whose oven and load are true and whose doors, answers and faults are played.
    pub truth: Setup,
    /// What the board believes of its sensors.
    pub believed: Setup,
    /// Everything the spread leaves open.
    pub draw: Draw,
    /// Seed of the sensors' noise.
    pub seed: u64,
    /// Times real time, while a bake runs.
    pub speed: f64,
    /// GO was held while it was switched on.
    pub commissioning: bool,
    /// Nobody has commissioned it before: it has no settings.
    pub bare: bool,
}

impl Options {
    /// A bake whose oven is as its files say, in real time.
    #[must_use]
    pub fn of(setup: &Setup) -> Self {
        Self {
            truth: setup.clone(),
            believed: setup.clone(),
            draw: Draw::nominal(&setup.oven),
            seed: 1,
            speed: 1.0,
            commissioning: false,
            bare: false,
        }
    }
}

/// How it is reached.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Way {
    /// A pseudo-terminal; systems without one use [`Way::Tcp`].
    PseudoTerminal,
    /// A port of this machine, for this machine alone.
    Tcp,
}

/// A button at the oven.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Button {
    /// GO held for two seconds.
    Go,
    /// STOP held for five seconds.
    Fail,
    /// STOP pressed and let go.
    Stop,
}

/// A board that runs until it is dropped.
#[derive(Debug)]
pub struct VirtualBoard {
    shared: Arc<Shared>,
    address: String,
    threads: Vec<JoinHandle<()>>,
}

impl VirtualBoard {
    /// Switches it on.
    ///
    /// # Errors
    /// A system that gives no pseudo-terminal or no port.
    pub fn start(options: Options, way: Way) -> io::Result<Self> {
        let settings = fitted_as(&options.believed.oven, &options.believed.load);
        let kept = Commissioned { settings, checked: [true; SENSORS] };
        let kept = (!options.bare).then_some(kept);
        let shared = Arc::new(Shared::new(State::new(kept, options.commissioning)));
        let (address, serving) = serve::open(&shared, way)?;
        let oven = SimulatedOven::new(options);
        let running = Arc::clone(&shared);
        let running = std::thread::spawn(move || run::run(&running, oven));
        Ok(Self { shared, address, threads: vec![serving, running] })
    }

    /// Where it is reached, as `--port` takes it.
    #[must_use]
    pub fn address(&self) -> &str {
        &self.address
    }

    /// Somebody puts every sensor into a bath of this temperature, or back into the oven.
    pub fn dip(&self, bath: Option<Celsius>) {
        self.shared.lock().bath = bath;
    }

    /// Somebody switches it off and on again, with GO held or not. False while a bake runs, which a
    /// board on the desk would not outlive.
    pub fn restart(&self, go_held: bool) -> bool {
        self.shared.lock().restart(go_held)
    }

    /// Somebody at the oven presses a button.
    pub fn press(&self, button: Button) {
        self.shared.lock().buttons.press(button);
    }
}

impl Drop for VirtualBoard {
    fn drop(&mut self) {
        self.shared.switch_off();
        for thread in self.threads.drain(..) {
            // A thread that panicked has said so itself.
            let _ = thread.join();
        }
    }
}
