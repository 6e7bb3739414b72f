//! The guard shown second by second what the nominal oven expects and what is read; nothing else
//! moves.

use crate::standing::STANDING;
use truesoak_core::door::{DoorNow, DoorWatch};
use truesoak_core::guard::{Expectation, Guard, TripKind, View};
use truesoak_core::io::{Door, Heat, Inputs, Sample, Transfer};
use truesoak_core::judge::{Judge, Judged, Reach};
use truesoak_core::units::{Celsius, Tick};

/// What a second shows, °C.
#[derive(Clone, Copy)]
pub struct Says {
    pub reading: f32,
    pub nominal: f32,
    pub liner: f32,
    pub lowest: f32,
}

/// A guard and what it is shown.
pub struct Shown {
    pub guard: Guard,
    pub door: DoorWatch,
    pub switch: Option<Door>,
    pub fan: bool,
    air: Judge,
    pub inputs: Inputs,
    pub upper_air: Celsius,
    /// Every frame is another.
    pub anew: bool,
    pub now: u32,
}

impl Shown {
    pub fn new(switch: Option<Door>) -> Self {
        let reach = Reach {
            lag_s: 9.0,
            noise_k: 0.1,
            resolution_k: 0.25,
            ambient: Celsius(20.0),
            air_max: Celsius(300.0),
        };
        let inputs = Inputs {
            air: sample(20.0, 0, 0),
            air_b: None,
            part_probe: None,
            cold_junction: Some(Celsius(25.0)),
            door: switch,
            go: false,
            stop: false,
            permit_feedback: None,
            mains_at_heater: None,
            airflow: None,
            independent_ticks: None,
            health: truesoak_core::io::Health {
                memory: true,
                settings: true,
                store: true,
                watchdog_resets: 0,
            },
        };
        Self {
            guard: Guard::default(),
            door: DoorWatch::new(Tick(0)),
            switch,
            fan: false,
            air: Judge::new(reach),
            inputs,
            upper_air: Celsius(160.0),
            anew: true,
            now: 10_000,
        }
    }

    /// One tick with a reading that is so old; `says` where it ends a second.
    pub fn tick(&mut self, says: Says, age_ticks: u16, heat: Heat) -> DoorNow {
        self.now += 1;
        let ended = self.now.is_multiple_of(10);
        let frame = if self.anew { self.now } else { 0 };
        self.inputs.air = sample(says.reading, age_ticks, frame);
        let air: Judged = self.air.tick(&self.inputs.air, false);
        let door = self.door.tick(Tick(self.now), self.switch);
        let expectation = Expectation {
            upper_air: self.upper_air,
            liner: Celsius(says.liner),
            reading_lowest: Celsius(says.lowest),
            reading_highest: Celsius(says.nominal + 60.0),
            reading_nominal: Celsius(says.nominal),
            reading: Some(Celsius(says.reading)),
            part_over_limit: false,
            probe_disagrees: false,
        };
        let view = View {
            now: Tick(self.now),
            inputs: &self.inputs,
            air: &air,
            air_b: None,
            door: &door,
            commanded: heat,
            fan: self.fan,
            baking: true,
            second_on_ticks: ended.then_some(if heat.drives() { 10 } else { 0 }),
            expectation: Some(&expectation),
            air_max: Celsius(200.0),
            standing: &STANDING,
        };
        let _ = self.guard.tick(&view);
        if ended {
            let _ = self.air.end_second();
        }
        door
    }

    /// The second of the first trip in a course, and its kind.
    pub fn trip(
        &mut self,
        seconds: u32,
        heat: Heat,
        course: impl Fn(f32) -> Says,
    ) -> Option<(u32, TripKind)> {
        for tick in 0..10 * seconds {
            let _ = self.tick(course(tick as f32 / 10.0), 0, heat);
            if let Some(trip) = self.guard.trip() {
                return Some((tick / 10, trip.kind));
            }
        }
        None
    }
}

/// A good transfer.
fn sample(value: f32, age_ticks: u16, frame: u32) -> Sample {
    let frame = u64::from(frame);
    Sample { value: Celsius(value), age_ticks, frame, transfer: Transfer::Good }
}

/// An oven at full power for long: the nominal one 60 K above its liner, and nothing rises.
pub fn full_power(reading: f32) -> Says {
    Says { reading, nominal: 180.0, liner: 120.0, lowest: 110.0 }
}
