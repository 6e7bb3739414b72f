//! Which pin is what: the table of the wiring guide (`firmware/wiring.md`), held to it by a test.
//!
//! Contacts are pulled up here too, so that an input nothing is wired to reads as an open contact:
//! door open, STOP pressed, contactor shut, no air, GO not pressed.

use rp2040_hal::bsp_pins;

bsp_pins!(
    /// 115,200 baud to the computer.
    Gpio0 { name: uart_tx, aliases: { FunctionUart, PullNone: UartTx } },
    /// 115,200 baud from it; idles high.
    Gpio1 { name: uart_rx, aliases: { FunctionUart, PullUp: UartRx } },
    /// High: lit.
    Gpio2 { name: lamp },
    /// High: sounds.
    Gpio3 { name: beeper },
    /// The display's data.
    Gpio4 { name: sda },
    /// The display's clock.
    Gpio5 { name: scl },
    /// High: heater on.
    Gpio6 { name: drive },
    /// Low: pressed.
    Gpio8 { name: go },
    /// High: pressed, or a wire is cut.
    Gpio9 { name: stop },
    /// Low: shut.
    Gpio10 { name: door },
    /// High: the contactor is closed, or a wire is cut.
    Gpio11 { name: permit_read },
    /// Low: mains at the heater.
    Gpio12 { name: mains_proof },
    /// Low: air moves.
    Gpio13 { name: airflow },
    /// High: fan runs.
    Gpio14 { name: fan },
    /// From every converter.
    Gpio16 { name: miso, aliases: { FunctionSpi, PullUp: Miso } },
    /// Low: the air sensor's converter is chosen.
    Gpio17 { name: cs0 },
    /// To every converter.
    Gpio18 { name: sck, aliases: { FunctionSpi, PullDown: Sck } },
    /// To every converter that has one.
    Gpio19 { name: mosi, aliases: { FunctionSpi, PullDown: Mosi } },
    /// Low: the second air sensor's converter is chosen.
    Gpio20 { name: cs1 },
    /// The independent clock; its rising edges are counted.
    Gpio21 { name: clock, aliases: { FunctionPwm, PullDown: ClockPin } },
    /// Low: the part probe's converter is chosen.
    Gpio22 { name: cs2 },
    /// Heat only while it toggles.
    Gpio28 { name: permit },
);
