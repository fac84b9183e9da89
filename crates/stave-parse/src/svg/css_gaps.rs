//! What style sheets and style attributes say that is not followed.
//!
//! usvg and simplecss pass over what they do not know without a word. Here a style is taken apart
//! once more, by its brackets alone, and whatever of it they do not take is told.

use std::str::FromStr as _;

use simplecss::{DeclarationTokenizer, StyleSheet};

/// Functions that stand for a value which only a browser works out.
const UNFOLLOWED: [&str; 15] = [
    "var(",
    "calc(",
    "min(",
    "max(",
    "clamp(",
    "env(",
    "attr(",
    "color-mix(",
    "light-dark(",
    "lab(",
    "lch(",
    "oklab(",
    "oklch(",
    "hwb(",
    "color(",
];

/// Properties that an SVG drawing may have as attributes alone, as far as they are followed.
const ATTRIBUTES_ALONE: [&str; 13] =
    ["x", "y", "cx", "cy", "r", "rx", "ry", "width", "height", "d", "translate", "rotate", "scale"];

/// Properties that decide what is seen, without those above.
const SEEN: [&str; 43] = [
    "clip-path",
    "clip-rule",
    "color",
    "display",
    "dominant-baseline",
    "fill",
    "fill-opacity",
    "fill-rule",
    "filter",
    "font",
    "font-family",
    "font-size",
    "font-stretch",
    "font-style",
    "font-variant",
    "font-weight",
    "letter-spacing",
    "marker",
    "marker-end",
    "marker-mid",
    "marker-start",
    "mask",
    "mix-blend-mode",
    "opacity",
    "paint-order",
    "stop-color",
    "stop-opacity",
    "stroke",
    "stroke-dasharray",
    "stroke-dashoffset",
    "stroke-linecap",
    "stroke-linejoin",
    "stroke-miterlimit",
    "stroke-opacity",
    "stroke-width",
    "text-anchor",
    "text-decoration",
    "transform",
    "transform-origin",
    "visibility",
    "word-spacing",
    "baseline-shift",
    "writing-mode",
];

/// Properties that a browser follows and nobody here, where they say more than nothing.
const NOT_FOLLOWED: [&str; 11] = [
    "-webkit-clip-path",
    "-webkit-filter",
    "-webkit-mask",
    "-webkit-mask-image",
    "-webkit-opacity",
    "font-variant-caps",
    "mask-image",
    "offset-path",
    "text-orientation",
    "text-shadow",
    "transform-box",
];

/// Units that only a browser knows the length of.
const UNFOLLOWED_UNITS: [&str; 11] =
    ["rem", "vw", "vh", "vi", "vb", "vmin", "vmax", "ch", "ic", "cap", "lh"];

/// Words that are followed only as they are written here.
const KEYWORDS: [&str; 14] = [
    "none", "inherit", "hidden", "visible", "collapse", "evenodd", "nonzero", "round", "square",
    "bevel", "miter", "middle", "end", "bold",
];

/// How much of a style a sentence shows, and how many parts.
const MOST_SHOWN: usize = 60;
const MOST_PARTS: usize = 3;

/// What of a style sheet is not followed, as the parts of a sentence.
pub(super) fn of_sheet(sheet: &str) -> Vec<String> {
    let mut told = Vec::new();
    for (selectors, body) in rules(sheet) {
        let selectors = without_comments(selectors);
        let selectors = selectors.trim();
        if selectors.starts_with('@') {
            continue;
        }
        let decides = parted(&body, b';').into_iter().filter_map(declared);
        let is_seen = decides.clone().any(|(name, _)| is_seen(name));
        // A part of an element, such as a selection, is not seen on a drawing.
        if is_seen && !is_taken(selectors) && !selectors.contains("::") {
            told.push(shown(selectors));
        }
        if body.contains('{') {
            told.push(format!("the rules within {}", shown(selectors)));
        }
        told.extend(of_declarations(&body));
    }
    told
}

/// What of the declarations of a style is not followed, as the parts of a sentence.
pub(super) fn of_declarations(style: &str) -> Vec<String> {
    let style = without_comments(style);
    let taken: Vec<(&str, &str)> =
        DeclarationTokenizer::from(begun(&style)).map(|one| (one.name, one.value)).collect();
    let is_lost = |(name, value): &(&str, &str)| {
        let one = |&(own, said): &(&str, &str)| own == *name && squeezed(said) == squeezed(value);
        let low = name.to_ascii_lowercase();
        is_seen(&low) && (ATTRIBUTES_ALONE.contains(name) || !taken.iter().any(one) || low != *name)
            || !is_followed(name, value)
    };
    let all = parted(&style, b';').into_iter().filter_map(declared);
    all.filter(is_lost).map(|(name, value)| shown(&format!("{name}: {value}"))).collect()
}

/// Whether a value of a property is one that is followed, where it is a property that is seen.
pub(super) fn is_followed(name: &str, value: &str) -> bool {
    if !is_seen(name) && !NOT_FOLLOWED.contains(&name) {
        return true;
    }
    let value = value.trim();
    let low = value.to_ascii_lowercase();
    if NOT_FOLLOWED.contains(&name) {
        return matches!(low.as_str(), "none" | "normal" | "mixed" | "view-box");
    }
    // What of clip paths is followed is told where that is done.
    if name == "clip-path" {
        return true;
    }
    let is_reset = matches!(low.as_str(), "unset" | "revert" | "revert-layer" | "initial");
    if is_reset || (low != value && KEYWORDS.contains(&low.as_str())) {
        return false;
    }
    let is_paint = matches!(name, "fill" | "stroke") && !low.starts_with("url(");
    if is_paint && svgtypes::Paint::from_str(value).is_err() {
        return false;
    }
    let is_one = low.starts_with("url(") && low.ends_with(')') && !low.contains(',');
    if name == "mask" && !is_one && !matches!(low.as_str(), "none" | "inherit") {
        return false;
    }
    let calls = |function: &&str| {
        low.match_indices(*function).any(|(at, _)| {
            let before = low.get(..at).and_then(|before| before.chars().next_back());
            !before.is_some_and(|c| c.is_alphanumeric() || c == '-' || c == '_')
        })
    };
    if UNFOLLOWED.iter().any(calls) {
        return false;
    }
    let mut words = low.split(|c: char| c == ',' || c == '/' || c.is_whitespace());
    let is_unfollowed = |word: &str| {
        let number = word.trim_end_matches(|c: char| c.is_ascii_alphabetic());
        let unit = word.get(number.len()..).unwrap_or_default();
        UNFOLLOWED_UNITS.contains(&unit) && number.parse::<f64>().is_ok()
            || (name == "font" && named_size_px(word).is_some())
    };
    if words.any(is_unfollowed) {
        return false;
    }
    let word = matches!(low.as_str(), "none" | "inherit");
    name != "transform" || word || svgtypes::Transform::from_str(value).is_ok()
}

/// A font size by name, px: as browsers have it where nothing was set (CSS Fonts Level 4, 2.5).
pub(super) fn named_size_px(name: &str) -> Option<u32> {
    let px = match name {
        "xx-small" => 9,
        "x-small" => 10,
        "small" => 13,
        "medium" => 16,
        "large" => 18,
        "x-large" => 24,
        "xx-large" => 32,
        "xxx-large" => 48,
        _ => return None,
    };
    Some(px)
}

/// A style with the names of font sizes as lengths: usvg takes them for shares of the size around.
/// `None` where there are none.
pub(super) fn with_sizes_in_px(style: &str) -> Option<String> {
    const PROPERTY: &str = "font-size";
    let (mut out, mut rest) = (String::new(), style);
    while let Some(at) = rest.find(PROPERTY) {
        let (before, after) = rest.split_at(at + PROPERTY.len());
        out.push_str(before);
        rest = after;
        let Some(value) = after.trim_start().strip_prefix(':').map(str::trim_start) else {
            continue;
        };
        let end = value.find(|c: char| !c.is_ascii_alphabetic() && c != '-');
        let (name, behind) = value.split_at(end.unwrap_or(value.len()));
        if let Some(px) = named_size_px(name) {
            out.push_str(&format!(":{px}px"));
            rest = behind;
        }
    }
    out.push_str(rest);
    (out != style).then_some(out)
}

/// Parts of a sentence, the many cut short.
pub(super) fn listed(parts: &[String]) -> String {
    let first: Vec<String> = parts.iter().take(MOST_PARTS).map(|one| format!("`{one}`")).collect();
    let more = parts.len().saturating_sub(MOST_PARTS);
    let tail = if more > 0 { format!(" and {more} more") } else { String::new() };
    format!("{}{tail}", first.join(", "))
}

/// What a style says of a property, the last word of it.
pub(super) fn said<'s>(style: &'s str, name: &str) -> Option<&'s str> {
    let said = DeclarationTokenizer::from(begun(style)).filter(|one| one.name == name);
    said.last().map(|one| one.value)
}

/// What the rules for `:root`, which no selector of the reader's finds, say of the first of some
/// properties that they name.
pub(super) fn said_of_root(sheet: &str, names: &[&str]) -> Option<String> {
    let of_root = |selectors: &str| {
        let selectors = without_comments(selectors);
        selectors.split(',').any(|one| matches!(one.trim(), ":root" | "svg:root"))
    };
    let bodies = rules(sheet).into_iter().filter(|(selectors, _)| of_root(selectors));
    let said_of = |(_, body): (&str, String)| {
        names.iter().find_map(|name| said(&body, name).map(str::to_owned))
    };
    bodies.rev().find_map(said_of)
}

/// A style attribute as its reader takes it: nothing before its first word.
pub(super) fn begun(style: &str) -> &str {
    style.trim_start_matches(|c: char| c == ';' || c.is_whitespace())
}

/// Whether a property decides what is seen.
pub(super) fn is_seen(name: &str) -> bool {
    SEEN.contains(&name) || ATTRIBUTES_ALONE.contains(&name)
}

/// Whether the selectors of a rule are all understood.
fn is_taken(selectors: &str) -> bool {
    let rule = format!("{selectors}{{fill:red}}");
    StyleSheet::parse(&rule).rules.len() == parted(selectors, b',').len()
}

fn declared(part: &str) -> Option<(&str, &str)> {
    let (name, value) = part.split_once(':')?;
    let value = value.trim();
    let value = value
        .strip_suffix("important")
        .map_or(value, |value| value.trim_end().strip_suffix('!').map_or(value, str::trim_end));
    Some((name.trim(), value))
}

fn squeezed(value: &str) -> String {
    value.chars().filter(|c| !c.is_whitespace()).collect()
}

fn shown(text: &str) -> String {
    let mut words = text.split_whitespace().collect::<Vec<_>>().join(" ");
    if words.chars().count() > MOST_SHOWN {
        words = words.chars().take(MOST_SHOWN - 1).collect();
        words.push('…');
    }
    words
}

/// The rules of a style sheet, each with what stands before its brace and within it.
fn rules(sheet: &str) -> Vec<(&str, String)> {
    let (mut rules, mut depth, mut begins, mut opens) = (Vec::new(), 0_usize, 0, 0);
    for (at, byte) in bare(sheet) {
        match byte {
            b'{' => {
                if depth == 0 {
                    opens = at;
                }
                depth += 1;
            }
            b'}' if depth > 0 => {
                depth -= 1;
                if depth == 0 {
                    let before = sheet.get(begins..opens).unwrap_or_default();
                    let inside = sheet.get(opens + 1..at).unwrap_or_default();
                    rules.push((before, without_comments(inside)));
                    begins = at + 1;
                }
            }
            // The end of a rule without a block, such as an import.
            b';' if depth == 0 => begins = at + 1,
            _ => {}
        }
    }
    rules
}

/// A text parted at each mark that stands in no brackets and no string.
fn parted(text: &str, mark: u8) -> Vec<&str> {
    let (mut parts, mut depth, mut begins) = (Vec::new(), 0_usize, 0);
    for (at, byte) in bare(text) {
        match byte {
            b'(' | b'[' | b'{' => depth += 1,
            b')' | b']' | b'}' => depth = depth.saturating_sub(1),
            _ if byte == mark && depth == 0 => {
                parts.extend(text.get(begins..at));
                begins = at + 1;
            }
            _ => {}
        }
    }
    parts.extend(text.get(begins..));
    parts
}

/// The bytes of a style that stand in no string and no comment, with their places.
fn bare(text: &str) -> impl Iterator<Item = (usize, u8)> {
    let bytes = text.as_bytes();
    let mut at = 0;
    std::iter::from_fn(move || {
        loop {
            let byte = *bytes.get(at)?;
            let here = at;
            at += 1;
            match byte {
                b'"' | b'\'' => {
                    while bytes.get(at).is_some_and(|b| *b != byte && *b != b'\n') {
                        at += if bytes[at] == b'\\' { 2 } else { 1 };
                    }
                    at += 1;
                }
                b'/' if bytes.get(at) == Some(&b'*') => {
                    let rest = bytes.get(at + 1..).unwrap_or_default();
                    let end = rest.windows(2).position(|two| two == b"*/");
                    at = end.map_or(bytes.len(), |end| at + 1 + end + 2);
                }
                _ => return Some((here, byte)),
            }
        }
    })
}

fn without_comments(text: &str) -> String {
    let mut rest = text;
    let mut out = String::new();
    while let Some((before, after)) = rest.split_once("/*") {
        out.push_str(before);
        rest = after.split_once("*/").map_or("", |(_, after)| after);
    }
    out + rest
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_followed_is_not_told() {
        let sheet = "/* marks */ .a, g > .b[fill='x;y{'] { fill: #c01818; stroke:none !important }
            #c:first-child{font:bold 12px 'Oar; Tide';transform:rotate(30) translate(2,3)}
            svg:not(:root){overflow:hidden} .d{fill:url(#e);clip-path:circle(20px at 3px 4px)}
            .f::selection{fill:red} @media print{.a{fill:calc(1)}} @import 'x'; .g{opacity:50%}
            .h{stroke-dasharray:4 2,1;cursor:var(--x);-x-own:1;fill:rgb(1,2,3)}";
        assert_eq!(of_sheet(sheet), [""; 0]);
        assert_eq!(of_declarations(";fill:red;;stroke : blue ;"), [""; 0]);
        assert!(is_followed("fill", "Red") && is_followed("stroke", "url(#a) none"));
        assert!(is_followed("font-family", "colorful()") && is_followed("class", "var(--x)"));
    }

    #[test]
    fn sizes_by_name_are_lengths() {
        let of = |style: &str| with_sizes_in_px(style);
        assert_eq!(of("fill:red;font-size : x-large").unwrap(), "fill:red;font-size:24px");
        let sheet = ".a{font-size:small}.b{font-size:smaller;font-size:medium !important}";
        let told = ".a{font-size:13px}.b{font-size:smaller;font-size:16px !important}";
        assert_eq!(of(sheet).unwrap(), told);
        assert_eq!(of("font-size-adjust:none;font-size:12px;font-size"), None);
        assert!(!is_followed("font", "large Plank") && is_followed("font", "12px/1.5 Plank"));
        assert!(!is_followed("stroke-width", "1rem") && !is_followed("font-size", "2.5vw"));
        assert!(is_followed("font-family", "Plank rem") && is_followed("stroke-width", ".5mm"));
    }

    #[test]
    fn what_is_not_followed_is_told() {
        let sheet = ":root{--ink:#c01818} .a{fill:var(--ink)} .a:not(.b),.c{fill:red}
            .d{stroke-width:calc(1px + (2px));stroke:red} .e{transform:rotate(30deg)} .f{r:4px}
            .g{fill:red;.h{fill:blue}} li:nth-child(2){opacity:0} .i{mask-image:none;DISPLAY:none}
            .j{display:None;fill:Canvas;stroke:unset;mask:url(#m),url(#n);transform-box:fill-box}";
        assert_eq!(
            of_sheet(sheet),
            [
                "fill: var(--ink)",
                ".a:not(.b),.c",
                "stroke-width: calc(1px + (2px))",
                "stroke: red",
                "transform: rotate(30deg)",
                "r: 4px",
                "the rules within .g",
                "li:nth-child(2)",
                "DISPLAY: none",
                "display: None",
                "fill: Canvas",
                "stroke: unset",
                "mask: url(#m),url(#n)",
                "transform-box: fill-box",
            ]
        );
        let many: Vec<String> = (0..5).map(|k| format!("r: {k}")).collect();
        assert_eq!(listed(&many), "`r: 0`, `r: 1`, `r: 2` and 2 more");
    }
}
