//! Reads a load: parts, rack, coating and the user's own materials.

use crate::materials::{self, Family, Substance};

use super::load::{Coating, CureSchedule, Load, Part, Rack, Surface};
use super::problem::{FileKind, Finding, KeyPath};
use super::quantity::Dimension;
use super::quantity::shorten;
use super::read_oven::EMISSIVITY;
use super::read_shape::{self, Sized};
use super::reader::{Ledger, Range, Section};
use super::tree::Table;

/// Most kinds of parts.
pub const PARTS_MAX: usize = 6;
/// What a part may stand.
const STANDS: Range = Range::Within(30.0, 1000.0, "from 30 °C to 1000 °C");
/// Most parts of one kind.
const COUNT_MAX: i64 = 10_000;

const SURFACES: &[(&str, Surface)] = &[
    ("machined", Surface::Machined),
    ("blasted", Surface::Blasted),
    ("oxidised", Surface::Oxidised),
    ("coated", Surface::Coated),
];

impl Surface {
    /// Emissivity of metal with this surface, and the least and greatest it may be (from memory:
    /// machined aluminium 0.05 to machined steel 0.35; blasted 0.3 to 0.6; dull oxide 0.6 to 0.9;
    /// paint and powder of any colour 0.85 to 0.95).
    #[must_use]
    pub fn emissivity(self) -> (f64, f64, f64) {
        match self {
            Self::Machined => (0.2, 0.05, 0.35),
            Self::Blasted => (0.45, 0.3, 0.6),
            Self::Oxidised => (0.75, 0.6, 0.9),
            Self::Coated => (0.9, 0.85, 0.95),
        }
    }
}

/// A material as the load knows it.
struct Known {
    substance: Substance,
    metal: bool,
}

/// Reads the load file. `name` stands for it where it has none of its own.
pub(super) fn read(table: &Table, ledger: &Ledger, name: &str, ambient_c: f64) -> Load {
    let root = Section::new(table, KeyPath::root(FileKind::Load), ledger);
    let name = root.text("name").unwrap_or_else(|| {
        root.defaulted("name", name, "the file's own name");
        name.to_owned()
    });
    let own = own_materials(&root);
    let sections = root.items("part", PARTS_MAX);
    if sections.is_empty() && !root.has("part") {
        let next = "add [[part]] with name, material and shape";
        ledger.report(Finding::new(
            root.path(),
            "the load has no parts",
            "at least one [[part]]",
            next,
        ));
    }
    let parts: Vec<Part> = sections.iter().map(|section| part(section, &own, ambient_c)).collect();
    duplicates(&sections, parts.iter().map(|part| part.name.as_str()), "part");
    one_probe(&sections, &parts);
    let rack = root.section("rack").map(|section| rack(&section, &own, ambient_c));
    let coating = root.section("coating").map(|section| coating(&section));
    root.finish();
    Load { name, parts, rack, coating }
}

/// Reports names given twice.
pub(super) fn duplicates<'n>(
    sections: &[Section<'_>],
    names: impl Iterator<Item = &'n str>,
    word: &str,
) {
    let mut seen: Vec<(&str, KeyPath)> = Vec::new();
    for (section, name) in sections.iter().zip(names) {
        if name.is_empty() {
            continue;
        }
        match seen.iter().find(|(other, _)| *other == name) {
            Some((_, first)) => {
                let what = format!("two {word}s are called \"{}\"", shorten(name));
                let finding = Finding::new(
                    section.at("name"),
                    what,
                    format!("another name for each {word}"),
                    "rename one of them",
                );
                section.ledger().report(finding.and_at(first.clone()));
            }
            None => seen.push((name, section.at("name"))),
        }
    }
}

fn one_probe(sections: &[Section<'_>], parts: &[Part]) {
    let mut probed = sections.iter().zip(parts).filter(|(_, part)| part.probe);
    let first = probed.next();
    for (section, _) in probed {
        let next = "keep probe = true where the probe sits".to_owned();
        let what = "a second part has the probe".to_owned();
        section.report("probe", what, "at most one part with probe = true", next);
    }
    let _ = first;
}

fn own_materials(root: &Section<'_>) -> Vec<(String, Known)> {
    let sections = root.items("material", 50);
    let own: Vec<(String, Known)> = sections
        .iter()
        .map(|section| {
            let name = section.need_text("name", "our bronze");
            if let Some(listed) = materials::find(&name) {
                let what = format!("\"{}\" is in the table of materials already", shorten(&name));
                let expected = format!("a name of its own; the table has {}", listed.name);
                let next = format!("write name = \"our {}\", and so at its parts", shorten(&name));
                section.report("name", what, &expected, next);
            }
            let conductivity = section.need_quantity(
                "conductivity",
                Dimension::Conductivity,
                Range::Within(1e-3, 2500.0, "from 0.001 to 2500 W/(m K)"),
            );
            let polymer = section.flag("polymer").unwrap_or(false);
            let substance = Substance {
                name: name.clone(),
                density_kg_per_m3: section.need_quantity(
                    "density",
                    Dimension::Density,
                    Range::Within(1.0, 25_000.0, "from 1 to 25000 kg/m3"),
                ),
                specific_heat_j_per_kg_k: section.need_quantity(
                    "specific_heat",
                    Dimension::SpecificHeat,
                    Range::Within(50.0, 6000.0, "from 50 to 6000 J/(kg K)"),
                ),
                conductivity_w_per_m_k: conductivity,
                max_c: section.need_quantity("max", Dimension::Temperature, STANDS),
                polymer,
            };
            section.finish();
            // Below this no metal conducts: its bare surface is as dull as paint.
            (name, Known { substance, metal: !polymer && conductivity > 5.0 })
        })
        .collect();
    duplicates(&sections, own.iter().map(|(name, _)| name.as_str()), "material");
    own
}

/// A stand-in that harms nothing, for a material that could not be read.
fn unreadable() -> Known {
    let substance = Substance {
        name: String::new(),
        density_kg_per_m3: f64::NAN,
        specific_heat_j_per_kg_k: f64::NAN,
        conductivity_w_per_m_k: f64::NAN,
        max_c: f64::NAN,
        polymer: false,
    };
    Known { substance, metal: true }
}

fn material(section: &Section<'_>, own: &[(String, Known)]) -> Known {
    let name = section.need_text("material", "mild steel");
    if name.is_empty() {
        return unreadable();
    }
    if let Some((_, known)) = own.iter().find(|(own, _)| *own == name) {
        return Known { substance: known.substance.clone(), metal: known.metal };
    }
    match materials::find(&name) {
        Some(found) => Known { substance: found.substance(), metal: found.family == Family::Metal },
        None => {
            let listed: Vec<&str> = materials::names().collect();
            let names = own.iter().map(|(own, _)| own.as_str()).chain(listed);
            let next = match super::problem::nearest(&name, names) {
                Some(near) => {
                    format!("did you mean \"{near}\"? `truesoak materials` lists them all")
                }
                None => "define it in [[material]], or write \"unknown metal\"".to_owned(),
            };
            let what = format!("\"{}\" is not a material known here", shorten(&name));
            section.report("material", what, "a material by its name", next);
            unreadable()
        }
    }
}

fn starts_at(section: &Section<'_>, ambient_c: f64) -> f64 {
    let range = Range::Within(-40.0, 400.0, "from -40 °C to 400 °C");
    section.quantity("starts_at", Dimension::Temperature, range).unwrap_or_else(|| {
        section.defaulted("starts_at", &format!("{ambient_c} °C"), "as warm as the room");
        ambient_c
    })
}

/// Surface, bare emissivity, emissivity in a cure.
fn surface(section: &Section<'_>, metal: bool) -> (Surface, f64, f64) {
    let given = section.choice("surface", SURFACES);
    let own = section.number("emissivity", EMISSIVITY.0, EMISSIVITY.1);
    let fallback = if metal { Surface::Machined } else { Surface::Coated };
    let surface = given.unwrap_or(fallback);
    if let Some(own) = own {
        return (surface, own, own);
    }
    if !section.has("surface") {
        let (word, source) = if metal {
            ("machined", "GUESS: clean bare metal, the slowest to warm")
        } else {
            ("coated", "from memory: anything but metal is as dull as paint")
        };
        section.defaulted("surface", word, source);
    }
    let bare = if metal { surface.emissivity().0 } else { Surface::Coated.emissivity().0 };
    section.defaulted("emissivity", &bare.to_string(), "from memory: by the surface");
    (surface, bare, Surface::Coated.emissivity().0)
}

fn part(section: &Section<'_>, own: &[(String, Known)], ambient_c: f64) -> Part {
    let name = section.need_text("name", "rear hub shell");
    let count = section.integer("count", 1, COUNT_MAX);
    if count.is_none() && !section.has("count") {
        section.defaulted("count", "1", "one of them");
    }
    let known = material(section, own);
    let Sized { shape, mass_kg } = read_shape::read(section, known.substance.density_kg_per_m3);
    let (surface, emissivity, emissivity_cure) = surface(section, known.metal);
    let own_max = section.quantity("max", Dimension::Temperature, STANDS);
    if own_max.is_none() {
        let value = format!("{} °C", known.substance.max_c);
        section.defaulted("max", &value, "where a bake starts to harm the material");
    }
    let part = Part {
        name,
        count: u32::try_from(count.unwrap_or(1)).unwrap_or(1),
        surface,
        shape,
        mass_kg,
        emissivity,
        emissivity_cure,
        starts_at_c: starts_at(section, ambient_c),
        max_c: own_max.unwrap_or(known.substance.max_c),
        probe: section.flag("probe").unwrap_or(false),
        gas_out: gas_out(section, &known.substance),
        substance: known.substance,
    };
    section.finish();
    part
}

/// Polymers must say that they are not gassed out.
fn gas_out(section: &Section<'_>, substance: &Substance) -> bool {
    let given = section.flag("gas_out");
    if !substance.polymer {
        return given.unwrap_or(true);
    }
    if given != Some(false) {
        let what = format!("{} is a polymer and would be gassed out", substance.name);
        let key = if section.has("gas_out") { "gas_out" } else { "material" };
        let next = "write gas_out = false: it then joins at the load_in before the cure".to_owned();
        section.report(key, what, "gas_out = false for every polymer", next);
    }
    false
}

fn rack(section: &Section<'_>, own: &[(String, Known)], ambient_c: f64) -> Rack {
    let known = material(section, own);
    let Sized { shape, mass_kg } = read_shape::read(section, known.substance.density_kg_per_m3);
    let given = section.choice("surface", SURFACES);
    let emissivity =
        section.number("emissivity", EMISSIVITY.0, EMISSIVITY.1).unwrap_or_else(|| {
            // GUESS: a rack that has been through many bakes.
            let surface = given.unwrap_or(Surface::Oxidised);
            let value = surface.emissivity().0;
            let source = "GUESS: dull from many bakes, unless its surface is given";
            section.defaulted("emissivity", &value.to_string(), source);
            value
        });
    let rack = Rack {
        shape,
        mass_kg,
        emissivity,
        starts_at_c: starts_at(section, ambient_c),
        substance: known.substance,
    };
    section.finish();
    rack
}

fn coating(section: &Section<'_>) -> Coating {
    let cures = section.items("cures", 8);
    let schedules: Vec<CureSchedule> = cures
        .iter()
        .map(|cure| {
            let schedule = CureSchedule {
                at_c: cure.need_quantity("at", Dimension::Temperature, Range::Any),
                for_s: cure.need_quantity("for", Dimension::Duration, Range::Positive),
            };
            cure.finish();
            schedule
        })
        .collect();
    if schedules.is_empty() {
        let next = "write cures = [{ at = \"150 °C\", for = \"60 min\" }], or remove [coating]";
        section.report(
            "cures",
            "the coating has no schedule".to_owned(),
            "at least one schedule of its data sheet",
            next.to_owned(),
        );
    }
    let _ = section.text("name");
    if let [first, second, ..] = schedules[..] {
        let hotter_is_shorter = (first.at_c - second.at_c) * (first.for_s - second.for_s) < 0.0;
        let unread =
            [first.at_c, second.at_c, first.for_s, second.for_s].iter().any(|v| v.is_nan());
        if !hotter_is_shorter && !unread {
            let what = "the hotter schedule is not the shorter one".to_owned();
            let next = "check both schedules against the data sheet".to_owned();
            section.report("cures", what, "less time at a higher temperature", next);
        }
    }
    section.finish();
    Coating { cures: schedules }
}
