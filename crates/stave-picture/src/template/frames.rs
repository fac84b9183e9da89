//! The frames of art: where each piece will be burned.

use std::f64::consts::{PI, TAU};

use kurbo::Rect;

use super::page::Page;
use super::{Frame, TemplateSetting};
use crate::draw::{Drawing, FRAME, share_within};
use crate::svg::isolated;

/// Of a frame that goes around farther than this many turns the first and the last are drawn.
const MOST_TURNS: f64 = 8.0;

/// Where art will be burned: a line around each piece.
pub(super) fn frames(page: &Page<'_>) -> Drawing {
    let mut out = Drawing::default();
    for line in frame_lines(page) {
        let style = format!("class=\"frame\" stroke=\"{FRAME}\" stroke-width=\"0.35\"");
        match (line.first(), line.last()) {
            (Some(first), Some(last)) if first == last && line.len() > 2 => {
                out.shape(&line[1..], &style);
            }
            _ => out.line(&line, &style),
        }
    }
    out
}

/// The lines of all frames on the page.
pub(super) fn frame_lines(page: &Page<'_>) -> Vec<Vec<(f64, f64)>> {
    let frames = page.setting.frames.iter();
    frames.flat_map(|frame| parts(page, frame)).flatten().collect()
}

/// What is said at a frame: its name and how large it was drawn.
pub(super) fn frame_name(page: &Page<'_>, frame: &Frame) -> String {
    let (unit, name) = (page.blank.unit(), isolated(&frame.name));
    match frame.drawn_mm {
        None => name.into_owned(),
        Some((around, along)) => {
            let (around, along) = (unit.figure(around + 0.0, 1), unit.told(along + 0.0, 1));
            format!("{name}: {around} × {along}")
        }
    }
}

/// The lines of a frame on the page: those of each turn that it takes part in, over the seam two;
/// what lies off the wall is left out.
pub(super) fn parts(page: &Page<'_>, frame: &Frame) -> Vec<Vec<Vec<(f64, f64)>>> {
    let turns = frame.outline.iter().map(|place| place.1).filter(|turn| turn.is_finite());
    let ends = (f64::INFINITY, f64::NEG_INFINITY);
    let (low, high) = turns.fold(ends, |(low, high), turn| (low.min(turn), high.max(turn)));
    if low > high {
        return Vec::new();
    }
    let [first, last] = [low, high].map(|turn| ((turn + PI) / TAU).floor());
    let TemplateSetting { is_plane, .. } = page.setting;
    // Nothing goes around a flat place.
    let (first, last) = if *is_plane { (0.0, 0.0) } else { (first, last) };
    let mut found = Vec::new();
    let mut turn = first;
    while turn <= last {
        let lines = clipped(page, &frame.outline, -TAU * turn);
        if !lines.is_empty() {
            found.push(lines);
        }
        turn += 1.0;
        if turn - first >= 0.5 * MOST_TURNS {
            turn = turn.max(last + 1.0 - 0.5 * MOST_TURNS);
        }
    }
    found
}

/// The lines of a closed outline, turned by so much, that lie on the page.
fn clipped(page: &Page<'_>, outline: &[(f64, f64)], by_rad: f64) -> Vec<Vec<(f64, f64)>> {
    let mut lines: Vec<Vec<(f64, f64)>> = Vec::new();
    // Within half a turn.
    let wall = Rect::new(0.0, -PI, page.length_mm, PI);
    let mut open = false;
    let ends = outline.iter().cycle().skip(1);
    let turned = |place: &(f64, f64)| (place.0, place.1 + by_rad);
    for (from, to) in outline.iter().zip(ends) {
        let (from, to) = (turned(from), turned(to));
        let Some((a, b)) = share_within(from, to, wall) else {
            open = false;
            continue;
        };
        let place = |share: f64| {
            let between = |from: f64, to: f64| from + share * (to - from);
            let (s, turn) = match share {
                1.0 => to,
                _ => (between(from.0, to.0), between(from.1, to.1)),
            };
            page.place(s, turn * page.per_rad(&page.section(s)))
        };
        match lines.last_mut() {
            Some(line) if open && a == 0.0 => line.push(place(b)),
            _ => lines.push(vec![place(a), place(b)]),
        }
        open = b == 1.0;
    }
    // Where the outline was begun in the middle of a line, its two ends are one.
    if open
        && lines.len() > 1
        && let (Some(first), Some(last)) = (lines.first().cloned(), lines.last_mut())
        && last.last() == first.first()
    {
        last.extend(first.into_iter().skip(1));
        lines.swap_remove(0);
    }
    lines.retain(|line| line.windows(2).any(|ends| ends[0] != ends[1]));
    lines
}

#[cfg(test)]
mod tests {
    use stave_setup::{Blank, Stands};

    use super::super::margin::margin;
    use super::super::names::names;
    use super::super::template;
    use super::*;
    use crate::draw::assert_words_apart;

    fn can() -> Blank {
        let text = "[[station]]\nat = 0\ndiameter = 80\n[[station]]\nat = 100\ndiameter = 80\n\
                    [[zone]]\nname = \"boss\"\nat = [10, 20]\nturn = [170, 190]\nmargin = 1\n";
        stave_setup::read_blank(text, "can.toml").unwrap()
    }

    /// A frame between places of the meridian, mm, and turns, degrees.
    fn frame(name: &str, (low, high): (f64, f64), turn_deg: (f64, f64)) -> Frame {
        let (from, to) = (turn_deg.0.to_radians(), turn_deg.1.to_radians());
        Frame {
            name: name.to_owned(),
            drawn_mm: Some((40.0 * (to - from), high - low)),
            outline: vec![(low, from), (high, from), (high, to), (low, to)],
        }
    }

    fn setting(stands: Stands, frames: Vec<Frame>) -> TemplateSetting {
        TemplateSetting {
            title: "can".to_owned(),
            date: String::new(),
            reference_radius_mm: 40.0,
            stands,
            narrows: false,
            ten_mm: Vec::new(),
            lay: "true-width".to_owned(),
            margin_mm: 0.0,
            is_plane: false,
            sharp: None,
            frames,
        }
    }

    /// On the page a radian is 40 mm, the seam lies at both edges, and what is off the wall is not
    /// there.
    #[test]
    fn a_frame_is_drawn_where_it_lies() {
        let blank = can();
        let lines = |frame: Frame| {
            let setting = setting(Stands::Upright, vec![frame]);
            frame_lines(&Page::new(&blank, &setting))
        };
        let half = 40.0 * PI;
        let quarter = 0.25 * half;
        let whole = lines(frame("a", (20.0, 50.0), (-45.0, 45.0)));
        let (left, right) = (half - quarter, half + quarter);
        let corners = [(right, 80.0), (right, 50.0), (left, 50.0), (left, 80.0), (right, 80.0)];
        assert_eq!(whole.len(), 1);
        let off = |a: &(f64, f64), b: &(f64, f64)| (a.0 - b.0).abs().max((a.1 - b.1).abs());
        assert!(
            whole[0].len() == 5 && whole[0].iter().zip(&corners).all(|(a, b)| off(a, b) < 1e-9)
        );
        // 45 degrees before the seam and 90 past it, which are there at the other edge.
        let seam = lines(frame("a", (20.0, 50.0), (135.0, 270.0)));
        assert_eq!(seam.len(), 2, "{seam:?}");
        let reach = |line: &[(f64, f64)]| {
            let x = line.iter().map(|point| point.0);
            (x.clone().fold(f64::INFINITY, f64::min), x.fold(0.0, f64::max))
        };
        let (first, last) = (reach(&seam[0]), reach(&seam[1]));
        assert!(first.0.abs() < 1e-9 && (first.1 - quarter).abs() < 1e-9, "{first:?}");
        assert!((last.0 - 1.5 * half).abs() < 1e-9, "{last:?}");
        assert!((last.1 - 2.0 * half).abs() < 1e-9, "{last:?}");
        // What reaches past the rim is open there.
        let open = lines(frame("a", (80.0, 120.0), (-45.0, 45.0)));
        assert_eq!(open.len(), 1);
        assert!(open[0].iter().all(|point| point.1 >= 0.0 && point.1 <= 20.0), "{open:?}");
        assert!(open[0].first() != open[0].last());
        assert_eq!(lines(frame("a", (120.0, 140.0), (0.0, 45.0))), Vec::<Vec<_>>::new());
        // So many turns that nobody would see one from the next.
        assert!(lines(frame("a", (20.0, 50.0), (0.0, 3.6e9))).len() < 40);
    }

    #[test]
    fn frames_are_named_with_their_sizes_and_their_names_keep_apart() {
        let frames = vec![
            frame("a crest", (20.0, 60.0), (-40.0, 40.0)),
            frame("a motto with a long name that is cut", (25.0, 55.0), (-30.0, 35.0)),
            frame("name", (10.0, 95.0), (140.0, 200.0)),
        ];
        let blank = can();
        for stands in [Stands::Upright, Stands::Lying, Stands::Inverted] {
            let setting = setting(stands, frames.clone());
            let page = Page::new(&blank, &setting);
            let (width, height) = page.size();
            let (mut all, of_frames) = names(&page);
            let named = |text: &str| of_frames.words.iter().any(|(_, word)| word == text);
            assert!(named("a crest: 55.9 × 40 mm"), "{:?}", of_frames.words);
            assert_eq!(of_frames.words.len(), 4, "over the seam either part has its name");
            all.append(of_frames);
            assert_words_apart(&all, Rect::new(0.0, 0.0, width, height));
            all.append(margin(&page));
            assert_words_apart(&all, Rect::new(0.0, -3.0, width + 250.0, height + 150.0));
            // Whole in the margin.
            let told = "a motto with a long name that is cut: 45.4 × 30 mm";
            assert!(all.words.iter().any(|(_, text)| text.contains(told)), "{:?}", all.words);
        }
        // What goes all around and a hair over the seam is named once.
        let wrap = setting(Stands::Upright, vec![frame("wrap", (20.0, 60.0), (-180.5, 180.5))]);
        let page = Page::new(&blank, &wrap);
        assert_eq!((frame_lines(&page).len(), names(&page).1.words.len()), (4, 1));
        let bare = template(&blank, &setting(Stands::Upright, Vec::new()));
        assert!(!bare.contains("frames") && !bare.contains("Green"));
    }
}
