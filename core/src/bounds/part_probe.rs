//! The probe on a part: what it narrows, what must have been seen first, and what takes it back.
//!
//! It sits on the thickest section of a part of its class, on the one that hangs where the air is
//! coldest: the class's slow point. From a probe that is believed, nothing in the class is colder
//! than it shows, less its own error. That raises the class's coldest bound and nothing else: the
//! hottest part hangs in the hottest air, of which it says nothing; for other parts it could narrow
//! air and liner only, by a tenth of a kelvin (reckoned from areas, not measured). The plain bounds
//! run on beside it, alone steer heat and limits, and are what is left when the probe is not
//! believed.
//!
//! Why the narrowed bound holds: *coldest* is one more lower copy of the slow point, moved by the
//! same rows as the plain one, in the same air beside the same liner, and raised now and then to
//! another number that the point is not below. A lower copy that is raised to a lower bound stays
//! one. Where slow and fast point are alike but for their air, the fast is never the colder, so the
//! class is not colder than *coldest*; where they are not, the fast keeps its plain copy.
//!
//! Whether the probe is on its part is judged by its *due*: copies of what it would show, its
//! constant error included. A state `T + c` with `c` between 0 and twice the error is increasing in
//! all but itself and falls no faster in its own rows than `T` does, so the lower row moves it from
//! below; `T - c` likewise from above. The reading resets both each second, so they follow its
//! *changes*, and the error, being constant, does not loosen them. A reading beyond its due by more
//! than noise can explain is not on this part, and the probe is not believed again in this bake. A
//! step too small to be seen so is kept off the bound.
//!
//! Refused: a probe that has not risen with its part by [`RISE_K`] since the load went in; and one
//! that could be anywhere else in the oven as well. Where else is told by what it is not: for
//! [`ELSEWHERE_S`] it must have been beyond anything that air and wall make of it, and beyond every
//! other class and a thinner section of its own. It raises the bound only while it is colder than
//! any air in the oven: what came off its part and hangs in the air raises nothing.
//!
//! A probe that disagrees from the first by rising too little may sit on a part that is thicker than
//! told. It raises nothing, but nothing counts before it, too, is in the window.
//!
//! Not seen: a probe on a part that hangs warmer than another of its class, one that touches two
//! parts, or one held so badly that it reads a share of the air.

use super::chain::Behind;
use super::govern::MEAN_AGE_S;
use super::model::{CLASSES_MAX, Class, Model, Probe};
use super::section::{coldest_of, hottest_of};
use super::side::Side;
use super::track::{Cells, Drive, advance_point, spots};
use super::{Bounds, STEP_ALLOWANCE_K, Second};
use crate::persist::Persist;
use crate::units::{Celsius, Reading};
use serde::{Deserialize, Serialize};

/// A rise of the reading that tells a part of this lag from others, K.
const RISE_K: f32 = 40.0;
/// So long beyond anything that air and wall could make of it, s.
const ELSEWHERE_S: u32 = 30;
/// Places a probe can be at instead of on its part: on any class, or between air and wall.
const PLACES: usize = CLASSES_MAX + 1;
/// The place between air and wall.
const AIR_AND_WALL: usize = CLASSES_MAX;
/// Sigmas of a second's mean that no reading is off by in a bake.
const NOISE_SIGMAS: f32 = 6.0;
/// Square root of the transfers of one second.
const MEAN_OF: f32 = 3.162_277_7;

/// Whether the probe is believed; outlives a lost supply.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub enum Trust {
    /// Not yet.
    #[default]
    Proving,
    /// It has risen as its part does.
    Believed,
    /// It disagreed once.
    Lost,
    /// It never rose as its part must: the part may be thicker than told. It only lowers the bound.
    Behind,
}

/// What is kept of the probe from one second to the next.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct PartProbe {
    trust: Trust,
    /// No slow point of the class is colder; once the probe is believed.
    coldest: Option<Cells>,
    /// Least and greatest of what the probe is at, once it has been read.
    due: Option<[Cells; 2]>,
    /// How far the part may be below and above what lags behind it, K.
    ahead_k: [f32; 2],
    /// Lowest reading since the load went in.
    least: Option<Reading>,
    previous: Option<Reading>,
    /// Where the part may be at that lags behind what it was told to be, °C.
    behind_c: Option<f32>,
    /// Every other class it could sit on, its own for a thinner section, and air and wall.
    elsewhere: [Persist; PLACES],
    /// A bit for each of these it was seen not to be at.
    ruled_out: u8,
}

/// One second around the probe.
struct Around<'a> {
    /// Of the lower and the upper side.
    drives: [&'a Drive<'a>; 2],
    /// Elements at its start, °C.
    elements_c: [f32; 2],
    /// Coldest and hottest of every place the probe could be at instead, °C; `None`: there is none.
    places: [Option<(f32, f32)>; PLACES],
    /// Behind the surface it sits on.
    behind: &'a Behind,
}

impl Around<'_> {
    /// Nowhere in the oven is the air colder, °C.
    fn coldest_air_c(&self) -> f32 {
        let [lower, _] = self.drives;
        lower.seen.own.air.min(lower.seen.other.air) - lower.model.air.cold_spot_k
    }
}

impl PartProbe {
    /// Nothing is known of it yet.
    pub(super) fn new() -> Self {
        Self {
            trust: Trust::Proving,
            coldest: None,
            due: None,
            ahead_k: [0.0; 2],
            least: None,
            previous: None,
            behind_c: None,
            elsewhere: [Persist::default(); PLACES],
            ruled_out: 0,
        }
    }

    /// Other parts may be inside now: it must prove itself again, unless it has lost that.
    pub(super) fn begin_again(&mut self) {
        let trust = match self.trust {
            Trust::Proving | Trust::Believed => Trust::Proving,
            lost => lost,
        };
        *self = Self { trust, ..Self::new() };
    }

    /// Moves what is followed by one second, before it is read.
    fn advance(&mut self, class: &Class, around: &Around<'_>, plain: [&Cells; 2], lag_s: f32) {
        let [lower, upper] = around.drives;
        let move_on = |side: Side, drive: &Drive<'_>, cells: &mut Cells, element_c: f32| {
            let before = surface(cells);
            let (slow_spot, _) = spots(side, drive.model);
            let point = (&class.slow, around.behind);
            advance_point(side, drive, point, cells, slow_spot, element_c);
            surface(cells) - before
        };
        let [element_low, element_high] = around.elements_c;
        if self.trust == Trust::Believed {
            let coldest = self.coldest.get_or_insert(*plain[0]);
            move_on(Side::Lower, lower, coldest, element_low);
        }
        let [low, high] = self.due.get_or_insert([*plain[0], *plain[1]]);
        let fell_k = move_on(Side::Lower, lower, low, element_low).min(0.0);
        let rose_k = move_on(Side::Upper, upper, high, element_high).max(0.0);
        // What lags by τ is off by the changes of the last seconds, each fading with τ.
        let kept = 1.0 - 1.0 / (lag_s + MEAN_AGE_S);
        let [below_k, above_k] = self.ahead_k;
        self.ahead_k = [kept * below_k + fell_k, kept * above_k + rose_k];
    }

    /// Takes a reading that may be off by `unseen_k` besides its constant error.
    fn read(&mut self, shown: Reading, fitted: &Probe, unseen_k: f32, around: &Around<'_>) {
        let Some([low, high]) = &mut self.due else { return };
        let shown_c = shown.to_celsius().0;
        let [below_k, above_k] = self.ahead_k;
        let (least_c, most_c) = (shown_c - fitted.offset_k, shown_c + fitted.offset_k);
        let too_cold = most_c + above_k + unseen_k < surface(low);
        let too_hot = least_c + below_k - unseen_k > surface(high);
        let before = self.previous.replace(shown).unwrap_or(shown);
        if too_cold || too_hot {
            // What fell off into the cold falls; a part that is too slow only rises too little.
            let falls = (before.to_celsius().0 - shown_c) > unseen_k;
            let is_behind = too_cold && !falls && self.trust == Trust::Proving;
            self.trust = if is_behind { Trust::Behind } else { Trust::Lost };
            self.coldest = None;
            return;
        }
        raise(low, most_c + below_k - unseen_k);
        lower(high, least_c + above_k + unseen_k);
        let off_k = fitted.offset_k + unseen_k;
        let is_colder = shown_c + off_k < around.coldest_air_c();
        if let (Some(coldest), true) = (&mut self.coldest, is_colder) {
            // Its own noise, and a step that its due would not show: while the part rises, the due
            // lets as much through as the part may be ahead.
            raise(coldest, least_c + below_k - above_k - 3.0 * unseen_k);
        }
        self.prove(shown, off_k, around);
    }

    fn prove(&mut self, shown: Reading, off_k: f32, around: &Around<'_>) {
        let least = self.least.map_or(shown, |least| least.min(shown));
        self.least = Some(least);
        if self.trust != Trust::Proving {
            return;
        }
        let shown_c = shown.to_celsius().0;
        let mut everywhere_else = true;
        for (place, (range, held)) in around.places.iter().zip(&mut self.elsewhere).enumerate() {
            let Some((coldest_c, hottest_c)) = *range else { continue };
            let beyond = shown_c + off_k < coldest_c || shown_c - off_k > hottest_c;
            self.ruled_out |= u8::from(held.held(beyond, ELSEWHERE_S)) << place;
            everywhere_else &= self.ruled_out >> place & 1 == 1;
        }
        let rose_k = shown_c - least.to_celsius().0;
        if everywhere_else && rose_k >= RISE_K {
            self.trust = Trust::Believed;
        }
    }
}

impl Bounds {
    /// Follows the probe through a second; before the tracks move, whose rows it shares.
    pub(super) fn follow_probe(
        &mut self,
        model: &Model,
        second: &Second,
        lower: &Drive<'_>,
        upper: &Drive<'_>,
    ) {
        let (Some(fitted), Some(mut probe)) = (&model.probe, self.part_probe.take()) else {
            return;
        };
        let index = usize::from(fitted.class);
        if !self.load.present.has(index) || self.load.loading {
            probe.begin_again();
        } else if probe.trust != Trust::Lost {
            self.run_probe(&mut probe, fitted, second, [lower, upper]);
        }
        self.part_probe = Some(probe);
    }

    fn run_probe(
        &self,
        probe: &mut PartProbe,
        fitted: &Probe,
        second: &Second,
        drives: [&Drive<'_>; 2],
    ) {
        let (model, index) = (drives[0].model, usize::from(fitted.class));
        let plain = self.lower.slow.get(index).zip(self.upper.slow.get(index));
        let (Some(class), Some((low, high))) = (model.classes.get(index), plain) else { return };
        let elements_c = [self.lower.element.celsius(), self.upper.element.celsius()];
        let places = self.places(index, drives);
        let [behind, _] = self.chains.of_class(index);
        let around = Around { drives, elements_c, places, behind };
        if probe.trust != Trust::Behind {
            probe.advance(class, &around, [low, high], fitted.lag_s.high);
        }
        if let Some(shown) = second.part_probe {
            let late_k = self.late_most_k(index);
            let noise_k = NOISE_SIGMAS * fitted.noise_k / MEAN_OF;
            let unseen_k = 0.5 * fitted.resolution_k + noise_k + STEP_ALLOWANCE_K + late_k;
            if probe.trust == Trust::Behind {
                probe.behind_c = Some(shown.to_celsius().0 - fitted.offset_k - unseen_k);
            } else {
                probe.read(shown, fitted, unseen_k, &around);
            }
        }
    }

    /// Where else the probe of class `own` could be.
    fn places(&self, own: usize, drives: [&Drive<'_>; 2]) -> [Option<(f32, f32)>; PLACES] {
        let [lower, upper] = drives;
        let model = lower.model;
        let mut places = [None; PLACES];
        for (index, (class, place)) in model.classes.iter().zip(&mut places).enumerate() {
            if index != own {
                *place = self.class(index).map(|(coldest, hottest)| (coldest.0, hottest.0));
            } else if let (false, Some(low), Some(high)) =
                (are_alike(class), self.lower.fast.get(index), self.upper.fast.get(index))
            {
                let used = class.fast.cells;
                *place = Some((coldest_of(low, used), hottest_of(high, used)));
            }
        }
        // Any mixture of the air anywhere in the oven and the wall.
        let (low, high) = (lower.seen.own, upper.seen.own);
        let coldest_c = (low.air - model.air.cold_spot_k).min(low.liner);
        let hottest_c = (high.air + model.air.hot_spot_k).max(high.liner);
        if let Some(place) = places.get_mut(AIR_AND_WALL) {
            *place = Some((coldest_c, hottest_c));
        }
        places
    }

    /// Coldest and hottest any part of one class can be, whatever may have gone in, and by the probe
    /// too where it sits on one of them and is believed; `None` when it is not inside.
    #[must_use]
    pub fn proven(&self, model: &Model, index: usize) -> Option<(Celsius, Celsius)> {
        let (plain, hottest) = self.class(index)?;
        let coldest = self.probe_on(model, index).map_or(plain, |probe| {
            let raised = self.raised(probe, model, index).map_or(plain, |by| by.max(plain));
            probe.behind_c.map_or(raised, |behind_c| raised.min(Celsius(behind_c)))
        });
        Some((self.or_in_doubt(index, coldest), hottest))
    }

    /// The probe, if it sits on a part of this class.
    fn probe_on(&self, model: &Model, index: usize) -> Option<&PartProbe> {
        let fitted = model.probe.as_ref()?;
        self.part_probe.as_ref().filter(|_| usize::from(fitted.class) == index)
    }

    fn raised(&self, probe: &PartProbe, model: &Model, index: usize) -> Option<Celsius> {
        let class = model.classes.get(index)?;
        let by_probe = coldest_of(probe.coldest.as_ref()?, class.slow.cells);
        let fast = coldest_of(self.lower.fast.get(index)?, class.fast.cells);
        // Where they are alike the one in the hotter air is not the colder.
        let of_class = if are_alike(class) { by_probe } else { by_probe.min(fast) };
        Some(Celsius(of_class - STEP_ALLOWANCE_K + self.late_below_k(index)))
    }

    /// Whether the probe is believed; nothing is believed of a probe that is not fitted.
    #[must_use]
    pub fn probe_trust(&self) -> Trust {
        self.part_probe.as_ref().map_or(Trust::Proving, |probe| probe.trust)
    }

    /// What was thought of the probe before the supply was lost: what it has lost stays lost.
    pub(crate) fn restore_probe(&mut self, trust: Trust) {
        if let Some(probe) = &mut self.part_probe {
            probe.trust = trust;
            probe.begin_again();
        }
    }

    /// The probe is believed: it has risen as its part does, and was neither air nor wall.
    #[must_use]
    pub fn probe_is_believed(&self) -> bool {
        self.probe_trust() == Trust::Believed
    }

    /// The probe showed what its part cannot be at; it is not believed again in this bake.
    #[must_use]
    pub fn probe_disagrees(&self) -> bool {
        matches!(self.probe_trust(), Trust::Lost | Trust::Behind)
    }

    /// Other parts may be inside now.
    pub(super) fn doubt_probe(&mut self) {
        if let Some(probe) = &mut self.part_probe {
            probe.begin_again();
        }
    }
}

/// Both points of a class differ in their air alone.
fn are_alike(class: &Class) -> bool {
    class.slow == class.fast
}

fn surface(cells: &Cells) -> f32 {
    cells.first().map_or(0.0, |cell| cell.celsius())
}

fn raise(cells: &mut Cells, to_c: f32) {
    if let Some(cell) = cells.first_mut() {
        *cell = (*cell).max(super::State::at(Celsius(to_c)));
    }
}

fn lower(cells: &mut Cells, to_c: f32) {
    if let Some(cell) = cells.first_mut() {
        *cell = (*cell).min(super::State::at(Celsius(to_c)));
    }
}
