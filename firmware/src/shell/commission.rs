//! Commissioning: who may change the settings, and the sensors' check at two points.
//!
//! GO held while the board is switched on, and released within 20 s, opens it until the board is
//! switched off; a reset by the watchdog or an interrupted bake does not. A GO that stays closed for
//! longer is stuck. The baths are judged in the core ([`truesoak_core::two_points`]).

use super::sensors::{Read, SENSORS};
use truesoak_core::two_points::TwoPoints;
use truesoak_core::units::{Reading, TICKS_PER_SECOND, Tick};
use truesoak_core::wire::commissioned::Commissioned;
use truesoak_core::wire::messages::{CheckState, SensorState};
use truesoak_core::wire::settings::{BoardSettings, Fitted};

/// GO held at boot must be released within this, or it is stuck.
pub(super) const RELEASE_TICKS: u32 = 20 * TICKS_PER_SECOND;

/// Where commissioning stands.
#[derive(Clone, Copy, Debug)]
pub(super) struct Commission {
    go: Go,
    /// When the board started, as of its first tick.
    since: Option<Tick>,
    pub two_points: TwoPoints,
    /// The step test has been gone through; the hold is next.
    pub step_tested: bool,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Go {
    /// Nothing read yet.
    Unread,
    /// Closed since the board started.
    Held,
    /// Held and released in time.
    Commissioning,
    /// Was not held, or for too long.
    Closed,
}

impl Commission {
    /// A board that starts; `may` is false where it goes on with a bake or was reset.
    pub fn new(may: bool) -> Self {
        let go = if may { Go::Unread } else { Go::Closed };
        Self { go, since: None, two_points: TwoPoints::new(), step_tested: false }
    }

    /// Settings may be changed.
    pub fn is_open(&self) -> bool {
        self.go == Go::Commissioning
    }

    /// Takes a tick's GO and readings.
    pub fn tick(&mut self, now: Tick, go: bool, read: &Read, kept: Option<&Commissioned>) {
        let since = *self.since.get_or_insert(now);
        self.go = match self.go {
            Go::Unread if go => Go::Held,
            Go::Held if !go => Go::Commissioning,
            Go::Held if now.since(since) >= RELEASE_TICKS => Go::Closed,
            Go::Unread => Go::Closed,
            other => other,
        };
        if let (true, Some(kept)) = (self.is_open(), kept) {
            self.two_points.tick(|sensor| {
                let fitted = kept.settings.sensor(sensor)?;
                Some(read.good(sensor)? - fitted.correction())
            });
        }
    }

    /// Settings change: what was seen of a sensor that is no longer the one fitted is nothing.
    pub fn refit(&mut self, old: &BoardSettings, new: &BoardSettings) {
        for sensor in 0..SENSORS {
            let fitting = |of: &Fitted| of.fitting;
            if old.sensor(sensor).map(fitting) != new.sensor(sensor).map(fitting) {
                self.two_points.forget(sensor);
            }
        }
    }

    /// What is known of a sensor, if it is fitted.
    pub fn sensor(&self, sensor: usize, read: &Read, kept: &Commissioned) -> Option<SensorState> {
        kept.settings.sensor(sensor)?;
        let waits_for = self.two_points.waits_for(sensor);
        Some(SensorState {
            reading: read.good(sensor).and_then(Reading::from_celsius),
            check: CheckState::of(kept.is_checked(sensor), waits_for),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::super::sensors::SILENT;
    use super::*;

    const NOTHING: Read = Read { air: SILENT, air_b: None, part_probe: None };

    fn after_go(held: u32, may: bool) -> bool {
        let mut commission = Commission::new(may);
        for tick in 0..500 {
            commission.tick(Tick(tick), tick < held, &NOTHING, None);
        }
        commission.is_open()
    }

    #[test]
    fn only_go_held_at_boot_and_released_in_twenty_seconds_opens_it() {
        assert!(!after_go(0, true));
        assert!(after_go(1, true));
        assert!(after_go(200, true));
        assert!(!after_go(201, true));
        assert!(!after_go(50, false), "nor on a board that goes on with a bake");
        let mut later = Commission::new(true);
        for tick in 0..100 {
            later.tick(Tick(tick), (5..40).contains(&tick), &NOTHING, None);
        }
        assert!(!later.is_open());
    }
}
