//! The second in the making: ticks are gathered, and once a second the bounds move on.
//!
//! Of the second that ends here nothing is known yet but what was read; the ledger works on it in
//! the ticks that follow. What becomes known here is the second before: bounds, credit, and what the
//! guard's rows of seconds compare, all of that one second.

use super::{Controller, OVERRUNS_MAX};
use crate::bounds::Second;
use crate::door::DoorNow;
use crate::guard::{Expectation, TripKind, is_unread_for_good};
use crate::io::Inputs;
use crate::judge::Judged;
use crate::units::{Reading, TICKS_PER_SECOND, Tick};

/// An unchanged frame widens the bounds from here on, ticks.
pub(super) const WIDENED_TICKS: u32 = 60 * TICKS_PER_SECOND;

/// A second that has ended.
#[derive(Clone, Copy, Debug)]
pub(super) struct EndedSecond {
    /// Ticks of it the drive was on.
    pub(super) on_ticks: u8,
    /// The door was open in it.
    door_open: bool,
}

/// Counts of the second in the making.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct SecondInMaking {
    ticks: u32,
    on_ticks: u32,
    door_open: bool,
}

impl SecondInMaking {
    /// Takes the ticks since the last call, all of which the drive stayed as it was.
    fn pass(&mut self, ticks: u32, drives: bool) {
        self.ticks = self.ticks.saturating_add(ticks);
        if drives {
            self.on_ticks = self.on_ticks.saturating_add(ticks);
        }
    }

    /// Ends the second once its ticks are through. What came late belongs to the next.
    fn end(&mut self) -> Option<EndedSecond> {
        let rest = self.ticks.checked_sub(TICKS_PER_SECOND)?;
        let on_ticks = self.on_ticks.min(TICKS_PER_SECOND);
        let door_open = self.door_open;
        *self = Self {
            ticks: rest % TICKS_PER_SECOND,
            on_ticks: (self.on_ticks - on_ticks).min(rest % TICKS_PER_SECOND),
            door_open: false,
        };
        Some(EndedSecond { on_ticks: on_ticks as u8, door_open })
    }
}

impl Controller {
    /// Takes the time since the last call. A late tick is forgiven twice in a bake; a gap the
    /// watchdog should have ended, or a time that does not go on, is not.
    pub(super) fn follow_time(&mut self, now: Tick) {
        let passed = self.last_tick.map_or(1, |last| now.since(last));
        self.last_tick = Some(now);
        self.second.pass(passed, self.last.heat.drives());
        if passed != 1 && self.sequence.is_running() {
            self.overruns = self.overruns.saturating_add(1);
            let forgivable = (2..=TICKS_PER_SECOND).contains(&passed);
            if self.overruns >= OVERRUNS_MAX || !forgivable {
                self.guard.latch(TripKind::TickOverrun, now);
            }
        }
    }

    /// Ends the second when its ticks are through.
    pub(super) fn end_second(&mut self, inputs: &Inputs, door: &DoorNow) -> Option<EndedSecond> {
        self.second.door_open |= door.open;
        // A board that comes back from one reset too many does not wait for its second.
        let over = self.resume.is_some() && inputs.health.watchdog_resets >= OVERRUNS_MAX;
        let at_once = EndedSecond { on_ticks: 0, door_open: false };
        self.second.end().or(over.then_some(at_once))
    }

    /// Hands a second that ended to the ledger, and takes from it what that has made of the second
    /// before: its bounds, its credit and what the guard expects. That second, where there is one.
    #[inline(never)] // seldom: its frame is not every tick's
    pub(super) fn make_second(
        &mut self,
        now: Tick,
        inputs: &Inputs,
        air: &Judged,
        door: &DoorNow,
        ended: EndedSecond,
    ) -> EndedSecond {
        let judged = self.air.end_second();
        let reading_b = inputs.air_b.and_then(|_| self.air_b.end_second().reading);
        let part_probe = inputs.part_probe.and_then(|_| self.part_probe.end_second().reading);
        self.reading = judged.reading.map(Reading::to_celsius);
        if self.resume.is_some() {
            // The bake goes on from here; the second that told where is not part of it. A sensor that
            // never tells ends it: the guard sees that once the bake is under way.
            let unread = is_unread_for_good(air).then_some(self.model.ambient);
            let unread = unread.and_then(Reading::from_celsius);
            if let Some(reading) = judged.reading.or(unread) {
                self.begin_again(now, reading, door);
            }
            return ended;
        }
        let Some(ledger) = self.ledger.as_mut().filter(|_| self.sequence.is_running()) else {
            return ended;
        };
        let second = Second {
            reading: judged.reading,
            reading_b,
            part_probe,
            on_ticks: ended.on_ticks,
            door_open: ended.door_open,
            airflow: inputs.airflow,
            widened: air.unchanged_ticks >= WIDENED_TICKS,
        };
        ledger.second(&self.model, &second);
        self.seconds += 1;
        let shown = ledger.shown().copied();
        self.expectation = self.expect();
        self.record = Some(self.make_record(&second, judged.projected));
        // Of the bake's first second nothing is known before its second one ends.
        let shown = shown.unwrap_or(Second::NOTHING);
        EndedSecond { on_ticks: shown.on_ticks, door_open: shown.door_open }
    }

    /// What the model says of the second that is shown; limits on parts are judged a second ahead
    /// of it, which is now.
    pub(super) fn expect(&self) -> Option<Expectation> {
        let ledger = self.ledger.as_ref()?;
        let bounds = ledger.bounds();
        let part_over_limit = self.model.classes.iter().enumerate().any(|(index, class)| {
            bounds.hottest_ahead(index).is_some_and(|hottest| {
                // A not-a-number is not below the limit.
                !(hottest.0.is_finite() && hottest < class.max)
            })
        });
        Some(Expectation {
            upper_air: bounds.upper_air(),
            liner: bounds.nominal_liner(),
            reading_lowest: bounds.reading_lowest(&self.model),
            reading_highest: bounds.reading_highest(&self.model),
            reading_nominal: bounds.nominal_reading(),
            reading: ledger
                .shown()
                .map_or(self.reading, |shown| shown.reading.map(Reading::to_celsius)),
            part_over_limit,
            probe_disagrees: bounds.probe_disagrees(),
        })
    }
}
