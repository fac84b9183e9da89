//! The words of a text as they are read on the page.

/// Words of a drawing that can be read where something of it is burned.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct Words {
    /// The words, in one line.
    pub text: String,
    /// What shows them.
    pub of: WordsOf,
}

/// What shows words.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum WordsOf {
    /// An element, an index into [`stave_toolpath::art::Art::elements`]: it is the text.
    Element(usize),
    /// A clip, an index into [`stave_toolpath::art::Art::clips`]: what it confines, or what is cut
    /// from that, has the shape of the text.
    Clip(usize),
}

/// What of a text is shown, in one line; `None` where that is nothing.
///
/// A line of its own begins a new word. Letters that are placed one by one do not.
pub(super) fn shown(text: &usvg::Text) -> Option<String> {
    let mut all = String::new();
    let mut before = 0;
    for chunk in text.chunks() {
        let visible = chunk.spans().iter().filter(|span| span.is_visible());
        let part: String =
            visible.filter_map(|span| chunk.text().get(span.start()..span.end())).collect();
        let letters = part.trim().chars().count();
        if letters == 0 {
            all.push_str(&part);
            continue;
        }
        if before > 1 || letters > 1 {
            all.push(' ');
        }
        all.push_str(&part);
        before = letters;
    }
    let words = all.split_whitespace().collect::<Vec<_>>().join(" ");
    Some(words).filter(|words| !words.is_empty())
}
