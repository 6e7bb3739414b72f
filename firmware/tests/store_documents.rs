//! Documents: whole or not at all, and there as long as a bake was made from them.

mod flash;
mod life;

use life::{LONGEST_S, Life, Line, digest};
use truesoak_firmware::store::{Need, Room, StoreError};

fn finished(life: &mut Life) -> u32 {
    assert_eq!(life.make_room(Need::Bake { longest_s: LONGEST_S }).unwrap(), Room::Made);
    let id = life.begin(b"").unwrap();
    life.line(Line::Row(vec![1; 16])).unwrap();
    life.finish(1, b"").unwrap();
    id
}

#[test]
fn a_document_arrives_in_order_and_whole_or_not_at_all() {
    let mut life = Life::<4>::new(40, 2);
    let bytes: Vec<u8> = (0..5000_u32).map(|n| (n * 7) as u8).collect();
    let store = &mut life.store;
    while store.make_room(Need::Document { length: 5000 }).unwrap() != Room::Made {}
    assert_eq!(store.document_piece(0, b"x"), Err(StoreError::Unknown));
    store.document_begin(5000).unwrap();
    store.document_piece(0, &bytes[..1000]).unwrap();
    assert_eq!(
        store.document_piece(1001, &bytes[1001..1100]),
        Err(StoreError::OutOfOrder { expected: 1000 })
    );
    store.document_piece(900, &bytes[900..1000]).expect("sent again");
    store.document_piece(1000, &bytes[1000..]).unwrap();
    assert_eq!(store.document_piece(5000, b"x"), Err(StoreError::TooLong));
    assert_eq!(store.document(), None);
    let id = store.document_commit(digest(&bytes)).unwrap();
    let mut back = [0; 64];
    for offset in (0..5000).step_by(61) {
        let read = store.document_read(id, offset as u32, &mut back).unwrap();
        assert_eq!(back[..read], bytes[offset..(offset + 64).min(5000)]);
    }
    assert_eq!(store.document_read(id, 5000, &mut back), Ok(0));

    for (length, told) in [(10, digest(&bytes[..10]) ^ 1), (11, digest(&bytes[..10]))] {
        store.document_begin(length).unwrap();
        store.document_piece(0, &bytes[..10]).unwrap();
        assert_eq!(store.document_commit(told), Err(StoreError::DigestWrong));
        assert_eq!(store.document_commit(told), Err(StoreError::Unknown), "given up");
    }
    assert_eq!(store.document().map(|document| document.id), Some(id));
}

#[test]
fn a_document_stays_as_long_as_a_bake_refers_to_it() {
    let mut life = Life::<4>::new(40, 2);
    life.send(b"the first").unwrap();
    let bake = finished(&mut life);
    for n in 0..30_u8 {
        assert_eq!(life.send(&[n; 4000]).unwrap(), Room::Made);
    }
    let first = life.known.bakes[&bake].document;
    let mut back = [0; 20];
    assert_eq!(life.store.document_read(first, 0, &mut back), Ok(9));
    assert_eq!(&back[..9], b"the first");
    life.mark_fetched(bake).unwrap();
    life.erase(false).unwrap();
    let all = life.store.budget().longest_bake_s();
    assert_eq!(life.make_room(Need::Bake { longest_s: all }).unwrap(), Room::Made);
    assert_eq!(life.store.document_read(first, 0, &mut back), Err(StoreError::Unknown));
    life.reboot(&[]);
    life.settle();
}

#[test]
fn a_document_whose_bits_rot_no_longer_holds() {
    let mut life = Life::<4>::new(40, 2);
    life.send(&[0xA0; 5000]).unwrap();
    let id = life.store.document().unwrap().id;
    assert!(life.store.document_holds(id).unwrap());
    life.flash.chip(|chip| {
        let at = chip.bytes.iter().rposition(|byte| *byte == 0xA0).unwrap();
        chip.bytes[at] ^= 0x20;
    });
    assert!(!life.store.document_holds(id).unwrap());
}
