//! A survey for a person at a terminal: where it is coldest and hottest, by how much, how steady.

use super::text::{Paint, table, wrap};
use super::units::{Units, duration, h_mm};
use super::{Written, files, lines};
use crate::files::oven::Oven;
use crate::survey::readings::Readings;
use crate::survey::{PLACES_USUAL, Place, Settled, Unsettled};

/// What the words are about.
#[derive(Clone, Copy, Debug)]
pub struct SurveyStory<'a> {
    /// What was found.
    pub found: &'a Result<Settled, Unsettled>,
    /// The table.
    pub readings: &'a Readings,
    /// The oven, where one was named.
    pub oven: Option<&'a Oven>,
    /// What a survey sensor may be off, K.
    pub sensor_error_k: f64,
    /// Units of temperatures.
    pub units: Units,
}

impl SurveyStory<'_> {
    /// What the survey's sensors may be off beyond what the oven's own is allowed, K.
    #[must_use]
    pub fn worse_k(&self) -> f64 {
        let allowed_k = self.oven.map_or(f64::INFINITY, |oven| oven.spread.sensor_offset_k);
        (self.sensor_error_k - allowed_k).max(0.0)
    }
}

/// The whole survey.
#[must_use]
pub fn report(story: &SurveyStory<'_>, paint: Paint, written: &[Written]) -> String {
    let mut out = one_line(story, paint);
    match story.found {
        Ok(found) => {
            out.push('\n');
            places(&mut out, story, found);
            lines(&mut out, "For the oven's [spread]", 4, &spots(story, found));
            lines(&mut out, "Mind", 4, &cautions(story, found));
        }
        Err(why) => wrap(&mut out, "next: ", 6, &why.next),
    }
    files(&mut out, written);
    out
}

/// The answer alone.
#[must_use]
pub fn one_line(story: &SurveyStory<'_>, paint: Paint) -> String {
    let (word, rest) = match story.found {
        Err(why) => ("NOT STEADY", format!("{}.", capitalised(&why.what))),
        Ok(found) => ("STEADY", summary(story, found)),
    };
    let mut plain = String::new();
    wrap(&mut plain, "", 0, &format!("{word}. {rest}"));
    plain.replacen(word, &paint.verdict(word, story.found.is_ok()), 1)
}

fn capitalised(text: &str) -> String {
    super::pieces::capitalised(text)
}

fn summary(story: &SurveyStory<'_>, found: &Settled) -> String {
    let place = |place: Option<&Place>, off: fn(&Place) -> f64| {
        place.map_or_else(String::new, |place| {
            format!("\"{}\" by {}", place.name, signed(story.units, off(place)))
        })
    };
    format!(
        "For {} from {} on, at {} by the control sensor: coldest against it {}, hottest {}.",
        duration(found.to_s - found.from_s),
        h_mm(found.from_s),
        story.units.temperature(found.control_c),
        place(found.coldest(), |place| place.least_k),
        place(found.hottest(), |place| place.greatest_k)
    )
}

fn signed(units: Units, value_k: f64) -> String {
    let shown = units.difference(value_k);
    if shown.starts_with('-') || shown.starts_with("0.0") { shown } else { format!("+{shown}") }
}

fn places(out: &mut String, story: &SurveyStory<'_>, found: &Settled) {
    let heads = ["place", "mean", "off by", "least", "greatest", "drift"];
    let mut rows = vec![heads.map(String::from).to_vec()];
    let mut ranked: Vec<&Place> = found.places.iter().collect();
    ranked.sort_by(|a, b| a.deviation_k.total_cmp(&b.deviation_k));
    for place in ranked {
        let off = |value_k: f64| signed(story.units, value_k);
        rows.push(vec![
            place.name.clone(),
            story.units.temperature(place.mean_c),
            off(place.deviation_k),
            off(place.least_k),
            off(place.greatest_k),
            off(place.drift_k),
        ]);
    }
    table(out, 2, &rows);
    let said = "Off the control sensor's reading; least and greatest are of means over five \
                minutes, drift is over the whole interval.";
    wrap(out, "  ", 2, said);
}

fn spots(story: &SurveyStory<'_>, found: &Settled) -> Vec<String> {
    let spread = story.oven.map(|oven| (oven.spread.cold_spot_k, oven.spread.hot_spot_k));
    let line = |name: &str, value_k: f64, was_k: Option<f64>| {
        let shown = story.units.difference(value_k);
        match was_k {
            Some(was_k) if value_k > was_k + 1e-9 => format!(
                "{name} {shown}: WIDER than the {} the file said; bakes will take longer, and the \
                 file was not safe",
                story.units.difference(was_k)
            ),
            Some(was_k) => {
                format!("{name} {shown}; the file said {}", story.units.difference(was_k))
            }
            None => format!("{name} {shown}"),
        }
    };
    let worse_k = story.worse_k();
    let mut lines = vec![
        line("cold_spot", found.cold_spot_k(worse_k), spread.map(|spread| spread.0)),
        line("hot_spot", found.hot_spot_k(worse_k), spread.map(|spread| spread.1)),
    ];
    if worse_k > 0.0 {
        lines.push(format!(
            "both hold {} by which the survey's sensors may be worse than the oven's own",
            story.units.difference(worse_k)
        ));
    }
    lines
}

fn cautions(story: &SurveyStory<'_>, found: &Settled) -> Vec<String> {
    let error = story.units.difference(story.sensor_error_k);
    let mut lines = vec![format!(
        "what the control sensor itself is off is another value of [spread], sensor_offset; it \
         covers {error} of the survey's sensors too: survey again before you make it less than that"
    )];
    let count = found.places.len();
    if count < PLACES_USUAL {
        lines.push(format!(
            "{count} places are few: a corner without a sensor may be colder; five are usual in a \
             small oven"
        ));
    }
    if story.oven.is_none() {
        lines.push("nothing is written: give --oven and --out for that".to_owned());
    }
    lines
}
