//! Letters of single lines, for texts that are burned along their strokes.
//!
//! The Hershey tables (see `line_fonts/NOTICE`) are made into fonts as all others are, so that
//! texts are laid out by the same rules whatever letters they are in. A glyph of such a font runs
//! along each stroke and back: it encloses nothing, and [`unfold`] takes the way back away.

use std::collections::BTreeMap;

use kurbo::{BezPath, Point};
use usvg::fontdb::Database;
use usvg::tiny_skia_path::{Path, PathSegment};

use super::truetype;

/// The families that there are, and the table of each.
pub(super) const FAMILIES: [(&str, &str); 3] =
    [("stave-line", SIMPLEX), ("Hershey Simplex", SIMPLEX), ("Hershey Script", SCRIPT)];

const SIMPLEX: &str = include_str!("line_fonts/simplex.jhf");
const SCRIPT: &str = include_str!("line_fonts/script.jhf");

/// Units of the em for a unit of the tables: capitals, 21 high, are 0.7 em.
const SCALE: i16 = 300;
/// The em.
const EM: i16 = 30 * SCALE;
/// The base line of the tables, y downward.
const BASE: i16 = 9;
/// The height of a letter without ascender.
const X_HEIGHT: i16 = -5;
/// Room above the base line and below it, in units of the tables.
const ABOVE: i16 = 25;
const BELOW: i16 = 7;
/// How wide the stroke is that shows such letters where the drawing gives them none, em.
pub(super) const SHOWN_EM: f64 = 0.05;

/// Whether a family is one of single lines.
pub(super) fn is_line_family(name: &str) -> bool {
    FAMILIES.iter().any(|(family, _)| *family == name)
}

/// Adds the fonts.
pub(super) fn load(database: &mut Database) {
    for (family, table) in FAMILIES {
        database.load_font_data(font(family, table));
    }
}

/// A letter: its margins and its strokes, in units of the tables.
#[derive(Clone, Debug, Default)]
struct Letter {
    left: i16,
    right: i16,
    strokes: Vec<Vec<(i16, i16)>>,
}

fn font(family: &str, table: &str) -> Vec<u8> {
    let mut letters: BTreeMap<char, Letter> = BTreeMap::new();
    for (code, line) in (32_u8..127).zip(table.lines()) {
        letters.insert(char::from(code), letter(line));
    }
    add_like(&mut letters);
    add_accented(&mut letters);
    let glyph = |(&character, letter): (&char, &Letter)| {
        let contours = letter.strokes.iter().map(|stroke| there_and_back(stroke, letter.left));
        let mut contours: Vec<Vec<(i16, i16)>> = contours.collect();
        give_an_inside(&mut contours);
        let advance = (letter.right - letter.left) * SCALE;
        truetype::Glyph { character, advance, contours }
    };
    let glyphs: Vec<truetype::Glyph> = letters.iter().map(glyph).collect();
    truetype::font(family, EM, (ABOVE * SCALE, -BELOW * SCALE), &glyphs)
}

/// A line of a table.
fn letter(line: &str) -> Letter {
    let value = |byte: u8| i16::from(byte) - i16::from(b'R');
    let mut pairs = line.as_bytes().get(8..).unwrap_or_default().chunks_exact(2);
    let Some([left, right]) = pairs.next() else { return Letter::default() };
    let mut letter = Letter { left: value(*left), right: value(*right), strokes: vec![Vec::new()] };
    for pair in pairs {
        match (pair, letter.strokes.last_mut()) {
            ([b' ', b'R'], _) => letter.strokes.push(Vec::new()),
            ([x, y], Some(stroke)) => stroke.push((value(*x), value(*y))),
            _ => {}
        }
    }
    letter.strokes.retain(|stroke| stroke.len() > 1);
    letter
}

/// Characters that look like one that is there, at this size and without serifs.
fn add_like(letters: &mut BTreeMap<char, Letter>) {
    let like = [
        ('\u{a0}', ' '),
        ('\u{2013}', '-'),
        ('\u{2014}', '-'),
        ('\u{2212}', '-'),
        ('\u{2018}', '\''),
        ('\u{2019}', '\''),
        ('\u{201a}', ','),
        ('\u{201c}', '"'),
        ('\u{201d}', '"'),
        ('\u{d7}', 'x'),
    ];
    for (character, other) in like {
        if let Some(letter) = letters.get(&other).cloned() {
            letters.insert(character, letter);
        }
    }
    // The tables have no such letter.
    let sharp_s = [
        (-5, 9),
        (-5, -8),
        (-4, -11),
        (-2, -12),
        (1, -12),
        (3, -11),
        (4, -9),
        (4, -7),
        (3, -5),
        (1, -4),
        (3, -3),
        (5, -1),
        (6, 2),
        (6, 4),
        (5, 7),
        (3, 9),
        (0, 9),
        (-2, 8),
    ];
    letters.insert('ß', Letter { left: -9, right: 10, strokes: vec![sharp_s.to_vec()] });
}

/// Letters of the Latin scripts that are made of a letter and a mark: each, its letter, its mark.
const ACCENTED: &str = "\
    ÀA`ÁA´ÂA^ÃA~ÄA¨ÅA°ĀA¯ĂA¯ÇC¸ĆC´ČCˇĎDˇÈE`ÉE´ÊE^ËE¨ĒE¯ĖE˙ĚEˇĞGˇĢG¸ÌI`ÍI´ÎI^ÏI¨ĪI¯İI˙ĶK¸ĹL´ĻL¸ŁL/\
    ÑN~ŃN´ŅN¸ŇNˇÒO`ÓO´ÔO^ÕO~ÖO¨ŌO¯ŐO˝ØO/ŔR´ŘRˇŚS´ŞS¸ŠSˇȘS¸ŤTˇȚT¸ÙU`ÚU´ÛU^ÜU¨ŪU¯ŮU°ŰU˝ÝY´ŸY¨ŹZ´\
    ŻZ˙ŽZˇàa`áa´âa^ãa~äa¨åa°āa¯ăa¯çc¸ćc´čcˇďdˇèe`ée´êe^ëe¨ēe¯ėe˙ěeˇğgˇģg¸ìi`íi´îi^ïi¨īi¯ķk¸ĺl´\
    ļl¸łl/ñn~ńn´ņn¸ňnˇòo`óo´ôo^õo~öo¨ōo¯őo˝øo/ŕr´řrˇśs´şs¸šsˇșs¸ťtˇțt¸ùu`úu´ûu^üu¨ūu¯ůu°űu˝ýy´\
    ÿy¨źz´żz˙žzˇ";

fn add_accented(letters: &mut BTreeMap<char, Letter>) {
    let all: Vec<char> = ACCENTED.chars().collect();
    for three in all.chunks_exact(3) {
        let &[character, base, mark] = three else { continue };
        let Some(mut letter) = letters.get(&base).cloned() else { continue };
        if base == 'i' {
            // The mark takes the dot's place.
            letter.strokes.retain(|stroke| stroke.iter().any(|(_, y)| *y >= X_HEIGHT));
        }
        let marks = strokes_of_mark(mark, &letter);
        letter.strokes.extend(marks);
        letters.insert(character, letter);
    }
}

/// A mark's strokes over, under or through a letter.
fn strokes_of_mark(mark: char, letter: &Letter) -> Vec<Vec<(i16, i16)>> {
    let points = || letter.strokes.iter().flatten();
    let (low, high) =
        points().fold((i16::MAX, i16::MIN), |(low, high), (x, _)| (low.min(*x), high.max(*x)));
    let middle = (i32::from(low) + i32::from(high)) / 2;
    let middle = i16::try_from(middle).unwrap_or_default();
    let top = points().map(|(_, y)| *y).min().unwrap_or_default();
    let dot = |x: i16| vec![(x, -1), (x + 1, -2), (x, -3), (x - 1, -2), (x, -1)];
    let strokes: Vec<Vec<(i16, i16)>> = match mark {
        '/' => return vec![vec![(low, BASE), (high, top)]],
        '¸' => {
            let tail = [(0, 0), (1, 2), (0, 4), (-2, 4)];
            return vec![tail.iter().map(|(x, y)| (middle + x, BASE + y)).collect()];
        }
        '`' => vec![vec![(1, 0), (-2, -4)]],
        '´' => vec![vec![(-1, 0), (2, -4)]],
        '˝' => vec![vec![(-3, 0), (-1, -4)], vec![(1, 0), (3, -4)]],
        '^' => vec![vec![(-3, 0), (0, -4), (3, 0)]],
        'ˇ' => vec![vec![(-3, -4), (0, 0), (3, -4)]],
        '~' => vec![vec![(-4, 0), (-2, -2), (2, 0), (4, -2)]],
        '¯' => vec![vec![(-3, -2), (3, -2)]],
        '˙' => vec![dot(0)],
        '¨' => vec![dot(-3), dot(3)],
        '°' => vec![vec![(0, 0), (2, -1), (2, -3), (0, -4), (-2, -3), (-2, -1), (0, 0)]],
        _ => Vec::new(),
    };
    let moved = |stroke: Vec<(i16, i16)>| -> Vec<(i16, i16)> {
        stroke.into_iter().map(|(x, y)| (middle + x, top - 2 + y)).collect()
    };
    strokes.into_iter().map(moved).collect()
}

/// A letter that is one straight line, level or upright, has no box, and usvg drops a text that has
/// none: its far end is moved by the least unit there is, a few thousandths of its own length.
fn give_an_inside(contours: &mut [Vec<(i16, i16)>]) {
    let Some(&(x, y)) = contours.iter().flatten().next() else { return };
    let is_level = contours.iter().flatten().all(|point| point.1 == y);
    let is_upright = contours.iter().flatten().all(|point| point.0 == x);
    for contour in contours {
        let half = contour.len() / 2;
        if let Some(far) = contour.get_mut(half) {
            far.1 += i16::from(is_level);
            far.0 += i16::from(is_upright);
        }
    }
}

/// The contour that runs along a stroke and back, in units of the em, y upward.
fn there_and_back(stroke: &[(i16, i16)], left: i16) -> Vec<(i16, i16)> {
    let at = |(x, y): &(i16, i16)| ((x - left) * SCALE, (BASE - y) * SCALE);
    let there = stroke.iter().map(at);
    let back = stroke.iter().rev().skip(1).map(at);
    let mut contour: Vec<(i16, i16)> = there.chain(back).collect();
    // The beginning closes it.
    contour.pop();
    contour
}

/// The strokes of laid-out letters, so large in the path's own space, whose contours all run there
/// and back; `None` where one does not.
pub(super) fn unfold(path: &Path, em: f64) -> Option<BezPath> {
    let mut contours: Vec<Vec<Point>> = Vec::new();
    for segment in path.segments() {
        let at = |p: usvg::tiny_skia_path::Point| Point::new(p.x.into(), p.y.into());
        match segment {
            PathSegment::MoveTo(p) => contours.push(vec![at(p)]),
            PathSegment::LineTo(p) => contours.last_mut()?.push(at(p)),
            PathSegment::Close => {}
            PathSegment::QuadTo(..) | PathSegment::CubicTo(..) => return None,
        }
    }
    let mut strokes = BezPath::new();
    for mut contour in contours {
        // With or without a last line back to the beginning.
        if contour.len() % 2 == 1 && contour.len() > 1 && contour.first() == contour.last() {
            contour.pop();
        }
        let half = contour.len() / 2;
        let folded = half > 0
            && contour.len() % 2 == 0
            && (1..half).all(|k| contour.get(k) == contour.get(2 * half - k));
        if !folded {
            return None;
        }
        // What [`give_an_inside`] moved is put back.
        let unit = em / f64::from(EM);
        let is_unit = |off: f64| off.abs() > 0.5 * unit && off.abs() < 1.5 * unit;
        if let [from, far] = contour.as_mut_slice() {
            if is_unit(far.x - from.x) {
                far.x = from.x;
            } else if is_unit(far.y - from.y) {
                far.y = from.y;
            }
        }
        strokes.move_to(*contour.first()?);
        contour.iter().take(half + 1).skip(1).for_each(|p| strokes.line_to(*p));
    }
    (!strokes.elements().is_empty()).then_some(strokes)
}
