//! The guard: every condition that ends heat for good, one function a row.
//!
//! Each tick the rows look at one [`View`] and at nothing else; the first that trips is latched and
//! stays until a person at the oven acknowledges it with the cause gone. Rows run in every phase.
//! Times run from the fault to the drive off; they are the constants beside each row.
//!
//! What no row can see with one sensor, and the verdict's `basis` therefore says: a sensor that
//! moved, a thermocouple of a near type, a part thicker than told.

mod apart;
mod ceiling;
mod clock;
mod first_answer;
mod frozen;
mod kind;
#[cfg(feature = "mutants")]
mod muted;
mod response;
mod rise;
mod rows;

pub use apart::SensorBudget;
pub use kind::TripKind;
#[cfg(feature = "mutants")]
pub use muted::Muted;
pub(crate) use rows::is_unread_for_good;
pub use rows::{Rows, Standing};

use crate::door::DoorNow;
use crate::io::{Heat, Inputs};
use crate::judge::Judged;
use crate::units::{Celsius, Tick};
use serde::{Deserialize, Serialize};

/// A latched trip.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Trip {
    /// Why.
    pub kind: TripKind,
    /// When it was latched.
    pub at: Tick,
}

/// What the model says of the oven now; `None` while no bake has run.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Expectation {
    /// Upper bound of the true air.
    pub upper_air: Celsius,
    /// Liner of the nominal oven.
    pub liner: Celsius,
    /// Lowest reading any oven of the spread could show, door shut.
    pub reading_lowest: Celsius,
    /// Highest reading any oven of the spread could show for the duty commanded.
    pub reading_highest: Celsius,
    /// The reading of the nominal oven.
    pub reading_nominal: Celsius,
    /// A second's mean reading.
    pub reading: Option<Celsius>,
    /// Some part's upper bound is not below what it stands.
    pub part_over_limit: bool,
    /// The part probe lies outside its own part's bounds.
    pub probe_disagrees: bool,
}

/// Everything a row may look at.
#[derive(Clone, Copy, Debug)]
pub struct View<'a> {
    /// Now.
    pub now: Tick,
    /// This tick's inputs.
    pub inputs: &'a Inputs,
    /// The air reading, judged.
    pub air: &'a Judged,
    /// The second air reading, judged.
    pub air_b: Option<&'a Judged>,
    /// The door.
    pub door: &'a DoorNow,
    /// What the last tick gave out.
    pub commanded: Heat,
    /// The fan was commanded on.
    pub fan: bool,
    /// A bake is running or waiting; sensor faults latch only then.
    pub baking: bool,
    /// Of the second that ended in this tick, those the drive was on; what the model expects is new.
    pub second_on_ticks: Option<u8>,
    /// The model's expectation.
    pub expectation: Option<&'a Expectation>,
    /// Highest true air allowed.
    pub air_max: Celsius,
    /// Constants of the oven.
    pub standing: &'a Standing,
}

impl View<'_> {
    /// The fan was commanded on and its proof sees no air move.
    #[must_use]
    pub fn fan_stands(&self) -> bool {
        self.fan && self.inputs.airflow == Some(false)
    }
}

/// Latches the first trip; nothing is latched at first.
#[derive(Clone, Debug, Default)]
pub struct Guard {
    rows: Rows,
    trip: Option<Trip>,
    #[cfg(feature = "mutants")]
    muted: Option<Muted>,
}

impl Guard {
    /// The latched trip.
    #[must_use]
    pub fn trip(&self) -> Option<Trip> {
        self.trip
    }

    /// What the rows found out that is no trip.
    #[must_use]
    pub fn rows(&self) -> &Rows {
        &self.rows
    }

    /// Runs every row; the first trip found is latched if none is. What is found includes the cause
    /// of the latched trip while it can be seen, also where its row looks in a bake only.
    pub fn tick(&mut self, view: &View<'_>) -> Option<TripKind> {
        let found = self.rows.tick(view);
        #[cfg(feature = "mutants")]
        let found = found.filter(|kind| self.muted != Some(Muted::Trip(*kind)));
        if let (Some(kind), None) = (found, self.trip) {
            self.trip = Some(Trip { kind, at: view.now });
        }
        let latched = self.trip.map(|trip| trip.kind);
        found.or_else(|| latched.filter(|kind| rows::stands(*kind, view)))
    }

    /// Latches a trip found outside the rows (a restored checkpoint, the watchdog).
    pub fn latch(&mut self, kind: TripKind, at: Tick) {
        #[cfg(feature = "mutants")]
        if self.muted == Some(Muted::Trip(kind)) {
            return;
        }
        if self.trip.is_none() {
            self.trip = Some(Trip { kind, at });
        }
    }

    /// A bake begins: what the rows follow starts afresh.
    pub fn bake_begins(&mut self) {
        self.rows = Rows::default();
    }

    /// A bake goes on after a lost supply: the same, but for rows that would need to know how hot
    /// everything is.
    pub fn bake_goes_on(&mut self, now: Tick) {
        self.rows = Rows::of_a_bake_that_goes_on(now);
    }

    /// Forgets the trip if `found` says that no row sees a cause any more.
    pub fn acknowledge(&mut self, found: Option<TripKind>) -> bool {
        if found.is_none() {
            self.trip = None;
        }
        self.trip.is_none()
    }
}
