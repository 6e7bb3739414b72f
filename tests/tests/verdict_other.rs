//! Goal: a log of another maker is judged by the worst of what it does not say, so never for more
//! than its parts truly had, and what cannot be judged is refused with the reason. Method: rehearsed
//! bakes whose air alone is written as such loggers write it; the truth is the plant's.

mod verdict_support;

use std::fmt::Write as _;
use std::sync::OnceLock;
use tempfile::TempDir;
use truesoak::log::{LogError, Row};
use truesoak::recount::other::{Columns, OtherLog, read};
use truesoak::recount::recount;
use truesoak::report::result::{BakeResult, Flaw, Verdict};
use truesoak::report::units::Units;
use truesoak_tests::setup;
use verdict_support::{Baked, bake};

/// A soak of six hours instead of one: a clock may be set as long as that.
fn long() -> &'static Baked {
    static LONG: OnceLock<Baked> = OnceLock::new();
    let soak = "bake.step.\"gas-out\".soak.for=6 h";
    LONG.get_or_init(|| bake("gas-out-chain-guards-300f", &[soak], false))
}

/// How a logger writes.
struct Logger {
    every_s: usize,
    units: Units,
    decimals: usize,
}

const PLAIN: Logger = Logger { every_s: 10, units: Units::Celsius, decimals: 1 };

impl Logger {
    fn table(&self, baked: &Baked) -> String {
        let mut text = "Model 7 logger\nTime (s),Oven,Heat\n".to_owned();
        let rows = baked.rehearsal.trace.rows.iter().filter(|row| row.event.is_empty());
        let rows: Vec<&Row> = rows.collect();
        for stretch in rows.chunks(self.every_s) {
            let row = stretch[stretch.len() - 1];
            let Some(air) = row.air else { continue };
            let air = self.units.from_celsius(f64::from(air.to_celsius().0));
            let duty = stretch.iter().map(|row| row.duty()).sum::<f64>() / stretch.len() as f64;
            let _ = writeln!(text, "{},{air:.*},{duty:.3}", row.t_s(), self.decimals);
        }
        text
    }
}

fn columns(units: Units, duty: bool) -> Columns {
    Columns {
        time: "Time (s)".to_owned(),
        air: "Oven".to_owned(),
        duty: duty.then(|| "Heat".to_owned()),
        units: Some(units),
    }
}

fn judged(text: &str, columns: &Columns, name: &str) -> Result<OtherLog, LogError> {
    let folder = TempDir::new().expect("a folder");
    let path = folder.path().join("log.csv");
    std::fs::write(&path, text).expect("written");
    read(&path, columns, setup(name, &[]))
}

fn verdict(text: &str, columns: &Columns, name: &str) -> BakeResult {
    let other = judged(text, columns, name).unwrap_or_else(|error| panic!("{error}"));
    recount(&other.log, &other.tables).expect("counted").result
}

const GUARDS: &str = "gas-out-chain-guards-300f";

#[test]
fn a_long_soak_passes_with_its_heater_logged_and_in_any_units() {
    for (every_s, units, decimals) in [
        (1, Units::Celsius, 1),
        (10, Units::Fahrenheit, 1),
        (30, Units::Kelvin, 2),
        (60, Units::Celsius, 1),
    ] {
        let logger = Logger { every_s, units, decimals };
        let result = verdict(&logger.table(long()), &columns(units, true), GUARDS);
        assert_eq!(result.verdict, Verdict::Pass, "every {every_s} s: {}", result.reason);
        assert_eq!(result.truth, None);
        assert!(result.energy_kwh.is_nan(), "nobody measured it");
        let air = result.air.peak_c.expect("a reading");
        let was = long().rehearsal.result.air.peak_c.expect("a reading");
        assert!((air - was).abs() < 1.0, "{air} for {was}");
    }
}

/// A board stops counting once a soak has its minutes; a table is counted on until the parts leave the
/// window, s.
const COUNTS_ON_S: f64 = 60.0;

/// What is proven by less is never more, and never more than the parts truly had.
#[test]
fn less_that_is_logged_proves_less_and_nothing_that_is_not_true() {
    for name in [GUARDS, "gas-out-hubs", "gas-out-crown", "cure-hubs", "low-cure-pedals"] {
        let baked = bake(name, &[], false);
        let own = &baked.rehearsal.result;
        for (logger, duty) in [(PLAIN, true), (Logger { every_s: 60, ..PLAIN }, false)] {
            let result = verdict(&logger.table(&baked), &columns(logger.units, duty), name);
            for (told, own) in result.parts.iter().zip(&own.parts) {
                let name = format!("{name}, {}, every {} s", own.name, logger.every_s);
                assert!(told.in_window_s <= own.in_window_s, "{name}");
                assert!(told.credited_s <= own.credited_s + COUNTS_ON_S, "{name}");
                assert!(told.peak_c >= own.peak_c, "{name}");
                let first = |part: &truesoak::report::result::Part| {
                    part.soaks.first().and_then(|soak| soak.reached_s)
                };
                if let (Some(told), Some(own)) = (first(told), first(own)) {
                    assert!(told >= own, "{name}: reached at {told}, truly at {own}");
                }
            }
        }
    }
}

#[test]
fn without_the_heater_the_hottest_part_may_be_far_hotter() {
    let table = PLAIN.table(long());
    let peak = |duty| {
        let result = verdict(&table, &columns(Units::Celsius, duty), GUARDS);
        result.parts[0].peak_c.expect("inside")
    };
    assert!(peak(false) > peak(true) + 10.0, "{} and {}", peak(false), peak(true));
    let other = judged(&table, &columns(Units::Celsius, false), GUARDS).expect("read");
    let told: Vec<&str> = other.taken.iter().map(|found| found.what.as_str()).collect();
    assert!(told[0].contains("heater was not logged") && told[0].contains("--duty-column"));
    assert!(other.taken.iter().all(|found| found.kind == Flaw::NotLogged), "{told:?}");
}

/// The guards go in at 1:14 by a door whose fall is plain; were the count to begin before, cold
/// parts would have minutes they never had.
#[test]
fn the_parts_came_in_at_the_fall_and_are_counted_from_there_on() {
    let result = verdict(&PLAIN.table(long()), &columns(Units::Celsius, true), GUARDS);
    let soak = result.steps.iter().find(|run| run.kind == "soak").expect("a soak");
    let own = long().rehearsal.result.steps.iter().find(|run| run.kind == "soak").expect("a soak");
    let late = soak.started_s - own.started_s;
    assert!((-30.0..120.0).contains(&late), "{late} s after the door");
    assert_eq!(result.doors.len(), long().rehearsal.result.doors.len());
}

#[test]
fn without_a_fall_nobody_knows_when_the_parts_came_in() {
    let mut text = "Time (s),Oven,Heat\n".to_owned();
    for t in 0..2000 {
        let air = 20.0 + 128.0 * (1.0 - (-f64::from(t) * 10.0 / 600.0).exp());
        let _ = writeln!(text, "{},{air:.1},0.2", t * 10);
    }
    let result = verdict(&text, &columns(Units::Celsius, true), GUARDS);
    assert_eq!(result.verdict, Verdict::Short);
    assert_eq!(result.reason, "no soak was run");
}

#[test]
fn a_stretch_without_readings_begins_the_count_again() {
    let table = PLAIN.table(long());
    let whole = verdict(&table, &columns(Units::Celsius, true), GUARDS);
    let lines: Vec<&str> = table.lines().collect();
    // 2:10 after the start, half an hour before the whole of it has its minutes.
    let (first, last) = (782, 794);
    let cut = [&lines[..first], &lines[last..]].concat().join("\n");
    let columns = columns(Units::Celsius, true);
    let other = judged(&cut, &columns, GUARDS).expect("read");
    let gap = other.taken.iter().find(|found| found.kind == Flaw::Gap).expect("told");
    assert_eq!(gap.line, Some(first + 1));
    let result = recount(&other.log, &other.tables).expect("counted").result;
    let ended_s = |result: &BakeResult| {
        let run = result.steps.iter().find(|run| run.kind == "soak").expect("a soak");
        run.ended_s.expect("an end")
    };
    assert!(ended_s(&result) > ended_s(&whole) + 1200.0, "{}", ended_s(&result));
}

#[test]
fn tables_that_cannot_be_judged_are_refused_with_the_reason_and_the_line() {
    let good = PLAIN.table(long());
    let columns = columns(Units::Celsius, false);
    let head = "Time (s),Oven\n";
    let rows = |step: usize| {
        let mut text = head.to_owned();
        (0..200).for_each(|row| writeln!(text, "{},150.0", row * step).expect("memory"));
        text
    };
    let line = good.lines().nth(50).expect("a line");
    for (what, text, at, words) in [
        ("sparse", rows(120), None, "2 min apart"),
        ("empty", head.to_owned(), None, "fewer than two readings"),
        ("long", rows(3600 * 24), None, "long"),
        ("no such column", good.replace("Oven", "Kiln"), Some(1), "no line names"),
        ("twice", "Time (s),Oven,Oven\n0,1,2\n".to_owned(), Some(1), "stands twice"),
        ("backwards", good.replace(line, "7,150.0,0.1"), Some(51), "time runs backwards"),
        ("no time", good.replace(line, "noon,150.0,0.1"), Some(51), "does not read"),
        ("few cells", good.replace(line, "12"), Some(51), "cells"),
    ] {
        let error = judged(&text, &columns, GUARDS).expect_err(what);
        assert_eq!(error.line, at, "{what}: {error}");
        assert!(error.what.contains(words), "{what}: {error}");
        assert!(error.path.is_some(), "{what}");
    }
    let rounds = judged(&good, &columns, "whole-day").expect_err("rounds");
    assert!(rounds.what.contains("come out between"), "{rounds}");
    let mut nothing = columns.clone();
    nothing.units = None;
    let units = judged(&good, &nothing, GUARDS).expect_err("no units");
    assert!(units.next.contains("--log-units"), "{units}");
}

#[test]
fn tables_come_with_semicolons_decimal_commas_clocks_and_marks() {
    let mut text = "\u{feff}Zeit;Luft °C\r\n".to_owned();
    for t in 0..400_u32 {
        let s = 86_400 - 1000 + t * 10;
        let clock = format!("{:02}:{:02}:{:02}", s / 3600 % 24, s / 60 % 60, s % 60);
        let _ = write!(text, "{clock};{},5\r\n", 20 + t / 4);
    }
    text.push_str("00:40:");
    let columns =
        Columns { time: "Zeit".to_owned(), air: "Luft °C".to_owned(), duty: None, units: None };
    let other = judged(&text, &columns, "cure-hubs").expect("read");
    let last = other.log.rows.last().expect("rows");
    assert_eq!(last.tick, 39_900, "past midnight");
    assert!((f64::from(last.air.expect("a reading").to_celsius().0) - 119.5).abs() < 0.01);
    assert!(matches!(other.log.end, truesoak::log::End::Torn { line: 402, .. }));
}
