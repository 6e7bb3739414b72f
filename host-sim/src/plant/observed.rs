//! An oven timed with a kitchen clock: what its heat-up and cool-down say of losses and walls.
//!
//! The empty oven is simulated, reading its own sensor, and the two factors are moved until it takes
//! as long as the real one did. Heat-up tells the walls' heat capacity against the heater's power,
//! cool-down tells the losses against that capacity. How closely the air is tied to the liner
//! is not told by a clock; of a few ties the one is taken that leaves the walls nearest to what the
//! file says of them. The clock is no better than half a minute and the reading no better than two
//! kelvins, and everything else in the spread takes its part in both times: losses and walls are
//! narrowed to what all of that leaves at its worst, and no further. Refuses times that no oven of
//! this size could show.

use super::{Draw, Plant};
use crate::files::load::Load;
use crate::files::oven::{Calibration, Observed, Oven, Timed};
use crate::files::{Finding, KeyPath};

/// GUESS: error of a time read off a kitchen clock, s.
const CLOCK_S: f64 = 30.0;
/// GUESS: error of a temperature read off a display while it moves, K.
const DISPLAY_K: f64 = 2.0;
/// Held at its starting temperature before a cool-down is timed, ticks (30 min).
const HELD_TICKS: u32 = 18_000;
/// Power is set anew after so many ticks of the hold.
const HOLD_LOOK_TICKS: u32 = 200;
/// Full power for so many kelvins below, K: gentle enough for an oven that heats a kelvin a second.
const HOLD_BAND_K: f64 = 60.0;
/// What is missing is made up over so long, looks (5 min).
const HOLD_RESET_LOOKS: f64 = 15.0;
/// A factor outside these means a wrong number in the file.
const FACTORS: (f64, f64) = (0.2, 6.0);
/// Ties of air and liner that are tried, in turn.
const TIES: [f64; 5] = [1.0, 2.0, 4.0, 0.5, 0.33];
/// Factor by which walls and losses are moved to see what that does to the times.
const STEP: f64 = 1.1;
/// Places of losses and walls in a draw.
const LOSSES: usize = 0;
/// See [`LOSSES`].
const WALLS: usize = 1;
/// What else is not known and moves the times, by its place in a draw: exchange, power, radiant
/// share, wall view, the sensor's lag and its error.
const OTHERS: core::ops::RangeInclusive<usize> = 2..=7;
/// Longest simulated, ticks: a day.
const LONGEST_TICKS: u32 = 864_000;
/// The same, s.
const LONGEST_S: f64 = 86_400.0;
/// Rounds of heat-up and cool-down in turn; each leaves a tenth of the error or less.
const ROUNDS: usize = 3;
/// Both times are met to this share.
const MET: f64 = 2e-3;
/// An answer is first looked for this near (logarithm of the ratio).
const NEARBY: f64 = 0.25;

/// Which factor a time tells.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Factor {
    Walls,
    Losses,
}

/// Puts what was observed into calibration and spread.
///
/// # Errors
/// A time no factor from 1/5 to 6 explains.
pub fn apply(oven: &mut Oven) -> Result<(), Finding> {
    let observed = oven.observed;
    if observed == Observed::default() {
        return Ok(());
    }
    let mut first_refusal = None;
    let mut best: Option<(f64, Oven)> = None;
    let mut near = oven.calibration;
    for tie in TIES {
        let mut tried = oven.clone();
        // What one tie needed is near to what the next one needs.
        tried.calibration =
            Calibration { liner_exchange: oven.calibration.liner_exchange * tie, ..near };
        match fit(&mut tried) {
            Ok(()) => {
                near = tried.calibration;
                let walls = tried.calibration.wall_heat_capacity;
                let off = libm::log(walls / oven.calibration.wall_heat_capacity).abs();
                let explained = narrow(&mut tried, oven);
                if best.as_ref().is_none_or(|(least, _)| off < *least) || explained {
                    best = Some((off, tried));
                }
                if explained {
                    // The spread explains the times: nothing tells against this tie.
                    break;
                }
            }
            Err(finding) => {
                first_refusal.get_or_insert(finding);
            }
        }
    }
    match (best, first_refusal) {
        (Some((_, tried)), _) => *oven = tried,
        (None, Some(finding)) => return Err(finding),
        (None, None) => {}
    }
    Ok(())
}

/// Narrows the spread to what the times leave of `told`; true where the times are those of an oven
/// that was inside it.
fn narrow(oven: &mut Oven, told: &Oven) -> bool {
    let [walls, losses] = left(oven);
    let mut explained = true;
    let mut keep = |factor: &mut f64, was: f64, spread: &mut f64, left: f64| {
        let measured = (*factor * libm::exp(-left), *factor * libm::exp(left));
        let told = (was * (1.0 - *spread), was * (1.0 + *spread));
        let both = (measured.0.max(told.0), measured.1.min(told.1));
        let meets = both.0 <= both.1;
        explained &= meets;
        // What cannot be both is as it was measured. WHY the middle: a spread to both sides of what was
        // found would reach past what the file had told already.
        let (low, high) = if meets { both } else { measured };
        *factor = 0.5 * (low + high);
        *spread = (high - low) / (high + low);
    };
    let (now, was) = (&mut oven.calibration, told.calibration);
    if let Some(left) = walls {
        let spread = &mut oven.spread.wall_heat_capacity;
        keep(&mut now.wall_heat_capacity, was.wall_heat_capacity, spread, left);
    }
    if let Some(left) = losses {
        keep(&mut now.losses, was.losses, &mut oven.spread.losses, left);
    }
    explained
}

/// How far walls and losses may be off what was found (logarithm of the ratio); `None` for what was
/// not timed. Everything else that is not known moves both times, and to meet them again both
/// factors must move; the worst of all of it is added up, since the bounds are for the worst.
fn left(oven: &Oven) -> [Option<f64>; 2] {
    let observed = oven.observed;
    let base = times(oven, &Draw::nominal(oven));
    let elasticities = [Factor::Walls, Factor::Losses].map(|which| elasticity(oven, base, which));
    let read = |timed: Option<Timed>| {
        timed.map_or(0.0, |timed| {
            CLOCK_S / timed.in_s + 2.0 * DISPLAY_K / (timed.to_c - timed.from_c).abs()
        })
    };
    let (heat, cool) = ([read(observed.heats), 0.0], [0.0, read(observed.cools)]);
    // What was not timed stays as it was told, and takes its part too.
    let walls = observed.heats.is_none().then_some(WALLS);
    let losses = observed.cools.is_none().then_some(LOSSES);
    let unknown = OTHERS.chain(walls).chain(losses).map(|index| moves(oven, base, index));
    let mut sum = [0.0; 2];
    for ends in [[heat; 2], [cool; 2]].into_iter().chain(unknown) {
        let answers = ends.map(|change| answer(&observed, &elasticities, change));
        for (which, sum) in sum.iter_mut().enumerate() {
            *sum += answers[0][which].abs().max(answers[1][which].abs());
        }
    }
    let finite = |sum: f64| if sum.is_finite() { sum } else { f64::INFINITY };
    [observed.heats.map(|_| finite(sum[0])), observed.cools.map(|_| finite(sum[1]))]
}

/// What walls and losses must do to undo a change of both times (all logarithms of ratios).
fn answer(
    observed: &Observed,
    [walls, losses]: &[[f64; 2]; 2],
    [heat, cool]: [f64; 2],
) -> [f64; 2] {
    match (observed.heats, observed.cools) {
        (Some(_), Some(_)) => {
            let determinant = walls[0] * losses[1] - losses[0] * walls[1];
            let answer_walls = (heat * losses[1] - cool * losses[0]) / determinant;
            [answer_walls, (cool * walls[0] - heat * walls[1]) / determinant]
        }
        (Some(_), None) => [heat / walls[0], 0.0],
        _ => [0.0, cool / losses[1]],
    }
}

/// Change of both times for a change of one factor (logarithms of ratios, one by the other).
fn elasticity(oven: &Oven, base: [f64; 2], which: Factor) -> [f64; 2] {
    let mut stepped = oven.clone();
    *factor(&mut stepped, which) *= STEP;
    let by_step = change(base, times(&stepped, &Draw::nominal(&stepped)));
    by_step.map(|moved| moved / libm::log(STEP))
}

/// What the two ends of one thing not known do to both times, by its place in a draw.
fn moves(oven: &Oven, base: [f64; 2], index: usize) -> [[f64; 2]; 2] {
    [0.0, 1.0].map(|end| {
        change(base, times(oven, &Draw::at(oven, |i| if i == index { end } else { 0.5 })))
    })
}

/// Logarithms of the ratios of both times.
fn change(from: [f64; 2], to: [f64; 2]) -> [f64; 2] {
    [libm::log(to[0] / from[0]), libm::log(to[1] / from[1])]
}

/// Both times one oven takes, s; what was not timed takes 1 s, what never comes a day.
fn times(oven: &Oven, draw: &Draw) -> [f64; 2] {
    let off_k = draw.sensor_offset_k;
    let truly = |timed: Timed| Timed { to_c: timed.to_c - off_k, ..timed };
    let heats = oven.observed.heats.map(|heats| heat_up_s(oven, draw, &truly(heats)));
    let cools = oven.observed.cools.map(|cools| {
        let from_c = cools.from_c - off_k;
        cool_down_s(oven, draw, &Timed { from_c, ..truly(cools) })
    });
    [heats, cools].map(|time| time.map_or(1.0, |seconds| seconds.unwrap_or(LONGEST_S)))
}

/// Heat-up and cool-down in turn, with air and liner tied as they are.
fn fit(oven: &mut Oven) -> Result<(), Finding> {
    let observed = oven.observed;
    for _ in 0..ROUNDS {
        if let Some(heats) = observed.heats {
            solve(oven, Factor::Walls, &heats)?;
        }
        if let Some(cools) = observed.cools {
            solve(oven, Factor::Losses, &cools)?;
        }
    }
    Ok(())
}

fn factor(oven: &mut Oven, which: Factor) -> &mut f64 {
    match which {
        Factor::Walls => &mut oven.calibration.wall_heat_capacity,
        Factor::Losses => &mut oven.calibration.losses,
    }
}

fn takes_with(oven: &Oven, which: Factor, value: f64, timed: &Timed) -> Option<f64> {
    let mut tried = oven.clone();
    *factor(&mut tried, which) = value;
    let nominal = Draw::nominal(&tried);
    match which {
        Factor::Walls => heat_up_s(&tried, &nominal, timed),
        Factor::Losses => cool_down_s(&tried, &nominal, timed),
    }
}

/// Moves a factor until the oven takes as long as it did: from where it is to a point nearby on the
/// answer's side, or past that to the factor's end; between those false position on logarithms,
/// halving the end that stays (Illinois), which keeps the answer between the ends.
fn solve(oven: &mut Oven, which: Factor, timed: &Timed) -> Result<(), Finding> {
    let (lowest, highest) = (libm::log(FACTORS.0), libm::log(FACTORS.1));
    let told = *factor(oven, which);
    let mut a = libm::log(told).clamp(lowest, highest);
    *factor(oven, which) = libm::exp(a);
    // A time that never comes is a very long one.
    let miss = |value: f64| {
        let seconds = takes_with(oven, which, value, timed).unwrap_or(LONGEST_S);
        libm::log(seconds / timed.in_s)
    };
    let mut at_a = miss(libm::exp(a));
    let off = at_a.abs();
    if off < MET {
        return Ok(());
    }
    // Heavier walls take longer to heat, greater losses less to cool.
    let rises = if (at_a < 0.0) == (which == Factor::Walls) { 1.0 } else { -1.0 };
    let mut b = (a + rises * NEARBY).clamp(lowest, highest);
    let mut at_b = miss(libm::exp(b));
    if at_a * at_b > 0.0 {
        (a, at_a) = (b, at_b);
        b = if rises > 0.0 { highest } else { lowest };
        at_b = miss(libm::exp(b));
    }
    if at_a * at_b > 0.0 {
        // Where all the rest of the spread explains it, the time tells nothing of this factor.
        *factor(oven, which) = told;
        return if off <= explained(oven, which) {
            Ok(())
        } else {
            Err(refuse(oven, which, timed))
        };
    }
    for _ in 0..40 {
        let here = (a * at_b - b * at_a) / (at_b - at_a);
        let missed = miss(libm::exp(here));
        if missed.abs() < MET || (b - a).abs() < MET {
            *factor(oven, which) = libm::exp(here);
            return Ok(());
        }
        if missed * at_b > 0.0 {
            (b, at_b, at_a) = (here, missed, 0.5 * at_a);
        } else {
            (a, at_a, at_b) = (here, missed, 0.5 * at_b);
        }
    }
    Err(refuse(oven, which, timed))
}

/// How far everything in the spread can move one time (logarithm of the ratio).
fn explained(oven: &Oven, which: Factor) -> f64 {
    let (base, time) = (times(oven, &Draw::nominal(oven)), which as usize);
    let furthest = |index: usize| {
        let [low, high] = moves(oven, base, index);
        low[time].abs().max(high[time].abs())
    };
    (LOSSES..=*OTHERS.end()).map(furthest).sum()
}

/// What a kitchen clock would show of one true oven, timed empty from the room to a reading and,
/// after 30 min there, back to another; `None` where it gets to one of them never.
#[must_use]
pub fn timed(oven: &Oven, draw: &Draw, hot_c: f64, cooled_c: f64) -> Option<Observed> {
    let room_c = oven.ambient_c;
    // What the sensor is off by moves the true air at which its reading gets there.
    let off_k = draw.sensor_offset_k - oven.sensor.correction_k;
    let truly = |from_c: f64, to_c: f64| Timed { from_c, to_c, in_s: 0.0 };
    let heats_s = heat_up_s(oven, draw, &truly(room_c, hot_c - off_k))?;
    let cools_s = cool_down_s(oven, draw, &truly(hot_c - off_k, cooled_c - off_k))?;
    Some(Observed {
        heats: Some(Timed { from_c: room_c, to_c: hot_c, in_s: heats_s }),
        cools: Some(Timed { from_c: hot_c, to_c: cooled_c, in_s: cools_s }),
    })
}

/// The empty oven.
fn empty(oven: &Oven, draw: &Draw, at_c: f64) -> Plant {
    let nothing = Load { name: String::new(), parts: Vec::new(), rack: None, coating: None };
    Plant::new(oven, &nothing, draw, at_c)
}

/// Full power until the reading is there, s; `None` if it never is.
fn heat_up_s(oven: &Oven, draw: &Draw, timed: &Timed) -> Option<f64> {
    let mut plant = empty(oven, draw, timed.from_c);
    plant.set_power(oven.heater.power_w * draw.heater_power);
    until(&mut plant, |reading_c| reading_c >= timed.to_c)
}

/// Heater off after 30 min at the start, until the reading is down, s.
fn cool_down_s(oven: &Oven, draw: &Draw, timed: &Timed) -> Option<f64> {
    let mut plant = held(oven, draw, timed.from_c);
    plant.set_power(0.0);
    until(&mut plant, |reading_c| reading_c <= timed.to_c)
}

/// The empty oven whose reading has been held for 30 min. What the walls take up meanwhile is what
/// matters. WHY: with a thermostat its phase at the end would be in the time, in steps.
fn held(oven: &Oven, draw: &Draw, at_c: f64) -> Plant {
    let mut plant = empty(oven, draw, at_c);
    let power_w = oven.heater.power_w * draw.heater_power;
    let (mut tick, mut made_up) = (0, 0.0);
    while tick < HELD_TICKS && !plant.is_astray() {
        let below = (at_c - plant.shown_at(0).air_c) / HOLD_BAND_K;
        let duty = (below + made_up).clamp(0.0, 1.0);
        made_up = (made_up + below / HOLD_RESET_LOOKS).clamp(0.0, 1.0);
        plant.set_power(duty * power_w);
        let next = tick + HOLD_LOOK_TICKS;
        while tick < next {
            let taken = plant.attempt(next - tick);
            plant.take(taken);
            tick += taken;
        }
    }
    plant
}

fn until(plant: &mut Plant, arrived: impl Fn(f64) -> bool) -> Option<f64> {
    let mut tick = 0;
    while tick < LONGEST_TICKS && !plant.is_astray() {
        let length = plant.attempt(LONGEST_TICKS - tick);
        if arrived(plant.shown_at(length).air_c) {
            let first = (1..=length).find(|at| arrived(plant.shown_at(*at).air_c));
            return Some(f64::from(tick + first.unwrap_or(length)) * 0.1);
        }
        plant.take(length);
        tick += length;
    }
    None
}

fn shown(seconds: f64) -> String {
    if seconds.is_infinite() {
        "never".to_owned()
    } else if seconds < 120.0 {
        format!("{seconds:.0} s")
    } else {
        format!("{:.0} min", seconds / 60.0)
    }
}

fn refuse(oven: &Oven, which: Factor, timed: &Timed) -> Finding {
    let (key, what) = match which {
        Factor::Walls => ("heats", "heat up"),
        Factor::Losses => ("cools", "cool down"),
    };
    let at = |value: f64| takes_with(oven, which, value, timed).unwrap_or(f64::INFINITY);
    let (one, other) = (at(FACTORS.0), at(FACTORS.1));
    Finding::new(
        KeyPath::oven("observed").key(key),
        format!("no oven like this would {what} in {}", shown(timed.in_s)),
        format!("between {} and {}", shown(one.min(other)), shown(one.max(other))),
        "check the time, the two temperatures, the heater's power and the cavity's size",
    )
}

#[cfg(test)]
mod tests {
    use super::super::sample;
    use super::*;
    use crate::files::oven::Circulation;

    /// An oven is given known factors, timed, and the factors are found again.
    #[test]
    fn the_factors_of_a_simulated_oven_are_found_again() {
        let mut real = sample::oven(Circulation::Natural);
        real.calibration.losses = 1.3;
        real.calibration.wall_heat_capacity = 0.8;
        let mut guessed = sample::oven(Circulation::Natural);
        let draw = Draw::nominal(&real);
        guessed.observed = timed(&real, &draw, 150.0, 95.0).unwrap();
        fit(&mut guessed).unwrap();
        let found = guessed.calibration;
        assert!((found.wall_heat_capacity / 0.8 - 1.0).abs() < 0.04, "{found:?}");
        assert!((found.losses / 1.3 - 1.0).abs() < 0.04, "{found:?}");
    }

    /// Ovens of the spread are timed; what is left of the spread must still hold each of them.
    #[test]
    fn a_timed_oven_of_the_spread_is_in_what_its_times_leave() {
        let (mut narrowed, mut tried) = (0, 0);
        for circulation in [Circulation::Natural, sample::FAN] {
            let told = sample::oven(circulation);
            for number in 1..=12 {
                let draw = Draw::nth(&told, number);
                let mut oven = told.clone();
                oven.observed = timed(&told, &draw, 150.0, 95.0).unwrap();
                apply(&mut oven).unwrap();
                let (found, left) = (oven.calibration, oven.spread);
                for (found, left, told, spread) in [
                    (found.losses, left.losses, told.calibration.losses, told.spread.losses),
                    (
                        found.wall_heat_capacity,
                        left.wall_heat_capacity,
                        told.calibration.wall_heat_capacity,
                        told.spread.wall_heat_capacity,
                    ),
                ] {
                    let (low, high) = (found * (1.0 - left), found * (1.0 + left));
                    let inside =
                        low >= told * (1.0 - spread) - 1e-9 && high <= told * (1.0 + spread) + 1e-9;
                    assert!(inside, "draw {number}: {low} to {high} of {told} ± {spread}");
                }
                let tie = found.liner_exchange / told.calibration.liner_exchange;
                assert!((tie - 1.0).abs() < 1e-9, "draw {number}: its own tie explains it: {tie}");
                for (truth, found, left) in [
                    (draw.losses, found.losses, left.losses),
                    (draw.wall_heat_capacity, found.wall_heat_capacity, left.wall_heat_capacity),
                ] {
                    let off = (truth / found - 1.0).abs();
                    assert!(off <= left + 1e-9, "draw {number}: {truth} by {found} ± {left}");
                }
                tried += 2;
                narrowed += usize::from(left.losses < told.spread.losses);
                narrowed += usize::from(left.wall_heat_capacity < told.spread.wall_heat_capacity);
            }
        }
        println!("{narrowed} of {tried} spreads narrowed");
    }

    #[test]
    fn a_held_oven_reads_what_it_is_held_at() {
        for circulation in [Circulation::Natural, sample::FAN] {
            for (power_w, liner_j_per_k) in [(1500.0, 5_000.0), (3000.0, 3_000.0)] {
                let mut oven = sample::oven(circulation);
                oven.heater.power_w = power_w;
                oven.liner.capacity_j_per_k = liner_j_per_k;
                for at_c in [80.0, 150.0] {
                    let reading_c = held(&oven, &Draw::nominal(&oven), at_c).shown_at(0).air_c;
                    assert!((reading_c - at_c).abs() < 0.5, "{power_w} W {at_c}: {reading_c}");
                }
            }
        }
    }

    #[test]
    fn a_time_no_oven_shows_is_refused_with_what_one_could() {
        let mut oven = sample::oven(Circulation::Natural);
        oven.observed.heats = Some(Timed { from_c: 20.0, to_c: 150.0, in_s: 5.0 });
        let finding = apply(&mut oven).unwrap_err();
        assert!(
            finding.what.contains("heat up") && finding.expected.contains("min"),
            "{finding:?}"
        );
    }
}
