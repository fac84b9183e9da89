//! Beside the page: rulers, names, true widths. Everything stands to the right and below, off the
//! page, where an editor shows it.

use stave_setup::{LengthUnit, Stands};
use stave_toolpath::art::GUIDES_ID;

use super::frames::frame_name;
use super::names::station_name;
use super::page::Page;
use crate::draw::{
    Drawing, HAIR, INK, SOFT, bar_told, broken, short_bar_mm, spread, text_width_mm,
};
use crate::svg::isolated;

/// Marks of a ruler for a mm, five and ten, mm.
const TICKS_MM: [f64; 3] = [0.9, 1.5, 2.3];
const FIGURE_MM: f64 = 2.2;
const LABEL_MM: f64 = 2.8;
const TITLE_MM: f64 = 3.4;
/// Between the lines of the column, and what a ruler takes before it.
const APART_MM: f64 = 4.0;
const RULER_MM: f64 = 9.0;

/// How many frames are told under the page, and how wide those words are, mm.
const MOST_FRAMES: usize = 12;
const FOOT_MM: f64 = 180.0;

/// What the words of a job count otherwise than the rulers.
const ALONG_AXIS: &str = "\"at\" counts along the axis, and the turn grows";

/// What a label of the column names.
struct Label {
    /// Where it is wanted, and what its leader points at.
    at: (f64, f64),
    text: String,
    /// How long 10 mm of ware are drawn there.
    ten_mm: f64,
}

/// All that stands beside the page.
pub(crate) fn margin(page: &Page<'_>) -> Drawing {
    let mut out = Drawing::default();
    let (_, height) = page.size();
    let lying = page.setting.stands == Stands::Lying;
    rulers(page, &mut out);
    let stations = stations(page);
    if lying {
        upright_names(&mut out, &stations, height);
        foot(page, &mut out, height + 44.0);
    } else {
        column(page, &mut out, stations);
        foot(page, &mut out, height + RULER_MM + 4.0);
    }
    out
}

/// The column to the right: each label as near as can be to what it names, with a leader.
fn column(page: &Page<'_>, out: &mut Drawing, mut labels: Vec<Label>) {
    let (width, height) = page.size();
    labels.sort_by(|a, b| a.at.1.total_cmp(&b.at.1));
    let wanted: Vec<f64> = labels.iter().map(|label| label.at.1).collect();
    let most = height.max(wanted.len() as f64 * APART_MM);
    let x = width + RULER_MM + 3.0;
    let widest = labels.iter().map(|label| text_width_mm(&label.text, LABEL_MM));
    let bars = x + widest.fold(0.0, f64::max) + 3.0;
    for (label, y) in labels.iter().zip(spread(&wanted, APART_MM, (2.0, most - 1.0))) {
        let way = [(x - 0.6, y), (x - 2.0, y), (width + RULER_MM - 0.5, label.at.1), label.at];
        let style = format!("stroke=\"{HAIR}\" stroke-width=\"0.12\"");
        out.line(&way, &style);
        let style = format!("fill=\"{INK}\" stroke=\"none\"");
        out.text((x, y + 0.35 * LABEL_MM), LABEL_MM, &style, &label.text);
        ten(out, (bars, y), label.ten_mm * 0.1 * short_bar_mm(page.blank.unit()));
    }
}

/// A bar as long as the ware's short bar is drawn.
fn ten(out: &mut Drawing, (x, y): (f64, f64), ten_mm: f64) {
    let ends = [(x, y), (x + ten_mm, y)];
    out.line(&ends, "class=\"ten\" stroke=\"#00509e\" stroke-width=\"0.8\"");
}

/// The names under a lying page, turned to be read from the right.
fn upright_names(out: &mut Drawing, stations: &[Label], height: f64) {
    let mut labels: Vec<&Label> = stations.iter().collect();
    labels.sort_by(|a, b| a.at.0.total_cmp(&b.at.0));
    let wanted: Vec<f64> = labels.iter().map(|label| label.at.0).collect();
    let last = wanted.last().copied().unwrap_or(0.0);
    let room = (0.0, last.max(wanted.len() as f64 * APART_MM));
    for (label, x) in labels.iter().zip(spread(&wanted, APART_MM, room)) {
        let (y, baseline) = (height + RULER_MM, x + 0.35 * LABEL_MM);
        let way = [label.at, (label.at.0, y - 2.0), (x, y - 0.6)];
        out.line(&way, &format!("stroke=\"{HAIR}\" stroke-width=\"0.12\""));
        let style = format!(
            "fill=\"{INK}\" stroke=\"none\" text-anchor=\"end\" \
             transform=\"rotate(-90 {baseline:.3} {y:.3})\""
        );
        out.text((baseline, y), LABEL_MM, &style, &label.text);
    }
}

fn stations(page: &Page<'_>) -> Vec<Label> {
    let stations = page.drawn_stations();
    let ends = match page.setting.stands {
        Stands::Upright => ["foot: ", "rim: "],
        Stands::Inverted => ["rim: ", "foot: "],
        Stands::Lying => ["", ""],
    };
    let named = |k: usize| {
        let station = stations.get(k)?;
        let s = page.blank.wall.s_of_at(station.at_mm);
        let end = match k {
            0 => ends[0],
            k if k + 1 == stations.len() => ends[1],
            _ => "",
        };
        let (width, height) = page.size();
        let (x, y) = page.place(s, 0.0);
        let at = if page.setting.stands == Stands::Lying { (x, height) } else { (width, y) };
        Some(Label {
            at,
            text: format!("{end}{}", station_name(page, station)),
            ten_mm: page.ten_mm(s),
        })
    };
    (0..stations.len()).filter_map(named).collect()
}

/// mm of the page, or tenths of an inch, along two edges: from the front around, from the first
/// station along.
fn rulers(page: &Page<'_>, out: &mut Drawing) {
    let (width, height) = page.size();
    let lying = page.setting.stands == Stands::Lying;
    let (across, along) = if lying { (height, width) } else { (width, height) };
    let mut d = String::new();
    let mut figures: Vec<((f64, f64), String)> = Vec::new();
    // Tenths of an inch stand farther apart than mm.
    let unit = page.blank.unit();
    let (mark_mm, of_figure) = match unit {
        LengthUnit::Mm => (1.0, 1),
        LengthUnit::Inch => (unit.to_mm(0.1), 10),
    };
    let mut edge = |mark: i32, at: (f64, f64), below: bool| {
        let tick = match mark {
            mark if mark % 10 == 0 => TICKS_MM[2],
            mark if mark % 5 == 0 => TICKS_MM[1],
            _ => TICKS_MM[0],
        };
        let way = if below { format!("v{tick}") } else { format!("h{tick}") };
        d.push_str(&format!("M{:.3} {:.3}{way}", at.0, at.1));
        if mark % 10 == 0 {
            figures.push((at, (mark / of_figure).to_string()));
        }
    };
    #[allow(clippy::cast_possible_truncation)]
    let whole = |length: f64| (length / mark_mm + 1e-9).clamp(0.0, 5000.0).floor() as i32;
    let half = whole(0.5 * across);
    for mark in -half..=half {
        let v = mark_mm * f64::from(mark);
        // Around: to the right on the page, whichever way the turn grows there.
        let at = if lying { (width, 0.5 * height - v) } else { (0.5 * width + v, height) };
        edge(mark, at, !lying);
    }
    for mark in 0..=whole(along) {
        let (x, y) = page.place(mark_mm * f64::from(mark), 0.0);
        edge(mark, if lying { (x, height) } else { (width, y) }, lying);
    }
    out.path(&d, &format!("id=\"{GUIDES_ID}-rulers\" stroke=\"{SOFT}\" stroke-width=\"0.1\""));
    let style = format!("fill=\"{SOFT}\" stroke=\"none\"");
    for ((x, y), figure) in figures {
        if y >= height - 1e-9 && (x < width - 1e-9 || lying) {
            let middle = format!("text-anchor=\"middle\" {style}");
            // The last figure of either edge would stand in the corner of both.
            if x <= width - 2.0 && x >= 1.0 {
                out.text((x, height + TICKS_MM[2] + FIGURE_MM), FIGURE_MM, &middle, &figure);
            }
        } else if y <= height - 2.0 && y >= 1.0 {
            let place = (width + TICKS_MM[2] + 0.6, y + 0.35 * FIGURE_MM);
            out.text(place, FIGURE_MM, &style, &figure);
        }
    }
}

/// What the blue bars mean, and what the page was made for.
fn foot(page: &Page<'_>, out: &mut Drawing, y: f64) {
    let style = format!("fill=\"{INK}\" stroke=\"none\"");
    let (lay, unit) = (&page.setting.lay, page.blank.unit());
    let bar = bar_told(unit, short_bar_mm(unit));
    let made = env!("CARGO_PKG_VERSION");
    let date = match page.setting.date.as_str() {
        "" => String::new(),
        date => format!(", {date}"),
    };
    let mut lines = vec![
        format!("{}: page to draw on, made by Stave {made}{date}.", isolated(&page.setting.title)),
        format!("Blue bars: {bar} on the ware, as long as they are to be drawn for {lay}."),
        "Grey: the wall is steep, art is pressed together there to the eye. Light blue edge: where \
         the lens is sharp."
            .to_owned(),
        format!(
            "Lengths are {}; figures along the edges count from the front, and along the wall from \
             the first station.",
            unit.many()
        ),
        // On a flat place nothing turns, and its wall lies along the axis.
        match page.setting.stands {
            _ if page.setting.is_plane => String::new(),
            Stands::Upright => format!("{ALONG_AXIS} to the left."),
            Stands::Inverted => format!("{ALONG_AXIS} to the right."),
            Stands::Lying => format!("{ALONG_AXIS} upwards."),
        },
    ];
    lines.extend(framed(page));
    for (k, line) in lines.iter().enumerate() {
        let size = if k == 0 { TITLE_MM } else { LABEL_MM };
        out.text((1.0, y + 4.4 * k as f64), size, &style, line);
    }
}

/// What the frames mean, and each with its size: on a small page their names are shortened.
fn framed(page: &Page<'_>) -> Vec<String> {
    let frames = &page.setting.frames;
    if frames.is_empty() {
        return Vec::new();
    }
    let what = "Green: the box around each piece of the art, laid as the job says, where it will \
                be burned; its size, around × along, is that of the drawing.";
    let mut told: Vec<String> =
        frames.iter().take(MOST_FRAMES).map(|frame| frame_name(page, frame)).collect();
    if let Some(more) = frames.len().checked_sub(MOST_FRAMES).filter(|more| *more > 0) {
        told.push(format!("and {more} more"));
    }
    let mut lines = vec![what.to_owned()];
    lines.extend(broken(&told.join("; "), LABEL_MM, FOOT_MM));
    lines
}
