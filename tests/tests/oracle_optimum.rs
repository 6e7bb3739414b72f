//! The oracle's heat against an independent optimiser, from below and above.
//!
//! Five ovens of two nodes: `tests/snapshots/oracle-cases.py` finds by linear programming (SciPy) the
//! least seconds in which the part can be where it must and stay there, under the limits; a second
//! less is infeasible, and the heat of the least was put through another integration. The oracle
//! chooses its heat by trying it on a plant's simulation, and comes to the same second.

mod oracle_support;

use oracle_support::{Oven, PAST_K, TICKS, rows};
use truesoak::rehearse::oracle::heat::{Body as _, Ceiling, Chooser, Limits};

/// The table is found to a second.
const FOUND_S: f64 = 1.0;

/// One row of the table.
struct Row {
    name: String,
    oven: Oven,
    reading_c: f64,
    part_c: f64,
    at_least_c: f64,
    least_s: f64,
}

impl Row {
    fn all() -> Vec<Self> {
        let row = |(name, numbers): (String, Vec<f64>)| {
            let [air, part, tie, loss, power_w, lag_s, reading_c, part_c, at_least_c, least_s, ..] =
                numbers[..]
            else {
                panic!("{name}")
            };
            let oven = Oven::new(air, &[(part, tie)], loss, power_w, lag_s);
            Self { name, oven, reading_c, part_c, at_least_c, least_s }
        };
        rows(include_str!("../snapshots/oracle-cases.csv")).map(row).collect()
    }
}

/// When the part is where it must be, s, and how far anything went past its limit, K.
fn oracle(row: &Row) -> (f64, f64) {
    let mut oven = row.oven.clone();
    let limits =
        Limits { reading: Ceiling::flat(row.reading_c), air_c: f64::INFINITY, part_c: row.part_c };
    let mut chooser = Chooser::default();
    let (mut now, mut past_k) = (0, f64::NEG_INFINITY);
    while now < 10_000 * TICKS {
        let stretch = chooser.most(&oven, &limits, u32::MAX);
        oven.heat(stretch.share);
        let until = now + stretch.ticks;
        while now < until {
            let length = oven.attempt(until - now);
            for tick in 1..=length {
                let seen = oven.seen_at(tick);
                past_k = past_k.max(seen.reading_c - row.reading_c);
                past_k = past_k.max(seen.hottest_c - row.part_c);
                if seen.coldest_c >= row.at_least_c {
                    return (f64::from(now + tick) / f64::from(TICKS), past_k);
                }
            }
            oven.take(length);
            now += length;
        }
    }
    panic!("{}: never", row.name)
}

#[test]
fn it_is_as_soon_as_linear_programming_finds_possible_and_no_sooner() {
    let rows = Row::all();
    assert_eq!(rows.len(), 5);
    for row in &rows {
        let (took_s, past_k) = oracle(row);
        let least_s = row.least_s;
        println!("{:16}{took_s:>8.1}{least_s:>8}{past_k:>9.4} K", row.name);
        let off_s = took_s - least_s;
        assert!(off_s.abs() <= FOUND_S, "{}: {took_s} s of {least_s}", row.name);
        assert!(past_k <= PAST_K, "{}: {past_k} K past", row.name);
    }
}
