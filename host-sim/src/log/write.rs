//! Writing a log row by row.

use std::io::{self, Write};

use super::lines::Lines;
use super::number::{push_millis, push_reading, push_ticks, push_unsigned};
use super::{COLUMNS, FIRST_LINE, Header, Row};

/// Streams a log: header and column names at once, then rows, then [`Writer::finish`].
///
/// Every line goes out whole. A writer that is dropped or interrupted leaves a log without its
/// last line, which the reader takes as torn and keeps.
pub struct Writer<W: Write> {
    lines: Lines<W>,
    truths: usize,
}

impl<W: Write> Writer<W> {
    /// Writes the first two lines. `truth` are the names of the columns after `event`.
    ///
    /// # Errors
    /// When the output does not take them.
    pub fn new(out: W, header: &Header, truth: &[String]) -> io::Result<Self> {
        let mut lines = Lines::new(out, FIRST_LINE, header, &COLUMNS)?;
        for name in truth {
            lines.line.push(b',');
            push_string(&mut lines.line, name);
        }
        lines.end_line()?;
        Ok(Self { lines, truths: truth.len() })
    }

    /// Writes one row. `truths` are the values of the columns after `event`, one a column, °C;
    /// what is not a number stays empty, and so do missing ones.
    ///
    /// # Errors
    /// When the output does not take it.
    pub fn row(&mut self, row: &Row, truths: &[f64]) -> io::Result<()> {
        let line = &mut self.lines.line;
        push_ticks(line, row.tick);
        for reading in [row.air, row.air_b, row.part_probe] {
            line.push(b',');
            if let Some(reading) = reading {
                push_reading(line, reading);
            }
        }
        push_optional(line, row.setpoint_c);
        let on_ticks = row.on_ticks.min(10);
        line.extend([b',', b'0' + on_ticks / 10, b'.', b'0' + on_ticks % 10]);
        line.extend([b',', b'0' + u8::from(row.permit), b',']);
        if let Some(open) = row.door_open {
            line.push(b'0' + u8::from(open));
        }
        line.push(b',');
        push_unsigned(line, u64::from(row.step));
        line.push(b',');
        line.extend(row.phase.word().bytes());
        push_optional(line, row.coldest_c);
        push_optional(line, row.hottest_c);
        line.push(b',');
        push_unsigned(line, u64::from(row.credit_s));
        line.push(b',');
        let mut space = false;
        for (word, _) in row.flags.words().into_iter().filter(|(_, holds)| *holds) {
            if space {
                line.push(b' ');
            }
            line.extend(word.bytes());
            space = true;
        }
        line.push(b',');
        push_string(line, &row.event);
        for index in 0..self.truths {
            push_optional(line, truths.get(index).copied());
        }
        self.lines.end_row()
    }

    /// Hands everything so far to the output.
    ///
    /// # Errors
    /// When the output does not take it.
    pub fn flush(&mut self) -> io::Result<()> {
        self.lines.flush()
    }

    /// Writes the last line and gives the output back.
    ///
    /// # Errors
    /// When the output does not take it.
    pub fn finish(self) -> io::Result<W> {
        self.lines.finish()
    }
}

fn push_optional(line: &mut Vec<u8>, value_c: Option<f64>) {
    line.push(b',');
    if let Some(value_c) = value_c {
        push_millis(line, value_c);
    }
}

/// Appends a string as RFC 4180 has it. A row stays one line: line breaks become spaces.
fn push_string(line: &mut Vec<u8>, text: &str) {
    let plain = |byte: u8| byte >= b' ' && byte != b',' && byte != b'"';
    if text.bytes().all(plain) && !text.starts_with(['#', ' ']) && !text.ends_with(' ') {
        line.extend(text.bytes());
        return;
    }
    line.push(b'"');
    for byte in text.bytes() {
        match byte {
            b'"' => line.extend(*b"\"\""),
            0..b' ' => line.push(b' '),
            other => line.push(other),
        }
    }
    line.push(b'"');
}

#[cfg(test)]
mod tests {
    use super::super::{CHECKSUM, Flags, Phase, Reading, Source};
    use super::*;

    #[test]
    fn rows_have_exactly_these_bytes() {
        let names = ["true:lever, left".to_owned(), "true_hottest:lever, left".to_owned()];
        let mut header = Header::of(Source::Rehearsal);
        header.bake = Some("name = \"Gas-out\"\n".to_owned());
        let mut writer = Writer::new(Vec::new(), &header, &names).expect("memory takes it");
        let mut row = Row {
            tick: 6_010,
            air: Some(Reading(19_071)),
            setpoint_c: Some(150.25),
            on_ticks: 7,
            permit: true,
            door_open: Some(false),
            step: 3,
            phase: Phase::Soak,
            coldest_c: Some(149.012_4),
            hottest_c: Some(158.5),
            credit_s: 41,
            flags: Flags { projected: true, airflow: false, widened: true },
            ..Row::default()
        };
        writer.row(&row, &[149.5, f64::NAN]).expect("memory takes it");
        row.tick = 6_013;
        row.on_ticks = 10;
        row.flags = Flags::default();
        row.event = "check \"stains?\", asked\nnow".to_owned();
        writer.row(&row, &[149.5, 151.0]).expect("memory takes it");
        let empty = Row { tick: 6_020, ..Row::default() };
        writer.row(&empty, &[]).expect("memory takes it");
        let text = String::from_utf8(writer.finish().expect("memory takes it")).expect("UTF-8");
        let expected = concat!(
            "# truesoak.log/1 {\"source\":\"rehearsal\",\"started_at\":null,\"board\":null,",
            "\"job\":null,\"note\":null,\"bake\":\"name = \\\"Gas-out\\\"\\n\",\"oven\":null,",
            "\"load\":null,\"models\":null}\n",
            "t_s,air_c,air_b_c,part_probe_c,setpoint_c,duty,permit,door,step,phase,coldest_c,",
            "hottest_c,credit_s,flags,event,\"true:lever, left\",\"true_hottest:lever, left\"\n",
            "601,148.9921875,,,150.250,0.7,1,0,3,soak,149.012,158.500,41,projected widened,,",
            "149.500,\n",
            "601.3,148.9921875,,,150.250,1.0,1,0,3,soak,149.012,158.500,41,,",
            "\"check \"\"stains?\"\", asked now\",149.500,151.000\n",
            "602,,,,,0.0,0,,0,idle,,,0,,,,\n",
        );
        let (body, last) = text.split_at(expected.len());
        assert_eq!(body, expected);
        let crc = CHECKSUM.checksum(expected.as_bytes());
        assert_eq!(last, format!("# end rows=3 crc32={crc:08x}\n"));
    }
}
