//! An oven and loads for the tests of this module.

use crate::files::load::{Load, Part, Rack, Shape, Surface};
use crate::files::oven::{
    Calibration, Cavity, Circulation, Door, Drive, Heater, Insulation, Liner, Observed, Oven,
    Permit, Probe, Sensor, Skin, Spread,
};
use crate::materials::Substance;
use truesoak_core::sensor::{Kind, Thermocouple};

/// A converted cabinet of 60 L with 40 mm of mineral wool.
pub(crate) fn oven(circulation: Circulation) -> Oven {
    Oven {
        name: "sample".to_owned(),
        ambient_c: 20.0,
        cavity: Cavity { width_m: 0.4, height_m: 0.5, depth_m: 0.3 },
        heater: Heater {
            power_w: 1_500.0,
            capacity_j_per_k: 350.0,
            area_m2: 0.04,
            emissivity: 0.8,
            radiant_share: 0.3,
            heater_view: 0.0,
        },
        liner: Liner { capacity_j_per_k: 5_000.0, emissivity: 0.3 },
        insulation: Insulation {
            thickness_m: 0.04,
            conductivity_w_per_m_k: 0.045,
            density_kg_per_m3: 80.0,
            specific_heat_j_per_kg_k: 840.0,
        },
        skin: Skin { capacity_j_per_k: 5_000.0, emissivity: 0.9 },
        leak_w_per_k: 0.3,
        circulation,
        observed: Observed::default(),
        sensor: Sensor {
            kind: Kind::Thermocouple(Thermocouple::K),
            lag_s: 12.0,
            wall_view: 0.1,
            noise_k: 0.1,
            resolution_k: 0.25,
            correction_k: 0.0,
        },
        sensor_b: None,
        probe: Probe { lag_s: 4.0, noise_k: 0.1, resolution_k: 0.25, offset_k: 1.1 },
        door: Door { switch: true, width_m: 0.38, height_m: 0.48, discharge: 0.6 },
        drive: Drive { minimum_on_s: 1.0, minimum_off_s: 1.0 },
        permit: Permit { feedback: true, mains_proof: false, hold_s: 0.5 },
        air_max_c: 230.0,
        calibration: Calibration::default(),
        spread: Spread {
            losses: 0.25,
            wall_heat_capacity: 0.2,
            part_exchange: 0.35,
            heater_power: 0.15,
            radiant_share: 0.1,
            wall_view: 0.05,
            sensor_lag: 0.3,
            sensor_offset_k: 2.2,
            cold_spot_k: 4.0,
            hot_spot_k: 3.0,
        },
        tuning: None,
    }
}

/// With a fan.
pub(crate) const FAN: Circulation = Circulation::Fan { speed_m_per_s: 2.0, proof: false };

fn aluminium() -> Substance {
    Substance {
        name: "aluminium 6061".to_owned(),
        density_kg_per_m3: 2_700.0,
        specific_heat_j_per_kg_k: 896.0,
        conductivity_w_per_m_k: 167.0,
        max_c: 190.0,
        polymer: false,
    }
}

fn polymer() -> Substance {
    Substance {
        name: "PA66-GF30".to_owned(),
        density_kg_per_m3: 1_370.0,
        specific_heat_j_per_kg_k: 1_500.0,
        conductivity_w_per_m_k: 0.3,
        max_c: 130.0,
        polymer: true,
    }
}

fn steel() -> Substance {
    Substance {
        name: "mild steel".to_owned(),
        density_kg_per_m3: 7_870.0,
        specific_heat_j_per_kg_k: 486.0,
        conductivity_w_per_m_k: 51.9,
        max_c: 400.0,
        polymer: false,
    }
}

fn part(name: &str, count: u32, substance: Substance, mass_kg: f64, shape: Shape) -> Part {
    Part {
        name: name.to_owned(),
        count,
        max_c: substance.max_c,
        substance,
        shape,
        mass_kg,
        surface: Surface::Machined,
        emissivity: 0.3,
        emissivity_cure: 0.9,
        starts_at_c: 20.0,
        probe: false,
        gas_out: true,
    }
}

/// Levers, tubes, and a thick polymer plate, on a rack.
pub(crate) fn load() -> Load {
    let lever = Shape::Weighed { thickest_m: 0.008, thinnest_m: 0.003 };
    let tube = Shape::Tube { diameter_m: 0.06, wall_m: 0.004, length_m: 0.075 };
    let plate = Shape::Plate { thickness_m: 0.02, width_m: 0.1, height_m: 0.15 };
    let mut levers = part("brake lever", 8, aluminium(), 0.062, lever);
    levers.probe = true;
    Load {
        name: "sample".to_owned(),
        parts: vec![
            levers,
            part("hub shell", 2, aluminium(), 0.1425, tube),
            part("pedal block", 2, polymer(), 0.411, plate),
        ],
        rack: Some(Rack {
            substance: steel(),
            shape: Shape::Weighed { thickest_m: 0.004, thinnest_m: 0.002 },
            mass_kg: 0.9,
            emissivity: 0.8,
            starts_at_c: 20.0,
        }),
        coating: None,
    }
}
