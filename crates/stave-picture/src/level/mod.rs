//! The wall as it lies under the beam at a tilt: what `level` found, drawn.

use stave_setup::{Blank, LengthUnit};
use stave_toolpath::number::fixed;
use stave_wall::{Section, Wall};

use crate::draw::{
    Drawing, INK, SOFT, bars_mm, broken, cut, dimension, leader, spread, text_width_mm,
};
use crate::proof::Lies;
use crate::proof::side::{View, counted};

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
    /// When it was drawn; empty where that is not to be said.
    pub date: String,
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
/// let lines = vec!["tilt 0°".into()];
/// let words = LevelWords { title: "cup".into(), lines, ..Default::default() };
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
    let mut told: Vec<String> = raise(blank, lies, words).into_iter().collect();
    told.extend(words.lines.iter().cloned());
    told.extend(sharp_words(blank, lies, words, &sharp));
    told.extend(standing_out(blank, lies));
    let lines: Vec<String> = told.iter().flat_map(|line| broken(line, WORDS_MM, wide)).collect();
    #[allow(clippy::cast_precision_loss)]
    let below = LINE_MM * lines.len() as f64 + 2.0;
    let corner = (EDGE_MM + BESIDE_MM, EDGE_MM + ABOVE_MM);
    let size = (wide - 2.0 * BESIDE_MM, SIZE_MM.1 - 2.0 * EDGE_MM - ABOVE_MM - below - UNDER_MM);
    let view = View::new(blank, lies, corner, size);
    let mut out = Drawing::default();
    let room = wide - text_width_mm(&words.date, NAME_MM) - 3.0;
    let title = cut(&words.title, 5.0, 0.87 * room);
    out.text((EDGE_MM, EDGE_MM + 5.0), 5.0, "font-weight=\"bold\"", &title);
    let style = format!("text-anchor=\"end\" fill=\"{SOFT}\"");
    out.text((SIZE_MM.0 - EDGE_MM, EDGE_MM + 5.0), NAME_MM, &style, &words.date);
    out.group("class=\"side\"", view.draw());
    let (wall, unit) = (&blank.wall, blank.unit());
    let notes = Notes { view: &view, wall, unit, lies, words, sharp };
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
    /// In which places on the ware are told.
    unit: LengthUnit,
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
                let text = format!("sharp {word} {}", self.unit.told(end.at_mm, 1));
                labels.push((self.view.on(&end, 0.0), text, true));
            }
            let middle = (middle.0, middle.1 + 2.0 * NAME_MM);
            labels.push((middle, format!("end at {}", self.unit.told(section.at_mm, 1)), false));
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
        if let Some(((_, widest), top)) = self.view.nozzle_name_at() {
            let gap = format!("{} mm above focus", fixed(gap_mm, 1));
            let words = [cut(name, NAME_MM, 40.0), gap];
            let wide = words.iter().map(|line| text_width_mm(line, NAME_MM)).fold(0.0, f64::max);
            let x = self.view.clear_of_rises(widest + 1.5, (top, top + 3.0 * NAME_MM), wide);
            if x > widest + 1.5 {
                let y = top + 3.0 - 0.35 * NAME_MM;
                leader(out, &[(x - 0.8, y), (widest, y)], SOFT);
            }
            for (line, y) in words.iter().zip([top + 3.0, top + 3.0 + 1.4 * NAME_MM]) {
                out.text((x, y), NAME_MM, &style, line);
            }
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
fn raise(blank: &Blank, lies: &Lies, words: &LevelWords) -> Option<String> {
    let (wall, unit) = (&blank.wall, blank.unit());
    let tilt = lies.tilt_rad;
    if tilt.abs() < LEVEL_RAD {
        return None;
    }
    let span = words.support_span_mm.unwrap_or(bars_mm(unit)[0]);
    let over = match words.support_span_mm {
        Some(_) => format!("over the {} between the rotary's feet", unit.told(span, 1)),
        None => {
            // "in in" is no word.
            let in_every = if unit == LengthUnit::Mm { "in every" } else { "over every" };
            format!("{in_every} {} of the rotary's length", unit.told(span, 1))
        }
    };
    let at = if tilt > 0.0 { wall.length_mm() } else { 0.0 };
    Some(format!(
        "raise the end at {} by {} {over}",
        unit.told(wall.section(at, &mut 0).at_mm, 1),
        unit.told(span * tilt.abs().sin(), 1)
    ))
}

/// Where the lens is sharp.
fn sharp_words(
    blank: &Blank,
    lies: &Lies,
    words: &LevelWords,
    sharp: &[(f64, f64)],
) -> Option<String> {
    let depth_mm = lies.half_depth_mm?;
    let lens = words.lens.as_deref().map_or("the lens".to_owned(), |name| format!("lens {name}"));
    let unit = blank.unit();
    let at = |s: f64| unit.figure(blank.wall.section(s, &mut 0).at_mm, 1);
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
        false => format!("{} {}", told.join(", "), unit.word()),
    };
    Some(format!(
        "blue: {lens} is sharp, within ±{} mm of the focus{}: {told}",
        fixed(depth_mm, 2),
        counted(blank)
    ))
}

/// What the dashed boxes over the wall are, and that nobody looked whether the head clears them and
/// what stands beside the ware.
fn standing_out(blank: &Blank, lies: &Lies) -> Vec<String> {
    let mut names: Vec<&str> = Vec::new();
    for zone in blank.zones.iter().filter(|zone| zone.rise_mm > 0.0) {
        if !names.contains(&zone.name.as_str()) {
            names.push(&zone.name);
        }
    }
    let dashed = (!names.is_empty())
        .then(|| format!("dashed: {}, turned up", cut(&names.join(", "), WORDS_MM, 80.0)));
    let looked = (!names.is_empty() || !lies.beside.is_empty()).then(|| {
        "the gap is that to the wall alone; whether the head clears all else tells `stave check`"
            .to_owned()
    });
    dashed.into_iter().chain(looked).collect()
}

#[cfg(test)]
mod tests;
