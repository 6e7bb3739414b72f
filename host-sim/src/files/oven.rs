//! An oven, in SI units and °C, every default filled in.

use truesoak_core::sensor::Kind;

/// One oven.
#[derive(Clone, Debug, PartialEq)]
pub struct Oven {
    /// Name.
    pub name: String,
    /// Room temperature, °C.
    pub ambient_c: f64,
    /// Inside of the cabinet.
    pub cavity: Cavity,
    /// Heating element.
    pub heater: Heater,
    /// Inner wall.
    pub liner: Liner,
    /// Insulation.
    pub insulation: Insulation,
    /// Outer skin.
    pub skin: Skin,
    /// Air leaking to the room, W/K.
    pub leak_w_per_k: f64,
    /// Circulation.
    pub circulation: Circulation,
    /// Timed heat-up and cool-down of the empty oven.
    pub observed: Observed,
    /// Air sensor.
    pub sensor: Sensor,
    /// Second air sensor.
    pub sensor_b: Option<Sensor>,
    /// The part probe, where a load has a part for it.
    pub probe: Probe,
    /// Door.
    pub door: Door,
    /// Drive.
    pub drive: Drive,
    /// Contactor.
    pub permit: Permit,
    /// The oven's own limit on true air, °C.
    pub air_max_c: f64,
    /// Factors found by `fit` or from `observed`.
    pub calibration: Calibration,
    /// What is not known.
    pub spread: Spread,
    /// The user's own tuning.
    pub tuning: Option<Tuning>,
}

/// Inside of the cabinet.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cavity {
    /// Width, m.
    pub width_m: f64,
    /// Height, m.
    pub height_m: f64,
    /// Depth, m.
    pub depth_m: f64,
}

/// Heating element.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Heater {
    /// Rated power, W.
    pub power_w: f64,
    /// Heat capacity, J/K.
    pub capacity_j_per_k: f64,
    /// Surface, m².
    pub area_m2: f64,
    /// Emissivity, 0..1.
    pub emissivity: f64,
    /// Share of its heat to the liner at rated power, 0..1.
    pub radiant_share: f64,
    /// Share of its surface that sees the parts, 0..1.
    pub heater_view: f64,
}

/// Inner wall.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Liner {
    /// Heat capacity of the whole inner wall, J/K.
    pub capacity_j_per_k: f64,
    /// Emissivity, 0..1.
    pub emissivity: f64,
}

/// Insulation between liner and skin.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Insulation {
    /// Thickness, m.
    pub thickness_m: f64,
    /// Conductivity, W/(m K).
    pub conductivity_w_per_m_k: f64,
    /// Density, kg/m³.
    pub density_kg_per_m3: f64,
    /// Specific heat, J/(kg K).
    pub specific_heat_j_per_kg_k: f64,
}

/// Outer skin.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Skin {
    /// Heat capacity, J/K.
    pub capacity_j_per_k: f64,
    /// Emissivity, 0..1.
    pub emissivity: f64,
}

/// How the air moves.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Circulation {
    /// By buoyancy alone.
    Natural,
    /// By a fan.
    Fan {
        /// Air speed at the parts, m/s.
        speed_m_per_s: f64,
        /// An airflow proof is fitted.
        proof: bool,
    },
}

/// A timed change of the empty oven, door shut.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Timed {
    /// From, °C.
    pub from_c: f64,
    /// To, °C.
    pub to_c: f64,
    /// In, s.
    pub in_s: f64,
}

/// What was timed with a kitchen clock.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub struct Observed {
    /// At full power.
    pub heats: Option<Timed>,
    /// Heater off, after 30 min held at `from_c`.
    pub cools: Option<Timed>,
}

/// A sensor.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sensor {
    /// Kind.
    pub kind: Kind,
    /// Time constant, s.
    pub lag_s: f64,
    /// Share of wall temperature it sees, 0..1.
    pub wall_view: f64,
    /// Standard deviation of one reading, K.
    pub noise_k: f64,
    /// Step of the converter, K.
    pub resolution_k: f64,
    /// Added to every reading, K.
    pub correction_k: f64,
}

/// Probe for a part.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Probe {
    /// Time constant behind the surface it sits on, s.
    pub lag_s: f64,
    /// Standard deviation of one reading, K.
    pub noise_k: f64,
    /// Step of the converter, K.
    pub resolution_k: f64,
    /// Largest constant error, either way, K.
    pub offset_k: f64,
}

/// Door.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Door {
    /// A door switch is fitted.
    pub switch: bool,
    /// Width of the doorway, m.
    pub width_m: f64,
    /// Height of the doorway, m.
    pub height_m: f64,
    /// Discharge coefficient of the two-way exchange.
    pub discharge: f64,
}

/// Drive.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Drive {
    /// Shortest time on, s.
    pub minimum_on_s: f64,
    /// Shortest time off, s.
    pub minimum_off_s: f64,
}

/// Contactor and its pump.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Permit {
    /// A feedback contact is read.
    pub feedback: bool,
    /// Mains at the heater is proven by an input.
    pub mains_proof: bool,
    /// How long the pump holds after the last toggle, s.
    pub hold_s: f64,
}

/// Factors on nominal values.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Calibration {
    /// On insulation conductance and leak.
    pub losses: f64,
    /// On heat capacities of liner, insulation and skin.
    pub wall_heat_capacity: f64,
    /// On convection and radiation at parts and rack, and air to liner.
    pub part_exchange: f64,
    /// On rated power.
    pub heater_power: f64,
    /// On the film between air and liner alone, besides `part_exchange`: the heater's plume stirs.
    pub liner_exchange: f64,
}

impl Default for Calibration {
    fn default() -> Self {
        Self {
            losses: 1.0,
            wall_heat_capacity: 1.0,
            part_exchange: 1.0,
            heater_power: 1.0,
            liner_exchange: 1.0,
        }
    }
}

/// What is not known, uniform: fractions of nominal, shares in 0..1, K.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spread {
    /// ± fraction.
    pub losses: f64,
    /// ± fraction.
    pub wall_heat_capacity: f64,
    /// ± fraction.
    pub part_exchange: f64,
    /// ± fraction.
    pub heater_power: f64,
    /// ± the share itself.
    pub radiant_share: f64,
    /// ± the share itself.
    pub wall_view: f64,
    /// ± fraction.
    pub sensor_lag: f64,
    /// ± K.
    pub sensor_offset_k: f64,
    /// 0 to this, K.
    pub cold_spot_k: f64,
    /// 0 to this, K.
    pub hot_spot_k: f64,
}

impl Spread {
    /// Everything is known.
    pub const NOTHING: Self = Self {
        losses: 0.0,
        wall_heat_capacity: 0.0,
        part_exchange: 0.0,
        heater_power: 0.0,
        radiant_share: 0.0,
        wall_view: 0.0,
        sensor_lag: 0.0,
        sensor_offset_k: 0.0,
        cold_spot_k: 0.0,
        hot_spot_k: 0.0,
    };
}

/// The user's own tuning of the air loop; duty 0..1.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tuning {
    /// Duty per K.
    pub gain_per_k: f64,
    /// s.
    pub integral_time_s: f64,
    /// s.
    pub derivative_time_s: f64,
}
