//! From a shape to what heat sees of it: area, section, and the body the air flows past.
//!
//! A section is one lump or a chain of cells; which, is for whoever knows the film and the material.

use super::convection::Body;
use crate::files::load::{Part, Rack, Shape};
use core::f64::consts::PI;

/// Nodes of a section stand at this power of even steps. With four of them the surface is then 2.5 %
/// of a sudden change of the air behind that of 121 at a Biot number of 1, where even steps leave
/// 5.0 %, and the middle of a ball 1.1 % ahead, where they leave 0.9 %.
const GRADING: f64 = 1.7;

/// A cell of a point.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cell {
    /// Share of the point's capacity; they sum to 1.
    pub share: f64,
    /// Conductance to the next cell inward, W/K; 0 for the last.
    pub inward_w_per_k: f64,
}

/// How heat goes into a section.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Section {
    /// A slab heated from both faces; half thickness, m.
    Slab(f64),
    /// A long round; radius, m.
    Round(f64),
    /// A ball; radius, m.
    Ball(f64),
}

impl Section {
    /// Volume over area, m.
    #[must_use]
    pub fn volume_per_area_m(self) -> f64 {
        match self {
            Self::Slab(half_m) => half_m,
            Self::Round(radius_m) => radius_m / 2.0,
            Self::Ball(radius_m) => radius_m / 3.0,
        }
    }

    /// Cells with their nodes at the surface, in growing steps inward and in the middle; faces half
    /// way between. The first node *is* the surface, and close to it are most of them: where air
    /// changes of a sudden it changes first.
    #[must_use]
    pub fn cells(self, count: usize, area_m2: f64, conductivity_w_per_m_k: f64) -> Vec<Cell> {
        if count < 2 {
            return vec![Cell { share: 1.0, inward_w_per_k: 0.0 }];
        }
        let (depth_m, power) = match self {
            Self::Slab(depth_m) => (depth_m, 1),
            Self::Round(depth_m) => (depth_m, 2),
            Self::Ball(depth_m) => (depth_m, 3),
        };
        let last = count - 1;
        // Nodes and faces as shares of the depth left, from 1 at the surface to 0 in the middle.
        let node = |i: usize| 1.0 - libm::pow(i as f64 / last as f64, GRADING);
        let outer_face = |i: usize| if i == 0 { 1.0 } else { 0.5 * (node(i - 1) + node(i)) };
        (0..count)
            .map(|i| {
                let outside = outer_face(i).powi(power);
                if i == last {
                    return Cell { share: outside, inward_w_per_k: 0.0 };
                }
                let inner = outer_face(i + 1);
                let step_m = depth_m * (node(i) - node(i + 1));
                let face_m2 = area_m2 * inner.powi(power - 1);
                Cell {
                    share: outside - inner.powi(power),
                    inward_w_per_k: conductivity_w_per_m_k * face_m2 / step_m,
                }
            })
            .collect()
    }
}

/// What a shape says of one of its points, before it is among other things.
pub(super) struct Outline {
    /// Outer area, m².
    pub area_m2: f64,
    /// How heat goes in.
    pub section: Section,
    /// What the air flows past.
    pub body: Body,
    /// Length the air flows along, m.
    pub length_m: f64,
}

/// Outer area of a part's kind together, m².
pub(super) fn part_area_m2(part: &Part) -> f64 {
    part_outlines(part).iter().map(|outline| outline.area_m2).sum()
}

/// Outlines of a part's slow and fast half, all of its kind together.
pub(super) fn part_outlines(part: &Part) -> [Outline; 2] {
    let all = f64::from(part.count);
    let half_m3 = 0.5 * part.mass_kg / part.substance.density_kg_per_m3;
    let half = |outline: Outline| Outline { area_m2: 0.5 * all * outline.area_m2, ..outline };
    match part.shape {
        Shape::Weighed { thickest_m, thinnest_m } => {
            // GUESS: an irregular part spreads as an upright sheet of its mean thickness.
            let length_m = libm::sqrt(2.0 * half_m3 / (0.5 * (thickest_m + thinnest_m)));
            [thickest_m, thinnest_m].map(|thickness_m| Outline {
                area_m2: all * half_m3 / (0.5 * thickness_m),
                section: Section::Slab(0.5 * thickness_m),
                body: Body::VerticalPlate,
                length_m,
            })
        }
        shape => {
            let volume_m3 = 2.0 * half_m3;
            [half(outline(shape, volume_m3)), half(outline(shape, volume_m3))]
        }
    }
}

/// Outline of a shape with one thickness.
fn outline(shape: Shape, volume_m3: f64) -> Outline {
    match shape {
        Shape::Plate { thickness_m, width_m, height_m } => Outline {
            area_m2: 2.0 * (width_m * height_m + thickness_m * (width_m + height_m)),
            section: Section::Slab(0.5 * thickness_m),
            body: Body::VerticalPlate,
            length_m: height_m,
        },
        Shape::Bar { diameter_m, length_m } => Outline {
            area_m2: PI * diameter_m * (length_m + 0.5 * diameter_m),
            section: Section::Round(0.5 * diameter_m),
            body: Body::HorizontalCylinder,
            length_m: diameter_m,
        },
        Shape::Tube { diameter_m, wall_m, length_m } => {
            let bore_m = (diameter_m - 2.0 * wall_m).max(0.0);
            let ends_m2 = 0.5 * PI * (diameter_m * diameter_m - bore_m * bore_m);
            Outline {
                // GUESS: the bore's film is the outside's; both ends are open to the air.
                area_m2: PI * (diameter_m + bore_m) * length_m + ends_m2,
                section: Section::Slab(0.5 * wall_m),
                body: Body::HorizontalCylinder,
                length_m: diameter_m,
            }
        }
        Shape::Lump { area_m2 } => Outline {
            area_m2,
            section: Section::Slab(volume_m3 / area_m2),
            body: Body::VerticalPlate,
            // A sheet of that area, both sides.
            length_m: libm::sqrt(0.5 * area_m2),
        },
        Shape::Weighed { thickest_m, thinnest_m } => {
            let (thick, thin) = (0.5 * thickest_m, 0.5 * thinnest_m);
            let area_m2 = 0.5 * volume_m3 * (1.0 / thick + 1.0 / thin);
            Outline {
                area_m2,
                section: Section::Slab(volume_m3 / area_m2),
                body: Body::VerticalPlate,
                length_m: libm::sqrt(volume_m3 / (thick + thin)),
            }
        }
    }
}

/// Outline of a rack.
pub(super) fn rack_outline(rack: &Rack) -> Outline {
    outline(rack.shape, rack.mass_kg / rack.substance.density_kg_per_m3)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cells_share_the_whole_of_a_section() {
        for section in [Section::Slab(0.01), Section::Round(0.02), Section::Ball(0.03)] {
            for count in [1, 2, 4, 40] {
                let cells = section.cells(count, 0.1, 0.3);
                assert_eq!(cells.len(), count);
                let whole: f64 = cells.iter().map(|cell| cell.share).sum();
                assert!((whole - 1.0).abs() < 1e-9, "{whole}");
                assert!(cells.iter().all(|cell| cell.share > 0.0));
                assert!(cells[count - 1].inward_w_per_k <= 0.0);
            }
        }
    }
}
