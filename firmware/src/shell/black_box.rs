//! The black box: the last minute, tick by tick, in memory until a trip has it written.

use truesoak_core::wire::row::{ROW_BYTES, Row};
use truesoak_core::wire::tick_row::{BLACK_BOX_ROWS, TickRow};

/// A minute of ticks, the oldest given up first.
pub(super) struct BlackBox {
    rows: [[u8; ROW_BYTES]; BLACK_BOX_ROWS],
    /// Where the next one goes.
    next: u16,
    len: u16,
}

impl BlackBox {
    /// Nothing yet.
    pub const fn new() -> Self {
        Self { rows: [[0; ROW_BYTES]; BLACK_BOX_ROWS], next: 0, len: 0 }
    }

    /// Keeps a tick.
    pub fn keep(&mut self, row: TickRow) {
        // A row of a tick always has its bytes.
        let Some(bytes) = Row::Tick(row).encode() else { return };
        if let Some(place) = self.rows.get_mut(usize::from(self.next)) {
            *place = bytes;
        }
        self.next = if usize::from(self.next) + 1 < BLACK_BOX_ROWS { self.next + 1 } else { 0 };
        self.len = (self.len + 1).min(BLACK_BOX_ROWS as u16);
    }

    /// Rows from the `from`th oldest on, as many as `out` has room for; how many.
    pub fn copy<const BYTES: usize>(&self, from: u16, out: &mut [[u8; BYTES]]) -> usize {
        let oldest = usize::from(self.next) + BLACK_BOX_ROWS - usize::from(self.len);
        let left = usize::from(self.len.saturating_sub(from));
        let mut copied = 0;
        for (place, index) in out.iter_mut().take(left).zip(usize::from(from)..) {
            let row = self.rows.get((oldest + index) % BLACK_BOX_ROWS);
            for (to, byte) in place.iter_mut().zip(row.into_iter().flatten()) {
                *to = *byte;
            }
            copied += 1;
        }
        copied
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use truesoak_core::io::{Inputs, Outputs};
    use truesoak_core::units::Tick;

    fn keep(black_box: &mut BlackBox, ticks: core::ops::Range<u32>) {
        for tick in ticks {
            let row = TickRow::of(Tick(tick), &Inputs::NOTHING, &Outputs::default(), false);
            black_box.keep(row);
        }
    }

    fn ticks_of(black_box: &BlackBox, from: u16, room: usize) -> impl Iterator<Item = u16> {
        let mut out = [[0; 16]; 12];
        let copied = black_box.copy(from, &mut out[..room]);
        out.into_iter().take(copied).map(|bytes| {
            let (row, _) = bytes.split_first_chunk::<ROW_BYTES>().unwrap();
            match Row::decode(row).unwrap() {
                Row::Tick(row) => row.tick,
                other => panic!("{other:?}"),
            }
        })
    }

    #[test]
    fn the_last_minute_comes_out_oldest_first_in_pages() {
        let mut black_box = BlackBox::new();
        keep(&mut black_box, 0..5);
        assert!(ticks_of(&black_box, 0, 12).eq(0..5));
        assert!(ticks_of(&black_box, 3, 12).eq(3..5));
        keep(&mut black_box, 5..1000);
        assert!(ticks_of(&black_box, 0, 12).eq(400..412));
        assert!(ticks_of(&black_box, 596, 12).eq(996..1000));
        assert_eq!(ticks_of(&black_box, 600, 12).count(), 0);
        assert!(ticks_of(&black_box, 588, 3).eq(988..991));
    }
}
