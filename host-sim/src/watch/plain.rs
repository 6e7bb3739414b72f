//! A watched bake as lines that read well aloud: one a minute of the bake, and one whenever somebody
//! is waited for or something happens.

use super::clock::spoken;
use super::happened::words_of;
use super::{View, Words};
use crate::report::pieces::capitalised;
use truesoak_core::event::Event;
use truesoak_core::wire::messages::Status;

/// What has been said.
#[derive(Clone, Debug, Default)]
pub struct Plain {
    minute: Option<u32>,
    events: usize,
    waiting: Vec<String>,
    trouble: String,
}

impl Plain {
    /// The lines that are new.
    pub fn lines(&mut self, view: &View) -> Vec<String> {
        let words = Words(view);
        let mut lines = Vec::new();
        let trouble = words.trouble();
        if trouble != self.trouble {
            lines.extend((!trouble.is_empty()).then(|| trouble.clone()));
            if trouble.is_empty() {
                lines.push("The board answers again.".to_owned());
            }
            self.trouble = trouble;
        }
        for (_, event) in view.events().skip(self.events) {
            lines.extend(self.event(view, event));
        }
        self.events = view.events().count();
        let Some(status) = &view.status else { return lines };
        // What is left of a minute to answer is not said second by second.
        let waiting: Vec<String> = words.waiting();
        let standing = |lines: &[String]| {
            lines
                .iter()
                .map(|line| line.split(", within").next().unwrap_or("").to_owned())
                .collect()
        };
        let now: Vec<String> = standing(&waiting);
        if now != self.waiting {
            lines.extend(waiting);
            self.waiting = now;
        }
        let minute = status.second / 60;
        let runs = status.ended.is_none() && status.step > 0;
        if runs && self.minute != Some(minute) {
            lines.push(minute_line(&words, status));
            self.minute = Some(minute);
        }
        lines
    }

    fn event(&self, view: &View, event: Event) -> Option<String> {
        // A question is told by what is waited for.
        if matches!(event, Event::Asked(_) | Event::Tripped(_)) {
            return None;
        }
        words_of(event, view.baked.as_ref()).map(|words| format!("{}.", capitalised(&words)))
    }
}

fn minute_line(words: &Words<'_>, status: &Status) -> String {
    // What is the same every minute is not said every minute.
    let counted = if words.counts() { capitalised(&words.counted_aloud()) } else { String::new() };
    let done = if words.foresees() { capitalised(&words.done()) } else { String::new() };
    let sentences = [
        capitalised(&spoken(status.second.into())),
        capitalised(&words.step()),
        counted,
        parts(words),
        capitalised(&words.air()),
        capitalised(&words.heater()),
        capitalised(words.door()),
        done,
    ];
    let said = sentences.iter().filter(|sentence| !sentence.is_empty());
    said.map(|sentence| format!("{sentence}.")).collect::<Vec<_>>().join(" ")
}

fn parts(words: &Words<'_>) -> String {
    let (coldest, hottest) = (words.coldest(), words.hottest());
    if hottest.is_empty() {
        capitalised(&coldest)
    } else {
        format!("{}, {hottest}", capitalised(&coldest))
    }
}
