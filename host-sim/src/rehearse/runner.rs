//! What runs the oven in a rehearsal: the controller, or the practice it is compared with.

use truesoak_core::bake::Bake;
use truesoak_core::event::Event;
use truesoak_core::io::{Inputs, Outputs};
use truesoak_core::record::{Checkpoint, Record};
use truesoak_core::sequence::Mode;
use truesoak_core::tick::{Command, Controller};
use truesoak_core::units::Tick;

/// Runs a bake, tick by tick.
pub trait Runner {
    /// Wants to begin at the next tick.
    fn begin(&mut self);
    /// One tick.
    fn tick(&mut self, now: Tick, inputs: &Inputs) -> Outputs;
    /// What happened in it.
    fn events(&self) -> &[Event];
    /// The second that ended with it.
    fn record(&self) -> Option<&Record>;
    /// Where the bake is.
    fn mode(&self) -> Mode;
    /// Credit of one part kind in the step that ended last, s.
    fn ended_credit_s(&self, part: usize) -> u32;
    /// Credit of one part kind in the present step, s.
    fn credit_s(&self, part: usize) -> u32;
    /// Steps and limits.
    fn bake(&self) -> &Bake;
    /// The supply was lost for a while: the same board, restarted from what it kept.
    fn restart(&mut self);
    /// What it claims: every soak's last try was long enough.
    fn is_short(&self) -> bool;
}

/// The controller with the store its checkpoints go to.
#[derive(Clone, Debug)]
pub struct Board {
    controller: Controller,
    fresh: Controller,
    kept: Option<Checkpoint>,
}

impl Board {
    /// A board that has just been switched on.
    #[must_use]
    pub fn new(controller: Controller) -> Self {
        Self { fresh: controller.clone(), controller, kept: None }
    }

    /// The controller.
    #[must_use]
    pub fn controller(&self) -> &Controller {
        &self.controller
    }

    /// The controller, for a request from outside the oven.
    pub fn controller_mut(&mut self) -> &mut Controller {
        &mut self.controller
    }
}

impl Runner for Board {
    fn begin(&mut self) {
        // At rest there is nothing to refuse; a board that cannot start simply does not.
        let _ = self.controller.command(Tick(0), Command::Start);
    }

    fn tick(&mut self, now: Tick, inputs: &Inputs) -> Outputs {
        let outputs = self.controller.tick(now, inputs);
        if self.controller.checkpoint_is_due() || self.controller.trip().is_some() {
            self.kept = self.controller.checkpoint();
        }
        outputs
    }

    fn events(&self) -> &[Event] {
        self.controller.events()
    }

    fn record(&self) -> Option<&Record> {
        self.controller.record()
    }

    fn mode(&self) -> Mode {
        self.controller.mode()
    }

    fn ended_credit_s(&self, part: usize) -> u32 {
        self.controller.ledger().map_or(0, |ledger| ledger.ended_class_credit_s(part))
    }

    fn credit_s(&self, part: usize) -> u32 {
        self.controller.ledger().map_or(0, |ledger| ledger.class_credit_s(part))
    }

    fn bake(&self) -> &Bake {
        self.controller.bake()
    }

    #[cold]
    fn restart(&mut self) {
        self.controller = self.fresh.clone();
        if let Some(kept) = self.kept {
            self.controller.resume(kept);
        }
    }

    fn is_short(&self) -> bool {
        self.controller.is_short()
    }
}
