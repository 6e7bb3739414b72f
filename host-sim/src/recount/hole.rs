//! What a log does not show between two of its rows, and what must then be taken for possible.
//!
//! A row follows its second at once, but for three cases. A board that lost its supply says so
//! itself when it comes back, with what everything inside can then be at, and a person answers
//! whether anything is new: that is no hole. A board keeps one row a minute while heat is cut and it
//! waits for a person. Everything else is a hole: the oven may have been heated, opened, unloaded
//! and loaded again.

use crate::log::Row;
use crate::report::units::duration;
use truesoak_core::bake::Bake;
use truesoak_core::bounds::Second;
use truesoak_core::bounds::model::Model;
use truesoak_core::event::Event;
use truesoak_core::ledger::Ledger;
use truesoak_core::units::{Celsius, Reading, TICKS_PER_SECOND};

/// Heat in a hole is followed for so long, s; after that everything is as hot as it may come.
const HEATED_S_MAX: u32 = 1800;
/// How much colder than told parts may come in, K (as the bounds have it).
const COLDER_THAN_TOLD_K: f32 = 5.0;
/// No element is hotter, °C: its sheath would not stand it (common practice).
const ELEMENT_MAX_C: f32 = 900.0;

/// What lies between the rows of two seconds.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Between {
    /// Nothing, a lost supply that was answered for, or a wait with the heat cut.
    Nothing,
    /// The same second again.
    Twice,
    /// Anything; a sentence for a person.
    Hole(String),
}

impl Between {
    /// Judges two rows, the supply having come back between them, or the board having waited for a
    /// person, or not.
    pub(super) fn of(before: &Row, row: &Row, supply_returned: bool, waited: bool) -> Self {
        let ticks = row.tick.saturating_sub(before.tick);
        match ticks {
            TICKS_PER_SECOND => Self::Nothing,
            _ if supply_returned || waited => Self::Nothing,
            0 => Self::Twice,
            1..TICKS_PER_SECOND => Self::Hole(format!(
                "the clock jumped: one second ends at {} s and the next at {} s",
                before.t_s(),
                row.t_s()
            )),
            _ => {
                let missing_s = f64::from(ticks) / f64::from(TICKS_PER_SECOND) - 1.0;
                let from = before.t_s();
                Self::Hole(format!(
                    "{} after {from} s are missing, or the clock jumped",
                    duration(missing_s)
                ))
            }
        }
    }
}

/// What a ledger must take for possible after a hole: the parts may be others and cold, and what is
/// inside as hot as full power made it in that time, so far as the guard lets it come.
pub(super) fn anything(model: &Model, bake: &Bake, ledger: &Ledger, gap_s: f64) -> Event {
    let starts = || model.classes.iter().map(|class| class.starts_at);
    let coldest = starts().fold(model.ambient, Celsius::min).0 - COLDER_THAN_TOLD_K;
    let mut heated = ledger.clone();
    heated.finish(model);
    let was = heated.bounds().hottest_states(model);
    let full_power = Second { on_ticks: TICKS_PER_SECOND as u8, ..Second::NOTHING };
    // The cast saturates: what is endless is cut at a time that is as good.
    for _ in 0..(gap_s.ceil() as u32).min(HEATED_S_MAX) {
        heated.second(model, &full_power);
    }
    heated.finish(model);
    let is = heated.bounds().hottest_states(model);
    let guarded = |was: Celsius, is: Celsius| {
        let most = starts().fold(bake.limits.air_max.max(was), Celsius::max);
        if gap_s <= f64::from(HEATED_S_MAX) { is.max(was).min(most) } else { most }
    };
    Event::SupplyReturned {
        coldest: reading(Celsius(coldest), libm::floorf),
        hottest: reading(guarded(was.oven, is.oven), libm::ceilf),
        parts: reading(starts().fold(guarded(was.parts, is.parts), Celsius::max), libm::ceilf),
        element: reading(is.element.min(Celsius(ELEMENT_MAX_C)), libm::ceilf),
        credit_s: 0,
    }
}

/// A temperature in the steps of a reading.
fn reading(at: Celsius, round: fn(f32) -> f32) -> Reading {
    // The cast saturates; no temperature here comes near.
    Reading(round(at.0 * 128.0) as i32)
}
