//! The names by which compiled code calls for arithmetic that its processor does not have (Run-time
//! ABI for the Arm Architecture, section 4.1.2). The compiler's own are weak: these take their place.
//! Single-precision numbers travel as their bits in a register.
#![allow(unsafe_code)]

// SAFETY of all of them: each does what the ABI says of its name, and there is no other strong symbol
// of it in the image.

#[unsafe(no_mangle)]
extern "aapcs" fn __aeabi_fadd(a: u32, b: u32) -> u32 {
    super::sum(a, b)
}

#[unsafe(no_mangle)]
extern "aapcs" fn __aeabi_fsub(a: u32, b: u32) -> u32 {
    __aeabi_fadd(a, super::opposite(b))
}

#[unsafe(no_mangle)]
extern "aapcs" fn __aeabi_fmul(a: u32, b: u32) -> u32 {
    super::product(a, b)
}

#[unsafe(no_mangle)]
extern "aapcs" fn __aeabi_fdiv(a: u32, b: u32) -> u32 {
    super::quotient(a, b)
}

#[unsafe(no_mangle)]
extern "aapcs" fn __aeabi_fcmpun(a: u32, b: u32) -> u32 {
    u32::from(super::have_no_order(a, b))
}

#[unsafe(no_mangle)]
extern "aapcs" fn __aeabi_fcmpeq(a: u32, b: u32) -> u32 {
    u32::from(super::is_equal(a, b))
}

#[unsafe(no_mangle)]
#[inline(never)]
extern "aapcs" fn __aeabi_fcmplt(a: u32, b: u32) -> u32 {
    u32::from(super::is_less(a, b))
}

#[unsafe(no_mangle)]
extern "aapcs" fn __aeabi_fcmpgt(a: u32, b: u32) -> u32 {
    __aeabi_fcmplt(b, a)
}

#[unsafe(no_mangle)]
#[inline(never)]
extern "aapcs" fn __aeabi_fcmple(a: u32, b: u32) -> u32 {
    u32::from(!super::have_no_order(a, b) && !super::is_less(b, a))
}

#[unsafe(no_mangle)]
extern "aapcs" fn __aeabi_fcmpge(a: u32, b: u32) -> u32 {
    __aeabi_fcmple(b, a)
}
