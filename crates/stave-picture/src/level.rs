//! The wall as it lies under the beam at a tilt: what `level` found, drawn.

use stave_setup::Blank;
use stave_toolpath::number::fixed;
use stave_wall::{Section, Wall};

use crate::draw::{Drawing, INK, SOFT, broken, cut, dimension, leader, spread};
use crate::proof::Lies;
use crate::proof::side::View;

/// The sheet, mm: it fits a landscape A5.
const SIZE_MM: (f64, f64) = (200.0, 140.0);
const EDGE_MM: f64 = 10.0;
/// What is kept for the title above, for names beside and dimensions below the view.
const ABOVE_MM: f64 = 12.0;
const BESIDE_MM: f64 = 30.0;
const UNDER_MM: f64 = 20.0;
const LINE_MM: f64 = 4.6;
const WORDS_MM: f64 = 3.2;
const NAME_MM: f64 = 2.6;
/// Of more stretches in which it is sharp the rest are counted.
const MOST_SHARP: usize = 5;
/// A tilt of less than this, rad, needs no block.
const LEVEL_RAD: f64 = 1e-4;

/// What the sheet of `level` says beside the view.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct LevelWords {
    /// Its title.
    pub title: String,
    /// Lines of figures below the view.
    pub lines: Vec<String>,
    /// Between the rotary's feet, mm: how much to raise one of them is told for it, else for
    /// 100 mm.
    pub support_span_mm: Option<f64>,
    /// The nozzle's name.
    pub nozzle: Option<String>,
    /// The lens's name: where it is sharp is told by the picture.
    pub lens: Option<String>,
}

/// A view from the side: wall, the stretch with its focus band and where that is left, tilt with
/// what to put under which foot, nozzle and its gap; the title above, lines of figures below.
///
/// ```
/// use stave_picture::{LevelWords, level};
/// let text = "[[station]]\nat = 0\ndiameter = 60\n[[station]]\nat = 90\ndiameter = 70\n";
/// let blank = stave_setup::read_blank(text, "cup.toml")?;
/// let lies = stave_picture::proof::Lies {
///     half_depth_mm: Some(0.6),
///     focus_height_mm: Some(32.0),
///     ..Default::default()
/// };
/// let words = LevelWords { title: "cup".into(), lines: vec!["tilt 0°".into()], ..Default::default() };
/// let svg = level(&blank, &lies, &words);
/// assert!(svg.contains("width=\"200mm\"") && svg.contains("tilt 0°"));
/// # Ok::<(), stave_setup::Faults>(())
/// ```
#[must_use]
pub fn level(blank: &Blank, lies: &Lies, words: &LevelWords) -> String {
    drawn(blank, lies, words).document(SIZE_MM, &words.title)
}

fn drawn(blank: &Blank, lies: &Lies, words: &LevelWords) -> Drawing {
    let wide = SIZE_MM.0 - 2.0 * EDGE_MM;
    let sharp = View::new(blank, lies, (0.0, 0.0), (100.0, 100.0)).sharp_s_mm();
    let mut told: Vec<String> = raise(&blank.wall, lies, words).into_iter().collect();
    told.extend(words.lines.iter().cloned());
    told.extend(sharp_words(&blank.wall, lies, words, &sharp));
    told.extend(standing_out(blank));
    let lines: Vec<String> = told.iter().flat_map(|line| broken(line, WORDS_MM, wide)).collect();
    #[allow(clippy::cast_precision_loss)]
    let below = LINE_MM * lines.len() as f64 + 2.0;
    let corner = (EDGE_MM + BESIDE_MM, EDGE_MM + ABOVE_MM);
    let size = (wide - 2.0 * BESIDE_MM, SIZE_MM.1 - 2.0 * EDGE_MM - ABOVE_MM - below - UNDER_MM);
    let view = View::new(blank, lies, corner, size);
    let mut out = Drawing::default();
    let title = cut(&words.title, 5.0, 0.87 * wide);
    out.text((EDGE_MM, EDGE_MM + 5.0), 5.0, "font-weight=\"bold\"", &title);
    out.group("class=\"side\"", view.draw());
    let notes = Notes { view: &view, wall: &blank.wall, lies, words, sharp };
    notes.ends(&mut out);
    notes.nozzle(&mut out);
    notes.tilt(&mut out, corner.1 + size.1 + 6.0);
    let mut y = corner.1 + size.1 + UNDER_MM;
    for line in &lines {
        y += LINE_MM;
        out.text((EDGE_MM, y), WORDS_MM, "", line);
    }
    out
}

/// The names and figures around the view.
struct Notes<'a> {
    view: &'a View<'a>,
    wall: &'a Wall,
    lies: &'a Lies,
    words: &'a LevelWords,
    sharp: Vec<(f64, f64)>,
}

impl Notes<'_> {
    fn section(&self, s_mm: f64) -> Section {
        self.wall.section(s_mm, &mut 0)
    }

    /// What stands beside either end: the end's name, where the sharp band is left near it.
    fn ends(&self, out: &mut Drawing) {
        let length = self.wall.length_mm();
        let ends = [(0.0, "first station"), (length, "last station")];
        // Of one stretch the ends are led to; of several the words below tell.
        let sharp = match self.sharp.as_slice() {
            [one] => Some(*one),
            _ => None,
        };
        for (k, (s, name)) in ends.into_iter().enumerate() {
            let section = self.section(s);
            let (top, under) = (self.view.on(&section, 0.0), self.view.under(&section));
            let middle = (0.5 * (top.0 + under.0), 0.5 * (top.1 + under.1));
            let right = (k == 1) != self.lies.mirrored;
            // Where each points to, if it is led there.
            let mut labels: Vec<((f64, f64), String, bool)> = Vec::new();
            if let Some((from, to)) = sharp {
                let (s, word) = if k == 0 { (from, "from") } else { (to, "to") };
                let end = self.section(s);
                let text = format!("sharp {word} {} mm", fixed(end.at_mm, 1));
                labels.push((self.view.on(&end, 0.0), text, true));
            }
            let middle = (middle.0, middle.1 + 2.0 * NAME_MM);
            labels.push((middle, format!("end at {} mm", fixed(section.at_mm, 1)), false));
            labels.push(((middle.0, middle.1 + 0.1), format!("({name})"), false));
            for (name, corners) in self.view.beside() {
                let along = corners.iter().map(|corner| corner.0).sum::<f64>() / 4.0;
                let nearer_right = along > 0.5 * SIZE_MM.0;
                if nearer_right == right {
                    let top = corners[2].1.min(corners[3].1);
                    let point = (along, top + 1.2);
                    labels.push((point, cut(name, NAME_MM, BESIDE_MM - 4.0), true));
                }
            }
            labels.sort_by(|a, b| a.0.1.total_cmp(&b.0.1));
            let wanted: Vec<f64> = labels.iter().map(|(at, ..)| at.1).collect();
            let heights = spread(&wanted, 1.4 * NAME_MM, (EDGE_MM + ABOVE_MM, SIZE_MM.1 - EDGE_MM));
            let (anchor, x, towards) = if right {
                ("start", SIZE_MM.0 - EDGE_MM - BESIDE_MM + 3.0, -1.0)
            } else {
                ("end", EDGE_MM + BESIDE_MM - 3.0, 1.0)
            };
            for ((at, text, led), y) in labels.iter().zip(heights) {
                let style = format!("text-anchor=\"{anchor}\" fill=\"{INK}\"");
                out.text((x, y + 0.35 * NAME_MM), NAME_MM, &style, text);
                if *led {
                    leader(out, &[(x + 0.8 * towards, y), *at], SOFT);
                }
            }
        }
    }

    /// The nozzle's name above it, and the gap from its tip to the focus.
    fn nozzle(&self, out: &mut Drawing) {
        let (Some(corners), Some((_, gap_mm))) = (self.view.nozzle_box(), self.lies.nozzle_mm)
        else {
            return;
        };
        let left = corners[0].0.min(corners[1].0);
        let name = self.words.nozzle.as_deref().unwrap_or("nozzle");
        let style = format!("fill=\"{SOFT}\"");
        if let Some((widest, top)) = self.view.nozzle_name_at() {
            // It may stand over a boss.
            let halo = "stroke=\"#ffffff\" stroke-width=\"0.9\" paint-order=\"stroke\"";
            let style = format!("{style} {halo}");
            let x = widest + 1.5;
            out.text((x, top + 3.0), NAME_MM, &style, &cut(name, NAME_MM, 40.0));
            let gap = format!("{} mm above focus", fixed(gap_mm, 1));
            out.text((x, top + 3.0 + 1.4 * NAME_MM), NAME_MM, &style, &gap);
        }
        let tip = corners[0].1;
        let focus = tip + self.view.scale * gap_mm;
        let x = left - 2.5;
        for y in [tip, focus] {
            out.line(
                &[(left, y), (x - 1.0, y)],
                &format!("stroke=\"{SOFT}\" stroke-width=\"0.12\""),
            );
        }
        dimension(out, (x, tip), (x, focus), "");
    }

    /// The level and the tilted line with the angle between them, drawn as it is, and what to put
    /// under a foot.
    fn tilt(&self, out: &mut Drawing, y: f64) {
        let tilt = self.lies.tilt_rad;
        let (left, right) = (EDGE_MM + BESIDE_MM, SIZE_MM.0 - EDGE_MM - BESIDE_MM);
        let thin = format!("stroke=\"{SOFT}\" stroke-width=\"0.18\"");
        if tilt.abs() < LEVEL_RAD {
            out.line(&[(left, y), (right, y)], &thin);
            let style = format!("text-anchor=\"middle\" fill=\"{INK}\"");
            out.text((0.5 * (left + right), y + 4.0), NAME_MM, &style, "the rotary stands level");
            return;
        }
        // The lower end is where the two lines meet.
        let larger_is_right = !self.lies.mirrored;
        let raised_right = (tilt > 0.0) == larger_is_right;
        let (low, high) = if raised_right { (left, right) } else { (right, left) };
        let reach = (high - low) * 0.8;
        let foot = y + 5.0;
        let slope = (reach.abs() * tilt.abs().cos(), reach.abs() * tilt.abs().sin());
        let end = (low + slope.0 * reach.signum(), foot - slope.1);
        out.line(&[(low, foot), (low + reach, foot)], &thin);
        out.line(&[(low, foot), end], &format!("stroke=\"{INK}\" stroke-width=\"0.3\""));
        let radius = 0.55 * reach.abs();
        let arc: Vec<(f64, f64)> = (0..=24)
            .map(|k| {
                let (sin, cos) = (tilt.abs() * f64::from(k) / 24.0).sin_cos();
                (low + radius * cos * reach.signum(), foot - radius * sin)
            })
            .collect();
        out.line(&arc, &thin);
        let angle = format!("{}°", fixed(tilt.to_degrees().abs(), 1));
        let style = format!("text-anchor=\"middle\" fill=\"{INK}\"");
        out.text((low + 0.45 * reach, foot + 3.6), NAME_MM, &style, &angle);
    }
}

/// What to put under which foot, unless the rotary stands level.
fn raise(wall: &Wall, lies: &Lies, words: &LevelWords) -> Option<String> {
    let tilt = lies.tilt_rad;
    if tilt.abs() < LEVEL_RAD {
        return None;
    }
    let span = words.support_span_mm.unwrap_or(100.0);
    let over = match words.support_span_mm {
        Some(_) => format!("over the {} mm between the rotary's feet", fixed(span, 1)),
        None => "in every 100 mm of the rotary's length".to_owned(),
    };
    let at = if tilt > 0.0 { wall.length_mm() } else { 0.0 };
    Some(format!(
        "raise the end at {} mm by {} mm {over}",
        fixed(wall.section(at, &mut 0).at_mm, 1),
        fixed(span * tilt.abs().sin(), 1)
    ))
}

/// Where the lens is sharp.
fn sharp_words(
    wall: &Wall,
    lies: &Lies,
    words: &LevelWords,
    sharp: &[(f64, f64)],
) -> Option<String> {
    let depth_mm = lies.half_depth_mm?;
    let lens = words.lens.as_deref().map_or("the lens".to_owned(), |name| format!("lens {name}"));
    let at = |s: f64| fixed(wall.section(s, &mut 0).at_mm, 1);
    let mut told: Vec<String> = sharp
        .iter()
        .take(MOST_SHARP)
        .map(|(from, to)| format!("{} to {}", at(*from), at(*to)))
        .collect();
    if sharp.len() > MOST_SHARP {
        told.push(format!("{} more stretches, in", sharp.len() - MOST_SHARP));
    }
    let told = match told.is_empty() {
        true => "nowhere".to_owned(),
        false => format!("{} mm", told.join(", ")),
    };
    Some(format!("blue: {lens} is sharp, within ±{} mm of the focus: {told}", fixed(depth_mm, 2)))
}

/// What the dashed boxes over the wall are.
fn standing_out(blank: &Blank) -> Option<String> {
    let mut names: Vec<&str> = Vec::new();
    for zone in blank.zones.iter().filter(|zone| zone.rise_mm > 0.0) {
        if !names.contains(&zone.name.as_str()) {
            names.push(&zone.name);
        }
    }
    (!names.is_empty()).then(|| {
        format!(
            "dashed: {}, turned up; whether the head clears it tells `stave check`",
            cut(&names.join(", "), WORDS_MM, 80.0)
        )
    })
}

#[cfg(test)]
mod tests {
    use kurbo::Rect;

    use super::*;
    use crate::draw::assert_words_apart;
    use crate::proof::{BesideShape, HeadShape};
    use stave_setup::ObstacleShape;

    #[test]
    fn no_words_meet_at_any_tilt() {
        let text = "[[station]]\nat = 0\ndiameter = 60\n[[station]]\nat = 90\ndiameter = 90\n";
        let blank = stave_setup::read_blank(text, "cup.toml").unwrap();
        for tilt_deg in [-15.0, -3.0, 0.0, 0.5, 12.0_f64] {
            for mirrored in [false, true] {
                let lies = Lies {
                    tilt_rad: tilt_deg.to_radians(),
                    focus_height_mm: Some(34.0),
                    half_depth_mm: Some(1.5),
                    nozzle_mm: Some((9.0, 6.0)),
                    nozzle_s_mm: 30.0,
                    burned_s_mm: Some((10.0, 60.0)),
                    burned_turn_rad: None,
                    mirrored,
                    ..Lies::default()
                };
                let words = LevelWords {
                    title: "a cup of a name that goes on and on, and then on for longer".into(),
                    lines: vec!["one line of figures".into(); 2],
                    support_span_mm: Some(180.0),
                    nozzle: Some("long barrel".into()),
                    lens: Some("medium".into()),
                };
                let page = Rect::new(0.0, 0.0, SIZE_MM.0, SIZE_MM.1);
                assert_words_apart(&drawn(&blank, &lies, &words), page);
            }
        }
    }

    /// Steps, a carriage and what is beside the work are drawn to scale, named, and words keep
    /// apart.
    #[test]
    fn the_head_and_the_rotary_are_drawn_and_named() {
        let text = "[[station]]\nat = 0\ndiameter = 60\n[[station]]\nat = 90\ndiameter = 60\n";
        let blank = stave_setup::read_blank(text, "can.toml").unwrap();
        let beside = |name: &str, at_mm, form| BesideShape { name: name.into(), at_mm, form };
        let still = ObstacleShape::Still { across_mm: (-20.0, 20.0), height_mm: 35.0 };
        let turning = |radius_mm, turn_rad| ObstacleShape::Turning { radius_mm, turn_rad };
        for (mirrored, tilt_deg) in [(false, 0.0_f64), (true, 0.0), (false, 8.0), (true, -8.0)] {
            let shape = |carriage, along_mm, above_mm| HeadShape {
                carriage,
                along_mm,
                across_mm: (-14.0, 14.0),
                above_mm,
            };
            let step = shape(false, (-14.0, 14.0), 12.0);
            let carriage = shape(true, (-30.0, 40.0), 30.0);
            let lies = Lies {
                tilt_rad: tilt_deg.to_radians(),
                focus_height_mm: Some(30.0),
                half_depth_mm: Some(1.5),
                nozzle_mm: Some((9.0, 6.0)),
                nozzle_s_mm: 45.0,
                burned_s_mm: Some((10.0, 60.0)),
                mirrored,
                head: vec![step, carriage],
                beside: vec![
                    beside("chuck jaws", (-20.0, 12.0), turning(40.0, None)),
                    beside("a bolt", (-16.0, -10.0), turning(46.0, Some((0.0, 1.0)))),
                    beside("tailstock", (88.0, 400.0), still),
                ],
                ..Lies::default()
            };
            let words = LevelWords {
                title: "a can".into(),
                lines: vec!["one line of figures".into()],
                nozzle: Some("long barrel".into()),
                ..LevelWords::default()
            };
            let drawing = drawn(&blank, &lies, &words);
            assert_words_apart(&drawing, Rect::new(0.0, 0.0, SIZE_MM.0, SIZE_MM.1));
            for name in ["chuck jaws", "a bolt", "tailstock", "carriage", "long barrel"] {
                assert!(drawing.words.iter().any(|(_, word)| word == name), "{name}");
            }
            let view = View::new(&blank, &lies, (40.0, 22.0), (120.0, 80.0));
            let wide = |corners: &[(f64, f64); 4]| (corners[1].0 - corners[0].0).abs() / view.scale;
            let widths: Vec<f64> = view.head().iter().map(|(_, corners)| wide(corners)).collect();
            let expected = [18.0, 28.0, 70.0];
            assert!(widths.iter().zip(expected).all(|(a, b)| (a - b).abs() < 1e-9), "{widths:?}");
            // What goes far past the ware is drawn to a third of its length and a little.
            let tail = view.beside()[2].1;
            let long = (tail[1].0 - tail[0].0).hypot(tail[1].1 - tail[0].1) / view.scale;
            assert!((long - (90.0 + 0.35 * 90.0 - 88.0)).abs() < 1e-9, "{long}");
        }
    }

    /// A ridge of 10 mm, the focus at half its height: sharp on its two flanks alone, and not from
    /// one end of the wall to the other. By similar triangles: 45° over 5 mm of radius, so ±1 mm of
    /// height is ±1 mm along the axis.
    #[test]
    fn every_stretch_that_is_sharp_is_told_and_no_other() {
        let text = "[[station]]\nat = 0\ndiameter = 60\n[[station]]\nat = 40\ndiameter = 60\n\
                    [[station]]\nat = 45\ndiameter = 70\n[[station]]\nat = 50\ndiameter = 60\n\
                    [[station]]\nat = 90\ndiameter = 60\n[[zone]]\nname = \"boss\"\n\
                    at = [10, 20]\nturn = [0, 10]\nrise = 5\n";
        let blank = stave_setup::read_blank(text, "can.toml").unwrap();
        let lies = Lies {
            focus_height_mm: Some(32.5),
            half_depth_mm: Some(1.0),
            burned_s_mm: Some((0.0, blank.wall.length_mm())),
            ..Lies::default()
        };
        let words = LevelWords { lens: Some("medium".into()), ..LevelWords::default() };
        let svg = level(&blank, &lies, &words);
        assert_eq!(svg.matches("class=\"sharp\"").count(), 2);
        let told = "blue: lens medium is sharp, within ±1 mm of the focus: 41.5 to 43.5, 46.5 to \
                    48.5 mm";
        assert!(svg.contains(told), "{svg}");
        assert!(!svg.contains("sharp from") && svg.contains("dashed: boss, turned up"), "{svg}");
        // Of one stretch both ends are led to.
        let flat = Lies { focus_height_mm: Some(30.5), ..lies.clone() };
        let svg = level(&blank, &flat, &words);
        assert!(svg.contains("0 to 41.5, 48.5 to 90 mm"), "{svg}");
        let whole = Lies { half_depth_mm: Some(6.0), ..lies };
        let svg = level(&blank, &whole, &words);
        assert!(svg.contains("sharp from 0 mm") && svg.contains("sharp to 90 mm"), "{svg}");
    }

    #[test]
    fn the_block_is_the_span_times_the_sine() {
        let text = "[[station]]\nat = 0\ndiameter = 60\n[[station]]\nat = 90\ndiameter = 60\n";
        let blank = stave_setup::read_blank(text, "can.toml").unwrap();
        let lies = Lies { tilt_rad: -30_f64.to_radians(), ..Lies::default() };
        let words = LevelWords { support_span_mm: Some(180.0), ..LevelWords::default() };
        // 180 mm times the sine of 30° are 90 mm; a falling larger end leaves the other to be raised.
        assert!(level(&blank, &lies, &words).contains("raise the end at 0 mm by 90 mm"));
    }
}
