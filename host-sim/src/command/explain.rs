//! What a rehearsal took for granted: every default used, with its value and its source.

use crate::compile::tuning;
use crate::files::{DefaultUsed, Setup};
use crate::report::text::wrap;
use truesoak_core::bounds::model::Model;

/// Defaults of the three files, then what was computed in their place.
pub(super) fn defaults(setup: &Setup, model: &Model) -> Vec<DefaultUsed> {
    let mut all = setup.defaults.clone();
    if setup.oven.tuning.is_none() {
        let tuned = tuning::tune(&setup.oven, model);
        for (key, value) in [
            ("gain", format!("{:.4} 1/K", tuned.gain_per_k)),
            ("integral_time", format!("{:.0} s", tuned.integral_time_s)),
            ("derivative_time", format!("{:.1} s", tuned.derivative_time_s)),
        ] {
            all.push(DefaultUsed {
                key: format!("oven.tuning.{key}"),
                value,
                source: "computed from this oven: Skogestad 2003, slowed until every corner of \
                         the spread is held with a sensitivity of 1.6 or less"
                    .to_owned(),
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
