//! `device commission`: what a board is fitted with, written to it, and its sensors led through ice
//! and boiling water.
//!
//! The oven's file and a few options say what is fitted; the board takes it only while it is being
//! commissioned, with GO held at boot. The two baths are asked for one after the other, for every
//! sensor that needs them at once. The person says that a sensor is in by Enter; the board decides
//! when its reading is steady, and whether it is sound. Nothing here heats.

mod baths;

use super::settings::Told;
use super::{PortArgument, failed, tell_loss};
use crate::command::{Answer, Failure, Format, Globals, failure_text, print};
use crate::files::{read_oven_alone, sensor_kind};
use crate::link::{
    Address, LinkError, Patience, SENSOR_NAMES, Session, Wiring, commissioned, correction_k, fitted,
};
use baths::Baths;
use clap::ValueEnum;
use std::path::PathBuf;
use std::time::Duration;
use truesoak_core::sensor::Kind;
use truesoak_core::wire::messages::{Capabilities, CheckState, Request};
use truesoak_core::wire::refusal::Refusal;
use truesoak_core::wire::settings::BoardSettings;

/// From new settings to readings by them.
const SETTLES: Duration = Duration::from_secs(1);

/// What is fitted, beside what the oven's file says.
#[derive(Clone, Debug, clap::Args)]
pub(super) struct Arguments {
    /// The oven's file: sensors, door switch, contactor, airflow proof, air limit.
    oven: PathBuf,
    /// The part probe, as "thermocouple K" or "Pt100"; or none [default: as it was].
    #[arg(long, value_name = "KIND")]
    probe: Option<String>,
    /// What reads the thermocouples [default: as it was, else max31856].
    #[arg(long, value_enum)]
    converter: Option<Converter>,
    /// Wires to resistance sensors [default: as it was, else 3].
    #[arg(long, value_name = "2..4", value_parser = clap::value_parser!(u8).range(2..=4))]
    wires: Option<u8>,
    /// Reference resistor of their converters, ohms [default: as it was, else 430 or 4300].
    #[arg(long, value_name = "OHMS", value_parser = clap::value_parser!(u16).range(100..=10_000))]
    reference_ohms: Option<u16>,
    /// Frequency of the mains [default: as it was, else 50].
    #[arg(long, value_name = "HZ", value_parser = ["50", "60"])]
    mains_hz: Option<String>,
    /// Whether an independent clock is wired [default: as it was, else fitted].
    #[arg(long, value_enum)]
    clock: Option<Clock>,
    #[command(flatten)]
    baths: baths::BathArguments,
    /// Write the settings only; the sensors' check is led by another run.
    #[arg(long)]
    settings_only: bool,
}

/// Converters for thermocouples.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum Converter {
    /// Its letter is the chip's own.
    Max31855,
    /// Takes any letter.
    Max31856,
}

/// An independent clock.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum Clock {
    /// On its pin.
    Fitted,
    /// The processor's own alone: nothing tells when it is wrong.
    None,
}

/// Runs it.
pub(super) fn run(
    port: &PortArgument,
    arguments: &Arguments,
    globals: &Globals,
) -> Result<Answer, Failure> {
    let wiring = arguments.wiring()?;
    let baths = Baths::of(&arguments.baths)?;
    let oven = read_oven_alone(&arguments.oven)?.oven;
    let (address, mut session) = port.open()?;
    refuse_outside_commissioning(&session, &address)?;
    let before = ask(&mut session, &address)?.settings;
    let wanted = commissioned(before.as_ref(), &oven, &wiring);
    if before != Some(wanted) {
        write(&mut session, &address, wanted)?;
        say(globals, "The settings are on the board.");
    }
    if !arguments.settings_only {
        baths.lead(&mut session, &address, globals)?;
    }
    // A converter that was set up anew converts before it answers.
    std::thread::sleep(SETTLES);
    let told = ask(&mut session, &address)?;
    told.print(globals)?;
    if globals.format == Format::Text
        && let Some(settings) = &told.settings
    {
        print(&what_next(settings, &told, arguments))?;
    }
    let checked = told.readiness.sensors.into_iter().flatten();
    let all = checked.into_iter().all(|sensor| sensor.check == CheckState::Checked);
    Ok(if all || arguments.settings_only { Answer::Yes } else { Answer::No })
}

impl Arguments {
    fn wiring(&self) -> Result<Wiring, Failure> {
        Ok(Wiring {
            max31855: self.converter.map(|of| of == Converter::Max31855),
            wires: self.wires,
            reference_ohms: self.reference_ohms,
            part_probe: self.probe.as_deref().map(probe_kind).transpose()?,
            independent_clock: self.clock.map(|clock| clock == Clock::Fitted),
            mains_60_hz: self.mains_hz.as_deref().map(|hz| hz == "60"),
        })
    }
}

fn probe_kind(typed: &str) -> Result<Option<Kind>, Failure> {
    match (typed, sensor_kind(typed)) {
        ("none", _) => Ok(None),
        (_, Some(kind)) => Ok(Some(kind)),
        _ => Err(Failure::Input(failure_text(
            &format!("\"{typed}\" is no kind of sensor"),
            "--probe",
            "\"thermocouple K\", J, T or N, \"Pt100\", \"Pt1000\", or none",
            "write it as an oven's file does",
        ))),
    }
}

fn refuse_outside_commissioning(session: &Session, address: &Address) -> Result<(), Failure> {
    if session.greeting().capabilities.has(Capabilities::COMMISSIONING) {
        return Ok(());
    }
    let refusal = LinkError::Refused(Refusal::NotCommissioning);
    Err(Failure::Refused(failure_text(
        &refusal.to_string(),
        &address.to_string(),
        "a board that is being commissioned",
        "switch the board off, hold GO, switch it on, let GO go within 20 s; then the same command",
    )))
}

fn ask(session: &mut Session, address: &Address) -> Result<Told, Failure> {
    let told = session.with(Patience::SHORT, tell_loss, Told::ask);
    told.map_err(|error| failed(address, &error))
}

fn write(session: &mut Session, address: &Address, wanted: BoardSettings) -> Result<(), Failure> {
    let kept = session.with(Patience::SHORT, tell_loss, |client, _| {
        client.done(&Request::SetSettings(wanted))?;
        client.settings()
    });
    let kept = kept.map_err(|error| failed(address, &error))?;
    if kept == Some(wanted) {
        return Ok(());
    }
    Err(Failure::Link(failure_text(
        "the settings the board gives back are not those that were sent",
        &address.to_string(),
        "the same, read back",
        "the same command again; do not use the board if it stays so",
    )))
}

/// Tells a person beside the oven what happens; a program hears the end of it.
fn say(globals: &Globals, text: &str) {
    if !globals.quiet {
        eprintln!("{text}");
    }
}

/// What the oven's file has to say from now on, and what comes next.
fn what_next(settings: &BoardSettings, told: &Told, arguments: &Arguments) -> String {
    let sections = ["sensor", "sensor_b"];
    let lines = sections.into_iter().enumerate().filter_map(|(number, section)| {
        let of = settings.sensor(number)?;
        Some(format!("  [{section}] correction = \"{:.2} °C\"\n", correction_k(of)))
    });
    let unchecked = told.readiness.sensors.iter().zip(SENSOR_NAMES).filter_map(|(state, name)| {
        state.filter(|state| state.check != CheckState::Checked).map(|_| name)
    });
    let unchecked: Vec<&str> = unchecked.collect();
    if !unchecked.is_empty() {
        return format!("Still to go through ice and boiling water: {}.\n", unchecked.join(", "));
    }
    let correction: String = lines.collect();
    format!(
        "Write into {}, or `device send` refuses its bakes:\n{correction}Then switch the board off \
         and on without GO, and send a bake. (While it is being commissioned, GO starts its own \
         step test of the bake's empty oven, and after that a hold.)\n",
        arguments.oven.display()
    )
}

/// A sensor by its number, with its kind.
fn named(number: usize, settings: &BoardSettings) -> Option<String> {
    let name = SENSOR_NAMES.get(number)?;
    Some(format!("the {name} ({})", fitted(settings.sensor(number)?)))
}
