//! The last minute before a trip, tick by tick: what the board took in and what it did about heat.
//!
//! ```text
//! # truesoak.black-box/1 {"board":"...","bake":3,"trip":"no-response"}
//! since_trip_s,air_c,air_says, ... ,drive,asks
//! -59.1,148.9921875,good, ...
//! # end rows=600 crc32=89abcdef
//! ```
//!
//! For the person who looks for the cause. Nothing is counted from it, and no command reads it.

use super::lines::Lines;
use super::number::{push_millis, push_reading, push_ticks, push_unsigned};
use serde::Serialize;
use std::io::{self, Write};
use truesoak_core::io::{Door, Heat, Question, Transfer};
use truesoak_core::units::Reading;
use truesoak_core::wire::tick_row::{Seen, TickRow};

/// What the first line begins with.
const FIRST_LINE: &str = "# truesoak.black-box/1 ";
/// The board numbers ticks up to this and begins again.
const TICK_NUMBERS: u16 = 1 << 14;
/// Columns, in order; a cell is empty where nothing is fitted or nothing was read.
const COLUMNS: [&str; 17] = [
    "since_trip_s",
    "air_c",
    "air_says",
    "air_age_ticks",
    "air_b_c",
    "air_b_says",
    "part_probe_c",
    "cold_junction_c",
    "door",
    "go",
    "stop",
    "permit_closed",
    "mains_at_heater",
    "airflow",
    "permit",
    "drive",
    "asks",
];

/// The first line.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct BlackBoxHeader {
    /// The board's own name.
    pub board: String,
    /// The bake's number.
    pub bake: u32,
    /// What tripped.
    pub trip: String,
}

/// Writes all of it: times count from the first tick with a latched trip, which is 0, or from the
/// last tick if none has one.
///
/// # Errors
/// When the output does not take it.
pub fn write_black_box(
    out: impl Write,
    header: &BlackBoxHeader,
    ticks: &[TickRow],
) -> io::Result<()> {
    let mut lines = Lines::new(out, FIRST_LINE, header, &COLUMNS)?;
    lines.end_line()?;
    let tripped = ticks.iter().find(|tick| tick.tripped).or(ticks.last());
    let zero = tripped.map_or(0, |tick| tick.tick);
    for tick in ticks {
        push_since(&mut lines.line, tick.tick, zero);
        push_row(&mut lines.line, tick);
        lines.end_row()?;
    }
    lines.finish()?;
    Ok(())
}

/// A number of ticks that wraps, as seconds before or after another.
fn push_since(line: &mut Vec<u8>, tick: u16, zero: u16) {
    let after = tick.wrapping_sub(zero) % TICK_NUMBERS;
    if after < TICK_NUMBERS / 2 {
        push_ticks(line, after.into());
    } else {
        line.push(b'-');
        push_ticks(line, (TICK_NUMBERS - after).into());
    }
}

fn push_row(line: &mut Vec<u8>, tick: &TickRow) {
    push_seen(line, Some(tick.air));
    line.push(b',');
    push_unsigned(line, tick.air_age.into());
    push_seen(line, tick.air_b);
    push_value(line, tick.part_probe);
    line.push(b',');
    if let Some(quarters) = tick.cold_junction_quarters {
        push_millis(line, f64::from(quarters) / 4.0);
    }
    let (permit, drive) = match tick.heat {
        Heat::Cut => (false, false),
        Heat::Allowed { drive } => (true, drive),
    };
    let flags = [
        tick.door.map(|door| door == Door::Open),
        Some(tick.go),
        Some(tick.stop),
        tick.permit_feedback,
        tick.mains_at_heater,
        tick.airflow,
        Some(permit),
        Some(drive),
    ];
    for flag in flags {
        line.push(b',');
        line.extend(flag.map(|flag| b'0' + u8::from(flag)));
    }
    line.push(b',');
    line.extend(tick.asks.map_or("", question_word).bytes());
}

fn push_seen(line: &mut Vec<u8>, seen: Option<Seen>) {
    push_value(line, seen.and_then(|seen| seen.reading));
    line.push(b',');
    line.extend(seen.map_or("", |seen| transfer_word(seen.transfer)).bytes());
}

fn push_value(line: &mut Vec<u8>, reading: Option<Reading>) {
    line.push(b',');
    if let Some(reading) = reading {
        push_reading(line, reading);
    }
}

fn transfer_word(transfer: Transfer) -> &'static str {
    match transfer {
        Transfer::Good => "good",
        Transfer::Open => "open",
        Transfer::Short => "short",
        Transfer::Silent => "silent",
        Transfer::Impossible => "impossible",
    }
}

fn question_word(question: Question) -> &'static str {
    match question {
        Question::LoadIn => "load_in",
        Question::Check => "check",
        Question::Wait => "wait",
        Question::AnythingNew => "anything-new",
        Question::DoorLeftOpen => "door-left-open",
        Question::PowerReturned => "power-returned",
        Question::Tripped => "tripped",
    }
}

#[cfg(test)]
mod tests {
    use super::super::CHECKSUM;
    use super::*;
    use truesoak_core::io::{Inputs, Outputs, Sample};
    use truesoak_core::units::{Celsius, Tick};

    #[test]
    fn a_minute_has_exactly_these_bytes_and_its_times_go_through_the_wrap() {
        let seen =
            |transfer| Sample { value: Celsius(149.0), transfer, age_ticks: 0, ..Sample::SILENT };
        let mut inputs = Inputs { air: seen(Transfer::Good), ..Inputs::NOTHING };
        inputs.cold_junction = Some(Celsius(24.25));
        inputs.door = Some(Door::Closed);
        let on = Outputs { heat: Heat::Allowed { drive: true }, ..Outputs::default() };
        let first = TickRow::of(Tick(16_382), &inputs, &on, false);
        inputs.air = seen(Transfer::Open);
        inputs.permit_feedback = Some(true);
        let cut = Outputs { asks: Some(Question::Tripped), ..Outputs::default() };
        let trip = TickRow::of(Tick(16_384 + 1), &inputs, &cut, true);
        let after = TickRow { tick: 11, ..trip };
        let header = BlackBoxHeader {
            board: "76".to_owned(),
            bake: 3,
            trip: "thermocouple-open".to_owned(),
        };
        let mut out = Vec::new();
        write_black_box(&mut out, &header, &[first, trip, after]).expect("memory takes it");
        let expected = concat!(
            "# truesoak.black-box/1 {\"board\":\"76\",\"bake\":3,\"trip\":\"thermocouple-open\"}\n",
            "since_trip_s,air_c,air_says,air_age_ticks,air_b_c,air_b_says,part_probe_c,",
            "cold_junction_c,door,go,stop,permit_closed,mains_at_heater,airflow,permit,drive,asks\n",
            "-0.3,149.0000000,good,0,,,,24.250,0,0,0,,,,1,1,\n",
            "0,149.0000000,open,0,,,,24.250,0,0,0,1,,,0,0,tripped\n",
            "1,149.0000000,open,0,,,,24.250,0,0,0,1,,,0,0,tripped\n",
        );
        let crc = CHECKSUM.checksum(expected.as_bytes());
        let expected = format!("{expected}# end rows=3 crc32={crc:08x}\n");
        assert_eq!(String::from_utf8(out).expect("UTF-8"), expected);
    }
}
