//! Another log laid beside one: each of its steps from its own beginning.
//!
//! A person takes longer to hang parts than a rehearsal thought, and from there on nothing would be
//! at the same time any more. So the same seconds of the same run of the same step are compared,
//! and what one of them does not have is not shown.

use crate::log::{Log, Row};
use crate::report::result::StepRun;

/// Rows further from a second than this are another's, s.
const SAME_S: f64 = 0.75;

/// What of another log belongs beside each second of one.
#[derive(Clone, Debug)]
pub struct Against<'a> {
    /// What the other is called: "rehearsal".
    pub name: &'a str,
    /// Its steps.
    pub steps: &'a [StepRun],
    rows: Vec<Option<&'a Row>>,
}

impl<'a> Against<'a> {
    /// Lays `other` beside `log`; both come with their steps.
    #[must_use]
    pub fn new(
        (log, steps): (&Log, &[StepRun]),
        (other, other_steps): (&'a Log, &'a [StepRun]),
    ) -> Self {
        let there: Vec<&Row> = other.seconds().collect();
        let beside = |row: &Row| {
            let now_s = row.t_s();
            let run = steps.iter().rev().find(|run| run.started_s <= now_s)?;
            let same = |other: &&StepRun| other.index == run.index && other.round == run.round;
            let other_run = other_steps.iter().find(same)?;
            let at_s = other_run.started_s + (now_s - run.started_s);
            if other_run.ended_s.is_some_and(|ended_s| at_s > ended_s) {
                return None;
            }
            let after = there.partition_point(|row| row.t_s() < at_s - SAME_S);
            there.get(after).copied().filter(|row| (row.t_s() - at_s).abs() <= SAME_S)
        };
        let rows = log.seconds().map(beside).collect();
        let name = if other.header.source.is_rehearsed() { "rehearsal" } else { "other log" };
        Self { name, steps: other_steps, rows }
    }

    /// The other's row beside a second, by its number among the seconds.
    pub(super) fn row(&self, second: usize) -> Option<&'a Row> {
        self.rows.get(second).copied().flatten()
    }
}
