//! Reads an oven: a tape measure and a name plate are required, everything else has a default.
//!
//! Each default is written down with its reason, for `--explain`.

use crate::materials::{self, Family};

use super::oven::{Cavity, Circulation, Heater, Insulation, Liner, Observed, Oven, Skin, Timed};
use super::problem::KeyPath;
use super::quantity::Dimension::{self, Length};
use super::quantity::shorten;
use super::read_controls as controls;
use super::reader::{Ledger, Range, Section};
use super::tree::Table;

/// Density and specific heat of sheet steel, kg/m³ and J/(kg K) (from memory).
const STEEL: (f64, f64) = (7850.0, 486.0);
/// Largest inside measure, m.
const CAVITY_MAX: Range = Range::Within(0.05, 5.0, "from 5 cm to 5 m");
const SHARE: (f64, f64) = (0.0, 1.0);
/// Measured on five bakes: 0.8 to the liner looks like a welded drive on one draw of twelve, and
/// with all of it a bake in three is never finished; 0.7 runs through on sixteen.
const RADIANT_SHARE: (f64, f64) = (0.0, 0.7);
/// Polished silver, the least of any surface, to black (from memory).
pub(super) const EMISSIVITY: (f64, f64) = (0.02, 1.0);
/// A rated power, W.
const POWER: Range = Range::Within(1.0, 200_000.0, "from 1 W to 200 kW");
/// An element of a bench-top oven to one of a walk-in one.
const ELEMENT_MASS: Range = Range::Within(0.005, 200.0, "from 5 g to 200 kg");
const ELEMENT_AREA: Range = Range::Within(1e-4, 20.0, "from 1 cm2 to 20 m2");
/// Most power on a surface, W/m²: above what any element is built for (from memory: 30 W/cm² for a
/// cartridge in metal, 10 in still air).
const WATTS_PER_M2_MAX: f64 = 50e4;
/// Heat that a sheet wall of any size holds.
const WALL_HEAT: Range = Range::Within(50.0, 2e6, "from 50 J/K to 2000 kJ/K");
const WALL_MASS: Range = Range::Within(0.1, 5000.0, "from 100 g to 5 t");
const WALL_SHEET: Range = Range::Within(5e-5, 0.1, "from 0.05 mm to 10 cm");
const LEAK: Range = Range::Within(0.0, 1000.0, "from 0 W/K to 1000 W/K");

/// Reads the oven file.
pub(super) fn read(table: &Table, ledger: &Ledger) -> Oven {
    let root = Section::new(table, KeyPath::root(super::problem::FileKind::Oven), ledger);
    let name = root.need_text("name", "Converted 60 L cabinet");
    let ambient_c = root.quantity_or(
        "ambient",
        Dimension::Temperature,
        Range::Within(-40.0, 60.0, "from -40 °C to 60 °C"),
        "20 °C",
        "common practice: a heated shop",
    );
    let circulation = circulation(&root);
    let cavity = cavity(&root);
    let insulation = insulation(&root);
    let heater = heater(&root, circulation);
    let sensor = controls::sensor(&root);
    let oven = Oven {
        name,
        ambient_c,
        cavity,
        heater,
        liner: liner(&root, cavity),
        insulation,
        skin: skin(&root, cavity, insulation.thickness_m),
        leak_w_per_k: leak(&root, cavity),
        circulation,
        observed: observed(&root, ambient_c),
        sensor,
        sensor_b: controls::sensor_b(&root, &sensor),
        probe: controls::probe(&root, &sensor),
        door: controls::door(&root, cavity),
        drive: controls::drive(&root),
        permit: controls::permit(&root),
        air_max_c: controls::air_max(&root),
        calibration: controls::calibration(&root, circulation),
        spread: controls::spread(&root),
        tuning: controls::tuning(&root),
    };
    root.finish();
    oven
}

/// An empty table stands for one that is not there, so that every default is written down.
pub(super) fn with_section<T>(
    root: &Section<'_>,
    key: &'static str,
    read: impl FnOnce(&Section<'_>) -> T,
) -> T {
    let empty = Table::default();
    match root.section(key) {
        Some(section) => {
            let value = read(&section);
            section.finish();
            value
        }
        None => read(&Section::new(&empty, root.at(key), root.ledger())),
    }
}

fn cavity(root: &Section<'_>) -> Cavity {
    let mut cavity = Cavity { width_m: f64::NAN, height_m: f64::NAN, depth_m: f64::NAN };
    if let Some(section) = root.need_section("cavity", "width, height and depth") {
        cavity.width_m = section.need_quantity("width", Length, CAVITY_MAX);
        cavity.height_m = section.need_quantity("height", Length, CAVITY_MAX);
        cavity.depth_m = section.need_quantity("depth", Length, CAVITY_MAX);
        section.finish();
    }
    cavity
}

impl Cavity {
    /// Area of the six inner walls, m².
    #[must_use]
    pub fn wall_m2(&self) -> f64 {
        2.0 * (self.width_m * self.height_m
            + self.height_m * self.depth_m
            + self.depth_m * self.width_m)
    }
}

fn circulation(root: &Section<'_>) -> Circulation {
    let mut circulation = Circulation::Natural;
    let Some(section) = root.need_section("air", "circulation = \"natural\" or \"fan\"") else {
        return circulation;
    };
    if section.need_choice("circulation", &[("natural", false), ("fan", true)]) == Some(true) {
        circulation = Circulation::Fan {
            speed_m_per_s: section.quantity_or(
                "speed",
                Dimension::Speed,
                Range::Within(0.1, 30.0, "from 0.1 m/s to 30 m/s"),
                "2 m/s",
                "GUESS: a fan of a converted oven, at the parts",
            ),
            proof: section.flag_or("proof", false, "common practice: none fitted"),
        };
    } else {
        for key in section.present(&["speed", "proof"]) {
            let what = format!("{key} is given, but the air moves by itself");
            let next = "write circulation = \"fan\", or remove it".to_owned();
            section.report(key, what, "speed and proof only with a fan", next);
        }
    }
    section.finish();
    circulation
}

fn heater(root: &Section<'_>, circulation: Circulation) -> Heater {
    let holds = "power, or volts and amps";
    let Some(section) = root.need_section("heater", holds) else {
        return Heater {
            power_w: f64::NAN,
            capacity_j_per_k: f64::NAN,
            area_m2: f64::NAN,
            emissivity: f64::NAN,
            radiant_share: f64::NAN,
            heater_view: f64::NAN,
        };
    };
    let power_w = power(&section);
    let fan = circulation != Circulation::Natural;
    let radiant_share = section.number_or(
        "radiant_share",
        RADIANT_SHARE,
        if fan { 0.2 } else { 0.4 },
        "GUESS: a sheath in still air gives two thirds by radiation, part of it to its own guard; \
         a fan halves that",
    );
    let heater = Heater {
        power_w,
        capacity_j_per_k: element_capacity(&section, power_w),
        area_m2: element_area(&section, power_w, fan),
        emissivity: section.number_or(
            "emissivity",
            EMISSIVITY,
            0.85,
            "from memory: oxidised sheath",
        ),
        radiant_share,
        heater_view: section.number_or("heater_view", SHARE, 0.0, "parts do not see it"),
    };
    section.finish();
    heater
}

fn power(section: &Section<'_>) -> f64 {
    let plate = section.present(&["volts", "amps"]);
    if section.has("power") {
        if let Some(key) = plate.first() {
            let what = format!("both power and {key} are given");
            section.report(key, what, "power, or volts and amps", format!("remove {key}"));
        }
        return section.need_quantity("power", Dimension::Power, POWER);
    }
    if plate.is_empty() {
        return section.need_quantity("power", Dimension::Power, POWER);
    }
    let volts = section.need_quantity("volts", Dimension::Voltage, Range::Positive);
    let amps = section.need_quantity("amps", Dimension::Current, Range::Positive);
    let power_w = volts * amps;
    if power_w.is_nan() {
        return power_w;
    }
    if let Some((fault, expected)) = POWER.fault(power_w) {
        let what = format!("volts times amps, {power_w:.3e} W, {fault}");
        section.report("amps", what, expected, "check both against the name plate".to_owned());
        return f64::NAN;
    }
    power_w
}

/// J/K of the element: by mass and material, else by its power.
fn element_capacity(section: &Section<'_>, power_w: f64) -> f64 {
    // GUESS: sheath, magnesia and terminals of a tubular element weigh about 0.45 kg per kW.
    const PER_WATT: f64 = 0.23;
    // A sheathed element holds 100 J/K or more; less would let the drive show in the air.
    const LEAST: f64 = 100.0;
    let mass = section.quantity("mass", Dimension::Mass, ELEMENT_MASS);
    let material = section.text("material");
    let heat = match &material {
        Some(name) => match materials::find(name) {
            Some(found) => found.specific_heat_j_per_kg_k.value,
            None => {
                unknown_material(section, name);
                f64::NAN
            }
        },
        None => 500.0,
    };
    if let Some(mass) = mass {
        if material.is_none() {
            section.defaulted("material", "stainless steel, 500 J/(kg K)", "common practice");
        }
        return mass * heat;
    }
    let capacity = (PER_WATT * power_w).max(LEAST);
    section.defaulted(
        "mass",
        &format!("{capacity:.0} J/K in all"),
        "GUESS: 0.45 kg of sheathed element per kW, at least 100 J/K",
    );
    capacity
}

fn element_area(section: &Section<'_>, power_w: f64, fan: bool) -> f64 {
    if let Some(area_m2) = section.quantity("area", Dimension::Area, ELEMENT_AREA) {
        let watts_per_cm2 = power_w / area_m2 / 1e4;
        if power_w / area_m2 > WATTS_PER_M2_MAX {
            let what = format!("{watts_per_cm2:.0} W on each cm2 of the element");
            let expected = format!("at most {:.0} W on each cm2", WATTS_PER_M2_MAX / 1e4);
            let next = "measure the whole surface of its sheath, or leave area out".to_owned();
            section.report("area", what, &expected, next);
        }
        return area_m2;
    }
    let watts_per_cm2 = if fan { 5.0 } else { 4.0 };
    let area_m2 = power_w / (watts_per_cm2 * 1e4);
    section.defaulted(
        "area",
        &format!("{:.0} cm2", area_m2 * 1e4),
        "common practice: 4 W on each cm² of sheath in still air, 5 with a fan",
    );
    area_m2
}

/// Reports a material that is not listed.
pub(super) fn unknown_material(section: &Section<'_>, name: &str) {
    let near = super::problem::nearest(name, materials::names());
    let next = match near {
        Some(near) => format!("did you mean \"{near}\"? `truesoak materials` lists them all"),
        None => "`truesoak materials` lists them all; a load may define its own in [[material]]"
            .to_owned(),
    };
    let what = format!("\"{}\" is not a material known here", shorten(name));
    section.report("material", what, "a material by its name", next);
}

/// J/K of a sheet wall: by what it holds, its mass, or its thickness over an area.
fn sheet_capacity(
    section: &Section<'_>,
    area_m2: f64,
    default: &str,
    extra: f64,
    source: &str,
) -> f64 {
    let (mut density, mut heat) = STEEL;
    if let Some(name) = section.text("material") {
        match materials::find(&name) {
            Some(found) => {
                density = found.density_kg_per_m3.value;
                heat = found.specific_heat_j_per_kg_k.value;
            }
            None => unknown_material(section, &name),
        }
    }
    let given = section.quantity("heat_capacity", Dimension::HeatCapacity, WALL_HEAT);
    let mass = section.quantity("mass", Dimension::Mass, WALL_MASS);
    let thickness = section.quantity("thickness", Length, WALL_SHEET);
    let ways = section.present(&["heat_capacity", "mass", "thickness"]);
    if let [_, second, ..] = ways[..] {
        let what = format!("{} are given", ways.join(" and "));
        let expected = "one of heat_capacity, mass and thickness";
        section.report(second, what, expected, format!("remove {second}"));
    }
    if let Some(capacity) = given {
        return capacity;
    }
    if let Some(mass) = mass {
        return mass * heat;
    }
    let thickness = thickness.unwrap_or_else(|| {
        let metres = super::quantity::parse(default, Length).unwrap_or(f64::NAN);
        let capacity = area_m2 * metres * density * heat * extra;
        section.defaulted("thickness", &format!("{default}, {capacity:.0} J/K in all"), source);
        metres
    });
    area_m2 * thickness * density * heat * extra
}

fn liner(root: &Section<'_>, cavity: Cavity) -> Liner {
    // GUESS: flanges, rails and the door's inner pan add three tenths to the sheet of the six
    // walls; with 1 mm of steel a 60 L cabinet's liner and door then hold about 4.7 kJ/K.
    const EXTRA: f64 = 1.3;
    with_section(root, "liner", |section| Liner {
        capacity_j_per_k: sheet_capacity(
            section,
            cavity.wall_m2(),
            "1 mm",
            EXTRA,
            "GUESS: sheet steel on all six walls, and 0.3 of that again for flanges and rails",
        ),
        emissivity: section.number_or(
            "emissivity",
            EMISSIVITY,
            0.8,
            "from memory: enamelled or dull steel; bright sheet 0.2 to 0.3",
        ),
    })
}

fn skin(root: &Section<'_>, cavity: Cavity, insulation_m: f64) -> Skin {
    let outer = Cavity {
        width_m: cavity.width_m + 2.0 * insulation_m,
        height_m: cavity.height_m + 2.0 * insulation_m,
        depth_m: cavity.depth_m + 2.0 * insulation_m,
    };
    with_section(root, "skin", |section| Skin {
        capacity_j_per_k: sheet_capacity(
            section,
            outer.wall_m2(),
            "0.8 mm",
            1.0,
            "GUESS: sheet steel on all six outer walls",
        ),
        emissivity: section.number_or("emissivity", EMISSIVITY, 0.9, "from memory: painted steel"),
    })
}

fn leak(root: &Section<'_>, cavity: Cavity) -> f64 {
    // GUESS: a door seal of a converted cabinet passes 0.3 W/K on each metre.
    const PER_METRE: f64 = 0.3;
    with_section(root, "leak", |section| {
        section.quantity("conductance", Dimension::Conductance, LEAK).unwrap_or_else(|| {
            let leak = PER_METRE * 2.0 * (cavity.width_m + cavity.height_m);
            let source = "GUESS: 0.3 W/K on each metre of door seal";
            section.defaulted("conductance", &format!("{leak:.2} W/K"), source);
            leak
        })
    })
}

fn insulation(root: &Section<'_>) -> Insulation {
    let mut insulation = Insulation {
        thickness_m: f64::NAN,
        conductivity_w_per_m_k: f64::NAN,
        density_kg_per_m3: f64::NAN,
        specific_heat_j_per_kg_k: f64::NAN,
    };
    let Some(section) = root.need_section("insulation", "material and thickness") else {
        return insulation;
    };
    let thickness = Range::Within(0.002, 1.0, "from 2 mm to 1 m");
    insulation.thickness_m = section.need_quantity("thickness", Length, thickness);
    if let Some(name) = section.text("material") {
        match materials::find(&name).filter(|found| found.family == Family::Insulation) {
            Some(found) => {
                insulation.conductivity_w_per_m_k = found.conductivity_w_per_m_k.value;
                insulation.density_kg_per_m3 = found.density_kg_per_m3.value;
                insulation.specific_heat_j_per_kg_k = found.specific_heat_j_per_kg_k.value;
                if found.name == "air gap" {
                    insulation.conductivity_w_per_m_k = air_gap(insulation.thickness_m);
                }
            }
            None => not_insulation(&section, &name),
        }
    }
    // Wider than a vacuum panel to a solid brick, still air to a dense one (from memory).
    let conducts = Range::Within(0.003, 10.0, "from 0.003 to 10 W/(m K)");
    let weighs = Range::Within(0.5, 5000.0, "from 0.5 to 5000 kg/m3");
    let takes = Range::Within(100.0, 6000.0, "from 100 to 6000 J/(kg K)");
    let own = [
        ("conductivity", Dimension::Conductivity, conducts, &mut insulation.conductivity_w_per_m_k),
        ("density", Dimension::Density, weighs, &mut insulation.density_kg_per_m3),
        ("specific_heat", Dimension::SpecificHeat, takes, &mut insulation.specific_heat_j_per_kg_k),
    ];
    let by_name = section.has("material");
    for (key, dimension, range, value) in own {
        if by_name {
            *value = section.quantity(key, dimension, range).unwrap_or(*value);
        } else {
            *value = section.need_quantity(key, dimension, range);
        }
    }
    section.finish();
    insulation
}

/// Effective conductivity of a closed gap between dull steel sheets, W/(m K): still air, and 5
/// W/(m² K) of radiation and slow convection (GUESS, at 100 °C; EN ISO 6946 has 0.18 m² K/W for
/// 25 mm at room temperature, from memory).
fn air_gap(thickness_m: f64) -> f64 {
    0.032 + 5.0 * thickness_m
}

fn not_insulation(section: &Section<'_>, name: &str) {
    let known: Vec<&str> = materials::TABLE
        .iter()
        .filter(|material| material.family == Family::Insulation)
        .map(|material| material.name)
        .collect();
    let next = match super::problem::nearest(name, known.iter().copied()) {
        Some(near) => format!("did you mean \"{near}\"?"),
        None => "or give conductivity, density and specific_heat instead".to_owned(),
    };
    let what = format!("\"{}\" is not an insulation known here", shorten(name));
    section.report("material", what, &format!("one of {}", known.join(", ")), next);
}

fn observed(root: &Section<'_>, ambient_c: f64) -> Observed {
    let Some(section) = root.section("observed") else { return Observed::default() };
    let observed = Observed {
        heats: timed(&section, "heats", ambient_c),
        cools: timed(&section, "cools", ambient_c),
    };
    section.finish();
    observed
}

fn timed(section: &Section<'_>, key: &'static str, ambient_c: f64) -> Option<Timed> {
    let inner = section.section(key)?;
    let timed = Timed {
        from_c: inner.need_quantity("from", Dimension::Temperature, Range::Any),
        to_c: inner.need_quantity("to", Dimension::Temperature, Range::Any),
        in_s: inner.need_quantity("in", Dimension::Duration, Range::Positive),
    };
    inner.finish();
    let heats = key == "heats";
    if (heats && timed.to_c <= timed.from_c) || (!heats && timed.to_c >= timed.from_c) {
        let what = format!("{key} goes the wrong way");
        let expected = if heats { "to above from" } else { "to below from" };
        section.report(key, what, expected, "swap from and to, or check the unit".to_owned());
    }
    let coldest = timed.from_c.min(timed.to_c);
    if coldest < ambient_c - 1.0 {
        let what = format!("{key} passes below the room's own temperature");
        section.report(key, what, "nothing below ambient", "check ambient and the unit".to_owned());
    }
    Some(timed)
}
