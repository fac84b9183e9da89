//! How wide words come out, before anyone has set them.

/// Advance widths of the characters from blank to `~` in DejaVu Sans 2.37 (its `hmtx` table),
/// thousandths of the size. It is the widest of the fonts that commonly stand for `sans-serif`, so
/// that what fits by it fits by the others.
const ADVANCE: [u16; 95] = [
    318, 401, 460, 838, 636, 950, 780, 275, 390, 390, 500, 838, 318, 361, 318, 337, 636, 636, 636,
    636, 636, 636, 636, 636, 636, 636, 337, 337, 838, 838, 838, 531, 1000, 684, 686, 698, 770, 632,
    575, 775, 752, 295, 295, 656, 557, 863, 748, 787, 603, 787, 695, 635, 611, 732, 684, 989, 685,
    611, 685, 390, 337, 390, 838, 500, 500, 613, 635, 550, 635, 615, 352, 635, 634, 278, 278, 579,
    278, 974, 634, 612, 635, 635, 411, 521, 392, 634, 592, 818, 592, 592, 525, 636, 337, 636, 838,
];
/// Letters with marks, Greek, Cyrillic, signs of measure: few are wider.
const OTHER: u16 = 850;
/// Ideographs and the like stand in a square.
const SQUARE: u16 = 1000;
/// Bold is wider by this, over a text (the same fonts).
pub(crate) const BOLD: f64 = 1.14;

fn advance(letter: char) -> u16 {
    let code = u32::from(letter);
    let known = code.checked_sub(32).and_then(|n| ADVANCE.get(usize::try_from(n).ok()?));
    match known {
        Some(width) => *width,
        None if code < 32 => 0,
        // Marks that only tell which way is read.
        None if matches!(letter, '\u{2066}'..='\u{2069}') => 0,
        None if code >= 0x1100 => SQUARE,
        None => OTHER,
    }
}

/// At most how wide a text comes out at a size, mm.
pub(crate) fn text_width_mm(text: &str, size_mm: f64) -> f64 {
    text.chars().map(|letter| f64::from(advance(letter))).sum::<f64>() * size_mm / 1000.0
}

/// Words broken at blanks into lines no wider than a width; a word that is wider by itself is
/// broken inside: nothing is left out.
pub(crate) fn broken(text: &str, size_mm: f64, width_mm: f64) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    let mut line = String::new();
    for word in text.split_whitespace() {
        let longer = if line.is_empty() { word.to_owned() } else { format!("{line} {word}") };
        if text_width_mm(&longer, size_mm) <= width_mm {
            line = longer;
            continue;
        }
        if !line.is_empty() {
            lines.push(std::mem::take(&mut line));
        }
        for letter in word.chars() {
            let mut longer = line.clone();
            longer.push(letter);
            if !line.is_empty() && text_width_mm(&longer, size_mm) > width_mm {
                lines.push(std::mem::take(&mut line));
            }
            line.push(letter);
        }
    }
    if !line.is_empty() {
        lines.push(line);
    }
    lines
}

/// A text cut to a width, with a sign that it goes on.
pub(crate) fn cut(text: &str, size_mm: f64, width_mm: f64) -> String {
    if text_width_mm(text, size_mm) <= width_mm {
        return text.to_owned();
    }
    let room = width_mm - text_width_mm("…", size_mm);
    let mut out = String::new();
    let mut width = 0.0;
    for letter in text.chars() {
        width += f64::from(advance(letter)) * size_mm / 1000.0;
        if width > room {
            break;
        }
        out.push(letter);
    }
    out.push('…');
    out
}

/// A name with a date after it, if there is one: a name too long for the width is cut, the date is
/// not.
pub(crate) fn dated(name: &str, date: &str, size_mm: f64, width_mm: f64) -> String {
    if date.is_empty() {
        return cut(name, size_mm, width_mm);
    }
    let date = format!(", {date}");
    cut(name, size_mm, width_mm - text_width_mm(&date, size_mm)) + &date
}

/// Words broken into lines, of which there are so many at the most: the last ends with a sign where
/// the text goes on.
pub(crate) fn broken_to(text: &str, size_mm: f64, width_mm: f64, most: usize) -> Vec<String> {
    let mut lines = broken(text, size_mm, width_mm);
    if lines.len() > most {
        lines.truncate(most);
        if let Some(last) = lines.last_mut() {
            let goes_on = format!("{last} …");
            let fits = text_width_mm(&goes_on, size_mm) <= width_mm;
            *last = if fits { goes_on } else { cut(&format!("{last}…"), size_mm, width_mm) };
        }
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_text_that_goes_on_says_so() {
        let text = "one two three four five six";
        let width = text_width_mm("three four", 3.0) + 0.01;
        assert_eq!(broken_to(text, 3.0, width, 5).join(" "), text);
        let lines = broken_to(text, 3.0, width, 2);
        assert_eq!(lines.len(), 2);
        assert!(lines[1].ends_with('…') && !lines[1].ends_with("……"), "{lines:?}");
        assert!(lines.iter().all(|line| text_width_mm(line, 3.0) <= width), "{lines:?}");
        assert!(broken_to(text, 3.0, width, 0).is_empty());
    }

    #[test]
    fn a_long_name_leaves_its_date_whole() {
        let date = "2026-11-30";
        assert_eq!(dated("cup", "", 3.0, 50.0), "cup");
        assert_eq!(dated("cup", date, 3.0, 50.0), "cup, 2026-11-30");
        let long = dated(&"a cup ".repeat(20), date, 3.0, 50.0);
        assert!(long.ends_with("…, 2026-11-30") && text_width_mm(&long, 3.0) <= 50.0, "{long}");
    }

    #[test]
    fn words_break_at_blanks_and_are_cut_where_they_must() {
        let width = text_width_mm("one two", 3.0) + 0.01;
        assert_eq!(broken("one two  three", 3.0, width), ["one two", "three"]);
        assert_eq!(broken("", 3.0, 10.0), Vec::<String>::new());
        let cut = cut("boathouse", 3.0, 12.0);
        assert!(cut.starts_with("boat") && cut.ends_with('…'), "{cut}");
        assert!(text_width_mm(&cut, 3.0) <= 12.0 && text_width_mm("", 3.0) == 0.0);
        let lines = broken("a verylongwordindeed b", 3.0, 12.0);
        assert!(lines.iter().all(|line| text_width_mm(line, 3.0) <= 12.0), "{lines:?}");
        assert_eq!(lines.concat().replace(' ', ""), "averylongwordindeedb");
    }
}
