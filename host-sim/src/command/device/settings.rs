//! `device settings`: what a board is fitted with, which sensors were checked, and what forbids a
//! start.

use super::{PortArgument, failed, tell_loss};
use crate::command::{Answer, Failure, Format, Globals, print};
use crate::link::{
    Client, Greeting, LinkError, Patience, SENSOR_NAMES, converter, correction_k, fitted,
};
use serde_json::{Value, json};
use truesoak_core::wire::messages::{Capabilities, CheckState, Readiness, SensorState};
use truesoak_core::wire::settings::{BoardSettings, Fitted};

/// All that is told.
pub(super) struct Told {
    greeting: Greeting,
    /// `None` on a board that was never commissioned.
    pub(super) settings: Option<BoardSettings>,
    pub(super) readiness: Readiness,
}

/// Runs it.
pub(super) fn run(port: &PortArgument, globals: &Globals) -> Result<Answer, Failure> {
    let (address, mut session) = port.open()?;
    let told = session.with(Patience::SHORT, tell_loss, Told::ask);
    let told = told.map_err(|error| failed(&address, &error))?;
    told.print(globals)?;
    Ok(Answer::Yes)
}

impl Told {
    pub(super) fn ask(client: &mut Client, greeting: &Greeting) -> Result<Self, LinkError> {
        let (settings, readiness) = (client.settings()?, client.readiness()?);
        Ok(Self { greeting: *greeting, settings, readiness })
    }

    pub(super) fn print(&self, globals: &Globals) -> Result<(), Failure> {
        print(&match globals.format {
            Format::Text => self.text(),
            Format::Json => format!("{}\n", self.json()),
        })
    }

    fn commissioning(&self) -> bool {
        self.greeting.capabilities.has(Capabilities::COMMISSIONING)
    }

    fn text(&self) -> String {
        let kind = if self.greeting.is_virtual() { "Virtual board" } else { "Board" };
        let state = if self.commissioning() { ", being commissioned" } else { "" };
        let mut lines = vec![format!("{kind} {}{state}", self.greeting.board_name())];
        match &self.settings {
            Some(settings) => lines.extend(self.fitted(settings)),
            None => lines.push("Nobody has commissioned it: it has no settings.".to_owned()),
        }
        lines.push(match self.readiness.obstacle {
            Some(obstacle) => format!("It starts nothing: {obstacle}."),
            None => "Nothing forbids a start.".to_owned(),
        });
        lines.join("\n") + "\n"
    }

    fn fitted(&self, settings: &BoardSettings) -> Vec<String> {
        let mut lines = Vec::new();
        for (number, name) in SENSOR_NAMES.into_iter().enumerate() {
            let state = self.readiness.sensors.get(number).copied().flatten();
            let words = settings.sensor(number).map(|of| sensor_words(of, state));
            lines.push(format!("  {name}: {}", words.as_deref().unwrap_or("none")));
        }
        let yes = |is: bool| if is { "fitted" } else { "none" };
        let mains_hz = if settings.mains_60_hz { 60 } else { 50 };
        lines.extend([
            format!("  door switch: {}", yes(settings.door_switch)),
            format!("  contactor's mirror contact: {}", yes(settings.permit_feedback)),
            format!("  mains at the heater: {}", yes(settings.mains_at_heater)),
            format!("  airflow proof: {}", yes(settings.airflow)),
            format!("  independent clock: {}", yes(settings.independent_clock)),
            format!("  mains: {mains_hz} Hz"),
            format!("  air limit: {} °C", settings.air_max_c),
        ]);
        lines
    }

    fn json(&self) -> Value {
        let sensors = SENSOR_NAMES.into_iter().enumerate().map(|(number, name)| {
            let state = self.readiness.sensors.get(number).copied().flatten();
            let of = self.settings.as_ref().and_then(|settings| settings.sensor(number));
            (name.to_owned(), of.map_or(Value::Null, |of| sensor_json(of, state)))
        });
        json!({
            "schema": "truesoak.settings/1",
            "board": self.greeting.board_name(),
            "commissioning": self.commissioning(),
            "sensors": sensors.collect::<serde_json::Map<_, _>>(),
            "fitted": self.settings.map(|of| json!({
                "door_switch": of.door_switch,
                "mirror_contact": of.permit_feedback,
                "mains_at_heater": of.mains_at_heater,
                "airflow": of.airflow,
                "independent_clock": of.independent_clock,
            })),
            "mains_hz": self.settings.map(|of| if of.mains_60_hz { 60 } else { 50 }),
            "air_max_c": self.settings.map(|of| of.air_max_c),
            "obstacle": self.readiness.obstacle.map(|obstacle| obstacle.to_string()),
        })
    }
}

fn sensor_words(of: &Fitted, state: Option<SensorState>) -> String {
    let check = match state.map(|state| state.check) {
        Some(CheckState::Checked) => "went through ice and boiling water",
        Some(CheckState::Ice) => "not checked yet: has been in ice",
        Some(CheckState::Boiling) => "not checked yet: has been in boiling water",
        _ => "not checked",
    };
    let reading = state.and_then(|state| state.reading);
    let reads = reading.map_or_else(
        || "does not answer".to_owned(),
        |reading| format!("reads {:.1} °C", reading.to_celsius().0),
    );
    format!("{} ({}); {check}; {reads}", fitted(of), converter(of))
}

fn sensor_json(of: &Fitted, state: Option<SensorState>) -> Value {
    let check = state.map(|state| match state.check {
        CheckState::Unchecked => "unchecked",
        CheckState::Ice => "ice",
        CheckState::Boiling => "boiling",
        CheckState::Checked => "checked",
    });
    let reading = state.and_then(|state| state.reading);
    json!({
        "kind": fitted(&Fitted { correction_steps: 0, ..*of }),
        "converter": converter(of),
        "correction_k": correction_k(of),
        "check": check,
        "reading_c": reading.map(|reading| reading.to_celsius().0),
    })
}
