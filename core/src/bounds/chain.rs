//! One implicit second of a chain of cells.
//!
//! WHY: cells of thin insulation or of a thin polymer settle faster than a second. A backward
//! Euler step keeps the order of states (its matrix has an inverse without negative entries),
//! keeps heat, and is stable for every rate.

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

#[cfg(test)]
mod tests {
    use super::*;

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
}
