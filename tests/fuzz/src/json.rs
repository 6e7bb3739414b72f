//! JSON: the file of a bare network, and the first line of a log.

use truesoak::bare::{self, BareNetwork};
use truesoak::log::Header;

pub(crate) fn run(input: &[u8]) {
    let Some((which, text)) = input.split_first() else { return };
    if which % 3 == 0 { header(text) } else { network(text) }
}

/// A header comes back as it was written.
fn header(text: &[u8]) {
    let Ok(header) = serde_json::from_slice::<Header>(text) else { return };
    let written = serde_json::to_string(&header).expect("a header is written");
    let again: Header = serde_json::from_str(&written).expect("what is written is read");
    assert_eq!(again, header);
}

/// What is built starts finite and is followed in stretches that go forward to its end; what is
/// refused says why.
fn network(text: &[u8]) {
    let Ok(net) = serde_json::from_slice::<BareNetwork>(text) else { return };
    match bare::build(&net) {
        Ok(bare) => {
            let stretches = bare.stretches();
            assert!(stretches.windows(2).all(|pair| pair[0].to_s < pair[1].to_s));
            assert_eq!(stretches.last().map(|last| last.to_s), Some(net.duration_s));
            let finite = |values: &[f64]| values.iter().all(|value| value.is_finite());
            let sound = |to: &truesoak::plant::open_loop::Stretch| {
                finite(&to.scales) && finite(&to.sources_w) && to.sources_w.len() == net.nodes.len()
            };
            assert!(stretches.iter().all(sound), "{stretches:?}");
        }
        Err(faults) => {
            assert!(!faults.is_empty());
            let said = |fault: &bare::Fault| !fault.what.is_empty() && !fault.next.is_empty();
            assert!(faults.iter().all(said), "{faults:?}");
        }
    }
}
