//! One recount under way: rows into the ledger, what it has compared with what the log says, and the
//! verdict that follows.

use super::hole::{self, Between};
use super::parts::Proven;
use super::{Beside, RecountError, Tables, air, line_of};
use crate::chronicle::Chronicle;
use crate::log::{End, Header, Log, Phase, Row, Source};
use crate::rehearse::{Told, claim};
use crate::replay::Replay;
use crate::report::result::{BakeResult, Flaw, Found, SCHEMA, Verdict};
use crate::report::units::JOULES_PER_KWH;
use truesoak_core::bake::{Bake, Step};
use truesoak_core::event::Event;
use truesoak_core::units::Celsius;

/// What rounding to the log's three decimals can put a bound off by, K.
const ROUNDED_K: f64 = 0.000_51;

/// One recount under way.
pub(super) struct Course<'a> {
    tables: &'a Tables,
    bake: &'a Bake,
    pub(super) replay: Replay<'a>,
    chronicle: Chronicle,
    proven: Proven<'a>,
    record: Vec<Found>,
    /// The last row of a second, and whether the supply came back after it.
    last: Option<(Row, bool)>,
    /// Bounds and credit are still comparable with what the log says of them.
    compares: bool,
    /// Nothing counts any more, or a soak's count began again: place of the reason in the record.
    broken: Option<usize>,
    on_ticks: u64,
}

impl<'a> Course<'a> {
    pub(super) fn new(header: &Header, tables: &'a Tables) -> Self {
        let bake = &tables.setup.bake.bake;
        let by_the_clock = header.rehearsal.as_ref().is_some_and(|how| how.by_the_clock);
        let mut course = Self {
            tables,
            bake,
            replay: Replay::new(bake, &tables.model),
            chronicle: Chronicle::new(&tables.setup.bake.steps),
            proven: Proven::new(&tables.setup.load, &tables.model, bake),
            record: Vec::new(),
            last: None,
            compares: tables.agree && !by_the_clock && header.source != Source::Other,
            broken: None,
            on_ticks: 0,
        };
        if !tables.agree && header.source != Source::Other {
            course.tell(
                Flaw::OtherTables,
                Some(1),
                "the bake, oven and load it is counted by are not those the board ran with",
            );
        }
        if by_the_clock {
            course.tell(
                Flaw::NotCounted,
                Some(1),
                "a timer ran this bake; what its readings prove is counted all the same",
            );
        }
        course
    }

    /// Bounds and credit now.
    pub(super) fn beside(&self) -> Beside {
        self.replay.ledger().map_or_else(Beside::default, |ledger| Beside {
            coldest: ledger.coldest(),
            hottest: ledger.hottest(),
            credit_s: ledger.credit_s(),
        })
    }

    fn tell(&mut self, kind: Flaw, line: Option<usize>, what: impl Into<String>) {
        self.record.push(Found { line, kind, what: what.into() });
    }

    /// Nothing counts from here on, for the reason told last.
    fn stop(&mut self) {
        self.replay.note(Event::OutsideModel);
        self.compares = false;
        let reason = self.record.len().saturating_sub(1);
        self.broken.get_or_insert(reason);
    }

    pub(super) fn second(&mut self, index: usize, row: &Row) -> Result<(), RecountError> {
        self.bridge(index, row)?;
        self.replay.second(index, row)?;
        self.last = Some((row.clone(), false));
        self.on_ticks += u64::from(row.on_ticks);
        self.compare(index, row);
        if let Some(ledger) = self.replay.ledger() {
            self.chronicle.second(ledger.credit_s());
            self.proven.second(row.t_s(), ledger);
        }
        Ok(())
    }

    /// What lies between the second before and this one.
    fn bridge(&mut self, index: usize, row: &Row) -> Result<(), RecountError> {
        let Some((before, supply_returned)) = self.last.clone() else {
            if row.step > 1 {
                self.hole(index, "the log begins in the middle of a bake", row, None);
            }
            return Ok(());
        };
        let waited = self.replay.quiet_seconds(row) > 0;
        match Between::of(&before, row, supply_returned, waited) {
            Between::Nothing => {}
            Between::Twice => {
                return Err(RecountError::Twice { line: line_of(index), t_s: row.t_s() });
            }
            Between::Hole(what) => self.hole(index, &what, row, Some(&before)),
        }
        Ok(())
    }

    /// Nobody knows what was done in the oven, or that it is still the same load.
    fn hole(&mut self, index: usize, what: &str, row: &Row, before: Option<&Row>) {
        self.compares = false;
        self.tell(
            Flaw::Gap,
            Some(line_of(index)),
            format!(
                "{what}: the count begins again after it, as if all of the load had then come in \
                 cold"
            ),
        );
        if before.is_none() {
            // Its bounds begin here, and then as unsure as after any hole.
            let _ = self.replay.second(index, row);
        }
        let gap_s = before.map_or(f64::INFINITY, |before| row.t_s() - before.t_s());
        if let Some(ledger) = self.replay.ledger() {
            let event = hole::anything(&self.tables.model, self.bake, ledger, gap_s);
            self.replay.note(event);
            self.proven.after_hole();
        }
        if row.phase != Phase::Idle && self.is_soak(row.step) {
            self.broken.get_or_insert(self.record.len() - 1);
        }
        if before.is_none_or(|before| before.step != row.step) {
            if let Some(found) = self.record.last_mut() {
                found.what = format!("{what}, and a step began in it: nothing counts from here on");
            }
            self.stop();
        }
    }

    /// A step, from 1, is a soak.
    fn is_soak(&self, step: u8) -> bool {
        let index = usize::from(step).checked_sub(1);
        matches!(index.and_then(|index| self.bake.steps.get(index)), Some(Step::Soak(_)))
    }

    /// What the log says of bounds and credit must be what its own integers give.
    fn compare(&mut self, index: usize, row: &Row) {
        let Some(ledger) = self.replay.ledger().filter(|_| self.compares) else { return };
        let line = Some(line_of(index));
        let apart = |said: Option<f64>, found: Option<Celsius>| match (said, found) {
            (Some(said), Some(found)) => (said - f64::from(found.0)).abs() > ROUNDED_K,
            (said, found) => said.is_some() != found.is_some(),
        };
        let what = if ledger.credit_s() != row.credit_s {
            format!(
                "the log says {} s counted, and its own readings give {}",
                row.credit_s,
                ledger.credit_s()
            )
        } else if apart(row.coldest_c, ledger.coldest()) || apart(row.hottest_c, ledger.hottest()) {
            "the bounds in the log are not what its own readings give".to_owned()
        } else {
            return;
        };
        let what = format!(
            "{what}: something before this line was changed, and nothing \
             counts from here on"
        );
        self.tell(Flaw::Edited, line, what);
        self.stop();
    }

    pub(super) fn event(&mut self, index: usize, row: &Row) -> Result<(), RecountError> {
        let event = self.replay.event(index, row)?;
        if let (Event::SupplyReturned { .. }, Some((_, returned))) = (event, &mut self.last) {
            *returned = true;
        }
        if let (Event::SupplyReturned { credit_s, .. }, Some(ledger)) =
            (event, self.replay.ledger())
            && credit_s > ledger.credit_s()
        {
            let kept = ledger.credit_s();
            self.tell(
                Flaw::Edited,
                Some(line_of(index)),
                format!("the board went on from {credit_s} s counted, and {kept} were"),
            );
        }
        self.chronicle.event(row.tick, event, self.bake);
        self.proven.event(row.t_s(), event, self.replay.ledger());
        Ok(())
    }

    pub(super) fn result(mut self, log: &Log) -> BakeResult {
        if let End::Torn { line, what } = &log.end {
            let (line, what) = (Some(*line), what.clone());
            self.tell(Flaw::TornEnd, line, what);
        }
        self.chronicle.judge_doors(&log.rows);
        let is_short = self.is_short();
        let verdict = claim(&self.chronicle, is_short);
        let (parts, why) = self.proven.parts();
        let oven = &self.tables.setup.oven;
        let told = Told { bake: self.bake, oven, by_the_clock: false };
        let mut reason = told.reason(&self.chronicle, verdict, &parts);
        if let (Verdict::Short, Some(found)) = (verdict, self.broken) {
            reason.clone_from(&self.record[found].what);
        }
        if let (Verdict::Unfinished, None, End::Torn { what, .. }) =
            (verdict, self.chronicle.ending, &log.end)
        {
            reason.clone_from(what);
        }
        let power_w = match log.header.source {
            // What another maker's log takes for possible is no heat that was put in.
            Source::Other => f64::NAN,
            _ => f64::from(self.tables.model.element.power_w),
        };
        BakeResult {
            schema: SCHEMA.to_owned(),
            verdict,
            truth: None,
            reason,
            basis: told.basis(&self.chronicle),
            duration_s: self.chronicle.duration_s(&log.rows),
            energy_kwh: self.on_ticks as f64 / 10.0 * power_w / JOULES_PER_KWH,
            air: air(log),
            parts,
            doors: self.chronicle.doors,
            steps: self.chronicle.steps,
            trips: self.chronicle.trips,
            answers: self.chronicle.answers,
            oracle: None,
            why,
            record: self.record,
        }
    }

    /// Some soak's last try was counted for less than it asks, or its parts could be above for too
    /// long.
    fn is_short(&self) -> bool {
        let runs = &self.chronicle.steps;
        self.bake.steps.iter().enumerate().any(|(index, step)| {
            let Step::Soak(soak) = step else { return false };
            let last = runs.iter().rev().find(|run| run.index == index + 1);
            last.is_none_or(|run| run.credit_s < f64::from(soak.for_s))
        }) || self.proven.stayed_too_long()
    }
}
