//! From a log's rows to the points of a picture: thinned to what a picture can show.

use super::Against;
use crate::log::{Log, Row};
use crate::report::units::Units;

/// Most points of one curve; peaks inside a bin are kept.
const POINTS_MAX: usize = 2400;

/// Minutes and temperature as shown, or minutes and percent.
pub(super) type Curve = Vec<(f64, f64)>;

/// All curves of a bake.
#[derive(Debug, Default)]
pub(super) struct Curves {
    pub reading: Vec<Curve>,
    pub setpoint: Vec<Curve>,
    pub coldest: Vec<Curve>,
    pub hottest: Vec<Curve>,
    pub true_coldest: Vec<Curve>,
    pub true_hottest: Vec<Curve>,
    /// Reading, coldest and hottest bound of another log beside it.
    pub other_reading: Vec<Curve>,
    pub other_coldest: Vec<Curve>,
    pub other_hottest: Vec<Curve>,
    /// Reading less the other's, a difference.
    pub apart: Vec<Curve>,
    /// Mean duty over a minute, percent.
    pub heater: Curve,
    /// Minutes from, to.
    pub doors: Vec<(f64, f64)>,
    /// Minutes from, to in which credit grew.
    pub counted: Vec<(f64, f64)>,
    pub end_min: f64,
}

/// Round times up to an end, ten to twenty of them: minutes or hours a person counts in.
pub(super) fn ticks_min(end_min: f64) -> Vec<f64> {
    const STEPS_MIN: [f64; 9] = [1.0, 2.0, 5.0, 10.0, 15.0, 30.0, 60.0, 120.0, 240.0];
    let wide = |step: &&f64| end_min / **step <= 16.0;
    let step = STEPS_MIN.iter().find(wide).copied().unwrap_or(480.0);
    (0..=(end_min / step) as usize).map(|index| index as f64 * step).collect()
}

/// Takes the curves out of a log.
pub(super) fn curves(log: &Log, units: Units, against: Option<&Against<'_>>) -> Curves {
    let index: Vec<usize> = (0..log.rows.len()).filter(|i| log.rows[*i].event.is_empty()).collect();
    let rows: Vec<&Row> = index.iter().map(|i| &log.rows[*i]).collect();
    let shown = |value: Option<f64>| value.map(|celsius| units.from_celsius(celsius));
    let curve = |get: &dyn Fn(&Row) -> Option<f64>| pieces(&rows, |i| shown(get(rows[i])));
    let worst = |hottest: bool| {
        pieces(&rows, |i| {
            let row = index[i];
            let values = log
                .truth
                .iter()
                .filter(|(name, _)| name.starts_with(crate::log::TRUE_HOTTEST) == hottest)
                .filter_map(|(_, values)| values.get(row).copied())
                .filter(|value| value.is_finite());
            let picked = if hottest { values.reduce(f64::max) } else { values.reduce(f64::min) };
            shown(picked)
        })
    };
    let other =
        |get: &dyn Fn(&Row) -> Option<f64>| pieces(&rows, |i| shown(against?.row(i).and_then(get)));
    Curves {
        other_reading: other(&reading_c),
        other_coldest: other(&|row| row.coldest_c),
        other_hottest: other(&|row| row.hottest_c),
        apart: pieces(&rows, |i| {
            let apart_k = reading_c(rows[i])? - reading_c(against?.row(i)?)?;
            Some(units.from_kelvins(apart_k))
        }),
        reading: curve(&reading_c),
        setpoint: curve(&|row| row.setpoint_c),
        coldest: curve(&|row| row.coldest_c),
        hottest: curve(&|row| row.hottest_c),
        true_coldest: worst(false),
        true_hottest: worst(true),
        heater: heater(&rows),
        doors: stretches(&rows, |_, row| row.door_open == Some(true)),
        counted: stretches(&rows, |before, row| row.credit_s > before.credit_s),
        end_min: rows.last().map_or(0.0, |row| row.t_s() / 60.0),
    }
}

fn reading_c(row: &Row) -> Option<f64> {
    row.air.map(|air| f64::from(air.to_celsius().0))
}

fn minutes(row: &Row) -> f64 {
    row.t_s() / 60.0
}

/// A curve broken where there is no value, thinned by keeping each bin's least and greatest.
fn pieces(rows: &[&Row], value: impl Fn(usize) -> Option<f64>) -> Vec<Curve> {
    let bin = (2 * rows.len()).div_ceil(POINTS_MAX).max(1);
    let mut all = Vec::new();
    let mut piece = Curve::new();
    let mut in_bin: Vec<(f64, f64)> = Vec::new();
    let flush = |piece: &mut Curve, in_bin: &mut Vec<(f64, f64)>| {
        let least = in_bin.iter().copied().reduce(|a, b| if b.1 < a.1 { b } else { a });
        let greatest = in_bin.iter().copied().reduce(|a, b| if b.1 > a.1 { b } else { a });
        if let (Some(least), Some(greatest)) = (least, greatest) {
            let (first, second) =
                if least.0 <= greatest.0 { (least, greatest) } else { (greatest, least) };
            piece.push(first);
            if second.0 > first.0 {
                piece.push(second);
            }
        }
        in_bin.clear();
    };
    for (i, row) in rows.iter().enumerate() {
        match value(i) {
            Some(value) => {
                in_bin.push((minutes(row), value));
                if in_bin.len() >= bin {
                    flush(&mut piece, &mut in_bin);
                }
            }
            None => {
                flush(&mut piece, &mut in_bin);
                if !piece.is_empty() {
                    all.push(std::mem::take(&mut piece));
                }
            }
        }
    }
    flush(&mut piece, &mut in_bin);
    if !piece.is_empty() {
        all.push(piece);
    }
    all
}

fn heater(rows: &[&Row]) -> Curve {
    rows.chunks(60)
        .flat_map(|chunk| {
            let mean = chunk.iter().map(|row| row.duty()).sum::<f64>() / chunk.len() as f64;
            let (from, to) = (minutes(chunk[0]), minutes(chunk[chunk.len() - 1]));
            [(from, 100.0 * mean), (to, 100.0 * mean)]
        })
        .collect()
}

fn stretches(rows: &[&Row], holds: impl Fn(&Row, &Row) -> bool) -> Vec<(f64, f64)> {
    let mut found: Vec<(f64, f64)> = Vec::new();
    for pair in rows.windows(2) {
        if !holds(pair[0], pair[1]) {
            continue;
        }
        let (from, to) = (minutes(pair[0]), minutes(pair[1]));
        match found.last_mut() {
            Some(last) if (last.1 - from).abs() < 1e-9 => last.1 = to,
            _ => found.push((from, to)),
        }
    }
    found
}
