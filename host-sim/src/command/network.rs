//! `truesoak network`: a bare thermal network, open loop.

use super::outputs::Output;
use super::{Answer, Failure, Format, Globals, failure_text, print};
use crate::bare::{self, BareNetwork, Fault};
use crate::plant::open_loop::{OpenLoop, Row, Stuck};
use serde_json::json;
use std::fs::File;
use std::io::{BufWriter, Read as _, Write as _};
use std::path::{Path, PathBuf};

/// Largest file read, bytes.
const FILE_MAX: u64 = 64 << 20;
/// Most faults told at once.
const FAULTS_TOLD: usize = 10;
/// Significant digits of a temperature in the log.
const DIGITS: i32 = 9;

/// What to follow.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// The network, JSON.
    network: PathBuf,
    /// Write the log here.
    #[arg(long, value_name = "F.csv")]
    log: Option<PathBuf>,
}

/// Runs it.
pub(super) fn run(arguments: &Arguments, globals: &Globals) -> Result<Answer, Failure> {
    let path = &arguments.network;
    let net = read(path)?;
    let bare = bare::build(&net).map_err(|faults| refusal(path, &faults))?;
    let output = arguments.log.as_ref().map(|log| Output::open(log, &[path], &[])).transpose()?;
    let mut log = output.as_ref().map(Log::of).transpose()?;
    if let Some(log) = &mut log {
        log.head(&net)?;
    }
    let stretches = bare.stretches();
    let mut course = OpenLoop::new(bare.network, bare.state, net.log_every_s);
    let mut rows = 0_u64;
    for stretch in &stretches {
        course.advance(stretch, |row| {
            rows += 1;
            log.as_mut().map_or(Ok(()), |log| log.row(row)).map_err(Stop::Write)
        })?;
    }
    if let Some(log) = &mut log {
        log.finish()?;
    }
    let text = match globals.format {
        Format::Json => format!("{}\n", summary_json(&net, &course, rows)),
        Format::Text => summary_text(&net, &course, rows, arguments.log.as_deref()),
    };
    print(&text)?;
    Ok(Answer::Yes)
}

/// Why a course stopped.
enum Stop {
    Stuck(Stuck),
    Write(Failure),
}

impl From<Stuck> for Stop {
    fn from(stuck: Stuck) -> Self {
        Self::Stuck(stuck)
    }
}

impl From<Stop> for Failure {
    fn from(stop: Stop) -> Self {
        match stop {
            Stop::Write(failure) => failure,
            Stop::Stuck(stuck) => Self::Input(failure_text(
                &stuck.to_string(),
                "the network as described",
                "temperatures that stay finite",
                "look for a capacity, conductance or power of the wrong size",
            )),
        }
    }
}

fn read(path: &Path) -> Result<BareNetwork, Failure> {
    let place = path.display().to_string();
    let fail = |what: String, expected: &str, next: &str| {
        Failure::Input(failure_text(&what, &place, expected, next))
    };
    let unreadable = |error: std::io::Error| {
        fail(
            format!("the network cannot be read: {error}"),
            "a file that is there and may be read",
            "check the path",
        )
    };
    let mut bytes = Vec::new();
    let file = File::open(path).map_err(unreadable)?;
    file.take(FILE_MAX + 1).read_to_end(&mut bytes).map_err(unreadable)?;
    if bytes.len() as u64 > FILE_MAX {
        let what = "the network's file is over 64 MiB".to_owned();
        return Err(fail(what, "at most 10,000 nodes", "join nodes"));
    }
    let bytes = bytes.strip_prefix("\u{feff}".as_bytes()).unwrap_or(&bytes);
    serde_json::from_slice(bytes).map_err(|error| {
        let place = format!("{place}:{}:{}", error.line(), error.column());
        let said = error.to_string();
        let what = said.split(" at line ").next().unwrap_or(&said);
        Failure::Input(failure_text(
            what,
            &place,
            "JSON with ambient_c, duration_s, log_every_s, nodes, and as wanted links, radiation, \
             doorways, heaters, sensors",
            "mend that line; numbers are finite and in SI units",
        ))
    })
}

fn refusal(path: &Path, faults: &[Fault]) -> Failure {
    let mut told: Vec<String> = faults
        .iter()
        .take(FAULTS_TOLD)
        .map(|fault| {
            let place = format!("{}: {}", path.display(), fault.place);
            failure_text(&fault.what, &place, fault.expected, &fault.next)
        })
        .collect();
    if faults.len() > FAULTS_TOLD {
        told.push(format!("and {} more", faults.len() - FAULTS_TOLD));
    }
    Failure::Input(told.join("\n\n"))
}

/// The log under way.
struct Log<'a> {
    out: BufWriter<&'a File>,
    path: &'a Path,
    line: String,
}

impl<'a> Log<'a> {
    fn of(output: &'a Output) -> Result<Self, Failure> {
        let path = output.path();
        let file = output.emptied().map_err(|error| write_failed(path, &error))?;
        Ok(Self { out: BufWriter::new(file), path, line: String::new() })
    }

    fn head(&mut self, net: &BareNetwork) -> Result<(), Failure> {
        self.line.clear();
        self.line.push_str("t_s");
        let nodes = net.nodes.iter().map(|node| &node.name);
        for name in nodes.chain(net.sensors.iter().map(|sensor| &sensor.name)) {
            self.line.push(',');
            push_name(&mut self.line, name);
        }
        self.flush_line()
    }

    fn row(&mut self, row: Row<'_>) -> Result<(), Failure> {
        self.line.clear();
        self.line.push_str(trimmed(&significant(row.t_s, 12)));
        for celsius in row.nodes_c.iter().chain(row.sensors_c) {
            self.line.push(',');
            self.line.push_str(&significant(*celsius, DIGITS));
        }
        self.flush_line()
    }

    fn flush_line(&mut self) -> Result<(), Failure> {
        self.line.push('\n');
        let written = self.out.write_all(self.line.as_bytes());
        written.map_err(|error| write_failed(self.path, &error))
    }

    fn finish(&mut self) -> Result<(), Failure> {
        self.out.flush().map_err(|error| write_failed(self.path, &error))
    }
}

fn write_failed(path: &Path, error: &std::io::Error) -> Failure {
    Failure::Write(failure_text(
        &format!("the log could not be written on: {error}"),
        &path.display().to_string(),
        "room on the disk",
        "make room and run it again",
    ))
}

/// A name as a field of CSV (RFC 4180).
fn push_name(line: &mut String, name: &str) {
    if name.contains([',', '"']) {
        line.push('"');
        line.push_str(&name.replace('"', "\"\""));
        line.push('"');
    } else {
        line.push_str(name);
    }
}

/// A number in plain decimals with so many significant digits.
fn significant(value: f64, digits: i32) -> String {
    let size = value.abs();
    let before = if size >= 1e-4 { libm::floor(libm::log10(size)) as i32 + 1 } else { -3 };
    let decimals = usize::try_from(digits - before).unwrap_or(0);
    format!("{value:.decimals$}")
}

/// Without the zeros at the end of its decimals.
fn trimmed(text: &str) -> &str {
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.') } else { text }
}

/// Heat that was put in but is neither stored nor lost, as a share of what moved.
fn imbalance(course: &OpenLoop) -> f64 {
    let energy = course.energy();
    let moved = energy.put_in_j.abs().max(energy.lost_j.abs()).max(energy.stored_j.abs());
    let left_j = energy.put_in_j - energy.lost_j - energy.stored_j;
    if moved > 0.0 { left_j.abs() / moved } else { 0.0 }
}

fn summary_json(net: &BareNetwork, course: &OpenLoop, rows: u64) -> serde_json::Value {
    let energy = course.energy();
    json!({
        "schema": "truesoak.network/1",
        "nodes": net.nodes.len(),
        "rows": rows,
        "steps": course.steps(),
        "put_in_j": energy.put_in_j,
        "lost_j": energy.lost_j,
        "stored_j": energy.stored_j,
        "imbalance": imbalance(course),
    })
}

fn summary_text(net: &BareNetwork, course: &OpenLoop, rows: u64, log: Option<&Path>) -> String {
    let energy = course.energy();
    let mut text = format!(
        "{} nodes followed for {} s in {} steps, {rows} rows.\n\
         Heat put in {:.1} J, lost to the room {:.1} J, stored {:.1} J; unaccounted for: a share of \
         {:.0e}.\n",
        net.nodes.len(),
        net.duration_s,
        course.steps(),
        // Adding zero takes the sign off a nothing.
        energy.put_in_j + 0.0,
        energy.lost_j + 0.0,
        energy.stored_j + 0.0,
        imbalance(course),
    );
    let ends_c = course.ends_c();
    let ends = net.nodes.iter().zip(&ends_c);
    if let (Some(coldest), Some(hottest)) =
        (ends.clone().min_by(|a, b| a.1.total_cmp(b.1)), ends.max_by(|a, b| a.1.total_cmp(b.1)))
    {
        text.push_str(&format!(
            "At the end the coldest node is \"{}\" at {:.2} °C, the hottest \"{}\" at {:.2} °C.\n",
            coldest.0.name, coldest.1, hottest.0.name, hottest.1
        ));
    }
    if let Some(log) = log {
        text.push_str(&format!("Written: {}\n", log.display()));
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_have_nine_significant_digits() {
        for (value, text) in [
            (149.0, "149.000000"),
            (-0.012_345_678_912, "-0.0123456789"),
            (20.0, "20.0000000"),
            (1_234_567_891.4, "1234567891"),
            (0.0, "0.000000000000"),
            (99.999_999_999, "100.00000000"),
        ] {
            assert_eq!(
                significant(value, DIGITS).trim_end_matches('0'),
                text.trim_end_matches('0')
            );
        }
        assert_eq!(trimmed(&significant(0.1 * 3.0, 12)), "0.3");
        assert_eq!(trimmed(&significant(3600.0, 12)), "3600");
    }

    #[test]
    fn a_name_with_a_comma_is_quoted() {
        let mut line = String::new();
        push_name(&mut line, "fork, \"left\"");
        assert_eq!(line, "\"fork, \"\"left\"\"\"");
    }
}
