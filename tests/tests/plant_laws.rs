//! The plant's laws at published and independently worked points.
//!
//! Goal: every correlation, enclosure and doorway gives what its source gives, over the range it is
//! used in. Values: check values computed apart with `ht` 1.2.0, SciPy 1.17.1 and CoolProp 8.0.0;
//! they agree with formulas written a second time to 1e-13.

use truesoak::plant::convection::{
    nusselt_across_cylinder, nusselt_along_plate, nusselt_horizontal_cylinder,
    nusselt_plate_hot_side_down, nusselt_plate_hot_side_up, nusselt_vertical_plate,
    nusselt_vertical_plate_laminar,
};
use truesoak::plant::derive::{Section, derive};
use truesoak::plant::doorway::Doorway;
use truesoak::plant::network::{Builder, End, Law};
use truesoak::plant::open_loop::{OpenLoop, Row, Stretch, Stuck};
use truesoak::plant::radiation::{between_m2, enclosed_m2, flow_w};
use truesoak::plant::simulation::Simulation;
use truesoak::plant::{Draw, Plant};
use truesoak_tests::setup;

const PRANDTL: f64 = 0.7;

fn close(found: f64, expected: f64, relative: f64, of: &str) {
    assert!((found / expected - 1.0).abs() < relative, "{of}: {found} against {expected}");
}

/// Churchill and Chu 1975, `Nu_vertical_plate_Churchill` of `ht` 1.2.0 and the laminar form written
/// apart.
#[test]
fn vertical_plates_follow_churchill_and_chu_over_seven_decades() {
    for (rayleigh, all, laminar) in [
        (1e4, 5.425_290_974_340_113, 5.814_258_524_328_551),
        (1e5, 9.198_488_134_386_633, 9.810_146_219_630_287),
        (1e6, 16.530_366_876_407_225, 16.915_951_033_013_247),
        (1e7, 31.156_249_942_529_485, 29.552_057_424_407_64),
        (1e8, 60.949_183_892_358_28, 52.022_585_243_285_51),
        (1e9, 122.615_057_663_336_03, 91.981_462_196_302_87),
    ] {
        close(nusselt_vertical_plate(rayleigh, PRANDTL), all, 1e-9, "any Ra");
        close(nusselt_vertical_plate_laminar(rayleigh, PRANDTL), laminar, 1e-9, "laminar");
    }
    close(nusselt_vertical_plate(1e10, PRANDTL), 251.769_750_204_558_28, 1e-9, "turbulent");
}

/// McAdams, `Nu_horizontal_plate_McAdams` of `ht` 1.2.0.
#[test]
fn horizontal_plates_follow_mcadams() {
    for (rayleigh, up, down) in [
        (1e5, 9.602_708_814_210_184, 4.801_354_407_105_092),
        (1e6, 17.076_299_364_909_25, 8.538_149_682_454_625),
        (1e7, 30.366_431_560_278_85, 15.183_215_780_139_426),
        (1e8, 69.623_832_504_191_65, 27.0),
        (1e9, 150.0, 48.013_544_071_050_916),
    ] {
        close(nusselt_plate_hot_side_up(rayleigh), up, 1e-9, "hot side up");
        close(nusselt_plate_hot_side_down(rayleigh), down, 1e-9, "hot side down");
    }
}

/// Churchill and Chu 1975 (lying cylinder), Churchill and Bernstein 1977 (cylinder across the flow)
/// by `ht` 1.2.0; laminar plate along the flow written apart.
#[test]
fn cylinders_and_blown_plates_follow_their_correlations() {
    for (rayleigh, nusselt) in [
        (1e2, 1.667_730_610_152_997_4),
        (1e3, 2.607_727_202_761_797),
        (1e4, 4.366_386_507_381_124),
        (1e5, 7.764_131_735_076_143),
        (1e6, 14.510_190_847_444_73),
        (1e7, 28.201_381_416_123_45),
    ] {
        close(nusselt_horizontal_cylinder(rayleigh, PRANDTL), nusselt, 1e-9, "lying");
    }
    for (reynolds, nusselt) in [
        (10.0, 1.829_147_896_341_411_4),
        (1e2, 5.156_131_724_219_801),
        (1e3, 15.929_612_321_147_546),
        (5e3, 36.627_831_544_498_8),
        (1e4, 53.327_788_670_209_97),
        (5e4, 136.706_640_895_559_87),
    ] {
        close(nusselt_across_cylinder(reynolds, PRANDTL), nusselt, 1e-9, "across");
    }
    for (reynolds, nusselt) in
        [(1e3, 18.643_785_287_522_62), (1e4, 58.956_825_715_708_69), (1e5, 186.437_852_875_226_2)]
    {
        close(nusselt_along_plate(reynolds, PRANDTL), nusselt, 1e-9, "along");
    }
}

/// Linearised black exchange at temperatures a bake meets (check values, section 6): 56 % less on
/// a cold part than at the end of its soak.
#[test]
fn radiation_grows_with_the_part_as_the_fourth_power_says() {
    for (a_c, b_c, per_m2_k) in [
        (149.0, 20.0, 10.713_874_142_815_031),
        (149.0, 100.0, 14.315_949_711_678_332),
        (149.0, 144.0, 16.762_887_220_522_593),
        (200.0, 195.0, 23.647_115_389_538_9),
        (500.0, 149.0, 52.593_788_071_342_81),
    ] {
        let flow = flow_w(1.0, a_c + 273.15, b_c + 273.15);
        close(flow / (a_c - b_c), per_m2_k, 1e-9, "black");
    }
}

/// Two-surface enclosures in closed form (Incropera, chapter 13; check values, section 6): parallel
/// plates also as two surfaces of which one sees only the other.
#[test]
fn two_surface_enclosures_agree_with_their_closed_forms() {
    let plates = 860.841_958;
    close(flow_w(enclosed_m2(1.0, 0.8, 1.0, 0.3), 500.0, 300.0), plates, 1e-8, "plates");
    close(flow_w(between_m2(1.0, 0.8, 1.0, 1.0, 0.3), 500.0, 300.0), plates, 1e-8, "plates");
    let part = enclosed_m2(0.10, 0.85, 1.05, 0.30);
    close(flow_w(part, 422.15, 293.15), 98.812_959_79, 1e-9, "part in a liner");
    close(flow_w(part, 293.15, 422.15), -98.812_959_79, 1e-9, "the other way");
}

/// (C_d/3) W H √(g H ΔT/T̄), ρ at T̄, c_p 1,009 J/(kg K): integrated numerically over the height
/// (check values, section 7); the two-layer solution carries 2–4 % more.
#[test]
fn doorways_of_three_ovens_agree_with_an_integral_over_the_height() {
    for (width_m, height_m, inside_c, watts, two_layers) in [
        (0.3, 0.3, 150.0, 2_404.702_156_862, 2_458.965),
        (0.3, 0.3, 200.0, 3_540.782_177_043, 3_677.177),
        (0.4, 0.45, 150.0, 5_890.293_267_682, 6_023.210),
        (0.4, 0.45, 200.0, 8_673.109_624_096, 9_007.192),
        (0.6, 0.8, 150.0, 20_943.264_951_758, 21_415.858),
        (0.6, 0.8, 200.0, 30_837.723_107_898, 32_025.625),
    ] {
        let door = Doorway { width_m, height_m, discharge: 0.6, specific_heat_j_per_kg_k: 1_009.0 };
        let flow = door.flow_w(inside_c + 273.15, 293.15);
        close(flow, watts, 1e-9, "doorway");
        close(flow, two_layers, 0.04, "two layers");
    }
}

/// A grey body in a large enclosure, of which a share is the room (Incropera, section 13.3): what
/// everything at 150 °C loses through the door besides, its parts lose in proportion to what they see.
#[test]
fn parts_that_see_the_room_lose_what_a_grey_body_does() {
    let mut setup = setup("gas-out-chain-guards-300f.toml", &[]);
    setup.load.parts.iter_mut().for_each(|part| part.starts_at_c = 150.0);
    let fell_k = |doorway_view: f64| {
        let draw = Draw { doorway_view, ..Draw::nominal(&setup.oven) };
        let mut plant = Plant::new(&setup.oven, &setup.load, &draw, 150.0);
        plant.load_in(&[true], false);
        plant.open_door(1.0);
        let (mut parts, mut left) = (Vec::new(), 10);
        while left > 0 {
            let length = plant.attempt(left);
            plant.look_at(length, &mut parts);
            plant.take(length);
            left -= length;
        }
        150.0 - parts[0].coldest_c
    };
    let point = &derive(&setup.oven, &setup.load).parts[0].slow;
    // σ·(423.15⁴ - 293.15⁴), W/m²: 1,399.21.
    let black_k = point.emissivity * point.area_m2 * 1_399.21 / point.capacity_j_per_k;
    for view in [0.1, 0.25, 0.5] {
        close(fell_k(view) - fell_k(0.0), view * black_k, 0.01, "lost to the room");
    }
}

/// Steel (7,850 kg/m³, 486 J/(kg K)) brought from 20 °C into constant 149 °C: time constants, time
/// to 144 °C and temperature after 600 s (check values, section 4, closed form).
#[test]
fn lumps_of_steel_heat_as_the_closed_form_says() {
    // Volume over area, m; film, W/(m² K); s; °C.
    for (depth_m, film, to_144_s, after_600_s_c) in [
        (0.75e-3, 15.0, 620.03, 143.447),
        (3e-3, 15.0, 2480.10, 90.240),
        (25e-3 / 4.0, 15.0, 5166.88, 60.556),
        (50e-3 / 6.0, 15.0, 6889.17, 51.804),
        (0.75e-3, 30.0, 310.01, 148.761),
        (3e-3, 30.0, 1240.05, 122.234),
        (25e-3 / 4.0, 30.0, 2583.44, 88.362),
    ] {
        let mut builder = Builder::default();
        let always = builder.group(1.0);
        let part = builder.node(7850.0 * 486.0 * depth_m, 20.0);
        builder.link(part, End::Room, Law::Conductance(film), always);
        let (network, state) = builder.build(149.0).expect("sparse");
        let mut simulation = Simulation::new(network, state, part);
        let (mut tick, mut reached_s, mut at_600_s_c) = (0_u32, f64::NAN, f64::NAN);
        while tick < 72_000 {
            let length = simulation.attempt(72_000 - tick);
            for done in 1..=length {
                let celsius = simulation.look(done).node(part);
                if reached_s.is_nan() && celsius >= 144.0 {
                    reached_s = f64::from(tick + done) * 0.1;
                }
                if tick + done == 6_000 {
                    at_600_s_c = celsius;
                }
            }
            simulation.take(length);
            tick += length;
        }
        assert!((at_600_s_c - after_600_s_c).abs() < 0.003, "{at_600_s_c} {after_600_s_c}");
        // Near 144 °C the part gains a kelvin in τ/5: 0.003 K is some tenths of a second.
        let tolerance_s = 0.1 + 0.003 * to_144_s / (129.0_f64 / 5.0).ln() / 5.0;
        assert!((reached_s - to_144_s).abs() < tolerance_s, "{reached_s} {to_144_s}");
    }
}

/// What the sections below are of: depth, m; W/(m K); J/(m³ K).
const OF: (f64, f64, f64) = (0.01, 0.3, 1.6e6);

/// A section of 20 °C in air of 120 °C, its film in W/(m² K), as so many cells: a row every `row_s`.
fn heated(
    section: Section,
    (film, cells): (f64, usize),
    (row_s, to_s): (f64, f64),
    mut row: impl FnMut(Row<'_>),
) {
    let (_, conductivity, capacity_j_per_m3_k) = OF;
    let capacity_j_per_k = section.volume_per_area_m() * capacity_j_per_m3_k;
    let mut builder = Builder::default();
    let group = builder.group(1.0);
    let cells = section.cells(cells, 1.0, conductivity);
    let nodes: Vec<_> =
        cells.iter().map(|cell| builder.node(cell.share * capacity_j_per_k, 20.0)).collect();
    builder.link(nodes[0], End::Room, Law::Conductance(film), group);
    for (pair, cell) in nodes.windows(2).zip(&cells) {
        let law = Law::Conductance(cell.inward_w_per_k);
        builder.link(pair[0], End::Node(pair[1]), law, group);
    }
    let (network, state) = builder.build(120.0).expect("a chain");
    let stretch = Stretch { to_s, scales: vec![1.0], sources_w: vec![0.0; nodes.len()] };
    let take = |now: Row<'_>| {
        row(now);
        Ok::<(), Stuck>(())
    };
    OpenLoop::new(network, state, row_s).advance(&stretch, take).expect("followed");
}

fn ends_c(row: &Row<'_>) -> (f64, f64) {
    let cells = || row.nodes_c.iter().copied();
    (cells().fold(f64::INFINITY, f64::min), cells().fold(f64::NEG_INFINITY, f64::max))
}

/// A slab of 2 × 10 mm, as one lump or as cells: seconds until its coldest cell has come 99 % of the way.
fn reaches_99_percent_s(film: f64, cells: usize) -> f64 {
    let (depth_m, _, capacity_j_per_m3_k) = OF;
    let mut reached_s = f64::NAN;
    let to_s = 8.0 * depth_m * capacity_j_per_m3_k / film;
    heated(Section::Slab(depth_m), (film, cells), (1.0, to_s), |row| {
        if ends_c(&row).0 >= 119.0 && reached_s.is_nan() {
            reached_s = row.t_s;
        }
    });
    reached_s
}

/// What a board's four cells do not show of sixty: the middle no more than the sixteenth that the
/// bounds allow, the surface more for a moment after the air has changed all at once.
#[test]
fn four_cells_show_all_of_a_section_but_a_sixteenth() {
    let (depth_m, conductivity, capacity_j_per_m3_k) = OF;
    let through_s = depth_m * depth_m * capacity_j_per_m3_k / conductivity;
    for section in [Section::Slab(depth_m), Section::Round(depth_m), Section::Ball(depth_m)] {
        for (biot, at_once_k) in [(0.3, 0.8), (1.0, 2.5), (3.0, 6.5)] {
            let film = biot * conductivity / depth_m;
            let all = |cells: usize| {
                let mut ends = Vec::new();
                let times = (0.5, 4.0 * through_s);
                heated(section, (film, cells), times, |row| ends.push((row.t_s, ends_c(&row))));
                ends
            };
            let (mut middle_k, mut surface_k, mut later_k) = (0.0_f64, 0.0_f64, 0.0_f64);
            for ((t_s, four), (_, sixty)) in all(4).into_iter().zip(all(60)) {
                let allowed_k = (four.1 - four.0) / 16.0;
                middle_k = middle_k.max(four.0 - sixty.0 - allowed_k);
                let beyond_k = sixty.1 - four.1 - allowed_k;
                surface_k = surface_k.max(beyond_k);
                later_k = later_k.max(if t_s > 0.1 * through_s { beyond_k } else { 0.0 });
            }
            println!("{section:?}, Bi {biot}: {middle_k:.3}, {surface_k:.3}, {later_k:.3} K");
            assert!(middle_k < 0.02 && later_k < 0.02, "{section:?}, Bi {biot}");
            assert!(surface_k < at_once_k, "{section:?}, Bi {biot}: {surface_k} K");
        }
    }
}

/// The middle of a plane wall: θ = C₁·exp(−ζ₁²·Fo), ζ₁ and C₁ of Incropera, table 5.1; the further
/// terms have died away long before 99 %.
#[test]
fn lump_and_cells_meet_where_the_one_gives_way_to_the_other() {
    let (depth_m, conductivity, capacity_j_per_k) = (0.01, 0.3, 1.6e4);
    for (biot, zeta, first) in
        [(0.05, 0.2217, 1.0082), (0.1, 0.3111, 1.0161), (0.2, 0.4328, 1.0311)]
    {
        let film = biot * conductivity / depth_m;
        let fourier = (first / 0.01_f64).ln() / (zeta * zeta);
        let series_s = fourier * depth_m * capacity_j_per_k / conductivity;
        let (lump_s, cells_s) = (reaches_99_percent_s(film, 1), reaches_99_percent_s(film, 4));
        println!("Bi {biot}: series {series_s:.0} s, cells {cells_s:.0} s, lump {lump_s:.0} s");
        close(cells_s, series_s, 0.004, "cells");
        // The lump is quick by two fifths of the Biot number at most: 4 % where cells take over.
        assert!((1.0 - lump_s / series_s).abs() < 0.4 * biot, "{biot}: {lump_s} {series_s}");
    }
}
