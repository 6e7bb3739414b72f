//! The wire: what board and computer say to each other, and what the store keeps of it.
//!
//! Both ends use these types, so neither can write what the other cannot read. Nothing here owns a
//! port or a store: bytes go in, messages come out, or one reason why not.
//!
//! * [`frame`]: byte stuffing, check, version; one message a frame, at most [`FRAME_BYTES_MAX`].
//! * [`messages`], [`refusal`], [`settings`]: what may be asked and answered.
//! * [`commissioned`]: settings as a board keeps them, with the sensors' check.
//! * [`admit`], [`upload`]: which requests a board takes, and in which order.
//! * [`compiled`]: a bake with its oven and load, refused with a reason unless every value is one a
//!   real oven can have.
//! * [`stored`], [`built_in`]: a bake as it is fetched; steps a board has of its own.
//! * [`row`], [`tick_row`], [`checkpoint`]: a second, an event, a tick of the black box and the
//!   state of a bake, each in few bytes.
//!
//! The exact bytes stand in DEVELOPERS.md, "The link". Enumerations are numbered in the order they
//! are written, here and in the types of other modules they carry: another order is another
//! [`VERSION`].
//!
//! Whatever arrives, a call takes time bounded by its bytes, allocates nothing and cannot panic.

pub mod admit;
mod bits;
pub mod built_in;
pub mod checkpoint;
pub mod commissioned;
pub mod compiled;
pub mod frame;
pub mod messages;
pub mod refusal;
pub mod row;
pub mod settings;
mod status;
pub mod stored;
pub mod tick_row;
pub mod upload;

use crc::{CRC_16_IBM_SDLC, Crc, Table};
use serde::{Deserialize, Serialize};

/// Version of the protocol, the first byte of every frame.
pub const VERSION: u8 = 1;
/// Most bytes of a frame on the wire, its last zero included.
pub const FRAME_BYTES_MAX: usize = 256;
/// Most bytes of a document or of a stored bake in one frame.
pub const PIECE_BYTES_MAX: usize = 224;

/// CRC-16/IBM-SDLC of the catalogue of parametrised CRC algorithms: it sees every error of three
/// bits in anything as short as a frame (from memory), and leading zeros, for it starts from ones.
pub const CHECK: Crc<u16, Table<1>> = Crc::<u16, Table<1>>::new(&CRC_16_IBM_SDLC);

/// Bytes of a [`CHECK`].
const CHECK_BYTES: usize = 2;

/// Writes a value into `bytes` as postcard does; what it took, or `None` if there is no room. Whatever
/// is written, on the wire or in a store, is written here.
///
/// WHY: that a number of 32 bits has at most five sevens the optimiser does not find out about
/// postcard, so a way to a panic that is never gone stays in it. The proof that there is no other
/// (`tests/no_panic`) is linked with the feature `unwritten`, by which nothing is known of what this
/// gives.
pub fn write<'b, T: Serialize>(value: &T, bytes: &'b mut [u8]) -> Option<&'b mut [u8]> {
    #[cfg(not(feature = "unwritten"))]
    return postcard::to_slice(value, bytes).ok();
    #[cfg(feature = "unwritten")]
    return {
        core::hint::black_box(value);
        bytes.get_mut(..core::hint::black_box(0))
    };
}

/// Splits the check from the end of `sealed`; the bytes before it, if they are as they were.
fn unseal(sealed: &[u8]) -> Option<&[u8]> {
    let (content, check) = sealed.split_last_chunk::<CHECK_BYTES>()?;
    (CHECK.checksum(content).to_le_bytes() == *check).then_some(content)
}

/// A value in exactly `N` bytes: zeros behind it, its check last; `None` if they are too few.
fn seal<T: Serialize, const N: usize>(value: &T) -> Option<[u8; N]> {
    let mut bytes = [0; N];
    let (content, check) = bytes.split_last_chunk_mut::<CHECK_BYTES>()?;
    write(value, content)?;
    *check = CHECK.checksum(content).to_le_bytes();
    Some(bytes)
}

/// The value that was sealed so; `None` if it was damaged or anything but zeros is behind it.
fn sealed<'a, T: Deserialize<'a>>(bytes: &'a [u8]) -> Option<T> {
    let (value, rest) = postcard::take_from_bytes(unseal(bytes)?).ok()?;
    rest.iter().all(|byte| *byte == 0).then_some(value)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The check value of CRC-16/IBM-SDLC in the catalogue of parametrised CRC algorithms.
    #[test]
    fn the_check_is_crc_16_ibm_sdlc() {
        assert_eq!(CHECK.checksum(b"123456789"), 0x906e);
    }

    #[test]
    fn what_was_changed_after_sealing_is_not_unsealed() {
        let mut sealed = *b"123456789\x6e\x90";
        assert_eq!(unseal(&sealed), Some(b"123456789".as_slice()));
        for bit in 0..8 * sealed.len() {
            sealed[bit / 8] ^= 1 << (bit % 8);
            assert_eq!(unseal(&sealed), None);
            sealed[bit / 8] ^= 1 << (bit % 8);
        }
        assert_eq!(unseal(&sealed[..1]), None);
    }
}
