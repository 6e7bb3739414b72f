//! The rows, each with where it strikes and what must come of it.

use super::Then::{Asks, Ends, GoesOn, Trips};
use super::{COOL, Row, SOAK, Scenario, play};
use crate::emulated::oven::Fits;
use truesoak_core::io::Question;
use truesoak_core::units::Celsius;

const TWO_SENSORS: &[&str] =
    &["oven.sensor_b={ lag = \"9 s\", noise = \"0.1 °C\", resolution = \"0.25 °C\" }"];
const PROBE: &[&str] = &["load.part.1.probe=true"];
const NO_PROOFS: &[&str] = &["oven.permit.mains_proof=false"];
/// The air may become hardly hotter than the soak's window.
const LOW_AIR: &[&str] = &["bake.limits.air_max=\"100 °C\""];
/// Thin parts that stand no more than their window, and a sensor that sees a welded drive after them.
const THIN_PARTS: &[&str] = &[
    "oven.permit.mains_proof=false",
    "oven.sensor.lag=\"25 s\"",
    "load.part.1.shape={ bar = { diameter = \"2 mm\", length = \"300 mm\" } }",
    "bake.step.\"dry\".soak.at_most=\"90 °C\"",
    "bake.limits.part_max=\"90 °C\"",
];

macro_rules! row {
    ($name:literal, $short:literal, $row:expr) => {
        Scenario {
            name: concat!("fault: ", $name),
            is_short: $short,
            run: |context| play(context, &$row),
        }
    };
}

pub(in super::super) const SCENARIOS: &[Scenario] = &[
    row!(
        "thermocouple-open",
        true,
        Row::soak("thermocouple-open", Trips("thermocouple-open", 1.0))
    ),
    row!(
        "thermocouple-open, Pt100",
        false,
        Row::soak("thermocouple-open", Trips("thermocouple-open", 1.0)).fits(Fits::Max31865)
    ),
    row!(
        "thermocouple-open, MAX31856",
        true,
        Row::soak("thermocouple-open", Trips("thermocouple-open", 1.0)).fits(Fits::Max31856)
    ),
    // A conversion takes it three ticks, and the wires may break in any of them.
    row!(
        "thermocouple-open, MAX31856, a tick later",
        false,
        Row::soak("thermocouple-open", Trips("thermocouple-open", 1.0))
            .fits(Fits::Max31856)
            .at(SOAK, 90.1)
    ),
    row!(
        "thermocouple-open, MAX31856, two ticks later",
        false,
        Row::soak("thermocouple-open", Trips("thermocouple-open", 1.0))
            .fits(Fits::Max31856)
            .at(SOAK, 90.2)
    ),
    row!(
        "thermocouple-short",
        true,
        Row::soak("thermocouple-short", Trips("thermocouple-short", 1.0))
    ),
    row!(
        "thermocouple-short, MAX31856",
        true,
        Row::soak("thermocouple-short", Trips("thermocouple-short", 1.0)).fits(Fits::Max31856)
    ),
    row!(
        "thermocouple-short, Pt100",
        false,
        Row::soak("thermocouple-short", Trips("thermocouple-short", 1.0)).fits(Fits::Max31865)
    ),
    row!(
        "converter-silent, all 0",
        true,
        Row::soak("converter-silent", Trips("converter-silent", 1.0))
    ),
    row!(
        "converter-silent, all 1",
        true,
        Row::soak("converter-silent", Trips("converter-silent", 1.0)).silent_as("high")
    ),
    row!(
        "thermocouple-reversed",
        true,
        Row::soak("thermocouple-reversed", Trips("thermocouple-reversed", 90.0)).at(0, 0.0)
    ),
    row!(
        "sensor-type-wrong",
        true,
        Row::soak("sensor-type-wrong", Trips("sensor-type-wrong", 90.0)).at(0, 0.0)
    ),
    row!(
        "reading-stale, MAX31856",
        true,
        Row::soak("reading-stale", Trips("reading-stale", 5.0)).fits(Fits::Max31856)
    ),
    row!(
        "reading-stale, Pt100",
        false,
        Row::soak("reading-stale", Trips("reading-stale", 5.0)).fits(Fits::Max31865)
    ),
    row!(
        "reading-frozen, cold",
        true,
        Row::soak("reading-frozen", Trips("reading-frozen", 60.0)).at(0, 0.0)
    ),
    // A black box that is full when the bake begins.
    row!(
        "reading-frozen, a minute after the board's start",
        true,
        Row::soak("reading-frozen", Trips("reading-frozen", 60.0)).at(0, 0.0).resting(700)
    ),
    row!("reading-jump up", true, Row::soak("reading-jump", Trips("reading-jump", 2.0)).by(25.0)),
    row!(
        "reading-jump down",
        true,
        Row::soak("reading-jump", Trips("reading-jump", 20.0)).by(-40.0)
    ),
    row!("one bad transfer", false, Row::soak("converter-silent", GoesOn).lasting(0.1)),
    row!(
        "sensor-detached, cold",
        true,
        Row::soak("sensor-detached", Trips("no-response", 115.0)).at(0, 2.0)
    ),
    row!(
        "heater-dead, cold",
        true,
        Row::soak("heater-dead", Trips("no-response", 115.0)).at(0, 2.0)
    ),
    row!(
        "sensor-moved, two sensors",
        true,
        Row::soak("sensor-moved", Trips("sensor-moved", 60.0))
            .by(-15.0)
            // Two sensors are not compared before the door has been shut for a while.
            .at(SOAK, 330.0)
            .set(TWO_SENSORS)
            .fits(Fits::Max31856)
    ),
    row!("drive-welded, mains proof", true, Row::soak("drive-welded", Trips("drive-welded", 12.0))),
    row!(
        "drive-welded, by the air",
        true,
        Row::soak("drive-welded", Trips("drive-welded", 40.0)).set(NO_PROOFS)
    ),
    row!(
        "permit-welded",
        true,
        Row::soak("permit-welded", Trips("permit-welded", 1.7)).at(COOL, 0.0)
    ),
    row!(
        "air-over-limit",
        true,
        Row::soak("sensor-moved", Trips("air-over-limit", 0.2)).by(40.0).set(LOW_AIR).since(
            |controller| {
                let ledger = controller.ledger();
                ledger.is_some_and(|ledger| ledger.bounds().upper_air() >= Celsius(100.0))
            }
        )
    ),
    row!(
        "part-over-limit",
        true,
        Row::soak("drive-welded", Trips("part-over-limit", 1.0))
            .set(THIN_PARTS)
            .without_room()
            .since(|controller| {
                let ledger = controller.ledger();
                let hottest = ledger.and_then(|ledger| ledger.bounds().hottest_ahead(0));
                hottest.is_some_and(|hottest| hottest >= Celsius(90.0))
            })
    ),
    row!(
        "probe-disagrees",
        false,
        Row::soak("probe-disagrees", GoesOn).set(PROBE).fits(Fits::Max31856)
    ),
    row!(
        "door-left-open",
        false,
        Row::soak("door-left-open", Asks(Question::DoorLeftOpen, 0.2)).lasting(150.0)
    ),
    row!(
        "door-switch-stuck",
        true,
        Row::soak("door-switch-stuck", Trips("door-switch-stuck", 20.0))
    ),
    row!("fan-stopped", true, Row::soak("fan-stopped", Trips("fan-stopped", 60.0))),
    row!("enclosure-hot", true, Row::soak("enclosure-hot", Trips("enclosure-hot", 5.0))),
    row!("tick-overrun", false, Row::soak("tick-overrun", GoesOn)),
    row!("processor-hung", true, Row::soak("processor-hung", Asks(Question::PowerReturned, 1.0))),
    row!("clock-wrong", true, Row::soak("clock-wrong", Trips("clock-wrong", 10.1))),
    row!("memory-corrupt", true, Row::soak("memory-corrupt", Trips("memory-corrupt", 60.0))),
    row!("settings-corrupt", false, Row::soak("settings-corrupt", GoesOn)),
    row!("store-failing", false, Row::soak("store-failing", GoesOn)),
    row!(
        "supply-lost",
        true,
        Row::soak("supply-lost", Asks(Question::PowerReturned, 0.1)).lasting(60.0)
    ),
    row!(
        "bake-too-long",
        true,
        Row::soak("none", Ends(0.2)).set(&["bake.limits.bake_max=\"4 min\""])
    ),
];
