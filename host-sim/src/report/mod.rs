//! What happened, in words, numbers and pictures.
//!
//! [`result`] is the JSON of a rehearsal or a recount. [`words`] says the same to a person at a
//! terminal, led by one sentence ([`sentence`]) and made of [`pieces`]; [`faults`] has the words for
//! what went wrong, [`told`] those for what happened and [`units`] those for numbers. [`plot`] draws a log, as a picture or as a page
//! of its own.

pub mod faults;
pub mod fit;
pub mod fit_words;
pub mod pieces;
pub mod plan;
pub mod plan_words;
pub mod plot;
pub mod recounted;
pub mod result;
pub mod sentence;
pub mod survey;
pub mod survey_words;
pub mod text;
pub mod told;
pub mod units;
pub mod words;

use std::fmt::Write as _;
use std::path::PathBuf;

use crate::files::bake::BakeFile;
use crate::log::Header;
use pieces::capitalised;
use result::BakeResult;
use text::wrap;
use truesoak_core::bake::Step;
use units::{Units, counted};

/// All that is told of one bake.
#[derive(Clone, Copy, Debug)]
pub struct Story<'a> {
    /// What came of it.
    pub result: &'a BakeResult,
    /// The bake.
    pub bake: &'a BakeFile,
    /// Name of the oven.
    pub oven: &'a str,
    /// Name of the load.
    pub load: &'a str,
    /// How it was rehearsed; none: it was baked.
    pub rehearsed: Option<Rehearsed>,
    /// First line of the log it was recounted from; none: it was followed as it went.
    pub recounted: Option<&'a Header>,
    /// Units of temperatures.
    pub units: Units,
}

impl Story<'_> {
    /// It was rehearsed, and what the parts truly had is told too.
    #[must_use]
    pub fn tells_truth(&self) -> bool {
        self.rehearsed.is_some() && self.result.truth.is_some()
    }

    /// An air thermometer and a timer ran it: nothing is proven.
    #[must_use]
    pub fn is_by_the_clock(&self) -> bool {
        self.rehearsed.is_some_and(|rehearsed| rehearsed.by_the_clock)
    }
}

/// Which oven and load, and of a rehearsal what was taken for true.
#[must_use]
pub fn setting(story: &Story<'_>) -> String {
    let mut line = format!("\"{}\" with \"{}\"", story.oven, story.load);
    if let Some(rehearsed) = story.rehearsed {
        // Writing to a string cannot fail.
        let _ = match rehearsed.draw {
            Some(draw) => write!(line, "; the true oven is draw {draw} of its spread"),
            None => write!(line, "; the true oven is as its files say"),
        };
        if rehearsed.plant_changed {
            line.push_str(", changed without the controller knowing");
        }
        let _ = write!(line, "; noise seed {}", rehearsed.seed);
    }
    line
}

/// How a rehearsal was run.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub struct Rehearsed {
    /// Seed of the sensor noise.
    pub seed: u64,
    /// Which draw of the spread the truth was; none: the nominal oven.
    pub draw: Option<u64>,
    /// The truth was changed on the command line.
    pub plant_changed: bool,
    /// Run by an air thermometer and a timer, as the practice is.
    pub by_the_clock: bool,
}

/// A file that was written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Written {
    /// Where.
    pub path: PathBuf,
    /// What it holds: "log, one row a second".
    pub what: &'static str,
}

/// What a soak asks for.
#[derive(Clone, Debug, PartialEq)]
pub struct SoakWanted {
    /// Step, from 1.
    pub step: usize,
    /// Name; empty where the file gives none.
    pub name: String,
    /// Lower end of the window, °C.
    pub at_least_c: f64,
    /// Upper end of the window, °C.
    pub at_most_c: f64,
    /// For how long, s.
    pub for_s: f64,
    /// Longest any part may be above the lower end, s.
    pub no_longer_than_s: Option<f64>,
}

impl SoakWanted {
    /// What a person calls it.
    #[must_use]
    pub fn title(&self) -> String {
        title(self.step, &self.name)
    }
}

/// What a person calls a step.
#[must_use]
pub fn title(step: usize, name: &str) -> String {
    if name.is_empty() { format!("step {step}") } else { name.to_owned() }
}

/// The soaks of a bake, in order.
#[must_use]
pub fn soaks_of(bake: &BakeFile) -> Vec<SoakWanted> {
    let steps = bake.bake.steps.iter().enumerate();
    let soak = |(index, step): (usize, &Step)| {
        let Step::Soak(soak) = step else { return None };
        Some(SoakWanted {
            step: index + 1,
            name: bake.steps.get(index).map(|words| words.name.clone()).unwrap_or_default(),
            at_least_c: f64::from(soak.at_least.0),
            at_most_c: f64::from(soak.at_most.0),
            for_s: f64::from(soak.for_s),
            no_longer_than_s: soak.no_longer_than_s.map(f64::from),
        })
    };
    steps.filter_map(soak).collect()
}

/// A heading and lines below it; nothing where there are none.
fn lines(out: &mut String, heading: &str, indent: usize, lines: &[String]) {
    if lines.is_empty() {
        return;
    }
    out.push('\n');
    out.push_str(heading);
    out.push('\n');
    for line in lines {
        wrap(out, "  ", indent, line);
    }
}

/// The files written.
fn files(out: &mut String, written: &[Written]) {
    let heading = capitalised(&counted(written.len(), "file", "files"));
    let line = |file: &Written| format!("{} ({})", file.path.display(), file.what);
    let all: Vec<String> = written.iter().map(line).collect();
    lines(out, &format!("{heading} written"), 4, &all);
}
