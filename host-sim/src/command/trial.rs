//! `truesoak trial`: the fault campaign.

use super::outputs::{Outputs, failed};
use super::progress::{Bar, threads};
use super::{Answer, Failure, Format, Globals, failure_text, print};
use crate::interrupt;
use crate::log::{Header, RehearsalHeader, Source, Writer};
use crate::plan::Progress as _;
use crate::rehearse::truth_columns;
use crate::report::units::Units;
use crate::report::{Rehearsed, Story, plot};
use crate::trial::{self, Campaign, Played, report};
use std::path::PathBuf;

/// Most seeds of one campaign.
const SEEDS_MAX: u64 = 10_000_000;

/// How many seeds, and from where.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// So many seeds: each draws oven, load, bake, people, plant and faults.
    #[arg(long, value_name = "N", default_value_t = 100)]
    seeds: u64,
    /// The first of them.
    #[arg(long, value_name = "S", default_value_t = 1)]
    from_seed: u64,
    /// Go on past a broken invariant, tell each at once and list them all.
    #[arg(long)]
    keep_going: bool,
    /// Write the log of the first broken seed here; of a single seed whatever came of it.
    #[arg(long, value_name = "F.csv")]
    log: Option<PathBuf>,
    /// Draw that seed: .svg, .png or .html; repeatable.
    #[arg(long, value_name = "F")]
    plot: Vec<PathBuf>,
    /// Threads to work on [default: all the machine has]; the answer is the same.
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..))]
    threads: Option<u16>,
}

/// Runs it.
pub(super) fn run(arguments: &Arguments, globals: &Globals) -> Result<Answer, Failure> {
    if !(1..=SEEDS_MAX).contains(&arguments.seeds) {
        return Err(Failure::Input(failure_text(
            &format!("{} seeds make no campaign", arguments.seeds),
            "--seeds",
            &format!("a number from 1 to {SEEDS_MAX}"),
            "leave it out for 100",
        )));
    }
    // Without it Ctrl-C ends the process at once, as it always did.
    let _ = interrupt::listen();
    let outputs = Outputs::open(arguments.log.as_deref(), &arguments.plot, None)?;
    let campaign = Campaign {
        from: arguments.from_seed,
        seeds: arguments.seeds,
        threads: arguments.threads.map_or_else(threads, usize::from),
        keeps_going: arguments.keep_going,
    };
    let bar = Bar::new(globals);
    bar.begin("drawn bakes", usize::try_from(arguments.seeds).unwrap_or(usize::MAX));
    // Of a campaign that goes on for an hour what broke is told at once, and listed again at its end.
    let tells = arguments.keep_going && !globals.quiet;
    let summary = trial::run(&campaign, &|_| {}, |found| {
        bar.step();
        // A bake that Ctrl-C cut short breaks nothing.
        for broken in found.broken.iter().filter(|_| tells && !interrupt::asked()) {
            bar.tell(&report::broken_line(found.seed, broken));
        }
    });
    bar.finish();
    let first = summary.broken.first().map(|(seed, _)| *seed);
    let shown = first.or((arguments.seeds == 1).then_some(arguments.from_seed));
    let alone = arguments.seeds == 1 && !globals.quiet;
    let wanted = shown.filter(|_| (outputs.is_any() || alone) && !interrupt::asked());
    let played = wanted.and_then(|seed| trial::play(seed, true, &|_| {}));
    let drawn = played.as_ref().filter(|_| alone).map(|played| played.scene.words());
    match played {
        Some(played) => outputs.show(played, globals)?,
        None => outputs.take_back(),
    }
    print(&match globals.format {
        Format::Json => report::to_json(&summary),
        Format::Text if globals.quiet => report::one_line(&summary, globals.paint()),
        Format::Text => drawn.unwrap_or_default() + &report::text(&summary, globals.paint()),
    })?;
    if interrupt::asked() {
        let (done, all) = (summary.seeds, arguments.seeds);
        return Err(Failure::Interrupted(format!("interrupted after {done} of {all} seeds")));
    }
    Ok(if summary.is_good() { Answer::Yes } else { Answer::No })
}

impl Outputs {
    fn is_any(&self) -> bool {
        self.log.is_some() || !self.plots.is_empty()
    }

    /// Writes log and pictures of one seed.
    fn show(&self, mut played: Played, globals: &Globals) -> Result<(), Failure> {
        let load = played.scene.truth.load.clone();
        let log = played.trace.log(header(&played), &load);
        if let Some(output) = &self.log {
            let written = output.emptied().and_then(|file| {
                let mut writer = Writer::new(file, &log.header, &truth_columns(&load))?;
                for (row, truths) in played.trace.rows.iter().zip(played.trace.truth.rows()) {
                    writer.row(row, truths)?;
                }
                writer.finish().map(|_| ())
            });
            written.map_err(|error| failed(output, &error))?;
        }
        let result = played.result();
        let bake = &played.scene.believed.bake;
        let story = Story {
            result: &result,
            bake,
            oven: &played.scene.believed.oven.name,
            load: &load.name,
            rehearsed: Some(Rehearsed {
                seed: played.found.seed,
                draw: None,
                plant_changed: true,
                by_the_clock: false,
            }),
            recounted: None,
            units: globals.units.unwrap_or(Units::of_scale(bake.scale)),
        };
        for (output, picture) in &self.plots {
            let bytes = plot::draw(*picture, &log, &story, &[]).map_err(|e| failed(output, &e))?;
            output.put(&bytes).map_err(|error| failed(output, &error))?;
        }
        Ok(())
    }
}

/// The files were changed by the seed, so it stands in their place.
fn header(played: &Played) -> Header {
    let seed = played.found.seed;
    Header {
        note: Some(format!("truesoak trial, seed {seed}")),
        models: Some(played.models.clone()),
        rehearsal: Some(RehearsalHeader {
            seed,
            truth: RehearsalHeader::TRUTH.to_owned(),
            ..RehearsalHeader::default()
        }),
        ..Header::of(Source::Rehearsal)
    }
}
