//! The oven and load as the board knows them: a small thermal network with its uncertainty.
//!
//! A computer compiles these tables from the oven and load files and the spread; the board only
//! evaluates them. The network is element, liner, three insulation cells, skin, rack, and for
//! every part class a *slow* point (thickest, in the coldest air) and a *fast* point (thinnest, in
//! the hottest air). The air is not a state of the bounds: it is measured.
//!
//! Conductances are nominal; the spans beside them are the factors they may be off by. One factor,
//! [`Model::exchange`], scales convection and radiation at parts and rack and air to liner alike.

use crate::units::{Celsius, Span};
use heapless::Vec;
use serde::{Deserialize, Serialize};

/// Most part classes of a load.
pub const CLASSES_MAX: usize = 6;
/// Cells through the insulation.
pub const INSULATION_CELLS: usize = 3;
/// Most cells of one point, surface first.
pub const CELLS_MAX: usize = 4;
/// Greatest share of what a part sees that is the room while the door is open. Past a plane a patch
/// of surface sees at most (1 + cos θ)/2, θ between its normal and the plane's; over a whole convex
/// body cos θ averages to 0, and a hollow one sees itself besides.
pub const DOORWAY_VIEW_MAX: f32 = 0.5;

/// Oven and load.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Model {
    /// Room temperature.
    pub ambient: Celsius,
    /// Air sensor.
    pub sensor: Sensor,
    /// Second air sensor.
    pub sensor_b: Option<Sensor>,
    /// Probe on a part.
    pub probe: Option<Probe>,
    /// Heating element.
    pub element: Element,
    /// Cabinet: liner, insulation, skin.
    pub cabinet: Cabinet,
    /// Air of the cabinet, for what the reading may be.
    pub air: Air,
    /// Factor on convection and radiation at parts and rack, and on air to liner.
    pub exchange: Span,
    /// Rack; carries heat, is not held to a window.
    pub rack: Option<Point>,
    /// Temperature the rack comes in with.
    pub rack_starts_at: Celsius,
    /// Part classes.
    pub classes: Vec<Class, CLASSES_MAX>,
}

/// First-order sensor that sees a share of the wall.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Sensor {
    /// Time constant, s.
    pub lag_s: Span,
    /// Share of the liner's temperature in what it sees, 0..1.
    pub wall_view: Span,
    /// Largest constant error of a reading, either way, K.
    pub offset_k: f32,
    /// Step of the converter, K.
    pub resolution_k: f32,
    /// Standard deviation of one reading, K.
    pub noise_k: f32,
}

/// Probe on the thickest section of a part, on the one that hangs where the air is coldest.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Probe {
    /// Class of that part.
    pub class: u8,
    /// Time constant behind the surface it sits on, s.
    pub lag_s: Span,
    /// Largest constant error, either way, K.
    pub offset_k: f32,
    /// Step of the converter, K.
    pub resolution_k: f32,
    /// Standard deviation of one reading, K.
    pub noise_k: f32,
}

/// Heating element. With share `s` (drawn from `radiant_share`) its heat leaves as
/// `(1-s)·convection·(Te-Ta) + s·radiation·σ·(Te⁴-Tw⁴)` and, where parts see it, as radiation to
/// them.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Element {
    /// Rated power, W.
    pub power_w: f32,
    /// Factor on it.
    pub power: Span,
    /// Heat capacity, J/K.
    pub capacity_j_per_k: f32,
    /// Conductance to air at share 0, W/K.
    pub convection_w_per_k: f32,
    /// Exchange area to the liner at share 1, m².
    pub radiation_m2: f32,
    /// Share of its heat to the liner at rated power, 0..1.
    pub radiant_share: Span,
}

/// Film coefficient `h = law·(w·constant + v·quarter·|ΔT|^(1/4))`, W/(m² K), fitted to the
/// correlations, in air whose [`Warmth`] is w and v; what the fit misses is inside `law`.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Film {
    /// Constant part in air of 0 °C, W/(m² K).
    pub constant: f32,
    /// Factor of the fourth root of the difference in air of 0 °C, W/(m² K^(5/4)).
    pub quarter: f32,
    /// Least and greatest ratio of the correlation to this fit where the air is the hotter; where the
    /// surface is, the least is less ([`HOTTER_SURFACE_PER_K`]).
    pub law: Span,
}

impl Film {
    /// Coefficient by the fit where the fourth root of the difference is `root`, W/(m² K).
    #[must_use]
    pub fn coefficient(&self, warmth: Warmth, root: f32) -> f32 {
        warmth.constant * self.constant + warmth.quarter * self.quarter * root
    }
}

/// The least of a film on a surface hotter than its air is by this share a kelvin below the least on one
/// as much colder: its film is the hotter by the difference.
pub const HOTTER_SURFACE_PER_K: f32 = 0.000_7;
/// Still air conducts more as it warms, by this share of what it does at 0 °C a kelvin …
const CONDUCTS_MORE_PER_K: f32 = 0.002_5;
/// … what a fan drives past takes up a little less …
const BLOWN_LESS_PER_K: f32 = 0.000_15;
/// … and air rises less.
const RISES_LESS_PER_K: f32 = 0.000_6;

/// What an air temperature makes of the two parts of a film.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Warmth {
    /// Factor on the constant part.
    pub constant: f32,
    /// Factor on the fourth root's.
    pub quarter: f32,
}

impl Air {
    /// Of air at this temperature, °C.
    #[must_use]
    #[inline(never)]
    pub fn warmth(&self, air_c: f32) -> Warmth {
        let per_k = if self.is_still() { CONDUCTS_MORE_PER_K } else { -BLOWN_LESS_PER_K };
        Warmth { constant: 1.0 + per_k * air_c, quarter: 1.0 - RISES_LESS_PER_K * air_c }
    }

    /// No fan blows in this oven.
    #[must_use]
    pub fn is_still(&self) -> bool {
        self.stopped_fan >= 1.0
    }

    /// Of an oven without a fan, alike everywhere.
    #[cfg(test)]
    pub(super) fn by_hand() -> Self {
        Self {
            capacity_j_per_k: 60.0,
            leak_w_per_k: 0.2,
            stopped_fan: 1.0,
            airflow_proof: false,
            cold_spot_k: 0.0,
            hot_spot_k: 0.0,
        }
    }
}

/// Liner, insulation and skin.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Cabinet {
    /// Area of the liner, m².
    pub liner_m2: f32,
    /// Air to liner.
    pub liner_film: Film,
    /// Heat capacity of the liner, J/K.
    pub liner_j_per_k: f32,
    /// Heat capacity of one insulation cell, J/K.
    pub insulation_j_per_k: f32,
    /// Heat capacity of the skin, J/K.
    pub skin_j_per_k: f32,
    /// Factor on all heat capacities of the cabinet.
    pub capacity: Span,
    /// Conductance liner to first cell, cell to cell, last cell to skin, W/K.
    pub insulation_w_per_k: [f32; INSULATION_CELLS + 1],
    /// Factor on the insulation's conductances and the leak.
    pub losses: Span,
    /// Skin to room, W/K.
    pub skin_w_per_k: f32,
    /// Black area the liner radiates through while the door is open, m².
    pub doorway_m2: f32,
}

/// Air of the cabinet.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Air {
    /// Heat capacity, J/K.
    pub capacity_j_per_k: f32,
    /// Leaks to the room, W/K.
    pub leak_w_per_k: f32,
    /// Fan oven: film factor when the fan has stopped, 0..1; 1 without a fan.
    pub stopped_fan: f32,
    /// Fan oven with an airflow proof fitted.
    pub airflow_proof: bool,
    /// Coldest air at the parts, below the sensor's, 0 to this, K.
    pub cold_spot_k: f32,
    /// Hottest air at the parts, above the sensor's, 0 to this, K.
    pub hot_spot_k: f32,
}

/// One lump, or a chain of cells through the half thickness where the Biot number is above 0.1.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Point {
    /// Outer area of all such points together, m².
    pub area_m2: f32,
    /// Heat capacity of all such points together, J/K.
    pub capacity_j_per_k: f32,
    /// Air to surface.
    pub film: Film,
    /// Effective emissivity against the liner while bare, 0..1.
    pub emissivity: f32,
    /// The same during a cure, 0..1 (coated, unless the user gave one).
    pub emissivity_cure: f32,
    /// Exchange area with the element, m²; 0 where it is not seen.
    pub element_m2: f32,
    /// Cells, 1..=[`CELLS_MAX`], surface first.
    pub cells: u8,
    /// Conductance between neighbouring cells, W/K; unused with one cell.
    pub conduction_w_per_k: [f32; CELLS_MAX - 1],
    /// Share of the capacity in each cell; the used ones sum to 1.
    pub cell_share: [f32; CELLS_MAX],
}

/// Parts of one kind.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Class {
    /// Slowest point.
    pub slow: Point,
    /// Fastest point.
    pub fast: Point,
    /// What the parts stand.
    pub max: Celsius,
    /// Temperature they come in with.
    pub starts_at: Celsius,
    /// Hung for gas-out soaks too.
    pub gas_out: bool,
}
