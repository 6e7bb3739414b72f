//! `truesoak plan`: what to expect of a bake, and what to change.

use super::outputs::{Outputs, failed};
use super::progress::{Bar, threads};
use super::{Answer, Failure, Format, Globals, failure_text, note_tuning, print};
use crate::files::{self, Override, Setup};
use crate::interrupt;
use crate::plan::{Wanted, plan};
use crate::report::plan::PlanResult;
use crate::report::plan_words::{PlanStory, one_line, report};
use crate::report::units::Units;
use crate::report::{Written, plot};
use std::path::PathBuf;

/// Most draws of one plan.
const RUNS_MAX: usize = 1_000_000;

/// What to plan and how.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// The bake file.
    bake: PathBuf,
    /// Draws of what is not known about the oven.
    #[arg(long, value_name = "N", default_value_t = 200)]
    runs: usize,
    /// Share of draws that must pass: 0.95 or "95 %"; below it the exit code is 1.
    #[arg(long, value_name = "P", allow_hyphen_values = true, default_value = "0.95")]
    confidence: String,
    /// Draw the fan of part temperatures and the finish times: .svg, .png or .html; repeatable.
    #[arg(long, value_name = "F")]
    plot: Vec<PathBuf>,
    /// Seed of the sensor noise.
    #[arg(long, value_name = "N", default_value_t = 1)]
    seed: u64,
    /// Change a value of the files, believed and true alike.
    #[arg(long, value_name = "KEY=VALUE")]
    set: Vec<String>,
    /// Threads to work on [default: all the machine has]; the answer is the same.
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..))]
    threads: Option<u16>,
}

/// Runs it.
pub(super) fn run(arguments: &Arguments, globals: &Globals) -> Result<Answer, Failure> {
    let confidence = confidence(&arguments.confidence)?;
    if !(1..=RUNS_MAX).contains(&arguments.runs) {
        return Err(Failure::Input(failure_text(
            &format!("{} draws make no plan", arguments.runs),
            "--runs",
            &format!("a number from 1 to {RUNS_MAX}"),
            "leave it out for 200",
        )));
    }
    let set: Vec<Override> = arguments.set.iter().map(|typed| Override::set(typed)).collect();
    let setup = files::read(&arguments.bake, &set)?;
    // Without it Ctrl-C ends the process at once, as it always did.
    let _ = interrupt::listen();
    let outputs = Outputs::open(None, &arguments.plot, Some(&setup))?;
    let units = globals.units.unwrap_or(Units::of_scale(setup.bake.scale));
    let wanted = Wanted {
        path: &arguments.bake,
        set: &set,
        setup: &setup,
        runs: arguments.runs,
        seed: arguments.seed,
        threads: arguments.threads.map_or_else(threads, usize::from),
        keeps_courses: !arguments.plot.is_empty(),
        units,
    };
    let bar = Bar::new(globals);
    let planned = plan(&wanted, &bar);
    bar.finish();
    let plan = planned.inspect_err(|_| outputs.take_back())?;
    if !globals.quiet {
        note_tuning(&setup);
    }
    let typed = typed(arguments);
    let story = PlanStory {
        plan: &plan,
        bake: &setup.bake,
        oven: &setup.oven.name,
        load: &setup.load.name,
        confidence,
        typed: &typed,
    };
    tell(&story, &setup, &outputs, units, globals)?;
    if plan.interrupted {
        let (done, all) = (plan.drawn.len(), arguments.runs);
        return Err(Failure::Interrupted(format!("interrupted after {done} of {all} draws")));
    }
    Ok(if plan.pass_probability() >= confidence { Answer::Yes } else { Answer::No })
}

/// Draws the pictures and prints the plan; nothing of a plan without a draw.
fn tell(
    story: &PlanStory<'_>,
    setup: &Setup,
    outputs: &Outputs,
    units: Units,
    globals: &Globals,
) -> Result<(), Failure> {
    if story.plan.drawn.is_empty() {
        outputs.take_back();
        return Ok(());
    }
    let mut written = Vec::new();
    for (output, picture) in &outputs.plots {
        let bytes = plot::draw_plan(*picture, story, &setup.bake, units)
            .map_err(|error| failed(output, &error))?;
        output.put(&bytes).map_err(|error| failed(output, &error))?;
        written.push(Written { path: output.path().to_owned(), what: picture.what_of_plan() });
    }
    print(&match globals.format {
        Format::Json => PlanResult::of(story.plan).to_json(),
        Format::Text if globals.quiet => one_line(story, globals.paint()),
        Format::Text => report(story, globals.paint(), &written),
    })
}

/// A share as a person writes it.
fn confidence(typed: &str) -> Result<f64, Failure> {
    let typed = typed.trim();
    let share = match typed.strip_suffix('%') {
        Some(percent) => percent.trim().parse::<f64>().map(|percent| percent / 100.0),
        None => typed.parse::<f64>(),
    };
    share.ok().filter(|share| (0.0..=1.0).contains(share)).ok_or_else(|| {
        Failure::Input(failure_text(
            &format!("{typed} is no share of draws"),
            "--confidence",
            "a number from 0 to 1, or a percentage",
            "write 0.95 or \"95 %\"",
        ))
    })
}

/// What a person types after `simulate` for the same files.
fn typed(arguments: &Arguments) -> String {
    let mut typed = quoted(&arguments.bake.display().to_string());
    for set in &arguments.set {
        typed.push_str(&format!(" --set {}", quoted(set)));
    }
    if arguments.seed != 1 {
        typed.push_str(&format!(" --seed {}", arguments.seed));
    }
    typed
}

/// One argument as a POSIX shell takes it: in single quotes, unless nothing in it means anything there.
fn quoted(argument: &str) -> String {
    let plain = |c: char| c.is_ascii_alphanumeric() || "_-./+=:,@%".contains(c);
    if !argument.is_empty() && argument.chars().all(plain) {
        return argument.to_owned();
    }
    format!("'{}'", argument.replace('\'', r"'\''"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_to_be_copied_is_one_argument_to_a_shell() {
        for (argument, told) in [
            ("bakes/a.toml", "bakes/a.toml"),
            ("my bakes/a.toml", "'my bakes/a.toml'"),
            ("bake.name=Joe's bake", r"'bake.name=Joe'\''s bake'"),
            ("load.part.1.mass=\"2 kg\"", "'load.part.1.mass=\"2 kg\"'"),
            ("", "''"),
        ] {
            assert_eq!(quoted(argument), told);
        }
    }

    #[test]
    fn a_share_is_read_as_people_write_it_and_nothing_else_is_taken() {
        for (typed, share) in [("0.95", 0.95), ("95 %", 0.95), ("100%", 1.0), (" 0 ", 0.0)] {
            assert!(confidence(typed).is_ok_and(|found| (found - share).abs() < 1e-12), "{typed}");
        }
        for typed in ["95", "1.1", "-0.1", "NaN", "inf", "", "%", "101 %", "high"] {
            assert!(confidence(typed).is_err(), "{typed}");
        }
    }
}
