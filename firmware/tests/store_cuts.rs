//! The supply goes at every operation of everything the store does, and then at random.
//!
//! Goal: what the module doc of `store` promises. Method: `life` keeps beside the store what was
//! acknowledged; every sweep cuts each write and erase of one action, torn in many ways (`flash`),
//! opens the store again and holds it against that. The random run lives on one chip for 2,000
//! cuts, openings cut as well.

mod flash;
mod life;

use life::{LONGEST_S, Life, Line};
use rand_core::{RngCore, SeedableRng};
use rand_xoshiro::Xoshiro256PlusPlus;
use truesoak_firmware::store::{Need, Room, StoreError};

const SECTORS: u16 = 48;
/// Ways a cut is torn at each operation.
const TEARS: u64 = 24;
const BAKE: Need = Need::Bake { longest_s: LONGEST_S };

/// A store in which everything is: settings, two finished bakes of which one was fetched, a
/// document, an acknowledged trip.
fn lived_in() -> Life {
    let mut life = Life::new(SECTORS, 1);
    life.set_settings(&[7; 100]).unwrap();
    assert_eq!(life.send(&[0x3C; 9000]).unwrap(), Room::Made);
    for bake in 0..2_u8 {
        a_bake(&mut life, bake);
    }
    life.mark_fetched(1).unwrap();
    life.latch(b"over limit").unwrap();
    life.acknowledge().unwrap();
    life
}

fn a_bake(life: &mut Life, bake: u8) {
    begin(life);
    for second in 0..210 {
        life.line(Line::Row(vec![bake, second])).unwrap();
        if second % 10 == 9 {
            life.checkpoint(u32::from(second), &[second; 60]).unwrap();
        }
    }
    life.finish(210, &[bake; 40]).unwrap();
}

fn begin(life: &mut Life) {
    assert_eq!(life.make_room(BAKE).unwrap(), Room::Made);
    life.begin(b"hubs and levers").unwrap();
}

/// Cuts every operation of an action, in many ways; every second opening is cut as well.
fn sweep(life: &Life, action: impl Fn(&mut Life) -> Result<(), StoreError>) {
    let mut whole = life.fork(0);
    let before = whole.flash.chip(|chip| chip.operations);
    action(&mut whole).expect("the action itself works");
    let operations = whole.flash.chip(|chip| chip.operations) - before;
    assert!(operations > 0);
    println!("{} cuts", operations * TEARS);
    for cut in 0..operations {
        for tear in 0..TEARS {
            let mut life = life.fork(cut * TEARS + tear);
            life.flash.cut_after(Some(cut));
            action(&mut life).expect_err("the supply went");
            let again = tear / 2 % 4;
            life.reboot(if tear % 2 == 0 { &[] } else { std::slice::from_ref(&again) });
            life.settle();
            goes_on(&mut life);
        }
    }
}

/// After a cut the store serves as before.
fn goes_on(life: &mut Life) {
    if life.store.open_bake().is_some() {
        life.line(Line::Row(b"goes on".to_vec())).unwrap();
        life.checkpoint(LONGEST_S, b"goes on").unwrap();
        life.finish(LONGEST_S, b"end").unwrap();
    }
    life.set_settings(b"goes on").unwrap();
    life.reboot(&[]);
    life.settle();
}

#[test]
fn a_cut_in_a_settings_write_leaves_the_old_or_the_new() {
    let life = lived_in();
    sweep(&life, |life| life.set_settings(&[9; 256]));
}

#[test]
fn a_cut_in_a_settings_write_that_has_to_erase_leaves_the_old_or_the_new() {
    let mut life = lived_in();
    let erases = life.flash.erases();
    for n in 0..40 {
        sweep(&life, |life| life.set_settings(&[0xA5; 256]));
        life.set_settings(&[n; 200]).unwrap();
    }
    assert!(life.flash.erases() - erases >= 2, "both halves were erased");
}

#[test]
fn a_cut_in_a_checkpoint_leaves_the_one_before_or_the_new() {
    let mut life = lived_in();
    begin(&mut life);
    sweep(&life, |life| life.checkpoint(10, &[1; 96]));
    // Across the end of a sector too.
    for n in 1..45 {
        life.checkpoint(10 * n, &[n as u8; 96]).unwrap();
        if n % 6 == 0 {
            sweep(&life, |life| (0..8).try_for_each(|more| life.checkpoint(1000 + more, &[0; 96])));
        }
    }
}

#[test]
fn a_cut_while_room_is_made_takes_no_bake_but_fetched_ones_and_those_whole() {
    let mut life = lived_in();
    // Use the store up, until making room has to give one of the fetched up.
    loop {
        let mut ahead = life.fork(0);
        assert_eq!(ahead.make_room(BAKE).unwrap(), Room::Made);
        if ahead.known.bakes.len() < life.known.bakes.len() {
            break;
        }
        a_bake(&mut life, 9);
        life.mark_fetched(life.known.last_bake).unwrap();
    }
    sweep(&life, |life| life.make_room(BAKE).map(drop));
}

#[test]
fn a_cut_while_bakes_are_erased_leaves_the_others_whole() {
    let life = lived_in();
    sweep(&life, |life| life.erase(false));
    sweep(&life, |life| life.erase(true));
}

#[test]
fn a_cut_in_a_beginning_leaves_no_bake_or_an_open_one() {
    let mut life = lived_in();
    assert_eq!(life.make_room(BAKE).unwrap(), Room::Made);
    sweep(&life, |life| life.begin(&[0x11; 96]).map(drop));
}

#[test]
fn a_cut_in_a_row_or_an_event_leaves_all_before_it() {
    let mut life = lived_in();
    begin(&mut life);
    for n in 0..200_u8 {
        life.line(Line::Row(vec![n; 16])).unwrap();
    }
    sweep(&life, |life| {
        (0..6).try_for_each(|n| {
            life.line(Line::Row(vec![n; 16]))?;
            life.line(Line::Event(vec![n; 3]))
        })
    });
}

#[test]
fn a_cut_in_a_bakes_finish_leaves_it_open_or_finished_and_whole() {
    let mut life = lived_in();
    begin(&mut life);
    for n in 0..30 {
        life.line(Line::Row(vec![n; 16])).unwrap();
    }
    sweep(&life, |life| life.finish(30, &[0x42; 96]));
}

#[test]
fn a_cut_in_the_black_box_and_the_trip_leaves_what_was_written_and_the_trip() {
    let mut life = lived_in();
    begin(&mut life);
    life.latch(b"drive-welded").unwrap();
    sweep(&life, |life| {
        life.black_box(&[[0x77; 16]; 30])?;
        life.finish(1, b"tripped")
    });
    assert_eq!(life.known.latched.as_deref(), Some(&b"drive-welded"[..]));
}

#[test]
fn a_cut_in_a_latch_or_an_acknowledgement_never_loses_a_trip() {
    let mut life = lived_in();
    sweep(&life, |life| life.latch(b"air-over-limit"));
    life.latch(b"air-over-limit").unwrap();
    sweep(&life, Life::acknowledge);
    // Over the end of a half, where the other one is erased.
    for _ in 0..97 {
        life.acknowledge().unwrap();
        life.latch(b"fan-stopped").unwrap();
    }
    sweep(&life, |life| {
        (0..12).try_for_each(|_| {
            life.acknowledge()?;
            life.latch(b"enclosure-hot")
        })
    });
}

#[test]
fn a_cut_in_a_fetched_mark_leaves_it_fetched_or_not() {
    let life = lived_in();
    sweep(&life, |life| life.mark_fetched(2));
}

#[test]
fn a_cut_in_an_upload_leaves_the_document_before_it_or_the_whole_new_one() {
    let life = lived_in();
    sweep(&life, |life| life.send(&[0x99; 4500]).map(drop));
}

/// One step of a life at random.
fn step(life: &mut Life, dice: &mut Xoshiro256PlusPlus) -> Result<(), StoreError> {
    let mut bytes = [0; 256];
    dice.fill_bytes(&mut bytes);
    let length = dice.next_u32() as usize;
    let roll = dice.next_u32() % 100;
    let fetchable: Vec<u32> =
        life.store.bakes().filter(|bake| bake.finished).map(|bake| bake.id).collect();
    let pick = fetchable.get(length % fetchable.len().max(1)).copied();
    if life.store.open_bake().is_some() {
        let done = match roll {
            0..60 => life.line(Line::Row(bytes[..length % 17].to_vec())),
            60..70 => life.line(Line::Event(bytes[..length % 17].to_vec())),
            70..85 => life.checkpoint(roll, &bytes[..length % 97]),
            85..90 => life.black_box(&vec![[bytes[0]; 16]; length % 40]),
            90..93 => life.latch(&bytes[..length % 17]),
            93..95 => life.acknowledge(),
            95..97 => pick.map_or(Ok(()), |bake| life.mark_fetched(bake)),
            _ => life.finish(roll, &bytes[..length % 97]),
        };
        return match done {
            Err(StoreError::NoRoom) => life.finish(0, b"full"),
            done => done,
        };
    }
    match roll {
        0..20 => life.set_settings(&bytes[..length % 257]),
        20..30 => life.latch(&bytes[..length % 17]),
        30..40 => life.acknowledge(),
        40..45 => life.send(&vec![bytes[0]; length % 6000]).map(drop),
        45..60 => pick.map_or(Ok(()), |bake| life.mark_fetched(bake)),
        60..61 => life.erase(true),
        61..62 => life.erase(false),
        _ => match life.make_room(BAKE)? {
            Room::Made => life.begin(&bytes[..length % 97]).map(drop),
            Room::Fetch(bakes) => bakes.iter().try_for_each(|bake| life.mark_fetched(*bake)),
            other => panic!("{other:?}"),
        },
    }
}

#[test]
fn two_thousand_cuts_at_random_break_nothing() {
    const CUTS: u32 = 2_000;
    for seed in 0..4 {
        let mut life = Life::new(SECTORS, seed);
        let mut dice = Xoshiro256PlusPlus::seed_from_u64(seed + 1000);
        for cut in 0..CUTS / 4 {
            life.flash.cut_after(Some(u64::from(dice.next_u32() % 160)));
            let error = loop {
                if let Err(error) = step(&mut life, &mut dice) {
                    break error;
                }
            };
            assert!(life.flash.is_dead(), "seed {seed}, cut {cut}: {error}");
            let again: Vec<u64> =
                (0..dice.next_u32() % 3).map(|_| u64::from(dice.next_u32() % 5)).collect();
            life.reboot(&again);
            life.settle();
        }
        assert!(life.known.last_bake > 20, "seed {seed}: bakes were made");
    }
}
