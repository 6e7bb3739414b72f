//! One message a frame, and back.
//!
//! ```text
//! content  version · id · body (postcard) · number
//! on the wire  COBS(content · check, low byte first) · 00
//! ```
//!
//! A zero ends a frame and is nowhere else in it, so a receiver that lost its place finds it at the
//! next one. What ends at once is no frame: two zeros in a row are nothing. The *id* says whether
//! the message is for the board or the computer, so that nobody answers an echo; the *number* is
//! the computer's own for its request, given back in the reply, and 0 in what nobody asked for.
//!
//! Refused, each with its [`Reject`]: whatever was damaged, is too long, comes from another version
//! or says more or less than its message has room for. A damaged frame is not answered; one whose
//! check holds always is.

use super::{CHECK, CHECK_BYTES, FRAME_BYTES_MAX, VERSION, unseal, write};
use cobs::{DecodeResult, DecoderState};
use serde::{Deserialize, Serialize};

/// Most bytes between stuffing and check: what every byte of it, were none zero, still leaves of
/// [`FRAME_BYTES_MAX`].
pub const CONTENT_BYTES_MAX: usize = 252;

const _: () = assert!(
    cobs::max_encoding_length(CONTENT_BYTES_MAX + CHECK_BYTES) < FRAME_BYTES_MAX,
    "the longest content, its check and the last zero fit a frame"
);

/// Why a frame is not taken.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Reject {
    /// It ends inside a group of its byte stuffing.
    BadStuffing,
    /// More bytes than [`FRAME_BYTES_MAX`]; told once, at the first byte too many.
    TooLong,
    /// Too few bytes to hold version, id and check.
    TooShort,
    /// The check does not hold.
    BadCheck,
    /// Another protocol version.
    UnknownVersion,
    /// No message of this version, or one that goes the other way.
    UnknownMessage,
    /// The body is not one of this message.
    BadBody,
    /// Bytes are left behind the message.
    TrailingBytes,
}

impl Reject {
    /// Every reason, in the order they are looked for.
    pub const ALL: [Self; 8] = [
        Self::BadStuffing,
        Self::TooLong,
        Self::TooShort,
        Self::BadCheck,
        Self::UnknownVersion,
        Self::UnknownMessage,
        Self::BadBody,
        Self::TrailingBytes,
    ];

    /// The frame arrived as it was sent, so its sender can be told.
    #[must_use]
    pub const fn arrived_whole(self) -> bool {
        matches!(
            self,
            Self::UnknownVersion | Self::UnknownMessage | Self::BadBody | Self::TrailingBytes
        )
    }
}

impl core::fmt::Display for Reject {
    fn fmt(&self, formatter: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        formatter.write_str(match self {
            Self::BadStuffing => "the frame is cut short",
            Self::TooLong => "the frame is too long",
            Self::TooShort => "the frame is too short",
            Self::BadCheck => "the frame is damaged",
            Self::UnknownVersion => "the frame is of another protocol version",
            Self::UnknownMessage => "the message is not known",
            Self::BadBody => "the message says what it cannot",
            Self::TrailingBytes => "the message has bytes left over",
        })
    }
}

impl core::error::Error for Reject {}

/// A family of messages that goes one way. Its enumeration's own number is the id, less
/// [`Message::FIRST_ID`].
pub trait Message<'a>: Serialize + Deserialize<'a> {
    /// Id of the first message.
    const FIRST_ID: u8;
    /// How many there are; fewer than 64.
    const COUNT: u8;
}

/// A message does not fit a frame; no message of this version does that.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct DoesNotFit;

/// A frame ready to be sent.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Frame {
    bytes: [u8; FRAME_BYTES_MAX],
    len: usize,
}

impl Frame {
    /// Puts a message into a frame.
    ///
    /// # Errors
    /// A piece longer than a piece may be.
    pub fn of<'a, M: Message<'a>>(message: &M, number: u8) -> Result<Self, DoesNotFit> {
        let mut content = [0; CONTENT_BYTES_MAX + CHECK_BYTES];
        let (version, rest) = content.split_first_mut().ok_or(DoesNotFit)?;
        *version = VERSION;
        let room = rest.get_mut(..CONTENT_BYTES_MAX - 1).ok_or(DoesNotFit)?;
        let body = write(&(message, number), room).ok_or(DoesNotFit)?;
        let len = 1 + body.len();
        let id = body.first_mut().ok_or(DoesNotFit)?;
        *id = id.saturating_add(M::FIRST_ID);
        let check = CHECK.checksum(content.get(..len).ok_or(DoesNotFit)?).to_le_bytes();
        let sealed = content.get_mut(..len + CHECK_BYTES).ok_or(DoesNotFit)?;
        *sealed.last_chunk_mut().ok_or(DoesNotFit)? = check;
        let mut bytes = [0; FRAME_BYTES_MAX];
        let stuffed = cobs::try_encode(sealed, &mut bytes).map_err(|_| DoesNotFit)?;
        *bytes.get_mut(stuffed).ok_or(DoesNotFit)? = 0;
        Ok(Self { bytes, len: stuffed + 1 })
    }

    /// Its bytes, the last zero included.
    #[must_use]
    pub fn bytes(&self) -> &[u8] {
        self.bytes.get(..self.len).unwrap_or(&[])
    }
}

/// Reads the content of a frame whose check held.
///
/// # Errors
/// Another version, another family's or an unknown id, a body that is none, bytes left over. The
/// request's number cannot be told then.
pub fn parse<'a, M: Message<'a>>(content: &'a mut [u8]) -> Result<(M, u8), Reject> {
    let (version, rest) = content.split_first_mut().ok_or(Reject::TooShort)?;
    if *version != VERSION {
        return Err(Reject::UnknownVersion);
    }
    let id = rest.first_mut().ok_or(Reject::TooShort)?;
    *id = id
        .checked_sub(M::FIRST_ID)
        .filter(|index| *index < M::COUNT)
        .ok_or(Reject::UnknownMessage)?;
    match postcard::take_from_bytes(rest) {
        Ok((message, [])) => Ok(message),
        Ok(_) => Err(Reject::TrailingBytes),
        Err(_) => Err(Reject::BadBody),
    }
}

/// Finds frames in a stream, byte by byte.
#[derive(Debug)]
pub struct Decoder {
    stuffing: DecoderState,
    content: [u8; CONTENT_BYTES_MAX + CHECK_BYTES],
    len: usize,
    /// Bytes since the last zero.
    taken: usize,
}

impl Default for Decoder {
    fn default() -> Self {
        Self {
            stuffing: DecoderState::Idle,
            content: [0; CONTENT_BYTES_MAX + CHECK_BYTES],
            len: 0,
            taken: 0,
        }
    }
}

impl Decoder {
    /// Takes a byte; something once a frame has ended, or can no longer be one. The content is as
    /// it was sent; what it means is for [`parse`].
    pub fn push(&mut self, byte: u8) -> Option<Result<&mut [u8], Reject>> {
        let taken = self.taken;
        self.taken = if byte == 0 { 0 } else { taken.saturating_add(1) };
        if taken >= FRAME_BYTES_MAX {
            // Nothing more of it is looked at; that it was too long has been said.
            return None;
        }
        match self.stuffing.feed(byte) {
            Ok(DecodeResult::NoData) => self.too_long(),
            Ok(DecodeResult::DataContinue(data)) => {
                // Stuffed bytes are always more than what is in them, so there is a place.
                if let Some(place) = self.content.get_mut(self.len) {
                    *place = data;
                    self.len += 1;
                }
                self.too_long()
            }
            Ok(DecodeResult::DataComplete) => Some(self.end()),
            Err(_) => {
                self.len = 0;
                Some(Err(Reject::BadStuffing))
            }
        }
    }

    /// Says so when the byte just taken leaves no room for the last zero.
    fn too_long(&mut self) -> Option<Result<&mut [u8], Reject>> {
        (self.taken >= FRAME_BYTES_MAX).then(|| {
            self.stuffing = DecoderState::Idle;
            self.len = 0;
            Err(Reject::TooLong)
        })
    }

    fn end(&mut self) -> Result<&mut [u8], Reject> {
        let len = core::mem::take(&mut self.len);
        let sealed = self.content.get_mut(..len).unwrap_or(&mut []);
        if len < 3 + CHECK_BYTES {
            return Err(Reject::TooShort);
        }
        let inner = unseal(sealed).ok_or(Reject::BadCheck)?.len();
        Ok(sealed.get_mut(..inner).unwrap_or(&mut []))
    }
}
