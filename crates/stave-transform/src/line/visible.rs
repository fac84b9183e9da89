//! Which parts of a line are seen.

use std::borrow::Cow;
use std::cell::OnceCell;

use kurbo::{Point, Rect, Vec2};
use stave_toolpath::art::{Boxes, Rule};

use crate::scene::{Chain, Scene, bulge_within};

/// The edges of an area's outline, in rows of equal height, to ask what is inside and what is
/// crossed.
#[derive(Debug)]
pub(crate) struct Inside {
    rule: Rule,
    bounds: Rect,
    row_mm: f64,
    rows: Vec<Vec<(Point, Point)>>,
}

impl Inside {
    pub(crate) fn new(rings: &[Chain], rule: Rule) -> Inside {
        let edges = || {
            rings.iter().flat_map(|ring| {
                let next = ring.points.iter().skip(1).chain(ring.points.first());
                ring.points.iter().copied().zip(next.copied())
            })
        };
        let bounds = edges().map(|(a, b)| Rect::from_points(a, b)).reduce(|a, b| a.union(b));
        let bounds = bounds.unwrap_or(Rect::new(0.0, 0.0, -1.0, -1.0));
        let count = edges().count();
        #[allow(clippy::cast_precision_loss)]
        let row_mm = (bounds.height() / (count as f64 / 4.0).clamp(1.0, 4096.0)).max(1e-6);
        let mut inside = Inside { rule, bounds, row_mm, rows: Vec::new() };
        inside.rows.resize_with(inside.row(bounds.y1) + 1, Vec::new);
        for (a, b) in edges() {
            let (first, last) = (inside.row(a.y.min(b.y)), inside.row(a.y.max(b.y)));
            for row in first..=last {
                inside.rows[row].push((a, b));
            }
        }
        inside
    }

    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    fn row(&self, y: f64) -> usize {
        (((y - self.bounds.y0) / self.row_mm).max(0.0) as usize).min(self.rows.len().max(1 << 13))
    }

    fn rows_of(&self, from: f64, to: f64) -> impl Iterator<Item = &(Point, Point)> {
        let last = self.row(to.max(from)).min(self.rows.len().saturating_sub(1));
        let first = self.row(from.min(to));
        self.rows.get(first..=last).unwrap_or_default().iter().flatten()
    }

    fn holds(&self, at: Point) -> bool {
        if !self.bounds.contains(at) {
            return false;
        }
        let mut winding = 0_i32;
        for (a, b) in self.rows_of(at.y, at.y) {
            if (a.y <= at.y) == (b.y <= at.y) {
                continue;
            }
            if a.x + (at.y - a.y) * (b.x - a.x) / (b.y - a.y) > at.x {
                winding += if a.y < b.y { 1 } else { -1 };
            }
        }
        match self.rule {
            Rule::NonZero => winding != 0,
            Rule::EvenOdd => winding & 1 != 0,
        }
    }

    /// Adds the parameters at which the straight run from `a` to `b` meets the outline.
    fn crossings(&self, a: Point, b: Point, into: &mut Vec<f64>) {
        let run = Rect::from_points(a, b);
        if run.x0 > self.bounds.x1
            || run.x1 < self.bounds.x0
            || run.y0 > self.bounds.y1
            || run.y1 < self.bounds.y0
        {
            return;
        }
        let along = b - a;
        for (p, q) in self.rows_of(a.y, b.y) {
            let edge = *q - *p;
            let across = along.cross(edge);
            if across == 0.0 {
                continue;
            }
            let (t, e) = ((*p - a).cross(edge) / across, (*p - a).cross(along) / across);
            // A little over, so that a corner of the outline is not slipped past.
            if t > 0.0 && t < 1.0 && (-1e-9..=1.0 + 1e-9).contains(&e) {
                into.push(t);
            }
        }
    }
}

/// The insides of a scene, each made when it is first asked for.
pub(crate) struct Insides<'a> {
    scene: &'a Scene<'a>,
    /// Where the layers lie that hide what is beneath them.
    hiding: Boxes,
    layers: Vec<OnceCell<Inside>>,
    clips: Vec<Vec<OnceCell<Inside>>>,
}

impl<'a> Insides<'a> {
    pub(crate) fn new(scene: &'a Scene<'a>) -> Insides<'a> {
        let mut layers = Vec::new();
        layers.resize_with(scene.layers.len(), OnceCell::new);
        let clips =
            scene.art.clips.iter().map(|clip| clip.areas.iter().map(|_| OnceCell::new()).collect());
        let mut hiding = Boxes::default();
        for (number, layer) in scene.layers.iter().enumerate().filter(|(_, layer)| layer.hides) {
            hiding.put(number, layer.bounds);
        }
        Insides { scene, hiding, layers, clips: clips.collect() }
    }

    fn layer(&self, layer: usize) -> &Inside {
        self.layers[layer]
            .get_or_init(|| Inside::new(self.scene.rings(layer), self.scene.rule(layer)))
    }

    fn clip_area(&self, clip: usize, area: usize) -> &Inside {
        self.clips[clip][area].get_or_init(|| {
            Inside::new(
                self.scene.clip_rings(clip, area),
                self.scene.art.clips[clip].areas[area].rule,
            )
        })
    }

    fn in_clip(&self, clip: usize, at: Point) -> bool {
        let Some(of) = self.scene.art.clips.get(clip) else { return false };
        let earlier =
            |clips: &[usize]| clips.iter().filter(|c| **c < clip).all(|c| self.in_clip(*c, at));
        of.areas
            .iter()
            .enumerate()
            .any(|(number, area)| self.clip_area(clip, number).holds(at) && earlier(&area.clips))
            && earlier(&of.within)
    }

    fn clip_crossings(&self, clip: usize, a: Point, b: Point, into: &mut Vec<f64>) {
        let Some(of) = self.scene.art.clips.get(clip) else { return };
        for (number, area) in of.areas.iter().enumerate() {
            self.clip_area(clip, number).crossings(a, b, into);
            for &other in area.clips.iter().filter(|c| **c < clip) {
                self.clip_crossings(other, a, b, into);
            }
        }
        for &other in of.within.iter().filter(|c| **c < clip) {
            self.clip_crossings(other, a, b, into);
        }
    }
}

/// So many layers over a line are asked about each of its parts without looking where they lie.
const FEW_LAYERS: usize = 16;

/// What can hide parts of one line.
pub(crate) struct Cover<'a> {
    insides: &'a Insides<'a>,
    /// Opaque layers over it, of other shapes: a shape's own paint lies along its outline and does
    /// not hide it.
    over: Vec<usize>,
    /// The first layer of a later shape.
    later: usize,
    clips: &'a [usize],
    /// A line is seen where it is seen on either side of itself, so far away: so one along the edge
    /// of what lies over it is seen.
    aside_mm: f64,
}

impl<'a> Cover<'a> {
    pub(crate) fn new(
        insides: &'a Insides<'a>,
        shape: usize,
        bounds: Rect,
        aside_mm: f64,
    ) -> Cover<'a> {
        let layers = &insides.scene.layers;
        let later = layers.partition_point(|layer| layer.shape <= shape);
        let mut over = insides.hiding.meeting(bounds);
        over.retain(|layer| *layer >= later);
        Cover { insides, over, later, clips: insides.scene.clips_of(shape), aside_mm }
    }

    fn sees(&self, at: Point) -> bool {
        self.clips.iter().all(|clip| self.insides.in_clip(*clip, at))
            && !self.over(Rect::from_points(at, at)).iter().any(|layer| self.hidden_by(*layer, at))
    }

    /// Those over it that may meet a box. A few are asked one by one; a long line with much over it
    /// must not ask all of it at each of its corners.
    fn over(&self, bounds: Rect) -> Cow<'_, [usize]> {
        if self.over.len() <= FEW_LAYERS {
            return Cow::Borrowed(&self.over);
        }
        let mut over = self.insides.hiding.meeting(bounds);
        over.retain(|layer| *layer >= self.later);
        Cow::Owned(over)
    }

    fn hidden_by(&self, layer: usize, at: Point) -> bool {
        let clips = self.insides.scene.clips_of(self.insides.scene.layers[layer].shape);
        self.insides.layer(layer).holds(at)
            && clips.iter().all(|clip| self.insides.in_clip(*clip, at))
    }

    /// The parts of a chain that are seen.
    pub(crate) fn seen(&self, chain: &Chain) -> Vec<Chain> {
        if self.over.is_empty() && self.clips.is_empty() {
            return vec![chain.clone()];
        }
        split(
            chain,
            |a, b, cuts| self.crossings(a, b, cuts),
            |a, b| {
                let along = b - a;
                let length = along.hypot().max(f64::MIN_POSITIVE);
                let aside = Vec2::new(-along.y, along.x) * (self.aside_mm / length);
                let middle = a.midpoint(b);
                self.sees(middle + aside) || self.sees(middle - aside)
            },
        )
    }

    fn crossings(&self, a: Point, b: Point, into: &mut Vec<f64>) {
        for &layer in self.over(Rect::from_points(a, b)).iter() {
            self.insides.layer(layer).crossings(a, b, into);
            for clip in self.insides.scene.clips_of(self.insides.scene.layers[layer].shape) {
                self.insides.clip_crossings(*clip, a, b, into);
            }
        }
        for clip in self.clips {
            self.insides.clip_crossings(*clip, a, b, into);
        }
    }
}

/// Cuts of a straight run nearer than this share of it are one.
const SAME_SHARE: f64 = 1e-9;

/// The parts of a chain that are kept: `cuts` adds the parameters at which a straight run may
/// change, `keep` is asked for each stretch between.
pub(crate) fn split(
    chain: &Chain,
    mut cuts: impl FnMut(Point, Point, &mut Vec<f64>),
    mut keep: impl FnMut(Point, Point) -> bool,
) -> Vec<Chain> {
    let mut parts: Vec<Chain> = Vec::new();
    let (mut whole, mut open) = (true, false);
    let mut at = Vec::new();
    let next = chain.points.iter().skip(1).chain(chain.points.first().filter(|_| chain.closed));
    for (run, (&a, &b)) in chain.points.iter().zip(next).enumerate() {
        at.clear();
        at.push(0.0);
        cuts(a, b, &mut at);
        at.push(1.0);
        at.sort_by(f64::total_cmp);
        // Where the outlines of neighbours lie on each other they cross again and again in the last
        // digits.
        at.dedup_by(|later, earlier| *later - *earlier < SAME_SHARE);
        if let Some(last) = at.last_mut().filter(|last| **last > 1.0 - SAME_SHARE) {
            *last = 1.0;
        }
        for pair in at.windows(2).filter(|pair| pair[1] > pair[0]) {
            let start = if pair[0] > 0.0 { a.lerp(b, pair[0]) } else { a };
            let end = if pair[1] < 1.0 { a.lerp(b, pair[1]) } else { b };
            if !keep(start, end) {
                (whole, open) = (false, false);
                continue;
            }
            let bulge_mm = bulge_within(chain.bulge_mm(run), pair[0], pair[1]);
            match parts.last_mut().filter(|_| open) {
                // Where nothing changes there is no corner.
                Some(part) if pair[0] > 0.0 => part.go_instead(end, bulge_mm),
                Some(part) => part.go(end, bulge_mm),
                None => {
                    let mut part = Chain::default();
                    part.go(start, 0.0);
                    part.go(end, bulge_mm);
                    parts.push(part);
                    open = true;
                }
            }
        }
    }
    if whole {
        return vec![chain.clone()];
    }
    // What the start of a closed line parts is one.
    if chain.closed && open && parts.len() > 1 && parts[0].points.first() == chain.points.first() {
        let first = parts.remove(0);
        if let Some(last) = parts.last_mut() {
            last.join(&first);
        }
    }
    parts
}
