//! The wiring guide says what the program does, and its figures are right.
//!
//! Its table of lamp and beeper is the program's, its pins are the drawings', and what it computes
//! (the pump's hold time, boiling points, fuses) is computed again here, another way where there is
//! one.

mod drawings;
mod pump;
mod support;

use support::{drawings, file, guide, rows};
use truesoak_core::guard::TripKind;
use truesoak_core::person::{FAIL_TICKS, GO_MAX_TICKS, GO_TICKS};
use truesoak_core::sensor::Thermocouple;
use truesoak_core::units::{Celsius, TICKS_PER_SECOND};
use truesoak_firmware::person::signal::{SIGNALS, Signal, TripClass};

#[test]
fn the_guide_s_table_of_lamp_and_beeper_is_the_program_s() {
    let told = rows(&guide(), "| signal | beeper | lamp |");
    assert_eq!(told.len(), SIGNALS.len());
    for (row, signal) in told.iter().zip(SIGNALS) {
        let pattern = signal.pattern();
        let is = [signal.word().to_owned(), pattern.to_string(), pattern.lamp.to_string()];
        assert_eq!(row.get(..3), Some(&is[..]));
        assert!(row[3].len() > 6, "{}: what to do", signal.word());
    }
}

#[test]
fn the_guide_puts_every_kind_of_trip_under_the_signal_it_gives() {
    let told = rows(&guide(), "| trip | kinds |");
    assert_eq!(told.len(), TripClass::ALL.len());
    for (row, class) in told.iter().zip(TripClass::ALL) {
        let word = Signal::Trip(class).word();
        assert_eq!(Some(row[0].as_str()), word.strip_prefix("trip: "));
        let kinds = TripKind::ALL.into_iter().filter(|kind| TripClass::of(*kind) == class);
        let expected: Vec<_> = kinds.map(TripKind::word).collect();
        assert_eq!(row[1], expected.join(", "));
    }
}

#[test]
fn no_caution_and_no_part_of_the_mains_side_is_missing() {
    let guide = guide().replace('\n', " ");
    let from = guide.find("## Before anything else").expect("the cautions");
    let to = guide.find("## What it is made of").expect("the list of parts");
    let (cautions, parts) = (&guide[from..to], &guide[to..]);
    for caution in [
        "licensed electrician",
        "local code",
        "RCD, GFCI",
        "bonded to",
        "independent thermal cut-out",
        "wet with solvent",
        "vent to the open air",
        "used for food again",
        "No heat unattended",
        "proven dead",
    ] {
        assert!(cautions.contains(caution), "{caution}");
    }
    let drawing = file("wiring/mains.svg");
    for part in ["Q1", "F1", "F2", "F3", "K1", "A1", "B1", "G1", "T1", "S1", "S2", "V1", "D1"] {
        assert!(parts.contains(part) && drawing.contains(part), "{part}");
    }
    for words in ["own sensor", "reset by hand", "mirror contact", "on a heatsink", ">PE<"] {
        assert!(drawing.contains(words), "{words}");
    }
}

#[test]
fn the_buttons_are_explained_as_the_core_takes_them() {
    let seconds = |ticks: u32| ticks / TICKS_PER_SECOND;
    let told = format!("after {} to {} s", seconds(GO_TICKS), seconds(GO_MAX_TICKS));
    for page in ["wiring.md", "README.md", "../README.md"] {
        let text = file(page).replace('\n', " ");
        assert!(text.contains("it is let go") && text.contains(&told), "{page}: {told}");
    }
    for row in rows(&guide(), "| signal | beeper | lamp |") {
        let fails = row[3].matches("STOP held").count();
        let in_time = format!("STOP held {} s", seconds(FAIL_TICKS));
        assert_eq!(row[3].matches(&in_time).count(), fails, "{}", row[0]);
    }
}

/// A dry run is a bake, which the board refuses before its sensors were in both baths.
#[test]
fn the_steps_of_commissioning_are_in_order_and_each_is_signed_for() {
    let guide = guide();
    let from = guide.find("\n## Commissioning\n").expect("its chapter");
    let chapter = guide[from..].split("\n## One fault").next().expect("its end");
    let (steps, sign_off) = chapter.split_once("\n### Sign-off\n").expect("its table");
    let numbers: Vec<u32> = steps
        .lines()
        .filter_map(|line| line.strip_prefix("| ")?.split(' ').next()?.parse().ok())
        .filter(|number| *number <= 25)
        .collect();
    assert_eq!(numbers, Vec::from_iter(1..=25));
    let signed: Vec<u32> = rows(sign_off, "| steps | what |")
        .iter()
        .flat_map(|row| {
            let ends: Vec<u32> =
                row[0].split('–').map(|end| end.parse().expect("a step")).collect();
            ends[0]..=*ends.last().expect("an end")
        })
        .collect();
    assert_eq!(signed, numbers);
    let at = |words: &str| steps.find(words).unwrap_or_else(|| panic!("{words}"));
    assert!(at("| 13 | crushed ice") < at("a dry run:"));
    assert!(at("| 15 | take the two errors") < at("### E. Dry runs"));
}

#[test]
fn every_pin_of_the_table_is_in_the_drawing_under_its_number_and_no_other_is() {
    /// Named in the drawing as those nothing is wired to.
    const FREE: [u32; 2] = [7, 23];
    let drawing = file("wiring/low-voltage.svg");
    let table = rows(&guide(), "| pin | name | direction |");
    let mut told = Vec::new();
    for row in &table {
        let number = gpio_numbers(&row[0]).next().expect("a pin");
        assert!(!told.contains(&number), "GPIO{number} has one row");
        told.push(number);
        let label = row[1].trim_start_matches("UART ");
        let (after, before) = (format!(">GPIO{number} {label}"), format!(">{label} GPIO{number}<"));
        assert!(drawing.contains(&after) || drawing.contains(&before), "{after}");
    }
    let mut drawn: Vec<_> = gpio_numbers(&drawing).filter(|pin| !FREE.contains(pin)).collect();
    drawn.sort_unstable();
    assert_eq!(drawn, told, "in order, each once");
    for (name, pin, of) in
        [("pump", 28, "permit"), ("stages", 6, "drive"), ("stages", 12, "mains proof")]
    {
        assert!(file(&format!("wiring/{name}.svg")).contains(&format!(">GPIO{pin}<")));
        let row = table.iter().find(|row| row[1] == of).expect("a row");
        assert_eq!(row[0], format!("GPIO{pin}"));
    }
}

#[test]
fn the_rp2040_s_program_has_every_pin_where_the_guide_does_and_no_other() {
    let program = file("boards/rp2040/src/pins.rs");
    let pins = program.lines().filter_map(|line| line.trim().strip_prefix("Gpio"));
    let mut in_program: Vec<(u32, String)> = pins
        .map(|pin| {
            let (number, rest) = pin.split_once(" { name: ").expect("a pin's name");
            let name = rest.split([',', ' ']).next().expect("a name");
            (number.parse().expect("a number"), name.replace('_', " "))
        })
        .collect();
    in_program.sort_unstable();
    let told: Vec<(u32, String)> = rows(&guide(), "| pin | name | direction |")
        .iter()
        .map(|row| (gpio_numbers(&row[0]).next().expect("a pin"), row[1].to_lowercase()))
        .collect();
    assert_eq!(in_program, told);
    // The emulator's own names of some of them.
    let emulator = file("../tests/emulator/pins.mjs");
    let emulated =
        emulator.lines().filter_map(|line| line.trim().strip_suffix(',')?.split_once(": "));
    let emulated: Vec<(u32, String)> = emulated
        .map(|(name, number)| {
            let words = name.replace("Read", " read").replace("Proof", " proof");
            (number.parse().expect("a number"), words)
        })
        .collect();
    assert!(emulated.len() >= 15, "{emulated:?}");
    assert!(emulated.iter().all(|pin| told.contains(pin)), "{emulated:?}");
    // The two that are dropped without their owners, when the program has failed.
    let last_resort = file("boards/rp2040/src/outputs_off.rs");
    for (constant, pin) in [("PERMIT", "permit"), ("DRIVE", "drive")] {
        let (number, _) = told.iter().find(|(_, name)| name == pin).expect("its row");
        assert!(last_resort.contains(&format!("const {constant}: u32 = 1 << {number};")));
    }
}

/// RP2040 data sheet, 1.4.3 (GPIO functions): which pins SPI0, I2C0, UART0 and the counting input
/// of a PWM slice can be on.
#[test]
fn every_function_is_on_a_pin_where_the_chip_has_it() {
    let table = rows(&guide(), "| pin | name | direction |");
    let pin = |name: &str| {
        let row = table.iter().find(|row| row[1] == name).unwrap_or_else(|| panic!("{name}"));
        gpio_numbers(&row[0]).next().expect("a pin")
    };
    for (name, on) in [
        ("MISO", &[0, 4, 16, 20][..]),
        ("SCK", &[2, 6, 18, 22]),
        ("MOSI", &[3, 7, 19, 23]),
        ("SDA", &[0, 4, 8, 12, 16, 20]),
        ("SCL", &[1, 5, 9, 13, 17, 21]),
        ("UART TX", &[0, 12, 16, 28]),
        ("UART RX", &[1, 13, 17, 29]),
    ] {
        assert!(on.contains(&pin(name)), "{name}");
    }
    assert_eq!(pin("clock") % 2, 1, "only channel B of a PWM slice counts edges");
    let neighbours = |pin: u32| [pin.saturating_sub(1), pin + 1];
    assert!(!neighbours(pin("permit")).contains(&pin("clock")), "a bridge would pump");
    assert!(!neighbours(pin("permit")).contains(&pin("UART TX")));
    assert!(!neighbours(pin("permit")).contains(&pin("drive")));
}

#[test]
fn every_drawing_is_shown_and_every_picture_is_there() {
    let guide = guide();
    for (name, text) in drawings() {
        assert!(guide.contains(&format!("](wiring/{name})")), "{name} is shown");
        assert!(text.len() > 1_000, "{name}");
    }
    let shown = guide.matches("](wiring/").count();
    assert_eq!(shown, drawings().len());
}

#[test]
fn k_wire_read_as_t_is_wrong_at_the_boil_as_the_guide_says_and_two_points_find_it() {
    // NIST Monograph 175: type K gives 4.096 mV at 100 °C.
    let boils = Thermocouple::K.emf(Celsius(100.0)).expect("in range");
    assert!((boils.0 - 4_096.0).abs() < 1.0);
    let as_t = Thermocouple::T.temperature(boils).expect("in range");
    assert!((as_t.0 - 96.1).abs() < 0.05, "{as_t:?}");
    // Through a converter at 25 °C, as it is measured: the errors differ by more than 1.5 K.
    let cold = Celsius(25.0);
    let error = |wire: Thermocouple, read_as: Thermocouple, bath: f32| {
        let given = wire.emf(Celsius(bath)).expect("in range") - wire.emf(cold).expect("in range");
        (read_as.hot_junction(given, cold).expect("in range") - Celsius(bath)).0
    };
    for wire in Thermocouple::ALL {
        for read_as in Thermocouple::ALL.into_iter().filter(|read_as| *read_as != wire) {
            let (ice_k, boil_k) = (error(wire, read_as, 0.0), error(wire, read_as, 100.0));
            assert!((boil_k - ice_k).abs() > 1.5, "{wire:?} as {read_as:?}: {ice_k}, {boil_k}");
        }
    }
    assert!(guide().contains("4.096 mV is 100.0 °C by K and 96.1 °C by T"));
}

/// `1.25 × P / V` and the standard sizes of IEC 60269 and of North America, from memory.
#[test]
fn the_fuses_of_the_worked_example_are_the_next_size_up() {
    const SIZES_A: [f64; 8] = [2.0, 4.0, 6.0, 10.0, 16.0, 20.0, 25.0, 32.0];
    let worked = rows(&guide(), "| heater | current |");
    for (row, volts) in worked.iter().zip([120.0, 230.0]) {
        let current_a = 1_500.0 / volts;
        let size_a =
            SIZES_A.into_iter().find(|size_a| *size_a >= 1.25 * current_a).expect("a size");
        assert_eq!(row[1], format!("{current_a:.1} A"));
        assert!(number(&row[2]) - 1.25 * current_a < 0.06);
        assert!(row[3].starts_with(&format!("{size_a:.0} A")), "{}", row[3]);
        assert!((number(&row[5]) - 1.1 * current_a).abs() < 0.06, "at 10 % more");
    }
    assert_eq!(worked.len(), 2);
}

#[test]
fn water_boils_where_the_guide_says_by_pressure_by_height_and_by_its_own_formula() {
    let table = rows(&guide(), "| pressure, hPa |");
    assert_eq!(table.len(), 8);
    for row in &table {
        let (hpa, by_pressure) = (number(&row[0]), number(&row[1]));
        assert!((saturation_c(hpa) - by_pressure).abs() < 0.006, "{hpa} hPa");
        let away = hpa - 1_013.25;
        let formula = 99.97 + 0.0277 * away - 0.000_013_9 * away * away;
        assert!((formula - saturation_c(hpa)).abs() < 0.1, "{hpa} hPa: {formula}");
        let (height_m, by_height) = (number(&row[3]), number(&row[4]));
        // ICAO standard atmosphere, Doc 7488, troposphere.
        let pressure = 1_013.25 * (1.0 - 0.0065 * height_m / 288.15).powf(5.255_88);
        assert!((saturation_c(pressure) - by_height).abs() < 0.006, "{height_m} m");
    }
}

#[test]
fn the_saturation_temperature_used_here_is_the_standard_s_own_example() {
    // IAPWS-IF97, table 36.
    assert!((saturation_c(1_000.0) + 273.15 - 372.755_919).abs() < 1e-6);
    assert!((saturation_c(10_000.0) + 273.15 - 453.035_632).abs() < 1e-6);
}

/// Saturation temperature of water at a pressure, °C (IAPWS-IF97, region 4, equation 31).
fn saturation_c(hpa: f64) -> f64 {
    const N: [f64; 10] = [
        0.116_705_214_527_67e4,
        -0.724_213_167_032_06e6,
        -0.170_738_469_400_92e2,
        0.120_208_247_024_70e5,
        -0.323_255_503_223_33e7,
        0.149_151_086_135_30e2,
        -0.482_326_573_615_91e4,
        0.405_113_405_420_57e6,
        -0.238_555_575_678_49,
        0.650_175_348_447_98e3,
    ];
    let beta = (hpa * 1e-4).powf(0.25);
    let e = beta * beta + N[2] * beta + N[5];
    let f = N[0] * beta * beta + N[3] * beta + N[6];
    let g = N[1] * beta * beta + N[4] * beta + N[7];
    let d = 2.0 * g / (-f - (f * f - 4.0 * e * g).sqrt());
    let sum = N[9] + d;
    (sum - (sum * sum - 4.0 * (N[8] + N[9] * d)).sqrt()) / 2.0 - 273.15
}

/// The number a cell begins with.
fn number(cell: &str) -> f64 {
    let digits = cell.trim_end_matches(|c: char| !c.is_ascii_digit());
    digits.parse().unwrap_or_else(|_| panic!("no number: {cell}"))
}

/// Every pin number that follows "GPIO" in a text.
fn gpio_numbers(text: &str) -> impl Iterator<Item = u32> {
    text.match_indices("GPIO").filter_map(|(at, found)| {
        let digits: String =
            text[at + found.len()..].chars().take_while(char::is_ascii_digit).collect();
        digits.parse().ok()
    })
}
