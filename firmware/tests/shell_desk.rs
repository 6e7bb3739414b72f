//! What a computer may ask of a board, over its bytes.
//!
//! Goal: documents arrive whole or not at all and are judged before they count; what leads to heat
//! waits for GO; a running bake is not touched; what is stored comes back. Method: a mock board and a
//! computer that speaks to its port.

mod bench;

use bench::{AIR, Bench, CHECKED, SECTORS, SETTINGS, commissioned, compiled, hand, ramp};
use truesoak_board_mock::computer::{Heard, document};
use truesoak_board_mock::outside::Outside;
use truesoak_board_mock::{Flash, World};
use truesoak_core::bake::{Step, Wait};
use truesoak_core::command;
use truesoak_core::event::{Ending, Event};
use truesoak_core::sequence::Mode;
use truesoak_core::units::{Celsius, Reading};
use truesoak_core::wire::compiled::{COMPILED_BYTES_MAX, Fault};
use truesoak_core::wire::messages::{
    Capabilities, CheckState, Readiness, Reply, Request, Said, SensorState, Status,
};
use truesoak_core::wire::refusal::{BathFault, Obstacle, Refusal};
use truesoak_core::wire::settings::BoardSettings;
use truesoak_core::wire::stored::Head;
use truesoak_core::wire::upload::{Outline, UploadFault};
use truesoak_firmware::{Identity, Reset};

const START: Request<'static> = Request::Start { at_the_oven: false };
const DONE: Heard = Heard::Other(Reply::Done);
const BAKE_RUNS: Refusal = Refusal::Controller(command::Refusal::BakeRuns);

fn refused(refusal: Refusal) -> Heard {
    Heard::Other(Reply::Refused(refusal))
}

fn status(bench: &mut Bench) -> Status {
    match bench.ask(&Request::Status) {
        Heard::Other(Reply::Status(status)) => status,
        other => panic!("{other:?}"),
    }
}

fn readiness(bench: &mut Bench) -> Readiness {
    match bench.ask(&Request::Readiness) {
        Heard::Other(Reply::Readiness(readiness)) => readiness,
        other => panic!("{other:?}"),
    }
}

#[test]
fn a_board_says_who_it_is_and_what_its_sensor_reads_at_rest() {
    let mut bench = Bench::new();
    bench.world.change(|outside| outside.sensors[0].celsius = 21.5);
    bench.ticks(30);
    let Heard::Other(Reply::Hello(hello)) = bench.ask(&Request::Hello { unix_s: None }) else {
        panic!("no hello")
    };
    assert_eq!((hello.product, hello.capabilities), ("truesoak", Capabilities::default()));
    assert_eq!(status(&mut bench).reading, Reading::from_celsius(Celsius(21.5)));
    assert_eq!(bench.ask(&Request::Settings), Heard::Other(Reply::Settings(SETTINGS)));
}

#[test]
fn a_document_comes_back_as_it_was_sent_and_stays_over_a_lost_supply() {
    let mut bench = Bench::loaded(&[ramp(150.0)]);
    for _ in 0..2 {
        let Heard::Other(Reply::Document(outline)) = bench.ask(&Request::Document) else {
            panic!("no document")
        };
        let Heard::Piece(0, bytes) = bench.ask(&Request::ReadBack { offset: 0 }) else {
            panic!("nothing")
        };
        assert!(bytes.starts_with(b"bakeovenload"));
        let past = bench.ask(&Request::ReadBack { offset: outline.bytes() });
        assert_eq!(past, refused(Refusal::PastTheEnd));
        bench.restart(Reset::Supply).ticks(60);
    }
    assert_eq!(bench.ask(&START), Heard::Other(Reply::AwaitsGo(60)));
}

#[test]
fn what_is_no_bake_for_this_oven_is_refused_and_the_old_one_stays() {
    let mut bench = Bench::loaded(&[ramp(150.0)]);
    let Heard::Other(Reply::Document(before)) = bench.ask(&Request::Document) else { panic!() };
    let mut hot = compiled(&[ramp(150.0)]);
    hot.bake.limits.air_max = Celsius(231.0);
    assert_eq!(bench.send(&hot), refused(Refusal::AboveOven));
    let mut bytes = [0; COMPILED_BYTES_MAX];
    let len = compiled(&[ramp(120.0)]).encode(&mut bytes).expect("it fits");
    bytes[len / 2] ^= 1;
    let (outline, sent) = document("bake", "oven", "load", &bytes[..len]);
    let Bench { world, shell, computer, .. } = &mut bench;
    let answer = computer.upload(outline, &sent, || {
        world.change(|outside| {
            outside.ticks += 1;
            outside.independent_ticks += 1;
        });
        shell.tick();
    });
    assert_eq!(answer, refused(Refusal::Document(Fault::Damaged)));
    assert_eq!(bench.ask(&Request::Commit), refused(Refusal::Upload(UploadFault::NotBegun)));
    let wrong = Outline { digest: 7, ..before };
    assert_eq!(bench.ask(&Request::Begin(wrong)), DONE);
    assert_eq!(bench.ask(&Request::Commit), refused(Refusal::Upload(UploadFault::Incomplete)));
    let now = bench.ask(&Request::Document);
    assert_eq!(now, Heard::Other(Reply::Document(before)));
    bench.ticks(60);
    assert_eq!(bench.ask(&START), Heard::Other(Reply::AwaitsGo(60)));
}

#[test]
fn a_start_from_the_computer_waits_for_go_and_a_stop_for_nobody() {
    let mut bench = Bench::loaded(&[hand::soak()]);
    assert_eq!(bench.ask(&START), Heard::Other(Reply::AwaitsGo(60)));
    bench.ticks(590);
    assert_eq!(bench.mode(), Mode::Idle);
    bench.press_go().ticks(30);
    assert_eq!(bench.mode(), Mode::Running);
    assert!(bench.world.look(Outside::heats));
    assert_eq!(bench.ask(&START), refused(BAKE_RUNS));
    assert_eq!(bench.ask(&Request::Stop), DONE);
    bench.ticks(5);
    assert_eq!(bench.mode(), Mode::Done(Ending::Stopped));
    let at_the_oven = Request::Answer { said: Said::Go, at_the_oven: true };
    assert_eq!(bench.ask(&at_the_oven), refused(Refusal::NotVirtual));
}

#[test]
fn a_virtual_board_takes_the_computer_for_go() {
    let identity = Identity { is_virtual: true, ..Identity::default() };
    let flash = Bench::loaded(&[hand::soak()]).flash;
    let mut bench = Bench::with(World::default(), flash, identity);
    bench.ticks(60);
    assert_eq!(bench.ask(&Request::Start { at_the_oven: true }), DONE);
    bench.ticks(2);
    assert_eq!(bench.mode(), Mode::Running);
}

#[test]
fn a_running_bake_is_not_touched_by_documents_erasures_or_settings() {
    let mut bench = Bench::heating();
    let Heard::Other(Reply::Document(outline)) = bench.ask(&Request::Document) else { panic!() };
    let requests = [
        Request::Begin(outline),
        Request::Commit,
        Request::SetSettings(SETTINGS),
        Request::Bath { sensor: 0, is: Reading(0) },
        Request::Erase { bake: None, not_fetched: true },
    ];
    for request in requests {
        assert_eq!(bench.ask(&request), refused(BAKE_RUNS));
    }
    assert_eq!(bench.ask(&Request::MarkFetched { bake: 1 }), refused(BAKE_RUNS));
    assert_eq!(bench.mode(), Mode::Running);
    assert_eq!(status(&mut bench).step, 1);
    bench.flash.chip(|chip| chip.erase_forbidden = true);
    bench.ticks(300);
}

#[test]
fn a_flood_of_requests_or_noise_slips_no_tick_and_changes_no_output() {
    let mut calm = Bench::heating();
    let mut loud = Bench::heating();
    let mut noise = 1_u32;
    for _ in 0..600 {
        loud.world.change(|outside| {
            outside.to_board.clear();
            for _ in 0..3000 {
                noise = noise.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                outside.to_board.push_back((noise >> 24) as u8);
            }
        });
        for _ in 0..20 {
            let _ = loud.computer.send(&Request::Fetch { bake: 1, offset: 0 });
        }
        calm.ticks(1);
        loud.ticks(1);
        loud.shell.serve();
        loud.world.change(|outside| outside.from_board.clear());
        let outputs = |bench: &Bench| bench.world.look(|of| (of.drive, of.permit));
        assert_eq!(outputs(&calm), outputs(&loud));
        assert_eq!(loud.unfed(), 0);
    }
}

#[test]
fn stored_bakes_are_listed_fetched_marked_and_erased() {
    let mut bench = Bench::loaded(&[hand::soak()]);
    let told = Request::Hello { unix_s: Some(1_760_000_000) };
    bench.ask(&told);
    for _ in 0..2 {
        bench.press_go().ticks(150);
        bench.hold_stop(5).ticks(150);
    }
    let Heard::Other(Reply::Bakes(bakes)) = bench.ask(&Request::Bakes { after: 0 }) else {
        panic!("no list")
    };
    let numbers: Vec<u32> = bakes.listed.iter().map(|bake| bake.number).collect();
    assert_eq!((numbers.as_slice(), bakes.more), (&[1, 2][..], false));
    let first = bakes.listed[0];
    assert!(first.finished && !first.fetched);
    assert!(first.started_unix_s.is_some_and(|at| (1_760_000_000..1_760_000_100).contains(&at)));
    let bytes = bench.fetch(1);
    assert_eq!(bytes.len(), first.bytes as usize);
    let head = Head::decode(bytes.first_chunk().unwrap()).unwrap();
    assert_eq!(head.ended, Some((Ending::Stopped, false)));
    assert_eq!(head.seconds, first.seconds);

    let erase = |bake, not_fetched| Request::Erase { bake, not_fetched };
    assert_eq!(bench.ask(&erase(Some(1), false)), refused(Refusal::NotFetched));
    assert_eq!(bench.ask(&erase(Some(9), true)), refused(Refusal::NoSuchBake));
    assert_eq!(bench.ask(&Request::MarkFetched { bake: 1 }), DONE);
    assert_eq!(bench.ask(&erase(Some(1), false)), DONE);
    bench.ticks(60);
    assert_eq!(bench.ask(&Request::Fetch { bake: 1, offset: 0 }), refused(Refusal::NoSuchBake));
    assert_eq!(bench.ask(&erase(None, false)), DONE);
    bench.ticks(60);
    assert!(matches!(bench.ask(&Request::Fetch { bake: 2, offset: 0 }), Heard::Piece(0, _)));
    assert_eq!(bench.ask(&erase(None, true)), DONE);
    bench.ticks(60);
    assert_eq!(bench.ask(&Request::Fetch { bake: 2, offset: 0 }), refused(Refusal::NoSuchBake));
}

#[test]
fn a_store_full_of_what_nobody_fetched_forbids_a_start_until_it_was() {
    let wait = Step::Wait(Wait { for_s: 3600, parts_stay: true });
    let mut bench = Bench::loaded(&[wait]);
    let mut bakes = 0;
    while bench.ask(&START) != refused(Refusal::NoRoom) {
        bench.press_go().ticks(30);
        assert_eq!(bench.mode(), Mode::Running, "after {bakes} bakes");
        bench.ticks(4000).hold_stop(5).ticks(100);
        bakes += 1;
        assert!(bakes < 60);
    }
    let fetched = (1..=bakes).map(|bake| bench.ask(&Request::MarkFetched { bake }));
    assert!(fetched.collect::<Vec<_>>().iter().all(|done| *done == DONE));
    bench.ticks(200);
    assert_eq!(bench.ask(&START), Heard::Other(Reply::AwaitsGo(60)));
}

#[test]
fn settings_change_only_with_go_held_at_boot_and_never_for_good_by_half() {
    let mut bench = Bench::new();
    bench.ticks(40);
    let hotter = BoardSettings { air_max_c: 250, ..SETTINGS };
    let set = Request::SetSettings(hotter);
    assert_eq!(bench.ask(&set), refused(Refusal::NotCommissioning));
    commission(&mut bench);
    assert_eq!(bench.ask(&set), DONE);
    assert_eq!(bench.ask(&Request::Settings), Heard::Other(Reply::Settings(hotter)));
    bench.restart(Reset::Supply).ticks(40);
    assert_eq!(bench.ask(&Request::Settings), Heard::Other(Reply::Settings(hotter)));
    assert_eq!(bench.ask(&set), refused(Refusal::NotCommissioning));
}

#[test]
fn go_held_at_boot_opens_nothing_after_a_reset_or_in_a_bake() {
    let set = Request::SetSettings(BoardSettings { air_max_c: 250, ..SETTINGS });
    let mut bench = Bench::new();
    switch_on_with_go(&mut bench, Reset::Watchdog);
    assert_eq!(bench.ask(&set), refused(Refusal::NotCommissioning));
    let mut bench = Bench::heating();
    bench.ticks(120);
    commission(&mut bench);
    assert_eq!(bench.ask(&set), refused(BAKE_RUNS));
    assert_eq!(bench.ask(&Request::Stop), DONE);
    bench.ticks(100);
    assert_eq!(bench.ask(&set), refused(Refusal::NotCommissioning));
}

/// Switched on with GO held, and let go.
fn commission(bench: &mut Bench) {
    switch_on_with_go(bench, Reset::Supply);
}

fn switch_on_with_go(bench: &mut Bench, reset: Reset) {
    bench.world.change(|outside| outside.go = true);
    bench.restart(reset).ticks(30);
    bench.world.change(|outside| outside.go = false);
    bench.ticks(5);
}

#[test]
fn a_bare_board_is_commissioned_in_two_baths_and_reads_right_from_then_on() {
    let mut bench = Bench::of(Flash::new(SECTORS, 5));
    commission(&mut bench);
    assert_eq!(bench.ask(&Request::Settings), refused(Refusal::NotReady(Obstacle::Settings)));
    assert_eq!(bench.ask(&Request::SetSettings(SETTINGS)), DONE);
    assert_eq!(bench.send(&compiled(&[ramp(150.0)])), DONE);
    bench.ticks(40);
    let start = bench.ask(&START);
    assert_eq!(start, refused(Refusal::NotReady(Obstacle::TwoPoints)));
    assert_eq!(readiness(&mut bench).obstacle, Some(Obstacle::TwoPoints));
    let bath =
        |is: f32| Request::Bath { sensor: 0, is: Reading::from_celsius(Celsius(is)).unwrap() };
    bench.world.change(|outside| outside.sensors[0].celsius = 1.5);
    assert_eq!(bench.ask(&bath(0.0)), refused(Refusal::Bath(BathFault::Unsteady)));
    bench.ticks(320);
    assert_eq!(bench.ask(&bath(0.0)), DONE);
    let iced = SensorState { reading: Some(Reading(192)), check: CheckState::Ice };
    assert_eq!(readiness(&mut bench).sensors, [Some(iced), None, None]);
    let second = Request::Bath { sensor: 1, is: Reading(0) };
    assert_eq!(bench.ask(&second), refused(Refusal::Bath(BathFault::NotFitted)));
    bench.world.change(|outside| outside.sensors[0].celsius = 100.0);
    bench.ticks(320);
    let Heard::Other(Reply::Settings(settings)) = bench.ask(&bath(99.0)) else {
        panic!("no correction")
    };
    assert_eq!(settings.air.correction_steps, -160);
    bench.ticks(60);
    let checked =
        SensorState { reading: Some(Reading(100 * 128 - 160)), check: CheckState::Checked };
    let ready = Readiness { obstacle: None, sensors: [Some(checked), None, None] };
    assert_eq!(readiness(&mut bench), ready);
    assert_eq!(bench.ask(&START), Heard::Other(Reply::AwaitsGo(60)));
    assert_eq!(status(&mut bench).reading, Some(Reading(100 * 128 - 160)));
    bench.restart(Reset::Supply).ticks(60);
    assert_eq!(bench.ask(&START), Heard::Other(Reply::AwaitsGo(60)), "and stays checked");
}

#[test]
fn sensors_that_share_the_baths_are_each_corrected_by_their_own() {
    let mut bench = Bench::of(Flash::new(SECTORS, 5));
    commission(&mut bench);
    let two = BoardSettings { part_probe: Some(AIR), ..SETTINGS };
    assert_eq!(bench.ask(&Request::SetSettings(two)), DONE);
    for is in [0.0, 99.0] {
        bench.world.change(|outside| {
            outside.sensors[0].celsius = is + 0.5;
            outside.sensors[2].celsius = is - 1.0;
        });
        bench.ticks(320);
        let is = Reading::from_celsius(Celsius(is as f32)).unwrap();
        bench.ask(&Request::Bath { sensor: 0, is });
        bench.ask(&Request::Bath { sensor: 2, is });
    }
    let Heard::Other(Reply::Settings(settings)) = bench.ask(&Request::Settings) else {
        panic!("no settings")
    };
    let steps = [settings.air, settings.part_probe.unwrap()].map(|of| of.correction_steps);
    assert_eq!(steps, [-64, 128]);
    let states = readiness(&mut bench).sensors.map(|of| of.map(|of| of.check));
    assert_eq!(states, [Some(CheckState::Checked), None, Some(CheckState::Checked)]);
}

#[test]
fn commissioning_starts_the_step_test_by_go_and_not_the_bake_that_was_sent() {
    let mut bench = Bench::loaded(&[hand::soak()]);
    commission(&mut bench);
    assert_eq!(bench.mode(), Mode::Idle, "letting go of the GO that opened it starts nothing");
    bench.ticks(100).press_go().ticks(30);
    assert_eq!(bench.mode(), Mode::Running);
    assert!(bench.world.look(Outside::heats));
    bench.world.change(|outside| outside.sensors[0].celsius = 59.5);
    let steps = &bench.shell.controller().expect("one").bake().steps;
    assert_eq!((steps.len(), &steps[0]), (2, &ramp(60.0)));
    bench.ticks(3).restart(Reset::Supply).ticks(60);
    assert_eq!(bench.mode(), Mode::Running, "it goes on, off and asking");
    let steps = &bench.shell.controller().expect("one").bake().steps;
    assert_eq!(steps.len(), 2, "as the same bake");
}

#[test]
fn an_oven_limit_that_was_lowered_takes_the_bake_away() {
    let mut bench = Bench::loaded(&[hand::soak()]);
    commission(&mut bench);
    let lower = BoardSettings { air_max_c: 200, ..SETTINGS };
    assert_eq!(bench.ask(&Request::SetSettings(lower)), DONE);
    bench.ticks(40);
    assert_eq!(bench.ask(&START), refused(Refusal::AboveOven));
}

#[test]
fn a_computer_that_watches_gets_every_second_and_one_that_reads_nothing_changes_nothing() {
    let mut bench = Bench::loaded(&[hand::soak()]);
    assert_eq!(bench.ask(&Request::Watch(true)), DONE);
    bench.press_go();
    bench.computer.hear();
    bench.ticks(100);
    let rows = bench.computer.hear();
    let rows = rows.iter().filter(|(_, heard)| matches!(heard, Heard::Other(Reply::Row(_))));
    assert_eq!(rows.count(), 10);
    assert!(bench.heard.contains(&Event::Started));
}

#[test]
fn a_second_sensor_is_fitted_while_commissioning_and_read_from_then_on() {
    let mut bench = Bench::of(commissioned(SETTINGS, CHECKED));
    bench.world.change(|outside| outside.sensors[1].open = true);
    commission(&mut bench);
    let two = BoardSettings { air_b: Some(AIR), ..SETTINGS };
    assert_eq!(bench.ask(&Request::SetSettings(two)), DONE);
    assert_eq!(bench.send(&compiled(&[ramp(150.0)])), DONE);
    bench.ticks(60);
    assert_eq!(bench.ask(&START), refused(Refusal::NotReady(Obstacle::Sensor)));
}
