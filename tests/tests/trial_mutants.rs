//! The checkers of the fault campaign bite: with a row of the guard muted they find it out.
//!
//! Goal: for each row a seed whose bake breaks an invariant without that row, and not with it. Method:
//! the same drawn bake run twice, sound and muted. The seeds stand here; the ignored test looks for them
//! anew (`TRUESOAK_SEEDS` sets among how many): a bake that does not trip under a row's kind is no other
//! without it, so only those that do are run again.

use truesoak::trial::{Found, play};
use truesoak_core::guard::{Muted, TripKind};

fn found(seed: u64, muted: Option<Muted>) -> Option<Found> {
    let mute = |controller: &mut truesoak_core::Controller| {
        if let Some(row) = muted {
            controller.mute(row);
        }
    };
    play(seed, false, &mute).map(|played| played.found)
}

/// Invariants a seed breaks.
fn broken(found: &Found) -> Vec<u8> {
    found.broken.iter().map(|broken| broken.invariant).collect()
}

/// The first seed of some that breaks, muted, what it does not break otherwise.
fn first(row: Muted, seeds: &[u64]) -> Option<(u64, Found)> {
    seeds.iter().find_map(|seed| {
        let sound = broken(&found(*seed, None)?);
        let muted = found(*seed, Some(row))?;
        broken(&muted).iter().any(|one| !sound.contains(one)).then_some((*seed, muted))
    })
}

/// The row, and the first seed that shows it is missing.
const SEEDS: [(Muted, u64); 23] = [
    (Muted::Trip(TripKind::ThermocoupleOpen), 25),
    (Muted::Trip(TripKind::ThermocoupleShort), 76),
    (Muted::Trip(TripKind::ConverterSilent), 31),
    (Muted::Trip(TripKind::ThermocoupleReversed), 72),
    (Muted::Trip(TripKind::SensorTypeWrong), 24),
    (Muted::Trip(TripKind::ReadingStale), 157),
    (Muted::Trip(TripKind::ReadingFrozen), 41),
    (Muted::Trip(TripKind::ReadingJump), 9),
    (Muted::Trip(TripKind::NoResponse), 98),
    (Muted::Trip(TripKind::SensorMoved), 45),
    (Muted::Trip(TripKind::DriveWelded), 32),
    (Muted::Trip(TripKind::PermitWelded), 6),
    (Muted::Trip(TripKind::DoorSwitchStuck), 775),
    (Muted::Trip(TripKind::FanStopped), 243),
    (Muted::Trip(TripKind::EnclosureHot), 125),
    (Muted::Trip(TripKind::TickOverrun), 73),
    (Muted::Trip(TripKind::ProcessorHung), 380),
    (Muted::Trip(TripKind::ClockWrong), 53),
    (Muted::Trip(TripKind::MemoryCorrupt), 2),
    (Muted::Trip(TripKind::AirOverLimit), 1994),
    (Muted::Trip(TripKind::PartOverLimit), 80_952),
    (Muted::ProbeDisagrees, 409),
    (Muted::OutsideModel, 108),
];

#[test]
fn a_muted_row_is_found_out_by_the_campaign() {
    let shows_nothing = SEEDS.iter().filter(|(row, seed)| first(*row, &[*seed]).is_none());
    let shows_nothing: Vec<_> = shows_nothing.collect();
    assert!(shows_nothing.is_empty(), "{shows_nothing:?}");
}

#[test]
#[ignore = "looks through many seeds: run it when rows or drawings change"]
fn look_for_the_first_seed_of_every_row() {
    let typed = std::env::var("TRUESOAK_SEEDS").ok().and_then(|text| text.parse().ok());
    let seeds = 1..=typed.unwrap_or(2_000_u64);
    let halves = std::thread::scope(|scope| {
        let half = |odd: u64| {
            let seeds = seeds.clone().filter(move |seed| seed % 2 == odd);
            scope.spawn(move || seeds.filter_map(|seed| found(seed, None)).collect::<Vec<_>>())
        };
        let halves = [half(0), half(1)];
        halves.map(|half| half.join().expect("no panic"))
    });
    let mut all: Vec<Found> = halves.into_iter().flatten().collect();
    all.sort_by_key(|found| found.seed);
    for kind in TripKind::ALL {
        let tripped = all.iter().filter(|found| found.tripped == Some(kind));
        let seeds: Vec<u64> = tripped.map(|found| found.seed).collect();
        report(&kind.to_string(), Muted::Trip(kind), &seeds);
    }
    let outside: Vec<u64> =
        all.iter().filter(|found| found.outside_model).map(|found| found.seed).collect();
    report("outside-model", Muted::OutsideModel, &outside);
    let probe =
        |found: &&Found| found.drawn.contains(&truesoak::rehearse::FaultKind::ProbeDisagrees);
    let probes: Vec<u64> = all.iter().filter(probe).map(|found| found.seed).collect();
    report("probe-disagrees", Muted::ProbeDisagrees, &probes);
}

/// `TRUESOAK_ROWS` may name one row to look for.
fn report(word: &str, row: Muted, seeds: &[u64]) {
    if std::env::var("TRUESOAK_ROWS").is_ok_and(|rows| !rows.split(',').any(|one| one == word)) {
        return;
    }
    match first(row, seeds) {
        Some((seed, found)) => {
            let first = found.broken.first().map_or("", |broken| broken.what.as_str());
            println!("{word}: seed {seed}, INV-{:?}: {first}", broken(&found));
        }
        None => println!("{word}: none in {} bakes it ended", seeds.len()),
    }
}
