//! `truesoak materials`: the table, with sources.

use super::{Answer, Failure, Format, Globals, print};
use crate::materials::{Material, TABLE, unknown_metal};
use crate::report::text::table;
use crate::report::units::Units;
use serde_json::json;
use std::fmt::Write as _;

/// Prints the table.
pub(super) fn run(globals: &Globals) -> Result<Answer, Failure> {
    let unknown = unknown_metal();
    let materials: Vec<&Material> = TABLE.iter().chain([&unknown]).collect();
    let text = match globals.format {
        Format::Json => format!("{}\n", json_of(&materials)),
        Format::Text => text_of(&materials, globals.units.unwrap_or_default()),
    };
    print(&text)?;
    Ok(Answer::Yes)
}

fn json_of(materials: &[&Material]) -> serde_json::Value {
    let rows: Vec<_> = materials
        .iter()
        .map(|material| {
            json!({
                "name": material.name,
                "aliases": material.aliases,
                "family": material.family.word(),
                "density_kg_per_m3": material.density_kg_per_m3.value,
                "density_source": material.density_kg_per_m3.source,
                "specific_heat_j_per_kg_k": material.specific_heat_j_per_kg_k.value,
                "specific_heat_source": material.specific_heat_j_per_kg_k.source,
                "conductivity_w_per_m_k": material.conductivity_w_per_m_k.value,
                "conductivity_source": material.conductivity_w_per_m_k.source,
                "max_c": material.max_c.value,
                "max_source": material.max_c.source,
                "harm": material.harm,
            })
        })
        .collect();
    json!({ "schema": "truesoak.materials/1", "materials": rows })
}

fn text_of(materials: &[&Material], units: Units) -> String {
    let mut out = String::from(
        "Materials. \"Stands\" is the metal temperature where a bake of hours begins to harm it.\n\n",
    );
    let mut rows =
        vec![["name", "kg/m³", "J/(kg K)", "W/(m K)", "stands"].map(String::from).into()];
    for material in materials {
        rows.push(vec![
            material.name.to_owned(),
            format!("{:.0}", material.density_kg_per_m3.value),
            format!("{:.0}", material.specific_heat_j_per_kg_k.value),
            format!("{}", material.conductivity_w_per_m_k.value),
            units.at_most(material.max_c.value),
        ]);
    }
    table(&mut out, 2, &rows);
    out.push_str("\nWhy, where from, and other names\n");
    for material in materials {
        let _ = writeln!(
            out,
            "  {}: {} ({}); density {}, specific heat {}, conductivity {}{}",
            material.name,
            material.harm,
            material.max_c.source,
            material.density_kg_per_m3.source,
            material.specific_heat_j_per_kg_k.source,
            material.conductivity_w_per_m_k.source,
            if material.aliases.is_empty() {
                String::new()
            } else {
                format!("; also {}", material.aliases.join(", "))
            }
        );
    }
    out
}
