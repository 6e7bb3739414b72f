//! Goal: nothing is counted across what a log does not show, and what is wrong with it is told with
//! the line. Method: one sound log, harmed in one way at a time, its checksum made right again.

mod verdict_support;

use std::sync::OnceLock;
use truesoak::log::{self, End, Log, Reading, Source};
use truesoak::recount::{RecountError, line_of};
use truesoak::replay::replay;
use truesoak::report::result::{BakeResult, Flaw, Verdict};
use truesoak_tests::{quick, rehearsed};
use verdict_support::{Baked, bake, counted, flaw, verdict};

fn sound() -> &'static Baked {
    static SOUND: OnceLock<Baked> = OnceLock::new();
    SOUND.get_or_init(|| bake("gas-out-chain-guards-300f", &[], false))
}

/// Index of the first row of a second at or after a time.
fn row_at(log: &Log, t_s: f64) -> usize {
    let rows = log.rows.iter();
    rows.clone().position(|row| row.event.is_empty() && row.t_s() >= t_s).expect("a row")
}

/// Start and end of the soak, s.
fn soak() -> (f64, f64) {
    let runs = &sound().rehearsal.result.steps;
    let run = runs.iter().find(|run| run.kind == "soak").expect("a soak");
    (run.started_s, run.ended_s.expect("an end"))
}

/// Without the rows of so many seconds from a time on.
fn without(from_s: f64, seconds: f64) -> (Log, usize) {
    let mut log = sound().log();
    let index = row_at(&log, from_s);
    log.rows.retain(|row| !(from_s..from_s + seconds).contains(&row.t_s()));
    (log, line_of(index))
}

fn soak_credit_s(result: &BakeResult) -> f64 {
    result.steps.iter().filter(|run| run.kind == "soak").map(|run| run.credit_s).sum()
}

#[test]
fn a_minute_that_is_missing_in_the_soak_is_never_counted_across() {
    let (log, line) = without(soak().1 - 900.0, 60.0);
    let result = verdict(&log);
    assert_eq!(result.verdict, Verdict::Short);
    let (at, what) = flaw(&result, Flaw::Gap).expect("told");
    assert_eq!(at, Some(line));
    assert!(what.contains("1 min after") && what.contains("missing"), "{what}");
    assert!(result.reason.contains("missing"), "{}", result.reason);
    assert!(soak_credit_s(&result) < 840.0, "{}", soak_credit_s(&result));
    assert!(result.parts.iter().all(|part| part.verdict == Verdict::Short));
}

#[test]
fn a_single_second_that_is_missing_is_seen_too() {
    let (log, line) = without(soak().1 - 900.0, 1.0);
    let result = verdict(&log);
    assert_eq!(result.verdict, Verdict::Short);
    assert_eq!(flaw(&result, Flaw::Gap).expect("told").0, Some(line));
}

#[test]
fn a_hole_before_the_parts_came_in_costs_little_and_is_told() {
    let (log, line) = without(600.0, 20.0);
    let result = verdict(&log);
    assert_eq!(flaw(&result, Flaw::Gap).expect("told").0, Some(line));
    let counted = soak_credit_s(&result);
    assert!(counted > 3000.0, "{counted} of 3600 s");
    assert_eq!(result.verdict == Verdict::Pass, counted >= 3600.0);
}

#[test]
fn a_hole_in_which_a_step_began_ends_all_counting() {
    let (log, _) = without(soak().0 - 30.0, 60.0);
    let result = verdict(&log);
    assert_eq!(result.verdict, Verdict::Short);
    assert!(soak_credit_s(&result) < 1.0);
    assert!(flaw(&result, Flaw::Gap).expect("told").1.contains("a step began in it"));
}

#[test]
fn a_log_without_its_beginning_proves_nothing_of_what_is_inside() {
    let mut log = sound().log();
    log.rows.drain(..row_at(&log, soak().0 + 600.0));
    let result = verdict(&log);
    assert_eq!(result.verdict, Verdict::Short);
    assert!(soak_credit_s(&result) < 1.0);
    assert!(flaw(&result, Flaw::Gap).expect("told").1.contains("in the middle of a bake"));
}

#[test]
fn a_clock_that_jumped_is_a_hole_whichever_way() {
    let from = row_at(&sound().log(), soak().1 - 1800.0);
    for (ticks, words) in [(36_000, "missing, or the clock jumped"), (-7, "the clock jumped")] {
        let mut log = sound().log();
        for row in &mut log.rows[from..] {
            row.tick = row.tick.checked_add_signed(ticks).expect("later than that");
        }
        let result = verdict(&log);
        assert_eq!(result.verdict, Verdict::Short, "{ticks}");
        let (line, what) = flaw(&result, Flaw::Gap).expect("told");
        assert_eq!(line, Some(line_of(from)), "{ticks}");
        assert!(what.contains(words), "{what}");
    }
}

#[test]
fn two_rows_for_one_second_are_refused_with_the_line() {
    let mut log = sound().log();
    let index = row_at(&log, 5000.0);
    let again = log.rows[index].clone();
    log.rows.insert(index + 1, again);
    let error = counted(&log).expect_err("refused");
    assert_eq!(error.line(), Some(line_of(index + 1)));
    assert!(error.to_string().contains("two rows"), "{error}");
}

#[test]
fn a_torn_end_is_named_and_what_stands_before_is_counted() {
    let bytes = &sound().bytes;
    for (share, whole) in [(0.3, Verdict::Unfinished), (0.9, Verdict::Unfinished)] {
        let cut = (bytes.len() as f64 * share) as usize;
        let log = log::parse(&bytes[..cut]).expect("a torn log reads");
        let End::Torn { line, .. } = log.end else { panic!("torn") };
        let result = verdict(&log);
        assert_eq!(result.verdict, whole);
        assert_eq!(flaw(&result, Flaw::TornEnd).expect("told").0, Some(line));
        assert!(result.reason.contains("breaks off"), "{}", result.reason);
    }
    // Only the last line is gone: every step was logged, so the verdict stands, and it is told.
    let text = std::str::from_utf8(bytes).expect("UTF-8");
    let before = text.rfind("# end").expect("a last line");
    let result = verdict(&log::parse(&bytes[..before]).expect("a log"));
    assert_eq!(result.verdict, Verdict::Pass);
    assert!(flaw(&result, Flaw::TornEnd).is_some());
}

#[test]
fn a_reading_that_was_changed_ends_the_count_at_the_line_behind_it() {
    let mut log = sound().log();
    let index = row_at(&log, soak().1 - 1200.0);
    let reading = log.rows[index].air.expect("a reading");
    log.rows[index].air = Some(Reading(reading.0 + 128));
    let result = verdict(&log);
    assert_eq!(result.verdict, Verdict::Short);
    let (line, what) = flaw(&result, Flaw::Edited).expect("told");
    // What a reading makes of the bounds stands in the row of the second behind it.
    assert_eq!(line, Some(line_of(index + 1)));
    assert!(what.contains("something before this line was changed"), "{what}");
    // The changed second itself is through when that shows.
    assert!(soak_credit_s(&result) <= 2401.0, "{}", soak_credit_s(&result));
}

#[test]
fn minutes_that_were_written_in_are_not_believed() {
    let mut log = sound().log();
    let from = row_at(&log, soak().1 - 1200.0);
    log.rows[from..].iter_mut().for_each(|row| row.credit_s += 600);
    let result = verdict(&log);
    assert_eq!(result.verdict, Verdict::Short);
    let (line, what) = flaw(&result, Flaw::Edited).expect("told");
    assert_eq!(line, Some(line_of(from)));
    assert!(what.contains("its own readings give"), "{what}");
}

#[test]
fn a_heater_that_was_written_off_is_found_by_the_bounds_it_moved() {
    let mut log = sound().log();
    let index = row_at(&log, 300.0);
    log.rows[index].on_ticks = if log.rows[index].on_ticks == 10 { 0 } else { 10 };
    let result = verdict(&log);
    assert_ne!(result.verdict, Verdict::Pass);
    assert!(flaw(&result, Flaw::Edited).is_some());
}

#[test]
fn words_that_are_no_event_are_refused_with_the_line() {
    let mut log = sound().log();
    let index = log.rows.iter().position(|row| row.event == "door closed").expect("an event");
    log.rows[index].event = "everything was fine".to_owned();
    let error = counted(&log).expect_err("refused");
    assert_eq!(error.line(), Some(line_of(index)));
    assert!(error.to_string().contains("everything was fine"), "{error}");
}

#[test]
fn other_tables_than_the_boards_are_refused_and_a_log_without_files_too() {
    let mut log = sound().log();
    let oven = log.header.oven.take().expect("an oven");
    assert_eq!(counted(&log), Err(RecountError::NoFiles("oven")));
    log.header.oven = Some(format!("{oven}\n[spread]\nlosses = 0.01\n"));
    let error = counted(&log).expect_err("refused");
    assert!(matches!(error, RecountError::OtherTables { .. } | RecountError::Files(_)), "{error}");
    log.header.oven = Some("name = ".to_owned());
    let error = counted(&log).expect_err("refused");
    assert!(error.to_string().contains("the log's oven"), "{error}");
    let mut log = sound().log();
    log.header.models = Some("crc32:00000000".to_owned());
    let error = counted(&log).expect_err("refused");
    assert!(matches!(error, RecountError::OtherTables { .. }), "{error}");
}

/// A board that lost its supply says so, and a person answered: that is no hole.
#[test]
fn a_lost_supply_is_no_hole_and_one_that_was_cut_out_is() {
    let mut setup = sound().setup.clone();
    setup.bake.faults = vec![truesoak::files::bake::FaultScript {
        at: truesoak::files::bake::Moment::SinceStep(2, 2400.0),
        kind: "supply-lost".to_owned(),
        for_s: Some(120.0),
        by_k: None,
    }];
    let rehearsal = rehearsed(&quick(&setup));
    let mut log = sound().log();
    log.rows.clone_from(&rehearsal.trace.rows);
    assert!(log.rows.iter().any(|row| row.event.starts_with("supply returned")));
    let result = verdict(&log);
    assert_eq!(result.verdict, rehearsal.result.verdict);
    assert_eq!(result.steps, rehearsal.result.steps);
    assert_eq!(flaw(&result, Flaw::Gap), None);
    log.rows.retain(|row| !row.event.starts_with("supply returned"));
    let result = verdict(&log);
    assert_ne!(result.verdict, Verdict::Pass);
    assert!(flaw(&result, Flaw::Gap).is_some());
}

/// A board keeps one row a minute while it waits for a person with the heat cut.
#[test]
fn minutes_of_waiting_with_the_heat_cut_are_no_hole() {
    let baked = bake("whole-day", &[], false);
    let mut log = baked.log();
    let waits = |row: &log::Row| {
        matches!(row.phase, log::Phase::Check | log::Phase::Wait) && row.event.is_empty()
    };
    let before = log.rows.len();
    log.rows.retain(|row| !waits(row) || row.tick.is_multiple_of(600));
    assert!(log.rows.len() + 1800 < before, "some of it was taken out");
    log.header.source = Source::Oven;
    // Bounds and credit are not stored; whoever fetches the rows recounts them.
    let recounted = replay(&log, &baked.setup.bake.bake, &baked.rehearsal.model).expect("rows");
    for second in recounted {
        let row = &mut log.rows[second.row];
        row.credit_s = second.credit_s;
        row.coldest_c = second.coldest.map(|bound| f64::from(bound.0));
        row.hottest_c = second.hottest.map(|bound| f64::from(bound.0));
    }
    let result = verdict(&log);
    assert_eq!(result.record, []);
    // The liner after a wait is known a little less well than the board knew it: what that costs of
    // the board's own count are seconds, never more than it had.
    for (told, own) in result.steps.iter().zip(&baked.rehearsal.result.steps) {
        let (told_s, own_s) = (told.credit_s, own.credit_s);
        assert!(told_s <= own_s && told_s > own_s - 60.0, "{told_s} of {own_s} s");
    }
}
