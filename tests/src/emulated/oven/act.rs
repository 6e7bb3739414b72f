//! What a rehearsal's inputs become at a board: conversions, levels, and what is done to the chip where a
//! fault is the board's own.

use super::Oven;
use crate::emulated::board::{Contacts, TICK_NS};
use crate::emulated::frames::Conversion;
use crate::emulated::twin::STORE;
use serde_json::json;
use truesoak_core::io::{Door, Inputs, Transfer};
use truesoak_core::units::{Celsius, Kelvins, Tick};

/// Edges a second of the independent clock.
const CLOCK_HZ: f64 = 32_768.0;
/// What a converter is made to show moves no faster, K.
const SHOWN_K_PER_TICK: f32 = 0.3;
/// The part of the store that takes rows (`firmware/src/store/mod.rs`: behind three twins).
const POOL: std::ops::Range<usize> = STORE.start as usize + 6 * 4096..2 * 1024 * 1024;

impl Oven {
    /// Ticks that nobody called for: the processor hung, or there was no supply.
    pub(super) fn catch_up(&mut self, ticks: u32, inputs: &Inputs) {
        if ticks == 0 {
            return;
        }
        let was_reset = inputs.health.watchdog_resets > self.resets;
        self.resets = inputs.health.watchdog_resets;
        if std::mem::take(&mut self.restarts) && !was_reset {
            self.pair.cut_supply(f64::from(ticks) * TICK_NS - TICK_NS / 2.0);
            return;
        }
        let _ = self.pair.board.order(&json!({ "do": "freeze", "frozen": true }));
        self.pair.ticks(ticks);
        let _ = self.pair.board.order(&json!({ "do": "freeze", "frozen": false }));
    }

    pub(super) fn set(&mut self, inputs: &Inputs) {
        let cold = inputs.cold_junction.unwrap_or(Celsius(26.0));
        let samples = [Some(inputs.air), inputs.air_b, inputs.part_probe];
        for (at, sample) in samples.iter().enumerate() {
            // The very same frame again: a converter that stands still, its junction with it.
            let again = sample
                .zip(self.last[at])
                .is_some_and(|(now, was)| (now.frame, now.transfer) == (was.frame, was.transfer));
            self.last[at] = *sample;
            let Some(sample) = sample.filter(|_| !again) else { continue };
            let was = self.pair.board.conversions[at];
            let hot = if sample.transfer == Transfer::Good {
                if at == 0 { self.shown(sample.value) } else { sample.value }
            } else {
                was.map_or(cold, |was| was.hot)
            };
            let transfer = sample.transfer;
            self.pair.board.conversions[at] = Some(Conversion { hot, cold, transfer });
        }
        self.pair.board.contacts = Contacts {
            go: inputs.go,
            stop: inputs.stop,
            door_open: inputs.door == Some(Door::Open),
            mains: inputs.mains_at_heater == Some(true),
            airflow: inputs.airflow == Some(true),
        };
    }

    /// What the air's converter shows where the air truly is this.
    fn shown(&self, true_air: Celsius) -> Celsius {
        let shows = self.shows.zip(self.controller());
        let goal = shows.and_then(|(shows, controller)| shows(controller, &self.model));
        let Some(goal) = goal else { return true_air };
        let was = self.pair.board.conversions[0].map_or(true_air, |was| was.hot);
        was + Kelvins((goal - was).0.clamp(-SHOWN_K_PER_TICK, SHOWN_K_PER_TICK))
    }

    pub(super) fn look_out(&mut self, now: Tick) {
        if self.watch.zip(self.controller()).is_some_and(|(watch, of)| watch(of)) {
            self.watched_tick.get_or_insert(now.0);
        }
    }

    /// What a fault does that is neither a sensor's nor a contact's.
    pub(super) fn harm(&mut self, now: Tick, inputs: &Inputs) {
        let board = &mut self.pair.board;
        let silent = inputs.air.transfer == Transfer::Silent;
        if silent != self.silent {
            let fault = silent.then_some(self.silent_as);
            let _ = board.order(&json!({ "do": "bus", "converter": 0, "fault": fault }));
            self.silent = silent;
        }
        let stuck = inputs.air.age_ticks > 0;
        if stuck != std::mem::replace(&mut self.stuck, stuck) {
            let order = json!({ "do": "stick_conversion", "converter": 0, "stuck": stuck });
            let _ = board.order(&order);
        }
        if self.converter_lost.contains(&now.0) {
            let _ = board.order(&json!({ "do": "converter_supply", "converter": 0 }));
        }
        if now.0 == self.unplugged.start || now.0 == self.unplugged.end {
            let inserted = !self.unplugged.contains(&now.0);
            let _ = board.order(&json!({ "do": "plug", "inserted": inserted }));
        }
        let wrong = inputs.independent_ticks.is_some_and(|ticks| ticks != now.0);
        if wrong != self.clock_wrong {
            let hertz = if wrong { 1.05 * CLOCK_HZ } else { CLOCK_HZ };
            let _ = board.order(&json!({ "do": "clock", "hertz": hertz }));
            self.clock_wrong = wrong;
        }
        let health = inputs.health;
        let harms = [!health.memory, !health.settings, !health.store];
        let was = std::mem::replace(&mut self.harmed, harms);
        match harms.iter().zip(was).position(|(now, was)| *now && !was) {
            Some(0) => self.pair.stick_memory(),
            Some(1) => self.pair.turn_flash_bit(self.settings_at, 0),
            Some(2) => self.pair.stick_flash(POOL),
            _ => {}
        }
        let board = &mut self.pair.board;
        if self.follows_feedback && inputs.permit_feedback != Some(self.welded) {
            self.welded = inputs.permit_feedback == Some(true);
            let _ = board.order(&json!({ "do": "mirror", "closed": self.welded }));
        }
    }
}
