//! A log made of what a board stores, counted again.
//!
//! Goal: where a board keeps one row a minute, whoever fetches them and whoever recounts the log take
//! the same of the seconds between. Method: a rehearsed day's rows, thinned in every check and wait,
//! through the recorder into a log, and that log through the recount.

use std::path::Path;
use truesoak::files;
use truesoak::link::{Document, Head, Recorder};
use truesoak::log::{End, Log, Source};
use truesoak::plant::Draw;
use truesoak::recount::{Tables, recount};
use truesoak::rehearse::{Bench, Case, Observer, Runner, World};
use truesoak_core::event::Event;
use truesoak_core::record::{Phase, Record};
use truesoak_core::wire::row::{Row, SecondRow};
use truesoak_core::wire::stored::{self, Entry, THIN_S};

/// What a board keeps of a bake whose people let every check and wait stand.
#[derive(Default)]
struct Thinned {
    entries: Vec<Entry>,
    left_out: usize,
}

impl Observer for Thinned {
    fn event(&mut self, now: u32, event: Event, _runner: &dyn Runner, _world: &World) {
        self.entries.push(Entry::Row(Row::of_event(now, event)));
    }

    fn second(&mut self, _now: u32, record: &Record, _runner: &dyn Runner) {
        let waits = matches!(record.phase, Phase::Check | Phase::Wait);
        if waits && !record.second.is_multiple_of(THIN_S) {
            self.left_out += 1;
        } else {
            self.entries.push(Entry::Row(Row::Second(SecondRow::from(record))));
        }
    }

    fn truth(&mut self, _now: u32, _done: u32, _world: &World) {}
}

#[test]
fn a_log_with_a_row_a_minute_recounts_to_what_it_says() {
    let bakes = Path::new(env!("CARGO_MANIFEST_DIR")).join("../profiles/bakes");
    let setup = files::read(&bakes.join("whole-day.toml"), &[]).expect("it is shipped");
    let bench = Bench::new(&setup).expect("it can be baked");
    let mut kept = Thinned::default();
    let case = Case { truth: &setup, draw: Draw::nominal(&setup.oven), seed: 1 };
    bench.bake(&case, &mut kept).expect("it is baked");
    assert!(kept.left_out > 1800, "{} s were left out", kept.left_out);
    let document = Document::of(&setup, &bench, "", "").expect("it can be sent");
    let told = stored::Head {
        document: document.outline(),
        built_in: None,
        started_unix_s: None,
        ended: None,
        seconds: 0,
        entries: 0,
    };
    let (bake, model) = (setup.bake.bake.clone(), bench.model().clone());
    let head = Head { told, document, bake, model };
    let mut recorder = Recorder::new(&head);
    let mut rows = Vec::new();
    for entry in kept.entries {
        recorder.entry(Ok(entry), |row| rows.push(row.clone()));
    }
    assert_eq!(recorder.flaws(), []);
    let header = head.header(Source::Oven, "a board");
    let log = Log { header, rows, truth: Vec::new(), end: End::Complete };
    let tables = Tables::of(&log).expect("its own files");
    assert_eq!(recount(&log, &tables).expect("rows").result.record, []);
}
