//! A made-up but plausible bake for the tests of logs, words and pictures: an oven preheated to
//! 163 °C, opened for 100 s to hang parts, held until 60 min are counted, then cooled. The model is
//! three first-order lags; it stands for nothing but the shape of the curves.
#![allow(dead_code)] // every test file uses a part of it

pub(crate) mod rehearsed;

use truesoak::log::{End, Flags, Header, Log, Phase, Reading, RehearsalHeader, Row, Source};

/// Window of the soak, °C.
pub(crate) const WINDOW_C: (f64, f64) = (149.0, 177.0);
/// When the door opens and closes, s.
pub(crate) const DOOR_S: (u32, u32) = (1_800, 1_900);
/// Name and the slow and fast time constant of each part, s.
pub(crate) const PARTS: [(&str, f64, f64); 3] = [
    ("rear hub shell", 620.0, 520.0),
    ("brake lever", 330.0, 170.0),
    ("bottom-bracket shell", 1_050.0, 900.0),
];

/// What is integrated.
struct Oven {
    air_c: f64,
    reading_c: f64,
    slow_c: [f64; PARTS.len()],
    fast_c: [f64; PARTS.len()],
    coldest_c: f64,
    hottest_c: f64,
    credit_s: u32,
}

/// A whole bake as a log, noise from a small fixed generator.
pub(crate) fn bake_log() -> Log {
    bake_log_of(163.0)
}

/// The same with another setpoint.
pub(crate) fn bake_log_of(setpoint_c: f64) -> Log {
    let mut oven = Oven {
        air_c: 20.0,
        reading_c: 20.0,
        slow_c: [20.0; PARTS.len()],
        fast_c: [20.0; PARTS.len()],
        coldest_c: 15.0,
        hottest_c: 21.0,
        credit_s: 0,
    };
    let mut header = Header::of(Source::Rehearsal);
    header.bake = Some(BAKE.to_owned());
    header.oven = Some("name = \"Garage cabinet\"\n".to_owned());
    header.load = Some("name = \"Hubs, levers and a shell\"\n".to_owned());
    header.rehearsal = Some(RehearsalHeader {
        seed: 1,
        draw: None,
        plant: Vec::new(),
        by_the_clock: false,
        truth: RehearsalHeader::TRUTH.to_owned(),
    });
    let mut truth: Vec<(String, Vec<f64>)> = Vec::new();
    for (name, _, _) in PARTS {
        truth.push((format!("true:{name}"), Vec::new()));
        truth.push((format!("true_hottest:{name}"), Vec::new()));
    }
    let mut log = Log { header, rows: Vec::new(), truth, end: End::Complete };
    let mut noise = 12_345_u32;
    let mut second = 0;
    let mut done_at = None;
    while done_at.is_none_or(|done| second < done + 1_500) {
        noise = noise.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        let jitter = f64::from(noise >> 16) / 65_536.0 - 0.5;
        let row = oven.second(second, setpoint_c, jitter, done_at);
        if row.credit_s >= 3_600 && done_at.is_none() {
            done_at = Some(second);
        }
        push(&mut log, &oven, row, second);
        second += 1;
    }
    log
}

fn push(log: &mut Log, oven: &Oven, row: Row, second: u32) {
    let inside = row.coldest_c.is_some();
    let event = match second {
        0 => "bake begins",
        1_500 => "load-in asked",
        1_800 => "door opened",
        1_900 => "door closed",
        1_905 => "answered \"go\" after 405 s",
        _ => "",
    };
    let values = |part: usize| {
        let show = |value: f64| if inside { value } else { f64::NAN };
        [show(oven.slow_c[part]), show(oven.fast_c[part])]
    };
    if !event.is_empty() {
        let event = Row { event: event.to_owned(), ..row.clone() };
        log.rows.push(event);
        for (column, value) in log.truth.iter_mut().zip((0..PARTS.len()).flat_map(values)) {
            column.1.push(value);
        }
    }
    log.rows.push(row);
    for (column, value) in log.truth.iter_mut().zip((0..PARTS.len()).flat_map(values)) {
        column.1.push(value);
    }
}

impl Oven {
    fn second(&mut self, second: u32, setpoint_c: f64, jitter: f64, done: Option<u32>) -> Row {
        let inside = second >= DOOR_S.1;
        let door_open = (DOOR_S.0..DOOR_S.1).contains(&second);
        let heated = done.is_none() && !door_open;
        let wanted =
            (0.06 * (setpoint_c - self.air_c) + 0.0034 * (self.air_c - 20.0)).clamp(0.0, 1.0);
        let duty = if heated { wanted } else { 0.0 };
        let load = if inside { 0.000_9 * (self.air_c - self.slow_c[0]) } else { 0.0 };
        let loss = if door_open { 0.013 } else { 0.000_40 };
        self.air_c += duty * 0.20 - loss * (self.air_c - 20.0) - load;
        self.reading_c += (self.air_c - self.reading_c) / 12.0;
        if inside {
            for (part, (_, slow_s, fast_s)) in PARTS.into_iter().enumerate() {
                self.slow_c[part] += (self.air_c - 2.0 - self.slow_c[part]) / slow_s;
                self.fast_c[part] += (self.air_c + 1.5 - self.fast_c[part]) / fast_s;
            }
            self.coldest_c += (self.air_c - 6.0 - self.coldest_c) / 1_300.0;
            self.hottest_c += (self.air_c + 5.0 - self.hottest_c) / 150.0;
        }
        let counts = inside && self.coldest_c >= WINDOW_C.0 && self.hottest_c <= WINDOW_C.1;
        if counts && done.is_none() {
            self.credit_s += 1;
        }
        let (step, phase) = match (second, done) {
            (_, Some(_)) => (4, Phase::Cool),
            (0..1_500, _) => (1, Phase::Ramp),
            (1_500..1_905, _) => (2, Phase::LoadIn),
            _ if counts => (3, Phase::Soak),
            _ if self.reading_c < setpoint_c - 1.0 => (3, Phase::Recover),
            _ => (3, Phase::Approach),
        };
        Row {
            tick: second * 10,
            air: Some(Reading(((self.reading_c + 0.2 * jitter) * 128.0).round() as i32)),
            setpoint_c: done.is_none().then_some(setpoint_c),
            on_ticks: (duty * 10.0 + jitter).round().clamp(0.0, 10.0) as u8,
            permit: heated,
            door_open: Some(door_open),
            step,
            phase,
            coldest_c: inside.then(|| thousandths(self.coldest_c)),
            hottest_c: inside.then(|| thousandths(self.hottest_c)),
            credit_s: self.credit_s,
            flags: Flags { projected: second % 997 == 5, ..Flags::default() },
            ..Row::default()
        }
    }
}

/// As a log keeps it.
pub(crate) fn thousandths(value: f64) -> f64 {
    (value * 1_000.0).round() / 1_000.0
}

/// The same log as bytes.
pub(crate) fn bytes_of(log: &Log) -> Vec<u8> {
    let names: Vec<String> = log.truth.iter().map(|(name, _)| name.clone()).collect();
    let mut writer =
        truesoak::log::Writer::new(Vec::new(), &log.header, &names).expect("memory takes it");
    let mut truths = Vec::new();
    for (index, row) in log.rows.iter().enumerate() {
        truths.clear();
        truths.extend(log.truth.iter().map(|(_, values)| values[index]));
        writer.row(row, &truths).expect("memory takes it");
    }
    writer.finish().expect("memory takes it")
}

/// The bake file of the made-up bake.
pub(crate) const BAKE: &str = r#"name = "Gas-out, hubs and levers"
oven = "garage-cabinet.toml"
load = "hubs-levers-shell.toml"

[limits]
air_max = "200 °C"

[[step]]
name = "preheat"
ramp = { to = "163 °C" }

[[step]]
load_in = { at = "163 °C" }

[[step]]
name = "gas-out"
soak = { purpose = "gas-out", at_least = "149 °C", at_most = "177 °C", for = "60 min" }

[[step]]
cool = { to = "60 °C", on = "parts" }
"#;
