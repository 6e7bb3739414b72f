//! A survey finds the steady interval and what each place was off in it; what was put into the
//! table comes out again. The method's source is named in `truesoak::survey`.

use truesoak::report::units::Units;
use truesoak::survey::readings::{Naming, Readings, parse};
use truesoak::survey::{STEADY_S, survey};

const PLACES: [(&str, f64); 5] =
    [("bottom left", -3.1), ("bottom right", -2.2), ("middle", 0.2), ("top", 1.4), ("door", 2.3)];

/// A survey written by hand: an oven that nears 150 °C with this time constant, its heater swinging
/// all sensors by 2 K every 4 min.
fn table(minutes: u32, constant_s: f64, more: impl Fn(f64, usize) -> f64) -> String {
    let mut text = "t_s,control,bottom left,bottom right,middle,top,door\n".to_owned();
    for second in (0..60 * minutes).step_by(10) {
        let t_s = f64::from(second);
        let swing = 2.0 * (t_s * std::f64::consts::TAU / 240.0).sin();
        let control = 20.0 + 130.0 * (1.0 - (-t_s / constant_s).exp()) + swing;
        text.push_str(&format!("{second},{control:.3}"));
        for (index, (_, off_k)) in PLACES.iter().enumerate() {
            let heated = (control - 20.0) / 130.0;
            text.push_str(&format!(",{:.3}", control + off_k * heated + more(t_s, index)));
        }
        text.push('\n');
    }
    text
}

fn read(text: &str) -> Readings {
    parse(text, &Naming::default()).unwrap_or_else(|error| panic!("{error}"))
}

#[test]
fn what_was_put_into_the_table_comes_out() {
    let found = survey(&read(&table(120, 600.0, |_, _| 0.0))).unwrap();
    assert!(found.from_s > 2_000.0 && found.to_s - found.from_s > STEADY_S, "{found:?}");
    assert!((found.control_c - 150.0).abs() < 0.5, "{found:?}");
    for (place, (name, off_k)) in found.places.iter().zip(PLACES) {
        assert_eq!(place.name, name);
        assert!((place.deviation_k - off_k).abs() < 0.1, "{place:?}");
        // A swing of 2 K either way is not what a part would follow.
        assert!(place.greatest_k - place.least_k < 0.1, "{place:?}");
    }
    assert_eq!(found.coldest().unwrap().name, "bottom left");
    assert_eq!(found.hottest().unwrap().name, "door");
    assert!((found.cold_spot_k(0.0) - 3.15).abs() < 0.1, "{}", found.cold_spot_k(0.0));
    assert!((found.hot_spot_k(0.5) - 2.85).abs() < 0.1, "{}", found.hot_spot_k(0.5));
}

#[test]
fn a_spot_is_never_less_than_nothing() {
    let warm = table(120, 600.0, |_, _| 5.0);
    let found = survey(&read(&warm)).unwrap();
    assert!(found.cold_spot_k(0.0).abs() < 1e-9, "{found:?}");
    assert!((found.hot_spot_k(0.0) - 7.3).abs() < 0.15, "{found:?}");
}

#[test]
fn the_interval_ends_where_the_heater_is_switched_off() {
    let off = |t_s: f64, _: usize| if t_s > 7_200.0 { -(t_s - 7_200.0) / 100.0 } else { 0.0 };
    let found = survey(&read(&table(180, 600.0, off))).unwrap();
    assert!((6_900.0..7_500.0).contains(&found.to_s), "{found:?}");
}

#[test]
fn an_oven_that_never_settles_is_refused_by_the_place_that_still_drifts() {
    let creeps = |t_s: f64, index: usize| if index == 3 { t_s / 600.0 } else { 0.0 };
    let why = survey(&read(&table(120, 600.0, creeps))).unwrap_err();
    assert!(why.what.contains("\"top\" still rises by "), "{why:?}");
    assert!(why.next.contains("longer"), "{why:?}");
}

#[test]
fn a_short_a_cold_and_a_torn_survey_are_refused_with_the_reason() {
    let why = survey(&read(&table(29, 600.0, |_, _| 0.0))).unwrap_err();
    assert!(why.what.contains("cover 29 min"), "{why:?}");
    let why = survey(&read(&table(120, 1e9, |_, _| 0.0))).unwrap_err();
    assert!(why.what.contains("cold"), "{why:?}");
    let whole = table(120, 600.0, |_, _| 0.0);
    let torn: String = whole
        .lines()
        .map(|line| {
            let second = line.split(',').next().and_then(|t| t.parse::<u32>().ok());
            // One sensor fails for 3 min in every 20.
            match (second, line.rsplit_once(',')) {
                (Some(second), Some((rest, _))) if second % 1_200 < 180 => format!("{rest},\n"),
                _ => format!("{line}\n"),
            }
        })
        .collect();
    let why = survey(&read(&torn)).unwrap_err();
    assert!(why.what.contains("gap"), "{why:?}");
}

#[test]
fn fahrenheit_gives_the_same_survey() {
    let celsius = table(120, 600.0, |_, _| 0.0);
    let mut fahrenheit = String::new();
    for (number, line) in celsius.lines().enumerate() {
        let (time, cells) = line.split_once(',').unwrap();
        let turned = cells.split(',').map(|cell| match cell.parse::<f64>() {
            Ok(value) if number > 0 => format!("{:.3}", value * 1.8 + 32.0),
            _ => cell.to_owned(),
        });
        fahrenheit.push_str(&format!("{time},{}\n", turned.collect::<Vec<_>>().join(",")));
    }
    let naming = Naming { units: Units::Fahrenheit, ..Naming::default() };
    let one = survey(&read(&celsius)).unwrap();
    let other = survey(&parse(&fahrenheit, &naming).unwrap()).unwrap();
    for (one, other) in one.places.iter().zip(&other.places) {
        assert!((one.deviation_k - other.deviation_k).abs() < 2e-3, "{one:?} {other:?}");
    }
}
