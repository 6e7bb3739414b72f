//! Shipped bakes rehearsed, written as a log with the files it needs, and recounted from the bytes.
#![allow(dead_code)] // every test file uses a part of it

use truesoak::compile;
use truesoak::files::Setup;
use truesoak::log::{self, Header, Log, RehearsalHeader, Source, Writer};
use truesoak::recount::{Recount, RecountError, Tables, recount};
use truesoak::rehearse::{Rehearsal, Request};
use truesoak::report::result::{BakeResult, Flaw};
use truesoak_tests::{quick, rehearsed, setup};

/// A bake that was rehearsed, with its log as written.
pub(crate) struct Baked {
    pub(crate) setup: Setup,
    pub(crate) rehearsal: Rehearsal,
    pub(crate) bytes: Vec<u8>,
}

/// Rehearses a shipped bake with changes.
pub(crate) fn bake(name: &str, set: &[&str], by_the_clock: bool) -> Baked {
    let setup = setup(name, set);
    let request = Request { draw: Some(2), seed: 4, by_the_clock, ..quick(&setup) };
    let rehearsal = rehearsed(&request);
    let header = Header {
        set: set.iter().map(|typed| (*typed).to_owned()).collect(),
        models: Some(compile::digest(&rehearsal.model)),
        rehearsal: Some(RehearsalHeader { by_the_clock, ..RehearsalHeader::default() }),
        ..Header::carrying(Source::Rehearsal, &setup)
    };
    let mut writer = Writer::new(Vec::new(), &header, &[]).expect("memory takes it");
    for row in &rehearsal.trace.rows {
        writer.row(row, &[]).expect("memory takes it");
    }
    let bytes = writer.finish().expect("memory takes it");
    Baked { setup, rehearsal, bytes }
}

impl Baked {
    pub(crate) fn log(&self) -> Log {
        log::parse(&self.bytes).expect("a log")
    }
}

/// Recounts a log by the files it carries.
pub(crate) fn counted(log: &Log) -> Result<Recount, RecountError> {
    Tables::of(log).and_then(|tables| recount(log, &tables))
}

/// The result of a log that can be recounted.
pub(crate) fn verdict(log: &Log) -> BakeResult {
    counted(log).unwrap_or_else(|error| panic!("{error}")).result
}

/// Line and words of the first flaw of a kind.
pub(crate) fn flaw(result: &BakeResult, kind: Flaw) -> Option<(Option<usize>, String)> {
    let found = result.record.iter().find(|found| found.kind == kind);
    found.map(|found| (found.line, found.what.clone()))
}
