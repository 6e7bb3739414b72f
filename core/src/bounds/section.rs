//! What the cells of a section say of all of it, hottest and coldest depth included.
//!
//! Four cells follow a section that has no end of them. While the air grows steadily hotter or
//! colder, and in the middle whatever it does, no depth is further outside the cells than a sixteenth
//! of what they span. A surface whose air changes all at once is, for the first tenth of the time that
//! heat takes through it (`plant_laws` holds both to sixty cells, `bounds_campaign` all of it to twelve).

use super::state::State;
use super::track::Cells;

/// No depth is colder, °C; of a lower copy.
pub(super) fn coldest_of(cells: &Cells, used: u8) -> f32 {
    let (coldest, hottest) = ends(cells, used);
    coldest.beyond(hottest).celsius()
}

/// No depth is hotter, °C; of an upper copy.
pub(super) fn hottest_of(cells: &Cells, used: u8) -> f32 {
    let (coldest, hottest) = ends(cells, used);
    hottest.beyond(coldest).celsius()
}

fn ends(cells: &Cells, used: u8) -> (State, State) {
    let [mut coldest, ..] = *cells;
    let mut hottest = coldest;
    for cell in cells.iter().take(usize::from(used)) {
        (coldest, hottest) = (coldest.min(*cell), hottest.max(*cell));
    }
    (coldest, hottest)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Celsius;

    #[test]
    fn a_sixteenth_of_what_the_cells_span_is_added_at_either_end() {
        let cells = [90.0, 58.0, 42.0, 300.0].map(|celsius| State::at(Celsius(celsius)));
        for (used, coldest_c, hottest_c) in
            [(0, 90.0, 90.0), (1, 90.0, 90.0), (2, 56.0, 92.0), (3, 39.0, 93.0)]
        {
            let (coldest, hottest) = (coldest_of(&cells, used), hottest_of(&cells, used));
            assert!((coldest - coldest_c).abs() < 1e-4, "{used}: {coldest}");
            assert!((hottest - hottest_c).abs() < 1e-4, "{used}: {hottest}");
        }
    }

    #[test]
    fn the_ends_of_the_range_stay_in_it() {
        let ends = [State::at(Celsius(f32::MIN)), State::at(Celsius(f32::MAX))];
        let [coldest, hottest] = ends;
        let cells = [coldest, hottest, coldest, hottest];
        assert!(coldest_of(&cells, 4) >= coldest.celsius());
        assert!(hottest_of(&cells, 4) <= hottest.celsius());
    }
}
