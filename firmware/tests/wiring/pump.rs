//! The charge pump's hold time, by the guide's formulas and by stepping the circuit through time.

use super::support::{file, guide};

/// Edges of the pin, s apart: one a tick.
const EDGE_S: f64 = 0.1;
/// The guard allows for so long from the last edge to the contactor open, s.
const ALLOWED_S: f64 = 0.8;
/// Ticks in a row that may be late without the permit falling.
const LATE_TICKS: f64 = 3.0;
/// The contactor's own time with its clamp, s.
const CONTACTOR_S: f64 = 0.05;

/// Values of the circuit, names as in the drawing.
#[derive(Clone, Copy, Debug)]
struct Pump {
    supply_v: f64,
    diode_v: f64,
    c1_c2_f: f64,
    c3_f: f64,
    r4_r5_ohm: f64,
    reference_v: f64,
    bias_a: f64,
}

/// As drawn.
const NOMINAL: Pump = Pump {
    supply_v: 24.0,
    diode_v: 0.6,
    c1_c2_f: 0.34e-6,
    c3_f: 2.2e-6,
    r4_r5_ohm: 206e3,
    reference_v: 2.5,
    bias_a: 0.0,
};
const R3_OHM: f64 = 10e3;
const R6_OHM: f64 = 10e3;
const R7_OHM: f64 = 150e3;
const R9_R10_OHM: f64 = 9.4e3;
/// The comparator's output while it sinks, V.
const SUNK_V: f64 = 0.2;

/// How the pin was left.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Left {
    Low,
    High,
}

impl Pump {
    /// V1 closes above this, V.
    fn closes_v(self) -> f64 {
        let share = R6_OHM / (R6_OHM + R7_OHM + R9_R10_OHM);
        self.reference_v + share * (self.supply_v - self.reference_v)
    }

    /// V1 opens below this, V.
    fn opens_v(self) -> f64 {
        let share = R6_OHM / (R6_OHM + R7_OHM);
        self.reference_v - share * (self.reference_v - SUNK_V)
    }

    /// What one charge into an empty C3 leaves, V.
    fn one_charge_v(self) -> f64 {
        self.share() * (self.supply_v - 2.0 * self.diode_v)
    }

    fn share(self) -> f64 {
        self.c1_c2_f / (self.c1_c2_f + self.c3_f)
    }

    /// Left of a voltage after half a period with Q2 off, and with it on.
    fn left(self) -> (f64, f64) {
        let both = self.r4_r5_ohm * (self.c1_c2_f + self.c3_f);
        let alone = self.r4_r5_ohm * self.c3_f;
        ((-EDGE_S / both).exp(), (-EDGE_S / alone).exp())
    }

    /// Peak of the voltage at C3 by the guide's formula, V.
    fn peak_v(self) -> f64 {
        let ((a, b), k) = (self.left(), self.share());
        k * (self.supply_v - 2.0 * self.diode_v) / (1.0 - a * b * (1.0 - k))
    }

    /// Time from the last edge until V1 opens by the guide's formulas, s. The comparator's input
    /// current lifts what the voltage falls to.
    fn holds_s(self, left: Left) -> f64 {
        let floor_v = self.bias_a * self.r4_r5_ohm;
        let (from_v, capacity_f) = match left {
            Left::Low => (self.peak_v(), self.c1_c2_f + self.c3_f),
            Left::High => (self.left().0 * self.peak_v(), self.c3_f),
        };
        let falls = (from_v - floor_v) / (self.opens_v() - floor_v);
        self.r4_r5_ohm * capacity_f * falls.ln()
    }

    /// The same by stepping the circuit through time, and whether V1 ever opened while it was
    /// toggled, and how many charges it took to close.
    fn stepped(self, left: Left) -> Stepped {
        const STEP_S: f64 = 5e-5;
        const EDGES: u32 = 60;
        let steps_an_edge = (EDGE_S / STEP_S).round() as u32;
        // Until the first edge the pin stood still: high with C1 and C2 empty, low with them full.
        let rests_high = left == Left::High;
        let (mut across_c1_v, mut c3_v) = (if rests_high { 0.0 } else { self.supply_v }, 0.0_f64);
        let mut told = Stepped { holds_s: f64::NAN, charges: 0, chatters: false };
        let mut closed = false;
        for step in 0..(EDGES + 30) * steps_an_edge {
            let edge = (step / steps_an_edge).min(EDGES - 1);
            let off = (EDGES - 1 - edge).is_multiple_of(2) == (left == Left::Low);
            let within = step % steps_an_edge == 0 && step / steps_an_edge < EDGES;
            told.charges += u32::from(within && off && !closed);
            // Q2 off: R3 charges C1 and C2 through D3 into C3; on: D2 empties them.
            if off {
                let push_v = self.supply_v - across_c1_v - self.diode_v - c3_v;
                let charge_as = (push_v / R3_OHM).max(0.0) * STEP_S;
                across_c1_v += charge_as / self.c1_c2_f;
                c3_v += charge_as / self.c3_f;
            } else {
                across_c1_v = across_c1_v.min(self.diode_v);
            }
            c3_v -= (c3_v / self.r4_r5_ohm - self.bias_a) * STEP_S / self.c3_f;
            let was = closed;
            closed = c3_v > if closed { self.opens_v() } else { self.closes_v() };
            if was && !closed {
                let since_s = f64::from(step) * STEP_S - f64::from(EDGES - 1) * EDGE_S;
                told.chatters |= since_s < 0.0;
                told.holds_s = since_s;
            }
        }
        told
    }
}

#[derive(Clone, Copy, Debug)]
struct Stepped {
    holds_s: f64,
    charges: u32,
    chatters: bool,
}

/// Every corner of the tolerances that the guide names; capacitors by the share given.
fn corners(capacitors: f64) -> Vec<Pump> {
    let ends = |middle: f64, share: f64| [middle * (1.0 - share), middle * (1.0 + share)];
    let mut pumps = vec![NOMINAL];
    let mut spread = |ends: &dyn Fn(&Pump) -> [f64; 2], put: fn(&mut Pump, f64)| {
        let both = pumps.iter().flat_map(|pump| {
            ends(pump).map(|value| {
                let mut pump = *pump;
                put(&mut pump, value);
                pump
            })
        });
        pumps = both.collect();
    };
    spread(&|pump| ends(pump.supply_v, 0.05), |pump, value| pump.supply_v = value);
    spread(&|_| [0.4, 0.75], |pump, value| pump.diode_v = value);
    spread(&|pump| ends(pump.c1_c2_f, capacitors), |pump, value| pump.c1_c2_f = value);
    spread(&|pump| ends(pump.c3_f, capacitors), |pump, value| pump.c3_f = value);
    spread(&|pump| ends(pump.r4_r5_ohm, 0.01), |pump, value| pump.r4_r5_ohm = value);
    spread(&|pump| ends(pump.reference_v, 0.015), |pump, value| pump.reference_v = value);
    spread(&|_| [0.0, 250e-9], |pump, value| pump.bias_a = value);
    pumps
}

fn shortest_and_longest_s(pumps: &[Pump]) -> (f64, f64) {
    let holds =
        pumps.iter().flat_map(|pump| [Left::Low, Left::High].map(|left| pump.holds_s(left)));
    holds.fold((f64::INFINITY, 0.0), |(least, most), held| (held.min(least), held.max(most)))
}

#[test]
fn the_permit_outlives_three_late_ticks_and_is_gone_within_the_guard_s_time() {
    let pumps = corners(0.05);
    assert_eq!(pumps.len(), 128);
    let (shortest_s, longest_s) = shortest_and_longest_s(&pumps);
    assert!(shortest_s > LATE_TICKS * EDGE_S, "{shortest_s}");
    assert!(longest_s + CONTACTOR_S < ALLOWED_S, "{longest_s}");
    let said = format!("**{shortest_s:.2} to {longest_s:.2} s**");
    assert!(guide().contains(&said), "{said}");
    assert!(file("wiring/pump.svg").contains(&format!("{shortest_s:.2} to {longest_s:.2} s")));
    let (shortest_s, longest_s) = shortest_and_longest_s(&corners(0.1));
    let said = format!("let go after {shortest_s:.2} to {longest_s:.2} s");
    assert!(guide().contains(&said), "{said}");
}

#[test]
fn the_formulas_agree_with_the_circuit_stepped_through_time() {
    for pump in corners(0.05).iter().step_by(9).chain(&[NOMINAL]) {
        for left in [Left::Low, Left::High] {
            let stepped = pump.stepped(left);
            // The formulas take a charge to come over at once; through R3 it takes 3 ms.
            let apart_s = (stepped.holds_s - pump.holds_s(left)).abs();
            assert!(apart_s < 0.012, "{pump:?} {left:?}: {stepped:?}, {}", pump.holds_s(left));
            assert!(!stepped.chatters, "{pump:?}");
            assert_eq!(stepped.charges, 2, "{pump:?}");
        }
    }
}

#[test]
fn one_edge_alone_never_closes_it() {
    for pump in corners(0.05) {
        let short_v = pump.closes_v() - pump.one_charge_v();
        assert!(short_v > 0.2, "{pump:?}: {short_v}");
    }
}

#[test]
fn the_guide_s_figures_for_the_nominal_circuit_are_those_of_the_formulas() {
    let guide = guide();
    let trough_v = NOMINAL.left().0 * NOMINAL.left().1 * NOMINAL.peak_v();
    for said in [
        format!("= {:.1} V, the trough", NOMINAL.peak_v()),
        format!("= {trough_v:.1} V;"),
        format!("closes above {:.2} V", NOMINAL.closes_v()),
        format!("`W` = {:.2} V", NOMINAL.opens_v()),
        format!("= {:.2} s after the last edge", NOMINAL.holds_s(Left::Low)),
        format!("= {:.2} s.", NOMINAL.holds_s(Left::High)),
    ] {
        assert!(guide.contains(&said), "{said}");
    }
    let drawing = file("wiring/pump.svg");
    assert!(drawing.contains(&format!("{trough_v:.1} to {:.1} V", NOMINAL.peak_v())));
    for value in ["0.68 µF each", "2.2 µF", "412 kΩ each", "R3 10 kΩ", "R6 10 kΩ", "R7 150 kΩ"]
    {
        assert!(drawing.contains(value), "{value}");
    }
    let half = [NOMINAL.c1_c2_f * 2.0 - 0.68e-6, NOMINAL.r4_r5_ohm * 2.0 - 412e3];
    assert!(half.iter().all(|rest| rest.abs() < 1e-9));
}

#[test]
fn a_part_of_a_pair_that_fails_lets_the_permit_go_late_but_go() {
    let with = |change: fn(&mut Pump)| {
        let mut pumps = corners(0.05);
        pumps.iter_mut().for_each(change);
        shortest_and_longest_s(&pumps)
    };
    let (_, c1_shorted_s) = with(|pump| pump.c1_c2_f *= 2.0);
    let (least_s, r4_broken_s) = with(|pump| pump.r4_r5_ohm *= 2.0);
    let guide = guide();
    for said in [
        format!("held up to {c1_shorted_s:.1} s"),
        format!("held {least_s:.1} to {r4_broken_s:.1} s"),
    ] {
        assert!(guide.contains(&said), "{said}");
    }
}
