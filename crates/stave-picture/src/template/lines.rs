//! What the lines of the page cover, so that no word is crossed by one.

use std::f64::consts::PI;

use kurbo::Rect;

use super::frames::frame_lines;
use super::guides::focus_strips;
use super::page::Page;

/// Lines of the page are a hair; words keep so far off their middle.
pub(super) const HAIR_MM: f64 = 0.12;

/// What the lines of front and quarters cover.
pub(super) fn turn_lines(page: &Page<'_>) -> Vec<Rect> {
    let turns: &[f64] = if page.setting.is_plane { &[0.0] } else { &[0.0, -0.5 * PI, 0.5 * PI] };
    covered(turns.iter().map(|turn| page.meridian(*turn, 0.0, page.length_mm)))
}

/// The same of the page's other lines: its stations, its edges, the strips along them.
pub(super) fn other_lines(page: &Page<'_>) -> Vec<Rect> {
    let around = page.drawn_stations().into_iter().map(|station| {
        let s = page.blank.wall.s_of_at(station.at_mm);
        let half = PI * page.per_rad(&page.section(s));
        vec![page.place(s, half), page.place(s, -half)]
    });
    let edges = [PI, -PI].map(|turn| page.meridian(turn, 0.0, page.length_mm));
    let strips = focus_strips(page).into_iter().map(|strip| {
        let mut strip = strip.to_vec();
        strip.extend(strip.first().copied());
        strip
    });
    covered(around.chain(edges).chain(strips))
}

/// The same of the frames of art.
pub(super) fn lines_of_frames(page: &Page<'_>) -> Vec<Rect> {
    covered(frame_lines(page).into_iter())
}

/// What lines cover: one that narrows with the wall is taken piece by piece.
fn covered(lines: impl Iterator<Item = Vec<(f64, f64)>>) -> Vec<Rect> {
    let pieces = lines.flat_map(|line| {
        line.windows(2).map(|ends| Rect::from_points(ends[0], ends[1])).collect::<Vec<_>>()
    });
    pieces.map(|piece| piece.inflate(HAIR_MM, HAIR_MM)).collect()
}

#[cfg(test)]
mod tests {
    use stave_setup::Stands;

    use super::super::names::names;
    use super::super::{Sharp, TemplateSetting};
    use super::*;

    /// Zones and a flat place on the front, on a quarter and over stations, on a wall that narrows
    /// and on one that does not: every word of theirs is there, and no line goes through one.
    #[test]
    fn no_line_strikes_through_a_word() {
        let station =
            |at: u32, across: u32| format!("[[station]]\nat = {at}\ndiameter = {across}\n");
        let ware = [(0, 60), (22, 60), (27, 62), (32, 60), (80, 80)];
        let mut text: String = ware.map(|(at, across)| station(at, across)).concat();
        for (name, at, turn) in [
            ("mark", "[20, 34]", "[-30, 30]"),
            ("handle", "[5, 70]", "[160, 200]"),
            ("dent", "[50, 52]", "[-92, -88]"),
            ("grip", "[52, 70]", "[70, 110]"),
        ] {
            text += &format!("[[zone]]\nname = \"{name}\"\nat = {at}\nturn = {turn}\n");
        }
        text += "[[facet]]\nname = \"flat\"\nturn = 0\nat = [40, 70]\nwidth = 30\nheight = 28\n";
        let blank = stave_setup::read_blank(&text, "ware.toml").unwrap();
        for (stands, narrows) in [
            (Stands::Upright, false),
            (Stands::Upright, true),
            (Stands::Inverted, true),
            (Stands::Lying, false),
        ] {
            let setting = TemplateSetting {
                title: "ware".to_owned(),
                date: String::new(),
                reference_radius_mm: blank.wall.largest_radius_mm(),
                stands,
                narrows,
                ten_mm: Vec::new(),
                lay: "true-width".to_owned(),
                margin_mm: 1.0,
                is_plane: false,
                sharp: Some(Sharp {
                    tilt_rad: 0.0,
                    focus_at_mm: 30.0,
                    focus_turn_rad: None,
                    s_mm: vec![(5.0, 60.0)],
                }),
                frames: Vec::new(),
            };
            let page = Page::new(&blank, &setting);
            let words = names(&page).0.words;
            for name in ["mark", "handle", "dent", "grip", "flat"] {
                let (rect, _) = words.iter().find(|(_, text)| text == name).unwrap();
                let mut lines = other_lines(&page);
                // A zone's fill hides the turns.
                if !["mark", "grip"].contains(&name) {
                    lines.extend(turn_lines(&page));
                }
                let struck = lines.into_iter().find(|line| line.intersect(*rect).area() > 0.0);
                assert_eq!(struck, None, "{stands:?}, narrows: {narrows}, {name:?} at {rect:?}");
            }
        }
    }
}
