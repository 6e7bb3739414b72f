//! Reads what is wired to an oven: sensors, door, drive, contactor, and what is known about them.

use super::oven::{
    Calibration, Cavity, Circulation, Door, Drive, Permit, Probe, Sensor, Spread, Tuning,
};
use super::quantity::Dimension::{Difference, Duration, Length, PerKelvin, Temperature};
use super::read_oven::with_section;
use super::reader::{Range, Section};
use truesoak_core::sensor::{Kind, Platinum, Thermocouple};

const KINDS: &[(&str, Kind)] = &[
    ("thermocouple K", Kind::Thermocouple(Thermocouple::K)),
    ("thermocouple J", Kind::Thermocouple(Thermocouple::J)),
    ("thermocouple T", Kind::Thermocouple(Thermocouple::T)),
    ("thermocouple N", Kind::Thermocouple(Thermocouple::N)),
    ("Pt100", Kind::Resistance(Platinum::Pt100)),
    ("Pt1000", Kind::Resistance(Platinum::Pt1000)),
];
/// A sensor slower than this is no air sensor: with 10 min the air passes its limit unseen.
const LAG: Range = Range::Within(0.1, 300.0, "from 0.1 s to 5 min");
/// A side of a doorway.
const OPENING: Range = Range::Within(0.01, 5.0, "from 1 cm to 5 m");
/// Factors that a fit or a timed heat-up may come to.
const FACTOR: (f64, f64) = (0.2, 6.0);
const RESOLUTION: Range = Range::Within(1e-4, 2.0, "from 0.0001 °C to 2 °C");

/// The kind of sensor of this name, as oven files have it.
#[must_use]
pub fn sensor_kind(name: &str) -> Option<Kind> {
    KINDS.iter().find(|(known, _)| *known == name).map(|(_, kind)| *kind)
}

/// The air sensor.
pub(super) fn sensor(root: &Section<'_>) -> Sensor {
    with_section(root, "sensor", |section| Sensor {
        kind: section.choice_or(
            "kind",
            KINDS,
            Kind::Thermocouple(Thermocouple::K),
            "common practice: the cheapest that stands an oven",
        ),
        lag_s: section.quantity_or("lag", Duration, LAG, "12 s", "GUESS: 3 mm sheath in slow air"),
        wall_view: section.number_or(
            "wall_view",
            (0.0, 0.9),
            0.1,
            "GUESS: a bare sheath trades a tenth of its heat with the walls",
        ),
        noise_k: section.quantity_or(
            "noise",
            Difference,
            Range::Within(0.0, 10.0, "from 0 °C to 10 °C"),
            "0.1 °C",
            "GUESS: converter with a filter at mains frequency",
        ),
        resolution_k: section.quantity_or(
            "resolution",
            Difference,
            RESOLUTION,
            "0.25 °C",
            "from memory: the usual 14-bit thermocouple converter",
        ),
        correction_k: section.quantity_or(
            "correction",
            Difference,
            Range::Within(-50.0, 50.0, "from -50 °C to 50 °C"),
            "0 °C",
            "not yet checked against ice and boiling water",
        ),
    })
}

/// The second air sensor, like the first where nothing is said.
pub(super) fn sensor_b(root: &Section<'_>, first: &Sensor) -> Option<Sensor> {
    let section = root.section("sensor_b")?;
    let like = "as the first sensor";
    let or = |key: &str, given: Option<f64>, value: f64| {
        given.unwrap_or_else(|| {
            section.defaulted(key, &value.to_string(), like);
            value
        })
    };
    let kind = section.choice("kind", KINDS).unwrap_or(first.kind);
    let noise = Range::Within(0.0, 10.0, "from 0 °C to 10 °C");
    let correction = Range::Within(-50.0, 50.0, "from -50 °C to 50 °C");
    let sensor = Sensor {
        kind,
        lag_s: or("lag", section.quantity("lag", Duration, LAG), first.lag_s),
        wall_view: or("wall_view", section.number("wall_view", 0.0, 0.9), first.wall_view),
        noise_k: or("noise", section.quantity("noise", Difference, noise), first.noise_k),
        resolution_k: or(
            "resolution",
            section.quantity("resolution", Difference, RESOLUTION),
            first.resolution_k,
        ),
        correction_k: or("correction", section.quantity("correction", Difference, correction), 0.0),
    };
    section.finish();
    Some(sensor)
}

/// The probe for a part: read by a converter like the air sensor's where nothing is said.
pub(super) fn probe(root: &Section<'_>, air: &Sensor) -> Probe {
    let noise = Range::Within(0.0, 10.0, "from 0 °C to 10 °C");
    let like = "as the air sensor's";
    with_section(root, "probe", |section| {
        let or = |key: &str, given: Option<f64>, value: f64| {
            given.unwrap_or_else(|| {
                section.defaulted(key, &format!("{value} °C"), like);
                value
            })
        };
        Probe {
            lag_s: section.quantity_or("lag", Duration, LAG, "4 s", "GUESS: clamped to metal"),
            noise_k: or("noise", section.quantity("noise", Difference, noise), air.noise_k),
            resolution_k: or(
                "resolution",
                section.quantity("resolution", Difference, RESOLUTION),
                air.resolution_k,
            ),
            offset_k: section.quantity_or(
                "offset",
                Difference,
                Range::Within(0.0, 20.0, "from 0 °C to 20 °C"),
                "1.1 °C",
                "from memory: wire of special limits of error, types J, K and N",
            ),
        }
    })
}

/// The door, as wide and high as the cavity where nothing is said.
pub(super) fn door(root: &Section<'_>, cavity: Cavity) -> Door {
    with_section(root, "door", |section| {
        let side = |key: &'static str, cavity_m: f64| {
            section.quantity(key, Length, OPENING).unwrap_or_else(|| {
                let source = "as large as the cavity behind it";
                section.defaulted(key, &format!("{:.0} mm", cavity_m * 1000.0), source);
                cavity_m
            })
        };
        let door = Door {
            switch: section.flag_or("switch", true, "the wiring guide asks for one"),
            width_m: side("width", cavity.width_m),
            height_m: side("height", cavity.height_m),
            discharge: section.number_or(
                "discharge",
                (0.05, 1.0),
                0.6,
                "Brown and Solvason 1962: two-way exchange through a rectangular opening",
            ),
        };
        for (key, door_m, cavity_m) in
            [("width", door.width_m, cavity.width_m), ("height", door.height_m, cavity.height_m)]
        {
            if door_m > cavity_m * 1.001 {
                let what = format!("the door's {key} is greater than the cavity's");
                section.report(
                    key,
                    what,
                    "a doorway no larger than the cavity",
                    format!("measure the opening's {key}"),
                );
            }
        }
        door
    })
}

/// The drive.
pub(super) fn drive(root: &Section<'_>) -> Drive {
    // Measured on five bakes: 3 s on or 10 s off look like a welded drive on a draw of twelve or
    // more, 2.5 s and 5 s on none.
    let on = Range::Within(0.1, 2.5, "from 0.1 s to 2.5 s");
    let off = Range::Within(0.1, 5.0, "from 0.1 s to 5 s");
    let source = "common practice: whole mains cycles of a solid-state relay, no more often";
    with_section(root, "drive", |section| Drive {
        minimum_on_s: section.quantity_or("minimum_on", Duration, on, "1 s", source),
        minimum_off_s: section.quantity_or("minimum_off", Duration, off, "1 s", source),
    })
}

/// The contactor and its pump.
pub(super) fn permit(root: &Section<'_>) -> Permit {
    with_section(root, "permit", |section| Permit {
        feedback: section.flag_or("feedback", true, "the wiring guide asks for a mirror contact"),
        mains_proof: section.flag_or("mains_proof", false, "common practice: none fitted"),
        hold_s: section.quantity_or(
            "hold",
            Duration,
            Range::Within(0.3, 0.8, "from 0.3 s to 0.8 s"),
            "0.5 s",
            "the middle of what the wiring guide allows",
        ),
    })
}

/// The oven's own limit.
pub(super) fn air_max(root: &Section<'_>) -> f64 {
    with_section(root, "limits", |section| {
        section.quantity_or(
            "air_max",
            Temperature,
            Range::Within(40.0, 600.0, "from 40 °C to 600 °C"),
            "230 °C",
            "GUESS: below where the binder of mineral wool burns out",
        )
    })
}

/// Factors written by `fit`.
pub(super) fn calibration(root: &Section<'_>, circulation: Circulation) -> Calibration {
    let usual = Calibration::default();
    let (stirred, why) = match circulation {
        Circulation::Natural => (
            3.0,
            "GUESS: the heater's plume stirs the cabinet; an empty 60 L one then heats to 150 °C in \
             seven to eight minutes at 1.5 kW",
        ),
        Circulation::Fan { .. } => (1.0, "the fan's own film"),
    };
    with_section(root, "calibration", |section| {
        let factor = |key: &'static str, value: f64| {
            section.number_or(key, FACTOR, value, "not yet fitted to a logged bake")
        };
        Calibration {
            losses: factor("losses", usual.losses),
            wall_heat_capacity: factor("wall_heat_capacity", usual.wall_heat_capacity),
            part_exchange: factor("part_exchange", usual.part_exchange),
            heater_power: factor("heater_power", usual.heater_power),
            liner_exchange: section.number_or("liner_exchange", (0.1, 20.0), stirred, why),
        }
    })
}

/// What is not known.
pub(super) fn spread(root: &Section<'_>) -> Spread {
    with_section(root, "spread", |section| {
        let fraction = |key: &'static str, value: f64, source: &str| {
            section.number_or(key, (0.0, 0.9), value, source)
        };
        let kelvins = |key: &'static str, value: &str, source: &str| {
            section.quantity_or(
                key,
                Difference,
                Range::Within(0.0, 50.0, "from 0 °C to 50 °C"),
                value,
                source,
            )
        };
        Spread {
            losses: fraction("losses", 0.25, "GUESS: seams, seals and settled wool"),
            wall_heat_capacity: fraction("wall_heat_capacity", 0.2, "GUESS: sheet and frame"),
            part_exchange: fraction(
                "part_exchange",
                0.35,
                "GUESS: correlations of free convection hold to 20 %, surfaces vary more",
            ),
            heater_power: fraction("heater_power", 0.15, "mains ± 6 % is power ± 12 %, and wear"),
            radiant_share: section.number_or("radiant_share", (0.0, 0.2), 0.1, "GUESS"),
            wall_view: fraction("wall_view", 0.05, "GUESS"),
            sensor_lag: fraction("sensor_lag", 0.3, "GUESS: differs with where the air passes"),
            sensor_offset_k: kelvins(
                "sensor_offset",
                "2.2 °C",
                "IEC 60584-1, the usual tolerance of type K up to 290 °C (from memory)",
            ),
            cold_spot_k: kelvins("cold_spot", "4 °C", "GUESS until a survey is made"),
            hot_spot_k: kelvins("hot_spot", "3 °C", "GUESS until a survey is made"),
        }
    })
}

/// The user's own tuning.
pub(super) fn tuning(root: &Section<'_>) -> Option<Tuning> {
    let section = root.section("tuning")?;
    if section.present(&["gain", "integral_time", "derivative_time"]).is_empty() {
        // A heading without keys asks for nothing.
        section.finish();
        return None;
    }
    let tuning = Tuning {
        gain_per_k: section.need_quantity(
            "gain",
            PerKelvin,
            Range::Within(1e-5, 10.0, "from 0.001 %/K to 1000 %/K"),
        ),
        integral_time_s: section.need_quantity(
            "integral_time",
            Duration,
            Range::Within(1.0, 36_000.0, "from 1 s to 10 h"),
        ),
        derivative_time_s: section.quantity_or(
            "derivative_time",
            Duration,
            Range::Within(0.0, 3600.0, "from 0 s to 1 h"),
            "0 s",
            "none given",
        ),
    };
    section.finish();
    Some(tuning)
}
