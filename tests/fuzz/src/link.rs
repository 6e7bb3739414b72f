//! Bytes on the wire, and bytes the board keeps of it: frames, messages, the compiled bake, rows.
//!
//! A check stands before nearly everything, and no run finds one by chance: so inputs come both as
//! they are and with the check they lack.

use crate::bytes::Bytes;
use truesoak_core::wire::compiled::Compiled;
use truesoak_core::wire::frame::{CONTENT_BYTES_MAX, Decoder, Frame, parse};
use truesoak_core::wire::messages::{Piece, Reply, Request};
use truesoak_core::wire::row::{ROW_BYTES, Row};
use truesoak_core::wire::stored::{ENTRY_BYTES, Entry, HEAD_BYTES, Head};
use truesoak_core::wire::upload::{DIGEST, Outline, Upload};
use truesoak_core::wire::{
    CHECK, FRAME_BYTES_MAX, VERSION, checkpoint, commissioned::Commissioned,
};

/// Number of a request that is answered.
const NUMBER: u8 = 7;

pub(crate) fn run(input: &[u8]) {
    let mut bytes = Bytes::of(input);
    match bytes.below(8) {
        0 => stream(bytes.rest()),
        1 | 2 => stream(&frames(bytes)),
        3 => compiled(bytes.rest()),
        4 => compiled(&with_check(&[&[1], bytes.rest()].concat())),
        5 => kept(bytes),
        6 => upload(bytes),
        _ => rows(bytes),
    }
}

fn with_check(content: &[u8]) -> Vec<u8> {
    [content, &CHECK.checksum(content).to_le_bytes()].concat()
}

/// Contents, each with a check and stuffed.
fn frames(mut bytes: Bytes<'_>) -> Vec<u8> {
    let mut stream = Vec::new();
    while !bytes.is_empty() {
        let len = bytes.below(CONTENT_BYTES_MAX);
        let content = [&[VERSION], bytes.take(len)].concat();
        let sealed = with_check(&content);
        let mut stuffed = [0; FRAME_BYTES_MAX];
        let len = cobs::try_encode(&sealed, &mut stuffed).expect("it fits a frame");
        stream.extend_from_slice(&stuffed[..len]);
        stream.push(0);
    }
    stream
}

/// Whatever comes, the frame after the next zero is heard.
fn stream(bytes: &[u8]) {
    let mut decoder = Decoder::default();
    for byte in bytes {
        if let Some(Ok(content)) = decoder.push(*byte) {
            assert!((3..=CONTENT_BYTES_MAX).contains(&content.len()), "{} bytes", content.len());
            understood(content);
        }
    }
    let _ = decoder.push(0);
    let sent = Frame::of(&Request::Status, NUMBER).expect("it fits");
    let (last, before) = sent.bytes().split_last().expect("it has bytes");
    assert!(before.iter().all(|byte| decoder.push(*byte).is_none()), "something of a frame");
    let heard = decoder.push(*last).expect("a frame has ended").expect("and was whole");
    assert_eq!(parse(heard), Ok((Request::Status, NUMBER)));
}

/// The content of a frame that was just made.
fn content_of(frame: &Frame) -> Vec<u8> {
    let mut decoder = Decoder::default();
    let mut ends = frame.bytes().iter().filter_map(|byte| {
        decoder.push(*byte).map(|end| end.expect("what was sent is whole").to_vec())
    });
    ends.next().expect("a frame has an end")
}

/// True for a message that was read. It goes into a frame again and comes back the same.
macro_rules! comes_back {
    ($message:ident, $content:expr) => {{
        let mut content = $content.to_vec();
        parse::<$message<'_>>(&mut content).is_ok_and(|(message, number)| {
            let sent = Frame::of(&message, number).expect("what came in a frame fits one");
            let mut content = content_of(&sent);
            let (again, same) = parse::<$message<'_>>(&mut content).expect("what was sent is read");
            assert_eq!(same, number);
            // Of two not-a-numbers the bytes alone are equal.
            assert_eq!(Frame::of(&again, number).as_ref(), Ok(&sent), "{message:?}");
            true
        })
    }};
}

fn understood(content: &[u8]) {
    let asked = comes_back!(Request, content);
    let answered = comes_back!(Reply, content);
    assert!(!(asked && answered), "a message goes one way: {content:?}");
}

fn compiled(bytes: &[u8]) {
    let Ok(compiled) = Compiled::decode(bytes) else { return };
    assert_eq!(compiled.fault(), None);
    let mut written = vec![0; bytes.len()];
    let len = compiled.encode(&mut written).expect("it is no longer than it came");
    assert_eq!(Compiled::decode(&written[..len]).as_ref(), Ok(&compiled));
}

/// What the store keeps with a check of its own.
fn kept(mut bytes: Bytes<'_>) {
    match bytes.below(3) {
        0 => {
            let content: [u8; HEAD_BYTES - 2] = bytes.array();
            let sealed: [u8; HEAD_BYTES] = with_check(&content).try_into().expect("its length");
            if let Some(head) = Head::decode(&sealed) {
                let again = head.encode().expect("it fits");
                assert_eq!(Head::decode(&again), Some(head));
                assert!(head.bytes() >= head.entries_offset());
            }
        }
        1 => {
            let content: [u8; checkpoint::CHECKPOINT_BYTES - 2] = bytes.array();
            let sealed = with_check(&content).try_into().expect("its length");
            if let Some(kept) = checkpoint::decode(&sealed) {
                let again = checkpoint::encode(&kept).expect("it fits");
                let kept = checkpoint::decode(&again).expect("what is written is read");
                assert_eq!(checkpoint::encode(&kept), Some(again));
            }
        }
        _ => {
            if let Some(kept) = Commissioned::decode(&with_check(bytes.rest())) {
                let mut again = [0; 256];
                let len = kept.encode(&mut again).expect("it fits");
                assert_eq!(Commissioned::decode(&again[..len]), Some(kept));
            }
        }
    }
}

fn rows(mut bytes: Bytes<'_>) {
    while !bytes.is_empty() {
        let row: [u8; ROW_BYTES] = bytes.array();
        let read = Row::decode(&row);
        assert!(read.is_none_or(|read| read.encode() == Some(row)), "{read:?}");
        let mut entry = [0xff; ENTRY_BYTES];
        entry[0] = bytes.byte();
        entry[1..=ROW_BYTES].copy_from_slice(&row);
        if let Some(Entry::Row(told)) = Entry::decode(&entry) {
            assert_eq!(Some(told), read);
        }
    }
}

/// Pieces of a document in any order: what is taken is its front, and is counted.
fn upload(mut bytes: Bytes<'_>) {
    let document: Vec<u8> = (0..=u8::MAX).collect();
    let outline = Outline {
        bake_bytes: u16::from(bytes.byte()),
        oven_bytes: u16::from(bytes.byte()),
        load_bytes: bytes.u16(),
        job_bytes: u16::from(bytes.byte() % 2),
        note_bytes: u16::from(bytes.byte() % 2),
        compiled_bytes: u16::from(bytes.byte()),
        digest: if bytes.flag() { DIGEST.checksum(bytes.take(64)) } else { bytes.u32() },
    };
    let Ok(mut upload) = Upload::begin(outline) else { return };
    let mut taken = Vec::new();
    while !bytes.is_empty() {
        let offset = match bytes.below(4) {
            0 => bytes.u32(),
            1 => upload.received(),
            _ => u32::from(bytes.byte()),
        };
        let piece = &document[..bytes.below(256)];
        if let Ok(fresh) = upload.piece(&Piece::of(offset, piece)) {
            taken.extend_from_slice(fresh);
        }
        assert_eq!(upload.received() as usize, taken.len());
        assert!(upload.received() <= outline.bytes());
    }
    if upload.finish().is_ok() {
        assert_eq!(DIGEST.checksum(&taken), outline.digest);
        assert_eq!(taken.len() as u32, outline.bytes());
    }
}
