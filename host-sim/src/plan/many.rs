//! The same work many times, on several threads, its results in order.

use crate::interrupt;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};

/// Does `work` for 0, 1, … `count` and gives the results in that order, however many threads share
/// it. After Ctrl-C no work is begun, and what was under way is left out: it was cut off.
///
/// # Errors
/// The first of the errors, by its place.
pub(crate) fn each<T: Send, E: Send>(
    count: usize,
    threads: usize,
    work: impl Fn(usize) -> Result<T, E> + Sync,
) -> Result<Vec<T>, E> {
    let next = AtomicUsize::new(0);
    let failed = AtomicBool::new(false);
    let share = || {
        let mut done = Vec::new();
        while !interrupt::asked() && !failed.load(Ordering::Relaxed) {
            let index = next.fetch_add(1, Ordering::Relaxed);
            if index >= count {
                break;
            }
            let result = work(index);
            if interrupt::asked() {
                break;
            }
            failed.fetch_or(result.is_err(), Ordering::Relaxed);
            done.push((index, result));
        }
        done
    };
    let mut all = std::thread::scope(|scope| {
        let others: Vec<_> =
            (1..threads.clamp(1, count.max(1))).map(|_| scope.spawn(share)).collect();
        let mut all = share();
        for other in others {
            // A panic of another thread is this one's.
            all.extend(other.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic)));
        }
        all
    });
    all.sort_by_key(|(index, _)| *index);
    all.into_iter().map(|(_, result)| result).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn results_come_in_order_whatever_the_threads() {
        for threads in [0, 1, 2, 5, 64] {
            let work = |index: usize| Ok::<_, ()>(index * index);
            let done = each(37, threads, work);
            assert_eq!(done, Ok((0..37).map(|index| index * index).collect()), "{threads}");
        }
        assert_eq!(each(0, 2, |_| Ok::<(), ()>(())), Ok(Vec::new()));
    }

    #[test]
    fn the_first_error_is_given_and_ends_the_work() {
        let begun = AtomicUsize::new(0);
        let done = each(10_000, 2, |index| {
            begun.fetch_add(1, Ordering::Relaxed);
            if index >= 3 { Err(index) } else { Ok(()) }
        });
        assert_eq!(done, Err(3));
        assert!(begun.into_inner() < 10_000);
    }
}
