//! What a board shows of itself to a computer that asks.

use super::messages::Status;
use super::row::Sixteenths;
use crate::Controller;
use crate::bake::Step;
use crate::ledger::Ledger;
use crate::record::Record;
use crate::sequence::Mode;
use crate::units::Tick;

impl Status {
    /// Of a controller, after its tick. `last` is the last second it made, if any; `door_open` what
    /// the switch says.
    #[must_use]
    pub fn of(
        controller: &Controller,
        now: Tick,
        last: Option<&Record>,
        door_open: Option<bool>,
        rejected: u16,
    ) -> Self {
        let mode = controller.mode();
        let running = mode == Mode::Running;
        let last = last.filter(|_| running);
        let step = if running { controller.step().saturating_add(1) } else { 0 };
        let soaks = match controller.bake().steps.get(usize::from(controller.step())) {
            Some(Step::Soak(soak)) if running => soak.for_s,
            _ => 0,
        };
        let ledger = controller.ledger().filter(|_| running);
        Self {
            phase: controller.phase(),
            step,
            second: controller.seconds(),
            reading: last.and_then(|last| last.reading),
            setpoint: controller.setpoint().filter(|_| running).map(Sixteenths::nearest),
            coldest: ledger.and_then(Ledger::coldest),
            hottest: ledger.and_then(Ledger::hottest),
            credit_s: ledger.map_or(0, Ledger::credit_s),
            for_s: soaks,
            on_ticks: last.map_or(0, |last| last.on_ticks),
            permit: controller.outputs().heat.is_allowed(),
            door_open,
            asks: controller.asks(),
            trip: controller.trip().map(|trip| trip.kind),
            awaits_go: controller.waits_for_go(now),
            ended: match mode {
                Mode::Done(ending) => Some((ending, controller.is_short())),
                Mode::Idle | Mode::Running => None,
            },
            rejected,
        }
    }
}
