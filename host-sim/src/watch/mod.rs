//! A bake as it is watched: what is known of it, in sentences, on a screen or a line a minute.
//!
//! ```text
//! board ── follow ──▶ View ──▶ words ──▶ screen (chart) · plain
//!                      ▲
//!            foresee ──┘  the same bake rehearsed on many ovens, from where this one is
//! ```
//!
//! A [`View`] is all that is shown; nothing here opens a port or a terminal but `follow`. What is
//! not known is said to be so. A colour never says anything that a word does not.

mod chart;
mod clock;
mod follow;
mod foresee;
mod happened;
mod plain;
mod screen;
mod words;

pub use clock::{clock_time, spoken};
pub use follow::{FollowError, Follower, News};
pub use foresee::{Foreseen, Foresight, Standing};
pub use plain::Plain;
pub use screen::draw;
pub use words::Words;

use crate::files::Setup;
use crate::files::bake::StepWords;
use crate::link::Head;
use crate::log::Row;
use crate::report::units::Units;
use jiff::civil::DateTime;
use std::sync::Arc;
use truesoak_core::bake::{Bake, Step};
use truesoak_core::event::{Ending, Event};
use truesoak_core::wire::messages::Status;

/// What is baked, in its own words.
#[derive(Clone, Debug, PartialEq)]
pub struct Baked {
    /// Name of the bake.
    pub name: String,
    /// Name of the oven.
    pub oven: String,
    /// Name of the load.
    pub load: String,
    /// Steps and limits as the board runs them.
    pub bake: Bake,
    /// Words on the steps; empty where the files could not be read.
    pub steps: Vec<StepWords>,
    /// Units the bake is written in.
    pub units: Units,
}

impl Baked {
    /// Of a stored bake; `setup` are its files, where this program can read them.
    #[must_use]
    pub fn of(head: &Head, setup: Option<&Setup>) -> Self {
        if head.told.built_in.is_none() {
            return Self::sent(&head.bake, setup);
        }
        Self {
            name: "the board's own bake".to_owned(),
            load: "nothing".to_owned(),
            steps: Vec::new(),
            ..Self::sent(&head.bake, setup)
        }
    }

    /// Of a bake that was sent.
    #[must_use]
    pub fn sent(bake: &Bake, setup: Option<&Setup>) -> Self {
        let named = |name: Option<&String>, otherwise: &str| {
            name.cloned().unwrap_or_else(|| otherwise.to_owned())
        };
        Self {
            name: named(setup.map(|setup| &setup.bake.name), "a bake"),
            oven: named(setup.map(|setup| &setup.oven.name), "an oven"),
            load: named(setup.map(|setup| &setup.load.name), "a load"),
            bake: bake.clone(),
            steps: setup.map(|setup| setup.bake.steps.clone()).unwrap_or_default(),
            units: setup.map_or(Units::Celsius, |setup| Units::of_scale(setup.bake.scale)),
        }
    }

    /// A step by its number from 1, with its words.
    #[must_use]
    pub fn step(&self, number: u8) -> Option<(&Step, Option<&StepWords>)> {
        let index = usize::from(number).checked_sub(1)?;
        Some((self.bake.steps.get(index)?, self.steps.get(index)))
    }
}

/// Everything that is shown.
#[derive(Clone, Debug, Default)]
pub struct View {
    /// What the board is doing, once it has said so.
    pub status: Option<Status>,
    /// What is baked, once a bake has begun.
    pub baked: Option<Baked>,
    /// The bake's log so far.
    pub rows: Vec<Row>,
    /// How it was foreseen, once that is worked out.
    pub foresight: Option<Arc<Foresight>>,
    /// No oven hangs on the board.
    pub is_virtual: bool,
    /// Why the board does not answer, if it does not.
    pub lost: Option<String>,
    /// Something the watcher has to say of itself.
    pub note: Option<String>,
    /// Units of temperatures.
    pub units: Units,
    /// Time of day; a virtual board's time is its own.
    pub now: Option<DateTime>,
}

impl View {
    /// The events so far, with their seconds since the start.
    pub fn events(&self) -> impl DoubleEndedIterator<Item = (f64, Event)> + '_ {
        let events = self.rows.iter().filter(|row| !row.event.is_empty());
        events.filter_map(|row| Event::parse(&row.event).map(|event| (row.t_s(), event)))
    }

    /// How the bake ended.
    #[must_use]
    pub fn ending(&self) -> Option<Ending> {
        self.ended().map(|(_, ending)| ending)
    }

    /// When it ended, seconds since the start.
    #[must_use]
    pub fn ended_s(&self) -> Option<f64> {
        self.ended().map(|(at_s, _)| at_s)
    }

    fn ended(&self) -> Option<(f64, Ending)> {
        self.events().rev().find_map(|(at_s, event)| match event {
            Event::Ended(ending) => Some((at_s, ending)),
            _ => None,
        })
    }

    /// The last second of the log.
    #[must_use]
    pub fn last_second(&self) -> Option<&Row> {
        self.rows.iter().rev().find(|row| row.event.is_empty())
    }

    /// Where the bake stands, for what is foreseen of it.
    #[must_use]
    pub fn standing(&self) -> Option<Standing> {
        let status = self.status.as_ref()?;
        let steps = || {
            self.events().filter_map(|(at_s, event)| match event {
                Event::StepBegan(index) => Some((at_s, index + 1)),
                _ => None,
            })
        };
        let began_s = steps().next_back().map_or(0.0, |(at_s, _)| at_s);
        let round = steps().filter(|(_, step)| *step == status.step).count();
        Some(Standing {
            step: status.step,
            round: u8::try_from(round.max(1)).unwrap_or(u8::MAX),
            in_step_s: (f64::from(status.second) - began_s).max(0.0),
            credit_s: status.credit_s,
            coldest_c: status.coldest.map(|bound| f64::from(bound.0)),
            reading_c: status.reading.map(|reading| f64::from(reading.to_celsius().0)),
        })
    }

    /// When it will be done, as far as that is worked out.
    #[must_use]
    pub fn foreseen(&self) -> Option<Foreseen> {
        self.foresight.as_ref()?.from(&self.standing()?)
    }
}
