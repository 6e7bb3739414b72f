//! Every way of writing a quantity that is promised, and every refusal with its repair.

use super::Dimension::{self, *};
use super::{Scale, parse, scale_of};

/// Reads as this, to rounding.
#[track_caller]
fn reads(text: &str, dimension: Dimension, wanted: f64) {
    let found = parse(text, dimension).unwrap_or_else(|complaint| panic!("{text}: {complaint:?}"));
    assert!((found - wanted).abs() <= 1e-12 * wanted.abs().max(1.0), "{text}: {found}");
}

/// Is refused with these words in what is wrong and in what to do.
#[track_caller]
fn refused(text: &str, dimension: Dimension, what: &str, next: &str) {
    let complaint = parse(text, dimension).expect_err(text);
    assert!(complaint.what.contains(what), "{text}: {complaint:?}");
    assert!(complaint.next.contains(next), "{text}: {complaint:?}");
    assert!(complaint.expected.starts_with(dimension.name()), "{text}: {complaint:?}");
}

#[test]
fn temperatures_read_on_every_scale_however_the_degree_is_written() {
    let f300 = (300.0 - 32.0) * 5.0 / 9.0;
    for text in ["300 °F", "300F", "300 degF", "300 deg F", "300 ° F", "300℉", " 300 Fahrenheit "]
    {
        reads(text, Temperature, f300);
        assert_eq!(scale_of(text), Some(Scale::Fahrenheit), "{text}");
    }
    for text in ["149 °C", "149C", "149 degC", "149 degrees C", "149℃", "149 celsius"] {
        reads(text, Temperature, 149.0);
        assert_eq!(scale_of(text), Some(Scale::Celsius), "{text}");
    }
    reads("422.15 K", Temperature, 149.0);
    reads("-40 °F", Temperature, -40.0);
    reads("−40 °C", Temperature, -40.0);
    reads("0 K", Temperature, -273.15);
}

/// Whole degrees Celsius stay exact: windows are compared with them.
#[test]
fn whole_degrees_celsius_are_exact() {
    for whole in [-40_i32, 20, 149, 177, 230] {
        let found = parse(&format!("{whole} °C"), Temperature).unwrap();
        assert_eq!(found.to_bits(), f64::from(whole).to_bits());
    }
}

#[test]
fn a_difference_in_fahrenheit_scales_without_the_32() {
    reads("9 °F", Difference, 5.0);
    reads("-18 °F", Difference, -10.0);
    reads("4 °C", Difference, 4.0);
    reads("4 K", Difference, 4.0);
    reads("9 °F/min", Rate, 5.0 / 60.0);
    reads("6 °C/min", Rate, 0.1);
    reads("2 %/K", PerKelvin, 0.02);
}

/// Inch, foot, pound and ounce by the international yard and pound agreement of 1959.
#[test]
fn lengths_areas_and_masses_read_in_shop_and_metric_units() {
    for (text, metres) in [
        ("2 m", 2.0),
        ("40 cm", 0.4),
        ("4 mm", 0.004),
        ("1 in", 0.0254),
        ("2 ft", 0.6096),
        ("1 1/2 in", 0.0381),
        ("1-1/2 in", 0.0381),
        ("1½ in", 0.0381),
        ("3/8 in", 0.009_525),
        ("5 ft 3 in", 1.6002),
        ("1.5e2 mm", 0.15),
        (".5 in", 0.0127),
    ] {
        reads(text, Length, metres);
    }
    for (text, m2) in [
        ("2 m2", 2.0),
        ("120 cm2", 0.012),
        ("18 in2", 18.0 * 0.0254 * 0.0254),
        ("3 ft2", 3.0 * 0.3048 * 0.3048),
        ("2 m²", 2.0),
        ("18 sq in", 18.0 * 0.0254 * 0.0254),
    ] {
        reads(text, Area, m2);
    }
    for (text, kg) in [
        ("0.9 kg", 0.9),
        ("62 g", 0.062),
        ("2 lb", 2.0 * 0.453_592_37),
        ("4 oz", 0.25 * 0.453_592_37),
        ("2 lb 4 oz", 2.25 * 0.453_592_37),
    ] {
        reads(text, Mass, kg);
    }
}

#[test]
fn powers_times_and_what_materials_have_read() {
    reads("1500 W", Power, 1500.0);
    reads("1.5 kW", Power, 1500.0);
    reads("120 V", Voltage, 120.0);
    reads("12.5 A", Current, 12.5);
    for text in ["90 min", "1 h 30 min", "1h30min", "1.5 h", "5400 s", "1 1/2 h"] {
        reads(text, Duration, 5400.0);
    }
    reads("400 ft/min", Speed, 400.0 * 0.3048 / 60.0);
    reads("8800 kg/m3", Density, 8800.0);
    reads("60 W/(m K)", Conductivity, 60.0);
    reads("60 W/m K", Conductivity, 60.0);
    reads("900 J/(kg K)", SpecificHeat, 900.0);
    reads("0.9 kJ/kgK", SpecificHeat, 900.0);
    reads("6 kJ/K", HeatCapacity, 6000.0);
    reads("0.5 W/°C", Conductance, 0.5);
    // 1055.05585262 J in a pound of water warmed by 1 °F: 4186.8 J/(kg K), the calorie.
    reads("1 BTU/(lb °F)", SpecificHeat, 4186.8);
}

#[test]
fn what_people_get_wrong_is_refused_with_its_repair() {
    refused("149", Temperature, "149 has no unit", "\"149 °C\" or \"149 °F\"");
    refused("149,5 °C", Temperature, "a comma in the number", "\"149.5 °C\"");
    refused("“149 °C”", Temperature, "a quotation mark", "write the unit in letters");
    refused("5′ 3″", Length, "a quotation mark", "ft for feet");
    for gauge in ["18 ga", "18 gauge", "16 AWG", "20swg"] {
        refused(gauge, Length, "gauge number", "measure the thickness");
    }
    refused("40 kg", Length, "is a mass, not a length", "40 cm");
    refused("40 cm", Temperature, "is a length, not a temperature", "149 °C");
    refused("4 °C", Length, "is a temperature", "40 cm");
    refused("60 mim", Duration, "not known: mim", "did you mean \"min\"?");
    refused("nan °C", Temperature, "not a number that can be used", "ordinary number");
    refused("inf °C", Temperature, "not a number that can be used", "ordinary number");
    refused("1e400 °C", Temperature, "not a number that can be used", "ordinary number");
    refused("-300 °C", Temperature, "below absolute zero", "check the sign");
    refused("-500 °F", Temperature, "below absolute zero", "check the sign");
    refused("1/0 in", Length, "divides by zero", "fraction");
    refused("", Mass, "an empty text", "62 g");
    refused("heavy", Mass, "has no number", "start with the number");
    refused("149 °C 150 °C", Temperature, "not known", "°C");
    refused(&"9".repeat(300), Power, "too long", "one number and its unit");
}

/// Pieces of quantities in any order: an answer or a complaint, never a panic.
#[test]
fn no_text_panics() {
    let pieces =
        ["1", "/", "2", " ", "-", "½", "°", "F", "in", "2", "e", "9", ".", "(", ")", "K", "²"];
    let mut state = 1_u64;
    for _ in 0..20_000 {
        let mut text = String::new();
        for _ in 0..8 {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
            text.push_str(pieces[(state >> 33) as usize % pieces.len()]);
        }
        for dimension in [Temperature, Length, Duration, Conductivity] {
            match parse(&text, dimension) {
                Ok(value) => assert!(value.is_finite(), "{text}: {value}"),
                Err(complaint) => assert!(!complaint.next.is_empty(), "{text}"),
            }
        }
        let _ = scale_of(&text);
    }
}
