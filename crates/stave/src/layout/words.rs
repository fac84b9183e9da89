//! What a person should know of a layout.

use stave_setup::{Job, Pick};
use stave_toolpath::art::{Art, Choice, Division, Why};

use super::PlacedOperation;

/// How many names one sentence lists.
const MOST_NAMES: usize = 20;

/// Ids in `[[piece]]` entries that nothing drawn has.
pub(super) fn unknown_pieces(division: &Division, job: &Job) -> Vec<String> {
    let id = |&(rule, index): &(usize, usize)| {
        Some(job.pieces.get(rule)?.ids.get(index)?.value.as_str())
    };
    let unknown: Vec<&str> = division.unknown.iter().filter_map(id).collect();
    if unknown.is_empty() {
        return Vec::new();
    }
    vec![format!("[[piece]] names what is not drawn: {}", listed(&unknown))]
}

/// Elements that nothing burns.
pub(super) fn left_out(art: &Art, choice: &Choice) -> Vec<String> {
    let names = |why: Why| -> Vec<&str> {
        let these = choice.left_out.iter().filter(|left| left.why == why);
        these.filter_map(|left| art.elements.get(left.element)).map(|e| e.name.as_str()).collect()
    };
    let (unpicked, white) = (names(Why::Unpicked), names(Why::White));
    let mut told = Vec::new();
    if !unpicked.is_empty() {
        told.push(format!(
            "no operation picks these, and they are left out: {}",
            listed(&unpicked)
        ));
    }
    if !white.is_empty() {
        told.push(format!("white is bare ware, and these are not burned: {}", listed(&white)));
    }
    told
}

/// Operations that pick nothing.
pub(super) fn idle_operations(operations: &[PlacedOperation], job: &Job) -> Vec<String> {
    let idle = operations.iter().zip(&job.operations).filter(|(placed, _)| placed.parts.is_empty());
    idle.map(|(placed, rule)| {
        let what = match &rule.pick.value {
            Pick::Fill(colour) => format!("is filled with {colour}"),
            Pick::Stroke(colour) => format!("is outlined with {colour}"),
            Pick::Id(id) => format!("has the id \"{id}\""),
        };
        format!("operation \"{}\" burns nothing: nothing drawn {what}", placed.name)
    })
    .collect()
}

/// Names with commas, the many cut short.
pub(crate) fn listed(names: &[&str]) -> String {
    let mut text = names.iter().take(MOST_NAMES).copied().collect::<Vec<_>>().join(", ");
    if names.len() > MOST_NAMES {
        text.push_str(&format!(" and {} more", names.len() - MOST_NAMES));
    }
    text
}
