//! The names by which compiled code calls for what its processor does not have (Run-time ABI for the Arm
//! Architecture, sections 4.1.2, 4.3.1 and 4.3.4). The compiler's own are weak: these take their place.
//! Single-precision numbers travel as their bits in a register, a quotient and its remainder in two.
#![allow(unsafe_code)]

use crate::{division, float, memory};

// SAFETY of all of them: each does what the ABI says of its name, and there is no other strong symbol
// of it in the image.

#[unsafe(no_mangle)]
extern "aapcs" fn __aeabi_fadd(a: u32, b: u32) -> u32 {
    float::sum(a, b)
}

#[unsafe(no_mangle)]
extern "aapcs" fn __aeabi_fsub(a: u32, b: u32) -> u32 {
    __aeabi_fadd(a, float::opposite(b))
}

#[unsafe(no_mangle)]
extern "aapcs" fn __aeabi_fmul(a: u32, b: u32) -> u32 {
    float::product(a, b)
}

#[unsafe(no_mangle)]
extern "aapcs" fn __aeabi_fdiv(a: u32, b: u32) -> u32 {
    float::quotient(a, b)
}

#[unsafe(no_mangle)]
extern "aapcs" fn __aeabi_fcmpun(a: u32, b: u32) -> u32 {
    u32::from(float::have_no_order(a, b))
}

#[unsafe(no_mangle)]
extern "aapcs" fn __aeabi_fcmpeq(a: u32, b: u32) -> u32 {
    u32::from(float::is_equal(a, b))
}

#[unsafe(no_mangle)]
#[inline(never)]
extern "aapcs" fn __aeabi_fcmplt(a: u32, b: u32) -> u32 {
    u32::from(float::is_less(a, b))
}

#[unsafe(no_mangle)]
extern "aapcs" fn __aeabi_fcmpgt(a: u32, b: u32) -> u32 {
    __aeabi_fcmplt(b, a)
}

#[unsafe(no_mangle)]
#[inline(never)]
extern "aapcs" fn __aeabi_fcmple(a: u32, b: u32) -> u32 {
    u32::from(!float::have_no_order(a, b) && !float::is_less(b, a))
}

#[unsafe(no_mangle)]
extern "aapcs" fn __aeabi_fcmpge(a: u32, b: u32) -> u32 {
    __aeabi_fcmple(b, a)
}

#[unsafe(no_mangle)]
extern "aapcs" fn __aeabi_uidivmod(number: u32, by: u32) -> u64 {
    let (quotient, remainder) = division::quotient_and_remainder(number, by);
    u64::from(remainder) << 32 | u64::from(quotient)
}

#[unsafe(no_mangle)]
extern "aapcs" fn __aeabi_uidiv(number: u32, by: u32) -> u32 {
    __aeabi_uidivmod(number, by) as u32
}

// SAFETY of those below: who calls by these names promises what `memory` asks.

#[unsafe(no_mangle)]
#[inline(never)]
unsafe extern "aapcs" fn __aeabi_memcpy(to: *mut u8, from: *const u8, count: usize) {
    unsafe { memory::copy(to, from, count) }
}

#[unsafe(no_mangle)]
unsafe extern "aapcs" fn __aeabi_memcpy4(to: *mut u8, from: *const u8, count: usize) {
    unsafe { __aeabi_memcpy(to, from, count) }
}

#[unsafe(no_mangle)]
unsafe extern "aapcs" fn __aeabi_memcpy8(to: *mut u8, from: *const u8, count: usize) {
    unsafe { __aeabi_memcpy(to, from, count) }
}

#[unsafe(no_mangle)]
unsafe extern "aapcs" fn memcpy(to: *mut u8, from: *const u8, count: usize) -> *mut u8 {
    unsafe { __aeabi_memcpy(to, from, count) };
    to
}

#[unsafe(no_mangle)]
#[inline(never)]
unsafe extern "aapcs" fn __aeabi_memset(to: *mut u8, count: usize, byte: u32) {
    unsafe { memory::fill(to, count, byte as u8) }
}

#[unsafe(no_mangle)]
unsafe extern "aapcs" fn __aeabi_memset4(to: *mut u8, count: usize, byte: u32) {
    unsafe { __aeabi_memset(to, count, byte) }
}

#[unsafe(no_mangle)]
unsafe extern "aapcs" fn __aeabi_memset8(to: *mut u8, count: usize, byte: u32) {
    unsafe { __aeabi_memset(to, count, byte) }
}

#[unsafe(no_mangle)]
unsafe extern "aapcs" fn memset(to: *mut u8, byte: u32, count: usize) -> *mut u8 {
    unsafe { __aeabi_memset(to, count, byte) };
    to
}

#[unsafe(no_mangle)]
unsafe extern "aapcs" fn __aeabi_memclr(to: *mut u8, count: usize) {
    unsafe { __aeabi_memset(to, count, 0) }
}

#[unsafe(no_mangle)]
unsafe extern "aapcs" fn __aeabi_memclr4(to: *mut u8, count: usize) {
    unsafe { __aeabi_memset(to, count, 0) }
}

#[unsafe(no_mangle)]
unsafe extern "aapcs" fn __aeabi_memclr8(to: *mut u8, count: usize) {
    unsafe { __aeabi_memset(to, count, 0) }
}
