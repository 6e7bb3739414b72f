//! What the board's region comes to: hours stored, the longest bake, how long the flash lasts.
//! The figures of `store`'s budget and of DEVELOPERS.md, and the same counted on the chip.

mod flash;
mod life;

use flash::{Flash, SECTOR};
use life::{LONGEST_S, Life, Line};
use truesoak_firmware::store::{Budget, ERASE_CYCLES, Need, Region, Room, Store};

/// 1.5 MiB of the RP2040 board's 2 MiB.
const BOARD_SECTORS: u16 = 384;
/// Bytes one write programs on that board.
const BOARD_WRITE: usize = 4;
const HOUR_S: u32 = 3600;

#[test]
fn the_boards_region_keeps_twenty_hours_and_bakes_thirteen_at_a_stretch() {
    let budget = Budget::of(BOARD_SECTORS, BOARD_WRITE);
    assert_eq!((budget.rows_per_sector, budget.checkpoints_per_sector), (203, 39));
    let hours = |seconds: u32| f64::from(seconds) / f64::from(HOUR_S);
    let one = hours(budget.seconds_stored(1));
    let seven = hours(budget.seconds_stored(7));
    let longest = hours(budget.longest_bake_s());
    println!("stored: one bake {one:.1} h, seven {seven:.1} h; longest bake {longest:.1} h");
    assert!(one >= 20.0 && seven >= 18.0 && longest >= 13.0);
    let page = include_str!("../../DEVELOPERS.md");
    for told in [
        format!("| {one:.1} h in one bake, {seven:.1} h in seven |"),
        format!("| {longest:.1} h; beside 8 h that nobody fetched, 7 h 45 min |"),
    ] {
        assert!(page.contains(&told), "{told}");
    }
    // 8 h that nobody has fetched, and beside them room for 7 h 45 min.
    let document = Budget::sectors_for_document(28 * 1024);
    let both =
        budget.sectors_kept(8 * HOUR_S) + budget.sectors_for_bake(7 * HOUR_S + 45 * 60) + document;
    assert!(both <= budget.pool_sectors, "{both} of {}", budget.pool_sectors);
}

#[test]
fn the_boards_flash_lasts_a_hundred_and_fifty_thousand_bakes_of_eight_hours() {
    // Serial NOR flash stands 100,000 erases of a sector (W25Q16JV data sheet, `from memory`).
    assert_eq!(ERASE_CYCLES, 100_000);
    let budget = Budget::of(BOARD_SECTORS, BOARD_WRITE);
    let (three, eight) = (budget.bakes_in_a_life(3 * HOUR_S), budget.bakes_in_a_life(8 * HOUR_S));
    println!("bakes in a life: {three} of 3 h, {eight} of 8 h");
    assert!(three >= 350_000 && eight >= 150_000);
    let told = format!("| {},000 bakes of 8 h at 100,000 erases", eight / 1000);
    assert!(include_str!("../../DEVELOPERS.md").contains(&told), "{told}");
    // The journal takes two cells of 12 bytes an erase, 338 a half: each half is erased once for
    // 338 erases in the pool, less often than the pool's sectors are at 378 sectors.
    let per_half = f64::from((4096 - 32) / 12);
    assert!(per_half >= 0.85 * f64::from(budget.pool_sectors));
}

#[test]
fn the_longest_bake_that_is_promised_fits_with_all_it_writes() {
    let flash = Flash::<4>::new(usize::from(BOARD_SECTORS), 0);
    let region = Region { start: 0, sectors: BOARD_SECTORS };
    let mut store = Store::open(flash.clone(), region, || {}).unwrap();
    let longest_s = store.budget().longest_bake_s();
    let need = Need::Bake { longest_s };
    while store.make_room(need).unwrap() != Room::Made {}
    store.begin(0, 0, longest_s, b"").unwrap();
    flash.chip(|chip| chip.erase_forbidden = true);
    for second in 0..longest_s {
        store.row(&[second as u8; 16]).unwrap();
        if second % 10 == 0 {
            store.checkpoint(second, &[second as u8; 96]).unwrap();
        }
        if second < 400 {
            store.event(&[1; 16]).unwrap();
        }
    }
    let mut black_box = vec![[2; 16]; 600];
    while !black_box.is_empty() {
        black_box.drain(..store.black_box(&black_box).unwrap());
    }
    store.finish(longest_s, b"done").unwrap();
    assert_eq!(store.bakes().next().unwrap().seconds, longest_s);
}

#[test]
fn sectors_wear_alike_and_no_faster_than_the_budget_says() {
    const SECTORS: u16 = 40;
    const BAKES: u32 = 400;
    let mut life = Life::<4>::new(SECTORS, 0);
    for bake in 0..BAKES {
        assert_eq!(life.send(&[bake as u8; 6000]).unwrap(), Room::Made);
        assert_eq!(life.make_room(Need::Bake { longest_s: LONGEST_S }).unwrap(), Room::Made);
        let id = life.begin(b"").unwrap();
        for second in 0..LONGEST_S {
            life.line(Line::Row(vec![1; 16])).unwrap();
            if second % 10 == 0 {
                life.checkpoint(second, b"checkpoint").unwrap();
            }
        }
        life.finish(LONGEST_S, b"").unwrap();
        life.mark_fetched(id).unwrap();
        if bake % 7 == 0 {
            life.reboot(&[]);
        }
    }
    let erases = life.flash.chip(|chip| chip.erases.clone());
    let pool = &erases[6..];
    let (least, most) = (pool.iter().min().unwrap(), pool.iter().max().unwrap());
    println!("erases after {BAKES} bakes: pool {least}..{most}, twins {:?}", &erases[..6]);
    assert!(f64::from(*most) <= 1.3 * f64::from(*least));
    let budget = Budget::of(SECTORS, 4);
    let said =
        u64::from(BAKES) * u64::from(ERASE_CYCLES) / u64::from(budget.bakes_in_a_life(LONGEST_S));
    assert!(u64::from(*most) <= said, "{most} erases, the budget says {said}");
    assert!(erases[..2].iter().all(|journal| journal < least), "the journal wears less");
    assert_eq!(SECTOR, 4096);
}

#[test]
fn the_store_takes_less_than_three_kibibytes_of_memory() {
    let size = size_of::<Store<Flash<4>>>();
    println!("size of the store: {size} bytes");
    assert!(size <= 3 * 1024);
}
