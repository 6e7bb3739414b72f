//! The guard's turn in a tick: what it is shown, and what becomes of what it finds.

use super::second::EndedSecond;
use super::{Controller, OVERRUNS_MAX};
use crate::bounds::Bounds;
use crate::door::DoorNow;
use crate::event::{Ending, Event};
use crate::guard::{TripKind, View};
use crate::io::Inputs;
use crate::judge::Judged;
use crate::units::{Celsius, Kelvins, TICKS_PER_SECOND, Tick};

/// So long after a door the air's own bound is too loose for its limit, ticks.
const AFTER_DOOR_TICKS: u32 = 60 * TICKS_PER_SECOND;

impl Controller {
    /// Runs the guard's rows and ends the bake on a latched trip.
    pub(super) fn watch(
        &mut self,
        now: Tick,
        inputs: &Inputs,
        air: &Judged,
        air_b: Option<&Judged>,
        door: DoorNow,
        ended: Option<EndedSecond>,
    ) -> Option<TripKind> {
        let standing = *self.guard.standing();
        let running = self.sequence.is_running();
        if let (Some(ledger), true) = (&self.ledger, running) {
            let upper_air = self.upper_air(now, air, door, ledger.bounds());
            if let Some(expectation) = &mut self.expectation {
                expectation.upper_air = upper_air;
            }
        }
        let view = View {
            now,
            inputs,
            air,
            air_b,
            door,
            commanded: self.last.heat,
            fan: self.last.fan,
            baking: running,
            second_on_ticks: ended.map(|second| second.on_ticks),
            expectation: self.expectation.as_ref().filter(|_| running),
            air_max: self.bake.limits.air_max,
            standing: &standing,
        };
        let found = self.guard.tick(&view);
        if inputs.health.watchdog_resets >= OVERRUNS_MAX && view.baking {
            self.guard.latch(TripKind::ProcessorHung, now);
        }
        if let (Some(trip), false) = (self.guard.trip(), self.told.trip) {
            self.told.trip = true;
            self.tell(Event::Tripped(trip.kind));
            self.sequence.end(Ending::Tripped(trip.kind), &mut self.events);
        }
        self.tell_once(inputs);
        found
    }

    /// Upper bound of the true air in this tick.
    fn upper_air(&self, now: Tick, air: &Judged, door: DoorNow, bounds: &Bounds) -> Celsius {
        // Without a reading the drive is off; the last bound is projected along its own rise.
        let upper_air = match (air.value, air.latest, air.doubt) {
            (Some(value), ..) => bounds.upper_air_now(&self.model, value, air.slope_k_per_s),
            (None, Some(latest), Some(doubt)) => {
                let age_s = f32::from(doubt.ticks) / TICKS_PER_SECOND as f32;
                let slope_k_per_s = air.slope_k_per_s.max(0.0);
                let projected = latest + Kelvins(slope_k_per_s * age_s);
                bounds.upper_air_now(&self.model, projected, slope_k_per_s)
            }
            _ => bounds.upper_air(),
        };
        // A door makes the reading fall and rise as fast as its sensor allows, and how fast that is
        // is not known well; for a minute what the heater can have done bounds the air better.
        if door.open || now.since(door.since) < AFTER_DOOR_TICKS {
            upper_air.min(bounds.upper_air_by_duty())
        } else {
            upper_air
        }
    }

    fn tell_once(&mut self, inputs: &Inputs) {
        if !self.sequence.is_running() {
            return;
        }
        if self.guard.rows().outside_model() && !self.told.outside_model {
            self.told.outside_model = true;
            self.tell(Event::OutsideModel);
        }
        if self.guard.rows().probe_ignored() && !self.told.probe_ignored {
            self.told.probe_ignored = true;
            self.tell(Event::ProbeIgnored);
        }
        if !inputs.health.store && !self.told.store_failing {
            self.told.store_failing = true;
            self.tell(Event::StoreFailing);
        }
    }
}
