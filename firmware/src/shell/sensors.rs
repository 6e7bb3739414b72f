//! The sensors as the settings say they are fitted: which converter reads each, and its correction.
//!
//! A sensor that is not fitted is never asked. Every fitted converter is asked once a tick, whatever
//! the others said; its answer carries its own fault, so nothing here can fail.

use crate::board::SensorBus;
use crate::converter::max31865::{Scale, Wires};
use crate::converter::{
    Converter, MainsFilter, Max31855, Max31856, Max31865, Newest, Reading, max31855, max31856,
    max31865,
};
use truesoak_core::io::{Sample, Transfer};
use truesoak_core::sensor::Ohms;
pub(super) use truesoak_core::two_points::SENSORS;
use truesoak_core::units::{Celsius, Kelvins};
use truesoak_core::wire::settings::{BoardSettings, Fitted, Fitting};

/// What reads one sensor.
#[derive(Debug)]
enum Channel<Bus> {
    /// Nobody: not fitted, or fitted with what no converter can measure.
    Nobody(Bus),
    Max31855(Max31855<Bus>),
    Max31856(Max31856<Bus>),
    Max31865(Max31865<Bus>),
}

impl<Bus: SensorBus> Channel<Bus> {
    fn new(mut bus: Bus, fitted: Option<Fitted>, filter: MainsFilter) -> Self {
        match fitted.map(|fitted| fitted.fitting) {
            None => Self::Nobody(bus),
            Some(Fitting::Max31855(couple)) => {
                bus.set_mode(max31855::MODE);
                Self::Max31855(Max31855::new(bus, couple))
            }
            Some(Fitting::Max31856(couple)) => {
                bus.set_mode(max31856::MODE);
                Self::Max31856(Max31856::new(bus, couple, filter))
            }
            Some(Fitting::Max31865 { sensor, wires, reference_ohms }) => {
                let wires = match wires {
                    3 => Wires::Three,
                    4 => Wires::Four,
                    _ => Wires::Two,
                };
                match Scale::new(sensor, Ohms(f32::from(reference_ohms))) {
                    Ok(scale) => {
                        bus.set_mode(max31865::MODE);
                        Self::Max31865(Max31865::new(bus, scale, wires, filter))
                    }
                    Err(_) => Self::Nobody(bus),
                }
            }
        }
    }

    fn release(self) -> Bus {
        match self {
            Self::Nobody(bus) => bus,
            Self::Max31855(chip) => chip.release(),
            Self::Max31856(chip) => chip.release(),
            Self::Max31865(chip) => chip.release(),
        }
    }
}

impl<Bus: SensorBus> Converter for Channel<Bus> {
    fn look(&mut self, newest: &mut Reading) -> Result<(), Transfer> {
        match self {
            Self::Nobody(_) => Err(Transfer::Silent),
            Self::Max31855(chip) => chip.look(newest),
            Self::Max31856(chip) => chip.look(newest),
            Self::Max31865(chip) => chip.look(newest),
        }
    }
}

/// A sensor's channel and what its readings are corrected by.
#[derive(Debug)]
struct Sensor<Bus> {
    channel: Newest<Channel<Bus>>,
    is_fitted: bool,
    correction: Kelvins,
}

impl<Bus: SensorBus> Sensor<Bus> {
    fn new(bus: Bus, fitted: Option<Fitted>, filter: MainsFilter) -> Self {
        Self {
            channel: Newest::of(Channel::new(bus, fitted, filter)),
            is_fitted: fitted.is_some(),
            correction: fitted.map_or(Kelvins(0.0), |fitted| fitted.correction()),
        }
    }

    /// `None` if it is not fitted.
    fn read(&mut self) -> Option<Reading> {
        if !self.is_fitted {
            return None;
        }
        let mut reading = self.channel.read();
        reading.sample.value = reading.sample.value + self.correction;
        Some(reading)
    }
}

/// What a sensor says that nothing can read.
pub(super) const SILENT: Reading = Reading { sample: Sample::SILENT, cold_junction: None };

/// All sensors.
#[derive(Debug)]
pub(super) struct Sensors<Bus>([Sensor<Bus>; SENSORS]);

/// What they said in one tick.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Read {
    /// The air sensor; silent where none is fitted.
    pub air: Reading,
    /// The second air sensor.
    pub air_b: Option<Reading>,
    /// The part probe.
    pub part_probe: Option<Reading>,
}

impl Read {
    fn nth(&self, sensor: usize) -> Option<&Reading> {
        match sensor {
            0 => Some(&self.air),
            1 => self.air_b.as_ref(),
            2 => self.part_probe.as_ref(),
            _ => None,
        }
    }

    /// What a sensor (air, second, probe) reads, if its answer was good and is not too old.
    pub fn good(&self, sensor: usize) -> Option<Celsius> {
        let sample = &self.nth(sensor)?.sample;
        (sample.transfer == Transfer::Good && !sample.is_stale()).then_some(sample.value)
    }

    /// Every one that is fitted gave a good answer.
    pub fn all_answer(&self) -> bool {
        (0..SENSORS).all(|sensor| self.nth(sensor).is_none() || self.good(sensor).is_some())
    }
}

impl<Bus: SensorBus> Sensors<Bus> {
    /// Sensors on these buses, fitted as the settings say; none without settings.
    pub fn new(buses: [Bus; SENSORS], settings: Option<&BoardSettings>) -> Self {
        let fitted = |sensor| settings.and_then(|settings| settings.sensor(sensor)).copied();
        let filter = match settings {
            Some(settings) if settings.mains_60_hz => MainsFilter::Hz60,
            _ => MainsFilter::Hz50,
        };
        let [bus, bus_b, bus_probe] = buses;
        Self([
            Sensor::new(bus, fitted(0), filter),
            Sensor::new(bus_b, fitted(1), filter),
            Sensor::new(bus_probe, fitted(2), filter),
        ])
    }

    /// The same buses under other settings.
    pub fn refit(self, settings: Option<&BoardSettings>) -> Self {
        Self::new(self.0.map(|sensor| sensor.channel.converter.release()), settings)
    }

    /// Asks each of them.
    pub fn read(&mut self) -> Read {
        let [air, air_b, part_probe] = &mut self.0;
        Read {
            air: air.read().unwrap_or(SILENT),
            air_b: air_b.read(),
            part_probe: part_probe.read(),
        }
    }
}
