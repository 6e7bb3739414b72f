//! Sum, product, quotient and order of single-precision numbers, from bits to bits, for a processor that
//! has none: what a Cortex-M0+ spends its ticks with.
//!
//! Results are those of IEEE 754 (to nearest, ties to even; subnormal numbers, infinities and signed
//! zeros included), so a board that uses them decides as the desk does, to the bit. Not-a-number
//! comes out quiet; its payload is nobody's business.
//!
//! The compiler's own routines do the same. They are written for every width at once, and take two
//! to three times as many instructions on a processor that multiplies 32 bits to 32 and cannot count
//! leading zeros.

const SIGN: u32 = 1 << 31;
/// The bit of a normal number's significand that is not stored.
const HIDDEN: u32 = 1 << 23;
const INFINITE: u32 = 0xff << 23;
const NOT_A_NUMBER: u32 = INFINITE | 1 << 22;
/// Significands in [`pack`] have their first bit here.
const TOP: u32 = 1 << 31;
/// Exponent, as stored, of infinities and of what is no number.
const BEYOND: i32 = 0xff;

fn exponent(number: u32) -> i32 {
    (number >> 23 & 0xff) as i32
}

fn significand(number: u32) -> u32 {
    (number & (HIDDEN - 1)) | HIDDEN
}

/// Zero, subnormal, infinite, or no number.
fn is_special(exponent: i32) -> bool {
    (exponent - 1) as u32 >= BEYOND as u32 - 1
}

fn is_no_number(number: u32) -> bool {
    number & !SIGN > INFINITE
}

/// Exponent and significand of what is neither zero nor beyond all numbers, a subnormal one's first
/// bit brought to the place of a normal one's.
#[cold]
#[inline(never)]
fn normalised(number: u32) -> (i32, u32) {
    let magnitude = number & !SIGN;
    if magnitude >= HIDDEN {
        return (exponent(number), significand(number));
    }
    let shift = magnitude.leading_zeros() - HIDDEN.leading_zeros();
    (1 - shift as i32, magnitude << shift)
}

/// What lies to the right of a shift, as one bit, so that rounding knows of it.
#[inline(always)]
fn shifted(significand: u32, by: u32) -> u32 {
    if by == 0 {
        significand
    } else if by < 32 {
        significand >> by | u32::from(significand << (32 - by) != 0)
    } else {
        u32::from(significand != 0)
    }
}

/// The number nearest to a significand whose first bit is at [`TOP`], and whose last bit says
/// whether anything was left behind it.
#[inline(always)]
fn pack(sign: u32, exponent: i32, significand: u32) -> u32 {
    if is_special(exponent) {
        return pack_at_the_ends(sign, exponent, significand);
    }
    // The first bit adds one to the exponent.
    sign | rounded(((exponent as u32 - 1) << 23) + (significand >> 8), significand)
}

/// The same of what is too large for any number, or too small for a normal one.
#[cold]
#[inline(never)]
fn pack_at_the_ends(sign: u32, exponent: i32, significand: u32) -> u32 {
    if exponent >= BEYOND {
        return sign | INFINITE;
    }
    let significand = shifted(significand, (1 - exponent) as u32);
    sign | rounded(significand >> 8, significand)
}

/// A number, and one more where the eight bits behind it say so; a carry goes into the exponent, up
/// to infinity.
#[inline(always)]
fn rounded(number: u32, significand: u32) -> u32 {
    number + u32::from((significand & 0xff) + (number & 1) > 0x80)
}

/// a + b.
#[inline(always)]
#[must_use]
pub fn sum(a: u32, b: u32) -> u32 {
    let (large, small) = if a << 1 >= b << 1 { (a, b) } else { (b, a) };
    let (mut high, mut low) = (exponent(large), exponent(small));
    let (mut first, mut second) = (significand(large) << 7, significand(small) << 7);
    if low == 0 || high == BEYOND {
        if let Some(sum) = special_sum(large, small) {
            return sum;
        }
        // A subnormal number has no hidden bit, and the exponent of the least normal one.
        low = 1;
        second = (small & (HIDDEN - 1)) << 7;
        if high == 0 {
            high = 1;
            first = (large & (HIDDEN - 1)) << 7;
        }
    }
    second = shifted(second, (high - low) as u32);
    let sign = large & SIGN;
    let mut total = if (large ^ small) & SIGN == 0 { first + second } else { first - second };
    high += 1;
    if total & TOP == 0 {
        total <<= 1;
        high -= 1;
        if total & TOP == 0 {
            if total == 0 {
                // Equal and opposite; −0 is the sum of two of its kind only, which came before.
                return 0;
            }
            let shift = total.leading_zeros();
            total <<= shift;
            high -= shift as i32;
        }
    }
    pack(sign, high, total)
}

#[cold]
#[inline(never)]
fn special_sum(large: u32, small: u32) -> Option<u32> {
    let opposite = (large ^ small) & SIGN != 0;
    if is_no_number(large) || large & !SIGN == INFINITE && large ^ small == SIGN {
        return Some(NOT_A_NUMBER);
    }
    if exponent(large) == BEYOND {
        return Some(large);
    }
    if small & !SIGN != 0 {
        return None;
    }
    Some(if large & !SIGN == 0 && opposite { 0 } else { large })
}

/// −a: a difference is the sum with the opposite.
#[inline(always)]
#[must_use]
pub fn opposite(a: u32) -> u32 {
    a ^ SIGN
}

/// a · b.
#[inline(always)]
#[must_use]
pub fn product(a: u32, b: u32) -> u32 {
    let sign = (a ^ b) & SIGN;
    let (mut first, mut second) = (exponent(a), exponent(b));
    let (mut x, mut y) = (significand(a), significand(b));
    if is_special(first) || is_special(second) {
        if let Some(product) = special_product(a, b) {
            return product;
        }
        (first, x) = normalised(a);
        (second, y) = normalised(b);
    }
    // Halves of 16 bits: nothing longer than 32 is ever multiplied.
    let (x_low, x_high, y_low, y_high) = (x & 0xffff, x >> 16, y & 0xffff, y >> 16);
    let low = x_low * y_low;
    let middle = x_low * y_high + x_high * y_low + (low >> 16);
    // The product's upper 32 of 48 bits, and whether there is anything below.
    let upper = ((x_high * y_high) << 16) + middle;
    let upper = upper | u32::from(low << 16 != 0);
    let exponent = first + second - 127;
    if upper & TOP == 0 {
        pack(sign, exponent, upper << 1)
    } else {
        pack(sign, exponent + 1, upper)
    }
}

#[cold]
#[inline(never)]
fn special_product(a: u32, b: u32) -> Option<u32> {
    let (first, second) = (a & !SIGN, b & !SIGN);
    let (least, most) = (first.min(second), first.max(second));
    let sign = (a ^ b) & SIGN;
    if most > INFINITE || most == INFINITE && least == 0 {
        Some(NOT_A_NUMBER)
    } else if most == INFINITE {
        Some(sign | INFINITE)
    } else {
        (least == 0).then_some(sign)
    }
}

/// a / b.
#[inline(always)]
#[must_use]
pub fn quotient(a: u32, b: u32) -> u32 {
    let sign = (a ^ b) & SIGN;
    let (mut first, mut second) = (exponent(a), exponent(b));
    let (mut rest, mut divisor) = (significand(a), significand(b));
    if is_special(first) || is_special(second) {
        if let Some(quotient) = special_product(a, inverse(b)) {
            return quotient;
        }
        (first, rest) = normalised(a);
        (second, divisor) = normalised(b);
    }
    let mut exponent = first - second + 127;
    if rest < divisor {
        rest <<= 1;
        exponent -= 1;
    }
    // 25 digits, the first of which is 1, one after the other: the last rounds.
    let mut digits = 0;
    for _ in 0..25 {
        digits <<= 1;
        if rest >= divisor {
            rest -= divisor;
            digits |= 1;
        }
        rest <<= 1;
    }
    pack(sign, exponent, digits << 7 | u32::from(rest != 0))
}

/// A number whose product with another is as special as the quotient by this one.
fn inverse(number: u32) -> u32 {
    let magnitude = number & !SIGN;
    let inverse = match magnitude {
        0 => INFINITE,
        INFINITE => 0,
        _ => magnitude.max(HIDDEN),
    };
    (number & SIGN) | inverse
}

/// One of the two is no number: they have no order.
#[inline(always)]
#[must_use]
pub fn have_no_order(a: u32, b: u32) -> bool {
    let most = (a << 1).max(b << 1);
    most > INFINITE << 1
}

/// a < b.
#[inline(always)]
#[must_use]
pub fn is_less(a: u32, b: u32) -> bool {
    if have_no_order(a, b) || (a | b) << 1 == 0 {
        return false;
    }
    let (a, b) = (a as i32, b as i32);
    // Below zero the larger bits are the lesser number.
    if a & b < 0 { a > b } else { a < b }
}

/// a = b; both zeros are one number.
#[inline(always)]
#[must_use]
pub fn is_equal(a: u32, b: u32) -> bool {
    !have_no_order(a, b) && (a == b || (a | b) << 1 == 0)
}
