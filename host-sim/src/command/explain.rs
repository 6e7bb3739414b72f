//! What a rehearsal took for granted: every default used, with its value and its source.

use crate::compile::tuning;
use crate::files::{DefaultUsed, Setup};
use crate::report::text::wrap;
use truesoak_core::bounds::model::Model;

/// Defaults of the three files, then what was computed in their place.
pub(super) fn defaults(setup: &Setup, model: &Model) -> Vec<DefaultUsed> {
    let mut all = setup.defaults.clone();
    if setup.oven.tuning.is_none() {
        let tuned = tuning::tune(setup, model);
        for (key, value) in tuned.words() {
            all.push(DefaultUsed {
                key: format!("oven.tuning.{key}"),
                value,
                source: format!(
                    "computed from this oven by MIGO (Åström & Hägglund 2004), the greatest \
                     integral gain whose sensitivity M_s is at most {:.1} at every corner of the \
                     spread: {:.2} at the worst",
                    tuning::SENSITIVITY_MAX,
                    tuned.sensitivity
                ),
            });
        }
    }
    all
}

/// The list for a person.
pub(super) fn text(defaults: &[DefaultUsed]) -> String {
    let mut text = String::from("\nDefaults used, and why\n");
    for default in defaults {
        let line = format!("{} = {}: {}", default.key, default.value, default.source);
        wrap(&mut text, "  ", 6, &line);
    }
    text
}

/// The list for a program.
pub(super) fn json(defaults: &[DefaultUsed]) -> serde_json::Value {
    let each = defaults.iter().map(|default| {
        serde_json::json!({
            "key": default.key, "value": default.value, "source": default.source,
        })
    });
    each.collect()
}
