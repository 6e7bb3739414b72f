//! One second, event or tick in fourteen bytes: what the store keeps of a bake.
//!
//! A second is exactly the integers the bounds ran on, and what a log shows beside them. Bounds and
//! credit are left out: the same ledger over the same rows has them again ([`SecondRow::second`]).
//! An event carries itself. Rows keep the order in which things happened; the store adds its own
//! check and two bytes are left for it in sixteen.
//!
//! What decodes encodes to the same bytes, so a row has one form only. Refused: a number that has
//! no place (a bake of 194 days, a reading that no sensor of the project gives), bytes that no row
//! has.

use super::bits::Bits;
use super::tick_row::{TICK, TickRow};
use super::write;
use crate::bounds::Second;
use crate::event::Event;
use crate::record::{Phase, Record};
use crate::units::{Celsius, Reading};
use serde::{Deserialize, Serialize};

/// Bytes of a row.
pub const ROW_BYTES: usize = 14;

/// Least reading a row holds, steps of 1/128 K: −273 °C.
pub const READING_LEAST: Reading = Reading(-273 * 128);
/// Greatest reading a row holds: 1774.98 °C. The hottest any sensor of the project gives is
/// 1372 °C, the end of type K.
pub const READING_MOST: Reading = Reading(READING_LEAST.0 + (1 << READING_BITS) - 2);
const READING_BITS: u32 = 18;

/// Steps of [`Sixteenths`] in one kelvin.
const PER_KELVIN: f32 = 16.0;
/// Least setpoint a row holds: −50 °C.
const SETPOINT_LEAST: i16 = -50 * 16;
/// Greatest: 973.875 °C, past any oven's limit.
const SETPOINT_MOST: i16 = SETPOINT_LEAST + (1 << SETPOINT_BITS) - 2;
const SETPOINT_BITS: u32 = 14;

const SECOND_BITS: u32 = 24;
const ON_TICKS_BITS: u32 = 4;
const ON_TICKS_MAX: u8 = 10;
const STEP_BITS: u32 = 5;
const PHASE_BITS: u32 = 4;

/// First byte of an event; that of a second is even.
const EVENT: u8 = 1;
/// First byte of [`Event::SupplyReturned`], which has no room for its time.
const SUPPLY_RETURNED: u8 = 3;
/// Bytes of an event before the event itself: the first, and its tick.
const BEFORE_EVENT: usize = 5;

/// A setpoint, kept to 1/16 K: it is shown, and nothing is reckoned from it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Sixteenths(i16);

impl Sixteenths {
    /// The nearest there is.
    #[must_use]
    pub fn nearest(value: Celsius) -> Self {
        // The cast saturates, and of a not-a-number makes 0 °C.
        let steps = libm::roundf(value.0 * PER_KELVIN) as i16;
        Self(steps.clamp(SETPOINT_LEAST, SETPOINT_MOST))
    }

    /// The temperature.
    #[must_use]
    pub fn to_celsius(self) -> Celsius {
        Celsius(f32::from(self.0) / PER_KELVIN)
    }
}

/// One row.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Row {
    /// A second that is through.
    Second(SecondRow),
    /// Something that happened.
    Event {
        /// Ticks since the bake began; `None` for [`Event::SupplyReturned`] alone, which stands
        /// right before the question of the same tick.
        tick: Option<u32>,
        /// What.
        event: Event,
    },
    /// A tick of the black box.
    Tick(TickRow),
}

/// A second: what is kept of its [`Record`].
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SecondRow {
    /// Seconds since the bake began.
    pub second: u32,
    /// Mean air reading; `None` when nothing was believed.
    pub reading: Option<Reading>,
    /// Mean reading of the second air sensor.
    pub reading_b: Option<Reading>,
    /// Mean reading of the part probe.
    pub part_probe: Option<Reading>,
    /// Setpoint of the reading.
    pub setpoint: Option<Sixteenths>,
    /// Ticks with the drive on, 0..=10.
    pub on_ticks: u8,
    /// Heat was allowed in the last tick of the second.
    pub permit: bool,
    /// The door was open in some tick of the second.
    pub door_open: bool,
    /// Some transfer of the second was not believed.
    pub projected: bool,
    /// The bounds are widened by a step.
    pub widened: bool,
    /// What the airflow proof said; `None` without one.
    pub airflow: Option<bool>,
    /// Step, from 1; 0 outside a bake.
    pub step: u8,
    /// Phase.
    pub phase: Phase,
}

impl From<&Record> for SecondRow {
    fn from(record: &Record) -> Self {
        Self {
            second: record.second,
            reading: record.reading,
            reading_b: record.reading_b,
            part_probe: record.part_probe,
            setpoint: record.setpoint.map(Sixteenths::nearest),
            on_ticks: record.on_ticks,
            permit: record.permit,
            door_open: record.door_open,
            projected: record.projected,
            widened: record.widened,
            airflow: record.airflow,
            step: record.step,
            phase: record.phase,
        }
    }
}

impl SecondRow {
    /// What moves the bounds.
    #[must_use]
    pub fn second(&self) -> Second {
        Second {
            reading: self.reading,
            reading_b: self.reading_b,
            part_probe: self.part_probe,
            on_ticks: self.on_ticks,
            door_open: self.door_open,
            airflow: self.airflow,
            widened: self.widened,
        }
    }

    fn encode(&self) -> Option<[u8; ROW_BYTES]> {
        if self.on_ticks > ON_TICKS_MAX {
            return None;
        }
        let mut bits = Bits::default();
        bits.put_flag(false).put(self.second, SECOND_BITS);
        for reading in [self.reading, self.reading_b, self.part_probe] {
            put_reading(&mut bits, reading);
        }
        bits.put_code(setpoint_code(self.setpoint), SETPOINT_BITS)
            .put(self.on_ticks.into(), ON_TICKS_BITS)
            .put_flag(self.permit)
            .put_flag(self.door_open)
            .put_flag(self.projected)
            .put_flag(self.widened)
            .put_known(self.airflow)
            .put(self.step.into(), STEP_BITS)
            .put_code(index_in(&Phase::ALL, &self.phase), PHASE_BITS)
            .bytes()
    }

    fn decode(bytes: &[u8; ROW_BYTES]) -> Option<Self> {
        let mut bits = Bits::of(bytes);
        let _ = bits.take_flag();
        Some(Self {
            second: bits.take(SECOND_BITS),
            reading: take_reading(&mut bits),
            reading_b: take_reading(&mut bits),
            part_probe: take_reading(&mut bits),
            setpoint: setpoint_of(bits.take(SETPOINT_BITS)),
            on_ticks: u8::try_from(bits.take(ON_TICKS_BITS)).ok()?,
            permit: bits.take_flag(),
            door_open: bits.take_flag(),
            projected: bits.take_flag(),
            widened: bits.take_flag(),
            airflow: bits.take_known()?,
            step: u8::try_from(bits.take(STEP_BITS)).ok()?,
            phase: *Phase::ALL.get(usize::try_from(bits.take(PHASE_BITS)).ok()?)?,
        })
    }
}

impl Row {
    /// An event at a tick since the bake began.
    #[must_use]
    pub fn of_event(tick: u32, event: Event) -> Self {
        let has_time = !matches!(event, Event::SupplyReturned { .. });
        Self::Event { tick: has_time.then_some(tick), event }
    }

    /// Its bytes; `None` for what has no place in a row.
    #[must_use]
    pub fn encode(&self) -> Option<[u8; ROW_BYTES]> {
        match *self {
            Self::Second(second) => second.encode(),
            Self::Tick(tick) => tick.encode(),
            Self::Event { tick: None, event } => encode_supply_returned(event),
            Self::Event { event: Event::SupplyReturned { .. }, .. } => None,
            Self::Event { tick: Some(tick), event } => {
                let mut bytes = [0; ROW_BYTES];
                let (before, rest) = bytes.split_first_chunk_mut::<BEFORE_EVENT>()?;
                let [t0, t1, t2, t3] = tick.to_le_bytes();
                *before = [EVENT, t0, t1, t2, t3];
                write(&event, rest)?;
                Some(bytes)
            }
        }
    }

    /// The row these bytes are; `None` for bytes that [`Row::encode`] never gives.
    #[must_use]
    pub fn decode(bytes: &[u8; ROW_BYTES]) -> Option<Self> {
        let (before, rest) = bytes.split_first_chunk::<BEFORE_EVENT>()?;
        let row = match *before {
            [SUPPLY_RETURNED, ..] => decode_supply_returned(bytes),
            [TICK, ..] => Self::Tick(TickRow::decode(bytes)?),
            [EVENT, t0, t1, t2, t3] => {
                let (event, _) = postcard::take_from_bytes(rest).ok()?;
                Self::Event { tick: Some(u32::from_le_bytes([t0, t1, t2, t3])), event }
            }
            [first, ..] if first % 2 == 1 => return None,
            _ => Self::Second(SecondRow::decode(bytes)?),
        };
        (row.encode().as_ref() == Some(bytes)).then_some(row)
    }
}

fn encode_supply_returned(event: Event) -> Option<[u8; ROW_BYTES]> {
    let Event::SupplyReturned { coldest, hottest, parts, element, credit_s } = event else {
        return None;
    };
    let mut bits = Bits::default();
    bits.put(SUPPLY_RETURNED.into(), 8);
    for reading in [coldest, hottest, parts, element] {
        put_reading(&mut bits, Some(reading));
    }
    bits.put(credit_s, 32).bytes()
}

/// What its readings cannot be decodes to one that does not encode.
fn decode_supply_returned(bytes: &[u8; ROW_BYTES]) -> Row {
    let mut bits = Bits::of(bytes);
    let _ = bits.take(8);
    let [coldest, hottest, parts, element] =
        core::array::from_fn(|_| take_reading(&mut bits).unwrap_or(Reading(i32::MAX)));
    let credit_s = bits.take(32);
    let event = Event::SupplyReturned { coldest, hottest, parts, element, credit_s };
    Row::Event { tick: None, event }
}

/// A row has a place for the reading.
pub(super) fn is_in_row(reading: Reading) -> bool {
    (READING_LEAST..=READING_MOST).contains(&reading)
}

/// 0 is none, 1 the least.
pub(super) fn put_reading(bits: &mut Bits, reading: Option<Reading>) {
    let code = match reading {
        None => Some(0),
        Some(reading) if is_in_row(reading) => u32::try_from(reading.0 - READING_LEAST.0 + 1).ok(),
        Some(_) => None,
    };
    bits.put_code(code, READING_BITS);
}

pub(super) fn take_reading(bits: &mut Bits) -> Option<Reading> {
    let code = bits.take(READING_BITS).checked_sub(1)?;
    i32::try_from(code).ok().map(|code| Reading(code + READING_LEAST.0))
}

fn setpoint_code(setpoint: Option<Sixteenths>) -> Option<u32> {
    match setpoint {
        None => Some(0),
        Some(Sixteenths(steps)) if steps > SETPOINT_MOST => None,
        Some(Sixteenths(steps)) => {
            u32::try_from(i32::from(steps) - i32::from(SETPOINT_LEAST) + 1).ok()
        }
    }
}

fn setpoint_of(code: u32) -> Option<Sixteenths> {
    let code = i16::try_from(code.checked_sub(1)?).ok()?;
    code.checked_add(SETPOINT_LEAST).map(Sixteenths)
}

/// The place of one among all.
pub(super) fn index_in<T: PartialEq>(all: &[T], one: &T) -> Option<u32> {
    u32::try_from(all.iter().position(|other| other == one)?).ok()
}
