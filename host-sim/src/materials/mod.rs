//! Materials by name: what a part is made of, and what a bake may do to it.
//!
//! Every value carries its source. Names are found without regard to capitals, spaces, hyphens and
//! the two spellings of aluminium. `"unknown metal"` is the worst of every metal listed. A name
//! that is not listed is refused, never guessed; a load file may define its own.

mod table;

pub use table::TABLE;

use std::iter::once;
use std::sync::LazyLock;

/// What a thing is made of.
#[derive(Clone, Debug, PartialEq)]
pub struct Substance {
    /// Name as listed.
    pub name: String,
    /// kg/m³.
    pub density_kg_per_m3: f64,
    /// J/(kg K).
    pub specific_heat_j_per_kg_k: f64,
    /// W/(m K).
    pub conductivity_w_per_m_k: f64,
    /// Temperature where a bake starts to harm it, °C.
    pub max_c: f64,
    /// Is a polymer: never gassed out.
    pub polymer: bool,
}

/// What kind of stuff it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Family {
    /// Bare metal can be bright, blasted or dull.
    Metal,
    /// Never gassed out.
    Polymer,
    /// Anything else a part can be of.
    Other,
    /// For oven walls.
    Insulation,
}

impl Family {
    /// Its word.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Metal => "metal",
            Self::Polymer => "polymer",
            Self::Other => "other",
            Self::Insulation => "insulation",
        }
    }
}

/// A value and where it is from.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sourced {
    /// The value.
    pub value: f64,
    /// Where it is from.
    pub source: &'static str,
}

/// One line of the table.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Material {
    /// Name.
    pub name: &'static str,
    /// Other names for it.
    pub aliases: &'static [&'static str],
    /// Kind.
    pub family: Family,
    /// kg/m³ at 20 °C.
    pub density_kg_per_m3: Sourced,
    /// J/(kg K) between 20 and 200 °C.
    pub specific_heat_j_per_kg_k: Sourced,
    /// W/(m K) between 20 and 200 °C.
    pub conductivity_w_per_m_k: Sourced,
    /// Temperature where a bake of hours starts to harm it, °C.
    pub max_c: Sourced,
    /// What the harm is.
    pub harm: &'static str,
}

impl Material {
    /// The part of it a load needs.
    #[must_use]
    pub fn substance(&self) -> Substance {
        Substance {
            name: self.name.to_owned(),
            density_kg_per_m3: self.density_kg_per_m3.value,
            specific_heat_j_per_kg_k: self.specific_heat_j_per_kg_k.value,
            conductivity_w_per_m_k: self.conductivity_w_per_m_k.value,
            max_c: self.max_c.value,
            polymer: self.family == Family::Polymer,
        }
    }

    /// Heat capacity of a cubic metre, J/(m³ K): what makes a wall of given thickness slow.
    #[must_use]
    pub fn volume_heat_j_per_m3_k(&self) -> f64 {
        self.density_kg_per_m3.value * self.specific_heat_j_per_kg_k.value
    }
}

/// The name of the material that stands for any metal.
pub const UNKNOWN_METAL: &str = "unknown metal";

/// A name as it is compared: lower case, letters and digits only, one spelling of aluminium.
fn plain(name: &str) -> String {
    let letters: String = name.to_lowercase().chars().filter(|c| c.is_alphanumeric()).collect();
    letters
        .replace("aluminum", "aluminium")
        .replace("alu6", "aluminium6")
        .replace("alu7", "aluminium7")
}

/// Every listed name as it is compared. WHY: made anew for each look-up it was a third of the time
/// that three files take to read.
static PLAIN: LazyLock<Vec<(String, &Material)>> = LazyLock::new(|| {
    let compared = |material| names_of(material).map(move |name| (plain(name), material));
    TABLE.iter().flat_map(compared).collect()
});

/// Finds a material by name or alias.
#[must_use]
pub fn find(name: &str) -> Option<Material> {
    let wanted = plain(name);
    if wanted == plain(UNKNOWN_METAL) {
        return Some(unknown_metal());
    }
    PLAIN.iter().find(|(name, _)| *name == wanted).map(|(_, material)| **material)
}

fn names_of(material: &'static Material) -> impl Iterator<Item = &'static str> {
    once(material.name).chain(material.aliases.iter().copied())
}

/// Every name that [`find`] knows.
pub fn names() -> impl Iterator<Item = &'static str> {
    TABLE.iter().flat_map(names_of).chain([UNKNOWN_METAL])
}

/// The worst of every metal: takes the most heat, conducts the least, stands the least.
#[must_use]
pub fn unknown_metal() -> Material {
    let metals = || TABLE.iter().filter(|material| material.family == Family::Metal);
    let slowest = metals()
        .max_by(|a, b| a.volume_heat_j_per_m3_k().total_cmp(&b.volume_heat_j_per_m3_k()))
        .unwrap_or(&TABLE[0]);
    let least = |value: fn(&Material) -> Sourced| {
        metals().map(value).min_by(|a, b| a.value.total_cmp(&b.value)).unwrap_or(slowest.max_c)
    };
    Material {
        name: UNKNOWN_METAL,
        aliases: &[],
        family: Family::Metal,
        density_kg_per_m3: slowest.density_kg_per_m3,
        specific_heat_j_per_kg_k: slowest.specific_heat_j_per_kg_k,
        conductivity_w_per_m_k: least(|material| material.conductivity_w_per_m_k),
        max_c: least(|material| material.max_c),
        harm: "the worst of every metal here: slowest, least conducting, soonest harmed",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_name_and_alias_is_listed_once() {
        let mut seen: Vec<String> = names().map(plain).collect();
        let count = seen.len();
        seen.sort();
        seen.dedup();
        assert_eq!(seen.len(), count, "{seen:?}");
        assert!(TABLE.len() >= 25);
    }

    #[test]
    fn spelling_capitals_and_hyphens_do_not_matter() {
        for name in ["aluminium 6061", "Aluminum 6061-T6", "6061", "ALUMINIUM-6061"] {
            assert_eq!(find(name).map(|m| m.name), Some("aluminium 6061"), "{name}");
        }
        assert!(find("unobtainium").is_none());
    }

    #[test]
    fn the_unknown_metal_is_no_better_than_any_metal() {
        let unknown = unknown_metal();
        for metal in TABLE.iter().filter(|m| m.family == Family::Metal) {
            assert!(unknown.volume_heat_j_per_m3_k() >= metal.volume_heat_j_per_m3_k());
            assert!(unknown.conductivity_w_per_m_k.value <= metal.conductivity_w_per_m_k.value);
            assert!(unknown.max_c.value <= metal.max_c.value);
        }
    }

    /// Dulong–Petit: a mole of a solid metal takes about 3 R = 24.9 J/K near room temperature, so
    /// specific heat times molar mass is 23 to 28 J/(mol K) for the nearly pure ones.
    #[test]
    fn nearly_pure_metals_follow_the_law_of_dulong_and_petit() {
        let molar =
            [("copper", 63.546), ("lead", 207.2), ("titanium", 47.867), ("zinc die-cast", 65.38)];
        for (name, grams) in molar {
            let heat =
                find(name).map_or(0.0, |m| m.specific_heat_j_per_kg_k.value) * grams / 1000.0;
            assert!((23.0..28.0).contains(&heat), "{name}: {heat}");
        }
    }
}
