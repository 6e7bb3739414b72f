//! A load, in SI units and °C, every default filled in.

use crate::materials::Substance;

/// One load.
#[derive(Clone, Debug, PartialEq)]
pub struct Load {
    /// Name.
    pub name: String,
    /// Parts, at most six kinds.
    pub parts: Vec<Part>,
    /// What they hang on.
    pub rack: Option<Rack>,
    /// Coating.
    pub coating: Option<Coating>,
}

/// Parts of one kind.
#[derive(Clone, Debug, PartialEq)]
pub struct Part {
    /// Name.
    pub name: String,
    /// How many.
    pub count: u32,
    /// What of.
    pub substance: Substance,
    /// Size of one.
    pub shape: Shape,
    /// Mass of one, kg: given, or from shape and density.
    pub mass_kg: f64,
    /// Surface.
    pub surface: Surface,
    /// Emissivity while bare, 0..1.
    pub emissivity: f64,
    /// Emissivity during a cure, 0..1 (coated unless the user gave one).
    pub emissivity_cure: f64,
    /// Temperature it comes in with, °C.
    pub starts_at_c: f64,
    /// What it stands, °C; above this it is harmed.
    pub max_c: f64,
    /// The part probe sits on one of these.
    pub probe: bool,
    /// Hung for gas-out soaks too.
    pub gas_out: bool,
}

/// Size of one part.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Shape {
    /// Both faces exposed.
    Plate {
        /// m.
        thickness_m: f64,
        /// m.
        width_m: f64,
        /// m.
        height_m: f64,
    },
    /// Solid round.
    Bar {
        /// m.
        diameter_m: f64,
        /// m.
        length_m: f64,
    },
    /// Hollow round, open at both ends, both faces exposed.
    Tube {
        /// Outer, m.
        diameter_m: f64,
        /// m.
        wall_m: f64,
        /// m.
        length_m: f64,
    },
    /// Known by its mass and its thickest and thinnest section.
    Weighed {
        /// m.
        thickest_m: f64,
        /// m.
        thinnest_m: f64,
    },
    /// Known by its mass and area.
    Lump {
        /// m².
        area_m2: f64,
    },
}

/// Surface of a part.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Surface {
    /// Bright.
    Machined,
    /// Grit-blasted.
    Blasted,
    /// Dull from heat or age.
    Oxidised,
    /// With its coating on.
    Coated,
}

/// What parts hang on.
#[derive(Clone, Debug, PartialEq)]
pub struct Rack {
    /// What of.
    pub substance: Substance,
    /// Size.
    pub shape: Shape,
    /// kg.
    pub mass_kg: f64,
    /// 0..1.
    pub emissivity: f64,
    /// °C.
    pub starts_at_c: f64,
}

/// A coating and its data-sheet schedules.
#[derive(Clone, Debug, PartialEq)]
pub struct Coating {
    /// Two schedules that cure alike give an activation energy.
    pub cures: Vec<CureSchedule>,
}

/// One schedule of a data sheet.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CureSchedule {
    /// Metal temperature, °C.
    pub at_c: f64,
    /// s.
    pub for_s: f64,
}
