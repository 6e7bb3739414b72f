//! Time, counted twice: by the chip's timer, and by edges of a clock that does not hang on it.

use crate::independent_clock::IndependentClock;
use crate::tick::Ticks;
use truesoak_firmware::board::{self, EdgeCount};

/// What may be wired to the clock's input, edges a second: mains, or an oscillator.
const RATES: [u32; 3] = [50, 60, 32_768];
/// Ticks over which it is found out which of them is.
const LISTENING_TICKS: u32 = 10;

/// Both clocks.
pub struct Clocks {
    ticks: Ticks,
    independent: IndependentClock,
    count: Count,
}

/// What is known of the independent clock.
enum Count {
    /// Which one it is, is not known before so many ticks since it stood at `edges`.
    Listening { until: u32, edges: u16 },
    /// It is one of [`RATES`]: ticks on top of those that were listened to.
    Counting { from: u32, edges: EdgeCount },
}

impl Clocks {
    /// Starts listening.
    pub fn new(ticks: Ticks, independent: IndependentClock) -> Self {
        let until = ticks.count() + LISTENING_TICKS;
        let count = Count::Listening { until, edges: independent.edges() };
        Self { ticks, independent, count }
    }
}

impl board::Clock for Clocks {
    fn ticks(&self) -> u32 {
        self.ticks.count()
    }

    /// For the first second the timer's own ticks: which clock is wired is told by what is nearest
    /// to the edges of that second. One that stands still is taken for the slowest, and stays behind.
    fn independent_ticks(&mut self) -> u32 {
        let (now, edges) = (self.ticks(), self.independent.edges());
        match &mut self.count {
            Count::Listening { until, edges: first } if now >= *until => {
                let seen = u32::from(edges.wrapping_sub(*first));
                let listened = now - *until + LISTENING_TICKS;
                let rate = nearest(seen * LISTENING_TICKS / listened);
                self.count = Count::Counting { from: now, edges: EdgeCount::new(rate, edges) };
                now
            }
            Count::Listening { .. } => now,
            Count::Counting { from, edges: count } => from.wrapping_add(count.take(edges)),
        }
    }
}

/// The rate that is nearest as a ratio: 50 and 60 part at 55, far from what the guard lets pass.
fn nearest(edges_per_second: u32) -> u32 {
    let [slow, fast, oscillator] = RATES;
    match edges_per_second {
        0..55 => slow,
        55..1_400 => fast,
        _ => oscillator,
    }
}
