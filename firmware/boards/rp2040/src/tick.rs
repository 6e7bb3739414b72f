//! Ten ticks a second by the chip's timer, asleep in between.

use core::cell::RefCell;
use core::sync::atomic::{AtomicBool, AtomicU32, Ordering};
use critical_section::Mutex;
use rp2040_hal::Timer;
use rp2040_hal::pac::{self, interrupt};
use rp2040_hal::timer::{Alarm, Alarm0, Instant};

/// One tick, µs.
const TICK_US: u32 = 100_000;
/// For so much of a tick there is time for something else before the next, µs.
const BETWEEN_US: u32 = 75_000;

/// A tick is due and nobody has taken it.
static DUE: AtomicBool = AtomicBool::new(false);
/// Ticks since the timer started; 32 bits of them are 13 years.
static TICKS: AtomicU32 = AtomicU32::new(0);
static ALARM: Mutex<RefCell<Option<Ticking>>> = Mutex::new(RefCell::new(None));

/// The alarm, the time it is set by, and when it rings next.
struct Ticking {
    alarm: Alarm0,
    timer: Timer,
    next_us: u64,
}

impl Ticking {
    /// Counts every tick that is over and sets the alarm for the next: one that a flash operation
    /// slept through is counted, and no more, so the count is time and never falls behind it.
    fn count(&mut self) {
        self.alarm.clear_interrupt();
        let now_us = self.timer.get_counter().ticks();
        let mut ticks = TICKS.load(Ordering::Acquire);
        while self.next_us <= now_us {
            self.next_us += u64::from(TICK_US);
            ticks = ticks.wrapping_add(1);
        }
        TICKS.store(ticks, Ordering::Release);
        // Cannot be too far off: it is less than a tenth of a second away.
        let _ = self.alarm.schedule_at(Instant::from_ticks(self.next_us));
    }
}

/// The board's time: ticks since the timer started, which counts in hardware.
#[derive(Clone, Copy)]
pub struct Ticks(Timer);

impl Ticks {
    /// Starts ticking; at most once. `None` if somebody has the alarm.
    pub fn start(mut timer: Timer) -> Option<Self> {
        let mut alarm = timer.alarm_0()?;
        alarm.enable_interrupt();
        let mut ticking = Ticking { alarm, timer, next_us: u64::from(TICK_US) };
        ticking.count();
        critical_section::with(|token| ALARM.replace(token, Some(ticking)));
        // SAFETY: its handler shares only what is in the mutex and the two numbers above.
        unsafe { pac::NVIC::unmask(pac::Interrupt::TIMER_IRQ_0) };
        Some(Self(timer))
    }

    /// Ticks since the timer started.
    pub fn count(&self) -> u32 {
        TICKS.load(Ordering::Acquire)
    }

    /// Sleeps until a tick is due, and takes it. Other interrupts are served meanwhile, and each
    /// that wakes the processor gives `between` a turn, unless the next tick is near.
    pub fn sleep(&self, mut between: impl FnMut()) {
        let started_us = self.0.get_counter_low();
        // WFE and not WFI: an interrupt between the look and the sleep sets the event register, so
        // the sleep ends at once instead of being slept through. One taker, so load and store do.
        while !DUE.load(Ordering::Acquire) {
            cortex_m::asm::wfe();
            if self.0.get_counter_low().wrapping_sub(started_us) < BETWEEN_US {
                between();
            }
        }
        DUE.store(false, Ordering::Release);
    }
}

#[interrupt]
fn TIMER_IRQ_0() {
    critical_section::with(|token| {
        if let Some(ticking) = ALARM.borrow_ref_mut(token).as_mut() {
            ticking.count();
        }
    });
    DUE.store(true, Ordering::Release);
}
