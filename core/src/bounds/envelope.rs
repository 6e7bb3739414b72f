//! What the reading may be, from commanded duty alone.
//!
//! Each track keeps an air of its own, balanced between its element, liner, parts, rack and leak,
//! and a sensor behind it. A fault-free reading lies between the lower track's sensor and the
//! upper one's: a reading that leaves is no longer the answer of this oven to this duty.

use super::Bounds;
use super::laws;
use super::load::Load;
use super::model::{Model, Point, Warmth};
use super::seen::{Seen, Sight};
use super::side::Side;
use super::state::State;
use super::track::{Drive, Hot, Placed, Track};
use crate::units::{Celsius, Span};

/// Rounds that find a balance: each leaves less than a quarter of the error.
pub const SETTLING: u8 = 6;

/// Heat into the air, W, and what one kelvin of air costs of it, W/K.
#[derive(Clone, Copy, Debug, Default)]
struct Inflow {
    heat: f32,
    slope: f32,
}

impl Inflow {
    fn add(&mut self, heat: f32, slope: f32) {
        self.heat += heat;
        self.slope += slope;
    }
}

impl Track {
    /// Air and sensor, one second on. `before` is element and liner at the second's start.
    pub(super) fn advance_air(&mut self, drive: &Drive<'_>, before: Hot) {
        let (side, model) = (self.side, drive.model);
        let start = self.air.celsius();
        if drive.door_open && side != Side::Upper {
            // The doorway may turn the air over within a second or two; the room is the least.
            self.air = State::at(model.ambient);
        } else {
            // Over the second the hotter (colder) end of element and liner is the worst.
            let hot = Hot {
                element: side.further(self.element.celsius(), before.element),
                liner: side.further(self.liner.celsius(), before.liner),
            };
            let inflow = self.inflow(drive, hot, start);
            let capacity = model.air.capacity_j_per_k;
            self.air.change(laws::one_second(inflow.heat, inflow.slope, capacity));
        }
        let air = side.further(self.air.celsius(), start);
        let liner = side.further(self.liner.celsius(), before.liner);
        let shown = self.sensor.celsius();
        let goal = air + side.worst(model.sensor.wall_view, liner - air);
        let lag = Span {
            low: 1.0 / (model.sensor.lag_s.high + 0.5),
            high: 1.0 / (model.sensor.lag_s.low + 0.5),
        };
        self.sensor.change(side.worst(lag, goal - shown));
    }

    /// Balance of the air at `air_c`.
    fn inflow(&self, drive: &Drive<'_>, hot: Hot, air_c: f32) -> Inflow {
        let (side, model) = (self.side, drive.model);
        let mut total = Inflow::default();
        let element = &model.element;
        let convected = element.convection_w_per_k * side.left(drive.fan, hot.element - air_c);
        let kept = 1.0 - element.radiant_share.middle();
        total.add(
            convected + side.worst(element.radiant_share, -convected),
            kept * element.convection_w_per_k,
        );
        let exchanged = self.exchanged(drive, hot.liner, air_c);
        let exchange = side.factor(model.exchange, exchanged.heat);
        total.add(exchange * exchanged.heat, exchange * exchanged.slope);
        let leak =
            side.worst(model.cabinet.losses, model.air.leak_w_per_k * (model.ambient.0 - air_c));
        total.add(leak, model.air.leak_w_per_k);
        total
    }

    /// Films of liner, rack and parts, before the factor of exchange.
    fn exchanged(&self, drive: &Drive<'_>, liner_c: f32, air_c: f32) -> Inflow {
        let (side, model) = (self.side, drive.model);
        let mut total = Inflow::default();
        let cabinet = &model.cabinet;
        let warmth = model.air.warmth(air_c);
        // What surfaces gain at the other end the air loses at this.
        let from = side.opposite();
        let film = laws::film(from, &cabinet.liner_film, drive.fan, warmth, air_c - liner_c);
        total.add(-cabinet.liner_m2 * film.flux, cabinet.liner_m2 * film.slope);
        self.each_point(model, drive.load, |placed| {
            let (heat, slope) = from_point(side, drive, &placed, warmth, air_c);
            total.add(heat, slope);
        });
        total
    }

    /// Every point inside, the rack first.
    pub(super) fn each_point(&self, model: &Model, load: Load, mut visit: impl FnMut(Placed<'_>)) {
        if let (Some(rack), true) = (&model.rack, load.present.rack) {
            visit(Placed { point: rack, spot_k: 0.0, spot_for_air_k: 0.0, cells: &self.rack });
        }
        let points = self.slow.iter().zip(&self.fast);
        for (index, (class, (slow, fast))) in model.classes.iter().zip(points).enumerate() {
            if load.present.has(index) {
                class.placed(self.side, model, slow, fast).into_iter().for_each(&mut visit);
            }
        }
    }
}

impl Bounds {
    /// One of the [`SETTLING`] rounds, from 0, that bring the upper air to its balance with
    /// everything else after a restart, if that is hotter than the liner it restarted with: the
    /// element may have gone on heating the air until then.
    pub fn settle(&mut self, model: &Model, round: u8) {
        let fan = self.fan(model, None);
        let sight = Sight::from_model(self.upper.air.celsius(), self.liner(&self.upper));
        let seen = Seen::of(sight, &model.air);
        let drive = Drive { model, seen, duty: 0.0, door_open: false, fan, load: self.load };
        let (hot, air) = (self.upper.hot(), self.upper.air.celsius());
        let inflow = self.upper.inflow(&drive, hot, air);
        let balance = air + if inflow.slope > 0.0 { inflow.heat / inflow.slope } else { 0.0 };
        let is_last = round + 1 >= SETTLING;
        let settled = if is_last { balance.max(hot.liner) } else { balance };
        self.upper.air = State::at(Celsius(settled));
    }
}

/// Heat one point gives the air, W, and its slope.
fn from_point(
    side: Side,
    drive: &Drive<'_>,
    placed: &Placed<'_>,
    warmth: Warmth,
    air_c: f32,
) -> (f32, f32) {
    let point: &Point = placed.point;
    let surface = placed.cells.first().map_or(air_c, |cell| cell.celsius());
    let difference_k = air_c + placed.spot_for_air_k - surface;
    let film = laws::film(side.opposite(), &point.film, drive.fan, warmth, difference_k);
    let heat = -point.area_m2 * film.flux;
    let heat = if drive.load.loading { side.perhaps(heat) } else { heat };
    (heat, point.area_m2 * film.slope)
}
