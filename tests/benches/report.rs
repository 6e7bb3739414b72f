//! What it costs to keep and to show a bake: `cargo bench -p truesoak-tests --bench report`.
//!
//! The log is of three hours, a row a second and ten columns of truth: five kinds of parts. The
//! pictures are of the shipped bake with the most to show.

use divan::Bencher;
use divan::counter::{BytesCount, ItemsCount};
use truesoak::files::Setup;
use truesoak::log::{End, Header, Log, Row, Source, TRUE_COLDEST, TRUE_HOTTEST, Writer, parse};
use truesoak::rehearse::{Rehearsal, Request};
use truesoak::report::plot::{self, Picture};
use truesoak::report::text::Paint;
use truesoak::report::units::Units;
use truesoak::report::{Rehearsed, Story, words};
use truesoak_tests::{quick, rehearsed, setup};

/// Three hours.
const SECONDS: u32 = 3 * 3600;
/// Coldest and hottest of five kinds of parts.
const TRUTHS: usize = 10;

fn main() {
    divan::main();
}

/// A whole day, rehearsed.
struct Day {
    setup: Setup,
    rehearsal: Rehearsal,
}

impl Day {
    fn new() -> Self {
        let setup = setup("whole-day", &[]);
        let rehearsal = rehearsed(&Request { quick: false, ..quick(&setup) });
        Self { setup, rehearsal }
    }

    fn story(&self) -> Story<'_> {
        Story {
            result: &self.rehearsal.result,
            bake: &self.setup.bake,
            oven: &self.setup.oven.name,
            load: &self.setup.load.name,
            rehearsed: Some(Rehearsed { seed: 1, ..Rehearsed::default() }),
            recounted: None,
            units: Units::Celsius,
        }
    }

    fn log(&self) -> Log {
        let parts = self.setup.load.parts.iter().map(|part| part.name.as_str());
        let coldest = parts.clone().map(|name| format!("{TRUE_COLDEST}{name}"));
        let columns = coldest.chain(parts.map(|name| format!("{TRUE_HOTTEST}{name}")));
        let trace = &self.rehearsal.trace;
        let truth = columns.enumerate().map(|(at, name)| (name, trace.truth.column(at).collect()));
        Log {
            header: Header::of(Source::Rehearsal),
            rows: trace.rows.clone(),
            truth: truth.collect(),
            end: End::Complete,
        }
    }

    /// The day's rows, a row a second for three hours.
    fn three_hours(&self) -> Vec<Row> {
        let rows = self.rehearsal.trace.rows.iter().filter(|row| row.event.is_empty());
        let numbered = rows.cycle().zip(0..SECONDS);
        numbered.map(|(row, second)| Row { tick: 10 * second, ..row.clone() }).collect()
    }
}

fn written(rows: &[Row]) -> Vec<u8> {
    let names: Vec<String> = (0..TRUTHS).map(|part| format!("{TRUE_COLDEST}part {part}")).collect();
    let truths: [f64; TRUTHS] = core::array::from_fn(|part| 150.123 + part as f64);
    let mut writer =
        Writer::new(Vec::new(), &Header::of(Source::Rehearsal), &names).expect("memory takes it");
    for row in rows {
        writer.row(row, &truths).expect("memory takes it");
    }
    writer.finish().expect("memory takes it")
}

#[divan::bench]
fn log_of_three_hours_written(bencher: Bencher<'_, '_>) {
    let rows = Day::new().three_hours();
    let bytes = written(&rows).len();
    bencher
        .counter(ItemsCount::new(rows.len()))
        .counter(BytesCount::new(bytes))
        .bench(|| written(&rows));
}

#[divan::bench]
fn log_of_three_hours_read(bencher: Bencher<'_, '_>) {
    let rows = Day::new().three_hours();
    let bytes = written(&rows);
    bencher
        .counter(ItemsCount::new(rows.len()))
        .counter(BytesCount::new(bytes.len()))
        .bench(|| parse(&bytes).expect("a log"));
}

#[divan::bench(args = [Picture::Svg, Picture::Png, Picture::Html])]
fn picture_of_a_day(bencher: Bencher<'_, '_>, picture: Picture) {
    let day = Day::new();
    let (log, story) = (day.log(), day.story());
    let bytes = plot::draw(picture, &log, &story, &[]).expect("a picture").len();
    bencher
        .counter(BytesCount::new(bytes))
        .bench(|| plot::draw(picture, &log, &story, &[]).expect("a picture"));
}

#[divan::bench]
fn words_of_a_day(bencher: Bencher<'_, '_>) {
    let day = Day::new();
    let story = day.story();
    bencher.bench(|| words::report(&story, Paint::Plain, &[]));
}
