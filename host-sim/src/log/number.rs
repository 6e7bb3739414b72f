//! Numbers to decimal text without the general formatter, which would cost more than the bake.
//!
//! A log has some twenty numbers a row; every one of them is an integer of some small unit
//! (1/128 K, 1/1000 K, a tick), so its decimals are exact integer arithmetic.

use truesoak_core::units::Reading;

/// Digits of 1/128: 0.0078125.
const READING_DECIMALS: u32 = 7;
/// 1/128 in units of the last decimal.
const READING_STEP: u64 = 78_125;
/// Temperatures beyond this are not written: the log keeps an empty cell.
const CELSIUS_MAX: f64 = 1e9;

/// Appends an unsigned integer.
pub(super) fn push_unsigned(out: &mut Vec<u8>, value: u64) {
    push_padded(out, value, 1);
}

/// Appends an integer with at least `width` digits, zeros in front.
fn push_padded(out: &mut Vec<u8>, mut value: u64, width: usize) {
    let mut digits = [b'0'; 20];
    let mut used = 0;
    for place in digits.iter_mut().rev() {
        *place = b'0' + (value % 10) as u8;
        value /= 10;
        used += 1;
        if value == 0 && used >= width {
            break;
        }
    }
    out.extend(digits.iter().skip(digits.len() - used));
}

/// Appends `value` / 10^`decimals` with exactly that many decimals.
fn push_fixed(out: &mut Vec<u8>, negative: bool, value: u64, decimals: u32) {
    let unit = 10_u64.pow(decimals);
    if negative && value != 0 {
        out.push(b'-');
    }
    push_padded(out, value / unit, 1);
    out.push(b'.');
    push_padded(out, value % unit, decimals as usize);
}

/// Appends a reading, exact in seven decimals.
pub(super) fn push_reading(out: &mut Vec<u8>, reading: Reading) {
    let steps = u64::from(reading.0.unsigned_abs());
    push_fixed(out, reading.0 < 0, steps * READING_STEP, READING_DECIMALS);
}

/// Appends a temperature with three decimals; nothing for what is not a temperature.
pub(super) fn push_millis(out: &mut Vec<u8>, value_c: f64) {
    if value_c.is_finite() && value_c.abs() < CELSIUS_MAX {
        let millis = libm::round(value_c.abs() * 1000.0) as u64;
        push_fixed(out, value_c < 0.0, millis, 3);
    }
}

/// Appends ticks as seconds: `12`, or `12.3` between whole seconds.
pub(super) fn push_ticks(out: &mut Vec<u8>, tick: u32) {
    push_unsigned(out, u64::from(tick / 10));
    if !tick.is_multiple_of(10) {
        out.push(b'.');
        out.push(b'0' + (tick % 10) as u8);
    }
}

/// A reading from its text; `None` when it is not a number of 1/128 K.
pub(super) fn reading_on_grid(value_c: f64) -> Option<Reading> {
    let steps = value_c * 128.0;
    let whole = libm::round(steps);
    let on_grid = (steps - whole).abs() < 1e-6 && whole.abs() < f64::from(i32::MAX);
    on_grid.then_some(Reading(whole as i32))
}

/// The nearest reading, for logs of other makers; `None` for what is no temperature.
pub(super) fn reading_nearest(value_c: f64) -> Option<Reading> {
    let whole = libm::round(value_c * 128.0);
    (value_c.is_finite() && whole.abs() < f64::from(i32::MAX)).then_some(Reading(whole as i32))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn text(write: impl Fn(&mut Vec<u8>)) -> String {
        let mut out = Vec::new();
        write(&mut out);
        String::from_utf8(out).expect("digits are ASCII")
    }

    #[test]
    fn every_step_of_a_reading_is_written_exactly_and_read_back() {
        for steps in [-34_964, -129, -1, 0, 1, 127, 128, 2_560, 19_071, 1_000_001] {
            let written = text(|out| push_reading(out, Reading(steps)));
            let value: f64 = written.parse().expect("a number");
            assert_eq!((value * 128.0).to_bits(), f64::from(steps).to_bits(), "{written}");
            assert_eq!(reading_on_grid(value), Some(Reading(steps)));
        }
        assert_eq!(text(|out| push_reading(out, Reading(19_071))), "148.9921875");
        assert_eq!(text(|out| push_reading(out, Reading(-1))), "-0.0078125");
    }

    #[test]
    fn thousandths_round_and_never_show_a_negative_zero() {
        assert_eq!(text(|out| push_millis(out, 149.000_4)), "149.000");
        assert_eq!(text(|out| push_millis(out, -0.000_4)), "0.000");
        assert_eq!(text(|out| push_millis(out, -12.345_6)), "-12.346");
        assert_eq!(text(|out| push_millis(out, f64::NAN)), "");
        assert_eq!(text(|out| push_millis(out, f64::INFINITY)), "");
    }

    #[test]
    fn a_value_off_the_grid_is_not_a_reading() {
        assert_eq!(reading_on_grid(20.001), None);
        assert_eq!(reading_on_grid(f64::NAN), None);
        assert_eq!(reading_nearest(20.001), Some(Reading(2_560)));
        assert_eq!(reading_nearest(f64::INFINITY), None);
    }

    #[test]
    fn ticks_show_tenths_only_between_whole_seconds() {
        assert_eq!(text(|out| push_ticks(out, 0)), "0");
        assert_eq!(text(|out| push_ticks(out, 7)), "0.7");
        assert_eq!(text(|out| push_ticks(out, 108_000)), "10800");
    }
}
