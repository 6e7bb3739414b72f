//! Every fault has one word, and it is the same in the controller, the bake files, the words a person
//! reads, the table in DEVELOPERS.md and what is tried at the emulated board.

use std::path::Path;
use truesoak::files::bake::FAULT_KINDS;
use truesoak::rehearse::FaultKind;
use truesoak::report::faults::{FAULTS, fault};
use truesoak_core::guard::TripKind;
use truesoak_tests::emulated::scenario;

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

#[test]
fn the_guard_table_for_developers_has_a_row_for_every_trip() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../DEVELOPERS.md");
    let text = std::fs::read_to_string(path).expect("DEVELOPERS.md");
    let rows: String = text
        .lines()
        .skip_while(|line| *line != "## The guard's rows")
        .filter(|line| line.starts_with('|'))
        .collect();
    for kind in TripKind::ALL {
        assert!(rows.contains(kind.word()), "{kind} has no row");
    }
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
