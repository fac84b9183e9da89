//! Pins: the numbered flags of findings, beside the art and led to what they tell of.

use kurbo::{Point, Rect, Vec2};

use super::png::Picture;
use super::{Remark, Weight};
use crate::draw::{Drawing, INK, leader};

/// Half of what a pin takes with some air around it, mm.
const HALF_MM: f64 = 2.5;
/// Where a pin is looked for: in so many directions, at first so far that its leader shows, then so
/// much farther each time, so far at the most, mm.
const WAYS: u32 = 32;
const FIRST_MM: f64 = 4.6;
const STEP_MM: f64 = 1.2;
const FARTHEST_MM: f64 = 100.0;
/// A way is looked at in so many places.
const SHARES: u32 = 60;

/// Where a picture on the paper has ink: how many of its cells that have lie above and to the left
/// of each.
pub(super) struct Inked {
    box_mm: Rect,
    /// Of them across and down the box, the last ones in part.
    cells: (f64, f64),
    columns: usize,
    sums: Vec<u32>,
}

impl Inked {
    /// What a picture shows that is stretched over a box of the paper.
    pub(super) fn of(picture: &Picture, box_mm: Rect) -> Self {
        let (rows, cells) = picture.inked();
        let mut sums: Vec<u32> = Vec::new();
        let mut columns = 0;
        for row in rows {
            columns = row.len();
            sums.resize(sums.len().max(columns + 1), 0);
            let above = sums.len() - (columns + 1);
            let mut in_row = 0;
            sums.push(0);
            for (column, is_inked) in row.iter().enumerate() {
                in_row += u32::from(*is_inked);
                sums.push(sums[above + column + 1] + in_row);
            }
        }
        Self { box_mm, cells, columns, sums }
    }

    /// Whether anything within a box of the paper has ink.
    pub(super) fn any(&self, of: Rect) -> bool {
        let found = of.intersect(self.box_mm);
        if found.area() <= 0.0 {
            return false;
        }
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        let number = |share: f64, count: f64| (share.clamp(0.0, 1.0) * count) as usize;
        let (left, top) = (self.box_mm.x0, self.box_mm.y0);
        let (wide, high) = (self.box_mm.width(), self.box_mm.height());
        let across = |x: f64| number((x - left) / wide, self.cells.0);
        let down = |y: f64| number((y - top) / high, self.cells.1);
        let rows = self.sums.len() / (self.columns + 1) - 1;
        let (x0, y0) = (across(found.x0), down(found.y0));
        let x1 = (across(found.x1) + 1).min(self.columns);
        let y1 = (down(found.y1) + 1).min(rows);
        let sum = |x: usize, y: usize| self.sums[y * (self.columns + 1) + x];
        sum(x1, y1) + sum(x0, y0) > sum(x0, y1) + sum(x1, y0)
    }
}

/// A finding that has a place on the paper.
pub(super) struct Pin {
    number: usize,
    is_error: bool,
    at: Point,
}

/// The pins of those findings that have a place, as `paper` gives it.
pub(super) fn of_findings(
    findings: &[Remark],
    paper: impl Fn(&Remark) -> Option<(f64, f64)>,
) -> Vec<Pin> {
    let pin = |(index, finding): (usize, &Remark)| {
        let at = paper(finding)?;
        let is_error = finding.severity == Weight::Error;
        Some(Pin { number: index + 1, is_error, at: at.into() })
    };
    findings.iter().enumerate().filter_map(pin).collect()
}

/// Draws pins, each as near to its place as it hides no ink, no words and no other pin, inside
/// `bounds`, and a leader to its place; where there is no such place, over its own.
pub(super) fn draw(out: &mut Drawing, pins: &[Pin], inked: Option<&Inked>, bounds: Rect) {
    let mut set: Vec<(Point, &Pin)> = Vec::with_capacity(pins.len());
    for pin in pins {
        let takes = |middle: Point| Rect::from_center_size(middle, (2.0 * HALF_MM, 2.0 * HALF_MM));
        let apart = |middle: Point| {
            bounds.contains_rect(takes(middle))
                && set.iter().all(|(other, _)| (*other - middle).hypot() >= 2.0 * HALF_MM)
        };
        let shows_words = |middle: Point| {
            let mut words = out.words.iter();
            words.all(|(words, _)| words.intersect(takes(middle)).area() <= 0.0)
        };
        let shows_ink = |middle: Point| !inked.is_some_and(|inked| inked.any(takes(middle)));
        // Neither it nor its leader lies over another, nor over what another leads to.
        let crosses = |middle: Point| {
            let crosses = |(other, theirs): &(Point, &Pin)| {
                beside(pin.at, middle - pin.at, *other) < HALF_MM
                    || beside(theirs.at, *other - theirs.at, middle) < HALF_MM
            };
            set.iter().any(crosses)
        };
        // Nor does it cover the place of another: that could not be led to.
        let covers = |middle: Point| {
            let mut others = pins.iter().filter(|other| other.number != pin.number);
            others.any(|other| (other.at - middle).hypot() < HALF_MM)
        };
        let free = |middle: Point| apart(middle) && shows_words(middle) && shows_ink(middle);
        let over_words =
            |middle: Point| out.words.iter().any(|(words, _)| goes_over(middle, pin.at, *words));
        let good = |middle: Point| free(middle) && !crosses(middle) && !covers(middle);
        let middle = places(pin.at)
            .find(|middle| good(*middle) && !over_words(*middle))
            .or_else(|| places(pin.at).find(|middle| good(*middle)))
            .or_else(|| places(pin.at).find(|middle| free(*middle) && !crosses(*middle)))
            // A number that cannot be read says less than art that is covered.
            .or_else(|| places(pin.at).find(|middle| free(*middle)))
            .or_else(|| places(pin.at).skip(1).find(|middle| apart(*middle)))
            .unwrap_or(pin.at);
        set.push((middle, pin));
    }
    for (middle, pin) in &set {
        if (*middle - pin.at).hypot() > 0.0 {
            let line = [(middle.x, middle.y), (pin.at.x, pin.at.y)];
            // Seen on dark art too.
            out.line(&line, "stroke=\"#ffffff\" stroke-width=\"0.7\" stroke-linecap=\"round\"");
            leader(out, &line, INK);
        }
    }
    for (middle, pin) in &set {
        out.flag((middle.x, middle.y), pin.number, pin.is_error);
    }
}

/// Where a pin may stand, the nearest first: above and to the right before all else.
fn places(at: Point) -> impl Iterator<Item = Point> {
    let rings = (0..).map(|ring| FIRST_MM + STEP_MM * f64::from(ring));
    let rings = rings.take_while(|away| *away <= FARTHEST_MM).flat_map(move |away| {
        (0..WAYS).map(move |way| {
            let turned = std::f64::consts::TAU * (f64::from(way) / f64::from(WAYS) - 0.125);
            at + away * Vec2::from_angle(turned)
        })
    });
    std::iter::once(at).chain(rings)
}

/// Whether a straight way goes over a box.
pub(super) fn goes_over(from: Point, to: Point, over: Rect) -> bool {
    (0..=SHARES).any(|k| over.contains(from.lerp(to, f64::from(k) / f64::from(SHARES))))
}

/// How far a point lies from a straight way, mm.
fn beside(from: Point, way: Vec2, point: Point) -> f64 {
    let to = point - from;
    let share = if way.hypot2() > 0.0 { to.dot(way) / way.hypot2() } else { 0.0 };
    (to - way * share.clamp(0.0, 1.0)).hypot()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A square of ink in the middle of 40 by 40 mm.
    fn inked() -> Inked {
        let mut picture = Picture::new(80.0, 80.0);
        for row in 20..60 {
            for column in 20..60 {
                picture.set(column, row, [0, 0, 0], 1.0);
            }
        }
        Inked::of(&picture, Rect::new(0.0, 0.0, 40.0, 40.0))
    }

    fn pin(number: usize, x: f64, y: f64) -> Pin {
        Pin { number, is_error: false, at: Point::new(x, y) }
    }

    fn middles(out: &Drawing) -> Vec<Point> {
        let value = |flag: &str, name: &str| -> f64 {
            let rest = flag.split(&format!(" {name}=\"")).nth(1).unwrap();
            rest.split('"').next().unwrap().parse().unwrap()
        };
        let flags = out.out.split("<circle class=\"flag\"").skip(1);
        flags.map(|flag| Point::new(value(flag, "cx"), value(flag, "cy"))).collect()
    }

    #[test]
    fn ink_is_found_where_it_is_and_nowhere_else() {
        let inked = inked();
        assert!(inked.any(Rect::new(8.0, 8.0, 12.0, 12.0)));
        assert!(inked.any(Rect::new(0.0, 0.0, 40.0, 40.0)));
        assert!(!inked.any(Rect::new(0.0, 0.0, 9.0, 40.0)));
        assert!(!inked.any(Rect::new(31.0, 0.0, 40.0, 40.0)));
        assert!(!inked.any(Rect::new(50.0, 50.0, 60.0, 60.0)));
    }

    #[test]
    fn pins_hide_no_ink_and_no_other_and_lead_to_their_places() {
        let (inked, bounds) = (inked(), Rect::new(0.0, 0.0, 40.0, 40.0));
        let pins: Vec<Pin> = (1..=8).map(|n| pin(n, 20.0 + n as f64, 20.0)).collect();
        let mut out = Drawing::default();
        out.text((32.0, 12.0), 3.0, "", "a name");
        draw(&mut out, &pins, Some(&inked), bounds);
        let found = middles(&out);
        assert_eq!(found.len(), 8);
        for (k, middle) in found.iter().enumerate() {
            let disc = Rect::from_center_size(*middle, (3.8, 3.8));
            assert!(bounds.contains_rect(disc) && !inked.any(disc), "{middle}");
            assert!(out.words[0].0.intersect(disc).area() <= 0.0, "{middle}");
            assert!(found[k + 1..].iter().all(|other| (*other - *middle).hypot() >= 3.8));
        }
        // A light edge goes with each leader.
        assert_eq!(out.out.matches("stroke-width=\"0.7\"").count(), 8, "{}", out.out);
    }

    /// Two findings of one place, or nearly, at the edge of a view, art on one side: both numbers
    /// can be read.
    #[test]
    fn pins_of_one_place_are_both_read() {
        let (inked, bounds) = (inked(), Rect::new(0.0, 0.0, 40.0, 40.0));
        for (dx, dy) in [(0.0, 0.0), (1.0, -1.0), (-2.0, 1.5)] {
            for (x, y) in [(31.0, 9.0), (5.0, 5.0), (20.0, 20.0)] {
                let pins = [pin(1, x, y), pin(2, x + dx, y + dy), pin(3, x - dy, y + dx)];
                let mut out = Drawing::default();
                draw(&mut out, &pins, Some(&inked), bounds);
                let found = middles(&out);
                for (k, middle) in found.iter().enumerate() {
                    let mut rest = found[k + 1..].iter();
                    assert!(rest.all(|other| (*other - *middle).hypot() >= 3.8), "{found:?}");
                }
            }
        }
    }

    /// Where nothing is hidden a pin stands on its place, and so does one that finds no other.
    #[test]
    fn a_pin_on_bare_ware_or_without_room_stands_on_its_place() {
        let inked = inked();
        for (at, bounds) in [
            (Point::new(5.0, 5.0), Rect::new(0.0, 0.0, 40.0, 40.0)),
            (Point::new(20.0, 20.0), Rect::new(15.0, 15.0, 25.0, 25.0)),
        ] {
            let mut out = Drawing::default();
            draw(&mut out, &[pin(1, at.x, at.y)], Some(&inked), bounds);
            assert_eq!(middles(&out), [at]);
            assert_eq!(out.out.matches("<path").count(), 0);
        }
    }
}
