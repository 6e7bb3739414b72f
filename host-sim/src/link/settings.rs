//! What a board is fitted with, beside what an oven's file says it is.
//!
//! The board's own commissioning decides; a file only claims. A bake is counted from what the file
//! claims, so a claim the board does not bear out is told before anything is sent. What the board
//! has beyond the file harms nothing and is not told. Sensors and their corrections are the board's
//! alone, for they went through ice and boiling water: commissioning writes them, a bake never does.

use crate::files::load::Load;
use crate::files::oven::{Circulation, Oven, Sensor};
use truesoak_core::sensor::{Kind, Platinum, Thermocouple};
use truesoak_core::two_points::SENSORS;
use truesoak_core::units::READING_STEPS_PER_KELVIN;
use truesoak_core::wire::settings::{AIR_MAX_C, BoardSettings, CORRECTION_MAX_K, Fitted, Fitting};

/// Resistor of a converter for a Pt100, Ω: that of common boards (common practice); a Pt1000 has ten
/// times that.
const PT100_REFERENCE_OHMS: u16 = 430;

const AIR_LIMIT: &str = "air limit";
/// The sensors by their numbers.
pub const SENSOR_NAMES: [&str; SENSORS] = ["air sensor", "second air sensor", "part probe"];

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
    /// Of a sensor that went through ice and boiling water as it is.
    pub is_of_a_sensor: bool,
}

/// What differs, in the order of the settings.
#[must_use]
pub fn differences(board: &BoardSettings, oven: &Oven, load: &Load) -> Vec<Difference> {
    let claimed = claimed(board, oven, load);
    let mut found = Vec::new();
    let mut compare = |what, board: String, file: String| {
        if board != file {
            let is_of_a_sensor = SENSOR_NAMES.contains(&what);
            found.push(Difference {
                what,
                board,
                file,
                is_grave: what != AIR_LIMIT,
                is_of_a_sensor,
            });
        }
    };
    for (sensor, what) in SENSOR_NAMES.into_iter().enumerate() {
        compare(what, sensor_words(board.sensor(sensor)), sensor_words(claimed.sensor(sensor)));
    }
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

/// What only the person who commissions a board knows; `None` where it stays as it was.
#[derive(Clone, Copy, Debug, Default)]
pub struct Wiring {
    /// The thermocouples' converters are MAX31855, else MAX31856.
    pub max31855: Option<bool>,
    /// Wires to resistance sensors.
    pub wires: Option<u8>,
    /// Reference resistor of their converters, Ω.
    pub reference_ohms: Option<u16>,
    /// The part probe, or that there is none.
    pub part_probe: Option<Option<Kind>>,
    /// An independent clock is wired.
    pub independent_clock: Option<bool>,
    /// Mains has 60 Hz.
    pub mains_60_hz: Option<bool>,
}

/// The settings of a board at this oven: what is fitted by the oven's file and by whoever wired it. A
/// sensor that stays the same keeps its correction, and with it its check.
#[must_use]
pub fn commissioned(before: Option<&BoardSettings>, oven: &Oven, wiring: &Wiring) -> BoardSettings {
    let sensor = |number: usize, sensor: &Sensor| {
        let fitted = before.and_then(|before| before.sensor(number)).copied();
        let claimed = wiring.put_into(as_claimed(fitted, sensor));
        fitted.filter(|fitted| fitted.fitting == claimed.fitting).unwrap_or(claimed)
    };
    let part_probe = match wiring.part_probe {
        Some(kind) => kind.map(|kind| {
            let bare = Sensor { kind, correction_k: 0.0, ..oven.sensor };
            sensor(2, &bare)
        }),
        None => before.and_then(|before| before.part_probe),
    };
    let [least, most] = [*AIR_MAX_C.start(), *AIR_MAX_C.end()].map(f64::from);
    BoardSettings {
        air: sensor(0, &oven.sensor),
        air_b: oven.sensor_b.as_ref().map(|of| sensor(1, of)),
        part_probe,
        door_switch: oven.door.switch,
        permit_feedback: oven.permit.feedback,
        mains_at_heater: oven.permit.mains_proof,
        airflow: matches!(oven.circulation, Circulation::Fan { proof: true, .. }),
        independent_clock: wiring
            .independent_clock
            .unwrap_or_else(|| before.is_none_or(|before| before.independent_clock)),
        mains_60_hz: wiring
            .mains_60_hz
            .unwrap_or_else(|| before.is_some_and(|before| before.mains_60_hz)),
        air_max_c: oven.air_max_c.floor().clamp(least, most) as u16,
    }
}

impl Wiring {
    fn put_into(&self, fitted: Fitted) -> Fitted {
        let fitting = match (fitted.fitting, self.max31855) {
            (Fitting::Max31855(kind) | Fitting::Max31856(kind), Some(true)) => {
                Fitting::Max31855(kind)
            }
            (Fitting::Max31855(kind), Some(false)) => Fitting::Max31856(kind),
            (Fitting::Max31865 { sensor, wires, reference_ohms }, _) => Fitting::Max31865 {
                sensor,
                wires: self.wires.unwrap_or(wires),
                reference_ohms: self.reference_ohms.unwrap_or(reference_ohms),
            },
            (fitting, _) => fitting,
        };
        Fitted { fitting, ..fitted }
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

fn sensor_words(of: Option<&Fitted>) -> String {
    of.map_or_else(|| "none".to_owned(), fitted)
}

/// What reads a sensor, in words.
#[must_use]
pub fn converter(of: &Fitted) -> String {
    match of.fitting {
        Fitting::Max31855(_) => "MAX31855".to_owned(),
        Fitting::Max31856(_) => "MAX31856".to_owned(),
        Fitting::Max31865 { wires, reference_ohms, .. } => {
            format!("MAX31865, {wires} wires, {reference_ohms} Ω")
        }
    }
}

/// A correction, K.
#[must_use]
pub fn correction_k(of: &Fitted) -> f64 {
    f64::from(of.correction_steps) / f64::from(READING_STEPS_PER_KELVIN)
}

/// A sensor in words: its kind, and what is added to its readings.
#[must_use]
pub fn fitted(of: &Fitted) -> String {
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
    if of.correction_steps == 0 {
        kind.to_owned()
    } else {
        format!("{kind}, corrected by {:+.2} K", correction_k(of))
    }
}
