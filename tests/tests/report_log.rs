//! Goal: a log that was written reads back the same, and one that was edited, cut or mangled says
//! so with the line. Method: a made-up bake is written to memory, changed, and read.

mod report_support;

use std::time::Instant;

use report_support::{bake_log, bytes_of};
use truesoak::log::{End, Log, LogError, Reading, Row, Source, Writer, parse, read};

fn text() -> String {
    String::from_utf8(bytes_of(&bake_log())).expect("a log is UTF-8")
}

/// The first rows of the bake, for tests that read very many times.
fn short_log() -> Log {
    let mut log = bake_log();
    log.rows.truncate(80);
    for (_, values) in &mut log.truth {
        values.truncate(80);
    }
    log
}

/// Not-a-number marks a part outside the oven, so logs are compared through their bytes too.
fn assert_same(left: &Log, right: &Log) {
    assert_eq!(left.header, right.header);
    assert_eq!(left.rows, right.rows);
    assert_eq!(left.end, right.end);
    assert_eq!(bytes_of(left), bytes_of(right));
}

fn refused(text: &str) -> LogError {
    parse(text.as_bytes()).expect_err("this log must be refused")
}

/// Changes the cell of one column in one line (counted from 1), leaving checksum and all else.
fn with_cell(text: &str, line: usize, column: usize, value: &str) -> String {
    let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
    let mut cells: Vec<&str> = lines[line - 1].split(',').collect();
    cells[column] = value;
    lines[line - 1] = cells.join(",");
    lines.join("\n") + "\n"
}

#[test]
fn what_was_written_reads_back_the_same() {
    let log = bake_log();
    let again = parse(&bytes_of(&log)).expect("a written log reads");
    assert_same(&log, &again);
    assert_eq!(again.parts(), ["rear hub shell", "brake lever", "bottom-bracket shell"]);
    assert!(again.rows.iter().any(|row| row.event == "door opened"));
    assert_eq!(again.seconds().count() + 5, again.rows.len());
}

#[test]
fn a_byte_order_mark_and_carriage_returns_change_nothing() {
    let log = bake_log();
    let text = text();
    let windows = format!("\u{feff}{}", text.replace('\n', "\r\n"));
    for changed in [windows, format!("\u{feff}{text}"), text.replace('\n', "\r\n")] {
        assert_same(&log, &parse(changed.as_bytes()).expect("still a log"));
    }
}

#[test]
fn a_log_cut_at_any_byte_of_its_end_keeps_every_whole_row() {
    let bytes = bytes_of(&short_log());
    let all = parse(&bytes).expect("whole").rows.len();
    for cut in 1..600 {
        let kept = &bytes[..bytes.len() - cut];
        let log = parse(kept).unwrap_or_else(|error| panic!("cut by {cut}: {error}"));
        let whole_lines = kept.iter().filter(|byte| **byte == b'\n').count();
        if cut == 1 {
            assert_eq!(log.end, End::Complete, "only the line end is gone");
            continue;
        }
        assert_eq!(log.rows.len(), (whole_lines - 2).min(all), "cut by {cut}");
        let End::Torn { line, what } = log.end else { panic!("cut by {cut} is not torn") };
        assert_eq!(line, whole_lines + 1);
        assert!(what.contains("breaks off"), "{what}");
    }
}

#[test]
fn an_interrupted_writer_leaves_a_readable_log() {
    let log = bake_log();
    let mut kept = Vec::new();
    {
        let mut writer = Writer::new(&mut kept, &log.header, &[]).expect("memory takes it");
        for row in log.rows.iter().take(5_000) {
            writer.row(row, &[]).expect("memory takes it");
        }
    }
    let again = parse(&kept).expect("readable");
    assert_eq!(again.rows, log.rows[..5_000]);
    assert!(matches!(again.end, End::Torn { line: 5_003, .. }), "{:?}", again.end);
}

#[test]
fn a_changed_digit_anywhere_is_found_by_the_checksum() {
    let text = text();
    let changed = text.replacen("Garage", "Gerage", 1);
    let error = refused(&changed);
    assert!(error.what.contains("checksum"), "{error}");
    assert_eq!(error.line, Some(text.lines().count()));
    let changed = with_cell(&text, 500, 12, "9");
    assert!(refused(&changed).what.contains("checksum"));
}

#[test]
fn a_row_taken_out_is_counted() {
    let text = text();
    let mut lines: Vec<&str> = text.lines().collect();
    lines.remove(4_000);
    let error = refused(&(lines.join("\n") + "\n"));
    assert!(error.what.contains("rows and its last line says"), "{error}");
}

#[test]
fn every_wrong_cell_is_named_with_line_column_and_what_was_expected() {
    let text = text();
    for (column, value, names) in [
        (0, "-1", ["t_s", "tenths"]),
        (0, "12.34", ["t_s", "tenths"]),
        (0, "", ["t_s", "tenths"]),
        (1, "hot", ["air_c", "a number"]),
        (1, "NaN", ["air_c", "a number"]),
        (1, "20.001", ["air_c", "1/128"]),
        (4, "inf", ["setpoint_c", "a number"]),
        (5, "0.75", ["duty", "tenths"]),
        (5, "1.1", ["duty", "tenths"]),
        (6, "2", ["permit", "1 or 0"]),
        (7, "open", ["door", "1 or 0"]),
        (8, "300", ["step", "whole number"]),
        (8, "1.5", ["step", "whole number"]),
        (9, "baking", ["phase", "approach"]),
        (12, "-3", ["credit_s", "whole number"]),
        (13, "projected|widened", ["flags", "airflow"]),
        (15, "warm", ["true:rear hub shell", "a number"]),
    ] {
        let error = refused(&with_cell(&text, 300, column, value));
        assert_eq!(error.line, Some(300), "{value}: {error}");
        for name in names {
            assert!(error.to_string().contains(name), "{value}: {error}");
        }
    }
}

#[test]
fn time_running_backwards_is_refused() {
    let error = refused(&with_cell(&text(), 300, 0, "5"));
    assert!(error.what.contains("backwards"), "{error}");
    assert_eq!(error.line, Some(300));
}

#[test]
fn missing_doubled_and_surplus_columns_are_named() {
    let text = text();
    let error = refused(&text.replacen("credit_s,", "", 1));
    assert_eq!(error.line, Some(2));
    assert!(error.what.contains("missing: credit_s"), "{error}");
    let error = refused(&text.replacen("air_b_c", "air_c", 1));
    assert!(error.what.contains("\"air_c\" stands twice"), "{error}");
    let error = refused(&with_cell(&text, 77, 3, "20.0000000,1"));
    assert_eq!((error.line, error.what.as_str()), (Some(77), "the row has 22 cells"));
}

#[test]
fn a_log_of_a_later_version_with_more_columns_still_reads() {
    let mut lines = vec![
        "# truesoak.log/1 {\"source\":\"oven\",\"humidity\":true}".to_owned(),
        "relative_humidity,".to_owned() + &truesoak::log::COLUMNS.join(","),
        "41,7,20.0078125,,,,0.0,0,0,0,idle,,,0,,".to_owned(),
    ];
    lines.push(String::new());
    let log = parse(lines.join("\n").as_bytes()).expect("a log");
    assert_eq!(log.header.source, Source::Oven);
    assert_eq!(
        log.rows,
        [Row { tick: 70, air: Some(Reading(2_561)), door_open: Some(false), ..Row::default() }]
    );
}

#[test]
fn another_makers_readings_are_taken_to_the_nearest_step() {
    let text = "# truesoak.log/1 {\"source\":\"other\"}\n".to_owned()
        + &truesoak::log::COLUMNS.join(",")
        + "\n60,150.1,,,,0.0,0,,0,idle,,,0,,\n";
    let log = parse(text.as_bytes()).expect("a log");
    assert_eq!(log.rows[0].air, Some(Reading(19_213)));
}

#[test]
fn what_is_no_log_is_refused_with_the_first_line() {
    for (text, says) in [
        ("", "empty"),
        ("t_s,air_c\n1,2\n", "not a log"),
        ("# truesoak.log/2 {}\n", "another version"),
        ("# truesoak.log/1 {\"source\":\"dream\"}\n", "does not read"),
        ("# truesoak.log/1 {\"source\"", "breaks off in its first line"),
    ] {
        let error = refused(text);
        assert!(error.what.contains(says), "{text:?}: {error}");
        assert_eq!(error.line, Some(1));
    }
    assert!(parse(b"\xff\xfe#\0 \0").expect_err("UTF-16").what.contains("UTF-16"));
    let text = text();
    let error = refused(&(text.clone() + "1,2,3\n"));
    assert!(error.what.contains("more after"), "{error}");
    let crc_upper = text.replace("crc32=", "crc32=X");
    assert!(parse(crc_upper.trim_end().as_bytes()).is_ok_and(|log| log.end != End::Complete));
    assert!(refused(&crc_upper).what.contains("last line does not read"));
}

#[test]
fn files_that_cannot_be_read_say_why_and_where() {
    let folder = tempfile::tempdir().expect("a folder");
    let missing = read(&folder.path().join("gone.csv")).expect_err("missing");
    assert!(missing.to_string().contains("gone.csv"), "{missing}");
    assert!(read(folder.path()).expect_err("a folder").what.contains("folder"));
    let path = folder.path().join("bake.csv");
    std::fs::write(&path, bytes_of(&bake_log())).expect("written");
    assert_same(&bake_log(), &read(&path).expect("a log"));
}

/// A reader that is handed anything must answer, not stop: bytes are flipped, cut and repeated.
#[test]
fn mangled_logs_are_answered_and_never_panic() {
    let bytes = bytes_of(&short_log());
    let mut state = 2_463_534_242_u32;
    let mut answers = [0_u32; 2];
    for _ in 0..3_000 {
        let mut mangled = bytes.clone();
        for _ in 0..3 {
            state ^= state << 13;
            state ^= state >> 17;
            state ^= state << 5;
            let place = state as usize % mangled.len();
            mangled[place] = (state >> 24) as u8;
        }
        mangled.truncate(1 + (state >> 8) as usize % mangled.len());
        answers[usize::from(parse(&mangled).is_ok())] += 1;
    }
    assert!(answers.iter().all(|count| *count > 0), "{answers:?}");
}

/// The budget of a rehearsal's log is 10 ms for 10,800 rows with ten truth columns in a release
/// build; this bound only catches a slip by an order of magnitude in any build.
#[test]
fn writing_three_hours_is_quick() {
    let names: Vec<String> = (0..10).map(|part| format!("true:part {part}")).collect();
    let log = bake_log();
    let truths = [151.234_567; 10];
    let started = Instant::now();
    let mut writer = Writer::new(Vec::new(), &log.header, &names).expect("memory takes it");
    for second in 0..10_800_u32 {
        let mut row = log.rows[second as usize % log.rows.len()].clone();
        row.tick = second * 10;
        writer.row(&row, &truths).expect("memory takes it");
    }
    let bytes = writer.finish().expect("memory takes it");
    let took = started.elapsed();
    println!("10,800 rows with ten truth columns: {} bytes in {took:?}", bytes.len());
    let started = Instant::now();
    let again = parse(&bytes).expect("a log");
    println!("read back: {} rows in {:?}", again.rows.len(), started.elapsed());
    assert!(took.as_millis() < 500, "{took:?}");
}
