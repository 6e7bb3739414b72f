//! Times as loggers write them: seconds, minutes or milliseconds, a time of day or since the start
//! (`26:15:00`), or a date and time.
//!
//! For the tables of others: a log of another maker, a survey's readings.
//! Refuses a date that can be read two ways: only year-month-day is taken.

/// Seconds in a day.
const DAY_S: f64 = 86_400.0;
/// A clock that falls back by more than this has passed midnight, s.
const MIDNIGHT_S: f64 = 43_200.0;
/// Hours of a day.
const DAY_H: f64 = 24.0;
/// No table is longer: hours since its start are fewer.
const ELAPSED_H: f64 = 1000.0;

/// What a plain number in a column counts.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Scale {
    /// Seconds in one of them.
    pub(crate) seconds: f64,
}

impl Scale {
    /// From the column's name: seconds unless it ends in minutes, hours or milliseconds.
    pub(crate) fn of_column(name: &str) -> Self {
        let name = name.to_lowercase();
        let word = name.trim_end_matches([')', ']', ' ', '.']);
        let word = word.rsplit(['(', '[', ' ', '_', '/']).next().unwrap_or_default();
        let seconds = match word {
            "ms" | "msec" | "milliseconds" | "millis" => 1e-3,
            "min" | "mins" | "minute" | "minutes" => 60.0,
            "h" | "hr" | "hour" | "hours" => 3600.0,
            _ => 1.0,
        };
        Self { seconds }
    }
}

/// Seconds of a time; those of a time of day count from midnight, those of a date from 1970.
/// `None` for what is no time.
fn seconds(text: &str, scale: Scale) -> Option<f64> {
    let text = text.trim();
    if let Ok(number) = text.parse::<f64>() {
        return number.is_finite().then_some(number * scale.seconds);
    }
    match text.split_once(['T', ' ', '_']) {
        Some((date, time)) if date.contains('-') => {
            Some(days(date)? * DAY_S + clock_time(time, DAY_H)?)
        }
        _ => clock_time(text, ELAPSED_H),
    }
}

/// It counts from midnight, so that a fall may be the next day.
fn is_time_of_day(text: &str) -> bool {
    text.contains(':') && !text.contains('-')
}

/// Times in a table's order: from its first row on, past midnight too.
#[derive(Default)]
pub(crate) struct Clock {
    first_s: Option<f64>,
    last_s: f64,
    days_s: f64,
}

impl Clock {
    /// A row's time from the first row's, s; `None` for what is no time.
    pub(crate) fn read(&mut self, text: &str, scale: Scale) -> Option<f64> {
        let mut now_s = seconds(text, scale)? + self.days_s;
        let falls = self.first_s.is_some() && now_s < self.last_s - MIDNIGHT_S;
        if falls && is_time_of_day(text) {
            self.days_s += DAY_S;
            now_s += DAY_S;
        }
        self.last_s = now_s;
        Some(now_s - *self.first_s.get_or_insert(now_s))
    }
}

/// Days since 1970 of `2026-05-01`, in the Gregorian calendar.
fn days(date: &str) -> Option<f64> {
    let mut fields = date.split('-').map(|field| field.parse::<i64>().ok());
    let (year, month, day) = (fields.next()??, fields.next()??, fields.next()??);
    let valid = (1970..10_000).contains(&year) && (1..=12).contains(&month);
    if !valid || !(1..=31).contains(&day) || fields.next().is_some() {
        return None;
    }
    // Months from March, so that the day a leap year adds is the last.
    let (year, month) = if month > 2 { (year, month - 3) } else { (year - 1, month + 9) };
    let before_year = 365 * year + year / 4 - year / 100 + year / 400;
    let before_month = (153 * month + 2) / 5;
    Some((before_year + before_month + day - 1 - 719_468) as f64)
}

/// `14:05:30.5`, `2:05 pm`, with an offset from Greenwich behind it or not, its hours below
/// `hours_end`. One log has one offset; it is not looked at.
fn clock_time(text: &str, hours_end: f64) -> Option<f64> {
    let lower = text.trim().to_lowercase();
    let (lower, half) = match lower.strip_suffix("pm").or_else(|| lower.strip_suffix("am")) {
        Some(rest) => (rest.trim().to_owned(), Some(lower.ends_with("pm"))),
        None => (lower, None),
    };
    let end = lower.find(['z', '+', '-']).unwrap_or(lower.len());
    let mut fields = lower.get(..end)?.trim().split(':').map(|field| field.parse::<f64>().ok());
    let (hours, minutes) = (fields.next()??, fields.next()??);
    let seconds = fields.next().unwrap_or(Some(0.0))?;
    let hours_end = if half.is_some() { DAY_H } else { hours_end };
    let in_range = (0.0..hours_end).contains(&hours)
        && (0.0..60.0).contains(&minutes)
        && (0.0..61.0).contains(&seconds);
    if !in_range || fields.next().is_some() {
        return None;
    }
    let hours = match half {
        Some(afternoon) => hours % 12.0 + if afternoon { 12.0 } else { 0.0 },
        None => hours,
    };
    Some(hours * 3600.0 + minutes * 60.0 + seconds)
}

#[cfg(test)]
mod tests {
    use super::*;

    const PLAIN: Scale = Scale { seconds: 1.0 };

    fn is(text: &str, seconds_wanted: f64) {
        let got = seconds(text, PLAIN);
        assert!(got.is_some_and(|got| (got - seconds_wanted).abs() < 1e-6), "{text}: {got:?}");
    }

    #[test]
    fn times_read_as_loggers_write_them() {
        is("12.5", 12.5);
        is("00:01:30", 90.0);
        is("2:05:10 PM", 14.0 * 3600.0 + 310.0);
        is("12:00 am", 0.0);
        is("26:15:00", 94_500.0);
        // date -u -d … +%s of GNU coreutils.
        is("2026-05-01 14:05:30", 1_777_644_330.0);
        is("2024-02-29T00:00:00Z", 1_709_164_800.0);
        is("2024-03-01T00:00:00+02:00", 1_709_251_200.0);
        for text in [
            "",
            "noon",
            "05/01/2026 14:05",
            "25:00 pm",
            "1000:00",
            "1:60",
            "2026-13-01 00:00",
            "2026-05-01 25:00",
            "1e999",
        ] {
            assert_eq!(seconds(text, PLAIN), None, "{text}");
        }
    }

    #[test]
    fn a_table_goes_on_past_midnight_and_past_a_day_since_its_start() {
        for (rows, wanted) in [
            (["23:59:30", "0:00:30"], 60.0),
            (["23:59:30", "24:00:30"], 60.0),
            (["49:59:59", "50:00:00"], 1.0),
        ] {
            let mut clock = Clock::default();
            let times = rows.map(|text| clock.read(text, PLAIN));
            assert_eq!(times, [Some(0.0), Some(wanted)], "{rows:?}");
        }
    }

    #[test]
    fn the_name_of_a_column_tells_what_it_counts() {
        for (name, seconds) in [
            ("t_s", 1.0),
            ("Time", 1.0),
            ("Time (min)", 60.0),
            ("elapsed_ms", 1e-3),
            ("Hours", 3600.0),
        ] {
            assert!((Scale::of_column(name).seconds - seconds).abs() < 1e-12, "{name}");
        }
    }
}
