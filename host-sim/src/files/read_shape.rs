//! Reads the shape of a part and what it weighs.

use std::f64::consts::PI;

use super::load::Shape;
use super::problem::Finding;
use super::quantity::Dimension::{Area, Length, Mass};
use super::reader::{Range, Section};

/// A shape and the mass of one.
#[derive(Clone, Copy, Debug)]
pub(super) struct Sized {
    /// Shape.
    pub(super) shape: Shape,
    /// kg.
    pub(super) mass_kg: f64,
}

const SHAPES: [&str; 5] = ["plate", "bar", "tube", "weighed", "lump"];
/// Thinnest measure of a part, m.
const MEASURE_LEAST_M: f64 = 1e-5;
/// Bounds of any measure of a part.
const MEASURE: Range = Range::Within(MEASURE_LEAST_M, 10.0, "from 0.01 mm to 10 m");
const WEIGHT: Range = Range::Within(1e-6, 1000.0, "from 1 mg to 1000 kg");
/// A mass this far from the one that follows from the measures is suspected.
const SUSPECT: f64 = 0.2;

/// Reads `shape` (and `mass` beside it) of a part or rack.
pub(super) fn read(part: &Section<'_>, density_kg_per_m3: f64) -> Sized {
    let unread = Sized { shape: Shape::Lump { area_m2: f64::NAN }, mass_kg: f64::NAN };
    let example = "one of plate, bar, tube, weighed and lump with its measures";
    let beside = part.quantity("mass", Mass, WEIGHT);
    let Some(section) = part.need_section("shape", example) else { return unread };
    let inside = section.quantity("mass", Mass, WEIGHT);
    let present = section.present(&SHAPES);
    let [kind] = present[..] else {
        section.finish();
        let what = if present.is_empty() {
            "the shape is none that is known here".to_owned()
        } else {
            format!("the shape is {} at once", present.join(" and "))
        };
        let next = "write shape = { plate = { thickness = …, width = …, height = … } }".to_owned();
        part.report("shape", what, &format!("exactly one of {}", SHAPES.join(", ")), next);
        return unread;
    };
    let Some(measures) = section.section(kind) else { return unread };
    let weighed_inside = matches!(kind, "weighed" | "lump");
    if [beside.is_some(), inside.is_some(), weighed_inside].iter().filter(|given| **given).count()
        > 1
    {
        let place = if beside.is_some() { part } else { &section };
        let what = "the mass is given twice".to_owned();
        let next = "remove this one, or the other".to_owned();
        place.report("mass", what, "one mass of one part", next);
    }
    let sized = match kind {
        "weighed" => weighed(&measures),
        "lump" => lump(&measures, density_kg_per_m3),
        _ => dimensioned(part, &measures, kind, density_kg_per_m3, beside.or(inside)),
    };
    measures.finish();
    section.finish();
    sized
}

fn weighed(measures: &Section<'_>) -> Sized {
    let mass_kg = measures.need_quantity("mass", Mass, WEIGHT);
    let thickest_m = measures.need_quantity_like("thickest", Length, MEASURE, "8 mm");
    let thinnest_m = measures.need_quantity_like("thinnest", Length, MEASURE, "3 mm");
    if thinnest_m > thickest_m {
        let what = "thinnest is thicker than thickest".to_owned();
        let next = "swap them, or check the unit".to_owned();
        measures.report("thinnest", what, "thinnest no more than thickest", next);
    }
    Sized { shape: Shape::Weighed { thickest_m, thinnest_m }, mass_kg }
}

fn lump(measures: &Section<'_>, density_kg_per_m3: f64) -> Sized {
    let mass_kg = measures.need_quantity("mass", Mass, WEIGHT);
    let range = Range::Within(1e-8, 100.0, "up to 100 m2");
    let area_m2 = measures.need_quantity("area", Area, range);
    let most_m2 = 2.0 * mass_kg / (density_kg_per_m3 * MEASURE_LEAST_M);
    if area_m2 > most_m2 {
        let what = "so little mass has no such area: it would be thinner than foil".to_owned();
        let expected = format!("at most {:.2} cm2, a sheet of 0.01 mm", most_m2 * 1e4);
        let next = "check the units of mass and area".to_owned();
        measures.report("area", what, &expected, next);
    }
    Sized { shape: Shape::Lump { area_m2 }, mass_kg }
}

fn dimensioned(
    part: &Section<'_>,
    measures: &Section<'_>,
    kind: &str,
    density_kg_per_m3: f64,
    weighed: Option<f64>,
) -> Sized {
    let need = |key| {
        let thin = ["thickness", "wall"].contains(&key);
        measures.need_quantity_like(key, Length, MEASURE, if thin { "4 mm" } else { "75 mm" })
    };
    let (shape, volume_m3) = match kind {
        "plate" => {
            let (thickness_m, width_m, height_m) =
                (need("thickness"), need("width"), need("height"));
            if thickness_m > width_m.min(height_m) {
                let what = "the plate is thicker than it is wide or high".to_owned();
                let next = "let thickness be the smallest of the three".to_owned();
                measures.report("thickness", what, "thickness as the smallest measure", next);
            }
            (Shape::Plate { thickness_m, width_m, height_m }, thickness_m * width_m * height_m)
        }
        "bar" => {
            let (diameter_m, length_m) = (need("diameter"), need("length"));
            (Shape::Bar { diameter_m, length_m }, 0.25 * PI * diameter_m * diameter_m * length_m)
        }
        _ => {
            let (diameter_m, wall_m, length_m) = (need("diameter"), need("wall"), need("length"));
            if wall_m >= 0.5 * diameter_m {
                let what = "the wall of the tube is half its diameter or more".to_owned();
                let next = "check both measures; a solid round is a bar".to_owned();
                measures.report("wall", what, "a wall thinner than half the diameter", next);
            }
            let volume = PI * (diameter_m - wall_m) * wall_m * length_m;
            (Shape::Tube { diameter_m, wall_m, length_m }, volume)
        }
    };
    let solid_kg = volume_m3 * density_kg_per_m3;
    let mass_kg = weighed.unwrap_or(solid_kg);
    let ratio = mass_kg / solid_kg;
    if ratio < 1.0 - SUSPECT {
        suspect(
            part,
            mass_kg,
            solid_kg,
            "hollow",
            "write a tube with its wall, or weighed with mass, thickest and thinnest",
        );
    } else if ratio > 1.0 + SUSPECT {
        suspect(
            part,
            mass_kg,
            solid_kg,
            "mismeasured, or of another material",
            "measure again, or check the material",
        );
    }
    Sized { shape, mass_kg }
}

fn suspect(part: &Section<'_>, mass_kg: f64, solid_kg: f64, is: &str, next: &str) {
    let what = format!(
        "its mass of {:.0} g is not the {:.0} g that follow from its measures: it may be {is}",
        mass_kg * 1000.0,
        solid_kg * 1000.0
    );
    let expected = "a mass within 20 % of volume times density";
    let at = if part.has("mass") { part.at("mass") } else { part.at("shape").key("mass") };
    part.ledger().report(Finding::new(at, what, expected, next));
}
