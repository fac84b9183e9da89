//! `template`: the page to draw on.

use std::f64::consts::TAU;

use stave_check::{Finding, longest_sharp, optics};
use stave_picture::{PaperError, Sharp, SheetSize, TemplateFrame, TemplateSetting};
use stave_rig::FocusAt;
use stave_setup::{Blank, FocusMode, JobAnchor, JobFile, Machine, OnFacet, Setup, Stands};
use stave_wall::{Anchor, Crest, Lay, LayKind, LaySetting};

use crate::error::Error;
use crate::source::{Options, Source};
use crate::walk::{Frame, frames};

/// How finely the wall's height is looked at, mm.
const LOOK_MM: f64 = 0.25;

/// The page for a blank as an SVG document in mm, by what the job says of `reference_diameter`,
/// `stands`, `lay` and `anchor`. With the machine it shows what only that tells: the margin of
/// zones that name none, and where the lens is sharp at the job's tilt. The title stands under it;
/// without one, the blank's name. The date stands with it, if one is given.
///
/// # Errors
/// Where blank, machine and job do not go together.
///
/// ```
/// use stave::setup::{JobFile, read_blank};
/// let stations = "[[station]]\nat = 0\ndiameter = 80\n[[station]]\nat = 100\ndiameter = 80\n";
/// let blank = read_blank(stations, "mug.toml")?;
/// let page = stave::template(&blank, None, &JobFile::default(), None, "2026-11-30")?;
/// assert!(page.contains("width=\"251.3274mm\" height=\"100mm\""));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn template(
    blank: &Blank,
    machine: Option<&Machine>,
    job: &JobFile,
    title: Option<&str>,
    date: &str,
) -> Result<String, Error> {
    let setup = machine.map(|machine| Setup::new(blank.clone(), machine.clone(), job.clone()));
    drawn(blank, setup.transpose()?.as_ref(), job, (title, date), Vec::new())
}

/// The page to draw on with the art on it where it will be burned.
#[derive(Clone, Debug)]
pub struct FramedTemplate {
    /// The page, as [`template`] draws it, with the frames in a layer of their own.
    pub svg: String,
    /// What is found of the art: none of it keeps the page from being drawn.
    pub findings: Vec<Finding>,
    /// What a person should know besides, a sentence each.
    pub warnings: Vec<String>,
}

/// The same page with a frame for each piece of a drawing or picture, or for a program: its box as
/// `walk` goes round it, laid, so that it is seen where on the ware it will be burned; named, with
/// the size that it is drawn in. The date is that of the options.
///
/// # Errors
/// As [`template`]; art or a program that cannot be read or laid; a wrapped program for another
/// flat place than the job's.
///
/// ```
/// # let stations = "[[station]]\nat = 0\ndiameter = 80\n[[station]]\nat = 100\ndiameter = 80\n";
/// # let axis = "speed = 500\nacceleration = 5000\n";
/// # let turns = format!("[rotary]\nword = \"A\"\nunits_per_turn = 360\n{axis}");
/// # let machine = format!("[x]\n{axis}[y]\n{axis}{turns}");
/// use stave::setup::{JobFile, read_blank, read_machine};
/// use stave::{Options, Source, template_framed};
/// let (blank, machine) = (read_blank(stations, "mug.toml")?, read_machine(&machine, "m.toml")?);
/// let (job, source) = (JobFile::default(), Source::path("M0 0H20V30H0Z"));
/// let page = template_framed(source, (&blank, &machine, &job), None, &Options::default())?;
/// assert!(page.svg.contains("20 × 30 mm") && page.svg.contains("stave-guides-frames"));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn template_framed(
    source: Source<'_>,
    (blank, machine, job): (&Blank, &Machine, &JobFile),
    title: Option<&str>,
    options: &Options,
) -> Result<FramedTemplate, Error> {
    let setup = Setup::new(blank.clone(), machine.clone(), job.clone())?;
    let name = source.name().to_owned();
    let found = frames(source, &setup, options)?;
    let place = |name: Option<&String>| {
        name.map_or_else(|| "the wall".to_owned(), |name| format!("the flat place \"{name}\""))
    };
    let drawn_on = setup.facet.as_ref().map(|on| &on.facet.name);
    if found.facet.as_ref() != drawn_on {
        let (burned, page) = (place(found.facet.as_ref()), place(drawn_on));
        let message = format!("{name} burns {burned}, and this is the page of {page}");
        return Err(Error::Setting(format!("{message}: change `facet` of the job's `[place]`")));
    }
    let framed = found.frames.into_iter().map(|frame| of_page(frame, &setup)).collect();
    Ok(FramedTemplate {
        svg: drawn(blank, Some(&setup), job, (title, &options.date), framed)?,
        findings: found.findings,
        warnings: found.warnings,
    })
}

/// A frame as the page has it: that of a flat place has its middle at turn 0, and is as wide as the
/// page all around.
fn of_page(frame: Frame, setup: &Setup) -> TemplateFrame {
    let outline = match &setup.facet {
        None => frame.outline,
        Some(OnFacet { facet, .. }) => {
            let turn = |turn_rad: f64| TAU * facet.across_mm(turn_rad) / facet.width_mm;
            frame.outline.into_iter().map(|(s_mm, turn_rad)| (s_mm, turn(turn_rad))).collect()
        }
    };
    TemplateFrame { name: frame.piece, drawn_mm: frame.drawn_mm, outline }
}

fn drawn(
    blank: &Blank,
    setup: Option<&Setup>,
    job: &JobFile,
    (title, date): (Option<&str>, &str),
    frames: Vec<TemplateFrame>,
) -> Result<String, Error> {
    let facet = job.facet_of(blank).map_err(|fault| Error::Setup(fault.into()))?;
    let own_title = facet.map_or_else(
        || blank.name.clone(),
        |facet| format!("{}, flat place {}", blank.name, facet.name),
    );
    let title = title.unwrap_or(&own_title);
    let plane = facet.and_then(|facet| facet.page(blank));
    let shown = plane.as_ref().unwrap_or(blank);
    let margin_mm = setup.and_then(Setup::spot_mm).map_or(0.0, |spot| spot / 2.0);
    let sharp = setup.and_then(sharp);
    Ok(page(shown, (title, date), job, margin_mm, (sharp, frames)))
}

/// Where the fitted lens is sharp, focused where the job says, else at mid-strip of the longest
/// part of the wall that stays sharp; `None` where its depth of focus is not known, or Z follows
/// the wall.
fn sharp(setup: &Setup) -> Option<Sharp> {
    let wall = &setup.blank.wall;
    let lens = setup.job.lens.as_ref().filter(|_| setup.job.focus == FocusMode::Fixed)?;
    let depth = optics(lens, setup.machine.beam.as_ref()).half_depth_mm?;
    let (tilt_rad, length) = (setup.job.tilt_rad, wall.length_mm());
    let (first, last) = wall.at_range_mm();
    let depth = depth - setup.blank.running.most_mm(first, last);
    let zero = (setup.job.zero.at_mm, setup.job.zero.turn_rad);
    let focus_at = match FocusAt::asked(setup, FocusMode::Fixed, zero) {
        Some(place) => place,
        None => {
            let Some(longest) = longest_sharp(wall, &setup.machine, depth, tilt_rad) else {
                let nowhere =
                    Sharp { tilt_rad, focus_at_mm: first, focus_turn_rad: None, s_mm: Vec::new() };
                return Some(nowhere);
            };
            let at_mm = longest.sharpness.focus_at_mm;
            FocusAt { at_mm, turn_rad: setup.blank.running.mean_turn_rad(at_mm, 0.0) }
        }
    };
    let crest = Crest::new(tilt_rad);
    let mut hint = 0;
    let mut height = |s: f64| crest.height_mm(&wall.section(s, &mut hint));
    let focus_mm = focus_at.height_mm(&setup.blank, tilt_rad, zero.1);
    let mut out: Vec<(f64, f64)> = Vec::new();
    let mut from = None;
    let mut s = 0.0;
    while s < length + LOOK_MM {
        let here = s.min(length);
        match ((height(here) - focus_mm).abs() <= depth, from) {
            (true, None) => from = Some(here),
            (false, Some(start)) => {
                out.push((start, here));
                from = None;
            }
            _ => {}
        }
        s += LOOK_MM;
    }
    out.extend(from.map(|start| (start, length)));
    Some(Sharp {
        tilt_rad,
        focus_at_mm: focus_at.at_mm,
        focus_turn_rad: focus_at.turn_rad,
        s_mm: out,
    })
}

fn page(
    blank: &Blank,
    (title, date): (&str, &str),
    job: &JobFile,
    margin_mm: f64,
    (sharp, frames): (Option<Sharp>, Vec<TemplateFrame>),
) -> String {
    let is_plane = job.place_facet.is_some();
    let diameter = job.reference_diameter_mm.as_ref().filter(|_| !is_plane);
    let diameter = diameter.map(|given| given.value);
    let radius_mm = diameter.map_or(blank.wall.largest_radius_mm(), |diameter| diameter / 2.0);
    let lay = job.lay.as_ref().map_or(LayKind::TrueWidth, |lay| lay.value);
    let anchor = job.anchor.as_ref().map(|anchor| &anchor.value);
    // What is anchored at a piece is as wide as drawn in the piece's own middle, wherever it lies.
    let anchor_of_lay = match anchor {
        _ if lay == LayKind::TrueWidth => None,
        None | Some(JobAnchor::Piece) => None,
        Some(JobAnchor::Drawing) => Some(Anchor::Drawing),
        Some(&JobAnchor::Point { u_mm, v_mm }) => {
            Some(Anchor::Point { u_mm: u_mm.clamp(0.0, blank.wall.length_mm()), v_mm })
        }
    };
    let ten_mm = anchor_of_lay.map(|anchor| ten_mm(blank, lay, radius_mm, anchor));
    stave_picture::template(
        blank,
        &TemplateSetting {
            reference_radius_mm: radius_mm,
            title: title.to_owned(),
            date: date.to_owned(),
            stands: job.stands.as_ref().map_or(Stands::Upright, |stands| stands.value),
            narrows: lay == LayKind::TrueWidth
                && job.lay.is_some()
                && matches!(anchor, Some(JobAnchor::Drawing)),
            ten_mm: ten_mm.unwrap_or_default(),
            lay: lay.to_string(),
            is_plane,
            margin_mm,
            sharp,
            frames,
        },
    )
}

/// How long what comes out as 10 mm around the ware is to be drawn at each station, beside the
/// anchor: places of the meridian and lengths, mm.
fn ten_mm(blank: &Blank, kind: LayKind, radius_mm: f64, anchor: Anchor) -> Vec<(f64, f64)> {
    let wall = &blank.wall;
    let setting = LaySetting {
        kind,
        origin_s_mm: 0.0,
        origin_turn_rad: 0.0,
        reference_radius_mm: radius_mm,
        anchor,
    };
    let Ok(lay) = Lay::new(wall, setting) else { return Vec::new() };
    let (u_mm, v_mm) = lay.anchor_mm();
    let places = blank.stations.iter().map(|station| {
        let s_mm = wall.s_of_at(station.at_mm);
        // Along the meridian of the anchor a label is as long as the wall.
        let there = lay.u_of_s(wall, s_mm).unwrap_or(u_mm + s_mm - lay.anchor_s_mm());
        let [along, around] = lay.jacobian(wall, there, v_mm);
        (s_mm, 10.0 / along[1].hypot(around[1]))
    });
    places.filter(|place| place.1.is_finite()).collect()
}

/// The flat patterns of a blank's frusta as an SVG document in mm, to cut out and hold against
/// it; with a date, if one is given.
///
/// # Errors
/// A smooth wall has none.
pub fn paper(blank: &Blank, date: &str) -> Result<String, Error> {
    stave_picture::paper(blank, date).ok_or(Error::Paper(PaperError::Smooth))
}

/// The same patterns parted onto standing sheets of paper, each an SVG document that prints true.
///
/// # Errors
/// A smooth wall has none; a blank too large for paper.
///
/// ```
/// use stave::SheetSize;
/// let stations = "[[station]]\nat = 0\ndiameter = 80\n[[station]]\nat = 100\ndiameter = 70\n";
/// let blank = stave::setup::read_blank(stations, "cup.toml")?;
/// let sheets = stave::paper_sheets(&blank, SheetSize::Letter, "2026-11-30")?;
/// assert!(sheets.len() == 2 && sheets[0].contains("width=\"215.9mm\""));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn paper_sheets(blank: &Blank, sheet: SheetSize, date: &str) -> Result<Vec<String>, Error> {
    Ok(stave_picture::paper_sheets(blank, sheet, date)?)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// On a ball a label is drawn too narrow away from its anchor, as every azimuthal equidistant
    /// map is: J. P. Snyder, Map Projections (USGS 1395, 1987), eq. 25-2, k' = c / sin c.
    #[test]
    fn ten_millimetres_of_a_label_on_a_ball_are_those_of_the_map() {
        const R_MM: f64 = 50.0;
        let station = |deg: f64| {
            let (sin, cos) = deg.to_radians().sin_cos();
            format!("[[station]]\nat = {}\ndiameter = {}\n", -R_MM * cos, 2.0 * R_MM * sin)
        };
        let stations: String = (0..=12).map(|k| station(30.0 + 10.0 * f64::from(k))).collect();
        let text = format!("wall = \"smooth\"\n{stations}");
        let blank = stave_setup::read_blank(&text, "ball.toml").unwrap();
        for anchor_deg in [0.0, 60.0] {
            let anchor = Anchor::Point { u_mm: R_MM * f64::to_radians(anchor_deg), v_mm: 0.0 };
            let found = ten_mm(&blank, LayKind::Label, R_MM, anchor);
            assert_eq!(found.len(), 13);
            for (s_mm, ten) in found {
                let c = (s_mm / R_MM - anchor_deg.to_radians()).abs();
                let wanted = if c < 1e-3 { 10.0 } else { 10.0 * c / c.sin() };
                assert!((ten - wanted).abs() < 0.01 * wanted, "{s_mm} {ten} {wanted}");
            }
        }
    }
}
