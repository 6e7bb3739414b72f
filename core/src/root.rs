//! Square roots, correctly rounded, whoever takes them: board and desk come to the same bits.
//!
//! A processor with an instruction for it is served by `libm`. One that has none and multiplies 32 bits
//! to 32 finds a root sooner digit by digit than by the products that `libm` takes.

/// Square root of a number; of one below 0 a not-a-number.
#[must_use]
pub fn square_root(number: f32) -> f32 {
    if cfg!(target_os = "none") { by_digits(number) } else { libm::sqrtf(number) }
}

/// Bits behind the point of a significand.
const FRACTION_BITS: u32 = 23;
/// The bit of a normal number's significand that is not stored.
const HIDDEN: u32 = 1 << FRACTION_BITS;
/// Bits of +∞.
const INFINITE: u32 = 0xff << FRACTION_BITS;
/// What stands for an exponent of 0.
const BIAS: i32 = 127;

/// Two bits of the number a step give one of the root: as many as a significand has, and one more that
/// rounds. What is left over cannot be nothing there, so no root lies half way.
fn by_digits(number: f32) -> f32 {
    let bits = number.to_bits();
    if bits.wrapping_sub(1) >= INFINITE - 1 {
        // Both zeros and +∞ are their own.
        return if number == 0.0 || bits == INFINITE { number } else { f32::NAN };
    }
    let shift = if bits < HIDDEN { bits.leading_zeros() - HIDDEN.leading_zeros() } else { 0 };
    let stored = (bits >> FRACTION_BITS).max(1) as i32;
    let exponent = stored - BIAS - shift as i32;
    let significand = (bits & (HIDDEN - 1)) << shift | HIDDEN;
    let mut left = significand << (1 + (exponent & 1));
    let (mut doubled, mut digit) = (0_u32, HIDDEN << 1);
    while digit != 0 {
        let tried = doubled + digit;
        if tried <= left {
            left -= tried;
            doubled = tried + digit;
        }
        left <<= 1;
        digit >>= 1;
    }
    let root = ((doubled >> 1) + 1) >> 1;
    let exponent = (exponent >> 1) + BIAS - 1;
    f32::from_bits(root + ((exponent as u32) << FRACTION_BITS))
}

#[cfg(test)]
mod tests {
    extern crate std;

    use super::*;

    fn agrees(bits: u32) {
        let number = f32::from_bits(bits);
        let (found, due) = (by_digits(number), number.sqrt());
        let same = found.to_bits() == due.to_bits() || (found.is_nan() && due.is_nan());
        assert!(same, "{number:e}: {found:e}, not {due:e}");
    }

    #[test]
    fn roots_are_those_of_this_machine_s_processor() {
        // Every exponent, subnormal numbers and both signs included, and its ends.
        (0..=u32::MAX).step_by(3_989).for_each(agrees);
        for exponent in 0..512_u32 {
            (0..64).for_each(|off| agrees((exponent << 23).wrapping_add(off).wrapping_sub(32)));
        }
    }

    #[test]
    #[ignore = "every number there is: a minute"]
    fn every_root_is_that_of_this_machine_s_processor() {
        (0..=u32::MAX).for_each(agrees);
    }
}
