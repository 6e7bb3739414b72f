//! The checkpoint in bytes, with its own check: what a bake goes on from after a lost supply.
//!
//! Always the same length, so that the store can place it; what is not needed is zero. Refused is
//! whatever the check does not hold for, and values no running bake has: a checkpoint decides what
//! heat does next.

use super::{seal, sealed};
use crate::bake::STEPS_MAX;
use crate::bounds::Hottest;
use crate::record::Checkpoint;
use crate::units::Celsius;

/// Bytes of a checkpoint, its check included; eight more are left for the store in 96.
pub const CHECKPOINT_BYTES: usize = 88;

/// Soaks that ended short are written as a number, a bit each; bits of steps no bake has say nothing.
pub(crate) mod bits {
    use crate::bake::STEPS_MAX;
    use serde::{Deserialize, Deserializer, Serialize, Serializer};

    pub fn serialize<S: Serializer>(short: &[bool; STEPS_MAX], to: S) -> Result<S::Ok, S::Error> {
        short.iter().rev().fold(0, |bits, short| (bits << 1) | u32::from(*short)).serialize(to)
    }

    pub fn deserialize<'a, D: Deserializer<'a>>(from: D) -> Result<[bool; STEPS_MAX], D::Error> {
        let bits = u32::deserialize(from)?;
        Ok(core::array::from_fn(|step| bits >> step & 1 == 1))
    }
}

/// A byte for each step, one by one. WHY: what is derived for an array writes every element out, and
/// took half a kilobyte of the board's flash.
pub(crate) mod each {
    use crate::bake::STEPS_MAX;
    use core::fmt;
    use serde::de::{Error, SeqAccess, Visitor};
    use serde::{Deserializer, Serialize, Serializer};

    pub fn serialize<S: Serializer>(rounds: &[u8; STEPS_MAX], to: S) -> Result<S::Ok, S::Error> {
        rounds.serialize(to)
    }

    pub fn deserialize<'a, D: Deserializer<'a>>(from: D) -> Result<[u8; STEPS_MAX], D::Error> {
        from.deserialize_tuple(STEPS_MAX, Rounds)
    }

    struct Rounds;

    impl<'a> Visitor<'a> for Rounds {
        type Value = [u8; STEPS_MAX];

        fn expecting(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
            formatter.write_str("a byte for each step")
        }

        fn visit_seq<A: SeqAccess<'a>>(self, mut from: A) -> Result<Self::Value, A::Error> {
            let mut rounds = [0; STEPS_MAX];
            for (step, round) in rounds.iter_mut().enumerate() {
                let next = from.next_element()?;
                *round = next.ok_or_else(|| A::Error::invalid_length(step, &self))?;
            }
            Ok(rounds)
        }
    }
}

/// False for what no bake can be like: a step none has, temperatures that are none. Of a trip nothing
/// is asked but itself: it must not be lost for what else was wrong.
fn is_possible(of: &Checkpoint) -> bool {
    let Hottest { oven, parts, element } = of.hottest;
    let physical = [of.coldest, oven, parts, element].into_iter().all(Celsius::is_physical);
    of.trip.is_some() || usize::from(of.step) < STEPS_MAX && physical
}

/// The bytes of a checkpoint; `None` would mean that [`CHECKPOINT_BYTES`] are too few.
#[must_use]
pub fn encode(checkpoint: &Checkpoint) -> Option<[u8; CHECKPOINT_BYTES]> {
    seal(checkpoint)
}

/// The checkpoint these bytes are; `None` if they were damaged or no bake can go on from them.
#[must_use]
pub fn decode(bytes: &[u8; CHECKPOINT_BYTES]) -> Option<Checkpoint> {
    sealed(bytes).filter(is_possible)
}
