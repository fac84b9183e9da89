//! Burning lines: along them, at constant speed on the wall.

use stave_wall::{Distortion, Laid, Lay, Wall, WallShape};

use crate::curve::{Curve, FlatPoint};
use crate::cut::{Cut, Ground, KNOWN, Point};
use crate::drive::{Drive, How};
use crate::halt::Halt;
use crate::scene::{Chain, bulge_at, bulge_within};
use crate::track::Track;
use stave_toolpath::StepSink;

/// How the lines of an operation are burned.
#[derive(Clone, Copy, Debug)]
pub(crate) struct LineHow {
    pub(crate) how: How,
    /// What the cutting may stray, mm on the wall.
    pub(crate) tolerance_mm: f64,
}

/// Travels to a line's start and burns it: from its corner `start` on if it is closed, backwards if
/// `reversed`.
pub(crate) fn burn_path<S: StepSink>(
    drive: &mut Drive<'_>,
    lay: &Lay,
    chain: &Chain,
    (reversed, start): (bool, usize),
    line: &LineHow,
    sink: &mut S,
) -> Result<(), Halt<S::Error>> {
    let count = chain.points.len();
    let corner = |k: usize| {
        let k = if chain.closed { (start + k) % count } else { k };
        chain.points[if reversed { count - 1 - k } else { k }]
    };
    let runs = if chain.closed { count } else { count - 1 };
    let first = corner(0);
    let mut hint = 0;
    let laid = lay.map(drive.emit.rig.wall, first.x, first.y, &mut hint);
    let there = drive.spot_of(laid)?;
    drive.travel(&there, sink)?;
    let mut breaks = Vec::new();
    let mut cuts = Vec::new();
    let mut error_mm = drive.emit.stats.chord_error_max_mm;
    for k in 0..runs {
        let [from, to] = [corner(k), corner(k + 1)].map(|p| FlatPoint { u: p.x, v: p.y, z: 0.0 });
        let curve = Curve::Line { from, to };
        let known = (&mut breaks, &mut cuts, &mut error_mm);
        let run = if chain.closed { (start + k) % count } else { k };
        let bulge_mm = match reversed {
            true => -chain.bulge_mm((2 * count - 2 - run) % count),
            false => chain.bulge_mm(run),
        };
        cut_run(drive, lay, (&curve, bulge_mm), line.tolerance_mm, known);
        for (from, cut) in cuts.drain(..) {
            let to = drive.spot_of(cut.to.laid)?;
            drive.burn(
                (&from, &to.laid),
                &to,
                &line.how,
                1.0,
                (cut.length_ratio, cut.stray),
                sink,
            )?;
        }
    }
    drive.emit.stats.chord_error_max_mm = error_mm;
    Ok(())
}

/// The machine moves along a straight run: where each starts, and how it is cut; the greatest
/// deviation so far grows with them. It is reckoned from the drawing's curve, which lies
/// `bulge_mm` to the left of the run's middle.
fn cut_run(
    drive: &Drive<'_>,
    lay: &Lay,
    (curve, bulge_mm): (&Curve<'_>, f64),
    tolerance_mm: f64,
    (breaks, cuts, error_mm): (&mut Vec<f64>, &mut Vec<(Laid, Cut)>, &mut f64),
) {
    let wall = drive.emit.rig.wall;
    // Lines hold energy per length, so the spacing of neighbours does not count.
    let ground = Ground {
        wall,
        lay,
        rig: &drive.emit.rig,
        focus: &drive.emit.focus,
        tolerance_mm,
        even_dose: false,
        bends: drive.emit.bends.as_ref(),
    };
    let track = &Track::of(curve);
    ground.breaks(track, breaks);
    let length_mm = curve.length_mm();
    for pair in breaks.windows(2).filter(|pair| pair[1] > pair[0]) {
        let middle = ground.place(track, 0.5 * (pair[0] + pair[1]));
        let span = Some(middle.span).filter(|_| wall.shape() == WallShape::Straight);
        let mut from = ground.point(track, pair[0], span);
        let last = ground.point(track, pair[1], span);
        while from.t < last.t {
            let mut cut = ground.longest(track, &from, &last, span, length_mm);
            if bulge_mm != 0.0 {
                let aside_mm = bulge_within(bulge_mm, from.t, cut.to.t).abs();
                let most_mm = cut.deviation_mm + aside_mm * stretch(wall, lay, &from);
                if most_mm > KNOWN * *error_mm {
                    let drawn = Drawn { curve, bulge_mm };
                    let strayed_mm = ground.strayed_mm(&from, &cut.to, span, |t| drawn.at(t));
                    *error_mm = error_mm.max(strayed_mm);
                }
            } else if cut.deviation_mm > KNOWN * *error_mm {
                cut.deviation_mm = ground.measured_mm(track, &from, &cut, span);
                *error_mm = error_mm.max(cut.deviation_mm);
            }
            cuts.push((from.laid, cut));
            from = cut.to;
        }
    }
}

/// The curve of the drawing beside a run of its chords.
struct Drawn<'a> {
    curve: &'a Curve<'a>,
    bulge_mm: f64,
}

impl Drawn<'_> {
    fn at(&self, t: f64) -> FlatPoint {
        let on = self.curve.point(t);
        let (u, v) = self.curve.direction(t);
        let length = u.hypot(v);
        if length <= 0.0 {
            return on;
        }
        let aside = bulge_at(self.bulge_mm, t) / length;
        FlatPoint { u: on.u - v * aside, v: on.v + u * aside, ..on }
    }
}

/// The most that lengths at a point grow on the wall.
fn stretch(wall: &Wall, lay: &Lay, at: &Point) -> f64 {
    Distortion::of_jacobian(lay.jacobian(wall, at.flat.u, at.flat.v)).a
}
