//! References for sensors: check values, and the table of every whole degree.

pub mod points;

/// A whole degree of `snapshots/sensor-tables.csv`.
pub struct Row {
    pub temp_c: f64,
    /// Types K, J, T and N against 0 °C.
    pub emf_uv: [f64; 4],
    pub pt100_ohm: f64,
}

/// Thermocouples by Python package `thermocouples_reference` 0.20 (ITS-90 functions of NIST), with
/// which `thermocouple-its90` 1.0.2 agrees to 10⁻⁶ µV; Pt100 by `ptcal` 0.1.4 (IEC 60751). How it is
/// made stands in `snapshots/sensor-tables.py`.
pub fn whole_degrees() -> Vec<Row> {
    let text = include_str!("../../snapshots/sensor-tables.csv");
    let lines = text.lines().filter(|line| !line.starts_with('#')).skip(1);
    let rows: Vec<Row> = lines.map(row).collect();
    let degrees: Vec<f64> = rows.iter().map(|row| row.temp_c).collect();
    let expected: Vec<f64> = (-50..=400).map(f64::from).collect();
    assert_eq!(degrees, expected, "every whole degree once");
    rows
}

fn row(line: &str) -> Row {
    let numbers: Vec<f64> =
        line.split(',').map(|number| number.parse().expect("a number")).collect();
    let [temp_c, k, j, t, n, pt100_ohm] = numbers[..] else { panic!("six columns: {line}") };
    Row { temp_c, emf_uv: [k, j, t, n], pt100_ohm }
}
