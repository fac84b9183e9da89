#![allow(clippy::unwrap_used)]

use std::f64::consts::PI;

use kurbo::{BezPath, ParamCurve, PathEl, PathSeg, Point, Rect, Shape as _};
use proptest::prelude::*;
use stave_setup::{Setup, read_blank, read_job, read_machine};
use stave_toolpath::art::Rule;
use stave_wall::{Anchor, Lay, LayKind, LaySetting};

use super::{Extent, Redraw};

/// A step between two runs, as many bottles have it.
const STATIONS: &str = "[[station]]\nat = 0\ndiameter = 80\n[[station]]\nat = 40\ndiameter = \
                        76\n[[station]]\nat = 50\n\
    diameter = 60\n[[station]]\nat = 100\ndiameter = 64\n";
const MACHINE: &str = "[x]\nspeed = 500\nacceleration = 5000\n[y]\nspeed = 500\nacceleration = \
                       5000\n\
    [rotary]\nword = \"A\"\nunits_per_turn = 360\nspeed = 360\nacceleration = 2000\n";

fn setup(blank: &str, job: &str) -> Setup {
    let (blank, job) = (read_blank(blank, "b").unwrap(), read_job(job, "j").unwrap());
    Setup::new(blank, read_machine(MACHINE, "m").unwrap(), job).unwrap()
}

fn lay(setup: &Setup, kind: LayKind, anchor: (f64, f64)) -> Lay {
    let setting = LaySetting {
        kind,
        origin_s_mm: 0.0,
        origin_turn_rad: 0.0,
        reference_radius_mm: 40.0,
        anchor: Anchor::Point { u_mm: anchor.0, v_mm: anchor.1 },
    };
    Lay::new(&setup.blank.wall, setting).unwrap()
}

/// The farthest on the wall, mm, between the exact image of a flat curve and the path it was
/// redrawn as, both ways.
fn strays_mm(redraw: &Redraw<'_>, lay: &Lay, flat: &BezPath, drawn: &BezPath) -> f64 {
    const LOOKS: u32 = 400;
    // A small map of the page around each exact point tells lengths on the wall: along 1/rate,
    // around r/R.
    let mut exact = Vec::new();
    for curve in flat.segments() {
        // With the kinks among the points, or the chords over them would stray themselves.
        let cuts = redraw.cuts(lay, &curve);
        let spread = |pair: &[f64]| {
            let (from, to) = (pair[0], pair[1]);
            (0..=LOOKS)
                .map(move |k| from + (to - from) * f64::from(k) / f64::from(LOOKS))
                .collect::<Vec<_>>()
        };
        for t in cuts.windows(2).flat_map(spread) {
            let p = curve.eval(t);
            let laid = redraw.place(lay, p);
            let scale = (
                1.0 / redraw.rig.crest.along_rate(&laid.section),
                laid.section.radius_mm / redraw.told_radius_mm,
            );
            exact.push((redraw.on_page(&laid), scale));
        }
    }
    let drawn: Vec<Point> = drawn
        .segments()
        .flat_map(|s| (0..=LOOKS).map(move |k| s.eval(f64::from(k) / f64::from(LOOKS))))
        .collect();
    let to_run = |p: Point, run: &[Point], scale: (f64, f64)| {
        let near = |pair: &[Point]| {
            let wall = |q: Point| Point::new((q.x - p.x) * scale.0, (q.y - p.y) * scale.1);
            kurbo::Line::new(wall(pair[0]), wall(pair[1])).distance_to_origin()
        };
        run.windows(2).map(near).fold(f64::INFINITY, f64::min)
    };
    let exact_points: Vec<Point> = exact.iter().map(|(p, _)| *p).collect();
    let there = exact.iter().map(|(p, scale)| to_run(*p, &drawn, *scale)).fold(0.0, f64::max);
    let back = drawn.iter().map(|p| {
        let nearest =
            exact.iter().min_by(|a, b| a.0.distance(*p).total_cmp(&b.0.distance(*p))).unwrap();
        to_run(*p, &exact_points, nearest.1)
    });
    there.max(back.fold(0.0, f64::max))
}

trait DistanceToOrigin {
    fn distance_to_origin(&self) -> f64;
}

impl DistanceToOrigin for kurbo::Line {
    fn distance_to_origin(&self) -> f64 {
        let d = self.p1 - self.p0;
        let t = if d.hypot2() > 0.0 {
            (-self.p0.to_vec2().dot(d) / d.hypot2()).clamp(0.0, 1.0)
        } else {
            0.0
        };
        (self.p0 + t * d).to_vec2().hypot()
    }
}

fn curve() -> impl Strategy<Value = (BezPath, Point)> {
    let point = || (5.0..95.0_f64, -40.0..40.0_f64).prop_map(Point::from);
    ([point(), point(), point(), point()], 0..3_usize).prop_map(|([a, b, c, d], degree)| {
        let mut path = BezPath::new();
        path.move_to(a);
        match degree {
            0 => path.line_to(d),
            1 => path.quad_to(b, d),
            _ => path.curve_to(b, c, d),
        }
        let centre = path.bounding_box().center();
        (path, centre)
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    #[test]
    fn what_is_redrawn_stays_within_the_tolerance_on_the_wall(
        (flat, centre) in curve(),
        kind in prop::sample::select(vec![LayKind::EvenAngle, LayKind::TrueWidth, LayKind::TrueShape]),
        smooth in any::<bool>(),
        tilt in -5.0..5.0_f64,
    ) {
        let blank = format!("wall = \
                             \"{}\"\n{STATIONS}", if smooth { "smooth" } else { "straight" });
        let setup = setup(&blank, &format!("tilt = {tilt}\nset_diameter = 70\n"));
        let (redraw, lay) = (Redraw::new(&setup), lay(&setup, kind, (centre.x, centre.y)));
        let drawn = redraw.path(&lay, &flat, &mut Extent::NOTHING.clone()).unwrap();
        let strays = strays_mm(&redraw, &lay, &flat, &drawn);
        prop_assert!(strays <= 0.01, "{strays} mm, {} elements", drawn.elements().len());
        prop_assert!(drawn.elements().len() < 150, "{} elements", drawn.elements().len());
    }
}

#[test]
fn a_label_is_redrawn_within_the_tolerance() {
    for wall in ["straight", "smooth"] {
        let setup = setup(&format!("wall = \"{wall}\"\n{STATIONS}"), "set_diameter = 70\n");
        let (redraw, lay) = (Redraw::new(&setup), lay(&setup, LayKind::Label, (45.0, 0.0)));
        let ring = kurbo::Circle::new((45.0, 0.0), 12.0).to_path(1e-6);
        let drawn = redraw.path(&lay, &ring, &mut Extent::NOTHING.clone()).unwrap();
        let strays = strays_mm(&redraw, &lay, &ring, &drawn);
        assert!(strays <= 0.01, "{strays} mm on a {wall} wall");
        assert!(drawn.elements().len() < 60, "{} elements", drawn.elements().len());
    }
}

#[test]
fn on_a_cylinder_nothing_changes_but_the_place() {
    let can = "[[station]]\nat = 10\ndiameter = 80\n[[station]]\nat = 110\ndiameter = 80\n";
    let setup = setup(can, "set_diameter = 80\n");
    let redraw = Redraw::new(&setup);
    let flat = BezPath::from_svg("M10 0L30 20Q40 0 50 -20C60 -30 70 30 80 10Z").unwrap();
    for kind in LayKind::ALL {
        let lay = lay(&setup, kind, (45.0, 0.0));
        let mut extent = Extent::NOTHING;
        let drawn = redraw.path(&lay, &flat, &mut extent).unwrap();
        let strays = strays_mm(&redraw, &lay, &flat, &flat);
        assert!(strays < 0.001, "{strays} mm under {kind}");
        let far = flat.segments().zip(drawn.segments());
        assert!(far.clone().count() >= 4);
        for (one, other) in far {
            assert!(one.eval(0.0).distance(other.eval(0.0)) < 1e-6, "{kind}");
        }
        // The closing line falls short of no end.
        assert!(
            (extent.at_mm.0 - 20.0).abs() < 1e-6 && (extent.at_mm.1 - 90.0).abs() < 1e-6,
            "{extent:?}"
        );
    }
}

#[test]
fn lines_along_and_around_stay_lines_and_kinks_stand_at_stations() {
    let setup = setup(STATIONS, "set_diameter = 70\n");
    let (redraw, lay) = (Redraw::new(&setup), lay(&setup, LayKind::EvenAngle, (0.0, 0.0)));
    let slanted = BezPath::from_svg("M20 0L80 30").unwrap();
    let drawn = redraw.path(&lay, &slanted, &mut Extent::NOTHING.clone()).unwrap();
    let points: Vec<Point> = drawn
        .elements()
        .iter()
        .map(|el| match el {
            PathEl::MoveTo(p) | PathEl::LineTo(p) => *p,
            other => panic!("{other:?}"),
        })
        .collect();
    // The stations at 40 and 50 mm; the axis runs along the page, so they stand there on it.
    assert_eq!(points.len(), 4);
    assert!((points[1].x - 40.0).abs() < 1e-9 && (points[2].x - 50.0).abs() < 1e-9, "{points:?}");
    // True widths around the steep wall are lines too.
    let level = BezPath::from_svg("M45 -20L45 20").unwrap();
    let lay = super::tests::lay(&setup, LayKind::TrueWidth, (45.0, 0.0));
    let drawn = redraw.path(&lay, &level, &mut Extent::NOTHING.clone()).unwrap();
    assert_eq!(drawn.segments().filter(|s| matches!(s, PathSeg::Line(_))).count(), 1);
}

const ZONES: &str = "[[zone]]\nname = \"boss\"\nat = [70, 80]\nturn = [170, 190]\nmargin = 1\n\
    [[zone]]\nname = \"seam\"\nat = [5, 8]\nturn = [0, 360]\n";

#[test]
fn zones_are_hit_by_lines_by_areas_and_from_within() {
    let setup = setup(&format!("{STATIONS}{ZONES}"), "set_diameter = 70\n");
    let (redraw, lay) = (Redraw::new(&setup), lay(&setup, LayKind::EvenAngle, (0.0, 0.0)));
    let far = PI * 40.0;
    let hits = |rect: Rect, area: Option<Rule>| -> Vec<String> {
        redraw
            .zone_hits(&lay, &rect.to_path(0.1), area, rect)
            .into_iter()
            .map(|hit| hit.zone)
            .collect()
    };
    // Along the meridian the boss is at 71.5 to 81.5 mm or so, at half a turn.
    assert_eq!(hits(Rect::new(60.0, -5.0, 95.0, 5.0), Some(Rule::NonZero)), [""; 0]);
    assert_eq!(hits(Rect::new(75.0, far - 1.0, 76.0, far + 1.0), None), ["boss"]);
    let around = Rect::new(60.0, far - 30.0, 95.0, far + 30.0);
    assert_eq!(hits(around, None), [""; 0]);
    assert_eq!(hits(around, Some(Rule::NonZero)), ["boss"]);
    // A turn further on it is the same boss.
    let turned = around + kurbo::Vec2::new(0.0, -2.0 * far);
    assert_eq!(hits(turned, Some(Rule::EvenOdd)), ["boss"]);
    assert_eq!(hits(Rect::new(2.0, 0.0, 20.0, 1.0), None), ["seam"]);
    // What is clipped away hits nothing, nor does it lie off the wall.
    let (long, seen) = (Rect::new(-20.0, 0.0, 60.0, 1.0), Rect::new(20.0, 0.0, 60.0, 1.0));
    assert_eq!(redraw.zone_hits(&lay, &long.to_path(0.1), Some(Rule::NonZero), seen), []);
    assert!(redraw.reaches(&lay, &long.to_path(0.1), long).is_err());
    redraw.reaches(&lay, &long.to_path(0.1), seen).unwrap();
}

#[test]
fn covers_lie_over_zones_and_margins_wherever_the_page_shows_them() {
    let setup = setup(&format!("{STATIONS}{ZONES}"), "set_diameter = 70\n");
    let redraw = Redraw::new(&setup);
    let half = PI * 35.0;
    let covers = redraw.zone_covers(-half, half);
    let (name, boss) = &covers[0];
    assert_eq!(name, "boss");
    // The boss lies on the edge of the page, half on either side of it.
    let boxes: Vec<Rect> = boss
        .segments()
        .filter(|s| s.as_line().is_some_and(|l| l.length() > 0.0))
        .map(|s| s.bounding_box())
        .collect();
    let low = boxes.iter().filter(|b| b.y0 < 0.0).copied().reduce(|a, b| a.union(b)).unwrap();
    let high = boxes.iter().filter(|b| b.y0 >= 0.0).copied().reduce(|a, b| a.union(b)).unwrap();
    assert!((low.y0 + half).abs() < 1e-9 && (high.y1 - half).abs() < 1e-9);
    // Ten degrees either way, and a margin of 1 mm on the wall, which is 35/31 mm on the page or
    // so.
    let wide = 35.0 * (10_f64.to_radians() + 1.0 / 31.0);
    assert!(
        (high.height() - wide).abs() < 0.05 && (low.height() - wide).abs() < 0.05,
        "{high:?} {low:?}"
    );
    let slope = (2.0_f64 / 50.0).atan();
    assert!(
        (high.x0 - (70.0 - slope.cos())).abs() < 1e-6
            && (high.x1 - (80.0 + slope.cos())).abs() < 1e-6
    );
    assert_eq!(covers[1].1.bounding_box().height(), 2.0 * half);
}

/// Where the page is the flat plane but for scale a curve is neither parted nor fitted, and lies
/// right to the last digits.
#[test]
fn where_the_lay_is_affine_control_points_are_carried() {
    let can = "[[station]]\nat = 0\ndiameter = 80\n[[station]]\nat = 100\ndiameter = 80\n";
    let flat = BezPath::from_svg("M10 0 C20 30 40 -30 60 12 Q80 40 90 -5").unwrap();
    for tilt in ["", "tilt = 2.5"] {
        let setup = setup(can, tilt);
        let redraw = Redraw::new(&setup);
        for kind in [LayKind::EvenAngle, LayKind::TrueWidth, LayKind::TrueShape] {
            let lay = lay(&setup, kind, (30.0, 8.0));
            let drawn = redraw.path(&lay, &flat, &mut Extent::NOTHING.clone()).unwrap();
            assert_eq!(drawn.elements().len(), flat.elements().len(), "{kind}");
            // As close as chords between the looks can tell.
            let (mut worst, mut far) = (0.0_f64, 0.0_f64);
            for (one, other) in flat.segments().zip(drawn.segments()) {
                for k in 0..=50 {
                    let t = f64::from(k) / 50.0;
                    let exact = redraw.on_page(&redraw.place(&lay, one.eval(t)));
                    worst = worst.max(exact.distance(other.eval(t)));
                    far = far.max(exact.to_vec2().hypot());
                }
            }
            assert!(worst < 1e-10 && far > 50.0, "{kind}: {worst}");
        }
    }
    // With even angles on a stepped wall too, run by run.
    let setup = setup(STATIONS, "");
    let redraw = Redraw::new(&setup);
    let lay = lay(&setup, LayKind::EvenAngle, (30.0, 8.0));
    let drawn = redraw.path(&lay, &flat, &mut Extent::NOTHING.clone()).unwrap();
    let parts: usize = flat.segments().map(|curve| redraw.cuts(&lay, &curve).len() - 1).sum();
    assert_eq!(drawn.elements().len(), parts + 1);
    assert!(strays_mm(&redraw, &lay, &flat, &drawn) < 1e-3);
}
