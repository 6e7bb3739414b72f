//! One plant driven by one log: what its sensors would have shown, in means over ten seconds.

use super::course::{Act, BLOCK_TICKS, Course, Sample};
use super::unknowns::Ready;

/// Readings less what was foretold, block by block.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Residuals {
    /// Air, K.
    pub air: Vec<f64>,
    /// Part probe, K.
    pub probe: Vec<f64>,
}

/// Sums samples over blocks.
struct Blocks<'a> {
    samples: std::iter::Peekable<std::slice::Iter<'a, Sample>>,
    block: u32,
    sum: f64,
    count: u32,
    means: Vec<f64>,
}

impl<'a> Blocks<'a> {
    fn new(samples: &'a [Sample]) -> Self {
        Self { samples: samples.iter().peekable(), block: 0, sum: 0.0, count: 0, means: Vec::new() }
    }

    /// Takes every sample up to a tick.
    fn take(&mut self, to: u32, foretold: impl Fn(u32) -> f64) {
        while let Some(sample) = self.samples.next_if(|sample| sample.tick <= to) {
            let block = sample.tick / BLOCK_TICKS;
            if block != self.block {
                self.close();
                self.block = block;
            }
            self.sum += sample.celsius - foretold(sample.tick);
            self.count += 1;
        }
    }

    fn close(&mut self) {
        if self.count > 0 {
            self.means.push(self.sum / f64::from(self.count));
        }
        (self.sum, self.count) = (0.0, 0);
    }

    fn finish(mut self) -> Vec<f64> {
        self.close();
        self.means
    }
}

/// When each block's mean stands, s from the log's first row.
pub(super) fn times_s(samples: &[Sample]) -> Vec<f64> {
    let mut blocks: Vec<u32> = samples.iter().map(|sample| sample.tick / BLOCK_TICKS).collect();
    blocks.dedup();
    blocks
        .into_iter()
        .map(|block| (f64::from(block) + 0.5) * f64::from(BLOCK_TICKS) / 10.0)
        .collect()
}

/// Follows a log; nothing where the plant cannot be followed.
pub(super) fn follow(course: &Course, ready: Ready) -> Option<Residuals> {
    let Ready { mut plant, power_w, doorway, offset_k, probe_offset_k } = ready;
    let (mut air, mut probe) = (Blocks::new(&course.air), Blocks::new(&course.probe));
    let mut acts = course.acts.iter().peekable();
    let mut tick = 0;
    for (to, duty) in &course.duty {
        plant.set_power(duty * power_w);
        while tick < *to {
            while let Some((_, act)) = acts.next_if(|(at, _)| *at <= tick) {
                match act {
                    Act::Door(share) if *share > 0.0 => plant.open_door(share * doorway),
                    Act::Door(_) => plant.close_door(),
                    Act::PutIn(inside, cured) => plant.load_in(inside, *cured),
                    Act::TakeOut => plant.take_out(),
                    Act::Fan(blows) => plant.run_fan(*blows),
                }
            }
            let stop = acts.peek().map_or(*to, |(at, _)| (*at).min(*to));
            let taken = plant.attempt(stop - tick);
            air.take(tick + taken, |at| plant.shown_at(at - tick).air_c + offset_k);
            probe.take(tick + taken, |at| {
                plant.shown_at(at - tick).part_probe_c.unwrap_or(f64::NAN) + probe_offset_k
            });
            plant.take(taken);
            tick += taken;
        }
    }
    let residuals = Residuals { air: air.finish(), probe: probe.finish() };
    let finite = residuals.air.iter().chain(&residuals.probe).all(|residual| residual.is_finite());
    (finite && !plant.is_astray()).then_some(residuals)
}

/// Mean reading of each block, °C.
pub(super) fn means_c(samples: &[Sample]) -> Vec<f64> {
    let mut blocks = Blocks::new(samples);
    blocks.take(u32::MAX, |_| 0.0);
    blocks.finish()
}
