//! Every fault has one word, and it is the same in the controller, the bake files, the words a person
//! reads, the table in DEVELOPERS.md and what is tried at the emulated board.

use truesoak::files::bake::FAULT_KINDS;
use truesoak::rehearse::FaultKind;
use truesoak::report::faults::{FAULTS, fault};
use truesoak_core::guard::TripKind;
use truesoak_tests::emulated::scenario;
use truesoak_tests::path;

/// The fault table, row by row.
const TABLE: [&str; 34] = [
    "thermocouple-open",
    "thermocouple-short",
    "converter-silent",
    "thermocouple-reversed",
    "sensor-type-wrong",
    "reading-stale",
    "reading-frozen",
    "reading-jump",
    "sensor-detached",
    "heater-dead",
    "sensor-moved",
    "drive-welded",
    "permit-welded",
    "air-over-limit",
    "part-over-limit",
    "probe-disagrees",
    "door-left-open",
    "door-switch-stuck",
    "fan-stopped",
    "enclosure-hot",
    "processor-hung",
    "tick-overrun",
    "clock-wrong",
    "memory-corrupt",
    "settings-corrupt",
    "store-failing",
    "supply-lost",
    "button-stuck",
    "link-garbage",
    "link-flood",
    "link-lost",
    "bake-too-long",
    "outside-model",
    "no-response",
];

#[test]
fn every_fault_of_the_table_is_told_in_words_and_no_other_is() {
    for word in TABLE {
        assert!(fault(word).is_some(), "{word} has no words");
    }
    for known in FAULTS {
        assert!(TABLE.contains(&known.kind), "{} is no fault of the table", known.kind);
    }
}

#[test]
fn every_trip_is_told_under_its_own_word_and_reads_back() {
    for kind in TripKind::ALL {
        assert!(fault(kind.word()).is_some(), "{kind} has no words");
        assert_eq!(TripKind::from_word(kind.word()), Some(kind));
    }
}

#[test]
fn every_fault_of_the_desk_can_be_scripted_and_is_told_in_words() {
    for (kind, word) in FaultKind::ALL {
        assert!(FAULT_KINDS.contains(&word), "{word} is refused in a bake file");
        assert!(fault(word).is_some(), "{word} has no words");
        assert_eq!(FaultKind::from_word(word), Some(kind));
    }
    for word in FAULT_KINDS {
        assert!(TABLE.contains(word), "{word} is no fault of the table");
    }
}

/// The lines of the tables below a heading of DEVELOPERS.md.
fn tables_of(heading: &str) -> Vec<String> {
    let text = std::fs::read_to_string(path("DEVELOPERS.md")).expect("DEVELOPERS.md");
    let section = text.lines().skip_while(|line| *line != heading).skip(1);
    let lines = section.take_while(|line| !line.starts_with("## "));
    lines.filter(|line| line.starts_with('|')).map(str::to_owned).collect()
}

const GUARD: &str = "## The guard's rows";

/// `file::test` in `tests/tests/`, or with a crate's folder before it in its `tests/`.
fn assert_is_a_test(name: &str) {
    let (file, test) = name.split_once("::").expect("file::test");
    let file = match file.split_once('/') {
        Some((folder, file)) => format!("{folder}/tests/{file}.rs"),
        None => format!("tests/tests/{file}.rs"),
    };
    let source = std::fs::read_to_string(path(&file)).expect(&file);
    assert!(source.contains(&format!("#[test]\nfn {test}(")), "no test {test} in {file}");
}

#[test]
fn the_guard_table_for_developers_has_a_row_for_every_trip() {
    let rows = tables_of(GUARD).concat();
    for kind in TripKind::ALL {
        assert!(rows.contains(kind.word()), "{kind} has no row");
    }
}

#[test]
fn every_test_that_the_guard_table_names_is_there() {
    let scenarios = scenario::all();
    let lines = tables_of(GUARD);
    let shown = lines.iter().skip_while(|line| !line.contains("on the desk")).skip(2);
    let mut told = String::new();
    for line in shown {
        let [_, kinds, desk, board, _] = line.split('|').collect::<Vec<_>>()[..] else {
            panic!("not three columns: {line}")
        };
        told += kinds;
        quoted(desk).into_iter().for_each(assert_is_a_test);
        for name in quoted(board) {
            let fault = format!("fault: {name}");
            assert!(scenarios.iter().any(|of| of.name == fault), "no scenario {fault}");
        }
    }
    for kind in TripKind::ALL {
        assert!(told.contains(kind.word()), "no test is named for {kind}");
    }
}

#[test]
fn every_test_that_the_safety_argument_names_is_there() {
    let lines = tables_of("## The safety argument");
    let mut hazards = 0;
    for line in lines.iter().filter(|line| line.matches('|').count() == 7).skip(2) {
        let shown = line.split('|').nth(5).expect("what shows it");
        let named = shown.split('`').skip(1).step_by(2).filter(|name| name.contains("::"));
        named.for_each(assert_is_a_test);
        hazards += 1;
    }
    assert!(hazards >= 6, "{hazards} hazards");
}

/// What stands between backticks; there is some.
fn quoted(cell: &str) -> Vec<&str> {
    let names: Vec<&str> = cell.split('`').skip(1).step_by(2).collect();
    assert!(!names.is_empty(), "nothing named: {cell}");
    names
}

/// Whether each trips there in its time, `board --all --only fault` shows.
#[test]
fn every_trip_is_tried_at_the_emulated_board() {
    let scenarios = scenario::all();
    for kind in TripKind::ALL {
        let word = match kind {
            // Heat that is missing may be the heater's fault or the sensor's.
            TripKind::NoResponse => "heater-dead",
            _ => kind.word(),
        };
        let tried = format!("fault: {word}");
        assert!(scenarios.iter().any(|of| of.name.starts_with(&tried)), "no scenario {tried}");
    }
}
