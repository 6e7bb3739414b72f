//! From a true temperature at a sensor to the transfer a converter hands the board.

use super::fault::{FaultKind, Faults};
use crate::files::oven::Sensor;
use rand_core::{RngCore, SeedableRng};
use rand_xoshiro::Xoshiro256PlusPlus;
use truesoak_core::io::{Sample, Transfer};
use truesoak_core::units::Celsius;

/// Step of a cold junction's reading, K (a common converter's data sheet: 1/16 K).
const JUNCTION_STEP_K: f64 = 0.0625;
/// GUESS: noise of a cold junction, K.
const JUNCTION_NOISE_K: f64 = 0.04;
/// GUESS: enclosure of the board above the room while it runs, K.
const ENCLOSURE_RISE_K: f64 = 6.0;
/// Cold junction while the enclosure is hot by a fault, °C.
const HOT_ENCLOSURE_C: f64 = 80.0;
/// Reading per kelvin of a wire of quite another type: S on a converter for K near 150 °C, the ratio
/// of 1.029 and 6.138 mV (ITS-90 reference functions, NIST Monograph 175; the first from memory).
/// Near types (J, T or N for K) are not seen by their slope; the two-point check finds them.
const WRONG_TYPE_RATIO: f64 = 0.168;

/// What a sensor put back is off by less than this is nothing, K.
const NEARLY_K: f64 = 1e-6;

/// Sources of noise; the seed changes them and nothing else.
#[derive(Clone, Debug)]
pub struct Noise {
    random: Xoshiro256PlusPlus,
}

impl Noise {
    /// Noise of one seed and one sensor.
    #[must_use]
    pub fn new(seed: u64, stream: u64) -> Self {
        let mixed = seed.wrapping_mul(0x9E37_79B9_7F4A_7C15).wrapping_add(stream);
        Self { random: Xoshiro256PlusPlus::seed_from_u64(mixed) }
    }

    /// One value of mean 0 and standard deviation 1: the sum of four uniform values, scaled; near
    /// enough to normal, never beyond 3.5, and cheap.
    #[inline]
    pub fn draw(&mut self) -> f64 {
        const EVERY_OTHER: u64 = 0x0000_FFFF_0000_FFFF;
        const MEAN: i32 = 2 * 65_536;
        let bits = self.random.next_u64();
        // Two sums of two side by side, and their sum.
        let pairs = (bits & EVERY_OTHER) + (bits >> 16 & EVERY_OTHER);
        let sum = (pairs >> 32) as i32 + pairs as i32;
        f64::from(sum - MEAN) * (1.732_050_807_568_877_2 / 65_536.0)
    }
}

/// A cold junction's reading.
#[derive(Clone, Copy, Debug)]
pub struct Junction {
    /// Whole steps above 0 °C.
    counts: Counts,
}

impl Junction {
    /// The same, °C.
    #[must_use]
    pub fn celsius(self) -> f64 {
        self.counts.number * JUNCTION_STEP_K
    }
}

/// One sensor with its converter.
#[derive(Clone, Debug)]
pub struct SensorFace {
    sensor: Sensor,
    /// Added to the true temperature by sensor and converter, K.
    error_k: f64,
    /// Added by the board to every reading, K.
    correction_k: f64,
    noise: Noise,
    junction_noise: Noise,
    room_c: f64,
    /// What a sensor off its place shows, °C.
    detached_c: Option<f64>,
    /// How far one that was put back still is from what it should show, K.
    back_k: f64,
    moved_k: f64,
    /// What a probe that is not on its part shows, °C.
    astray_c: Option<f64>,
}

impl SensorFace {
    /// A sensor with a constant error, as the board believes it needs a correction.
    #[must_use]
    pub fn new(sensor: Sensor, error_k: f64, correction_k: f64, seed: u64, stream: u64) -> Self {
        Self {
            sensor,
            error_k,
            correction_k,
            noise: Noise::new(seed, 2 * stream),
            junction_noise: Noise::new(seed, 2 * stream + 1),
            room_c: 20.0,
            detached_c: None,
            back_k: 0.0,
            moved_k: 0.0,
            astray_c: None,
        }
    }

    /// The same in a room of this temperature, °C.
    #[must_use]
    pub fn in_room(mut self, room_c: f64) -> Self {
        self.room_c = room_c;
        self
    }

    /// The board adds this to every reading, K.
    pub fn correct_by(&mut self, correction_k: f64) {
        self.correction_k = correction_k;
    }

    /// What a reading is off by besides its noise, K.
    #[must_use]
    pub fn constant_error_k(&self) -> f64 {
        self.error_k + self.correction_k
    }

    /// Cold junction.
    #[inline]
    pub fn junction(&mut self, tick: u32, faults: &Faults) -> Junction {
        let base = if faults.is_on(FaultKind::EnclosureHot, tick) {
            HOT_ENCLOSURE_C
        } else {
            self.room_c + ENCLOSURE_RISE_K
        };
        let shown_c = base + JUNCTION_NOISE_K * self.junction_noise.draw();
        Junction { counts: Counts::of(shown_c, JUNCTION_STEP_K) }
    }

    /// The transfer of this tick for a true temperature at the sensor.
    #[inline]
    pub fn transfer(&mut self, true_c: f64, junction: Junction) -> Sample {
        let noise_k = self.sensor.noise_k * self.noise.draw();
        self.converted(true_c + self.error_k + noise_k, junction)
    }

    /// The same where something is or was wrong, after the one `before`.
    #[cold]
    pub fn faulty_transfer(
        &mut self,
        true_c: f64,
        junction: Junction,
        tick: u32,
        faults: &Faults,
        before: Option<Sample>,
    ) -> Sample {
        let noise_k = self.sensor.noise_k * self.noise.draw();
        let shown_c = self.seen(true_c, tick, faults) + self.error_k + noise_k;
        let shown_c = self.misread(shown_c, junction.celsius(), tick, faults);
        disturb(self.converted(shown_c, junction), before, tick, faults)
    }

    /// What the converter sends, and the board makes of it.
    #[inline]
    fn converted(&self, shown_c: f64, junction: Junction) -> Sample {
        let counts = Counts::of(shown_c, self.sensor.resolution_k);
        let raw_c = counts.number * self.sensor.resolution_k;
        Sample {
            value: Celsius((raw_c + self.correction_k) as f32),
            age_ticks: 0,
            frame: u64::from(counts.bits) | u64::from(junction.counts.bits) << 32,
            transfer: Transfer::Good,
        }
    }

    /// What a faulty sensor or its wiring makes of what it should show.
    fn misread(&mut self, mut shown_c: f64, junction_c: f64, tick: u32, faults: &Faults) -> f64 {
        if faults.is_on(FaultKind::ThermocoupleReversed, tick) {
            shown_c = 2.0 * junction_c - shown_c;
        }
        if faults.is_on(FaultKind::SensorTypeWrong, tick) {
            shown_c = junction_c + WRONG_TYPE_RATIO * (shown_c - junction_c);
        }
        shown_c +=
            faults.at(FaultKind::ReadingJump, tick).and_then(|fault| fault.by_k).unwrap_or(0.0);
        shown_c + self.moved(tick, faults)
    }

    /// How far a sensor that has moved is from where it was, K: it follows with its own lag.
    fn moved(&mut self, tick: u32, faults: &Faults) -> f64 {
        let goal_k =
            faults.at(FaultKind::SensorMoved, tick).and_then(|fault| fault.by_k).unwrap_or(0.0);
        self.moved_k += (goal_k - self.moved_k) * (0.1 / self.sensor.lag_s).min(1.0);
        self.moved_k
    }

    /// What the sensor is exposed to: the oven, or the room where it has come off. It follows with
    /// its own lag both ways.
    fn seen(&mut self, true_c: f64, tick: u32, faults: &Faults) -> f64 {
        let share = (0.1 / self.sensor.lag_s).min(1.0);
        if !faults.is_on(FaultKind::SensorDetached, tick) {
            self.back_k = self.detached_c.take().map_or(self.back_k, |was_c| was_c - true_c);
            self.back_k -= self.back_k * share;
            if self.back_k.abs() < NEARLY_K {
                self.back_k = 0.0;
            }
            return true_c + self.back_k;
        }
        let was_c = self.detached_c.unwrap_or(true_c + self.back_k);
        let now_c = was_c + (self.room_c - was_c) * share;
        self.detached_c = Some(now_c);
        now_c
    }

    /// What a probe sees that has left its part for somewhere at `goal_c`, where it comes to with
    /// its own lag; `None`: it is on its part.
    pub fn astray(&mut self, part_c: f64, goal_c: Option<f64>) -> f64 {
        let was_c = self.astray_c.unwrap_or(part_c);
        self.astray_c =
            goal_c.map(|goal_c| was_c + (goal_c - was_c) * (0.1 / self.sensor.lag_s).min(1.0));
        self.astray_c.unwrap_or(part_c)
    }
}

/// What of a fresh transfer gets through, after the one `before`.
fn disturb(fresh: Sample, before: Option<Sample>, tick: u32, faults: &Faults) -> Sample {
    let bad = |transfer| Sample { value: Celsius(0.0), transfer, ..fresh };
    if faults.is_on(FaultKind::ConverterSilent, tick) {
        Sample { frame: 0, ..bad(Transfer::Silent) }
    } else if faults.is_on(FaultKind::ThermocoupleOpen, tick) {
        bad(Transfer::Open)
    } else if faults.is_on(FaultKind::ThermocoupleShort, tick) {
        bad(Transfer::Short)
    } else if let (true, Some(last)) = (faults.is_on(FaultKind::ReadingStale, tick), before) {
        Sample { age_ticks: last.age_ticks.saturating_add(1), ..last }
    } else if let (true, Some(last)) = (faults.is_on(FaultKind::ReadingFrozen, tick), before) {
        last
    } else {
        fresh
    }
}

/// Whole steps in a value.
#[derive(Clone, Copy, Debug)]
struct Counts {
    number: f64,
    /// The same as a converter sends it, in two's complement.
    bits: u32,
}

impl Counts {
    /// Nearest, ties to even. Adding 1.5·2⁵² leaves no bits for a fraction and the whole number in
    /// the lowest ones; exact for anything a converter shows.
    #[inline]
    fn of(value: f64, step: f64) -> Self {
        const NO_FRACTION: f64 = 6_755_399_441_055_744.0;
        let shifted = value / step + NO_FRACTION;
        Self { number: shifted - NO_FRACTION, bits: shifted.to_bits() as u32 }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn noise_has_the_mean_and_deviation_it_says_and_a_seed_repeats_it() {
        let mut noise = Noise::new(7, 0);
        let values: Vec<f64> = (0..100_000).map(|_| noise.draw()).collect();
        let mean = values.iter().sum::<f64>() / 1e5;
        let variance = values.iter().map(|value| (value - mean).powi(2)).sum::<f64>() / 1e5;
        assert!(mean.abs() < 0.02 && (variance - 1.0).abs() < 0.03, "{mean} {variance}");
        let mut again = Noise::new(7, 0);
        assert!(values.iter().all(|value| (value - again.draw()).abs() < f64::EPSILON));
        let mut other = Noise::new(8, 0);
        assert!((values[0] - other.draw()).abs() > f64::EPSILON);
    }
}
