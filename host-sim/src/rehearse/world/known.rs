//! What a rehearsal without a controller asks of the world: its state as it is, and heat as a share
//! of full power.

use super::{Celsius, World};
use crate::rehearse::people::Act;
use truesoak_core::io::{Door, Question};

impl World {
    /// Sets load, fan and heater, with no drive in between.
    pub(in crate::rehearse) fn heat(&mut self, share: f64, fan_runs: bool) {
        if core::mem::take(&mut self.parts_leave) {
            self.plant.take_out();
        }
        self.plant.run_fan(fan_runs);
        self.plant.set_power(share * self.power_w);
    }

    /// What a reading is off by besides its noise, K.
    pub(in crate::rehearse) fn reading_error_k(&self) -> f64 {
        self.air.constant_error_k()
    }

    /// What the air sensor shows now, without its noise.
    pub(in crate::rehearse) fn reading_at(&self, done: u32) -> Celsius {
        Celsius((self.plant.shown_at(done).air_c + self.reading_error_k()) as f32)
    }

    /// The door as it is.
    pub(in crate::rehearse) fn door(&self) -> Door {
        if self.door_open { Door::Open } else { Door::Closed }
    }

    /// The buttons at this tick: GO, STOP.
    pub(in crate::rehearse) fn buttons(&mut self, tick: u32) -> (bool, bool) {
        self.people.buttons(tick)
    }

    /// People hear what is asked.
    pub(in crate::rehearse) fn ask(&mut self, question: Option<Question>, tick: u32) {
        self.people.hear(question, tick);
    }

    /// When somebody will open the door next, as far as that is planned.
    pub(in crate::rehearse) fn next_opening(&self) -> Option<u32> {
        let acts = self.people.planned().iter();
        acts.filter(|(_, act)| matches!(act, Act::Open(_))).map(|(tick, _)| *tick).min()
    }
}
