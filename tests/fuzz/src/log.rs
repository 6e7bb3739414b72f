//! CSV: a log of ours, and a table of readings another maker wrote.
//!
//! Inputs come as they are, or as the rows of a log with its first two lines and its checksum: no
//! run finds a checksum by chance.

use crc::{CRC_32_ISO_HDLC, Crc};
use truesoak::log::{self, COLUMNS, Log, Writer};
use truesoak::report::units::Units;
use truesoak::survey::readings::{self, Naming};

const CHECKSUM: Crc<u32> = Crc::<u32>::new(&CRC_32_ISO_HDLC);

pub(crate) fn run(input: &[u8]) {
    let Some((which, bytes)) = input.split_first() else { return };
    match which % 4 {
        0 => whole(bytes),
        1 => whole(&completed(bytes, "rehearsal")),
        2 => whole(&completed(bytes, "other")),
        _ => table(bytes),
    }
}

/// A log around rows.
fn completed(rows: &[u8], source: &str) -> Vec<u8> {
    let head = format!("{}{{\"source\":\"{source}\"}}\n", log::FIRST_LINE);
    let columns = format!("{},true:part\n", COLUMNS.join(","));
    let mut bytes = [head.as_bytes(), columns.as_bytes(), rows].concat();
    let count = rows.iter().filter(|byte| **byte == b'\n').count();
    let end = format!("# end rows={count} crc32={:08x}\n", CHECKSUM.checksum(&bytes));
    bytes.extend(end.bytes());
    bytes
}

/// What was read is written and read again, and is then the same for good.
fn whole(bytes: &[u8]) {
    match log::parse(bytes) {
        Ok(log) => {
            assert!(log.rows.windows(2).all(|pair| pair[0].tick <= pair[1].tick));
            assert!(log.truth.iter().all(|(_, values)| values.len() == log.rows.len()));
            let once = written(&log);
            let again = log::parse(&once).unwrap_or_else(|error| panic!("{error}"));
            assert_eq!(again.rows.len(), log.rows.len());
            assert_eq!(again.header, log.header);
            // Signs that have no place in a line are written as spaces, once.
            let twice = written(&again);
            let third = log::parse(&twice).unwrap_or_else(|error| panic!("{error}"));
            assert_eq!(third.rows, again.rows);
            assert!(written(&third) == twice, "{}", String::from_utf8_lossy(&twice));
        }
        Err(error) => {
            let told = error.to_string();
            assert!(told.contains("\nexpected: ") && told.contains("\nnext: "), "{told}");
        }
    }
}

fn written(log: &Log) -> Vec<u8> {
    let names: Vec<String> = log.truth.iter().map(|(name, _)| name.clone()).collect();
    let mut writer = Writer::new(Vec::new(), &log.header, &names).expect("memory takes it");
    for (at, row) in log.rows.iter().enumerate() {
        let truths: Vec<f64> = log.truth.iter().map(|(_, values)| values[at]).collect();
        writer.row(row, &truths).expect("memory takes it");
    }
    writer.finish().expect("memory takes it")
}

/// Columns of one length, time that goes forward.
fn table(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    for units in [Units::Celsius, Units::Fahrenheit] {
        let naming = Naming { units, ..Naming::default() };
        let Ok(table) = readings::parse(text, &naming) else { continue };
        let rows = table.t_s.len();
        assert!(rows >= 2 && table.t_s.iter().all(|t_s| t_s.is_finite()), "{:?}", table.t_s);
        assert!(table.t_s.windows(2).all(|pair| pair[0] <= pair[1]), "{:?}", table.t_s);
        assert_eq!(table.control.celsius.len(), rows);
        assert!(table.places.iter().all(|place| place.celsius.len() == rows));
    }
}
