//! The checkpoint in bytes, with its own check: what a bake goes on from after a lost supply.
//!
//! Always the same length, so that the store can place it; what is not needed is zero. Refused is
//! whatever the check does not hold for, and values no running bake has: a checkpoint decides what
//! heat does next.

use super::{CHECK, CHECK_BYTES, unseal, write};
use crate::bake::STEPS_MAX;
use crate::bounds::{Hottest, Trust};
use crate::guard::Trip;
use crate::record::Checkpoint;
use crate::units::Celsius;
use serde::{Deserialize, Serialize};

/// Bytes of a checkpoint, its check included; eight more are left for the store in 96.
pub const CHECKPOINT_BYTES: usize = 88;

/// As it is written: soaks that ended short are a bit each.
#[derive(Serialize, Deserialize)]
struct Kept {
    second: u32,
    step: u8,
    credit_s: u32,
    in_step_s: u32,
    stayed_s: u32,
    loaded: bool,
    rounds: [u8; STEPS_MAX],
    short: u32,
    heat_ticks: u32,
    coldest: Celsius,
    hottest: Hottest,
    outside_model: bool,
    probe: Trust,
    trip: Option<Trip>,
}

impl From<&Checkpoint> for Kept {
    fn from(from: &Checkpoint) -> Self {
        let short = from.short.iter().rev().fold(0, |bits, short| (bits << 1) | u32::from(*short));
        Self {
            second: from.second,
            step: from.step,
            credit_s: from.credit_s,
            in_step_s: from.in_step_s,
            stayed_s: from.stayed_s,
            loaded: from.loaded,
            rounds: from.rounds,
            short,
            heat_ticks: from.heat_ticks,
            coldest: from.coldest,
            hottest: from.hottest,
            outside_model: from.outside_model,
            probe: from.probe,
            trip: from.trip,
        }
    }
}

impl Kept {
    /// `None` unless a bake can be like this: a step it has, temperatures that are ones. Of a trip
    /// nothing is asked but itself: it must not be lost for what else was wrong.
    fn checkpoint(self) -> Option<Checkpoint> {
        let Hottest { oven, parts, element } = self.hottest;
        let physical = [self.coldest, oven, parts, element].into_iter().all(Celsius::is_physical);
        let possible = usize::from(self.step) < STEPS_MAX && self.short >> STEPS_MAX == 0;
        if self.trip.is_none() && !(possible && physical) {
            return None;
        }
        let mut short = [false; STEPS_MAX];
        for (index, short) in short.iter_mut().enumerate() {
            *short = self.short >> index & 1 == 1;
        }
        Some(Checkpoint {
            second: self.second,
            step: self.step,
            credit_s: self.credit_s,
            in_step_s: self.in_step_s,
            stayed_s: self.stayed_s,
            loaded: self.loaded,
            rounds: self.rounds,
            short,
            heat_ticks: self.heat_ticks,
            coldest: self.coldest,
            hottest: self.hottest,
            outside_model: self.outside_model,
            probe: self.probe,
            trip: self.trip,
        })
    }
}

/// The bytes of a checkpoint; `None` would mean that [`CHECKPOINT_BYTES`] are too few.
#[must_use]
pub fn encode(checkpoint: &Checkpoint) -> Option<[u8; CHECKPOINT_BYTES]> {
    let mut bytes = [0; CHECKPOINT_BYTES];
    let (content, check) = bytes.split_last_chunk_mut::<CHECK_BYTES>()?;
    write(&Kept::from(checkpoint), content)?;
    *check = CHECK.checksum(content).to_le_bytes();
    Some(bytes)
}

/// The checkpoint these bytes are; `None` if they were damaged or no bake can go on from them.
#[must_use]
pub fn decode(bytes: &[u8; CHECKPOINT_BYTES]) -> Option<Checkpoint> {
    let content = unseal(bytes)?;
    let (kept, rest) = postcard::take_from_bytes::<Kept>(content).ok()?;
    if rest.iter().any(|byte| *byte != 0) {
        return None;
    }
    kept.checkpoint()
}
