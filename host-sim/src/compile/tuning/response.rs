//! How a linearised oven's reading answers duty at a frequency.
//!
//! Element, air and liner are solved for; what hangs on them is eliminated first, as each of it
//! hangs on nothing else.
//!
//! The walls move, or they *stand*: liner, rack and parts keep their temperatures. So does the loop
//! see an oven whose feed-forward makes up for every move of its walls; without a feed-forward it
//! sees them move. What the controller has lies between.

use super::linear::{Body, Exchange, Linear};
use num_complex::Complex64;

/// What becomes of the walls while the air swings.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Walls {
    /// They follow it.
    Move,
    /// They keep their temperatures.
    Stand,
}

impl Linear {
    /// Kelvins the sensor is drawn to for each duty, `frequency` in rad/s; its lag is not in it.
    #[must_use]
    pub fn seen(&self, walls: Walls, frequency: f64) -> Complex64 {
        let s = Complex64::new(0.0, frequency);
        match walls {
            Walls::Move => self.with_moving_walls(s),
            Walls::Stand => self.with_standing_walls(s),
        }
    }

    /// The same as the sensor shows it.
    #[must_use]
    pub fn shown(&self, walls: Walls, frequency: f64) -> Complex64 {
        self.seen(walls, frequency) / Complex64::new(1.0, frequency * self.sensor_lag_s)
    }

    fn with_standing_walls(&self, s: Complex64) -> Complex64 {
        let (element, air) = self.standing_w_per_k();
        let element = s * self.element_j_per_k + element;
        let air = s * self.air_j_per_k + air;
        (1.0 - self.wall_view) * self.power_w * self.convection
            / (element * air - self.convection * self.convection)
    }

    /// The slower and the quicker lag of element and air while the walls stand, s.
    #[must_use]
    pub fn standing_lags_s(&self) -> (f64, f64) {
        let (element, air) = self.standing_w_per_k();
        let rest = element * air - self.convection * self.convection;
        // (lag² - sum·lag + product) has the two lags as its roots.
        let sum = (self.element_j_per_k * air + self.air_j_per_k * element) / rest;
        let product = self.element_j_per_k * self.air_j_per_k / rest;
        let slow = 0.5 * (sum + libm::sqrt((sum * sum - 4.0 * product).max(0.0)));
        (slow, product / slow)
    }

    /// What leaves element and air for each kelvin of their own, W/K.
    fn standing_w_per_k(&self) -> (f64, f64) {
        let around: f64 = self.bodies.iter().map(|body| body.air).sum();
        let seen: f64 = self.bodies.iter().map(|body| body.element.first).sum();
        (
            self.convection + self.radiation.first + seen,
            self.convection + self.liner_film + self.leak + around,
        )
    }

    fn with_moving_walls(&self, s: Complex64) -> Complex64 {
        let (radiation, film) = (self.radiation, self.liner_film);
        let mut rows = Rows {
            element: s * self.element_j_per_k + self.convection + radiation.first,
            element_by_air: Complex64::from(-self.convection),
            element_by_liner: Complex64::from(-radiation.second),
            air: s * self.air_j_per_k + self.convection + film + self.leak,
            air_by_element: Complex64::from(-self.convection),
            air_by_liner: Complex64::from(-film),
            liner: film + radiation.second + ladder(&self.shell, s),
            liner_by_element: Complex64::from(-radiation.first),
            liner_by_air: Complex64::from(-film),
        };
        for body in &self.bodies {
            rows.hang(body, s);
        }
        let (air, liner) = rows.answer(self.power_w);
        (1.0 - self.wall_view) * air + self.wall_view * liner
    }
}

/// Heat a chain of cells takes for each kelvin of its first: its capacity, and what goes on from
/// there. The last conductance leads to what does not move.
fn ladder(cells: &[(f64, f64)], s: Complex64) -> Complex64 {
    let mut beyond: Option<Complex64> = None;
    for (capacity, onwards) in cells.iter().rev() {
        let on = match beyond {
            None => Complex64::from(*onwards),
            Some(beyond) => *onwards * beyond / (*onwards + beyond),
        };
        beyond = Some(s * *capacity + on);
    }
    beyond.unwrap_or_default()
}

/// Balances of element, air and liner: what of each row goes with which of the three.
struct Rows {
    element: Complex64,
    element_by_air: Complex64,
    element_by_liner: Complex64,
    air: Complex64,
    air_by_element: Complex64,
    air_by_liner: Complex64,
    liner: Complex64,
    liner_by_element: Complex64,
    liner_by_air: Complex64,
}

impl Rows {
    /// Hangs a body on the three and eliminates it.
    fn hang(&mut self, body: &Body, s: Complex64) {
        let (air, Body { liner, element, .. }) = (body.air, body);
        let own = ladder(&body.cells, s) + air + liner.second + element.second;
        // What each kelvin of the three moves the surface by.
        let each = own.inv();
        let (by_air, by_liner) = (air * each, liner.first * each);
        self.air += air - air * by_air;
        self.air_by_liner -= air * by_liner;
        self.liner += liner.first - liner.second * by_liner;
        self.liner_by_air -= liner.second * by_air;
        if *element != Exchange::default() {
            let by_element = element.first * each;
            self.air_by_element -= air * by_element;
            self.liner_by_element -= liner.second * by_element;
            self.element += element.first - element.second * by_element;
            self.element_by_air -= element.second * by_air;
            self.element_by_liner -= element.second * by_liner;
        }
    }

    /// Air and liner for heat into the element, by elimination: the element first.
    fn answer(&self, heat_w: f64) -> (Complex64, Complex64) {
        let air_share = self.air_by_element / self.element;
        let liner_share = self.liner_by_element / self.element;
        let air = self.air - air_share * self.element_by_air;
        let air_by_liner = self.air_by_liner - air_share * self.element_by_liner;
        let liner = self.liner - liner_share * self.element_by_liner;
        let liner_by_air = self.liner_by_air - liner_share * self.element_by_air;
        let determinant = air * liner - air_by_liner * liner_by_air;
        let (to_air, to_liner) = (-heat_w * air_share, -heat_w * liner_share);
        (
            (to_air * liner - air_by_liner * to_liner) / determinant,
            (air * to_liner - to_air * liner_by_air) / determinant,
        )
    }
}
