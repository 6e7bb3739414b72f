//! Times of day, and durations as they are read aloud.

use crate::report::units::{Units, counted};
use jiff::civil::DateTime;

/// A time of day, so many seconds from now: `2:32 pm` beside °F, `14:32` beside °C; with its day
/// where that is another.
#[must_use]
pub fn clock_time(now: DateTime, in_s: f64, units: Units) -> String {
    let ahead = jiff::Span::new().try_seconds(in_s.round() as i64);
    let Some(at) = ahead.ok().and_then(|ahead| now.checked_add(ahead).ok()) else {
        return "a far day".to_owned();
    };
    let time = if units == Units::Fahrenheit {
        let half = if at.hour() < 12 { "am" } else { "pm" };
        let hour = if at.hour() % 12 == 0 { 12 } else { at.hour() % 12 };
        format!("{hour}:{:02} {half}", at.minute())
    } else {
        format!("{}:{:02}", at.hour(), at.minute())
    };
    if at.date() == now.date() {
        time
    } else if now.date().tomorrow().is_ok_and(|tomorrow| tomorrow == at.date()) {
        format!("{time} tomorrow")
    } else {
        format!("{time} on {}", at.date())
    }
}

/// A duration to be read aloud, to the minute: `1 hour 5 minutes`.
#[must_use]
pub fn spoken(value_s: f64) -> String {
    let minutes = (value_s.max(0.0) / 60.0 + 1e-6).floor() as usize;
    let (hours, rest) = (minutes / 60, minutes % 60);
    match (hours, rest) {
        (0, _) => counted(rest, "minute", "minutes"),
        (_, 0) => counted(hours, "hour", "hours"),
        _ => format!("{} {}", counted(hours, "hour", "hours"), counted(rest, "minute", "minutes")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    #[test]
    fn a_time_of_day_is_told_as_its_units_are_and_with_its_day_where_that_is_another() {
        let now = date(2026, 3, 2).at(13, 50, 0, 0);
        assert_eq!(clock_time(now, 42.0 * 60.0, Units::Fahrenheit), "2:32 pm");
        assert_eq!(clock_time(now, 42.0 * 60.0, Units::Celsius), "14:32");
        assert_eq!(clock_time(now, 10.5 * 3600.0, Units::Fahrenheit), "12:20 am tomorrow");
        assert_eq!(clock_time(now, 3.0 * 86_400.0, Units::Celsius), "13:50 on 2026-03-05");
        assert_eq!(clock_time(now, 1e300, Units::Celsius), "a far day");
    }

    #[test]
    fn a_duration_is_spoken_in_hours_and_minutes() {
        assert_eq!(spoken(59.0), "0 minutes");
        assert_eq!(spoken(60.0), "1 minute");
        assert_eq!(spoken(3_900.0), "1 hour 5 minutes");
        assert_eq!(spoken(7_200.0), "2 hours");
    }
}
