//! The watched bake's screens, as a person at a terminal of 80 × 24 and of 160 × 50 sees them.
//!
//! Goal: every sentence of the contract is on the screen, whole, at 80 columns, without any colour.
//! Method: a made-up bake drawn on a terminal that is only memory, compared with what was looked at
//! and kept (`tests/snapshots/watch-*.txt`). `TRUESOAK_SNAPSHOTS=write` writes them anew: look at
//! them before they are kept.

mod report_support;

use jiff::civil::date;
use ratatui::Terminal;
use ratatui::backend::TestBackend;
use ratatui::style::{Color, Modifier};
use report_support::bake_log_of;
use std::path::Path;
use std::sync::Arc;
use truesoak::log::Row;
use truesoak::report::text::Paint;
use truesoak::report::units::Units;
use truesoak::watch::{Baked, Foresight, Plain, View, Words, draw};
use truesoak_core::command::Command;
use truesoak_core::event::{Ending, Event};
use truesoak_core::guard::TripKind;
use truesoak_core::io::Question;
use truesoak_core::record::Phase;
use truesoak_core::units::Celsius;
use truesoak_core::wire::messages::Status;
use truesoak_core::wire::row::Sixteenths;
use truesoak_tests::setup;

/// Sizes that are looked at.
const SIZES: [(u16, u16); 2] = [(80, 24), (160, 50)];

fn baked() -> Baked {
    let setup = setup("whole-day", &[]);
    Baked::sent(&setup.bake.bake, Some(&setup))
}

fn event(rows: &mut Vec<Row>, second: u32, event: Event) {
    let at = rows.iter().position(|row| row.tick > second * 10).unwrap_or(rows.len());
    let before = rows.get(at.saturating_sub(1)).cloned().unwrap_or_default();
    rows.insert(at, Row { tick: second * 10, event: event.to_string(), ..before });
}

/// The made-up bake's rows, with the events of one.
fn rows(setpoint_c: f64) -> Vec<Row> {
    let mut rows: Vec<Row> =
        bake_log_of(setpoint_c).rows.into_iter().filter(|row| row.event.is_empty()).collect();
    for (second, what) in [
        (0, Event::Started),
        (0, Event::StepBegan(0)),
        (1_500, Event::StepBegan(1)),
        (1_500, Event::Asked(Question::LoadIn)),
        (1_800, Event::DoorOpened),
        (1_800, Event::LoadOpened),
        (1_900, Event::DoorClosed),
        (1_900, Event::LoadClosed),
        (1_905, Event::StepBegan(2)),
        (2_400, Event::Recovered),
    ] {
        event(&mut rows, second, what);
    }
    rows
}

fn status_at(row: &Row) -> Status {
    Status {
        phase: row.phase,
        step: row.step,
        second: row.tick / 10,
        reading: row.air,
        setpoint: row.setpoint_c.map(|at| Sixteenths::nearest(Celsius(at as f32))),
        coldest: row.coldest_c.map(|at| Celsius(at as f32)),
        hottest: row.hottest_c.map(|at| Celsius(at as f32)),
        credit_s: row.credit_s,
        for_s: if row.step == 3 { 3_600 } else { 0 },
        on_ticks: row.on_ticks,
        permit: row.permit,
        door_open: row.door_open,
        asks: None,
        trip: None,
        awaits_go: None,
        ended: None,
        rejected: 0,
    }
}

/// The bake as it stands at a second.
fn view_at(second: u32) -> View {
    let nominal = rows(163.0);
    let others = [rows(160.0), rows(162.0), rows(164.0), rows(166.0)];
    let slices: Vec<&[Row]> = others.iter().map(Vec::as_slice).collect();
    let foresight = Foresight::of_rehearsals(&nominal, &slices);
    let mut so_far = rows(162.5);
    so_far.retain(|row| row.tick <= second * 10);
    let last = so_far.iter().rev().find(|row| row.event.is_empty()).expect("a second").clone();
    View {
        status: Some(status_at(&last)),
        baked: Some(baked()),
        rows: so_far,
        foresight: Some(Arc::new(foresight)),
        is_virtual: false,
        lost: None,
        note: None,
        units: Units::Fahrenheit,
        now: Some(date(2026, 3, 2).at(13, 50, 0, 0)),
    }
}

fn screen(view: &View, (width, height): (u16, u16), paint: Paint) -> Terminal<TestBackend> {
    let mut terminal = Terminal::new(TestBackend::new(width, height)).expect("memory");
    terminal.draw(|frame| draw(frame, view, paint)).expect("memory");
    terminal
}

fn text(terminal: &Terminal<TestBackend>) -> String {
    let buffer = terminal.backend().buffer();
    let width = usize::from(buffer.area.width);
    let lines = buffer.content.chunks(width).map(|cells| {
        let line: String = cells.iter().map(ratatui::buffer::Cell::symbol).collect();
        format!("{}\n", line.trim_end())
    });
    lines.collect()
}

#[track_caller]
fn looked_at(name: &str, view: &View) {
    for size in SIZES {
        let now = text(&screen(view, size, Paint::Plain));
        let file = format!("snapshots/watch-{name}-{}x{}.txt", size.0, size.1);
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(file);
        if std::env::var("TRUESOAK_SNAPSHOTS").is_ok_and(|value| value == "write") {
            std::fs::write(&path, &now).expect("the snapshots' folder");
        }
        let kept = std::fs::read_to_string(&path).unwrap_or_default();
        assert!(kept == now, "{} is another screen now:\n{now}", path.display());
    }
}

#[test]
fn a_bake_that_counts() {
    looked_at("counting", &view_at(7_400));
}

#[test]
fn a_bake_whose_parts_lag() {
    looked_at("lagging", &view_at(3_000));
}

#[test]
fn a_board_that_waits_for_an_answer() {
    let mut view = view_at(6_000);
    let status = view.status.as_mut().expect("one");
    status.step = 5;
    status.phase = Phase::Check;
    status.for_s = 0;
    status.setpoint = None;
    status.permit = false;
    status.asks = Some(Question::Check);
    looked_at("asking", &view);
}

#[test]
fn a_start_that_waits_for_go() {
    let mut view = view_at(1_600);
    let status = view.status.as_mut().expect("one");
    status.asks = Some(Question::LoadIn);
    status.awaits_go = Some((Command::Answer(truesoak_core::io::Answer::Go), 42));
    looked_at("awaiting-go", &view);
}

#[test]
fn a_bake_that_tripped() {
    let mut view = view_at(4_000);
    event(&mut view.rows, 4_000, Event::Tripped(TripKind::DriveWelded));
    event(&mut view.rows, 4_000, Event::Ended(Ending::Tripped(TripKind::DriveWelded)));
    let status = view.status.as_mut().expect("one");
    status.trip = Some(TripKind::DriveWelded);
    status.phase = Phase::Tripped;
    status.asks = Some(Question::Tripped);
    status.ended = Some((Ending::Tripped(TripKind::DriveWelded), true));
    status.step = 0;
    status.permit = false;
    status.setpoint = None;
    status.coldest = None;
    status.hottest = None;
    status.reading = None;
    looked_at("tripped", &view);
}

#[test]
fn a_link_that_is_lost_and_a_bake_on_the_desk() {
    let mut view = view_at(5_600);
    view.lost = Some("the board does not answer: nothing came back".to_owned());
    view.is_virtual = true;
    view.now = None;
    view.units = Units::Celsius;
    looked_at("lost", &view);
}

#[test]
fn before_anything_is_known() {
    looked_at("nothing-yet", &View::default());
}

#[test]
fn nothing_is_told_by_colour_alone_and_none_is_used_where_none_is_wanted() {
    let mut view = view_at(6_000);
    view.status.as_mut().expect("one").asks = Some(Question::DoorLeftOpen);
    let plain = screen(&view, SIZES[0], Paint::Plain);
    let cells = &plain.backend().buffer().content;
    assert!(cells.iter().all(|cell| cell.fg == Color::Reset && cell.bg == Color::Reset));
    let colored = screen(&view, SIZES[0], Paint::Colored);
    assert_eq!(text(&plain), text(&colored));
    let bold = |cell: &&ratatui::buffer::Cell| cell.modifier.contains(Modifier::BOLD);
    assert!(cells.iter().filter(bold).count() > 40, "what waits stands out by its weight");
}

/// Whatever is said fits: a sentence that is cut off at the edge says something else.
#[test]
fn every_sentence_is_whole_at_80_columns() {
    for second in [100, 1_600, 1_850, 2_200, 3_000, 5_600, 7_400, 9_900] {
        let view = view_at(second);
        let shown = text(&screen(&view, SIZES[0], Paint::Plain));
        let words = Words(&view);
        for sentence in [
            words.heading(),
            words.counted(),
            words.done(),
            words.step(),
            words.coldest(),
            words.hottest(),
            words.air(),
            words.window(),
            words.heater(),
            words.door().to_owned(),
        ] {
            assert!(shown.contains(&sentence), "at {second} s \"{sentence}\" is not in\n{shown}");
        }
    }
}

#[test]
fn a_line_read_aloud_says_the_minutes_even_while_none_are_added() {
    let lines = Plain::default().lines(&view_at(3_000));
    let minute = lines.last().expect("a line");
    let said = "0 of 60 min counted. NOT COUNTING: coldest part may be only ";
    assert!(minute.contains(said), "{minute}");
}

#[test]
fn a_small_terminal_shows_what_fits_and_does_not_panic() {
    let view = view_at(5_600);
    for size in [(1, 1), (20, 5), (80, 3), (3, 80), (40, 12)] {
        let _ = screen(&view, size, Paint::Colored);
    }
}

#[test]
fn plain_lines_say_a_minute_once_and_what_is_waited_for_at_once() {
    let mut plain = Plain::default();
    let first = plain.lines(&view_at(7_400));
    let minute = first.last().expect("a line");
    assert!(minute.starts_with("2 hours 3 minutes. Step 3 of 9, gas-out: holding. "), "{minute}");
    for part in
        ["of 60 min counted. ", "Coldest part at least ", ", hottest part at most ", "Done about "]
    {
        assert!(minute.contains(part), "\"{part}\" is not in {minute}");
    }
    assert!(first.contains(&"The door was opened.".to_owned()), "{first:?}");
    assert_eq!(plain.lines(&view_at(7_410)), Vec::<String>::new());
    let mut view = view_at(7_420);
    view.status.as_mut().expect("one").asks = Some(Question::DoorLeftOpen);
    let waiting = plain.lines(&view);
    assert_eq!(
        waiting,
        [
            "WAITING FOR YOU: the door is still open.",
            "At the oven: close it, then hold GO for 2 s and let go."
        ]
    );
    assert_eq!(plain.lines(&view), Vec::<String>::new());
    view.lost = Some("nothing came back".to_owned());
    assert!(plain.lines(&view)[0].starts_with("LINK LOST"));
}
