//! Temperatures as the bytes a converter's result registers hold.
//!
//! Written from the data sheets' tables and not from the firmware's decoding, whose tests compare
//! it with the same tables; the laws of the sensors are the core's, which `sensor_references` holds
//! to packages of other hands.

use truesoak_core::io::Transfer;
use truesoak_core::sensor::{Platinum, Thermocouple};
use truesoak_core::units::Celsius;

/// What a converter is to say.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Conversion {
    /// At the junction or the resistor.
    pub hot: Celsius,
    /// At the converter.
    pub cold: Celsius,
    /// What it finds of its wires.
    pub transfer: Transfer,
}

/// A converter and its sensor.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Chip {
    /// MAX31855 of this letter.
    Max31855(Thermocouple),
    /// MAX31856 set to this letter.
    Max31856,
    /// MAX31865 with this sensor and reference, Ω.
    Max31865(Platinum, f32),
}

impl Chip {
    /// Its name to the emulator.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Max31855(_) => "max31855",
            Self::Max31856 => "max31856",
            Self::Max31865(..) => "max31865",
        }
    }

    /// Bytes of its result registers. A transfer that is silent or impossible is the bus's, not the
    /// chip's: the last good bytes stand then.
    #[must_use]
    pub fn result(self, conversion: &Conversion) -> Vec<u8> {
        match self {
            Self::Max31855(couple) => max31855(conversion, couple).to_be_bytes().to_vec(),
            Self::Max31856 => max31856(conversion).to_vec(),
            Self::Max31865(sensor, reference_ohms) => {
                max31865(conversion, sensor, reference_ohms).to_vec()
            }
        }
    }
}

/// Nominal sensitivities, µV/K (MAX31855 data sheet, Table 1).
fn sensitivity_uv_per_k(couple: Thermocouple) -> f32 {
    match couple {
        Thermocouple::K => 41.276,
        Thermocouple::J => 57.953,
        Thermocouple::T => 52.18,
        Thermocouple::N => 36.256,
    }
}

/// 14 bits of 1/4 K, a fault bit, 12 bits of 1/16 K, three causes.
fn max31855(conversion: &Conversion, couple: Thermocouple) -> u32 {
    let Conversion { hot, cold, transfer } = *conversion;
    let emf_uv = |at| couple.emf(at).map_or(0.0, |emf| emf.0);
    let shown = cold.0 + (emf_uv(hot) - emf_uv(cold)) / sensitivity_uv_per_k(couple);
    let hot_bits = (shown * 4.0).round() as i32 as u32;
    let cold_bits = (cold.0 * 16.0).round() as i32 as u32;
    let frame = hot_bits << 18 | (cold_bits & 0xfff) << 4;
    match transfer {
        Transfer::Open => frame | 1 << 16 | 1 << 0,
        Transfer::Short => frame | 1 << 16 | 1 << 1,
        Transfer::Good | Transfer::Silent | Transfer::Impossible => frame,
    }
}

/// 14 bits of 1/64 K left-justified in two bytes, 19 of 1/128 K in three, status.
fn max31856(conversion: &Conversion) -> [u8; 6] {
    let Conversion { hot, cold, transfer } = *conversion;
    let [c0, c1] = (((cold.0 * 64.0).round() as i16) << 2).to_be_bytes();
    let [h0, h1, h2, _] = (((hot.0 * 128.0).round() as i32) << 13).to_be_bytes();
    let status = match transfer {
        Transfer::Open => 0x01,
        Transfer::Short => 0x02,
        Transfer::Good | Transfer::Silent | Transfer::Impossible => 0x00,
    };
    [c0, c1, h0, h1, h2, status]
}

/// 15 bits of the ratio and a fault bit, status.
fn max31865(conversion: &Conversion, sensor: Platinum, reference_ohms: f32) -> [u8; 3] {
    let ohms = sensor.resistance(conversion.hot).map_or(0.0, |ohms| ohms.0);
    let ratio = |code: u16, fault: u16| (code << 1 | fault).to_be_bytes();
    let ([r0, r1], status) = match conversion.transfer {
        Transfer::Open => (ratio(0x7fff, 1), 0x80),
        Transfer::Short => (ratio(0, 1), 0x40),
        Transfer::Good | Transfer::Silent | Transfer::Impossible => {
            (ratio((ohms / reference_ohms * 32_768.0).round() as u16, 0), 0x00)
        }
    };
    [r0, r1, status]
}
