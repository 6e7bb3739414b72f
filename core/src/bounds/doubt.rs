//! The doubt after an opening, as long as nobody has said whether anything new is inside.
//!
//! A second lower copy, restarted cold, runs beside the first. If nothing new went in the first goes
//! on as it was, else this one takes its place. Until then nothing inside is colder than the colder
//! of the two, and nothing is hotter than the one upper copy, which sees the colder liner of both:
//! the colder the wall a sensor sees, the hotter the air that makes it read what it does.
//!
//! Refused: a probe says nothing of what may have gone in. It proves itself anew once something has.
//! Nor is it followed what duty alone would make of the colder copy's air: that is as cold as anything
//! inside, and begins from there once something has gone in.

use super::model::{CLASSES_MAX, Model};
use super::section::coldest_of;
use super::seen::Seen;
use super::state::State;
use super::track::{Radiated, Track};
use super::{Bounds, STEP_ALLOWANCE_K};
use crate::io::Answer;
use crate::units::Celsius;

/// The part of a second in which each of its classes moves: those that are not full without …
const CLASSES_IN: [u8; CLASSES_MAX] = [0, 2, 2, 3, 4, 4];
/// … and its rack and oven, behind all of them.
const OVEN_IN: u8 = 8;

/// What is kept of it.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Doubt {
    pub(super) lower: Track,
    /// No part of each class is colder.
    coldest: [Celsius; CLASSES_MAX],
    /// What the parts of a second hand on: the air, once the second has begun, …
    seen: Option<Seen>,
    /// … and what the load took so far.
    taken: Radiated,
}

impl Doubt {
    /// A second begins with this air.
    pub(super) fn begin_second(&mut self, seen: Seen) {
        (self.seen, self.taken) = (Some(seen), Radiated::default());
    }
}

impl Bounds {
    /// Nobody has said whether anything new is inside.
    #[must_use]
    pub fn is_doubted(&self) -> bool {
        self.doubt.is_some()
    }

    /// Something cold may have gone in, this time or, where that is still open, the last.
    pub fn begin_doubt(&mut self, model: &Model) {
        let mut doubt = self.doubt.take().unwrap_or_else(|| Doubt {
            lower: self.lower.clone(),
            coldest: [Celsius(0.0); CLASSES_MAX],
            seen: None,
            taken: Radiated::default(),
        });
        doubt.lower.restart_load(model, self.coming, self.coming);
        let coldest = State::at(Celsius(self.floor(model)));
        (doubt.lower.air, doubt.lower.sensor) = (coldest, coldest);
        self.doubt = Some(doubt);
        self.look(model);
    }

    /// A person has said: fail, something new is inside.
    pub fn end_doubt(&mut self, model: &Model, answer: Answer) {
        let (Some(doubt), Answer::Fail) = (self.doubt.take(), answer) else { return };
        self.lower = doubt.lower;
        self.nominal.place_between(model, &self.lower, &self.upper);
        self.doubt_probe();
        self.look(model);
    }

    /// What moves beside one part of a second.
    pub(super) fn part_in_doubt(&mut self, model: &Model, part: u8) {
        let (Some(course), Some(doubt)) = (&self.course, &mut self.doubt) else { return };
        let Some(seen) = doubt.seen else { return };
        let drive = course.drive(model, seen);
        let (lower, taken) = (&mut doubt.lower, &mut doubt.taken);
        if part == OVEN_IN {
            lower.advance_rack(&drive, &self.chains, taken);
            lower.advance_hot(&drive, *taken);
        }
        for (class, moves_in) in CLASSES_IN.iter().enumerate() {
            if *moves_in == part {
                lower.advance_classes(&drive, &self.chains, class, CLASSES_MAX, taken);
            }
        }
    }

    /// Takes the coldest of every class as [`Bounds::look`] does.
    pub(super) fn look_in_doubt(&mut self, model: &Model) {
        let Some(mut doubt) = self.doubt.take() else { return };
        let points = doubt.lower.slow.iter().zip(&doubt.lower.fast).zip(&mut doubt.coldest);
        for (index, (class, ((slow, fast), coldest))) in
            model.classes.iter().zip(points).enumerate()
        {
            let plain = coldest_of(slow, class.slow.cells).min(coldest_of(fast, class.fast.cells));
            *coldest = Celsius(plain - STEP_ALLOWANCE_K + self.late_below_k(index));
        }
        self.doubt = Some(doubt);
    }

    /// The coldest of a class, or what may have gone in instead.
    pub(super) fn or_in_doubt(&self, class: usize, coldest: Celsius) -> Celsius {
        let doubted = self.doubt.as_ref().and_then(|doubt| doubt.coldest.get(class));
        doubted.map_or(coldest, |doubted| coldest.min(*doubted))
    }
}
