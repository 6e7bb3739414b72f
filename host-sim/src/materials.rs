//! Materials by name.

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
