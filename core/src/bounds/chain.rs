//! One implicit second of a chain of cells.
//!
//! [`Chain`] takes rows that are new each second, an oven's insulation; [`Behind`] the cells of a
//! part, whose capacities and links never change: they are eliminated once, from the inside, and a
//! second of them divides by nothing but what its surface takes.
//!
//! WHY: cells of thin insulation or of a thin polymer settle faster than a second. A backward
//! Euler step keeps the order of states (its matrix has an inverse without negative entries),
//! keeps heat, and is stable for every rate.

use super::model::{CELLS_MAX, Point};

/// Most rows of a chain.
pub(super) const ROWS_MAX: usize = 4;

/// One cell.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Row {
    /// Heat capacity, J/K.
    pub(super) capacity: f32,
    /// Conductance to the row before, W/K.
    pub(super) before: f32,
    /// Conductance to the row after, W/K.
    pub(super) after: f32,
    /// Conductance to anything outside the chain, W/K.
    pub(super) outside: f32,
    /// Net heat into it at the start of the second, W.
    pub(super) flux: f32,
}

/// Rows taken from the first to the last, then solved back (elimination for tridiagonal systems,
/// after Thomas).
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Chain {
    reduced: [Reduced; ROWS_MAX],
    used: usize,
    last: Reduced,
}

/// A row that depends on the row after only: its change is `own + share·(change after)`.
#[derive(Clone, Copy, Debug, Default)]
struct Reduced {
    share: f32,
    own: f32,
}

impl Chain {
    /// Takes the next row; what does not fit is left out.
    pub(super) fn row(&mut self, row: Row) {
        let before = row.before;
        let pivot = row.capacity + before * (1.0 - self.last.share) + row.after + row.outside;
        let inverse = 1.0 / pivot;
        self.last = Reduced {
            share: row.after * inverse,
            own: (row.flux + before * self.last.own) * inverse,
        };
        if let Some(slot) = self.reduced.get_mut(self.used) {
            *slot = self.last;
            self.used += 1;
        }
    }

    /// Change of every row over one second, K; 0 for rows that were not taken.
    pub(super) fn changes(&self) -> [f32; ROWS_MAX] {
        let mut changes = [0.0; ROWS_MAX];
        let mut next = 0.0;
        for (row, change) in self.reduced.iter().zip(&mut changes).rev() {
            next = row.own + row.share * next;
            *change = next;
        }
        changes
    }
}

/// The cells behind the surface of one point, eliminated; surface first.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Behind([Inner; CELLS_MAX - 1]);

/// One of them; all 0 where there is none.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Inner {
    /// Conductance from the one before it, W/K.
    link: f32,
    /// What a watt into it brings it over a second while the one before it stays, K/W.
    inverse: f32,
    /// Share that it takes part in a change of the one before it.
    share: f32,
}

impl Inner {
    const NOTHING: Self = Self { link: 0.0, inverse: 0.0, share: 0.0 };
}

impl Behind {
    /// A surface with nothing behind it.
    pub(super) const NOTHING: Self = Self([Inner::NOTHING; CELLS_MAX - 1]);

    /// Of the cells of a point.
    pub(super) fn of(point: &Point) -> Self {
        let mut behind = Self::NOTHING;
        let inner = usize::from(point.cells).clamp(1, CELLS_MAX) - 1;
        let cells = point.cell_share.iter().skip(1).zip(&point.conduction_w_per_k);
        let mut passed_on = 0.0;
        for ((share, link), cell) in cells.zip(&mut behind.0).take(inner).rev() {
            let inverse = 1.0 / (point.capacity_j_per_k * share + link + passed_on);
            passed_on = link * (1.0 - link * inverse);
            let link = if inverse > 0.0 { *link } else { 0.0 };
            *cell = Inner { link, inverse, share: link * inverse };
        }
        behind
    }

    /// Change of every cell of the point over one second, K, surface first; its cells are at
    /// `celsius`, and `heat` (W) comes through the surface and falls by `slope` (W/K) as that warms.
    pub(super) fn changes(
        &self,
        point: &Point,
        celsius: [f32; CELLS_MAX],
        heat: f32,
        slope: f32,
    ) -> [f32; CELLS_MAX] {
        let [one, two, three] = &self.0;
        let [at_0, at_1, at_2, at_3] = celsius;
        let (into_1, into_2) = (one.link * (at_0 - at_1), two.link * (at_1 - at_2));
        let from_3 = three.link * (at_2 - at_3);
        let from_2 = into_2 - from_3 + three.share * from_3;
        let from_1 = into_1 - into_2 + two.share * from_2;
        let from_0 = heat - into_1 + one.share * from_1;
        let [share_0, ..] = point.cell_share;
        let capacity = point.capacity_j_per_k * share_0;
        let change_0 = from_0 / (capacity + slope + one.link * (1.0 - one.share));
        let change_1 = from_1 * one.inverse + one.share * change_0;
        let change_2 = from_2 * two.inverse + two.share * change_1;
        let change_3 = from_3 * three.inverse + three.share * change_2;
        [change_0, change_1, change_2, change_3]
    }
}

#[cfg(test)]
mod tests {
    use super::super::model::Film;
    use super::*;
    use crate::units::Span;

    fn changes(rows: &[Row]) -> [f32; ROWS_MAX] {
        let mut chain = Chain::default();
        rows.iter().for_each(|row| chain.row(*row));
        chain.changes()
    }

    #[test]
    fn a_chain_shut_off_from_the_outside_keeps_its_heat() {
        let rows = [
            Row { capacity: 3.0, before: 0.0, after: 40.0, outside: 0.0, flux: 120.0 },
            Row { capacity: 5.0, before: 40.0, after: 2.0, outside: 0.0, flux: -100.0 },
            Row { capacity: 7.0, before: 2.0, after: 0.0, outside: 0.0, flux: -20.0 },
        ];
        let changed = changes(&rows);
        let heat: f32 = rows.iter().zip(changed).map(|(row, change)| row.capacity * change).sum();
        assert!(heat.abs() < 1e-3, "{heat}");
        assert!(changed.iter().take(3).all(|change| change.abs() > 0.01), "{changed:?}");
    }

    #[test]
    fn rows_solve_their_own_equations() {
        let rows = [
            Row { capacity: 3.0, before: 0.0, after: 4.0, outside: 1.5, flux: 12.0 },
            Row { capacity: 5.0, before: 6.0, after: 2.0, outside: 0.0, flux: -1.0 },
            Row { capacity: 7.0, before: 2.5, after: 1.0, outside: 0.0, flux: 2.0 },
            Row { capacity: 1.0, before: 0.5, after: 0.0, outside: 3.0, flux: -4.0 },
        ];
        let x = changes(&rows);
        for (index, row) in rows.iter().enumerate() {
            let before = if index > 0 { x[index - 1] } else { 0.0 };
            let after = x.get(index + 1).copied().unwrap_or(0.0);
            let own = (row.capacity + row.before + row.after + row.outside) * x[index];
            let rest = own - row.before * before - row.after * after - row.flux;
            // The first row has nothing before it, the last nothing after it.
            assert!(rest.abs() < 1e-4, "row {index}: {rest}");
        }
    }

    #[test]
    fn cells_eliminated_once_move_as_the_rows_of_their_chain() {
        let film = Film { constant: 3.0, quarter: 1.0, law: Span::exactly(1.0) };
        let celsius = [95.0, 60.0, 41.0, 37.5];
        for cells in 1..=CELLS_MAX {
            let mut point = Point {
                area_m2: 0.1,
                capacity_j_per_k: 900.0,
                film,
                emissivity: 0.3,
                emissivity_cure: 0.9,
                element_m2: 0.0,
                cells: cells as u8,
                conduction_w_per_k: [45.0, 30.0, 7.0],
                cell_share: [0.4, 0.3, 0.2, 0.1],
            };
            point.cell_share.iter_mut().skip(cells).for_each(|share| *share = f32::NAN);
            let (heat, slope) = (120.0, 2.5);
            let found = Behind::of(&point).changes(&point, celsius, heat, slope);
            let mut rows = [Row::default(); CELLS_MAX];
            for (index, row) in rows.iter_mut().take(cells).enumerate() {
                row.capacity = point.capacity_j_per_k * point.cell_share[index];
                (row.outside, row.flux) = if index == 0 { (slope, heat) } else { (0.0, 0.0) };
            }
            for (index, link) in (1..cells).zip(point.conduction_w_per_k) {
                let inwards = link * (celsius[index - 1] - celsius[index]);
                (rows[index - 1].after, rows[index].before) = (link, link);
                rows[index - 1].flux -= inwards;
                rows[index].flux += inwards;
            }
            let due = changes(&rows[..cells]);
            for (index, (found, due)) in found.iter().zip(due).enumerate() {
                assert!((found - due).abs() < 1e-5, "{cells} cells, {index}: {found} for {due}");
            }
        }
    }
}
