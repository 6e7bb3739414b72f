//! The guard's turn in a tick: what it is shown, and what becomes of what it finds.

use super::second::EndedSecond;
use super::{Controller, OVERRUNS_MAX};
use crate::bounds::Bounds;
use crate::door::{DoorNow, DoorSecond};
use crate::event::{Ending, Event};
#[cfg(feature = "mutants")]
use crate::guard::Muted;
use crate::guard::{TripKind, View};
use crate::io::Inputs;
use crate::judge::Judged;
use crate::ledger::Ledger;
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
        door: &DoorNow,
        ended: Option<EndedSecond>,
    ) -> Option<TripKind> {
        let running = self.sequence.is_running();
        if running && ended.is_some() {
            self.watch_door(now, air_b);
        }
        if let (Some(ledger), true) = (&self.ledger, running) {
            let upper_air = self.upper_air(now, air, air_b, door, ledger.bounds());
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
            standing: &self.standing,
        };
        let found = self.guard.tick(&view);
        if let (Some(reading), true) = (self.reading, self.guard.rows().suspects_door()) {
            self.door.suspect(reading);
        }
        if inputs.health.watchdog_resets >= OVERRUNS_MAX && view.baking {
            self.guard.latch(TripKind::ProcessorHung, now);
        }
        if let (Some(trip), false) = (self.guard.trip(), self.told.trip) {
            self.told.trip = true;
            self.tell(Event::Tripped(trip.kind));
            self.sequence.end(Ending::Tripped(trip.kind), &mut self.events);
        }
        if ended.is_some() {
            self.tell_once(inputs);
        }
        found
    }

    /// The door's second: what the air tells of it.
    fn watch_door(&mut self, now: Tick, air_b: Option<&Judged>) {
        let Some(expectation) = &self.expectation else { return };
        let Some(reading) = expectation.reading else { return };
        if self.guard.rows().stirs() {
            self.door.begin();
            return;
        }
        let second = DoorSecond {
            reading,
            lowest: expectation.reading_lowest,
            nominal: expectation.reading_nominal,
            slope_b_k_per_s: air_b.map(|air_b| air_b.steady_slope_k_per_s),
        };
        self.door.second(now, &second);
    }

    /// Upper bound of the true air in this tick, whichever sensor is right.
    fn upper_air(
        &self,
        now: Tick,
        air: &Judged,
        air_b: Option<&Judged>,
        door: &DoorNow,
        bounds: &Bounds,
    ) -> Celsius {
        let model = &self.model;
        let by_first = projected(air)
            .map_or(bounds.upper_air(), |(at, slope)| bounds.upper_air_now(model, at, slope));
        let by_second = air_b
            .and_then(projected)
            .and_then(|(at, slope)| bounds.upper_air_now_b(model, at, slope));
        let upper_air = by_second.map_or(by_first, |by_second| by_first.max(by_second));
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
        if self.outside_model() && !self.told.outside_model {
            self.told.outside_model = true;
            self.tell(Event::OutsideModel);
        }
        let believed = |ledger: &Ledger| ledger.bounds().probe_is_believed();
        if self.ledger.as_ref().is_some_and(believed) && !self.told.probe_believed {
            self.told.probe_believed = true;
            self.tell(Event::ProbeBelieved);
        }
        if self.probe_ignored() && !self.told.probe_ignored {
            self.told.probe_ignored = true;
            self.tell(Event::ProbeIgnored);
        }
        // A store that was good again and fails once more is told once more.
        let failing = !inputs.health.store;
        if failing && !self.told.store_failing {
            self.tell(Event::StoreFailing);
        }
        self.told.store_failing = failing;
    }
}

/// What the rows found that is no trip.
#[cfg(not(feature = "mutants"))]
impl Controller {
    fn outside_model(&self) -> bool {
        self.guard.rows().outside_model()
    }

    fn probe_ignored(&self) -> bool {
        self.guard.rows().probe_ignored()
    }
}

/// The same with a row that can be muted.
#[cfg(feature = "mutants")]
impl Controller {
    /// This row of the guard finds nothing from now on: tests only.
    pub fn mute(&mut self, row: Muted) {
        self.guard.mute(row);
    }

    fn outside_model(&self) -> bool {
        self.guard.rows().outside_model() && !self.guard.is_muted(Muted::OutsideModel)
    }

    fn probe_ignored(&self) -> bool {
        self.guard.rows().probe_ignored() && !self.guard.is_muted(Muted::ProbeDisagrees)
    }
}

/// A sensor's reading in this tick and its slope, K/s: the lesser of the last second's, which is
/// rough, and of the last four's, which is late. Without a usable one the drive is off; the last is
/// projected along its own rise.
fn projected(judged: &Judged) -> Option<(Celsius, f32)> {
    let slope_k_per_s = judged.slope_k_per_s.min(judged.steady_slope_k_per_s);
    if let Some(value) = judged.value {
        return Some((value, slope_k_per_s));
    }
    let (latest, doubt) = (judged.latest?, judged.doubt?);
    let age_s = f32::from(doubt.ticks) / TICKS_PER_SECOND as f32;
    let slope_k_per_s = slope_k_per_s.max(0.0);
    Some((latest + Kelvins(slope_k_per_s * age_s), slope_k_per_s))
}
