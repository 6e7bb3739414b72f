//! The store in use, the supply steady: what is kept reads back, what is refused says why.

mod flash;
mod life;

use flash::{Flash, SECTOR};
use life::{LONGEST_S, Life, Line, digest, read_lines};
use rand_core::{RngCore, SeedableRng};
use rand_xoshiro::Xoshiro256PlusPlus;
use truesoak_firmware::store::{
    BLACK_BOX_ROWS, CHECKPOINT_MAX, DOCUMENT_MAX, EVENTS_MAX, Need, Region, Room, SECTORS_MAX,
    SETTINGS_MAX, Store, StoreError,
};

const BAKE: Need = Need::Bake { longest_s: LONGEST_S };

fn begun<const WRITE: usize>(sectors: u16) -> Life<WRITE> {
    let mut life = Life::new(sectors, 3);
    assert_eq!(life.make_room(BAKE).unwrap(), Room::Made);
    life.begin(b"begun").unwrap();
    life
}

fn finished<const WRITE: usize>(life: &mut Life<WRITE>) -> u32 {
    assert_eq!(life.make_room(BAKE).unwrap(), Room::Made);
    let id = life.begin(b"").unwrap();
    life.line(Line::Row(vec![1; 16])).unwrap();
    life.finish(1, b"").unwrap();
    id
}

fn live_on<const WRITE: usize>() {
    let mut life = Life::<WRITE>::new(64, 4);
    life.set_settings(&[5; SETTINGS_MAX]).unwrap();
    life.send(&(0..20_000_u32).map(|n| n as u8).collect::<Vec<_>>()).unwrap();
    life.make_room(BAKE).unwrap();
    life.begin(&[6; 96]).unwrap();
    for second in 0..600_u16 {
        life.line(Line::Row(second.to_le_bytes().repeat(8))).unwrap();
        if second % 10 == 0 {
            life.checkpoint(u32::from(second), &[second as u8; 96]).unwrap();
            life.line(Line::Event(vec![second as u8])).unwrap();
        }
    }
    life.latch(&[8; 16]).unwrap();
    life.reboot(&[]);
    life.settle();
    life.black_box(&[[9; 16]; BLACK_BOX_ROWS as usize]).unwrap();
    life.finish(600, &[3; 96]).unwrap();
    life.mark_fetched(1).unwrap();
    life.reboot(&[]);
    life.settle();
}

#[test]
fn everything_reads_back_on_flash_that_writes_4_8_16_or_32_bytes_at_once() {
    live_on::<4>();
    live_on::<8>();
    live_on::<16>();
    live_on::<32>();
}

#[test]
fn a_region_that_does_not_fit_is_refused() {
    let open = |start, sectors| {
        Store::<Flash>::open(Flash::new(32, 0), Region { start, sectors }, || {}).map(drop)
    };
    assert_eq!(open(4 * 4096, 28), Ok(()));
    assert_eq!(open(4 * 4096, 29), Err(StoreError::Region));
    assert_eq!(open(4096 + 256, 20), Err(StoreError::Region));
    assert_eq!(open(u32::MAX - 4095, 20), Err(StoreError::Region));
    assert_eq!(open(0, 15), Err(StoreError::Region));
    assert_eq!(open(0, SECTORS_MAX + 1), Err(StoreError::Region));
}

#[test]
fn nothing_outside_the_region_is_touched() {
    let flash = Flash::<4>::new(64, 0);
    flash.chip(|chip| chip.bytes.fill(0x5A));
    let mut store =
        Store::open(flash.clone(), Region { start: 20 * 4096, sectors: 24 }, || {}).unwrap();
    store.set_settings(b"inside").unwrap();
    while store.make_room(Need::Document { length: 9000 }).unwrap() != Room::Made {}
    store.document_begin(3).unwrap();
    store.document_piece(0, b"abc").unwrap();
    store.document_commit(digest(b"abc")).unwrap();
    flash.chip(|chip| {
        let outside = chip.bytes[..20 * 4096].iter().chain(&chip.bytes[44 * 4096..]);
        assert!(outside.copied().all(|byte| byte == 0x5A));
    });
}

#[test]
fn any_content_opens_serves_and_is_not_taken_for_something_kept() {
    let mut dice = Xoshiro256PlusPlus::seed_from_u64(8);
    for seed in 0..60 {
        let flash = Flash::<4>::new(32, seed);
        flash.chip(|chip| match seed {
            0 => chip.bytes.fill(0),
            1 => chip.bytes.fill(0x5A),
            _ => dice.fill_bytes(&mut chip.bytes),
        });
        let mut life = Life::on(flash, 32);
        life.settle();
        assert_eq!(life.send(&[1; 5000]).unwrap(), Room::Made);
        finished(&mut life);
        life.set_settings(b"set").unwrap();
        life.latch(b"trip").unwrap();
        life.reboot(&[]);
        life.settle();
    }
}

/// Found by `tests/fuzz`: the count of checkpoints' sectors overflowed, or took 65,535 rounds.
#[test]
fn a_sector_with_the_last_number_there_is_opens() {
    let flash = Flash::<4>::new(16, 1);
    let (title, checkpoints) = (4, 5);
    for (sector, stream, index) in [(6, title, 0), (7, checkpoints, u16::MAX)] {
        let mut header = [0xFF; 32];
        header[..2].copy_from_slice(&[stream, 1]);
        header[2..4].copy_from_slice(&u16::to_le_bytes(index));
        header[4..8].copy_from_slice(&u32::to_le_bytes(1));
        let digest = digest(&header[..28]);
        header[28..].copy_from_slice(&digest.to_le_bytes());
        flash.chip(|chip| chip.bytes[sector * SECTOR..][..32].copy_from_slice(&header));
    }
    let region = Region { start: 0, sectors: 16 };
    let mut store = Store::open(flash, region, || {}).unwrap();
    assert_eq!(store.open_bake(), Some(1), "the headers are ones");
    assert_eq!(store.newest_checkpoint(&mut [0; CHECKPOINT_MAX]), Ok(None));
}

#[test]
fn a_store_whose_bits_rot_opens_and_ends_every_call() {
    // Single bits of a lived-in store flip; nothing is promised of what they carried.
    let mut life = Life::<4>::new(32, 5);
    life.send(&[1; 5000]).unwrap();
    for _ in 0..3 {
        finished(&mut life);
    }
    life.set_settings(b"set").unwrap();
    life.make_room(BAKE).unwrap();
    life.begin(b"open").unwrap();
    life.checkpoint(10, b"checkpoint").unwrap();
    let mut dice = Xoshiro256PlusPlus::seed_from_u64(9);
    for seed in 0..400 {
        let flash = life.flash.fork(seed);
        flash.chip(|chip| {
            chip.erase_forbidden = false;
            for _ in 0..1 << (seed % 8) {
                let bit = dice.next_u64() as usize % (chip.bytes.len() * 8);
                chip.bytes[bit / 8] ^= 1 << (bit % 8);
            }
        });
        let mut store = Store::open(flash, Region { start: 0, sectors: 32 }, || {}).unwrap();
        let bakes: Vec<u32> = store.bakes().map(|bake| bake.id).collect();
        for id in bakes {
            let (lines, _) = read_lines(&mut store, id);
            assert!(lines.len() <= 1);
        }
        let _ = store.settings(&mut [0; SETTINGS_MAX]);
        let _ = store.newest_checkpoint(&mut [0; 96]);
        if store.open_bake().is_some() {
            store.finish(1, b"").unwrap();
        }
        for _ in 0..200 {
            match store.make_room(BAKE).unwrap() {
                Room::Working { .. } => {}
                Room::Made => break,
                refusal => panic!("{refusal:?}"),
            }
        }
        store.begin(0, 0, LONGEST_S, b"").unwrap();
    }
}

#[test]
fn while_a_bake_is_open_nothing_that_erases_is_done() {
    let mut life = begun::<4>(40);
    let open = Err(StoreError::BakeOpen);
    assert_eq!(life.store.set_settings(b"x"), open);
    assert_eq!(life.store.make_room(BAKE), Err(StoreError::BakeOpen));
    assert_eq!(life.store.erase(true), Err(StoreError::BakeOpen));
    assert_eq!(life.store.document_begin(5), open);
    assert_eq!(life.store.document_piece(0, b"x"), open);
    assert_eq!(life.store.document_commit(0), Err(StoreError::BakeOpen));
    assert_eq!(life.store.begin(0, 0, 1, b""), Err(StoreError::BakeOpen));
    // Trips latch without an erase as long as there is any room; the flash here forbids one.
    let latched = (0..400).take_while(|_| life.store.latch(b"trip").is_ok()).count();
    assert!(latched >= 16, "{latched}");
    assert_eq!(life.store.latch(b"last"), Err(StoreError::NoRoom));
    assert_eq!(life.store.latched(), Some(&b"last"[..]), "latched for now all the same");
}

#[test]
fn without_a_bake_nothing_is_written_to_one() {
    let mut life = Life::<4>::new(40, 0);
    assert_eq!(life.store.row(b"x"), Err(StoreError::NoBake));
    assert_eq!(life.store.event(b"x"), Err(StoreError::NoBake));
    assert_eq!(life.store.black_box(&[[0; 16]]), Err(StoreError::NoBake));
    assert_eq!(life.store.checkpoint(1, b"x"), Err(StoreError::NoBake));
    assert_eq!(life.store.finish(1, b"x"), Err(StoreError::NoBake));
    assert_eq!(life.store.begin(0, 0, 900_000, b""), Err(StoreError::NoRoom), "no room was made");
    assert_eq!(life.store.begin(4, 0, 1, b""), Err(StoreError::Unknown), "no such document");
    assert_eq!(life.store.read(1, 0, &mut [0; 4]), Err(StoreError::Unknown));
    assert_eq!(life.store.mark_fetched(1), Err(StoreError::Unknown));
    assert_eq!(life.store.document_read(1, 0, &mut [0; 4]), Err(StoreError::Unknown));
}

#[test]
fn what_is_too_long_is_refused() {
    let mut life = begun::<4>(40);
    assert_eq!(life.store.row(&[0; 17]), Err(StoreError::TooLong));
    assert_eq!(life.store.event(&[0; 17]), Err(StoreError::TooLong));
    assert_eq!(life.store.checkpoint(0, &[0; 97]), Err(StoreError::TooLong));
    assert_eq!(life.store.finish(0, &[0; 97]), Err(StoreError::TooLong));
    assert_eq!(life.store.latch(&[0; 17]), Err(StoreError::TooLong));
    assert!(life.store.latched().is_some(), "latched for now all the same");
    life.finish(0, b"").unwrap();
    assert_eq!(life.store.set_settings(&[0; 257]), Err(StoreError::TooLong));
    assert_eq!(life.store.begin(0, 0, 1, &[0; 97]), Err(StoreError::TooLong));
    assert_eq!(life.store.document_begin(DOCUMENT_MAX + 1), Err(StoreError::TooLong));
}

#[test]
fn no_room_names_the_oldest_bakes_to_fetch_and_they_suffice() {
    let mut life = Life::<4>::new(40, 2);
    while life.make_room(BAKE).unwrap() == Room::Made {
        life.begin(b"").unwrap();
        for second in 0..LONGEST_S {
            life.line(Line::Row(second.to_le_bytes().to_vec())).unwrap();
        }
        life.finish(LONGEST_S, b"").unwrap();
    }
    let longer = Need::Bake { longest_s: 2 * LONGEST_S };
    let Room::Fetch(fetch) = life.make_room(longer).unwrap() else { panic!("there is no room") };
    assert_eq!(fetch, [1, 2], "{} bakes kept", life.known.bakes.len());
    life.mark_fetched(1).unwrap();
    assert_eq!(life.make_room(longer).unwrap(), Room::Fetch([2].into_iter().collect()));
    life.mark_fetched(2).unwrap();
    assert_eq!(life.make_room(longer).unwrap(), Room::Made);
    assert!(life.store.bakes().all(|bake| bake.id > 2));
}

#[test]
fn a_bake_that_never_fits_is_told_the_longest_that_does() {
    let mut life = Life::<4>::new(40, 2);
    life.send(&[1; 9000]).unwrap();
    finished(&mut life);
    let Room::NeverFits { longest_s } = life.make_room(Need::Bake { longest_s: 90_000 }).unwrap()
    else {
        panic!("it cannot fit")
    };
    assert!((1000..9000).contains(&longest_s), "{longest_s}");
    let just = Need::Bake { longest_s: longest_s + 1 };
    assert_eq!(life.make_room(just).unwrap(), Room::NeverFits { longest_s });
    let fits = Need::Bake { longest_s };
    assert_eq!(life.make_room(fits).unwrap(), Room::Fetch([1].into_iter().collect()));
    life.mark_fetched(1).unwrap();
    assert_eq!(life.make_room(fits).unwrap(), Room::Made);
    life.store.begin(0, 0, longest_s, b"").unwrap();
}

#[test]
fn sixty_four_bakes_are_kept_and_no_more() {
    let mut life = Life::<4>::new(200, 2);
    for _ in 0..64 {
        finished(&mut life);
    }
    assert_eq!(life.make_room(BAKE).unwrap(), Room::Fetch([1].into_iter().collect()));
    assert_eq!(life.store.begin(0, 0, 1, b""), Err(StoreError::NoRoom));
    life.reboot(&[]);
    life.settle();
    life.mark_fetched(40).unwrap();
    assert_eq!(finished(&mut life), 65);
    assert!(!life.known.bakes.contains_key(&40));
}

#[test]
fn a_bakes_number_never_comes_back() {
    let mut life = Life::<4>::new(40, 2);
    for _ in 0..3 {
        finished(&mut life);
    }
    life.erase(true).unwrap();
    // Erase what is left of them too: the whole pool is made room.
    let refused = life.make_room(Need::Bake { longest_s: 900_000 }).unwrap();
    let Room::NeverFits { longest_s } = refused else { panic!("it cannot fit") };
    assert_eq!(life.make_room(Need::Bake { longest_s }).unwrap(), Room::Made);
    life.reboot(&[]);
    life.settle();
    assert_eq!(finished(&mut life), 4);
}

#[test]
fn rows_that_fill_the_room_leave_it_for_the_black_box() {
    let mut life = begun::<4>(40);
    let rows = (0..).take_while(|_| life.store.row(&[1; 16]).is_ok()).count();
    assert!(rows >= (LONGEST_S + EVENTS_MAX) as usize, "{rows}");
    assert_eq!(life.store.row(&[1; 16]), Err(StoreError::NoRoom));
    let events = (0..).take_while(|_| life.store.event(&[2; 16]).is_ok()).count();
    assert!(events >= 1, "events may go on");
    let (mut rest, mut calls) = (vec![[3; 16]; BLACK_BOX_ROWS as usize], 0);
    while !rest.is_empty() {
        rest.drain(..life.store.black_box(&rest).unwrap());
        calls += 1;
    }
    assert!(calls <= 53, "{calls} pages");
    life.store.finish(LONGEST_S, b"full").unwrap();
    let (lines, gaps) = read_lines(&mut life.store, 1);
    assert_eq!((lines.len(), gaps), (rows + events + BLACK_BOX_ROWS as usize, 0));
}

#[test]
fn a_place_that_does_not_keep_is_passed_over() {
    let mut life = Life::<4>::new(40, 3);
    life.set_settings(b"before").unwrap();
    assert_eq!(life.make_room(BAKE).unwrap(), Room::Made);
    life.begin(b"begun").unwrap();
    let weak = |life: &Life<4>| life.flash.chip(|chip| chip.weak_bit = Some(0x10));
    weak(&life);
    life.line(Line::Row(vec![1; 16])).unwrap();
    weak(&life);
    life.line(Line::Row(vec![2; 16])).unwrap();
    weak(&life);
    life.checkpoint(7, b"kept").unwrap();
    weak(&life);
    life.black_box(&[[1; 16], [2; 16], [3; 16]]).unwrap();
    weak(&life);
    life.latch(b"trip").unwrap();
    weak(&life);
    life.finish(8, b"end").unwrap();
    let (lines, gaps) = read_lines(&mut life.store, 1);
    assert_eq!(lines.len(), 5);
    assert!((2..=4).contains(&gaps), "{gaps}: the rows' header, row or page each once");
    weak(&life);
    life.set_settings(b"kept").unwrap();
    weak(&life);
    life.acknowledge().unwrap();
    let mut out = [0; SETTINGS_MAX];
    assert_eq!(life.store.settings(&mut out), Ok(Some(4)));
    assert_eq!(life.store.latched(), None);
}

#[test]
fn a_latch_torn_at_all_is_a_trip() {
    for tear in 0..200 {
        let mut life = Life::<4>::new(40, tear);
        life.latch(b"before").unwrap();
        life.acknowledge().unwrap();
        let before = life.flash.chip(|chip| chip.bytes.clone());
        life.flash.cut_after(Some(0));
        life.latch(b"torn away").unwrap_err();
        life.reboot(&[]);
        let touched = life.flash.chip(|chip| chip.bytes != before);
        assert_eq!(life.store.latched().is_some(), touched, "tear {tear}");
    }
}

#[test]
fn a_bake_reads_the_same_from_every_offset() {
    let mut life = begun::<4>(40);
    for n in 0..230_u8 {
        life.line(if n % 9 == 0 { Line::Event(vec![n]) } else { Line::Row(vec![n; 16]) }).unwrap();
    }
    life.finish(230, b"").unwrap();
    let mut whole = vec![0; 230 * 17 + 1];
    let length = life.store.read(1, 0, &mut whole).unwrap();
    assert_eq!(length, 230 * 17);
    for offset in 0..=length + 20 {
        let mut piece = [0; 40];
        let read = life.store.read(1, offset as u32, &mut piece).unwrap();
        let expected = whole.get(offset..(offset + 40).min(length)).unwrap_or_default();
        assert_eq!(piece[..read], *expected, "from {offset}");
    }
    assert_eq!(life.store.read(1, u32::MAX, &mut [0; 4]), Ok(0));
}

#[test]
fn opening_pauses_before_every_sector_and_every_erase() {
    let life = Life::<4>::new(40, 1);
    let mut pauses = 0;
    Store::open(life.flash, Region { start: 0, sectors: 40 }, || pauses += 1).unwrap();
    assert!(pauses >= 34, "{pauses}");
}
