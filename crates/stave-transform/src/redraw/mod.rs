//! Curves of the flat plane drawn anew, as a controller needs them that takes the wall for a
//! cylinder.
//!
//! Such a controller reads a drawing, is told one diameter, and turns widths on the page to turns
//! of the work by it. The page it needs has the X word along it and `turn × told radius` around it:
//! [`Redraw`] carries curves there, through the lay and the wall, and keeps them curves.

mod back;
mod image;
mod zones;

pub use back::Back;
pub use zones::ZoneHit;

use kurbo::{BezPath, PathEl, PathSeg, Point, Rect};
use stave_setup::Setup;
use stave_wall::{Laid, Lay, LayKind, Wall, WallShape};

use image::Image;
use stave_rig::Misfit;
use stave_rig::Reach;
use stave_rig::Rig;
use stave_rig::Zones;

/// Of the tolerance, what curve fitting may take; the rest is for the rounding of numbers, by the
/// writer and readers in 32 bits.
const FITTING_SHARE: f64 = 0.75;
/// How many looks are taken along a curve for its reach.
const LOOKS: u32 = 16;
/// How many looks are taken along a curve for stations that a label crosses.
const LABEL_LOOKS: u32 = 64;
/// What is drawn to the end of the wall may lie so far beyond it, mm: documents are reckoned in 32
/// bits.
const END_SLACK_MM: f64 = 0.002;
/// Walls that stand steeper to the beam than this rate of the crest are followed as if they stood
/// so.
const LEAST_RATE: f64 = 0.05;
/// Crossings nearer to each other than this part of a curve are one.
const SAME_PARAMETER: f64 = 1e-9;

/// Carries curves of the flat plane to the page of a controller that takes the wall for a cylinder.
#[derive(Debug)]
pub struct Redraw<'a> {
    setup: &'a Setup,
    wall: &'a Wall,
    rig: Rig<'a>,
    reach: Reach,
    keepouts: Zones,
    told_radius_mm: f64,
    tolerance_mm: f64,
}

/// The part of the wall that curves cover.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Extent {
    /// Least and greatest place along the axis, mm.
    pub at_mm: (f64, f64),
    /// Least and greatest turn, rad.
    pub turn_rad: (f64, f64),
}

impl Extent {
    /// Nothing at all.
    pub const NOTHING: Extent = Extent {
        at_mm: (f64::INFINITY, f64::NEG_INFINITY),
        turn_rad: (f64::INFINITY, f64::NEG_INFINITY),
    };

    pub(crate) fn add(&mut self, place: &Laid) {
        let wider = |(low, high): (f64, f64), value: f64| (low.min(value), high.max(value));
        self.at_mm = wider(self.at_mm, place.section.at_mm);
        self.turn_rad = wider(self.turn_rad, place.turn_rad);
    }
}

impl<'a> Redraw<'a> {
    /// For a setup: its wall, tilt, zero, tolerance, and the radius the controller is told.
    #[must_use]
    pub fn new(setup: &'a Setup) -> Self {
        let wall = &setup.blank.wall;
        let rig = Rig::of_setup(setup);
        Self {
            setup,
            wall,
            reach: Reach::new(wall, &rig.crest, setup.machine.controller.steepest_rad),
            rig,
            keepouts: Zones::all(setup),
            told_radius_mm: setup.job.set_radius_mm,
            tolerance_mm: FITTING_SHARE * setup.job.tolerance_mm,
        }
    }

    /// A place of the wall on the page: the X word, and turn × told radius, mm, both from the
    /// machine's zero.
    #[must_use]
    pub fn on_page(&self, place: &Laid) -> Point {
        let (along_mm, turn_rad) = self.rig.along_and_turn(place);
        Point::new(along_mm, turn_rad * self.told_radius_mm)
    }

    /// The X word of the wall's two ends, mm, the lesser first.
    #[must_use]
    pub fn wall_on_page(&self) -> (f64, f64) {
        let along = |s_mm: f64| {
            let section = self.wall.section(s_mm, &mut 0);
            self.on_page(&Laid { s_mm, turn_rad: 0.0, span: 0, section }).x
        };
        let (one, other) = (along(0.0), along(self.wall.length_mm()));
        (one.min(other), one.max(other))
    }

    /// Flat curves, mm, on the page, mm: what lies under `lay` on the wall, within the tolerance
    /// there. Straight lines whose images are straight stay lines, all else becomes cubics; each is
    /// parted where it crosses a station, so that the kink that a straight wall has there stays
    /// sharp. What is covered is added to `extent`.
    ///
    /// # Errors
    /// A coordinate that is no number: a label larger than its wall.
    pub fn path(&self, lay: &Lay, flat: &BezPath, extent: &mut Extent) -> Result<BezPath, Misfit> {
        let mut out = BezPath::new();
        self.each_segment(flat, |event| {
            match event {
                Event::Begin(at) => out.move_to(self.on_page(&self.finite(lay, at)?)),
                Event::Curve(curve) => self.curve(lay, curve, &mut out, extent)?,
                Event::Close => out.close_path(),
            }
            Ok(())
        })?;
        Ok(out)
    }

    /// Whether all of some flat curves that lies in a box, mm, can be burned: on the wall, and
    /// nowhere steeper than the machine can reach.
    ///
    /// # Errors
    /// The first place where not.
    pub fn reaches(&self, lay: &Lay, flat: &BezPath, within: Rect) -> Result<(), Misfit> {
        let wall_mm = self.wall.length_mm();
        let drawn_to_end = |s_mm: f64| {
            let near = s_mm > -END_SLACK_MM && s_mm < wall_mm + END_SLACK_MM;
            if near { s_mm.clamp(0.0, wall_mm) } else { s_mm }
        };
        self.each_segment(flat, |event| {
            let Event::Curve(curve) = event else { return Ok(()) };
            let cuts = self.cuts(lay, curve);
            for pair in cuts.windows(2) {
                let looks = (0..=LOOKS).map(|k| {
                    let t = pair[0] + (pair[1] - pair[0]) * f64::from(k) / f64::from(LOOKS);
                    image::eval(curve, t)
                });
                let places = looks
                    .filter(|p| holds(within, *p))
                    .map(|p| drawn_to_end(self.place(lay, p).s_mm));
                let (low, high) = places
                    .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), s| {
                        (low.min(s), high.max(s))
                    });
                if low > high {
                    continue;
                }
                self.reach.allows(self.wall, &self.rig.crest, low, high)?;
            }
            Ok(())
        })
    }

    fn each_segment(
        &self,
        flat: &BezPath,
        mut each: impl FnMut(Event<'_>) -> Result<(), Misfit>,
    ) -> Result<(), Misfit> {
        let (mut start, mut at) = (Point::ORIGIN, Point::ORIGIN);
        for el in flat.elements() {
            let segment = match *el {
                PathEl::MoveTo(p) => {
                    (start, at) = (p, p);
                    each(Event::Begin(p))?;
                    continue;
                }
                PathEl::LineTo(p) => PathSeg::Line(kurbo::Line::new(at, p)),
                PathEl::QuadTo(a, p) => PathSeg::Quad(kurbo::QuadBez::new(at, a, p)),
                PathEl::CurveTo(a, b, p) => PathSeg::Cubic(kurbo::CubicBez::new(at, a, b, p)),
                PathEl::ClosePath => {
                    if at != start {
                        each(Event::Curve(&PathSeg::Line(kurbo::Line::new(at, start))))?;
                    }
                    at = start;
                    each(Event::Close)?;
                    continue;
                }
            };
            at = image::end(&segment);
            each(Event::Curve(&segment))?;
        }
        Ok(())
    }

    /// How many times longer than on the page a length may be on the wall: along where the wall
    /// stands steep, around where it is wide.
    fn stretch(&self, place: &Laid) -> f64 {
        let along = self.rig.crest.along_rate(&place.section).abs().max(LEAST_RATE);
        (1.0 / along).max(place.section.radius_mm / self.told_radius_mm)
    }

    fn place(&self, lay: &Lay, flat: Point) -> Laid {
        lay.map(self.wall, flat.x, flat.y, &mut 0)
    }

    fn finite(&self, lay: &Lay, flat: Point) -> Result<Laid, Misfit> {
        let place = self.place(lay, flat);
        let on_page = self.on_page(&place);
        if on_page.is_finite() {
            return Ok(place);
        }
        Err(Misfit::TooFar { word: 'X', value: on_page.x })
    }

    fn curve(
        &self,
        lay: &Lay,
        curve: &PathSeg,
        out: &mut BezPath,
        extent: &mut Extent,
    ) -> Result<(), Misfit> {
        for pair in self.cuts(lay, curve).windows(2) {
            let image = Image { redraw: self, lay, curve, from: pair[0], to: pair[1] };
            let mut finest_mm = self.tolerance_mm;
            let mut looks = Vec::with_capacity(LOOKS as usize + 1);
            for k in 0..=LOOKS {
                let t = pair[0] + (pair[1] - pair[0]) * f64::from(k) / f64::from(LOOKS);
                let place = self.finite(lay, image::eval(curve, t))?;
                extent.add(&place);
                finest_mm = finest_mm.min(self.tolerance_mm / self.stretch(&place));
                looks.push(self.on_page(&place));
            }
            let (Some(&first), Some(&last)) = (looks.first(), looks.last()) else { continue };
            let is_line =
                matches!(curve, PathSeg::Line(_)) && image::is_straight(&looks, 0.1 * finest_mm);
            if is_line || first == last && looks.iter().all(|look| *look == first) {
                out.line_to(last);
                continue;
            }
            if self.is_affine(lay, image::eval(curve, 0.5 * (pair[0] + pair[1]))) {
                image.carry(out);
                continue;
            }
            image.fit(0.0..1.0, finest_mm, out);
        }
        Ok(())
    }

    /// Whether the page around a flat point, as far as its run of the wall goes, is the flat plane
    /// but for scale: the place along is even with `u` on straight runs, and the turn with `v`
    /// unless the lay takes the radius into account and the run is a cone. A curve is then carried
    /// by its control points.
    fn is_affine(&self, lay: &Lay, flat: Point) -> bool {
        if self.wall.shape() != WallShape::Straight {
            return false;
        }
        match lay.setting().kind {
            LayKind::EvenAngle => true,
            LayKind::TrueWidth | LayKind::TrueShape => {
                self.place(lay, flat).section.sin_slope == 0.0
            }
            LayKind::Label => false,
        }
    }

    /// The parameters of a curve at its ends and where it crosses a station, in order: a straight
    /// wall has a kink there, a smooth one a jump of its curvature.
    fn cuts(&self, lay: &Lay, curve: &PathSeg) -> Vec<f64> {
        let mut cuts = vec![0.0, 1.0];
        let ends = self.wall.span_ends_mm();
        if lay.setting().kind != LayKind::Label {
            let stations = ends.iter().filter_map(|&s_mm| lay.u_of_s(self.wall, s_mm));
            stations.for_each(|u_mm| image::crossings(curve, u_mm, &mut cuts));
        } else if self.wall.shape() == WallShape::Straight {
            self.label_crossings(lay, curve, ends, &mut cuts);
        }
        cuts.sort_by(f64::total_cmp);
        cuts.dedup_by(|later, before| *later - *before < SAME_PARAMETER);
        if let Some(last) = cuts.last_mut() {
            *last = 1.0;
        }
        cuts
    }

    fn label_crossings(&self, lay: &Lay, curve: &PathSeg, ends: &[f64], cuts: &mut Vec<f64>) {
        let s_at = |t: f64| self.place(lay, image::eval(curve, t)).s_mm;
        let mut before = (0.0, s_at(0.0));
        for k in 1..=LABEL_LOOKS {
            let t = f64::from(k) / f64::from(LABEL_LOOKS);
            let here = (t, s_at(t));
            for &station in ends {
                if (before.1 - station) * (here.1 - station) < 0.0 {
                    cuts.push(image::bisect(|t| s_at(t) - station, before.0, here.0));
                }
            }
            before = here;
        }
    }
}

/// Whether a box holds a point, its edges included.
fn holds(within: Rect, p: Point) -> bool {
    p.x >= within.x0 && p.x <= within.x1 && p.y >= within.y0 && p.y <= within.y1
}

/// What a path consists of.
enum Event<'p> {
    Begin(Point),
    Curve(&'p PathSeg),
    Close,
}

#[cfg(test)]
mod tests;
