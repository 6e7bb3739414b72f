//! How long thin parts wait for thick ones, where a soak limits how long they may be above its
//! lower end.
//!
//! While they wait, no part comes up to the window, and everything is as hot as that allows; from
//! then on the bake is what it is without a limit. The longer the wait, the nearer the slowest part
//! has come, so the shorter what is left, and the later the end. Least is therefore the shortest wait
//! with which the limit holds, found to a second.
//!
//! It knows no oven: what a wait comes to is tried by who asks.

/// First wait that is tried, s.
const FIRST_S: u32 = 300;
/// No wait is longer, s.
const LONGEST_S: u32 = 12 * 3600;

/// The shortest wait with which nothing stays too long, s; `None` if no wait tried does.
/// `excess_s` is by how much the longest stay then passes the limit.
///
/// # Errors
/// What a trial ends with.
pub fn shortest<E>(mut excess_s: impl FnMut(u32) -> Result<i64, E>) -> Result<Option<u32>, E> {
    let mut short = (0, excess_s(0)?);
    if short.1 <= 0 {
        return Ok(Some(0));
    }
    let mut long = (FIRST_S, excess_s(FIRST_S)?);
    while long.1 > 0 {
        if long.0 >= LONGEST_S {
            return Ok(None);
        }
        short = long;
        let next_s = (2 * long.0).min(LONGEST_S);
        long = (next_s, excess_s(next_s)?);
    }
    let mut halves = false;
    while long.0 - short.0 > 1 {
        let wide_s = long.0 - short.0;
        let middle_s = if halves { short.0 + wide_s / 2 } else { between(short, long) };
        let middle = (middle_s, excess_s(middle_s)?);
        if middle.1 > 0 {
            short = middle;
        } else {
            long = middle;
        }
        halves = 2 * (long.0 - short.0) > wide_s;
    }
    Ok(Some(long.0))
}

/// Where a straight line through both passes 0, one second within them at least.
fn between(short: (u32, i64), long: (u32, i64)) -> u32 {
    let falls = (short.1 - long.1).max(1) as f64;
    let share = short.1 as f64 / falls;
    let wide_s = f64::from(long.0 - short.0);
    let on_s = (share * wide_s).ceil().clamp(1.0, wide_s - 1.0);
    short.0 + on_s as u32
}

#[cfg(test)]
mod tests {
    use super::*;

    fn found(excess_s: impl Fn(u32) -> i64) -> (Option<u32>, u32) {
        let mut trials = 0;
        let wait_s = shortest(|wait_s| {
            trials += 1;
            Ok::<_, ()>(excess_s(wait_s))
        });
        (wait_s.unwrap_or(None), trials)
    }

    #[test]
    fn the_shortest_that_holds_is_found_to_a_second() {
        // Nothing changes until the wait is felt; then less and less is won.
        let curve = |wait_s: u32| {
            let felt_s = f64::from(wait_s.saturating_sub(700));
            (2000.0 * (-felt_s / 1500.0).exp() - 500.0).ceil() as i64
        };
        let (wait_s, trials) = found(curve);
        // 700 + 1500 ln 4, as ceil(x) <= 0 from x <= 0 on.
        assert_eq!(wait_s, Some(2780));
        assert!(trials <= 20, "{trials}");
        assert_eq!(found(|wait_s| 1000 - i64::from(wait_s)).0, Some(1000));
    }

    #[test]
    fn none_is_needed_where_the_limit_holds_and_none_found_where_it_never_does() {
        assert_eq!(found(|_| 0), (Some(0), 1));
        assert_eq!(found(|_| 1).0, None);
    }
}
