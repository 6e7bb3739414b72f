//! The reference functions of ITS-90 for thermocouples: emf in millivolts as a polynomial of °C.
//!
//! Digits stand as published and become `f32` when this is compiled. Source of every set: NIST
//! Monograph 175 (NIST Standard Reference Database 60), the same functions as in IEC 60584-1, as
//! carried by the Python package `thermocouple-its90` 1.0.2. The functions go down to −270 °C; here
//! they end at −150 °C, where no oven is and below which the sum of a type T loses in `f32` what is
//! left of its slope (measured: 0.005 K at −150 °C, and no longer rising at −200 °C).

/// One type's function.
pub(super) struct Reference {
    /// Least temperature answered for, °C.
    pub lowest_c: f32,
    /// Greatest temperature answered for, °C.
    pub highest_c: f32,
    /// Below 0 °C, mV, constant first.
    below_zero: &'static [f32],
    /// From 0 °C up, mV, constant first.
    above_zero: &'static [f32],
    /// Added to the polynomial from 0 °C up.
    hump: Option<Hump>,
}

/// What the polynomial of type K cannot follow: `height · exp(rate · (t − centre)²)`.
struct Hump {
    height_mv: f32,
    rate_per_k2: f32,
    centre_c: f32,
}

impl Reference {
    /// Whether a temperature is inside the range; not-a-number is not.
    pub fn covers(&self, temp_c: f32) -> bool {
        temp_c >= self.lowest_c && temp_c <= self.highest_c
    }

    /// The temperature of the range nearest to this one; its lower end for not-a-number. (`clamp`
    /// would be a way to a panic.)
    pub fn nearest(&self, temp_c: f32) -> f32 {
        temp_c.max(self.lowest_c).min(self.highest_c)
    }

    /// Emf against 0 °C in µV, and its slope in µV/K.
    pub fn emf_and_slope(&self, temp_c: f32) -> (f32, f32) {
        let (emf_mv, slope_mv_per_k) = if temp_c < 0.0 {
            polynomial(self.below_zero, temp_c)
        } else {
            let (emf, slope) = polynomial(self.above_zero, temp_c);
            let (hump, hump_slope) = self.hump.as_ref().map_or((0.0, 0.0), |hump| hump.at(temp_c));
            (emf + hump, slope + hump_slope)
        };
        (1000.0 * emf_mv, 1000.0 * slope_mv_per_k)
    }
}

impl Hump {
    /// Millivolts, and millivolts per kelvin.
    fn at(&self, temp_c: f32) -> (f32, f32) {
        let off_centre = temp_c - self.centre_c;
        let emf = self.height_mv * libm::expf(self.rate_per_k2 * off_centre * off_centre);
        (emf, 2.0 * self.rate_per_k2 * off_centre * emf)
    }
}

/// A polynomial and its derivative by Horner's rule.
fn polynomial(coefficients: &[f32], x: f32) -> (f32, f32) {
    let downwards = coefficients.iter().rev();
    downwards.fold((0.0, 0.0), |(value, slope), next| (value * x + next, slope * x + value))
}

/// Published digits as the board carries them.
const fn single<const N: usize>(published: [f64; N]) -> [f32; N] {
    let mut kept = [0.0; N];
    let mut index = 0;
    while index < N {
        kept[index] = published[index] as f32;
        index += 1;
    }
    kept
}

/// Type K: −150…1372 °C, NIST Monograph 175.
pub(super) static K: Reference = Reference {
    lowest_c: -150.0,
    highest_c: 1372.0,
    below_zero: &K_BELOW,
    above_zero: &K_ABOVE,
    hump: Some(Hump { height_mv: 0.1185976, rate_per_k2: -1.183_432e-4, centre_c: 126.9686 }),
};

/// Type K, −270…0 °C, mV per °Cⁿ (NIST Monograph 175).
static K_BELOW: [f32; 11] = single([
    0.0,
    3.945_012_802_5e-2,
    2.362_237_359_8e-5,
    -3.285_890_678_4e-7,
    -4.990_482_877_7e-9,
    -6.750_905_917_3e-11,
    -5.741_032_742_8e-13,
    -3.108_887_289_4e-15,
    -1.045_160_936_5e-17,
    -1.988_926_687_8e-20,
    -1.632_269_748_6e-23,
]);

/// Type K, 0…1372 °C, mV per °Cⁿ (NIST Monograph 175).
static K_ABOVE: [f32; 10] = single([
    -1.760_041_368_6e-2,
    3.892_120_497_5e-2,
    1.855_877_003_2e-5,
    -9.945_759_287_4e-8,
    3.184_094_571_9e-10,
    -5.607_284_488_9e-13,
    5.607_505_905_9e-16,
    -3.202_072_000_3e-19,
    9.715_114_715_2e-23,
    -1.210_472_127_5e-26,
]);

/// Type J; one polynomial on both sides of 0 °C. Above 760 °C iron changes for good (common practice:
/// not used there): -210…760 °C, NIST Monograph 175.
pub(super) static J: Reference = Reference {
    lowest_c: -150.0,
    highest_c: 760.0,
    below_zero: &J_WHOLE,
    above_zero: &J_WHOLE,
    hump: None,
};

/// Type J, −210…760 °C, mV per °Cⁿ (NIST Monograph 175).
static J_WHOLE: [f32; 9] = single([
    0.0,
    5.038_118_781_5e-2,
    3.047_583_693e-5,
    -8.568_106_572e-8,
    1.322_819_529_5e-10,
    -1.705_295_833_7e-13,
    2.094_809_069_7e-16,
    -1.253_839_533_6e-19,
    1.563_172_569_7e-23,
]);

/// Type T: −150…400 °C, NIST Monograph 175.
pub(super) static T: Reference = Reference {
    lowest_c: -150.0,
    highest_c: 400.0,
    below_zero: &T_BELOW,
    above_zero: &T_ABOVE,
    hump: None,
};

/// Type T, −270…0 °C, mV per °Cⁿ (NIST Monograph 175).
static T_BELOW: [f32; 15] = single([
    0.0,
    3.874_810_636_4e-2,
    4.419_443_434_7e-5,
    1.184_432_310_5e-7,
    2.003_297_355_4e-8,
    9.013_801_955_9e-10,
    2.265_115_659_3e-11,
    3.607_115_420_5e-13,
    3.849_393_988_3e-15,
    2.821_352_192_5e-17,
    1.425_159_477_9e-19,
    4.876_866_228_6e-22,
    1.079_553_927e-24,
    1.394_502_706_2e-27,
    7.979_515_392_7e-31,
]);

/// Type T, 0…400 °C, mV per °Cⁿ (NIST Monograph 175).
static T_ABOVE: [f32; 9] = single([
    0.0,
    3.874_810_636_4e-2,
    3.329_222_788e-5,
    2.061_824_340_4e-7,
    -2.188_225_684_6e-9,
    1.099_688_092_8e-11,
    -3.081_575_877_2e-14,
    4.547_913_529e-17,
    -2.751_290_167_3e-20,
]);

/// Type N: −150…1300 °C, NIST Monograph 175.
pub(super) static N: Reference = Reference {
    lowest_c: -150.0,
    highest_c: 1300.0,
    below_zero: &N_BELOW,
    above_zero: &N_ABOVE,
    hump: None,
};

/// Type N, −270…0 °C, mV per °Cⁿ (NIST Monograph 175).
static N_BELOW: [f32; 9] = single([
    0.0,
    2.615_910_596_2e-2,
    1.095_748_422_8e-5,
    -9.384_111_155_4e-8,
    -4.641_203_975_9e-11,
    -2.630_335_771_6e-12,
    -2.265_343_800_3e-14,
    -7.608_930_079_1e-17,
    -9.341_966_783_5e-20,
]);

/// Type N, 0…1300 °C, mV per °Cⁿ (NIST Monograph 175).
static N_ABOVE: [f32; 11] = single([
    0.0,
    2.592_939_460_1e-2,
    1.571_014_188e-5,
    4.382_562_723_7e-8,
    -2.526_116_979_4e-10,
    6.431_181_933_9e-13,
    -1.006_347_151_9e-15,
    9.974_533_899_2e-19,
    -6.086_324_560_7e-22,
    2.084_922_933_9e-25,
    -3.068_219_615_1e-29,
]);
