//! What a board is fitted with, beside what an oven's file says it is.
//!
//! The board's own commissioning decides; a file only claims. A bake is counted from what the file
//! claims, so a claim the board does not bear out is told before anything is sent. What the board
//! has beyond the file harms nothing and is not told.

use crate::files::load::Load;
use crate::files::oven::{Circulation, Oven, Sensor};
use truesoak_core::sensor::{Kind, Platinum, Thermocouple};
use truesoak_core::units::READING_STEPS_PER_KELVIN;
use truesoak_core::wire::settings::{AIR_MAX_C, BoardSettings, CORRECTION_MAX_K, Fitted, Fitting};

/// Resistor of a converter for a Pt100, Ω: that of common boards (common practice); a Pt1000 has ten
/// times that.
const PT100_REFERENCE_OHMS: u16 = 430;

const AIR_LIMIT: &str = "air limit";

/// Something the file claims and the board does not bear out.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Difference {
    /// What it is about.
    pub what: &'static str,
    /// As the board has it.
    pub board: String,
    /// As the oven's file has it.
    pub file: String,
    /// A bake would be counted from what is not so; the air limit alone the board holds itself.
    pub is_grave: bool,
}

/// What differs, in the order of the settings.
#[must_use]
pub fn differences(board: &BoardSettings, oven: &Oven, load: &Load) -> Vec<Difference> {
    let claimed = claimed(board, oven, load);
    let mut found = Vec::new();
    let mut compare = |what, board: String, file: String| {
        if board != file {
            found.push(Difference { what, board, file, is_grave: what != AIR_LIMIT });
        }
    };
    compare("air sensor", fitted(&board.air), fitted(&claimed.air));
    let optional = |sensor: &Option<Fitted>| sensor.as_ref().map_or("none".to_owned(), fitted);
    compare("second air sensor", optional(&board.air_b), optional(&claimed.air_b));
    compare("part probe", optional(&board.part_probe), optional(&claimed.part_probe));
    let yes = |is: bool| (if is { "fitted" } else { "none" }).to_owned();
    compare("door switch", yes(board.door_switch), yes(claimed.door_switch));
    compare("contactor's mirror contact", yes(board.permit_feedback), yes(claimed.permit_feedback));
    compare("mains at the heater", yes(board.mains_at_heater), yes(claimed.mains_at_heater));
    compare("airflow proof", yes(board.airflow), yes(claimed.airflow));
    let degrees = |value: u16| format!("{value} °C");
    compare(AIR_LIMIT, degrees(board.air_max_c), degrees(claimed.air_max_c));
    found
}

/// The board's settings with what the oven's file claims put in.
#[must_use]
pub fn claimed(board: &BoardSettings, oven: &Oven, load: &Load) -> BoardSettings {
    let probed = load.parts.iter().any(|part| part.probe);
    let airflow = matches!(oven.circulation, Circulation::Fan { proof: true, .. });
    let limit = oven.air_max_c.floor().clamp(0.0, f64::from(u16::MAX)) as u16;
    BoardSettings {
        air: as_claimed(Some(board.air), &oven.sensor),
        // A second sensor the file knows nothing of is read by nobody.
        air_b: oven
            .sensor_b
            .as_ref()
            .map_or(board.air_b, |sensor| Some(as_claimed(board.air_b, sensor))),
        part_probe: match (board.part_probe, probed) {
            (None, true) => Some(as_claimed(None, &oven.sensor)),
            (fitted, _) => fitted,
        },
        door_switch: board.door_switch || oven.door.switch,
        permit_feedback: board.permit_feedback || oven.permit.feedback,
        mains_at_heater: board.mains_at_heater || oven.permit.mains_proof,
        airflow: board.airflow || airflow,
        air_max_c: board.air_max_c.min(limit.clamp(*AIR_MAX_C.start(), *AIR_MAX_C.end())),
        ..*board
    }
}

/// A board fitted with exactly what an oven's file and a load's claim.
#[must_use]
pub fn fitted_as(oven: &Oven, load: &Load) -> BoardSettings {
    let bare = BoardSettings {
        air: as_claimed(None, &oven.sensor),
        air_b: None,
        part_probe: None,
        door_switch: false,
        permit_feedback: false,
        mains_at_heater: false,
        airflow: false,
        independent_clock: true,
        mains_60_hz: false,
        air_max_c: *AIR_MAX_C.end(),
    };
    claimed(&bare, oven, load)
}

/// A sensor as the file has it, read by what the board has for its kind.
fn as_claimed(board: Option<Fitted>, sensor: &Sensor) -> Fitted {
    let steps = (sensor.correction_k * f64::from(READING_STEPS_PER_KELVIN)).round();
    let most = f64::from(CORRECTION_MAX_K) * f64::from(READING_STEPS_PER_KELVIN);
    let known = board.map(|fitted| fitted.fitting);
    let fitting = match (sensor.kind, known) {
        (Kind::Thermocouple(kind), Some(Fitting::Max31855(_))) => Fitting::Max31855(kind),
        (Kind::Thermocouple(kind), _) => Fitting::Max31856(kind),
        (Kind::Resistance(sensor), Some(Fitting::Max31865 { wires, reference_ohms, .. })) => {
            Fitting::Max31865 { sensor, wires, reference_ohms }
        }
        (Kind::Resistance(sensor), _) => {
            let tenfold = if sensor == Platinum::Pt1000 { 10 } else { 1 };
            Fitting::Max31865 { sensor, wires: 3, reference_ohms: tenfold * PT100_REFERENCE_OHMS }
        }
    };
    Fitted { fitting, correction_steps: steps.clamp(-most, most) as i16 }
}

/// A sensor in words: its kind, and what is added to its readings.
fn fitted(of: &Fitted) -> String {
    let kind = match of.fitting {
        Fitting::Max31855(kind) | Fitting::Max31856(kind) => match kind {
            Thermocouple::K => "thermocouple K",
            Thermocouple::J => "thermocouple J",
            Thermocouple::T => "thermocouple T",
            Thermocouple::N => "thermocouple N",
        },
        Fitting::Max31865 { sensor: Platinum::Pt100, .. } => "Pt100",
        Fitting::Max31865 { sensor: Platinum::Pt1000, .. } => "Pt1000",
    };
    let correction_k = f64::from(of.correction_steps) / f64::from(READING_STEPS_PER_KELVIN);
    if of.correction_steps == 0 {
        kind.to_owned()
    } else {
        format!("{kind}, corrected by {correction_k:+.2} K")
    }
}
