//! What the reader of drawings has to say, as findings and as sentences.

use stave_check::{Code, Finding};
use stave_parse::svg::{Notice, NoticeKind};

use super::words::listed;
use crate::nothing;

/// The finding that a notice is; `None` for one that is only worth a sentence.
fn code_of(notice: &Notice) -> Option<Code> {
    match notice.kind {
        NoticeKind::Image
        | NoticeKind::Filter
        | NoticeKind::Mask
        | NoticeKind::Clip
        | NoticeKind::Blend
        | NoticeKind::Gradient
        | NoticeKind::Pattern
        | NoticeKind::Translucent
        | NoticeKind::ForeignObject
        | NoticeKind::TooFar => Some(Code::LeftOut),
        NoticeKind::Font | NoticeKind::Glyph => Some(Code::Font),
        NoticeKind::TooLong => Some(Code::TooLong),
        NoticeKind::OffPage => Some(Code::Cut),
        NoticeKind::Size => Some(Code::Page),
        NoticeKind::Unused => Some(Code::NothingBurns),
        _ => None,
    }
}

/// The notices of a file: findings, one for each kind of what is not burned, and sentences. Alike
/// ones are one, with the first place, the count and the names.
pub(super) fn of_notices(file: &str, notices: &[Notice]) -> (Vec<Finding>, Vec<String>) {
    let mut alike: Vec<(Option<Code>, Vec<&Notice>)> = Vec::new();
    let mut known = std::collections::HashMap::new();
    for notice in notices {
        let code = code_of(notice);
        // What is left out goes by its kind, whatever the sentence names.
        let sentence = if code == Some(Code::LeftOut) { "" } else { notice.message.as_str() };
        let at = *known.entry((notice.kind, sentence)).or_insert_with(|| {
            alike.push((code, Vec::new()));
            alike.len() - 1
        });
        if let Some((_, alike)) = alike.get_mut(at) {
            alike.push(notice);
        }
    }
    let (mut findings, mut told) = (Vec::new(), Vec::new());
    for (code, alike) in &alike {
        let [first, others @ ..] = alike.as_slice() else { continue };
        let mut message = format!("{file}: {first}");
        if !others.is_empty() {
            let names: Vec<&str> = others.iter().map(|notice| notice.name.as_str()).collect();
            message.push_str(&format!("; and {} more alike: {}", others.len(), listed(&names)));
        }
        match code {
            Some(code) => {
                let finding = match code {
                    Code::NothingBurns => nothing::error(message),
                    _ => Finding::new(*code, message),
                };
                findings.push(match first.name.is_empty() {
                    true => finding,
                    false => finding.of_element(&first.name),
                });
            }
            None => told.push(message),
        }
    }
    (findings, told)
}
