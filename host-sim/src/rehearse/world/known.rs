//! What a rehearsal without a controller asks of the world: its state as it is, and heat as a share
//! of full power; and its sensors where they are taken out of it, for the check at two points.

use super::{Celsius, World};
use crate::rehearse::fault::Faults;
use crate::rehearse::people::Act;
use truesoak_core::io::{Door, Question, Sample};

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

    /// The board adds this to the readings of air sensor, second air sensor and part probe, K.
    pub(crate) fn correct_by(&mut self, corrections_k: [f64; 3]) {
        let faces = [Some(&mut self.air), self.air_b.as_mut(), self.part_probe.as_mut()];
        for (face, correction_k) in faces.into_iter().zip(corrections_k) {
            if let Some(face) = face {
                face.correct_by(correction_k);
            }
        }
    }

    /// The transfers of all sensors in a bath of this temperature, °C.
    pub(crate) fn in_a_bath(&mut self, tick: u32, bath_c: f64) -> [Option<Sample>; 3] {
        let junction = self.air.junction(tick, &Faults::default());
        let faces = [Some(&mut self.air), self.air_b.as_mut(), self.part_probe.as_mut()];
        faces.map(|face| Some(face?.transfer(bath_c, junction)))
    }
}
