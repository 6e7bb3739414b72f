//! Ten ticks a second by the chip's timer, asleep in between.

use core::cell::RefCell;
use core::sync::atomic::{AtomicBool, Ordering};
use critical_section::Mutex;
use rp2040_hal::Timer;
use rp2040_hal::pac::{self, interrupt};
use rp2040_hal::timer::{Alarm, Alarm0, Instant};

/// One tick, µs.
const TICK_US: u32 = 100_000;
/// For so much of a tick there is time for something else before the next, µs.
const BETWEEN_US: u32 = 80_000;

/// A tick is due and nobody has taken it.
static DUE: AtomicBool = AtomicBool::new(false);
static ALARM: Mutex<RefCell<Option<Ticking>>> = Mutex::new(RefCell::new(None));

/// The alarm, and the time it is set by.
struct Ticking {
    alarm: Alarm0,
    timer: Timer,
}

impl Ticking {
    /// Sets the alarm for the next whole tenth of a second: what a flash operation slept through is
    /// not made up for, so the count of ticks is time and never falls behind it.
    fn set(&mut self) {
        self.alarm.clear_interrupt();
        let over = self.timer.get_counter().ticks() / u64::from(TICK_US);
        let next = Instant::from_ticks((over + 1) * u64::from(TICK_US));
        // Cannot be too far off: it is less than a tenth of a second away.
        let _ = self.alarm.schedule_at(next);
    }
}

/// The board's time: ticks since the timer started, counted in hardware.
#[derive(Clone, Copy)]
pub struct Ticks(Timer);

impl Ticks {
    /// Starts ticking; at most once. `None` if somebody has the alarm.
    pub fn start(mut timer: Timer) -> Option<Self> {
        let mut alarm = timer.alarm_0()?;
        alarm.enable_interrupt();
        let mut ticking = Ticking { alarm, timer };
        ticking.set();
        critical_section::with(|token| ALARM.replace(token, Some(ticking)));
        // SAFETY: its handler shares only what is in the mutex and the flag above.
        unsafe { pac::NVIC::unmask(pac::Interrupt::TIMER_IRQ_0) };
        Some(Self(timer))
    }

    /// Ticks since the timer started; 32 bits of them are 13 years.
    pub fn count(&self) -> u32 {
        (self.0.get_counter().ticks() / u64::from(TICK_US)) as u32
    }

    /// Sleeps until a tick is due, and takes it. Other interrupts are served meanwhile, and each
    /// that wakes the processor gives `between` a turn, unless the next tick is near.
    pub fn sleep(&self, mut between: impl FnMut()) {
        // WFE and not WFI: an interrupt between the look and the sleep sets the event register, so
        // the sleep ends at once instead of being slept through. One taker, so load and store do.
        while !DUE.load(Ordering::Acquire) {
            cortex_m::asm::wfe();
            if self.since_tick_us() < BETWEEN_US {
                between();
            }
        }
        DUE.store(false, Ordering::Release);
    }

    fn since_tick_us(&self) -> u32 {
        (self.0.get_counter().ticks() % u64::from(TICK_US)) as u32
    }
}

#[interrupt]
fn TIMER_IRQ_0() {
    critical_section::with(|token| {
        if let Some(ticking) = ALARM.borrow_ref_mut(token).as_mut() {
            ticking.set();
        }
    });
    DUE.store(true, Ordering::Release);
}
