//! Division of whole numbers, digit by digit: a few bytes where the compiler's own takes four hundred. A tick
//! has hardly any, and what they find is small.

/// Quotient and remainder; of a division by zero, which no compiled code asks for, nothing is promised but
/// that it ends.
#[inline(always)]
#[must_use]
pub fn quotient_and_remainder(number: u32, by: u32) -> (u32, u32) {
    let (mut quotient, mut rest) = (0, number);
    let (mut part, mut digit) = (by, 1_u32);
    // No further than the divisor's first bit goes, or it would be lost.
    while part < rest && part >> 31 == 0 && digit >> 31 == 0 {
        part <<= 1;
        digit <<= 1;
    }
    while digit != 0 {
        if rest >= part {
            rest -= part;
            quotient |= digit;
        }
        part >>= 1;
        digit >>= 1;
    }
    (quotient, rest)
}
