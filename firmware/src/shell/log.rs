//! Logs for whoever develops: `defmt`, behind the feature of that name; nothing otherwise.

/// Says something about a value that has a `Debug` of its own.
macro_rules! say_of {
    ($words:literal, $value:expr) => {{
        #[cfg(feature = "defmt")]
        defmt::info!($words, defmt::Debug2Format(&$value));
        #[cfg(not(feature = "defmt"))]
        let _ = &$value;
    }};
}

pub(super) use say_of;
