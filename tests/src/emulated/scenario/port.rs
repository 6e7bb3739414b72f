//! The `device` commands over a pseudo-terminal: the board is a port like any other.
//!
//! Bytes go between the terminal and the emulated cable, one stretch after the other, about ten times
//! as fast as a clock. No oven hangs on this board: its sensor shows the room, or the bath it is dipped
//! into. GO is pressed where the board says that it waits for it.

use super::{Context, Scenario};

#[cfg(unix)]
pub(super) const SCENARIOS: &[Scenario] = &[
    Scenario {
        name: "port: the device commands over a pseudo-terminal",
        is_short: true,
        run: |context: &Context| terminal::commands(context),
    },
    Scenario {
        name: "port: a blank board is commissioned and takes a bake",
        is_short: true,
        run: |context: &Context| terminal::commissions(context),
    },
];

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
    use crate::emulated::twin::Flash;
    use serde_json::Value;
    use serialport::{SerialPort as _, TTYPort};
    use std::ffi::OsStr;
    use std::io::{BufRead as _, BufReader, Read as _, Write as _};
    use std::path::{Path, PathBuf};
    use std::process::{Child, Command, Output, Stdio};
    use std::sync::mpsc::{Receiver, channel};
    use std::time::{Duration, Instant};
    use truesoak_core::io::Transfer;
    use truesoak_core::person::GO_TICKS;
    use truesoak_core::units::Celsius;
    use truesoak_core::wire::messages::Reply;

    /// A stretch takes at least so long here.
    const PACE: Duration = Duration::from_millis(10);
    /// How long a read waits for a command's bytes.
    const MOMENT: Duration = Duration::from_millis(1);
    /// The oven and the bake that are sent.
    const OVEN: &str = "tests/emulator/quick/oven.toml";
    const BAKE: &str = "tests/emulator/quick/bake.toml";
    /// What the sensor is dipped into, one after the other, °C.
    const BATHS: [f32; 2] = [0.0, 100.0];

    /// A board at the end of a terminal.
    struct Wire {
        pair: Pair,
        master: TTYPort,
        name: String,
        go_ticks: u32,
        /// What the sensor is in, °C.
        around: f32,
    }

    pub(super) fn commands(context: &Context) -> Result<Seen, String> {
        let fits = Fits::Max31855;
        let mut wire = Wire::new(context, fits, &commissioned(&quick(&[])?, fits))?;
        wire.turns(60)?;
        let log = std::env::temp_dir().join(format!("truesoak-port-{}.csv", std::process::id()));
        let done = from_status_to_erase(&mut wire, &log);
        let _ = std::fs::remove_file(&log);
        done?;
        Ok(wire.seen("status, send, start and GO, stop, fetch and erase do what they say"))
    }

    /// GO is held while the supply comes, and let go.
    pub(super) fn commissions(context: &Context) -> Result<Seen, String> {
        let mut wire = Wire::new(context, Fits::Max31856, &Flash::default())?;
        wire.go_ticks = 50;
        wire.turns(100)?;
        let (oven, bake) = (crate::path(OVEN), crate::path(BAKE));
        wire.refused(&["send".as_ref(), bake.as_ref()], "nobody has commissioned this board")?;
        let commission: [&OsStr; 6] = [
            "commission".as_ref(),
            oven.as_ref(),
            "--converter".as_ref(),
            "max31856".as_ref(),
            "--boiling".as_ref(),
            "100 °C".as_ref(),
        ];
        wire.dipped(&commission)?;
        wire.pair.cut_supply(1e9);
        wire.turns(100)?;
        wire.refused(&commission, "settings change only while commissioning")?;
        wire.well(&["send".as_ref(), bake.as_ref()])?;
        Ok(wire.seen(
            "blank it takes no bake; through ice and boiling water, switched on again without GO, \
             it takes one, and no other settings",
        ))
    }

    fn from_status_to_erase(wire: &mut Wire, log: &Path) -> Result<(), String> {
        let is = |status: &Value, path: &str, wanted: &Value| {
            let found = status.pointer(path);
            hold(found == Some(wanted), || format!("{path} is not {wanted}: {status}"))
        };
        let status = wire.status()?;
        is(&status, "/board/virtual", &false.into())?;
        is(&status, "/bake", &Value::Null)?;
        let bake = crate::path(BAKE);
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
        /// A board whose supply comes now, with this flash.
        fn new(context: &Context, fits: Fits, flash: &Flash) -> Result<Self, String> {
            let mut made = context.made(context.mode);
            made.chips = chips(&quick(&[])?, fits);
            let mut pair = told(Pair::new(&made, flash))?;
            // Which bytes come between which two ticks hangs on this machine.
            pair.compare = Compare::Nothing;
            let (mut master, slave) = TTYPort::pair().map_err(|error| error.to_string())?;
            master.set_timeout(MOMENT).map_err(|error| error.to_string())?;
            let name = slave.name().ok_or("the terminal has no name")?;
            // Held open here, a program that ends without closing it would keep it for ever.
            drop(slave);
            Ok(Self { pair, master, name, go_ticks: 0, around: 20.0 })
        }

        fn seen(&self, words: &str) -> Seen {
            Seen { simulated_s: self.pair.board.now_ns / 1e9, words: words.into() }
        }

        /// A command that ends well; what it says.
        fn well(&mut self, arguments: &[&OsStr]) -> Result<String, String> {
            let mut child = self.begin(arguments, Stdio::null())?;
            self.follow(&mut child, |_| Ok(()))?;
            ended_well(arguments, &told(child.wait_with_output())?)
        }

        /// A command that the board, or what is known of it, refuses with these words.
        fn refused(&mut self, arguments: &[&OsStr], words: &str) -> Result<(), String> {
            let mut child = self.begin(arguments, Stdio::null())?;
            self.follow(&mut child, |_| Ok(()))?;
            let output = told(child.wait_with_output())?;
            let said = text(&output.stderr);
            hold(output.status.code() == Some(1) && said.contains(words), || {
                format!("{arguments:?} is not refused for \"{words}\": {} {said}", output.status)
            })
        }

        /// A command that asks for the sensor in one bath after the other, and ends well.
        fn dipped(&mut self, arguments: &[&OsStr]) -> Result<String, String> {
            let mut child = self.begin(arguments, Stdio::piped())?;
            let mut enter = child.stdin.take().ok_or("no input")?;
            let lines = lines_of(child.stderr.take().ok_or("no errors")?);
            let mut baths = BATHS.into_iter();
            let mut heard = String::new();
            let followed = self.follow(&mut child, |around| {
                for line in lines.try_iter() {
                    if line.starts_with("Put the ") {
                        *around = baths.next().ok_or("a third bath")?;
                        told(enter.write_all(b"\n"))?;
                    }
                    heard.push_str(&line);
                }
                Ok(())
            });
            followed.map_err(|error| format!("{error}: {heard}"))?;
            let mut output = told(child.wait_with_output())?;
            heard.extend(lines.iter());
            output.stderr = heard.into_bytes();
            hold(baths.next().is_none(), || "a bath was not asked for".to_owned())?;
            ended_well(arguments, &output)
        }

        fn status(&mut self) -> Result<Value, String> {
            let said = self.well(&["status".as_ref()])?;
            serde_json::from_str(&said).map_err(|error| format!("{error}: {said}"))
        }

        fn begin(&self, arguments: &[&OsStr], input: Stdio) -> Result<Child, String> {
            let mut command = Command::new(built()?);
            command.args(["--format", "json", "--quiet", "device", "--port", &self.name]);
            command.args(arguments).stdin(input).stdout(Stdio::piped()).stderr(Stdio::piped());
            told(command.spawn())
        }

        /// Turns until the command has ended; what the sensor is in is given to change each time.
        fn follow(
            &mut self,
            child: &mut Child,
            mut look: impl FnMut(&mut f32) -> Result<(), String>,
        ) -> Result<(), String> {
            let begun = Instant::now();
            while told(child.try_wait())?.is_none() {
                self.turn()?;
                let looked = look(&mut self.around);
                if looked.is_err() || begun.elapsed() > Duration::from_secs(120) {
                    let _ = child.kill();
                    looked?;
                    return Err("not over after two minutes".to_owned());
                }
            }
            Ok(())
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
            let off_k = if self.pair.stretches % 4 < 2 { -0.25 } else { 0.25 };
            let hot = Celsius(self.around + off_k);
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

    fn ended_well(arguments: &[&OsStr], output: &Output) -> Result<String, String> {
        hold(output.status.success(), || {
            format!("{arguments:?} ended {}: {}", output.status, text(&output.stderr))
        })?;
        Ok(text(&output.stdout))
    }

    fn text(bytes: &[u8]) -> String {
        String::from_utf8_lossy(bytes).into_owned()
    }

    /// Lines as they come.
    fn lines_of(from: impl std::io::Read + Send + 'static) -> Receiver<String> {
        let (sender, lines) = channel();
        std::thread::spawn(move || {
            for line in BufReader::new(from).lines().map_while(Result::ok) {
                // Nobody listens any more once the scenario has failed.
                let _ = sender.send(line + "\n");
            }
        });
        lines
    }

    /// The command, built beside this program.
    fn built() -> Result<PathBuf, String> {
        let command = told(std::env::current_exe())?.with_file_name("truesoak");
        hold(command.is_file(), || format!("{} is not built", command.display()))?;
        Ok(command)
    }
}
