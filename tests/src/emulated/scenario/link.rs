//! A computer that does everything wrong while the oven heats: the ticks do not slip by one.
//!
//! The bytes go to the board and not to its twin, so whatever they changed of drive, permit, lamp,
//! flash or sensors would be a difference. Each tick must come in its turn and at its time; between
//! two kinds of abuse the board answers a status.

use super::{Context, Scenario, Seen, hold, quick, told};
use crate::emulated::board::{self, Board, Made, TICK_NS};
use crate::emulated::computer::Heard;
use crate::emulated::frames::Chip;
use crate::emulated::oven::{Fits, Oven};
use crate::emulated::process::Mode;
use serde_json::json;
use truesoak_core::event::Ending;
use truesoak_core::wire::CHECK;
use truesoak_core::wire::frame::Frame;
use truesoak_core::wire::messages::{PRODUCT, Piece, Reply, Request, Said};
use truesoak_core::wire::upload::Outline;

pub(super) const SCENARIOS: &[Scenario] = &[
    Scenario { name: "link: a port under the board's own name", is_short: true, run: enumerates },
    Scenario { name: "link: abused through a whole bake", is_short: true, run: abused },
];

/// By that name a computer finds its board among other ports.
fn enumerates(context: &Context) -> Result<Seen, String> {
    let chips = [Some(Chip::Max31856), None, None];
    let mut board = told(Board::new(&Made { chips, ..context.made(context.mode) }))?;
    let seen = board.run(1e9);
    hold(seen.connected, || "a computer has found no port".into())?;
    let figures = board.order(&json!({ "do": "figures" }));
    hold(figures["product"] == PRODUCT, || format!("it is called {}", figures["product"]))?;
    let words = format!("enumerated as {PRODUCT}");
    Ok(Seen { simulated_s: board.now_ns / 1e9, words })
}

/// A tick may begin so late, ns: what the computer asked for between two is done first, and the tick is
/// over before the next is due.
const LATE_NS: f64 = 95e6;
/// Ended by its limit, early in the soak.
const SHORT: [&str; 2] = ["bake.step.\"dry\".soak.for=\"1 min\"", "bake.limits.bake_max=\"2 min\""];
/// Ticks of each kind of abuse, before the next.
const STRETCH_TICKS: u64 = 60;
/// Number of every request of it.
const NUMBER: u8 = 99;

/// What comes over the cable before a tick, by a number drawn for it.
type Abuse = fn(&mut Random, u64) -> Vec<u8>;

const ABUSES: [Abuse; 7] = [random_bytes, zeros, cut_short, turned, endless, flood, forbidden];

fn random_bytes(random: &mut Random, _: u64) -> Vec<u8> {
    random.bytes(200)
}

fn zeros(_: &mut Random, _: u64) -> Vec<u8> {
    vec![0; 600]
}

fn cut_short(random: &mut Random, at: u64) -> Vec<u8> {
    let mut frame = valid(at);
    frame.truncate(1 + random.below(frame.len()));
    frame
}

fn turned(random: &mut Random, at: u64) -> Vec<u8> {
    let mut frame = valid(at);
    let byte = random.below(frame.len());
    frame[byte] ^= 1 << random.below(8);
    frame
}

/// Bytes of which none ends a frame.
fn endless(random: &mut Random, _: u64) -> Vec<u8> {
    random.bytes(400).iter().map(|byte| byte | 1).collect()
}

/// The very same frame, far more often than is answered in a tick.
fn flood(_: &mut Random, at: u64) -> Vec<u8> {
    valid(at / 10).repeat(60)
}

/// What a running bake refuses, and another version.
fn forbidden(random: &mut Random, at: u64) -> Vec<u8> {
    match at % 4 {
        0 => frame(&Request::Begin(Outline::default())),
        1 => frame(&Request::Erase { bake: None, not_fetched: true }),
        2 => frame(&Request::Piece(Piece { offset: 0, bytes: &random.bytes(150) })),
        _ => of_version(2 + (at % 250) as u8),
    }
}

fn frame(request: &Request<'_>) -> Vec<u8> {
    Frame::of(request, NUMBER).expect("every request fits a frame").bytes().to_vec()
}

/// What is always answered.
fn valid(at: u64) -> Vec<u8> {
    frame(&match at % 5 {
        0 => Request::Hello { unix_s: None },
        1 => Request::Status,
        2 => Request::Bakes { after: 0 },
        3 => Request::Document,
        _ => Request::Answer { said: Said::Go, at_the_oven: true },
    })
}

/// A status request, whole, of another version of the protocol.
fn of_version(version: u8) -> Vec<u8> {
    let mut content = vec![version, 0x02, NUMBER];
    let check = CHECK.checksum(&content);
    content.extend(check.to_le_bytes());
    let mut stuffed = vec![0; cobs::max_encoding_length(content.len()) + 1];
    let length = cobs::try_encode(&content, &mut stuffed).expect("there is room");
    stuffed.truncate(length + 1);
    stuffed
}

/// The abuse before a stretch: every kind in its turn.
fn nuisance(stretch: u64) -> Vec<u8> {
    let kind = (stretch / STRETCH_TICKS) as usize % ABUSES.len();
    ABUSES[kind](&mut Random(stretch.wrapping_mul(0x9e37_79b9_7f4a_7c15) | 1), stretch)
}

fn abused(context: &Context) -> Result<Seen, String> {
    let setup = quick(&SHORT)?;
    // The chip's own times: the arithmetic is done on it, too.
    let mut oven = told(Oven::new(&context.made(Mode::Fast), &setup, Fits::Max31855))?;
    oven.pair.kept = Some(Vec::new());
    oven.nuisance = Some(nuisance);
    let (trace, _) = oven.bake(&setup, None, context.seed);
    oven.nuisance = None;
    hold(trace.chronicle.ending == Some(Ending::TooLong), || {
        format!("it ended {:?}", trace.chronicle.ending)
    })?;
    let kept = oven.pair.kept.take().unwrap_or_default();
    let latest_ms = in_turn(&kept)? / 1e6;
    oven.pair.ticks(20);
    let answered = oven.pair.computer.take().len();
    hold(answered > 1000, || format!("only {answered} answers"))?;
    let Heard::Other(Reply::Status(status)) = oven.pair.ask(&Request::Status) else {
        return Err("no status at the end".into());
    };
    hold(status.rejected > 300, || format!("only {} frames not taken", status.rejected))?;
    Ok(Seen {
        simulated_s: oven.pair.board.now_ns / 1e9,
        words: format!(
            "{} ticks in their turn, the latest by {latest_ms:.1} ms; {} frames not taken, \
             {answered} answered",
            kept.len(),
            status.rejected
        ),
    })
}

/// No tick is left out or comes late; how late the latest was, ns.
fn in_turn(kept: &[board::Seen]) -> Result<f64, String> {
    let mut latest_ns: f64 = 0.0;
    let mut due = None;
    for count in kept.iter().flat_map(|seen| &seen.counts) {
        let tick = (count.at_ns / TICK_NS).floor();
        hold(due.is_none_or(|due: f64| (due - tick).abs() < 0.5), || {
            format!("tick {tick} where {due:?} was due")
        })?;
        let late_ns = count.at_ns - tick * TICK_NS;
        hold(late_ns <= LATE_NS, || format!("tick {tick} came {:.1} ms late", late_ns / 1e6))?;
        latest_ns = latest_ns.max(late_ns);
        due = Some(tick + 1.0);
    }
    Ok(latest_ns)
}

/// Marsaglia's xorshift64 (Journal of Statistical Software 8(14), 2003).
struct Random(u64);

impl Random {
    fn next(&mut self) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        self.0
    }

    fn below(&mut self, end: usize) -> usize {
        (self.next() >> 16) as usize % end.max(1)
    }

    fn bytes(&mut self, count: usize) -> Vec<u8> {
        (0..count).map(|_| (self.next() >> 24) as u8).collect()
    }
}
