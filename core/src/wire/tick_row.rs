//! One tick of the black box: everything that came in and went out, in the bytes of a row.
//!
//! The board keeps the last minute of these in memory and stores them once a trip is latched. They
//! are for the person who looks for the cause; nothing is replayed from them. What a row cannot
//! hold is shown by what is nearest.

use super::bits::Bits;
use super::row::{ROW_BYTES, index_in, is_in_row, put_reading, take_reading};
use crate::io::{Door, Heat, Inputs, Outputs, Question, Sample, Transfer};
use crate::units::{Celsius, Reading, Tick};

/// First byte of a tick.
pub(super) const TICK: u8 = 5;
/// Rows of the black box: a minute of ticks.
pub const BLACK_BOX_ROWS: usize = 600;

const TICK_BITS: u32 = 14;
const TRANSFER_BITS: u32 = 3;
const AGE_BITS: u32 = 4;
const JUNCTION_BITS: u32 = 10;
const HEAT_BITS: u32 = 2;
const QUESTION_BITS: u32 = 3;
/// Steps of the cold junction in one kelvin.
const JUNCTION_PER_KELVIN: f32 = 4.0;
/// Least cold junction a row holds: −55 °C, where converters end (their data sheets).
const JUNCTION_LEAST: i16 = -55 * 4;

const TRANSFERS: [Transfer; 5] =
    [Transfer::Good, Transfer::Open, Transfer::Short, Transfer::Silent, Transfer::Impossible];
const HEATS: [Heat; 3] = [Heat::Cut, Heat::Allowed { drive: false }, Heat::Allowed { drive: true }];
const QUESTIONS: [Question; 7] = [
    Question::LoadIn,
    Question::Check,
    Question::Wait,
    Question::AnythingNew,
    Question::DoorLeftOpen,
    Question::PowerReturned,
    Question::Tripped,
];

/// A sensor's newest transfer.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Seen {
    /// What it reads; `None` for what no row holds.
    pub reading: Option<Reading>,
    /// What the converter says.
    pub transfer: Transfer,
}

/// A tick.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct TickRow {
    /// Low 14 bits of the tick: half an hour, and the order of a minute.
    pub tick: u16,
    /// Air sensor.
    pub air: Seen,
    /// Age of its transfer, ticks; 15 for any more.
    pub air_age: u8,
    /// Second air sensor, if fitted.
    pub air_b: Option<Seen>,
    /// What the part probe reads.
    pub part_probe: Option<Reading>,
    /// Cold junction, quarters of a kelvin.
    pub cold_junction_quarters: Option<i16>,
    /// Door switch.
    pub door: Option<Door>,
    /// GO is pressed.
    pub go: bool,
    /// STOP is pressed.
    pub stop: bool,
    /// The contactor's mirror contact says closed.
    pub permit_feedback: Option<bool>,
    /// Mains at the heater.
    pub mains_at_heater: Option<bool>,
    /// The fan moves air.
    pub airflow: Option<bool>,
    /// What was done about heat.
    pub heat: Heat,
    /// What was asked.
    pub asks: Option<Question>,
    /// A trip was latched.
    pub tripped: bool,
}

impl Seen {
    fn of(sample: &Sample) -> Self {
        Self { reading: reading_of(sample.value), transfer: sample.transfer }
    }
}

impl TickRow {
    /// What a tick took in and gave out.
    #[must_use]
    pub fn of(now: Tick, inputs: &Inputs, outputs: &Outputs, tripped: bool) -> Self {
        Self {
            tick: (now.0 & ((1 << TICK_BITS) - 1)) as u16,
            air: Seen::of(&inputs.air),
            air_age: inputs.air.age_ticks.min((1 << AGE_BITS) - 1) as u8,
            air_b: inputs.air_b.as_ref().map(Seen::of),
            part_probe: inputs.part_probe.and_then(|sample| reading_of(sample.value)),
            cold_junction_quarters: inputs.cold_junction.map(quarters_of),
            door: inputs.door,
            go: inputs.go,
            stop: inputs.stop,
            permit_feedback: inputs.permit_feedback,
            mains_at_heater: inputs.mains_at_heater,
            airflow: inputs.airflow,
            heat: outputs.heat,
            asks: outputs.asks,
            tripped,
        }
    }

    /// Its bytes; `None` for a number past its own bounds, which [`TickRow::of`] never gives.
    pub(super) fn encode(&self) -> Option<[u8; ROW_BYTES]> {
        let mut bits = Bits::default();
        bits.put(TICK.into(), 8).put(self.tick.into(), TICK_BITS);
        put_seen(&mut bits, Some(self.air));
        bits.put(self.air_age.into(), AGE_BITS);
        put_seen(&mut bits, self.air_b);
        put_reading(&mut bits, self.part_probe);
        bits.put_code(junction_code(self.cold_junction_quarters), JUNCTION_BITS)
            .put_known(self.door.map(|door| door == Door::Open))
            .put_flag(self.go)
            .put_flag(self.stop)
            .put_known(self.permit_feedback)
            .put_known(self.mains_at_heater)
            .put_known(self.airflow)
            .put_code(index_in(&HEATS, &self.heat), HEAT_BITS)
            .put_code(code_in(&QUESTIONS, self.asks.as_ref()), QUESTION_BITS)
            .put_flag(self.tripped)
            .bytes()
    }

    pub(super) fn decode(bytes: &[u8; ROW_BYTES]) -> Option<Self> {
        let mut bits = Bits::of(bytes);
        let _ = bits.take(8);
        Some(Self {
            tick: u16::try_from(bits.take(TICK_BITS)).ok()?,
            air: take_seen(&mut bits)??,
            air_age: u8::try_from(bits.take(AGE_BITS)).ok()?,
            air_b: take_seen(&mut bits)?,
            part_probe: take_reading(&mut bits),
            cold_junction_quarters: junction_of(bits.take(JUNCTION_BITS)),
            door: bits.take_known()?.map(|open| if open { Door::Open } else { Door::Closed }),
            go: bits.take_flag(),
            stop: bits.take_flag(),
            permit_feedback: bits.take_known()?,
            mains_at_heater: bits.take_known()?,
            airflow: bits.take_known()?,
            heat: *HEATS.get(usize::try_from(bits.take(HEAT_BITS)).ok()?)?,
            asks: named_by(&QUESTIONS, bits.take(QUESTION_BITS))?,
            tripped: bits.take_flag(),
        })
    }
}

fn reading_of(value: Celsius) -> Option<Reading> {
    Reading::from_celsius(value).filter(|reading| is_in_row(*reading))
}

fn quarters_of(value: Celsius) -> i16 {
    // The cast saturates, and of a not-a-number makes 0 °C.
    let quarters = libm::roundf(value.0 * JUNCTION_PER_KELVIN) as i16;
    quarters.clamp(JUNCTION_LEAST, JUNCTION_LEAST + (1 << JUNCTION_BITS) - 2)
}

fn junction_code(quarters: Option<i16>) -> Option<u32> {
    match quarters {
        None => Some(0),
        Some(quarters) => u32::try_from(i32::from(quarters) - i32::from(JUNCTION_LEAST) + 1).ok(),
    }
}

fn junction_of(code: u32) -> Option<i16> {
    i16::try_from(code.checked_sub(1)?).ok()?.checked_add(JUNCTION_LEAST)
}

/// A transfer's code is 0 for a sensor that is not fitted.
fn put_seen(bits: &mut Bits, seen: Option<Seen>) {
    put_reading(bits, seen.and_then(|seen| seen.reading));
    let transfer = seen.map(|seen| seen.transfer);
    bits.put_code(code_in(&TRANSFERS, transfer.as_ref()), TRANSFER_BITS);
}

/// `None` for a transfer there is none of; what is not fitted is `Some(None)`.
fn take_seen(bits: &mut Bits) -> Option<Option<Seen>> {
    let reading = take_reading(bits);
    let transfer = named_by(&TRANSFERS, bits.take(TRANSFER_BITS))?;
    Some(transfer.map(|transfer| Seen { reading, transfer }))
}

/// 0 is none.
fn code_in<T: PartialEq>(all: &[T], one: Option<&T>) -> Option<u32> {
    one.map_or(Some(0), |one| Some(index_in(all, one)? + 1))
}

fn named_by<T: Copy>(all: &[T], code: u32) -> Option<Option<T>> {
    match code.checked_sub(1) {
        None => Some(None),
        Some(index) => all.get(usize::try_from(index).ok()?).map(|one| Some(*one)),
    }
}
