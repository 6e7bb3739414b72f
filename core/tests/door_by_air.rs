//! The door as the air tells of it.
//!
//! Goal: what falls as behind an open door is one, whatever the bounds allow; what one of two sensors
//! sees, or a cooling oven shows, is none. Method: readings drawn by hand, second by second.

use truesoak_core::door::{DoorNow, DoorSecond, DoorWatch};
use truesoak_core::io::Door;
use truesoak_core::units::{Celsius, Tick};

/// A door and its time.
struct Watched {
    door: DoorWatch,
    switch: Option<Door>,
    now: u32,
}

impl Watched {
    /// Long after the bake began, at 150 °C.
    fn new(switch: Option<Door>) -> Self {
        let mut watched = Self { door: DoorWatch::new(Tick(0)), switch, now: 0 };
        for _ in 0..400 {
            let _ = watched.second(150.0, 150.0, None);
        }
        watched
    }

    /// A second; bounds that allow everything, as in a load_in that nobody sees.
    fn second(&mut self, reading: f32, nominal: f32, slope_b_k_per_s: Option<f32>) -> DoorNow {
        for _ in 0..9 {
            self.now += 1;
            let _ = self.door.tick(Tick(self.now), self.switch);
        }
        self.now += 1;
        let door = self.door.tick(Tick(self.now), self.switch);
        let (reading, nominal) = (Celsius(reading), Celsius(nominal));
        let second = DoorSecond { reading, lowest: Celsius(0.0), nominal, slope_b_k_per_s };
        self.door.second(Tick(self.now), &second);
        door
    }

    /// Falls so fast for some seconds.
    fn falls(&mut self, k_per_s: f32, nominal: f32, slope_b: Option<f32>, seconds: u32) -> DoorNow {
        let course = |second: u32| second as f32;
        let shows = |second: u32| 150.0 - k_per_s * course(second);
        let due = |second: u32| 150.0 - nominal * course(second);
        (1..=seconds).map(|second| self.second(shows(second), due(second), slope_b)).last().unwrap()
    }
}

#[test]
fn a_fall_that_no_shut_oven_shows_is_an_opening_though_the_bounds_would_allow_it() {
    let mut watched = Watched::new(None);
    let door = watched.falls(2.0, 0.0, None, 8);
    assert!(door.open && door.air_falls);
    // It comes back by itself: the door is shut.
    for second in 0..4 {
        let _ = watched.second(134.0 + 2.0 * second as f32, 150.0, None);
    }
    assert!(!watched.second(142.0, 150.0, None).open);
}

#[test]
fn an_oven_that_cools_twice_as_fast_as_the_nominal_one_has_its_door_shut() {
    let mut watched = Watched::new(None);
    let door = watched.falls(2.0, 1.0, None, 20);
    assert!(!door.open && door.shut_ticks > 0);
}

#[test]
fn what_one_of_two_sensors_sees_falling_is_no_opening() {
    for (slope_b, falls) in [(Some(0.0), false), (Some(-1.0), true), (None, true)] {
        let mut watched = Watched::new(Some(Door::Closed));
        assert_eq!(watched.falls(3.0, 0.0, slope_b, 8).air_falls, falls, "{slope_b:?}");
    }
}

#[test]
fn a_small_fall_where_no_switch_tells_leaves_the_door_in_doubt_until_the_air_is_back() {
    let mut watched = Watched::new(None);
    let door = watched.falls(0.7, 0.0, None, 14);
    assert!(!door.open, "it is no opening for certain");
    assert_eq!(door.shut_ticks, 0, "and no shut door either");
    for _ in 0..300 {
        assert_eq!(watched.second(140.0, 150.0, None).shut_ticks, 0);
    }
    for second in 0..10 {
        let _ = watched.second(141.0 + second as f32, 150.0, None);
    }
    assert!(watched.second(150.0, 150.0, None).shut_ticks > 0);
    // With a switch that says closed there is no doubt.
    let mut watched = Watched::new(Some(Door::Closed));
    assert!(watched.falls(0.7, 0.0, None, 14).shut_ticks > 0);
}

#[test]
fn a_doubt_that_nothing_settles_ends_after_half_an_hour() {
    let mut watched = Watched::new(None);
    let _ = watched.falls(0.7, 0.0, None, 14);
    let after = (0..2_400).find(|_| watched.second(140.0, 150.0, None).shut_ticks > 0);
    assert!(after.is_some_and(|second| (1_700..1_900).contains(&second)), "{after:?}");
}

#[test]
fn what_a_bake_begins_with_is_not_known_well_enough_to_tell_a_fall_by_the_nominal_oven() {
    let mut watched = Watched::new(None);
    watched.door.begin();
    let door = watched.falls(2.0, 0.0, None, 20);
    assert!(!door.open, "an oven switched off hot cools like that");
}

#[test]
fn an_air_that_fell_is_no_open_door_once_its_fan_is_found_to_stir_it() {
    let mut watched = Watched::new(Some(Door::Closed));
    assert!(watched.falls(3.0, 0.0, None, 20).air_falls);
    watched.door.begin();
    assert!(!watched.second(90.0, 150.0, None).air_falls);
}

#[test]
fn what_rose_until_a_moment_ago_and_falls_is_an_opening_from_the_first_minute_on() {
    let mut watched = Watched::new(Some(Door::Closed));
    watched.door.begin();
    for second in 0..15 {
        let _ = watched.second(135.0 + second as f32, 135.0 + second as f32, None);
    }
    assert!(watched.falls(3.0, 0.0, None, 5).air_falls, "no element turns like that");
}

#[test]
fn what_a_person_said_of_the_door_ends_after_five_minutes_that_needed_no_heat_to_be_seen() {
    let mut watched = Watched::new(None);
    assert!(watched.second(150.0, 150.0, None).may_be_open);
    watched.door.told_shut();
    let after = (0..600).find(|_| watched.second(150.0, 150.0, None).may_be_open);
    assert_eq!(after, Some(300), "and an opening after that is another");
}

#[test]
fn a_fall_tells_where_it_ends_before_it_is_there() {
    for (end, lag_s) in [(20.0, 10.0), (60.0, 10.0), (60.0, 16.0)] {
        let mut watched = Watched::new(Some(Door::Closed));
        let course = |second: u32| end + (150.0 - end) * (-(second as f32) / lag_s).exp();
        let door = (1..=14).map(|second| watched.second(course(second), 150.0, None)).last();
        let falls_to = door.and_then(|door| door.falls_to).expect("it falls");
        assert!((falls_to.0 - end).abs() < 1.0, "{falls_to:?} and not {end}");
    }
}
