//! The page to draw on: the wall rolled out flat, true to the print.

mod bar;
mod frames;
mod guides;
mod lines;
mod margin;
mod names;
mod page;

use stave_setup::{Blank, Stands};
use stave_toolpath::art::GUIDES_ID;

use self::page::Page;
use crate::draw::Drawing;
use crate::svg::{escaped, mm};

/// How the page is laid out.
#[derive(Clone, Debug, PartialEq)]
pub struct TemplateSetting {
    /// What stands under the page: the blank's name, or another.
    pub title: String,
    /// When it was drawn; empty where that is not to be said.
    pub date: String,
    /// The radius at which the page is true around, mm.
    pub reference_radius_mm: f64,
    /// How the ware stands on the page.
    pub stands: Stands,
    /// Whether the outline narrows with the wall: for a drawing laid as a whole by `true-width`.
    pub narrows: bool,
    /// How long what comes out as 10 mm around the ware is to be drawn at places of the meridian,
    /// mm from the first station, and mm; none for a lay that keeps widths wherever the piece lies.
    pub ten_mm: Vec<(f64, f64)>,
    /// The name of the lay that this holds for.
    pub lay: String,
    /// What is kept clear around a zone that names no margin, mm.
    pub margin_mm: f64,
    /// Whether the page is that of a flat place, which no turn goes around.
    pub is_plane: bool,
    /// Where the lens is sharp; `None` where that is not known.
    pub sharp: Option<Sharp>,
    /// The frames of the art where it will be burned; none where the page is for any art.
    pub frames: Vec<Frame>,
}

/// The frame of a piece of art on the wall.
#[derive(Clone, Debug, PartialEq)]
pub struct Frame {
    /// What to call it.
    pub name: String,
    /// How large it was drawn, mm: around and along; `None` where that is not known.
    pub drawn_mm: Option<(f64, f64)>,
    /// Its outline, closed, in short steps: mm of the meridian from the first station, and turn,
    /// rad, as far around as it goes.
    pub outline: Vec<(f64, f64)>,
}

/// Where a lens is sharp, and under what.
#[derive(Clone, Debug, PartialEq)]
pub struct Sharp {
    /// The tilt, rad.
    pub tilt_rad: f64,
    /// Where along the axis it is focused, mm.
    pub focus_at_mm: f64,
    /// At which turn, rad; `None` where the ware is true, and any will do.
    pub focus_turn_rad: Option<f64>,
    /// The stretches of the meridian, mm from the first station; none where it is sharp nowhere.
    pub s_mm: Vec<(f64, f64)>,
}

/// The page for a blank, as an SVG document in mm that prints true: `π` times the reference
/// diameter around, the length of the wall's meridian along. Art drawn on it needs no placing.
///
/// The page shows the wall's edge, stations, zones with their margins, front and quarters, all with
/// their names, shading where the wall is steep, where the lens is sharp, and a bar to check a
/// print by. Beside and below it, outside the page and in a layer of its own
/// (`stave-guides-margin`), stand rulers and, for each station, how long 10 mm on the ware are to
/// be drawn. Frames of art stand in a layer of their own (`stave-guides-frames`), if there are any.
#[must_use]
pub fn template(blank: &Blank, setting: &TemplateSetting) -> String {
    let page = Page::new(blank, setting);
    let (width, height) = page.size();
    let mut all = Drawing::default();
    let (names, frame_names) = names::names(&page);
    let mut framed = frames::frames(&page);
    framed.append(frame_names);
    for (name, drawn) in [
        ("slope", guides::slope(&page)),
        ("outline", guides::outline(&page)),
        ("focus", guides::focus(&page)),
        ("turns", guides::turns(&page)),
        ("zones", guides::zones(&page)),
        ("flat-places", guides::facets(&page)),
        ("stations", guides::stations(&page)),
        ("frames", framed),
        ("names", names),
        ("margin", margin::margin(&page)),
    ] {
        if name == "frames" && setting.frames.is_empty() {
            continue;
        }
        all.group(&format!("id=\"{GUIDES_ID}-{name}\""), drawn);
    }
    // The margin lies outside the page, so that the page stays one turn wide: editors show it, and
    // what prints or burns the page does not.
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{w}mm\" height=\"{h}mm\" viewBox=\"0 0 \
         {w} {h}\">\n<title>{}: page to draw on</title>\n\
         <g id=\"{GUIDES_ID}\" data-stave=\"guides\" fill=\"none\" stroke=\"#000000\" \
         stroke-width=\"0.2\" font-family=\"sans-serif\" font-size=\"3\">\n{}</g>\n</svg>\n",
        escaped(&setting.title),
        all.out,
        w = mm(width),
        h = mm(height),
    )
}

#[cfg(test)]
mod tests {
    use std::f64::consts::PI;

    use super::*;
    use crate::draw::assert_words_apart;

    fn blank() -> Blank {
        let text = "name = \"a <b>\"\n[[station]]\nat = 0\ndiameter = 60\n[[station]]\nat = \
                    40\ndiameter = 120\n\
                    [[zone]]\nname = \"boss\"\nat = [10, 20]\nturn = [170, 190]\nrise = 5\nmargin \
                                       = 1\n";
        stave_setup::read_blank(text, "b.toml").unwrap()
    }

    fn setting() -> TemplateSetting {
        TemplateSetting {
            title: blank().name,
            date: "2026-11-30".into(),
            reference_radius_mm: 60.0,
            stands: Stands::Upright,
            narrows: false,
            ten_mm: vec![(0.0, 20.0), (50.0, 10.0)],
            lay: "even-angle".into(),
            is_plane: false,
            margin_mm: 0.0,
            sharp: None,
            frames: Vec::new(),
        }
    }

    #[test]
    fn the_page_is_the_wall_rolled_out() {
        // A 3-4-5 triangle: 40 along the axis and 30 of radius are 50 along the meridian; π · 120
        // around.
        let page = template(&blank(), &setting());
        assert!(page.contains("width=\"376.9911mm\" height=\"50mm\""), "{page}");
        let lying = template(&blank(), &TemplateSetting { stands: Stands::Lying, ..setting() });
        assert!(lying.contains("width=\"50mm\" height=\"376.9911mm\""));
        assert!(page.contains("a &lt;b&gt;"));
    }

    #[test]
    fn ten_millimetres_are_twice_as_long_where_the_wall_is_half_as_wide() {
        let bars = |page: &str| -> Vec<f64> {
            let lines = page.lines().filter(|line| line.contains("class=\"ten\""));
            let ends = lines.map(|line| {
                let d = line.split("d=\"").nth(1).and_then(|rest| rest.split('"').next()).unwrap();
                let x = |part: &str| {
                    part.trim_start_matches(['M', 'L']).split(' ').next().unwrap().parse::<f64>()
                };
                let (from, to) = d.split_once(" L").unwrap();
                (x(to).unwrap() - x(from).unwrap()).abs()
            });
            ends.collect()
        };
        // The column goes from the rim down.
        let mut page = bars(&template(&blank(), &setting()));
        page.reverse();
        assert!((page[0] - 20.0).abs() < 1e-3 && (page[1] - 10.0).abs() < 1e-3, "{page:?}");
        let narrow =
            bars(&template(&blank(), &TemplateSetting { ten_mm: Vec::new(), ..setting() }));
        assert!(narrow.iter().all(|bar| (bar - 10.0).abs() < 1e-3), "{narrow:?}");
    }

    #[test]
    fn no_words_meet_on_the_page_or_beside_it() {
        let crowded = "[[station]]\nat = 0\ndiameter = 60\n[[station]]\nat = 2\ndiameter = 64\n\
                       [[station]]\nat = 3\ndiameter = 70\n[[station]]\nat = 80\ndiameter = 71\n\
                       [[zone]]\nname = \"a name that is long\"\nat = [1, 4]\nturn = [-5, 5]\n\
                       [[zone]]\nname = \"handle\"\nat = [60, 78]\nturn = [150, 210]\nrise = 9\n";
        let crowded = stave_setup::read_blank(crowded, "b.toml").unwrap();
        for blank in [blank(), crowded] {
            for stands in [Stands::Upright, Stands::Lying, Stands::Inverted] {
                let setting = TemplateSetting { stands, ..setting() };
                let page = Page::new(&blank, &setting);
                let (width, height) = page.size();
                let mut all = names::names(&page).0;
                assert_words_apart(&all, kurbo::Rect::new(0.0, 0.0, width, height));
                all.group("", margin::margin(&page));
                let around = kurbo::Rect::new(0.0, -3.0, width + 150.0, height + 120.0);
                assert_words_apart(&all, around);
            }
        }
    }

    /// Every name stands at its own zone, shortened where it must be, however many there are.
    #[test]
    fn every_zone_has_its_name_beside_it() {
        let zone = |k: u32| {
            let (column, row) = (f64::from(k / 6), f64::from(k % 6));
            format!(
                "[[zone]]\nname = \"rivet {k} of the long riveted band\"\nat = [{:?}, {:?}]\n\
                 turn = [{:?}, {:?}]\nmargin = 1\n",
                10.0 + 15.0 * row,
                16.0 + 15.0 * row,
                90.0 * column - 170.0,
                90.0 * column - 162.0
            )
        };
        let can = "[[station]]\nat = 0\ndiameter = 80\n[[station]]\nat = 100\ndiameter = 84\n";
        let many: String = (0..24).map(zone).collect();
        let one = "[[zone]]\nname = \"a boss whose name is a sentence, since a cell of a table \
                   held one and nobody looked at it before the page was drawn\"\nat = [20, 60]\n\
                   turn = [80, 110]\n";
        for zones in [many.as_str(), one] {
            let blank = stave_setup::read_blank(&format!("{can}{zones}"), "b.toml").unwrap();
            let setting = setting();
            let page = Page::new(&blank, &setting);
            let words = names::names(&page).0;
            let (width, height) = page.size();
            assert_words_apart(&words, kurbo::Rect::new(0.0, 0.0, width, height));
            for zone in &blank.zones {
                let (s, turn) = page.shown(zone)[0];
                let bounds = page.box_of(&page.patch(turn, s, page.margin_mm(zone))).unwrap();
                let begin: String = zone.name.chars().take(7).collect();
                let near = bounds.inflate(1.0, 1.0);
                let is_there = words
                    .words
                    .iter()
                    .any(|(rect, word)| word.starts_with(begin.trim()) && rect.overlaps(near));
                assert!(is_there, "{}: {:?}", zone.name, words.words);
            }
        }
    }

    #[test]
    fn page_maps_are_those_of_the_design() {
        let blank = blank();
        let at = |stands| {
            let setting = TemplateSetting { stands, ..setting() };
            Page::new(&blank, &setting).place(20.0, 30.0)
        };
        let half = 60.0 * PI;
        assert_eq!(at(Stands::Upright), (half - 30.0, 30.0));
        assert_eq!(at(Stands::Inverted), (half + 30.0, 20.0));
        assert_eq!(at(Stands::Lying), (20.0, half - 30.0));
    }

    #[test]
    fn a_zone_over_the_seam_shows_at_both_edges() {
        assert_eq!(template(&blank(), &setting()).matches("fill=\"#f2d6c2\"").count(), 2);
    }
}
