//! How far the bounds of a trace lie on the right side of its plant's own temperatures.

use truesoak::rehearse::Trace;
use truesoak_core::units::TICKS_PER_SECOND;

/// Least distance of the bounds from the truth, K: coldest and hottest. Negative is a violation. A row
/// shows the bounds of the second before it, which stand beside the truth of the row before.
pub fn margins(trace: &Trace) -> (f64, f64) {
    let (mut cold, mut hot) = (f64::INFINITY, f64::INFINITY);
    let shown = trace.rows.iter().zip(trace.truth.rows());
    let mut seconds = shown.filter(|(row, _)| row.event.is_empty()).peekable();
    while let Some((before, truths)) = seconds.next() {
        let Some((row, _)) = seconds.peek() else { break };
        if row.tick - before.tick != TICKS_PER_SECOND {
            continue;
        }
        let (coldest, hottest) = truths.split_at(truths.len() / 2);
        if let (Some(bound_c), Some(true_c)) = (row.coldest_c, reduced(coldest, f64::min)) {
            cold = cold.min(true_c - bound_c);
        }
        if let (Some(bound_c), Some(true_c)) = (row.hottest_c, reduced(hottest, f64::max)) {
            hot = hot.min(bound_c - true_c);
        }
    }
    (cold, hot)
}

fn reduced(values: &[f64], pick: fn(f64, f64) -> f64) -> Option<f64> {
    values.iter().copied().filter(|value| value.is_finite()).reduce(pick)
}
