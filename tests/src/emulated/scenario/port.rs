//! The `device` commands over a pseudo-terminal: the board is a port like any other.
//!
//! Bytes go between the terminal and the emulated cable, one stretch after the other, about ten times
//! as fast as a clock. No oven hangs on this board: its sensor shows the room. GO is pressed where the
//! board says that it waits for it.

use super::{Context, Scenario};

#[cfg(unix)]
pub(super) const SCENARIOS: &[Scenario] = &[Scenario {
    name: "port: the device commands over a pseudo-terminal",
    is_short: true,
    run: |context: &Context| terminal::commands(context),
}];

#[cfg(not(unix))]
pub(super) const SCENARIOS: &[Scenario] = &[];

#[cfg(unix)]
mod terminal {
    use super::super::{Seen, hold, quick, told};
    use super::Context;
    use crate::emulated::computer::Heard;
    use crate::emulated::frames::Conversion;
    use crate::emulated::oven::{Fits, chips, commissioned};
    use crate::emulated::pair::{Compare, Pair};
    use serde_json::Value;
    use serialport::{SerialPort as _, TTYPort};
    use std::io::{Read as _, Write as _};
    use std::path::{Path, PathBuf};
    use std::process::{Command, Output, Stdio};
    use std::time::{Duration, Instant};
    use truesoak_core::io::Transfer;
    use truesoak_core::person::GO_TICKS;
    use truesoak_core::units::Celsius;
    use truesoak_core::wire::messages::Reply;

    /// A stretch takes at least so long here.
    const PACE: Duration = Duration::from_millis(10);
    /// How long a read waits for a command's bytes.
    const MOMENT: Duration = Duration::from_millis(1);

    /// A board at the end of a terminal.
    struct Wire {
        pair: Pair,
        master: TTYPort,
        name: String,
        go_ticks: u32,
    }

    pub(super) fn commands(context: &Context) -> Result<Seen, String> {
        let setup = quick(&[])?;
        let mut made = context.made(context.mode);
        made.chips = chips(&setup, Fits::Max31855);
        let mut pair = told(Pair::new(&made, &commissioned(&setup, Fits::Max31855)))?;
        // Which bytes come between which two ticks hangs on this machine.
        pair.compare = Compare::Nothing;
        let (mut master, slave) = TTYPort::pair().map_err(|error| error.to_string())?;
        master.set_timeout(MOMENT).map_err(|error| error.to_string())?;
        let name = slave.name().ok_or("the terminal has no name")?;
        // Held open here, a program that ends without closing it would keep it for ever.
        drop(slave);
        let mut wire = Wire { pair, master, name, go_ticks: 0 };
        wire.turns(60)?;
        let log = std::env::temp_dir().join(format!("truesoak-port-{}.csv", std::process::id()));
        let done = from_status_to_erase(&mut wire, &log);
        let _ = std::fs::remove_file(&log);
        done?;
        Ok(Seen {
            simulated_s: wire.pair.board.now_ns / 1e9,
            words: "status, send, start and GO, stop, fetch and erase do what they say".into(),
        })
    }

    fn from_status_to_erase(wire: &mut Wire, log: &Path) -> Result<(), String> {
        let is = |status: &Value, path: &str, wanted: &Value| {
            let found = status.pointer(path);
            hold(found == Some(wanted), || format!("{path} is not {wanted}: {status}"))
        };
        let status = wire.status()?;
        is(&status, "/board/virtual", &false.into())?;
        is(&status, "/bake", &Value::Null)?;
        let bake = crate::path("tests/emulator/quick/bake.toml");
        wire.well(&["send".as_ref(), bake.as_ref()])?;
        let status = wire.status()?;
        is(&status, "/bake", &"Drying stays, all kinds of steps".into())?;
        wire.turns(100)?;
        wire.well(&["start".as_ref()])?;
        let status = wire.status()?;
        is(&status, "/status/step", &1.into())?;
        wire.well(&["stop".as_ref()])?;
        wire.turns(40)?;
        wire.well(&["fetch".as_ref(), "--log".as_ref(), log.as_ref()])?;
        let text = std::fs::read_to_string(log).map_err(|error| error.to_string())?;
        let last = text.lines().last().unwrap_or_default();
        hold(last.starts_with("# end rows="), || format!("the log ends \"{last}\""))?;
        let status = wire.status()?;
        is(&status, "/bakes/0/fetched", &true.into())?;
        wire.well(&["erase".as_ref()])?;
        wire.turns(40)?;
        let status = wire.status()?;
        is(&status, "/bakes", &Value::Array(Vec::new()))
    }

    impl Wire {
        /// A command that ends well; what it says.
        fn well(&mut self, arguments: &[&std::ffi::OsStr]) -> Result<String, String> {
            let output = self.command(arguments)?;
            let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
            hold(output.status.success(), || {
                format!("{arguments:?} ended {}: {}", output.status, text(&output.stderr))
            })?;
            Ok(text(&output.stdout))
        }

        fn status(&mut self) -> Result<Value, String> {
            let said = self.well(&["status".as_ref()])?;
            serde_json::from_str(&said).map_err(|error| format!("{error}: {said}"))
        }

        fn command(&mut self, arguments: &[&std::ffi::OsStr]) -> Result<Output, String> {
            let mut command = Command::new(built()?);
            command.args(["--format", "json", "--quiet", "device", "--port", &self.name]);
            command.args(arguments).stdin(Stdio::null());
            let child = command.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn();
            let mut child = told(child)?;
            let begun = Instant::now();
            while told(child.try_wait())?.is_none() {
                self.turn()?;
                if begun.elapsed() > Duration::from_secs(120) {
                    let _ = child.kill();
                    return Err(format!("{arguments:?} is not over after two minutes"));
                }
            }
            told(child.wait_with_output())
        }

        fn turns(&mut self, count: u32) -> Result<(), String> {
            (0..count).try_for_each(|_| self.turn())
        }

        /// One stretch, and the bytes that belong to it.
        fn turn(&mut self) -> Result<(), String> {
            let begun = Instant::now();
            let mut bytes = [0; 1024];
            // Nobody has it open, or nothing has come: nothing to hand on.
            let len = self.master.read(&mut bytes).unwrap_or(0);
            let board = &mut self.pair.board;
            board.send(&bytes[..len]);
            board.contacts.go = self.go_ticks > 0;
            self.go_ticks = self.go_ticks.saturating_sub(1);
            // A reading of which no bit ever changed would be one that is frozen.
            let hot = Celsius(if self.pair.stretches % 4 < 2 { 20.0 } else { 20.25 });
            let shown = Conversion { hot, cold: Celsius(26.0), transfer: Transfer::Good };
            board.conversions[0] = Some(shown);
            let said = self.pair.tick().usb.clone();
            let heard = self.pair.computer.take();
            if heard.iter().any(|(_, of)| matches!(of, Heard::Other(Reply::AwaitsGo(_)))) {
                self.go_ticks = GO_TICKS + 5;
            }
            if !said.is_empty() {
                told(self.master.write_all(&said))?;
            }
            std::thread::sleep(PACE.saturating_sub(begun.elapsed()));
            Ok(())
        }
    }

    /// The command, built beside this program.
    fn built() -> Result<PathBuf, String> {
        let command = told(std::env::current_exe())?.with_file_name("truesoak");
        hold(command.is_file(), || format!("{} is not built", command.display()))?;
        Ok(command)
    }
}
