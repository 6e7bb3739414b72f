//! From what is wanted to what is done: the regulator's turn, and the guard's last word.

use super::Controller;
use super::second::WIDENED_TICKS;
use crate::door::DoorNow;
use crate::event::Event;
use crate::io::{Heat, Inputs, Outputs};
use crate::judge::Judged;
use crate::regulate::SecondView;
use crate::sequence::Aim;
use crate::units::Tick;

/// Doubt that switches the drive off, ticks.
const DOUBT_OFF_TICKS: u16 = 5;

impl Controller {
    /// From what is wanted to what is done; the guard has the last word.
    pub(super) fn act(
        &mut self,
        now: Tick,
        inputs: &Inputs,
        air: &Judged,
        door: &DoorNow,
    ) -> Outputs {
        let running = self.sequence.is_running();
        let cut = self.guard.trip().is_some()
            || inputs.stop
            || door.open
            || door.air_falls
            || self.guard.rows().fan_holds_heat_off()
            || self.guard.rows().holds_permit_off();
        let allowed = !cut && self.sequence.wants_heat(&self.bake);
        if self.record.is_none() {
            // Between two seconds: what the second's end has no time for.
            if let (Some(ledger), true) = (&self.ledger, running) {
                self.regulator.look_ahead(&self.model, ledger.bounds(), ledger.parts());
            }
        } else if running {
            let aim = self.sequence.aim(&self.bake, now);
            self.regulate(aim, air, allowed);
        }
        let doubted = air.doubt.is_some_and(|doubt| doubt.ticks >= DOUBT_OFF_TICKS);
        let held_off = doubted || self.guard.rows().is_over();
        let drive = self.regulator.tick(allowed && !held_off);
        Outputs {
            heat: if allowed { Heat::Allowed { drive } } else { Heat::Cut },
            fan: running && self.settings.fan,
            asks: self.asks(),
        }
    }

    #[inline(never)] // seldom: its frame is not every tick's
    fn regulate(&mut self, aim: Aim, air: &Judged, possible: bool) {
        let Some(ledger) = &self.ledger else { return };
        let bounds = ledger.bounds();
        let part_max = bounds.part_max(&self.model);
        let for_approach_s = match aim {
            Aim::Window(soak) => {
                let lacks_s = soak.for_s.saturating_sub(ledger.credit_s());
                ledger.stay().left_s(&self.model).map(|left_s| left_s - lacks_s as f32)
            }
            _ => None,
        };
        let back = self.regulator.second(&SecondView {
            aim,
            reading: self.reading,
            slope_k_per_s: air.slope_k_per_s,
            model: &self.model,
            bounds,
            coldest: ledger.coldest(),
            for_approach_s,
            slowest_s: ledger.stay().slowest_s(),
            air_max: self.bake.limits.air_max,
            part_max,
            possible,
            frozen: air.unchanged_ticks >= WIDENED_TICKS,
        });
        if back {
            self.tell(Event::Recovered);
        }
    }
}
