//! The sensors' two baths, led from the computer: who goes in, what the bath is, and the wait until
//! the board has seen it steady.

use super::{ask, named, say};
use crate::command::device::failed;
use crate::command::{Failure, Globals, failure_text};
use crate::files::quantity::{Dimension, parse};
use crate::interrupt;
use crate::link::{Address, LinkError, Session};
use std::io::BufRead as _;
use std::time::{Duration, Instant};
use truesoak_core::units::{Celsius, Reading};
use truesoak_core::wire::messages::CheckState;
use truesoak_core::wire::refusal::{BathFault, Refusal};

/// The board is asked so often whether the reading is steady …
const LOOK: Duration = Duration::from_millis(500);
/// … for so long: a thick sensor takes some minutes.
const PATIENCE: Duration = Duration::from_secs(600);
/// Enter may be pressed before the sensor has felt the bath: what it shows is no fault yet for so long.
const DIPPED: Duration = Duration::from_secs(5);
/// Pressures at which somebody lives, hPa.
const PRESSURE_HPA: std::ops::RangeInclusive<f64> = 550.0..=1100.0;

/// What the baths are.
#[derive(Clone, Debug, clap::Args)]
pub(in crate::command::device) struct BathArguments {
    /// What the ice bath is, as a reference thermometer beside the sensor shows.
    #[arg(long, value_name = "TEMPERATURE", allow_hyphen_values = true, default_value = "0 °C")]
    ice: String,
    /// What the water boils at here, or what a reference thermometer shows: "98.5 °C"; or the air's
    /// pressure, not reduced to sea level: "965 hPa" [default: asked for].
    #[arg(long, value_name = "TEMPERATURE|PRESSURE")]
    boiling: Option<String>,
    /// Check the sensors again that were checked before.
    #[arg(long)]
    again: bool,
}

/// The same, read.
pub(super) struct Baths {
    ice: Reading,
    boiling: Option<Reading>,
    again: bool,
}

/// One of the two.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Which {
    Ice,
    Boiling,
}

impl Baths {
    /// Reads what was typed.
    pub(super) fn of(arguments: &BathArguments) -> Result<Self, Failure> {
        let boiling = arguments.boiling.as_deref().map(|typed| boiling_point(typed, "--boiling"));
        Ok(Self {
            ice: temperature(&arguments.ice, "--ice")?,
            boiling: boiling.transpose()?,
            again: arguments.again,
        })
    }

    /// Leads every sensor that needs it through both.
    pub(super) fn lead(
        &self,
        session: &mut Session,
        address: &Address,
        globals: &Globals,
    ) -> Result<(), Failure> {
        let mut again = self.again;
        for which in [Which::Ice, Which::Boiling] {
            let told = ask(session, address)?;
            let Some(settings) = told.settings else { return Ok(()) };
            let needs = |check: CheckState| match (which, check) {
                (_, CheckState::Unchecked) => true,
                (_, CheckState::Checked) => again,
                (Which::Ice, check) => check == CheckState::Boiling,
                (Which::Boiling, check) => check == CheckState::Ice,
            };
            let states = told.readiness.sensors.iter().enumerate();
            let numbers: Vec<usize> = states
                .filter(|(_, state)| state.is_some_and(|state| needs(state.check)))
                .map(|(number, _)| number)
                .collect();
            // Those that are checked anew have been in ice by the second round.
            again = false;
            if numbers.is_empty() {
                continue;
            }
            let names: Vec<String> =
                numbers.iter().filter_map(|number| named(*number, &settings)).collect();
            let is = self.wait_for_the_person(which, &names.join(" and "))?;
            for number in numbers {
                self.take(session, address, number, is)?;
                let name = named(number, &settings).unwrap_or_default();
                say(globals, &format!("The board has {name} in {}.", which.name()));
            }
        }
        Ok(())
    }

    /// Asks for the sensors to be put in; what the bath is.
    fn wait_for_the_person(&self, which: Which, names: &str) -> Result<Reading, Failure> {
        let known = match which {
            Which::Ice => Some(self.ice),
            Which::Boiling => self.boiling,
        };
        let then = if known.is_some() {
            "then press Enter"
        } else {
            "then type what it boils at, as 98.5 °C, or the air's pressure, as 965 hPa"
        };
        let how = match which {
            Which::Ice => "crushed ice of distilled water, just covered with it, stirred",
            Which::Boiling => "water at a rolling boil, off wall and bottom",
        };
        eprintln!("Put {names} into {how}; {then}. (wiring.md, steps 13 to 15)");
        let typed = line()?;
        match (known, which) {
            (Some(known), _) => Ok(known),
            (None, _) => boiling_point(&typed, "what was typed"),
        }
    }

    /// Waits until the board has taken a sensor's reading in a bath.
    fn take(
        &self,
        session: &mut Session,
        address: &Address,
        number: usize,
        is: Reading,
    ) -> Result<(), Failure> {
        let since = Instant::now();
        loop {
            let taken = session.once(|client, _| client.bath(number as u8, is));
            match taken {
                Ok(_) => return Ok(()),
                Err(LinkError::Refused(Refusal::Bath(fault))) => {
                    let patience = match fault {
                        BathFault::Unsteady => PATIENCE,
                        BathFault::TooFar => DIPPED,
                        _ => Duration::ZERO,
                    };
                    if since.elapsed() >= patience {
                        return Err(refused(session, address, number, fault));
                    }
                }
                Err(error) => return Err(failed(address, &error)),
            }
            if interrupt::asked() {
                return Err(Failure::Interrupted(
                    "interrupted; the settings are on the board, the check is not done".to_owned(),
                ));
            }
            std::thread::sleep(LOOK);
        }
    }
}

impl Which {
    fn name(self) -> &'static str {
        match self {
            Self::Ice => "ice",
            Self::Boiling => "boiling water",
        }
    }
}

/// A bath the board does not take, with what the sensor reads.
fn refused(session: &mut Session, address: &Address, number: usize, fault: BathFault) -> Failure {
    let state = ask(session, address).ok().and_then(|told| *told.readiness.sensors.get(number)?);
    let reads = state.and_then(|state| state.reading).map_or_else(
        || "it does not answer".to_owned(),
        |reading| format!("it reads {:.1} °C", reading.to_celsius().0),
    );
    let name = crate::link::SENSOR_NAMES.get(number).copied().unwrap_or("sensor");
    Failure::Refused(failure_text(
        &format!("the {name} is not taken: {fault}; {reads}"),
        &address.to_string(),
        "steady for half a minute, within 2.5 °C of the bath, both errors alike to 1.5 °C",
        "see wiring.md, steps 13 to 15; then the same command again",
    ))
}

/// A line of the input.
fn line() -> Result<String, Failure> {
    let mut typed = String::new();
    let read = std::io::stdin().lock().read_line(&mut typed);
    if read.is_ok_and(|bytes| bytes > 0) {
        return Ok(typed);
    }
    Err(Failure::Input(failure_text(
        "nobody says that the sensors are in",
        "the input",
        "Enter, once they are",
        "run it where somebody can type, or only write the settings with --settings-only",
    )))
}

fn temperature(typed: &str, place: &str) -> Result<Reading, Failure> {
    let celsius = parse(typed, Dimension::Temperature).map_err(|complaint| {
        Failure::Input(failure_text(&complaint.what, place, &complaint.expected, &complaint.next))
    })?;
    Reading::from_celsius(Celsius(celsius as f32)).ok_or_else(|| {
        Failure::Input(failure_text(
            &format!("{typed} is no temperature of a bath"),
            place,
            "ice near 0 °C, or boiling water",
            "look at the thermometer again",
        ))
    })
}

/// A temperature, or what water boils at under a pressure.
fn boiling_point(typed: &str, place: &str) -> Result<Reading, Failure> {
    let Some(number) = typed.trim().strip_suffix("hPa") else { return temperature(typed, place) };
    let pressure_hpa = number.trim().parse::<f64>().ok().filter(|p| PRESSURE_HPA.contains(p));
    let celsius = pressure_hpa.map(boils_at_c).ok_or_else(|| {
        Failure::Input(failure_text(
            &format!("\"{}\" is no pressure of the air", typed.trim()),
            place,
            "550 hPa to 1100 hPa, not reduced to sea level",
            "read the barometer again, or give the temperature",
        ))
    })?;
    temperature(&format!("{celsius:.3} °C"), place)
}

/// What water boils at, °C: the wiring guide's formula, within 0.1 K of IAPWS-IF97 from 700 to
/// 1050 hPa.
fn boils_at_c(pressure_hpa: f64) -> f64 {
    let over = pressure_hpa - 1013.25;
    99.97 + 0.0277 * over - 0.000_013_9 * over * over
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn water_boils_as_the_wiring_guides_table_says() {
        // IAPWS-IF97, as in firmware/wiring.md.
        for (hpa, celsius) in [(1050.0, 100.98), (1013.25, 99.97), (900.0, 96.69), (700.0, 89.93)] {
            assert!((boils_at_c(hpa) - celsius).abs() < 0.1, "{hpa}");
        }
    }

    #[test]
    fn a_boiling_point_is_typed_in_any_unit_or_as_a_pressure() {
        let read = |typed: &str| boiling_point(typed, "here").map(|of| of.to_celsius().0);
        assert!(read("98.5 °C").is_ok_and(|c| (c - 98.5).abs() < 0.01));
        assert!(read("209.3 °F\n").is_ok_and(|c| (c - 98.5).abs() < 0.01));
        assert!(read(" 1013.25 hPa ").is_ok_and(|c| (c - 99.97).abs() < 0.01));
        for wrong in ["98.5", "20 hPa", "hPa", ""] {
            assert!(read(wrong).is_err(), "{wrong}");
        }
    }
}
