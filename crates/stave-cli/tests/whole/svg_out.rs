//! `wrap --to svg`: the drawing laid, for a controller that takes the wall for a cylinder.

use stave_tests::cases;
use std::f64::consts::PI;
use std::path::Path;

use kurbo::{Affine, BezPath, ParamCurve, Point, Shape as _};
use proptest::prelude::*;

use crate::command::{LAID, Outcome, fixture, run, run_in};
use crate::lay::{LAYS, Lay, LayKind};
use crate::meridian::Meridian;
use crate::program::{self, Kind};
use crate::settings;

/// A paths of the drawing that was written: id, outline and fill.
struct Sheet {
    width: f64,
    height: f64,
    paths: Vec<(Option<String>, BezPath, String)>,
    ids: Vec<String>,
    note: String,
}

fn sheet(svg: &str) -> Sheet {
    let document = roxmltree::Document::parse(svg).unwrap();
    let root = document.root_element();
    let mm = |name: &str| {
        root.attribute(name).unwrap().strip_suffix("mm").unwrap().parse::<f64>().unwrap()
    };
    let (width, height) = (mm("width"), mm("height"));
    assert_eq!(
        root.attribute("viewBox").unwrap(),
        svg_box(root.attribute("width").unwrap(), root.attribute("height").unwrap())
    );
    let drawn = document.descendants().filter(|n| {
        n.has_tag_name((SVG, "path")) && !n.ancestors().any(|a| a.has_tag_name((SVG, "clipPath")))
    });
    let paths = drawn
        .map(|n| {
            let path = BezPath::from_svg(n.attribute("d").unwrap()).unwrap();
            (
                n.attribute("id").map(str::to_owned),
                path,
                n.attribute("fill").unwrap_or("black").to_owned(),
            )
        })
        .collect();
    let ids = document.descendants().filter_map(|n| n.attribute("id")).map(str::to_owned).collect();
    let note = document.descendants().find(|n| n.has_tag_name((SVG, "metadata")));
    Sheet {
        width,
        height,
        paths,
        ids,
        note: note.and_then(|n| n.text()).unwrap_or_default().to_owned(),
    }
}

const SVG: &str = "http://www.w3.org/2000/svg";

fn svg_box(width: &str, height: &str) -> String {
    format!("0 0 {} {}", width.trim_end_matches("mm"), height.trim_end_matches("mm"))
}

/// How a drawing stands, and how its page lies in the flat plane, by DESIGN section 5.
#[derive(Clone, Copy, Debug)]
enum Stands {
    Upright,
    Inverted,
    Lying,
}

impl Stands {
    fn word(self) -> &'static str {
        match self {
            Self::Upright => "upright",
            Self::Inverted => "inverted",
            Self::Lying => "lying",
        }
    }

    /// From a page to (along, around).
    fn flat(self, (width, height): (f64, f64), p: Point) -> (f64, f64) {
        match self {
            Self::Upright => (height - p.y, width / 2.0 - p.x),
            Self::Inverted => (p.y, p.x - width / 2.0),
            Self::Lying => (p.x, height / 2.0 - p.y),
        }
    }
}

fn stations(path: &Path, stations: &[(f64, f64)], straight: bool) -> Meridian {
    let list: String = stations
        .iter()
        .map(|(at, radius)| format!("[[station]]\nat = {at:?}\ndiameter = {:?}\n", 2.0 * radius))
        .collect();
    let word = if straight { "straight" } else { "smooth" };
    std::fs::write(path, format!("wall = \"{word}\"\n{list}")).unwrap();
    settings::wall(path)
}

/// Where on the meridian the X word of a tilted work is found, from the zero at the first station.
fn s_of_word(wall: &Meridian, tilt: f64, x: f64) -> f64 {
    let crest = |s: f64| {
        let section = wall.at_s(s);
        section.z * tilt.cos() - section.r * tilt.sin()
    };
    let zero = crest(0.0);
    let (mut low, mut high) = (0.0, wall.length());
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if crest(middle) - zero < x { low = middle } else { high = middle }
    }
    0.5 * (low + high)
}

#[derive(Clone, Debug)]
struct Try {
    straight: bool,
    lay: LayKind,
    by_piece: bool,
    stands: Stands,
    tilt: f64,
    told: f64,
    points: Vec<(f64, f64)>,
}

fn tries() -> impl Strategy<Value = Try> {
    (
        any::<bool>(),
        prop::sample::select(LAYS.to_vec()),
        any::<bool>(),
        prop::sample::select(vec![Stands::Upright, Stands::Inverted, Stands::Lying]),
        -4.0..4.0_f64,
        50.0..90.0_f64,
        prop::collection::vec((8.0..92.0_f64, -60.0..60.0_f64), 4),
    )
        .prop_map(|(straight, lay, by_piece, stands, tilt, told, points)| Try {
            straight,
            lay,
            by_piece,
            stands,
            tilt,
            told,
            points,
        })
}

/// A wall with a step.
const STEP: [(f64, f64); 4] = [(5.0, 40.0), (45.0, 38.0), (55.0, 30.0), (110.0, 32.0)];

fn wrap(folder: &Path, options: &[&str]) -> Outcome {
    let machine = fixture("machines/degrees.toml");
    let mut all = vec!["wrap", "-m", machine.to_str().unwrap(), "--to", "svg", "-q"];
    all.extend(options);
    run_in(folder, &all, b"")
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..cases(3) })]

    /// The page says where everything burns; read back flat onto a cylinder of the told diameter it
    /// says the same again.
    #[test]
    fn what_is_drawn_burns_where_the_lay_puts_it_and_read_back_it_stays(case in tries()) {
        let folder = tempfile::tempdir().unwrap();
        let wall = stations(&folder.path().join("b.toml"), &STEP, case.straight);
        let page =
            if matches!(case.stands, Stands::Lying) { (100.0, 200.0) } else { (200.0, 100.0) };
        // The curve is drawn where it has these flat coordinates.
        let to_page = |(u, v): (f64, f64)| match case.stands {
            Stands::Upright => Point::new(page.0 / 2.0 - v, page.1 - u),
            Stands::Inverted => Point::new(page.0 / 2.0 + v, u),
            Stands::Lying => Point::new(u, page.1 / 2.0 - v),
        };
        let p: Vec<Point> = case.points.iter().map(|p| to_page(*p)).collect();
        let mut drawn = BezPath::new();
        drawn.move_to(p[0]);
        drawn.curve_to(p[1], p[2], p[3]);
        drawn.close_path();
        std::fs::write(folder.path().join("a.svg"), format!(
            "<svg xmlns=\"{SVG}\" width=\"{0}mm\" height=\"{1}mm\" viewBox=\"0 0 {0} {1}\"><path \
             id=\"leaf\" fill=\"#1f3a5f\" d=\"{2}\"/></svg>",
            page.0, page.1, drawn.to_svg()
        )).unwrap();
        let (tilt, told) = (case.tilt.to_string(), case.told.to_string());
        let anchor = if case.by_piece { "piece" } else { "drawing" };
        let settings = [
            "--lay",
            case.lay.name(),
            "--stands",
            case.stands.word(),
            "--tilt",
            &tilt,
            "--set-diameter",
            &told,
            "--anchor",
            anchor,
        ];
        let options = [&["a.svg", "-b", "b.toml", "-o", "out.svg"][..], &settings].concat();
        wrap(folder.path(), &options).done();
        let first = sheet(&std::fs::read_to_string(folder.path().join("out.svg")).unwrap());
        prop_assert_eq!(first.paths.len(), 1);
        prop_assert_eq!(first.paths[0].0.as_deref(), Some("leaf"));

        let around = if matches!(case.stands, Stands::Lying) { first.height } else { first.width };
        prop_assert!(around >= PI * case.told - 1e-3);
        let centre = drawn.bounding_box().center();
        let centre = case.stands.flat(page, centre);
        let lay = Lay::new(&wall, case.lay, (5.0, 0.0), case.by_piece.then_some(centre));
        let exact: Vec<[f64; 2]> = drawn
            .segments()
            .flat_map(|s| (0..=1500).map(move |k| s.eval(f64::from(k) / 1500.0)))
            .map(|p| {
                let (u, v) = case.stands.flat(page, p);
                lay.image(&wall, u, v)
            })
            .collect();
        let burned = |p: Point| {
            let (x, v) = case.stands.flat((first.width, first.height), p);
            [s_of_word(&wall, case.tilt.to_radians(), x), v / (case.told / 2.0)]
        };
        for segment in first.paths[0].1.segments() {
            for k in 0..=8 {
                let at = burned(segment.eval(f64::from(k) / 8.0));
                let off = off_line(&wall, &exact, at);
                prop_assert!(off <= 0.0105, "{off} mm");
            }
        }

        // The cylinder: as long as the page, of the told diameter.
        let along = if matches!(case.stands, Stands::Lying) { first.width } else { first.height };
        stations(
            &folder.path().join("c.toml"),
            &[(0.0, case.told / 2.0), (along, case.told / 2.0)],
            true,
        );
        wrap(
            folder.path(),
            &["out.svg", "-b", "c.toml", "--stands", case.stands.word(), "-o", "again.svg"],
        )
        .done();
        let again = sheet(&std::fs::read_to_string(folder.path().join("again.svg")).unwrap());
        let (one, other) = (&first.paths[0].1, &again.paths[0].1);
        let points = |path: &BezPath| -> Vec<Point> {
            path.segments()
                .flat_map(|s| (0..=200).map(move |k| s.eval(f64::from(k) / 200.0)))
                .collect()
        };
        let (one, other) = (points(one), points(other));
        // Where the art reached past half a turn the first page was made wider.
        let flat = |sheet: &Sheet, p: Point| {
            let (u, v) = case.stands.flat((sheet.width, sheet.height), p);
            Point::new(u, v)
        };
        let other: Vec<Point> = other.iter().map(|p| flat(&again, *p)).collect();
        for p in one.iter().step_by(23) {
            let p = flat(&first, *p);
            let near = other
                .windows(2)
                .map(|pair| off_chord(pair[0], pair[1], p))
                .fold(f64::INFINITY, f64::min);
            prop_assert!(near < 0.002, "{near} mm");
        }
    }
}

/// The lines that a program burns, as points of X word and turn (rad).
fn burned_words(text: &str) -> Vec<[f64; 2]> {
    let moves = program::read(text).moves;
    let burns = moves.iter().filter(|m| m.kind == Kind::Burn);
    burns.flat_map(|m| [m.from, m.to]).map(|axes| [axes[0], axes[3].to_radians()]).collect()
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..cases(3) })]

    /// The program for the bottle, and the program for a cylinder of the told diameter from the
    /// drawing that was laid for it, send the beam and the rotary to the same places.
    #[test]
    fn the_laid_drawing_on_a_cylinder_burns_the_same_wall(case in tries()) {
        let folder = tempfile::tempdir().unwrap();
        let wall = stations(&folder.path().join("b.toml"), &STEP, case.straight);
        let page = (200.0, 100.0);
        let p: Vec<Point> =
            case.points.iter().map(|(u, v)| Point::new(page.0 / 2.0 - v, page.1 - u)).collect();
        let mut drawn = BezPath::new();
        drawn.move_to(p[0]);
        drawn.curve_to(p[1], p[2], p[3]);
        std::fs::write(folder.path().join("a.svg"), format!(
            "<svg xmlns=\"{SVG}\" width=\"{0}mm\" height=\"{1}mm\" viewBox=\"0 0 {0} {1}\"><path \
             fill=\"none\" stroke=\"#000\" \
             stroke-width=\"0.1\" d=\"{2}\"/></svg>",
            page.0, page.1, drawn.to_svg()
        )).unwrap();
        let (tilt, told) = (case.tilt.to_string(), case.told.to_string());
        let options = [
            "a.svg",
            "-b",
            "b.toml",
            "--lay",
            case.lay.name(),
            "--tilt",
            &tilt,
            "--set-diameter",
            &told,
        ];
        let machine = fixture("machines/degrees.toml");
        let gcode = |options: &[&str]| {
            let wrap = ["wrap", "-m", machine.to_str().unwrap(), "-q"];
            let all = [&wrap[..], &LAID, options].concat();
            burned_words(run_in(folder.path(), &all, b"").done().out_text())
        };
        let bottle = gcode(&options);
        wrap(folder.path(), &[&options[..], &["-o", "out.svg"]].concat()).done();
        let laid = sheet(&std::fs::read_to_string(folder.path().join("out.svg")).unwrap());
        let cylinder = [(0.0, case.told / 2.0), (laid.height, case.told / 2.0)];
        stations(&folder.path().join("c.toml"), &cylinder, true);
        let cylinder = gcode(&["out.svg", "-b", "c.toml"]);
        prop_assert!(!bottle.is_empty() && !cylinder.is_empty());
        let tilt = case.tilt.to_radians();
        let off = |from: &[[f64; 2]], to: &[[f64; 2]]| {
            let far = from.iter().map(|at| {
                let section = wall.at_s(s_of_word(&wall, tilt, at[0]));
                let rate = (section.slope.atan() + tilt).cos();
                let near =
                    |p: &[f64; 2]| Point::new((p[0] - at[0]) / rate, (p[1] - at[1]) * section.r);
                to.chunks_exact(2)
                    .map(|w| off_chord(near(&w[0]), near(&w[1]), Point::ORIGIN))
                    .fold(f64::INFINITY, f64::min)
            });
            far.fold(0.0, f64::max)
        };
        // Each may stray by its own tolerance, and a little is lost in rounding.
        let (one, other) = (off(&bottle, &cylinder), off(&cylinder, &bottle));
        prop_assert!(one < 0.021 && other < 0.021, "{one} mm, {other} mm");
    }
}

/// How far from a line on the wall a place lies, mm.
fn off_line(wall: &Meridian, line: &[[f64; 2]], at: [f64; 2]) -> f64 {
    let radius = wall.at_s(at[0]).r;
    let near = |place: &[f64; 2]| Point::new(place[0] - at[0], (place[1] - at[1]) * radius);
    line.windows(2)
        .map(|pair| off_chord(near(&pair[0]), near(&pair[1]), Point::ORIGIN))
        .fold(f64::INFINITY, f64::min)
}

fn off_chord(a: Point, b: Point, p: Point) -> f64 {
    let d = b - a;
    let t = if d.hypot2() > 0.0 { ((p - a).dot(d) / d.hypot2()).clamp(0.0, 1.0) } else { 0.0 };
    (a + t * d).distance(p)
}

fn wrap_fixture(art: &str, blank: &str, more: &[&str]) -> Outcome {
    let art = format!("fixtures/art/{art}.svg");
    let blank = format!("fixtures/blanks/{blank}.toml");
    run(
        &[
            &["wrap", &art, "-b", &blank, "-m", "fixtures/machines/degrees.toml", "--to", "svg"],
            more,
        ]
        .concat(),
        b"",
    )
}

#[test]
fn structure_ids_colours_and_order_are_the_drawings() {
    let out = wrap_fixture("crest", "can", &["-j", "fixtures/art/crest.toml"]).done();
    let drawn = sheet(out.out_text());
    // A straight tin of 74 mm: one turn is its circumference, and the page as long as it.
    assert!((drawn.width - 74.0 * PI).abs() < 1e-3 && (drawn.height - 110.0).abs() < 1e-9);
    let source = std::fs::read_to_string(fixture("art/crest.svg")).unwrap();
    let source = roxmltree::Document::parse(&source).unwrap();
    let in_defs = |n: &roxmltree::Node<'_, '_>| {
        n.ancestors().any(|a| matches!(a.tag_name().name(), "defs" | "clipPath"))
    };
    let ids: Vec<&str> =
        source.descendants().filter(|n| !in_defs(n)).filter_map(|n| n.attribute("id")).collect();
    let kept: Vec<&str> =
        drawn.ids.iter().map(String::as_str).filter(|id| ids.contains(id)).collect();
    assert_eq!(
        kept,
        ids.iter().copied().filter(|id| kept.contains(id)).collect::<Vec<_>>(),
        "in another order"
    );
    assert!(kept.contains(&"shield") && kept.contains(&"oars"), "{kept:?}");
    assert!(drawn.paths.iter().any(|(_, _, fill)| fill == "#1f3a5f"));
    assert!(out.out_text().contains("clip-path=\"url(#stave-clip-1)\""));
    for word in ["stave wrapped 1", "told a diameter of 74 mm", "CAUTION", "never PVC"] {
        assert!(drawn.note.contains(word), "{word:?} is not in {}", drawn.note);
    }
}

#[test]
fn zones_are_refused_by_place_and_piece_or_covered() {
    let refused = wrap_fixture("pennants", "bottle", &["--lay", "even-angle"]);
    assert_eq!(refused.status, Some(1));
    assert!(refused.out.is_empty());
    assert!(refused.err.contains("zone \"") && refused.err.contains("piece \""), "{}", refused.err);
    let masked = wrap_fixture("pennants", "bottle", &["-j", "fixtures/art/pennants.toml"]).done();
    let drawn = sheet(masked.out_text());
    // The covers lie over everything, and are white.
    let last = drawn.paths.last().unwrap();
    assert!(last.0.as_deref().unwrap().starts_with("zone ") && last.2 == "#ffffff");
    assert!(drawn.ids.iter().any(|id| id == "stave-zones"));
    assert!(
        wrap_fixture("pennants", "bottle", &["--lay", "even-angle", "--zones", "ignore"]).status
            == Some(0)
    );
}

#[test]
fn strokes_that_burn_with_their_width_become_areas() {
    let out = wrap_fixture("lifebelt", "ornament", &["-j", "fixtures/art/lifebelt.toml"]).done();
    let drawn = sheet(out.out_text());
    assert!(drawn.note.contains("filled outlines"));
    assert!(drawn.paths.iter().any(|(_, _, fill)| fill == "#b8860b"));
    assert!(out.out_text().contains("stroke=\"#"), "lines stay lines");
}

#[test]
fn what_does_not_fit_ends_with_1_and_what_cannot_be_meant_with_2() {
    let folder = tempfile::tempdir().unwrap();
    stations(&folder.path().join("b.toml"), &STEP, true);
    let beyond = wrap(folder.path(), &["--path", "M0 0H20V200", "-b", "b.toml"]);
    assert_eq!(beyond.status, Some(1));
    assert!(beyond.err.contains("off the wall"), "{}", beyond.err);
    let label = wrap(
        folder.path(),
        &["--path", "M0 0H260V20Z", "-b", "b.toml", "--lay", "label", "--place-at", "40"],
    );
    assert_eq!(label.status, Some(1));
    assert!(label.err.contains("error fold: the label reaches"), "{}", label.err);
    assert!(label.err.contains("(piece \"path\")"), "{}", label.err);
    let broken = wrap(folder.path(), &["--path", "M0 0H20W3", "-b", "b.toml"]);
    assert_eq!(broken.status, Some(2));
    assert!(broken.err.contains("column 8") && broken.err.contains('^'), "{}", broken.err);
    let program =
        wrap(folder.path(), &[fixture("programs/crest.nc").to_str().unwrap(), "-b", "b.toml"]);
    assert_eq!(program.status, Some(2));
}

#[test]
fn bare_path_data_and_its_place() {
    let folder = tempfile::tempdir().unwrap();
    stations(&folder.path().join("b.toml"), &STEP, true);
    let out = wrap(
        folder.path(),
        &[
            "--path",
            "M0 0H20V10H0Z",
            "-b",
            "b.toml",
            "--place-at",
            "60",
            "--place-turn",
            "90",
            "--set-diameter",
            "70",
        ],
    )
    .done();
    let drawn = sheet(out.out_text());
    // X 0 and turn 0 of the words are where the art is placed, unless the job has a zero of its
    // own.
    let bounds = drawn.paths[0].1.bounding_box();
    let to_words = Affine::new([0.0, -1.0, -1.0, 0.0, drawn.height, drawn.width / 2.0]);
    let words = to_words.transform_rect_bbox(bounds);
    assert!(words.x0.abs() < 1e-3 && (words.center().y).abs() < 1e-3, "{words:?}");
    let zeroed = wrap(
        folder.path(),
        &[
            "--path",
            "M0 0H20V10H0Z",
            "-b",
            "b.toml",
            "--place-at",
            "60",
            "--place-turn",
            "90",
            "--zero-at",
            "5",
            "--zero-turn",
            "0",
            "--set-diameter",
            "70",
        ],
    )
    .done();
    let drawn = sheet(zeroed.out_text());
    let to_words = Affine::new([0.0, -1.0, -1.0, 0.0, drawn.height, drawn.width / 2.0]);
    let words = to_words.transform_rect_bbox(drawn.paths[0].1.bounding_box());
    assert!(
        (words.x0 - 55.0).abs() < 1e-3 && (words.center().y - 35.0 * PI / 2.0).abs() < 1e-3,
        "{words:?}"
    );
}
