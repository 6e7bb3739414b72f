//! The plant's integration against closed forms, brute force and itself.
//!
//! Goal: what a rehearsal calls true is true of the network to a few thousandths of a kelvin at
//! every tick, whatever cuts the steps, and its heat adds up. Method: closed forms where there are
//! any, classical Runge–Kutta on laws written apart where there are none, and whole bakes.

use truesoak::compile::{self, tuning::tune};
use truesoak::files::Setup;
use truesoak::plant::convection::{Body, Film};
use truesoak::plant::doorway::Doorway;
use truesoak::plant::network::{Builder, End, GroupId, Law, NodeId, SensorSpec, State};
use truesoak::plant::simulation::Simulation;
use truesoak::plant::step::{Stepper, Weights};
use truesoak::plant::{Draw, Plant};
use truesoak::rehearse::{Board, Trace, World, model_of, run};
use truesoak_core::Controller;
use truesoak_tests::setup;

const ZERO_CELSIUS_K: f64 = 273.15;
/// Stefan–Boltzmann constant, W/(m² K⁴) (CODATA 2018).
const STEFAN_BOLTZMANN: f64 = 5.670_374_419e-8;
/// Capacity of a node whose temperature nothing but its own heater changes, J/K.
const UNMOVED_J_PER_K: f64 = 1e12;

fn run_on(simulation: &mut Simulation, ticks: u32) {
    let mut left = ticks;
    while left > 0 {
        let taken = simulation.attempt(left);
        simulation.take(taken);
        left -= taken;
    }
}

/// Air that rises by 0.1 K/s from 20 °C, and what hangs in it.
fn in_rising_air(more: impl FnOnce(&mut Builder, NodeId, GroupId)) -> Simulation {
    let mut builder = Builder::default();
    let always = builder.group(1.0);
    let air = builder.node(UNMOVED_J_PER_K, 20.0);
    more(&mut builder, air, always);
    let (network, state) = builder.build(20.0).expect("sparse");
    let mut simulation = Simulation::new(network, state, air);
    simulation.set_power(0.1 * UNMOVED_J_PER_K);
    simulation
}

/// T = T0 + r(t − τ(1 − e^(−t/τ))) with τ = 300 s and r = 0.1 K/s: closed form of a lump in ramped
/// surroundings, any heat-transfer text (check values, section 4).
#[test]
fn a_lump_in_ramped_surroundings_follows_its_closed_form() {
    let mut part = 0;
    let mut simulation = in_rising_air(|builder, air, always| {
        part = builder.node(3000.0, 20.0);
        builder.link(air, End::Node(part), Law::Conductance(10.0), always);
    });
    let mut now = 0;
    for (second, celsius) in
        [(60, 20.561_923), (300, 31.036_383), (600, 54.060_058), (1200, 110.549_469)]
    {
        run_on(&mut simulation, second * 10 - now);
        now = second * 10;
        let found = simulation.look(0).node(part);
        assert!((found - celsius).abs() < 0.003, "{second} s: {found} against {celsius}");
    }
}

/// The same closed form for a sensor of 12 s that sees 30 % of a wall, read at every tick of every
/// step: the continuous extension is as good inside a step as at its end.
#[test]
fn a_sensor_is_exact_at_every_tick_inside_a_step() {
    let (lag_s, share) = (12.0_f64, 0.3);
    let mut sensor = 0;
    let mut simulation = in_rising_air(|builder, air, _| {
        let wall = builder.node(UNMOVED_J_PER_K, 20.0);
        sensor =
            builder.sensor(SensorSpec { node: air, second: wall, share, lag_s, initial_c: 20.0 });
    });
    let (mut from, mut worst, mut longest) = (0, 0.0_f64, 0);
    while from < 6000 {
        let length = simulation.attempt(6000 - from);
        for tick in 1..=length {
            let t = f64::from(from + tick) * 0.1;
            let exact = 20.0 + (1.0 - share) * 0.1 * (t - lag_s * (1.0 - (-t / lag_s).exp()));
            worst = worst.max((simulation.sensor_at(sensor, tick) - exact).abs());
        }
        longest = longest.max(length);
        simulation.take(length);
        from += length;
    }
    println!("worst {worst:.6} K, longest step {longest} ticks");
    assert!(worst < 0.003, "{worst} K");
    assert!(longest > 100, "nothing inside was read: {longest} ticks");
}

/// 1,500 W that leave a sheathed element (8 mm by 1.6 m, 0.0402 m², ε 0.9) by radiation alone into a liner of
/// 1.05 m², ε 0.3, at 422.15 K bring it to 952.091 K (two-surface enclosure, Incropera chapter 13;
/// check values, section 6).
#[test]
fn an_element_settles_where_the_enclosure_formula_puts_it() {
    let mut builder = Builder::default();
    let always = builder.group(1.0);
    let element = builder.node(350.0, 149.0);
    let exchange = truesoak::plant::radiation::enclosed_m2(0.0402, 0.9, 1.05, 0.3);
    builder.link(element, End::Room, Law::Radiation(exchange), always);
    let (network, state) = builder.build(149.0).expect("sparse");
    let mut simulation = Simulation::new(network, state, element);
    simulation.set_power(1500.0);
    run_on(&mut simulation, 36_000);
    let kelvin = simulation.look(0).node(element) + ZERO_CELSIUS_K;
    assert!((kelvin - 952.091_168).abs() < 1e-3, "{kelvin}");
}

const STILL: Film = Film { body: Body::VerticalPlate, length_m: 0.15, speed_m_per_s: 0.0 };
const ROUND: Film = Film { body: Body::HorizontalCylinder, length_m: 0.03, speed_m_per_s: 0.0 };
const BLOWN: Film = Film { body: Body::VerticalPlate, length_m: 0.2, speed_m_per_s: 1.5 };
const DOORWAY: Doorway =
    Doorway { width_m: 0.38, height_m: 0.48, discharge: 0.6, specific_heat_j_per_kg_k: 1007.0 };

/// The stiff oven's nodes, J/K.
const CAPACITIES: [f64; 8] = [350.0, 60.0, 5_000.0, 30_000.0, 3.0, 3.5, 480.0, 2_000.0];
const ELEMENT: usize = 0;
const AIR: usize = 1;
const LINER: usize = 2;
const SKIN: usize = 3;
const FOIL: usize = 4;
const INNER: usize = 5;
const LUG: usize = 6;
const FRAME: usize = 7;

/// A stiff oven: a foil of 3 J/K with a cell behind it, lumps up to 30,000 J/K, films by tables,
/// radiation and a doorway.
fn stiff_oven() -> (Simulation, Vec<NodeId>, GroupId) {
    let mut builder = Builder::default();
    let always = builder.group(1.0);
    let door = builder.group(0.0);
    let nodes: Vec<NodeId> = CAPACITIES.iter().map(|c| builder.node(*c, 20.0)).collect();
    let node = |which: usize| End::Node(nodes[which]);
    let film = |film, area_m2| Law::Film { film, area_m2, spot_k: 0.0 };
    builder.link(nodes[ELEMENT], node(AIR), Law::Conductance(4.0), always);
    builder.link(nodes[ELEMENT], node(LINER), Law::Radiation(0.02), always);
    builder.link(nodes[AIR], node(LINER), film(BLOWN, 0.9), always);
    builder.link(nodes[LINER], node(SKIN), Law::Conductance(1.2), always);
    builder.link(nodes[SKIN], End::Room, Law::Conductance(8.0), always);
    builder.link(nodes[AIR], node(FOIL), film(STILL, 0.05), always);
    builder.link(nodes[FOIL], node(INNER), Law::Conductance(25.0), always);
    builder.link(nodes[LINER], node(FOIL), Law::Radiation(0.03), always);
    builder.link(nodes[AIR], node(LUG), film(ROUND, 0.04), always);
    builder.link(nodes[LINER], node(LUG), Law::Radiation(0.03), always);
    builder.link(nodes[AIR], node(FRAME), film(ROUND, 0.2), always);
    builder.link(nodes[LINER], node(FRAME), Law::Radiation(0.1), always);
    builder.link(nodes[AIR], End::Room, Law::Doorway(DOORWAY), door);
    builder.link(nodes[AIR], End::Room, Law::Conductance(0.3), always);
    let (network, state) = builder.build(20.0).expect("sparse");
    (Simulation::new(network, state, nodes[ELEMENT]), nodes, door)
}

/// The same oven written apart: the correlations themselves, no tables, no matrix.
fn slopes(t: &[f64; 8], power_w: f64, door: f64) -> [f64; 8] {
    let mut into = [0.0; 8];
    let mut flow = |a: usize, b: Option<usize>, watts: f64| {
        into[a] -= watts;
        if let Some(b) = b {
            into[b] += watts;
        }
    };
    let fourth = |c: f64| (c + ZERO_CELSIUS_K).powi(4);
    let radiated =
        |a: usize, b: usize, m2: f64| STEFAN_BOLTZMANN * m2 * (fourth(t[a]) - fourth(t[b]));
    let filmed =
        |b: usize, film: Film, m2: f64| m2 * film.coefficient(t[b], t[AIR]) * (t[AIR] - t[b]);
    flow(ELEMENT, Some(AIR), 4.0 * (t[ELEMENT] - t[AIR]));
    flow(ELEMENT, Some(LINER), radiated(ELEMENT, LINER, 0.02));
    flow(AIR, Some(LINER), filmed(LINER, BLOWN, 0.9));
    flow(LINER, Some(SKIN), 1.2 * (t[LINER] - t[SKIN]));
    flow(SKIN, None, 8.0 * (t[SKIN] - 20.0));
    flow(AIR, Some(FOIL), filmed(FOIL, STILL, 0.05));
    flow(FOIL, Some(INNER), 25.0 * (t[FOIL] - t[INNER]));
    flow(LINER, Some(FOIL), radiated(LINER, FOIL, 0.03));
    flow(AIR, Some(LUG), filmed(LUG, ROUND, 0.04));
    flow(LINER, Some(LUG), radiated(LINER, LUG, 0.03));
    flow(AIR, Some(FRAME), filmed(FRAME, ROUND, 0.2));
    flow(LINER, Some(FRAME), radiated(LINER, FRAME, 0.1));
    flow(AIR, None, 0.3 * (t[AIR] - 20.0));
    let rise_k = (t[AIR] - 20.0).max(0.0);
    let mean_k = 0.5 * (t[AIR] + 20.0) + ZERO_CELSIUS_K;
    let exchange = 101_325.0 / (287.05 * mean_k) * 1007.0 * 0.6 / 3.0 * 0.38 * 0.48;
    flow(AIR, None, door * exchange * (9.806_65 * 0.48 * rise_k / mean_k).sqrt() * rise_k);
    into[ELEMENT] += power_w;
    core::array::from_fn(|i| into[i] / CAPACITIES[i])
}

/// Classical Runge–Kutta of order 4, steps of 5 ms, over one tick of 0.1 s.
fn march(t: &mut [f64; 8], power_w: f64, door: f64) {
    let step = 5e-3;
    let at = |t: &[f64; 8], k: &[f64; 8], h: f64| core::array::from_fn(|i| t[i] + h * k[i]);
    for _ in 0..20 {
        let k1 = slopes(t, power_w, door);
        let k2 = slopes(&at(t, &k1, 0.5 * step), power_w, door);
        let k3 = slopes(&at(t, &k2, 0.5 * step), power_w, door);
        let k4 = slopes(&at(t, &k3, step), power_w, door);
        for i in 0..8 {
            t[i] += step / 6.0 * (k1[i] + 2.0 * k2[i] + 2.0 * k3[i] + k4[i]);
        }
    }
}

/// What happens to the stiff oven at a tick: power, share of the door, something cold put in.
fn script(tick: u32) -> (f64, f64, bool) {
    let on = tick < 2_400 || (tick / 13).is_multiple_of(3);
    let door = if (4_003..4_311).contains(&tick) { 0.7 } else { 0.0 };
    (if on { 1500.0 } else { 0.0 }, door, tick == 4_201)
}

/// Heater pulses of 1.3 s, a door for half a minute and cold parts put in through it; every node at
/// every second, with the steps running freely between what happens.
#[test]
fn a_stiff_oven_of_3_to_30000_joules_per_kelvin_agrees_with_brute_force() {
    let (mut simulation, nodes, door) = stiff_oven();
    let mut exact = [20.0; 8];
    let (mut tick, mut worst, mut steps) = (0, 0.0_f64, 0);
    while tick < 6_000 {
        let (power_w, share, cold) = script(tick);
        simulation.set_power(power_w);
        simulation.set_scale(door, share);
        if cold {
            for part in [FOIL, INNER, LUG, FRAME] {
                simulation.set_temperature(nodes[part], 20.0);
                exact[part] = 20.0;
            }
        }
        let length = simulation.attempt(600);
        steps += 1;
        let mut done = 0;
        while done < length && tick < 6_000 {
            march(&mut exact, power_w, share);
            tick += 1;
            done += 1;
            if tick.is_multiple_of(10) {
                let look = simulation.look(done);
                for (node, exact) in nodes.iter().zip(exact) {
                    worst = worst.max((look.node(*node) - exact).abs());
                }
            }
            if script(tick) != (power_w, share, false) {
                break;
            }
        }
        simulation.take(done);
    }
    println!("worst difference {worst:.5} K in {steps} steps");
    assert!(worst < 0.005, "{worst} K");
    assert!(exact[AIR] > 100.0 && exact[SKIN] > 20.5, "the oven was not heated: {exact:?}");
    assert!(steps < 2_500, "{steps} steps for 6,000 ticks");
}

/// Error control off: steps of one length from the same start; order 3 means an eighth of the error
/// for half the step (Rang and Angermann 2005 claim 3).
#[test]
fn halving_the_step_leaves_an_eighth_of_the_error() {
    let start = |mut builder: Builder| {
        let always = builder.group(1.0);
        let element = builder.node(350.0, 400.0);
        let air = builder.node(60.0, 150.0);
        let wall = builder.node(5_000.0, 120.0);
        let part = builder.node(480.0, 40.0);
        let behind = builder.node(300.0, 30.0);
        builder.link(element, End::Node(air), Law::Conductance(4.0), always);
        builder.link(element, End::Node(wall), Law::Radiation(0.02), always);
        builder.link(air, End::Node(wall), Law::Conductance(14.0), always);
        builder.link(air, End::Node(part), Law::Conductance(3.0), always);
        builder.link(wall, End::Node(part), Law::Radiation(0.1), always);
        builder.link(part, End::Node(behind), Law::Conductance(20.0), always);
        builder.link(air, End::Room, Law::Doorway(DOORWAY), always);
        builder.link(wall, End::Room, Law::Conductance(3.0), always);
        let sensor =
            SensorSpec { node: air, second: wall, share: 0.1, lag_s: 6.0, initial_c: 150.0 };
        builder.sensor(sensor);
        builder.build(20.0).expect("sparse")
    };
    let ends = |h: f64| -> Vec<f64> {
        let (network, mut state): (_, State) = start(Builder::default());
        let mut stepper = Stepper::new(&network);
        let mut sources = vec![0.0; network.count()];
        sources[network.place(0)] = 1500.0;
        for _ in 0..(8.0 / h).round() as u32 {
            let _ = stepper.attempt(&network, &state, &sources, h);
            stepper.take(&mut state, &Weights::at(1.0));
        }
        let here = Weights::at(0.0);
        let mut ends = stepper.nodes(&state, &here);
        ends.push(stepper.sensor(&state, &here, 0));
        ends
    };
    let reference = ends(1.0 / 256.0);
    let error = |h: f64| {
        ends(h).into_iter().zip(&reference).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max)
    };
    let errors = [0.5, 0.25, 0.125, 0.0625].map(error);
    println!("{errors:?}");
    for pair in errors.windows(2) {
        let order = (pair[0] / pair[1]).log2();
        assert!((2.6..3.5).contains(&order), "order {order}: {errors:?}");
    }
}

/// A step cut on its extension at any tick, without a change, goes on as if it had not been.
#[test]
fn cutting_steps_anywhere_changes_nothing_that_counts() {
    let course = |cut: bool| -> Vec<f64> {
        let (mut simulation, nodes, _) = stiff_oven();
        let (mut tick, mut seen) = (0_u32, Vec::new());
        while tick < 9_000 {
            simulation.set_power(if tick < 3_000 { 1500.0 } else { 0.0 });
            let end = if tick < 3_000 { 3_000 } else { 9_000 };
            let mut length = simulation.attempt(end - tick);
            if cut {
                length = length.min(1 + (tick.wrapping_mul(2_654_435_761) >> 28));
            }
            for ahead in 1..=length {
                if (tick + ahead).is_multiple_of(100) {
                    let look = simulation.look(ahead);
                    seen.extend(nodes.iter().map(|node| look.node(*node)));
                }
            }
            simulation.take(length);
            tick += length;
        }
        seen
    };
    let (whole, cut) = (course(false), course(true));
    assert_eq!(whole.len(), 90 * CAPACITIES.len());
    let apart = whole.iter().zip(&cut).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
    println!("apart {apart:.5} K");
    // Either course may be off by the plant's own error, within 0.005 K of the truth.
    assert!(apart < 0.005, "{apart} K");
}

fn bake(setup: &Setup) -> (World, Trace) {
    let model = model_of(setup).expect("a model");
    let settings = compile::settings(&setup.oven, tune(setup, &model).tuning);
    let draw = Draw::nominal(&setup.oven);
    let mut world = World::new(&setup.bake, &setup.oven, &setup.load, &draw, &setup.oven, 1);
    let mut board = Board::new(Controller::new(setup.bake.bake.clone(), model, settings));
    let mut trace = Trace::new(&setup.bake, &setup.load, true);
    run(&mut board, &mut world, false, &mut trace);
    (world, trace)
}

/// First law, over whole bakes with doors, loads put in, questions and a scripted fault: what the
/// heater put in, and what came in and went out with the load, is stored or lost.
#[test]
fn the_heat_of_a_whole_bake_adds_up_to_a_billionth() {
    for name in ["gas-out-hubs.toml", "door-mid-soak.toml", "whole-day.toml", "scripted-fault.toml"]
    {
        let (world, trace) = bake(&setup(name, &[]));
        let energy = world.plant.energy();
        let open_j = energy.put_in_j - energy.stored_j - energy.lost_j;
        assert!(energy.put_in_j > 2e5, "{name}: {energy:?}");
        assert!(open_j.abs() < 1e-9 * energy.put_in_j, "{name}: {open_j} J of {energy:?}");
        assert!(!trace.rows.is_empty() && !trace.chronicle.steps.is_empty(), "{name}");
    }
}

/// Every row and every true temperature, alone and beside another thread.
#[test]
fn a_bake_gives_the_same_bits_twice_and_in_two_threads() {
    let digest = || {
        let (world, trace) = bake(&setup("gas-out-hubs.toml", &[]));
        let truths = trace.truth.rows().flatten().chain(&trace.air_c);
        let bits = truths.map(|value| value.to_bits()).collect::<Vec<_>>();
        (bits, world.plant.energy().lost_j.to_bits())
    };
    let alone = digest();
    let pair = std::thread::scope(|scope| {
        [scope.spawn(digest), scope.spawn(digest)].map(|thread| thread.join().expect("no panic"))
    });
    assert!(alone.0.len() > 10_000);
    assert!(pair.iter().all(|other| *other == alone));
}

/// A drive welded on an oven wired for five times its power: the air itself passes 1,000 K, the tables
/// hold their last values, and nothing becomes not-a-number.
#[test]
fn a_welded_oven_stays_finite_far_past_its_tables() {
    let setup = setup("gas-out-hubs.toml", &[]);
    let draw = Draw::nominal(&setup.oven);
    let mut plant = Plant::new(&setup.oven, &setup.load, &draw, 20.0);
    plant.load_in(&vec![true; setup.load.parts.len()], false);
    plant.set_power(5.0 * setup.oven.heater.power_w);
    let (mut tick, mut steps) = (0, 0);
    while tick < 72_000 {
        let length = plant.attempt(600);
        plant.take(length);
        tick += length;
        steps += 1;
    }
    let shown = plant.shown_at(0);
    let mut parts = Vec::new();
    let air_c = plant.look_at(0, &mut parts);
    assert!(air_c.is_finite() && shown.air_c.is_finite());
    assert!(air_c > 727.0, "{air_c}");
    assert!(parts.iter().all(|part| part.hottest_c.is_finite() && part.coldest_c > 300.0));
    let energy = plant.energy();
    let open_j = energy.put_in_j - energy.stored_j - energy.lost_j;
    assert!(open_j.abs() < 1e-9 * energy.put_in_j, "{open_j} J of {energy:?}");
    assert!(steps < 10_000, "{steps} steps");
}

/// A heater without bound is no physics; the oven stays where it was and no value is lost.
#[test]
fn an_endless_heater_leaves_numbers() {
    let (mut simulation, nodes, _) = stiff_oven();
    run_on(&mut simulation, 100);
    simulation.set_power(f64::INFINITY);
    run_on(&mut simulation, 20);
    let look = simulation.look(0);
    assert!(nodes.iter().all(|node| (look.node(*node) - 20.0).abs() < 1e-6));
}
