//! The last few values of something, newest first.

/// Takes a value in front of the others; what falls out behind them.
///
/// Value by value: moving them as one block costs a chip more code than all of its callers.
pub fn take_in<T>(recent: &mut [T], mut newest: T) -> T {
    for place in recent {
        core::mem::swap(place, &mut newest);
    }
    newest
}

#[cfg(test)]
mod tests {
    use super::take_in;

    #[test]
    fn the_newest_stands_first_and_the_oldest_falls_out() {
        let mut recent = [3, 2, 1];
        assert_eq!((take_in(&mut recent, 4), recent), (1, [4, 3, 2]));
        assert_eq!(take_in(&mut [], 5), 5);
    }
}
