//! One copy of the oven and its load, and its step of one second.
//!
//! Rows use the states of the second before and the air the reading implies. Every row is
//! increasing in every state but its own, once the sensor is put in, so a lower and an upper copy
//! enclose the truth (Müller's theorem). Nothing here decides anything.

use super::chain::{Behind, Chain, Row};
use super::laws;
use super::load::{Load, Present};
use super::model::{CELLS_MAX, CLASSES_MAX, Class, INSULATION_CELLS, Model, Point};
use super::seen::{Pair, Seen};
use super::side::Side;
use super::state::State;
use super::{COLDER_THAN_TOLD_K, START_APART_K};
use crate::units::{Celsius, Span};

/// Behind the surfaces of a class that no model has.
const NO_CLASS: [Behind; 2] = [Behind::NOTHING; 2];

/// Temperatures of the cells of one point, surface first.
pub(super) type Cells = [State; CELLS_MAX];

/// One copy.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Track {
    pub(super) side: Side,
    pub(super) element: State,
    pub(super) liner: State,
    pub(super) insulation: [State; INSULATION_CELLS],
    pub(super) skin: State,
    pub(super) rack: Cells,
    pub(super) slow: [Cells; CLASSES_MAX],
    pub(super) fast: [Cells; CLASSES_MAX],
    /// Air as duty alone predicts it.
    pub(super) air: State,
    /// What the sensor shows of that air, its constant error left out.
    pub(super) sensor: State,
}

/// What drives a track for one second.
#[derive(Clone, Copy, Debug)]
pub(super) struct Drive<'a> {
    pub(super) model: &'a Model,
    pub(super) seen: Seen,
    /// Share of the second the heater was on.
    pub(super) duty: f32,
    pub(super) door_open: bool,
    /// Least that is left of every film, which the fan may have stopped to blow on, 0..1.
    pub(super) fan: f32,
    pub(super) load: Load,
}

/// A point with its place in the air.
pub(super) struct Placed<'a> {
    pub(super) point: &'a Point,
    /// Its air less the sensor's, K, at the end that is worst for the point.
    pub(super) spot_k: f32,
    /// The same at the end that is worst for the air.
    pub(super) spot_for_air_k: f32,
    pub(super) cells: &'a Cells,
}

/// The cells behind every surface of a model.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Chains {
    rack: Behind,
    /// Slow and fast point of every class.
    classes: [[Behind; 2]; CLASSES_MAX],
}

impl Chains {
    pub(super) fn of(model: &Model) -> Self {
        let rack = model.rack.as_ref().map_or(Behind::NOTHING, Behind::of);
        let mut chains = Self { rack, classes: [NO_CLASS; CLASSES_MAX] };
        for (behind, class) in chains.classes.iter_mut().zip(&model.classes) {
            *behind = [Behind::of(&class.slow), Behind::of(&class.fast)];
        }
        chains
    }

    /// Slow and fast point of a class.
    pub(super) fn of_class(&self, index: usize) -> [&Behind; 2] {
        self.classes.get(index).unwrap_or(&NO_CLASS).each_ref()
    }
}

/// Heat a point takes by radiation, W, before the factor of exchange.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Radiated {
    from_liner: f32,
    from_element: f32,
}

impl Radiated {
    fn add(&mut self, more: Self) {
        self.from_liner += more.from_liner;
        self.from_element += more.from_element;
    }
}

/// Spots at the worst end for a point on this side: slow, fast.
pub(super) fn spots(side: Side, model: &Model) -> (f32, f32) {
    let (cold, hot) = (model.air.cold_spot_k, model.air.hot_spot_k);
    match side {
        Side::Lower => (-cold, 0.0),
        Side::Nominal => (-0.5 * cold, 0.5 * hot),
        Side::Upper => (0.0, hot),
    }
}

impl Track {
    /// Everything at one temperature, the load at another.
    pub(super) fn new(side: Side, oven: Celsius, parts: Celsius) -> Self {
        let (oven, parts) = (State::at(oven), State::at(parts));
        Self {
            side,
            element: oven,
            liner: oven,
            insulation: [oven; INSULATION_CELLS],
            skin: oven,
            rack: [parts; CELLS_MAX],
            slow: [[parts; CELLS_MAX]; CLASSES_MAX],
            fast: [[parts; CELLS_MAX]; CLASSES_MAX],
            air: oven,
            sensor: oven,
        }
    }

    /// A load that goes in now: every point of `present` starts anew. A lower copy at the colder of
    /// its starting temperature and the room, and colder still; an upper one at the starting
    /// temperature, or where it was if it was `inside` and hotter.
    pub(super) fn restart_load(&mut self, model: &Model, present: Present, inside: Present) {
        let (side, room_c) = (self.side, model.ambient.0);
        let set = |cells: &mut Cells, starts_at: Celsius, is_inside: bool| {
            let at = if side == Side::Lower {
                starts_at.0.min(room_c) - COLDER_THAN_TOLD_K
            } else {
                starts_at.0 + START_APART_K
            };
            let at = State::at(Celsius(at));
            let was = cells.iter().copied().max().unwrap_or_default();
            let at = if side == Side::Upper && is_inside { at.max(was) } else { at };
            *cells = [at; CELLS_MAX];
        };
        // The rack starts with the coldest (on the upper side the hottest) class.
        if present.rack {
            set(&mut self.rack, model.rack_starts_at, inside.rack);
        }
        let points = self.slow.iter_mut().zip(self.fast.iter_mut());
        for (index, (class, (slow, fast))) in model.classes.iter().zip(points).enumerate() {
            if present.has(index) {
                set(slow, class.starts_at, inside.has(index));
                set(fast, class.starts_at, inside.has(index));
            }
        }
    }

    /// One second of the rack; what it takes by radiation is added.
    pub(super) fn advance_rack(
        &mut self,
        drive: &Drive<'_>,
        chains: &Chains,
        taken: &mut Radiated,
    ) {
        if let (Some(rack), true) = (&drive.model.rack, drive.load.present.rack) {
            let element_c = self.element.celsius();
            let rack = (rack, &chains.rack);
            taken.add(advance_point(self.side, drive, rack, &mut self.rack, 0.0, element_c));
        }
    }

    /// The same of one share of the classes.
    pub(super) fn advance_classes(
        &mut self,
        drive: &Drive<'_>,
        chains: &Chains,
        share: usize,
        shares: usize,
        taken: &mut Radiated,
    ) {
        let (side, element_c) = (self.side, self.element.celsius());
        let (slow_spot, fast_spot) = spots(side, drive.model);
        // Counted by hand: stepping by a number takes a division.
        let mut index = share;
        while let (Some(class), Some(slow), Some(fast)) =
            (drive.model.classes.get(index), self.slow.get_mut(index), self.fast.get_mut(index))
        {
            if drive.load.present.has(index) {
                let [behind_slow, behind_fast] = chains.of_class(index);
                let (point, behind) = (&class.slow, behind_slow);
                taken.add(advance_point(side, drive, (point, behind), slow, slow_spot, element_c));
                let (point, behind) = (&class.fast, behind_fast);
                taken.add(advance_point(side, drive, (point, behind), fast, fast_spot, element_c));
            }
            index += shares;
        }
    }

    /// The same second of the oven around the load.
    pub(super) fn advance_oven(&mut self, drive: &Drive<'_>, taken: Radiated) {
        let before = self.hot();
        self.advance_hot(drive, taken);
        self.advance_air(drive, before);
    }

    /// One second of a track whose load is half way between two others, and takes half of what
    /// theirs took.
    pub(super) fn advance_between(
        &mut self,
        drive: &Drive<'_>,
        (lower, upper): (&Self, &Self),
        taken: [Radiated; 2],
    ) {
        let half = |of: fn(&Radiated) -> f32| 0.5 * taken.iter().map(of).sum::<f32>();
        let radiated = Radiated {
            from_liner: half(|radiated| radiated.from_liner),
            from_element: half(|radiated| radiated.from_element),
        };
        self.advance_oven(drive, radiated);
        self.place_between(drive.model, lower, upper);
    }

    /// Element and cabinet, without the air that duty alone predicts and its sensor.
    pub(super) fn advance_hot(&mut self, drive: &Drive<'_>, radiated: Radiated) {
        let before = self.hot();
        self.advance_element(drive, radiated.from_element);
        self.advance_cabinet(drive, &before, radiated.from_liner);
    }

    /// Every surface of the load half way between those of two others: nothing asks a track that is
    /// placed so what is behind them.
    pub(super) fn place_between(&mut self, model: &Model, lower: &Self, upper: &Self) {
        place_middle(&mut self.rack, &lower.rack, &upper.rack);
        let slow = self.slow.iter_mut().zip(lower.slow.iter().zip(&upper.slow));
        let fast = self.fast.iter_mut().zip(lower.fast.iter().zip(&upper.fast));
        let classes = slow.zip(fast).take(model.classes.len());
        for ((slow, slow_ends), (fast, fast_ends)) in classes {
            place_middle(slow, slow_ends.0, slow_ends.1);
            place_middle(fast, fast_ends.0, fast_ends.1);
        }
    }

    /// Element and liner as they are now: rows of one second all use the second before.
    pub(super) fn hot(&self) -> Hot {
        Hot { element: self.element.celsius(), liner: self.liner.celsius() }
    }

    fn advance_element(&mut self, drive: &Drive<'_>, to_parts: f32) {
        let (side, model) = (self.side, drive.model);
        let element = &model.element;
        let now = self.element.celsius();
        let gained = |pair: Pair| {
            let convected = element.convection_w_per_k * side.left(drive.fan, pair.air - now);
            let radiated = element.radiation_m2 * laws::radiation(pair.liner, now);
            // (1-s)·convected + s·radiated is affine in the share.
            convected + side.worst(element.radiant_share, radiated - convected)
        };
        let sag = match side {
            Side::Lower => {
                element.radiant_share.high * element.radiation_m2 * drive.seen.radiation_sag
            }
            Side::Nominal | Side::Upper => 0.0,
        };
        let heat = side.end(element.power) * element.power_w * drive.duty
            + side.further(gained(drive.seen.own), gained(drive.seen.other))
            - sag
            + side.worst(model.exchange, -to_parts);
        let share = element.radiant_share.middle();
        let conductance = (1.0 - share) * element.convection_w_per_k
            + share * element.radiation_m2 * laws::radiation_slope(now, now);
        self.element.change(laws::one_second(heat, conductance, element.capacity_j_per_k));
    }

    fn advance_cabinet(&mut self, drive: &Drive<'_>, before: &Hot, to_parts: f32) {
        let (side, model) = (self.side, drive.model);
        let cabinet = &model.cabinet;
        let liner = before.liner;
        let inner = self.insulation.first().map_or(liner, |cell| cell.celsius());
        let Pair { air, warmth, .. } = drive.seen.own;
        let film = laws::film(side, &cabinet.liner_film, drive.fan, warmth, air - liner);
        let exchanged = cabinet.liner_m2 * film.flux - to_parts;
        let from_element = model.element.radiation_m2 * laws::radiation(before.element, liner);
        let conductance = cabinet.insulation_w_per_k.first().copied().unwrap_or(0.0);
        let heat = side.worst(model.exchange, exchanged)
            + side.worst(model.element.radiant_share, from_element)
            + side.worst(cabinet.losses, conductance * (inner - liner))
            - self.doorway_loss(drive, liner);
        let slope = cabinet.liner_m2 * film.slope + conductance;
        self.advance_shell(model, liner);
        let change = laws::one_second(heat, slope, cabinet.liner_j_per_k);
        self.liner.change(change / self.capacity_factor(cabinet.capacity, heat));
    }

    /// Radiation of the liner into the room while the door is open, W; the upper side, which must
    /// not rely on an open door, loses none.
    fn doorway_loss(&self, drive: &Drive<'_>, liner_c: f32) -> f32 {
        if drive.door_open && self.side != Side::Upper {
            drive.model.cabinet.doorway_m2 * laws::radiation(liner_c, drive.model.ambient.0)
        } else {
            0.0
        }
    }

    /// A capacity's factor divides, so the worst end is the opposite one.
    fn capacity_factor(&self, span: Span, heat: f32) -> f32 {
        self.side.factor(span, -heat)
    }

    /// Insulation and skin.
    fn advance_shell(&mut self, model: &Model, liner_c: f32) {
        let (side, cabinet) = (self.side, &model.cabinet);
        let [first, second, third, fourth] = cabinet.insulation_w_per_k;
        let [one, two, three] = self.insulation.map(State::celsius);
        let skin = self.skin.celsius();
        let cell = |before: f32, after: f32, flux: f32| {
            let losses = side.factor(cabinet.losses, flux);
            Row {
                capacity: cabinet.insulation_j_per_k * self.capacity_factor(cabinet.capacity, flux),
                before: losses * before,
                after: losses * after,
                outside: 0.0,
                flux: losses * flux,
            }
        };
        let inward = fourth * (three - skin);
        let losses = side.factor(cabinet.losses, inward);
        let skin_flux = losses * inward - cabinet.skin_w_per_k * (skin - model.ambient.0);
        let mut chain = Chain::default();
        for row in [
            Row {
                outside: first * cabinet.losses.middle(),
                ..cell(0.0, second, first * (liner_c - one) + second * (two - one))
            },
            cell(second, third, second * (one - two) + third * (three - two)),
            cell(third, fourth, third * (two - three) + fourth * (skin - three)),
            Row {
                capacity: cabinet.skin_j_per_k * self.capacity_factor(cabinet.capacity, skin_flux),
                before: losses * fourth,
                after: 0.0,
                outside: cabinet.skin_w_per_k,
                flux: skin_flux,
            },
        ] {
            chain.row(row);
        }
        let [one, two, three, skin] = chain.changes();
        for (cell, change) in self.insulation.iter_mut().zip([one, two, three]) {
            cell.change(change);
        }
        self.skin.change(skin);
    }
}

fn place_middle([surface, ..]: &mut Cells, [lower, ..]: &Cells, [upper, ..]: &Cells) {
    *surface = State::middle(*lower, *upper);
}

/// Element and liner at the start of a second, °C.
#[derive(Clone, Copy, Debug)]
pub(super) struct Hot {
    pub(super) element: f32,
    pub(super) liner: f32,
}

/// Emissivity of a point now.
pub(super) fn emissivity(point: &Point, load: Load) -> f32 {
    if load.coated { point.emissivity_cure } else { point.emissivity }
}

/// Moves one point on; what it took by radiation goes back to liner and element.
pub(super) fn advance_point(
    side: Side,
    drive: &Drive<'_>,
    (point, behind): (&Point, &Behind),
    cells: &mut Cells,
    spot_k: f32,
    element_c: f32,
) -> Radiated {
    let surface = cells.first().map_or(0.0, |cell| cell.celsius());
    let emissivity = emissivity(point, drive.load);
    let (per_m2, from_liner, slope) = surface_flux(side, drive, point, emissivity, surface, spot_k);
    let from_element = if point.element_m2 > 0.0 {
        point.element_m2 * laws::radiation(element_c, surface)
    } else {
        0.0
    };
    let heat = point.area_m2 * per_m2 + from_element;
    let exchange = side.factor(drive.model.exchange, heat);
    let slope = exchange * point.area_m2 * slope;
    relax(side, drive.load, (point, behind), cells, exchange * heat, slope);
    let from_liner = point.area_m2 * from_liner;
    if drive.load.loading {
        // Liner and element lose what the point takes: only a loss is certain to be missing.
        return Radiated {
            from_liner: -side.perhaps(-from_liner),
            from_element: -side.perhaps(-from_element),
        };
    }
    Radiated { from_liner, from_element }
}

/// Film and radiation into a surface at its worst, an open door included, radiation from the own
/// liner, and the slope of the whole, all per m².
fn surface_flux(
    side: Side,
    drive: &Drive<'_>,
    point: &Point,
    emissivity: f32,
    surface_c: f32,
    spot_k: f32,
) -> (f32, f32, f32) {
    let seen = &drive.seen;
    let flux = |pair: Pair| {
        let difference_k = pair.air + spot_k - surface_c;
        let film = laws::film(side, &point.film, drive.fan, pair.warmth, difference_k);
        let slope = emissivity * laws::radiation_slope(pair.liner, surface_c);
        let radiated = slope * (pair.liner - surface_c);
        (film.flux + radiated, radiated, film.slope, slope)
    };
    let (own, radiated, film_slope, radiation_slope) = flux(seen.own);
    let high = point.film.law.high;
    let quarter = high * point.film.quarter;
    let worst = if seen.liner_rules(emissivity, high * film_slope, quarter) {
        own
    } else {
        side.further(own, flux(seen.other).0) + seen.allowance(side, emissivity, quarter)
    };
    (worst - emissivity * seen.to_room, radiated, film_slope + radiation_slope)
}

/// Adds one second of heat through the surface to a point.
fn relax(
    side: Side,
    load: Load,
    (point, behind): (&Point, &Behind),
    cells: &mut Cells,
    heat: f32,
    slope: f32,
) {
    let held = |change: f32| if load.loading { side.perhaps(change) } else { change };
    if point.cells <= 1 {
        let change = laws::one_second(heat, slope, point.capacity_j_per_k);
        if let Some(cell) = cells.first_mut() {
            cell.change(held(change));
        }
        return;
    }
    let changes = behind.changes(point, cells.map(State::celsius), heat, slope);
    for (cell, change) in cells.iter_mut().zip(changes).take(usize::from(point.cells)) {
        cell.change(held(change));
    }
}

impl Class {
    /// Both points with the spots of this side.
    pub(super) fn placed<'a>(
        &'a self,
        side: Side,
        model: &Model,
        slow: &'a Cells,
        fast: &'a Cells,
    ) -> [Placed<'a>; 2] {
        let (cold, hot) = (model.air.cold_spot_k, model.air.hot_spot_k);
        let (slow_spot, fast_spot) = spots(side, model);
        // The air gains most from a point whose own air is as cold as it may be.
        let (slow_for_air, fast_for_air) = match side {
            Side::Lower => (0.0, hot),
            Side::Nominal => (slow_spot, fast_spot),
            Side::Upper => (-cold, 0.0),
        };
        [
            Placed {
                point: &self.slow,
                spot_k: slow_spot,
                spot_for_air_k: slow_for_air,
                cells: slow,
            },
            Placed {
                point: &self.fast,
                spot_k: fast_spot,
                spot_for_air_k: fast_for_air,
                cells: fast,
            },
        ]
    }
}
