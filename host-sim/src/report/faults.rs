//! What can go wrong, in words: what it looks like, the likely cause, what to do next.
//!
//! One row for every kind that can be scripted, tripped or told; screens and docs use the same.

/// One kind of fault, in words.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Fault {
    /// The word of files, logs and JSON.
    pub kind: &'static str,
    /// What happened, as the start of a sentence.
    pub name: &'static str,
    /// What it looks like.
    pub looks_like: &'static str,
    /// Likely cause.
    pub cause: &'static str,
    /// What to do next.
    pub next: &'static str,
}

/// The row of a kind.
#[must_use]
pub fn fault(kind: &str) -> Option<&'static Fault> {
    FAULTS.iter().find(|fault| fault.kind == kind)
}

const fn row(
    kind: &'static str,
    name: &'static str,
    looks_like: &'static str,
    cause: &'static str,
    next: &'static str,
) -> Fault {
    Fault { kind, name, looks_like, cause, next }
}

/// Every kind.
#[rustfmt::skip]
pub const FAULTS: &[Fault] = &[
    row("thermocouple-open", "The air sensor's wire is broken",
        "the converter reports no circuit; there is no reading",
        "a loose terminal, or a wire burnt or pulled off",
        "let the oven cool, tighten or replace the sensor, check it in boiling water"),
    row("thermocouple-short", "The air sensor touches supply or ground",
        "the converter reports a short; the reading is worthless",
        "worn insulation where the wire enters the cabinet",
        "let the oven cool, sleeve or replace the wire, keep it off bare metal"),
    row("converter-silent", "The sensor's converter does not answer",
        "every bit of its answer is the same",
        "a loose plug, no supply, or a dead converter",
        "check plug and supply of the converter; replace it if it stays silent"),
    row("thermocouple-reversed", "The air sensor's wires are swapped",
        "the reading falls while the heater heats",
        "plus and minus exchanged at a terminal or a plug",
        "swap the two wires, then check the sensor in ice and in boiling water"),
    row("sensor-type-wrong", "The air sensor is not the kind it was said to be",
        "the first answer to heat is too steep or too flat for this oven",
        "a sensor or a cable of another letter, or the wrong kind in the oven file",
        "compare the letter on sensor and cable with the oven file; check in ice and boiling water"),
    row("reading-stale", "The air reading is old",
        "no new reading has come for five seconds",
        "a converter that stands still in a conversion, or a cable to it that is disturbed",
        "take the converter's supply away for ten seconds, check its cable, then start again"),
    row("reading-frozen", "The air reading has stopped moving",
        "no bit of the reading changes although the air must have moved",
        "a converter that repeats its last answer",
        "take the converter's supply away for ten seconds; replace it if it comes back"),
    row("reading-jump", "The air reading jumped",
        "it moved faster than heat or an open door can move the air",
        "a loose terminal, sensor leads that touch, or a switching load close by",
        "tighten the terminals, look for bare leads, run the sensor's cable apart from mains"),
    row("no-response", "Heat went in and the air did not answer",
        "full power for longer than the slowest oven of this kind needs, and no rise",
        "a sensor that hangs outside the cabinet, or a heater without power",
        "see that the sensor sticks into the cabinet, then that fuse and element are whole"),
    row("sensor-detached", "The air sensor is out of the cabinet",
        "full power, and the reading stays where the room is",
        "the sensor slipped out of its hole or was left hanging",
        "push the sensor back in and fix it so that a pull on the cable does not move it"),
    row("heater-dead", "The heater gives no heat",
        "full power is asked for and the air keeps falling",
        "a blown fuse, a burnt element, or a plug that is out",
        "have fuse, plug and element checked with the mains off"),
    row("sensor-moved", "The two air sensors disagree",
        "their readings are further apart than sensors and air allow",
        "one of them was moved, touches metal, or has drifted",
        "put both back where they were surveyed, check both in boiling water"),
    row("drive-welded", "The heater does not turn off",
        "the air is hotter than the commanded heat can make it",
        "a power switch that failed closed",
        "pull the plug; replace the power switch before the oven is used again"),
    row("permit-welded", "The contactor does not open",
        "its mirror contact still says closed after the permit was dropped",
        "welded contacts",
        "pull the plug now; replace the contactor before the oven is used again"),
    row("air-over-limit", "The air may be over its limit",
        "the hottest the air can be is above the bake's or the oven's limit",
        "a limit close to the window, or more heater power than the oven file says",
        "let it cool; lower the window or the boost, or correct the heater's power"),
    row("part-over-limit", "A part may be over its limit",
        "the hottest any part can be is above what one of them stands",
        "a window too close to the limit, or a thin part close to the element",
        "let it cool, look at the thinnest parts; lower at_most or move them"),
    row("probe-disagrees", "The part probe is not where it should be",
        "it reads outside what its own part can be at",
        "the probe fell off its part, or the part is not the one in the load file",
        "the bake goes on; a probe that lags behind its part from the first still holds the count \
         back. Fix it tighter, or correct the load file"),
    row("door-left-open", "The door is still open",
        "the door switch has said open for longer than the bake allows",
        "nobody closed it",
        "close the door, then hold GO for 2 s and let go"),
    row("door-switch-stuck", "The door switch says closed while the air falls",
        "the air falls as it only does through an open door",
        "a switch that sticks, is bridged, or has moved from its cam",
        "open and close the door by hand and watch the switch; replace or move it"),
    row("fan-stopped", "The fan does not move air",
        "the airflow proof is gone",
        "a stalled or unplugged fan, or a vane that stuck",
        "let the oven cool, turn the fan by hand, check its plug and its belt"),
    row("enclosure-hot", "The controller's own box is too hot",
        "the cold junction is above 65 °C",
        "the box stands against the cabinet, or its vents are covered",
        "move the box away from the oven and clear its vents"),
    row("processor-hung", "The board stopped and was restarted",
        "the hardware watchdog had to reset it",
        "a disturbance on the supply, or a defect",
        "look at the parts; if it happens again, keep the log and do not use the board"),
    row("tick-overrun", "The board was too slow",
        "a tick took longer than its time",
        "a defect of the program or a processor that is running slow",
        "keep the log; do not use the board until it is understood"),
    row("clock-wrong", "The board's clock is wrong",
        "it disagrees with the independent clock by more than 2 in 100",
        "a damaged crystal, or the independent clock is not connected",
        "check the wire of the independent clock; replace the board if it is whole"),
    row("memory-corrupt", "The board's memory is not as it should be",
        "a pattern or the program's own checksum does not hold",
        "a damaged chip or a program that was not written whole",
        "write the program to the board again; replace the board if it comes back"),
    row("settings-corrupt", "The board's settings do not read back",
        "their checksum is wrong",
        "the supply failed while they were written",
        "send the settings again and compare them on the screen"),
    row("store-failing", "The board cannot keep its records",
        "what was written does not read back",
        "a worn or damaged memory chip",
        "watch the bake from a computer to keep a log; replace the chip before the next"),
    row("supply-lost", "The supply failed and came back",
        "the board started in the middle of a bake",
        "a power cut, a plug, a fuse",
        "say whether anything new is inside; the bake then goes on or ends"),
    row("button-stuck", "A button is stuck",
        "STOP is open, or GO is still closed twenty seconds after start",
        "a jammed button or a cut wire",
        "free the button or mend its wire; nothing starts before"),
    row("link-garbage", "The computer sends nonsense",
        "frames with a wrong checksum",
        "a bad cable, or another program on the same port",
        "the bake goes on; change the cable or close the other program"),
    row("link-flood", "The computer sends too much",
        "more bytes than the board takes in its time",
        "a program that does not wait for answers",
        "the bake goes on; close the program"),
    row("link-lost", "The computer is gone",
        "no frame has come for a while",
        "a cable pulled, or a computer asleep",
        "nothing: the bake needs no computer, and its record is kept on the board"),
    row("bake-too-long", "The bake took longer than it may",
        "heat was allowed for the whole of bake_max",
        "a load too heavy for the heater, or a bake_max that is short",
        "rehearse with the true load; raise bake_max or bake fewer parts"),
    row("outside-model", "The oven does not behave as its files say",
        "the air answered the heat as no oven within the spread would, for two minutes",
        "other parts than in the load file, a door ajar, or a wrong heater power",
        "nothing counts from here on; weigh the load, check the door, fit the oven again"),
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_kind_stands_once_and_says_all_three_things() {
        for (index, fault) in FAULTS.iter().enumerate() {
            assert!(FAULTS.iter().skip(index + 1).all(|other| other.kind != fault.kind));
            let well_formed = |byte: u8| byte.is_ascii_lowercase() || byte == b'-';
            assert!(fault.kind.bytes().all(well_formed), "{}", fault.kind);
            for words in [fault.name, fault.looks_like, fault.cause, fault.next] {
                assert!(words.len() > 10 && !words.ends_with('.'), "{}: {words}", fault.kind);
            }
        }
        assert_eq!(fault("drive-welded").map(|fault| fault.kind), Some("drive-welded"));
        assert_eq!(fault("gremlin"), None);
    }
}
