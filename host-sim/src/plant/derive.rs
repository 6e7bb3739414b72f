//! From sizes, masses and materials to areas, capacities, films and exchange areas.
//!
//! Both the plant and the board's tables are made from one [`Derived`], so that what the bounds
//! assume and what a rehearsal simulates have the same form. Everything here is nominal: the
//! factors of `calibration` and of a draw are applied by whoever uses it. Nothing here fails; the
//! readers have refused what is not physical.

use super::ZERO_CELSIUS_K;
use super::air::Air;
use super::convection::{Body, Film};
use super::outline::{self, Outline};
use super::radiation::{self, STEFAN_BOLTZMANN};

pub use super::outline::{Cell, Section};
use crate::files::load::{Load, Part, Rack};
use crate::files::oven::{Circulation, Oven};
use truesoak_core::bounds::model::{CELLS_MAX, INSULATION_CELLS};

/// Biot number up to which one lump stands for a section (any heat-transfer text).
pub const BIOT_LUMPED: f64 = 0.1;
/// Air and liner temperature at which the element's heat is shared out, °C: mid-bake.
const RATED_C: f64 = 150.0;
/// GUESS: diameter of a sheathed element, m; common practice is 6.5–8.5 mm.
const ELEMENT_DIAMETER_M: f64 = 0.008;
/// Where a Biot number is judged: hot air on a part well behind it, °C.
const BIOT_AIR_C: f64 = 200.0;
const BIOT_SURFACE_C: f64 = 100.0;
/// GUESS: skin temperature above the room in a long soak, K, for its film.
const SKIN_RISE_K: f64 = 20.0;

/// An oven and its load, physically.
#[derive(Clone, Debug, PartialEq)]
pub struct Derived {
    /// Room, °C.
    pub ambient_c: f64,
    /// Element.
    pub element: Element,
    /// Liner, insulation and skin.
    pub cabinet: Cabinet,
    /// Air.
    pub air: CabinetAir,
    /// Rack.
    pub rack: Option<Point>,
    /// Parts, in the load's order.
    pub parts: Vec<Points>,
}

/// Heating element: with share `s` of radiation its heat leaves as
/// `(1-s)·convection·(Te-Ta) + s·radiation·σ·(Te⁴-Tw⁴)`, plus radiation to parts that see it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Element {
    /// Rated power, W.
    pub power_w: f64,
    /// Heat capacity, J/K.
    pub capacity_j_per_k: f64,
    /// Conductance to air at share 0, W/K.
    pub convection_w_per_k: f64,
    /// Exchange area with the liner at share 1, m².
    pub radiation_m2: f64,
    /// Share of its heat to the liner at rated power.
    pub radiant_share: f64,
    /// Its own temperature at rated power with air and liner at 150 °C, °C.
    pub rated_c: f64,
}

/// Liner, insulation and skin.
#[derive(Clone, Debug, PartialEq)]
pub struct Cabinet {
    /// Area of the liner, m².
    pub liner_m2: f64,
    /// Air to liner.
    pub liner_film: Film,
    /// Heat capacity of the liner, J/K.
    pub liner_j_per_k: f64,
    /// Heat capacity of one of three insulation cells, J/K.
    pub insulation_j_per_k: f64,
    /// Liner to first cell, cell to cell, last cell to skin, W/K.
    pub insulation_w_per_k: [f64; INSULATION_CELLS + 1],
    /// Heat capacity of the skin, J/K.
    pub skin_j_per_k: f64,
    /// Skin to room, convection and radiation, W/K. Constant: over the skins a bake meets it moves
    /// by a quarter at most, and it is a tenth of the way out, so losses by 2–3 %.
    pub skin_w_per_k: f64,
    /// Black area the liner radiates through while the door is open, m².
    pub doorway_m2: f64,
}

/// Air of the cabinet.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CabinetAir {
    /// Heat capacity, J/K.
    pub capacity_j_per_k: f64,
    /// Leaks to the room, W/K.
    pub leak_w_per_k: f64,
    /// Least share of any film (parts, rack, liner) that is left when the fan stops; 1 without one.
    pub stopped_fan: f64,
}

/// A part's two points. Each has half of the mass: the slow one stands for its thickest section in
/// the coldest air, the fast one for its thinnest in the hottest.
#[derive(Clone, Debug, PartialEq)]
pub struct Points {
    /// Name of the part.
    pub name: String,
    /// Slowest.
    pub slow: Point,
    /// Fastest.
    pub fast: Point,
    /// Temperature it comes in with, °C.
    pub starts_at_c: f64,
}

/// How finely sections are taken apart.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sections {
    /// Lumps where conduction is quick, else as many cells as a board has.
    AsOnBoard,
    /// So many cells, at least two, everywhere: what a board leaves out, to hold it to.
    Everywhere(usize),
}

impl Sections {
    fn cells(self, biot: f64) -> usize {
        match self {
            Self::AsOnBoard if biot > BIOT_LUMPED => CELLS_MAX,
            Self::AsOnBoard => 1,
            Self::Everywhere(cells) => cells,
        }
    }
}

/// One lump, or a chain of cells from surface to middle where the Biot number is above 0.1.
#[derive(Clone, Debug, PartialEq)]
pub struct Point {
    /// Outer area of all such points together, m².
    pub area_m2: f64,
    /// Heat capacity of all such points together, J/K.
    pub capacity_j_per_k: f64,
    /// Air to surface.
    pub film: Film,
    /// Effective emissivity against the liner, bare.
    pub emissivity: f64,
    /// Effective emissivity against the liner during a cure.
    pub emissivity_cure: f64,
    /// Exchange area with the element, m²; 0 where it is not seen.
    pub element_m2: f64,
    /// Biot number, worst case of a bake.
    pub biot: f64,
    /// Cells, surface first; one where lumped.
    pub cells: Vec<Cell>,
}

/// Derives everything, sections as finely as a board has them.
#[must_use]
pub fn derive(oven: &Oven, load: &Load) -> Derived {
    derive_in(oven, load, Sections::AsOnBoard)
}

/// Derives everything.
#[must_use]
pub fn derive_in(oven: &Oven, load: &Load, sections: Sections) -> Derived {
    let speed_m_per_s = match oven.circulation {
        Circulation::Natural => 0.0,
        Circulation::Fan { speed_m_per_s, .. } => speed_m_per_s,
    };
    let cabinet = cabinet(oven, speed_m_per_s);
    let inside = Inside::new(oven, load, cabinet.liner_m2, speed_m_per_s, sections);
    let parts: Vec<Points> = load.parts.iter().map(|part| inside.points(part)).collect();
    let rack = load.rack.as_ref().map(|rack| inside.rack(rack));
    let films = core::iter::once(&cabinet.liner_film)
        .chain(parts.iter().flat_map(|part| [&part.slow.film, &part.fast.film]))
        .chain(rack.iter().map(|rack| &rack.film));
    let stopped_fan = films.map(share_left_without_fan).fold(1.0, f64::min);
    let volume_m3 = oven.cavity.width_m * oven.cavity.height_m * oven.cavity.depth_m;
    let room_air = Air::at(oven.ambient_c + ZERO_CELSIUS_K);
    Derived {
        ambient_c: oven.ambient_c,
        element: element(oven, cabinet.liner_m2, speed_m_per_s),
        air: CabinetAir {
            capacity_j_per_k: volume_m3
                * room_air.density_kg_per_m3
                * room_air.specific_heat_j_per_kg_k,
            leak_w_per_k: oven.leak_w_per_k,
            stopped_fan,
        },
        cabinet,
        rack,
        parts,
    }
}

fn cabinet(oven: &Oven, speed_m_per_s: f64) -> Cabinet {
    let (width, height, depth) = (oven.cavity.width_m, oven.cavity.height_m, oven.cavity.depth_m);
    let walls = |w: f64, h: f64, d: f64| 2.0 * (w * h + w * d + h * d);
    let liner_m2 = walls(width, height, depth);
    let twice = 2.0 * oven.insulation.thickness_m;
    let skin_m2 = walls(width + twice, height + twice, depth + twice);
    // Heat spreads on its way out; the geometric mean area is exact for a spherical shell and
    // close for a box (from memory).
    let mean_m2 = libm::sqrt(liner_m2 * skin_m2);
    let cells = INSULATION_CELLS as f64;
    let cell_w_per_k =
        oven.insulation.conductivity_w_per_m_k * mean_m2 / (oven.insulation.thickness_m / cells);
    let mut insulation_w_per_k = [cell_w_per_k; INSULATION_CELLS + 1];
    insulation_w_per_k[0] = 2.0 * cell_w_per_k;
    insulation_w_per_k[INSULATION_CELLS] = 2.0 * cell_w_per_k;
    let liner_film = Film { body: Body::VerticalPlate, length_m: height, speed_m_per_s };
    let skin_film =
        Film { body: Body::VerticalPlate, length_m: height + twice, speed_m_per_s: 0.0 };
    let skin_c = oven.ambient_c + SKIN_RISE_K;
    let skin_h = skin_film.coefficient(skin_c, oven.ambient_c)
        + oven.skin.emissivity * linear_radiation(skin_c, oven.ambient_c);
    Cabinet {
        liner_m2,
        liner_film,
        liner_j_per_k: oven.liner.capacity_j_per_k,
        insulation_j_per_k: oven.insulation.density_kg_per_m3
            * oven.insulation.specific_heat_j_per_kg_k
            * oven.insulation.thickness_m
            * mean_m2
            / cells,
        insulation_w_per_k,
        skin_j_per_k: oven.skin.capacity_j_per_k,
        skin_w_per_k: skin_m2 * skin_h,
        doorway_m2: oven.door.width_m * oven.door.height_m,
    }
}

/// Coefficient of black radiation between two temperatures, W/(m² K).
fn linear_radiation(a_c: f64, b_c: f64) -> f64 {
    let (a, b) = (a_c + ZERO_CELSIUS_K, b_c + ZERO_CELSIUS_K);
    STEFAN_BOLTZMANN * (a * a + b * b) * (a + b)
}

/// The element's temperature at rated power follows from its surface, by its own film and its
/// radiation to the liner; convection and radiation are then each scaled to carry the whole power
/// at that temperature, so that any share of one and the rest of the other balance there too.
fn element(oven: &Oven, liner_m2: f64, speed_m_per_s: f64) -> Element {
    let heater = &oven.heater;
    let film = Film { body: Body::HorizontalCylinder, length_m: ELEMENT_DIAMETER_M, speed_m_per_s };
    let exchange_m2 =
        radiation::enclosed_m2(heater.area_m2, heater.emissivity, liner_m2, oven.liner.emissivity);
    let rated_k = RATED_C + ZERO_CELSIUS_K;
    let leaving_w = |element_c: f64| {
        heater.area_m2 * film.coefficient(element_c, RATED_C) * (element_c - RATED_C)
            + radiation::flow_w(exchange_m2, element_c + ZERO_CELSIUS_K, rated_k)
    };
    let rated_c = rising_root(RATED_C + 1.0, 3_000.0, heater.power_w, leaving_w);
    let element_k = rated_c + ZERO_CELSIUS_K;
    Element {
        power_w: heater.power_w,
        capacity_j_per_k: heater.capacity_j_per_k,
        convection_w_per_k: heater.power_w / (rated_c - RATED_C),
        radiation_m2: heater.power_w / radiation::flow_w(1.0, element_k, rated_k),
        radiant_share: heater.radiant_share,
        rated_c,
    }
}

/// Where a rising function meets `target`, by halving; the nearer end where it does not.
fn rising_root(mut low: f64, mut high: f64, target: f64, function: impl Fn(f64) -> f64) -> f64 {
    for _ in 0..50 {
        let middle = 0.5 * (low + high);
        if function(middle) < target {
            low = middle;
        } else {
            high = middle;
        }
    }
    0.5 * (low + high)
}

/// What is left of a film when the fan stops, over the temperatures of a bake, 0..1.
fn share_left_without_fan(film: &Film) -> f64 {
    if film.speed_m_per_s <= 0.0 {
        return 1.0;
    }
    let still = film.still();
    let mut least = 1.0_f64;
    for air_c in [20.0, 100.0, 180.0, 260.0] {
        for difference_k in [0.5, 5.0, 50.0] {
            let surface_c = air_c - difference_k;
            let share = still.coefficient(surface_c, air_c) / film.coefficient(surface_c, air_c);
            least = least.min(share);
        }
    }
    least
}

/// What is the same for everything inside the cabinet.
struct Inside {
    speed_m_per_s: f64,
    liner_emissivity: f64,
    /// Area of all parts and the rack over the liner's.
    area_ratio: f64,
    element_m2: f64,
    element_emissivity: f64,
    heater_view: f64,
    /// Area of all parts, m².
    parts_m2: f64,
    sections: Sections,
}

impl Inside {
    fn new(
        oven: &Oven,
        load: &Load,
        liner_m2: f64,
        speed_m_per_s: f64,
        sections: Sections,
    ) -> Self {
        let parts_m2 = load.parts.iter().map(outline::part_area_m2).sum::<f64>();
        let rack_m2 = load.rack.as_ref().map_or(0.0, |rack| outline::rack_outline(rack).area_m2);
        Self {
            speed_m_per_s,
            liner_emissivity: oven.liner.emissivity,
            area_ratio: (parts_m2 + rack_m2) / liner_m2,
            element_m2: oven.heater.area_m2,
            element_emissivity: oven.heater.emissivity,
            heater_view: oven.heater.heater_view,
            parts_m2,
            sections,
        }
    }

    fn effective(&self, emissivity: f64) -> f64 {
        radiation::enclosed_emissivity(emissivity, self.area_ratio, self.liner_emissivity)
    }

    /// Parts share what the element sends them by their area.
    fn element_exchange_m2(&self, area_m2: f64, emissivity: f64) -> f64 {
        if self.heater_view <= 0.0 || self.parts_m2 <= 0.0 {
            return 0.0;
        }
        let all = radiation::between_m2(
            self.element_m2,
            self.element_emissivity,
            self.heater_view,
            self.parts_m2,
            emissivity,
        );
        all * area_m2 / self.parts_m2
    }

    fn points(&self, part: &Part) -> Points {
        let [slow, fast] = outline::part_outlines(part).map(|outline| {
            let capacity = 0.5
                * f64::from(part.count)
                * part.mass_kg
                * part.substance.specific_heat_j_per_kg_k;
            let conductivity = part.substance.conductivity_w_per_m_k;
            let emissivities = (part.emissivity, part.emissivity_cure);
            self.point(&outline, capacity, conductivity, emissivities)
        });
        Points { name: part.name.clone(), slow, fast, starts_at_c: part.starts_at_c }
    }

    fn rack(&self, rack: &Rack) -> Point {
        let capacity = rack.mass_kg * rack.substance.specific_heat_j_per_kg_k;
        let conductivity = rack.substance.conductivity_w_per_m_k;
        let emissivities = (rack.emissivity, rack.emissivity);
        let mut point =
            self.point(&outline::rack_outline(rack), capacity, conductivity, emissivities);
        // The rack hangs behind the parts: what the element sends is theirs.
        point.element_m2 = 0.0;
        point
    }

    fn point(
        &self,
        outline: &Outline,
        capacity_j_per_k: f64,
        conductivity_w_per_m_k: f64,
        (bare, cure): (f64, f64),
    ) -> Point {
        let film = Film {
            body: outline.body,
            length_m: outline.length_m,
            speed_m_per_s: self.speed_m_per_s,
        };
        let (emissivity, emissivity_cure) = (self.effective(bare), self.effective(cure));
        let exchange = film.coefficient(BIOT_SURFACE_C, BIOT_AIR_C)
            + emissivity.max(emissivity_cure) * linear_radiation(BIOT_SURFACE_C, BIOT_AIR_C);
        let biot = exchange * outline.section.volume_per_area_m() / conductivity_w_per_m_k;
        Point {
            area_m2: outline.area_m2,
            capacity_j_per_k,
            film,
            emissivity,
            emissivity_cure,
            element_m2: self.element_exchange_m2(outline.area_m2, bare.max(cure)),
            biot,
            cells: outline.section.cells(
                self.sections.cells(biot),
                outline.area_m2,
                conductivity_w_per_m_k,
            ),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::sample;
    use super::*;

    fn close(value: f64, expected: f64) {
        assert!((value / expected - 1.0).abs() < 1e-9, "{value} against {expected}");
    }

    #[test]
    fn at_rated_power_the_liner_gets_the_radiant_share_whatever_it_is() {
        let oven = sample::oven(Circulation::Natural);
        let element = derive(&oven, &sample::load()).element;
        for share in [0.1, 0.3, 0.7] {
            let rated_k = RATED_C + ZERO_CELSIUS_K;
            let to_air = (1.0 - share) * element.convection_w_per_k * (element.rated_c - RATED_C);
            let to_liner = share
                * radiation::flow_w(
                    element.radiation_m2,
                    element.rated_c + ZERO_CELSIUS_K,
                    rated_k,
                );
            close(to_air + to_liner, 1_500.0);
            close(to_liner / (to_air + to_liner), share);
        }
        assert!((400.0..900.0).contains(&element.rated_c), "{element:?}");
    }

    #[test]
    fn a_cabinet_has_its_walls_area_and_the_wools_conductance() {
        let cabinet = derive(&sample::oven(Circulation::Natural), &sample::load()).cabinet;
        close(cabinet.liner_m2, 0.94);
        let resistance: f64 = cabinet.insulation_w_per_k.iter().map(|g| 1.0 / g).sum();
        // 40 mm of 0.045 W/(m K) over √(0.94 m² · 1.396 8 m²).
        close(1.0 / resistance, 0.045 / 0.04 * (0.94_f64 * 1.362_4).sqrt());
        close(cabinet.insulation_j_per_k * 3.0, 80.0 * 840.0 * 0.04 * (0.94_f64 * 1.362_4).sqrt());
        assert!((7.0..16.0).contains(&(cabinet.skin_w_per_k / 1.362_4)), "{cabinet:?}");
    }

    #[test]
    fn a_weighed_part_has_half_its_mass_at_each_thickness() {
        let derived = derive(&sample::oven(Circulation::Natural), &sample::load());
        let lever = &derived.parts[0];
        close(lever.slow.capacity_j_per_k, 8.0 * 0.031 * 896.0);
        close(lever.fast.capacity_j_per_k, lever.slow.capacity_j_per_k);
        close(lever.slow.area_m2, 8.0 * 0.031 / 2_700.0 / 0.004);
        close(lever.fast.area_m2 / lever.slow.area_m2, 8.0 / 3.0);
        assert_eq!(lever.slow.cells.len(), 1);
    }

    #[test]
    fn a_thick_polymer_is_a_chain_and_its_halves_are_alike() {
        let derived = derive(&sample::oven(Circulation::Natural), &sample::load());
        let block = &derived.parts[2];
        assert!(block.slow.biot > 0.3, "{}", block.slow.biot);
        assert_eq!(block.slow, block.fast);
        assert_eq!(block.slow.cells.len(), CELLS_MAX);
        // 0.3 W/(m K) through the first of growing steps.
        close(
            block.slow.cells[0].inward_w_per_k,
            0.3 * block.slow.area_m2 / (0.01 * libm::pow(1.0 / 3.0, 1.7)),
        );
    }

    #[test]
    fn a_bigger_load_dims_its_own_emissivity() {
        let oven = sample::oven(Circulation::Natural);
        let few = derive(&oven, &sample::load());
        let mut load = sample::load();
        for part in &mut load.parts {
            part.count *= 10;
        }
        let many = derive(&oven, &load);
        assert!(many.parts[0].slow.emissivity < few.parts[0].slow.emissivity);
        assert!(few.parts[0].slow.emissivity < 0.3);
    }

    #[test]
    fn parts_that_see_the_element_share_its_rays_by_area() {
        let mut oven = sample::oven(Circulation::Natural);
        oven.heater.heater_view = 0.2;
        let derived = derive(&oven, &sample::load());
        let slow = &derived.parts[0].slow;
        let fast = &derived.parts[0].fast;
        assert!(slow.element_m2 > 0.0);
        close(fast.element_m2 / slow.element_m2, fast.area_m2 / slow.area_m2);
        let all: f64 = derived.parts.iter().map(|p| p.slow.element_m2 + p.fast.element_m2).sum();
        assert!(all < 0.2 * 0.04, "{all}");
        assert!(derived.rack.unwrap().element_m2 <= 0.0);
    }

    #[test]
    fn a_stopped_fan_leaves_a_share_of_the_film() {
        let fan = derive(&sample::oven(sample::FAN), &sample::load());
        assert!((0.02..0.8).contains(&fan.air.stopped_fan), "{}", fan.air.stopped_fan);
        let still = derive(&sample::oven(Circulation::Natural), &sample::load());
        close(still.air.stopped_fan, 1.0);
    }
}
