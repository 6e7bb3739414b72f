//! The table. Temperatures of harm are cautious: a bake of hours at this metal temperature is where
//! the named change begins to matter, not where the part fails.

use super::{Family, Material, Sourced};

/// EN ISO 10456 (tables of design values; earlier EN 12524).
const EN: &str = "EN ISO 10456";
/// Handbook of Fundamentals, table of insulations.
const ASHRAE: &str = "ASHRAE Fundamentals";
const MEMORY: &str = "from memory";
const PRACTICE: &str = "common practice";

/// Density, specific heat and conductivity, each with its source.
type Numbers = [(f64, &'static str); 3];

const fn sourced((value, source): (f64, &'static str)) -> Sourced {
    Sourced { value, source }
}

const fn row(
    family: Family,
    name: &'static str,
    aliases: &'static [&'static str],
    [density, heat, conductivity]: Numbers,
    max: (f64, &'static str),
    harm: &'static str,
) -> Material {
    Material {
        name,
        aliases,
        family,
        density_kg_per_m3: sourced(density),
        specific_heat_j_per_kg_k: sourced(heat),
        conductivity_w_per_m_k: sourced(conductivity),
        max_c: sourced(max),
        harm,
    }
}

/// All three from memory.
const fn memory(density: f64, heat: f64, conductivity: f64) -> Numbers {
    [(density, MEMORY), (heat, MEMORY), (conductivity, MEMORY)]
}

/// All three from EN ISO 10456.
const fn norm(density: f64, heat: f64, conductivity: f64) -> Numbers {
    [(density, EN), (heat, EN), (conductivity, EN)]
}

use Family::{Insulation, Metal, Other, Polymer};

/// Every material.
#[rustfmt::skip]
pub const TABLE: &[Material] = &[
    row(Metal, "mild steel", &["steel", "carbon steel", "low-carbon steel", "1018", "S235"],
        memory(7850.0, 486.0, 51.0), (400.0, MEMORY), "scales; loses cold-worked strength"),
    row(Metal, "chromoly steel", &["4130", "25CrMo4", "chromoly", "CrMo", "frame tubing"],
        memory(7850.0, 477.0, 43.0), (350.0, MEMORY), "tempers cold-drawn tubing"),
    row(Metal, "spring steel", &["1095", "65Mn", "C75", "music wire"],
        memory(7850.0, 475.0, 47.0), (230.0, MEMORY), "springs relax"),
    row(Metal, "hardened bearing steel", &["52100", "100Cr6", "bearing steel"],
        memory(7830.0, 475.0, 46.0), (150.0, MEMORY), "tempers: loses hardness and size"),
    row(Metal, "stainless steel", &["304", "316", "stainless", "18/8", "A2", "inox", "1.4301"],
        [(7900.0, EN), (500.0, MEMORY), (16.0, MEMORY)], (400.0, MEMORY), "tints; sensitises"),
    row(Metal, "stainless steel 420", &["420", "martensitic stainless", "1.4021"],
        [(7750.0, MEMORY), (460.0, EN), (25.0, MEMORY)], (200.0, MEMORY), "tempers hardened edges"),
    row(Metal, "cast iron", &["grey iron", "ductile iron", "iron"],
        norm(7500.0, 450.0, 50.0), (400.0, MEMORY), "scales"),
    row(Metal, "aluminium, alloy not known", &["aluminium", "alloy", "aluminium alloy", "alu"],
        norm(2800.0, 880.0, 160.0), (130.0, MEMORY), "over-ages, as the soonest of its alloys"),
    row(Metal, "aluminium 1050", &["1050", "pure aluminium", "1100"],
        memory(2705.0, 900.0, 222.0), (200.0, MEMORY), "cold-worked strength anneals out"),
    row(Metal, "aluminium 2014", &["2014", "2014-T6", "forged 2014"],
        memory(2800.0, 880.0, 155.0), (170.0, MEMORY), "over-ages: aged at 160 to 177 °C"),
    row(Metal, "aluminium 2024", &["2024", "2024-T3", "duralumin", "dural"],
        memory(2780.0, 875.0, 121.0), (150.0, MEMORY), "ages: loses resistance to corrosion"),
    row(Metal, "aluminium 5052", &["5052", "5083", "5754"],
        memory(2680.0, 900.0, 138.0), (200.0, MEMORY), "cold-worked strength anneals out"),
    row(Metal, "aluminium 6061", &["6061", "6061-T6", "aluminium 6061-T6", "6082", "aluminium 6082"],
        memory(2700.0, 896.0, 167.0), (190.0, MEMORY), "over-ages: aged at 160 to 177 °C"),
    row(Metal, "aluminium 6063", &["6063", "6063-T6", "6060"],
        memory(2690.0, 900.0, 200.0), (190.0, MEMORY), "over-ages: aged at 175 to 185 °C"),
    row(Metal, "aluminium 7075", &["7075", "7075-T6", "aluminium 7075-T6", "7005"],
        memory(2810.0, 960.0, 130.0), (130.0, MEMORY), "over-ages: aged at 121 °C"),
    row(Metal, "cast aluminium", &["A356", "356", "AlSi7Mg", "cast aluminium A356"],
        memory(2680.0, 963.0, 151.0), (180.0, MEMORY), "over-ages; castings gas out and blister"),
    row(Metal, "die-cast aluminium", &["A380", "ADC12", "AlSi9Cu3"],
        memory(2740.0, 963.0, 96.0), (180.0, MEMORY), "trapped gas blisters"),
    row(Metal, "magnesium", &["AZ91", "AZ31", "magnesium alloy"],
        memory(1810.0, 1020.0, 72.0), (150.0, MEMORY), "creeps and over-ages"),
    row(Metal, "titanium", &["titanium grade 2", "grade 2", "CP titanium"],
        memory(4510.0, 523.0, 16.4), (350.0, MEMORY), "tints"),
    row(Metal, "titanium 6Al-4V", &["Ti-6Al-4V", "grade 5", "titanium grade 5"],
        memory(4430.0, 526.0, 6.7), (350.0, MEMORY), "tints"),
    row(Metal, "brass", &["CuZn37", "CuZn39Pb3", "C360", "free-cutting brass"],
        norm(8400.0, 380.0, 120.0), (200.0, MEMORY), "cold-worked springiness anneals out"),
    row(Metal, "bronze", &["tin bronze", "phosphor bronze", "gunmetal"],
        norm(8700.0, 380.0, 65.0), (220.0, MEMORY), "oil-filled bushes bleed; springs relax"),
    row(Metal, "copper", &["Cu-ETP", "C110"],
        [(8900.0, EN), (385.0, MEMORY), (380.0, EN)], (200.0, MEMORY), "softens where cold-worked"),
    row(Metal, "nickel silver", &["german silver", "CuNi18Zn20"],
        memory(8700.0, 390.0, 33.0), (250.0, MEMORY), "tints"),
    row(Metal, "zinc die-cast", &["zamak", "zamak 3", "pot metal", "zinc", "white metal"],
        [(6600.0, MEMORY), (419.0, MEMORY), (113.0, MEMORY)], (150.0, MEMORY), "creeps; trapped gas blisters"),
    row(Metal, "lead", &[],
        norm(11300.0, 130.0, 35.0), (150.0, MEMORY), "creeps"),
    row(Metal, "soft-soldered joint", &["solder", "tin-lead solder", "soft solder"],
        memory(8400.0, 176.0, 50.0), (150.0, MEMORY), "tin-lead solder creeps, and melts at 183 °C"),
    row(Polymer, "PA66", &["nylon 66", "nylon", "polyamide"],
        norm(1150.0, 1600.0, 0.25), (140.0, MEMORY), "oxidises, yellows and shrinks"),
    row(Polymer, "PA66-GF30", &["nylon 66 glass-filled", "glass-filled nylon"],
        [(1370.0, MEMORY), (1500.0, MEMORY), (0.30, EN)], (170.0, MEMORY), "oxidises and embrittles"),
    row(Polymer, "PA6", &["nylon 6"],
        memory(1130.0, 1600.0, 0.25), (130.0, MEMORY), "oxidises and shrinks; softens towards 180 °C"),
    row(Polymer, "PA12", &["nylon 12"],
        memory(1020.0, 1700.0, 0.23), (110.0, MEMORY), "softens"),
    row(Polymer, "acetal", &["POM", "polyoxymethylene"],
        norm(1410.0, 1400.0, 0.30), (110.0, MEMORY), "softens; splits off formaldehyde when hotter"),
    row(Polymer, "ABS", &["acrylonitrile butadiene styrene"],
        memory(1050.0, 1400.0, 0.18), (80.0, MEMORY), "sags"),
    row(Polymer, "polycarbonate", &["PC"],
        norm(1200.0, 1200.0, 0.20), (120.0, MEMORY), "sags from 140 °C; hazes if damp"),
    row(Polymer, "polypropylene", &["PP"],
        norm(910.0, 1800.0, 0.22), (100.0, MEMORY), "sags"),
    row(Polymer, "PEEK", &["polyetheretherketone"],
        memory(1300.0, 1340.0, 0.25), (240.0, MEMORY), "ages"),
    row(Polymer, "PTFE", &["polytetrafluoroethylene"],
        norm(2200.0, 1000.0, 0.25), (250.0, MEMORY), "creeps; gives off toxic fumes when hotter"),
    row(Polymer, "phenolic", &["phenolic resin"],
        norm(1300.0, 1700.0, 0.30), (150.0, MEMORY), "gases, blisters and chars"),
    row(Polymer, "nitrile rubber", &["NBR", "rubber"],
        memory(1200.0, 1350.0, 0.25), (100.0, MEMORY), "hardens"),
    row(Polymer, "carbon-epoxy", &["carbon fibre", "CFRP", "carbon"],
        memory(1550.0, 1050.0, 0.7), (100.0, MEMORY), "resin softens: its strength is gone"),
    row(Other, "glass", &["soda-lime glass"],
        norm(2500.0, 750.0, 1.0), (200.0, MEMORY), "cracks when heated or cooled fast"),
    row(Other, "wood", &["beech", "ash", "hardwood"],
        [(700.0, EN), (1600.0, EN), (0.18, EN)], (100.0, MEMORY), "dries, warps, darkens"),
    row(Other, "leather", &["saddle leather"],
        memory(900.0, 1500.0, 0.16), (50.0, MEMORY), "shrinks for good"),
    row(Insulation, "mineral wool", &["rock wool", "stone wool", "slag wool"],
        [(80.0, MEMORY), (840.0, ASHRAE), (0.045, MEMORY)], (250.0, MEMORY), "its binder burns out; the wool stands 600 °C"),
    row(Insulation, "glass wool", &["fibreglass", "fiberglass", "glass fibre wool"],
        [(40.0, MEMORY), (840.0, ASHRAE), (0.048, MEMORY)], (230.0, MEMORY), "its binder burns out; the wool stands 400 °C"),
    row(Insulation, "ceramic fibre", &["ceramic fiber", "ceramic blanket", "alumina-silica blanket"],
        memory(96.0, 1000.0, 0.055), (1000.0, MEMORY), "shrinks"),
    row(Insulation, "fire brick", &["insulating fire brick", "light fire brick"],
        [(490.0, "VDI Heat Atlas"), (942.0, "VDI Heat Atlas"), (0.14, "VDI Heat Atlas")], (1200.0, PRACTICE), "shrinks"),
    row(Insulation, "air gap", &["air", "still air"],
        [(0.9, MEMORY), (1010.0, MEMORY), (0.23, MEMORY)], (1000.0, MEMORY), "nothing; 0.032 + 5 × thickness W/(m K), radiation included"),
];
