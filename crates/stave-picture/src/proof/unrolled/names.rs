//! The names of what lies on the unrolled wall, off what burns: beside what they name, or led to
//! it.

use kurbo::{Point, Rect, Size};
use stave_setup::Zone;

use super::Unrolled;
use crate::draw::{Drawing, FACET, Room, ZONE_INK, cut, leader, text_width_mm};
use crate::proof::pins::{Inked, goes_over};
use crate::svg::isolated;
use crate::ware::facets;

/// The size of the names, mm.
const NAME_MM: f64 = 2.4;
/// Where a name is looked for that finds no place beside its zone, mm apart.
const STEP_MM: f64 = 1.5;
/// Between the picture and names to the right of it.
const GAP_MM: f64 = 3.0;
/// Words over what burns have a light edge of this width.
const HALO_MM: f64 = 0.7;

/// A name that has its place.
struct Named<'a> {
    name: String,
    ink: &'a str,
    /// What it takes, and whether something burns there.
    takes: Rect,
    is_on_ink: bool,
    /// Where it is led to, if it does not stand beside.
    leads_to: Option<Point>,
}

/// A place that may be had for a name.
struct Offer {
    takes: Rect,
    leads_to: Option<Point>,
}

impl Unrolled<'_> {
    /// The zones' names, each above, below or beside its zone, or farther off with a leader, also
    /// to the right of the picture: where none meets another, and nothing burns. Where there is no
    /// such place they stand over it.
    pub(super) fn zone_names(&self, paper: &mut Drawing, inked: Option<&Inked>) {
        let mut room = Room::new(self.beside_mm());
        let facets: Vec<Zone> = facets(self.blank).filter(|_| !self.plane).collect();
        let zones = self.blank.zones.iter().map(|zone| (zone, ZONE_INK));
        let all: Vec<(&Zone, &str)> =
            zones.chain(facets.iter().map(|zone| (zone, FACET))).collect();
        let boxes: Vec<Option<Rect>> = all
            .iter()
            .enumerate()
            .map(|(i, (zone, _))| {
                let by = *self.shifts(zone).first()?;
                let margin = self.margins_mm.get(i).copied().unwrap_or(0.0);
                let turn = (zone.turn_rad.0 + by, zone.turn_rad.1 + by);
                let patch = self.zone_patch(zone, turn, margin);
                let first = *patch.first()?;
                let start = Rect::from_points(first, first);
                Some(patch.iter().fold(start, |all, point| all.union_pt(*point)))
            })
            .collect();
        boxes.iter().flatten().for_each(|zone| room.take(*zone));
        paper.words.iter().for_each(|(words, _)| room.take(*words));
        let all: Vec<(&str, &str, Rect)> = all
            .iter()
            .zip(boxes)
            .filter_map(|((zone, ink), itself)| Some((zone.name.as_str(), *ink, itself?)))
            .collect();
        let named = self.all_named(&all, &room, inked);
        for one in named.iter().filter(|one| one.leads_to.is_some()) {
            let Some(to) = one.leads_to else { continue };
            let from = start(one.takes, to);
            let line = [(from.x, from.y), (to.x, to.y)];
            // Seen on dark art too.
            paper.line(&line, "stroke=\"#ffffff\" stroke-width=\"0.7\" stroke-linecap=\"round\"");
            leader(paper, &line, one.ink);
        }
        for one in &named {
            let halo = match one.is_on_ink {
                true => format!(
                    " stroke=\"#ffffff\" stroke-width=\"{HALO_MM}\" stroke-linejoin=\"round\" \
                     paint-order=\"stroke\""
                ),
                false => String::new(),
            };
            let at = (one.takes.x0 + 0.5, one.takes.y1 - 0.27 * NAME_MM);
            let name = isolated(&one.name);
            paper.text(at, NAME_MM, &format!("fill=\"{}\"{halo}", one.ink), &name);
        }
    }

    /// The places of all names, each with its ink and its zone, in the order that comes out best:
    /// the fewest over what burns, then the fewest cut, then the shortest leaders.
    fn all_named<'n>(
        &self,
        all: &[(&str, &'n str, Rect)],
        room: &Room,
        inked: Option<&Inked>,
    ) -> Vec<Named<'n>> {
        let mut down: Vec<_> = all.to_vec();
        down.sort_by(|a, b| a.2.center().y.total_cmp(&b.2.center().y));
        let mut across: Vec<_> = all.to_vec();
        across.sort_by(|a, b| a.2.center().x.total_cmp(&b.2.center().x));
        let orders = [all.to_vec(), down, across];
        let back = orders.clone().map(|order| order.into_iter().rev().collect());
        let tried = orders.into_iter().chain(back).map(|order: Vec<_>| {
            let (mut room, mut named) = (room.clone(), Vec::new());
            let (mut over, mut cut, mut led_mm) = (0, 0, 0.0);
            for (name, ink, itself) in order {
                let set = (&mut room, named.as_slice());
                match self.named((name, ink), itself, set, inked) {
                    Some(one) => {
                        over += usize::from(one.is_on_ink);
                        cut += usize::from(one.name != name);
                        let led = |to| (start(one.takes, to) - to).hypot();
                        led_mm += one.leads_to.map_or(0.0, led);
                        named.push(one);
                    }
                    None => over += 1,
                }
            }
            ((over, cut), led_mm, named)
        });
        let best = tried.min_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)));
        best.map(|(.., named)| named).unwrap_or_default()
    }

    /// The place of one name: whole if it can be, else cut.
    fn named<'n>(
        &self,
        (name, ink): (&str, &'n str),
        itself: Rect,
        (room, named): (&mut Room, &[Named<'_>]),
        inked: Option<&Inked>,
    ) -> Option<Named<'n>> {
        let bare = |takes: Rect| !inked.is_some_and(|inked| inked.any(takes));
        let right = self.beside_mm().width() - self.size().0 - GAP_MM;
        let whole = text_width_mm(name, NAME_MM);
        let widths = [whole, self.size().0.max(right) - 1.0, right - 1.0];
        let size_of = |name: &str| Size::new(text_width_mm(name, NAME_MM) + 1.0, 1.2 * NAME_MM);
        for width in widths {
            let name = cut(name, NAME_MM, width);
            let size = size_of(&name);
            let free = |offer: &Offer| bare(offer.takes) && room.is_free(offer.takes);
            let found = beside(itself, size).find(|offer| self.is_inside(offer) && free(offer));
            let found = found.or_else(|| {
                let away = |offer: &Offer| {
                    offer.leads_to.map_or(0.0, |to| {
                        let takes = offer.takes;
                        let near = Point::new(to.x.clamp(takes.x0, takes.x1), takes.center().y);
                        (near - to).hypot()
                    })
                };
                let offers = self.farther(itself, size).filter(free);
                // No leader goes over another name.
                let offers = offers.filter(|offer| {
                    let led = |takes: Rect, to: Option<Point>, over: Rect| {
                        to.is_some_and(|to| goes_over(start(takes, to), to, over))
                    };
                    let over = |other: &Named<'_>| {
                        led(offer.takes, offer.leads_to, other.takes)
                            || led(other.takes, other.leads_to, offer.takes)
                    };
                    !named.iter().any(over)
                });
                offers.min_by(|a, b| away(a).total_cmp(&away(b)))
            });
            if let Some(Offer { takes, leads_to }) = found {
                room.take(takes.inflate(1.0, 0.0));
                return Some(Named { name, ink, takes, is_on_ink: false, leads_to });
            }
        }
        let name = cut(name, NAME_MM, self.size().0 - 1.0);
        let mut over = beside(itself, size_of(&name));
        let takes = over.find(|offer| self.is_inside(offer) && room.is_free(offer.takes))?.takes;
        room.take(takes);
        Some(Named { name, ink, takes, is_on_ink: true, leads_to: None })
    }

    fn is_inside(&self, offer: &Offer) -> bool {
        self.box_mm().contains_rect(offer.takes)
    }

    /// Places all over the picture and to the right of it, led to the zone.
    fn farther(&self, itself: Rect, size: Size) -> impl Iterator<Item = Offer> {
        let (within, all) = (self.box_mm(), self.beside_mm());
        let steps = |from: f64, to: f64| {
            (0..).map(move |k| from + STEP_MM * f64::from(k)).take_while(move |at| *at <= to)
        };
        let heights = steps(within.y0 + 0.3, within.y1 - size.height - 0.3);
        heights.flat_map(move |y| {
            let inside = steps(within.x0 + 0.3, within.x1 - size.width - 0.3);
            let outside = [within.x1 + GAP_MM].into_iter();
            let outside = outside.filter(move |x| x + size.width <= all.x1);
            inside.chain(outside).map(move |x| {
                let takes = Rect::from_origin_size((x, y), size);
                let middle = takes.center();
                let to = Point::new(
                    middle.x.clamp(itself.x0, itself.x1),
                    middle.y.clamp(itself.y0, itself.y1),
                );
                Offer { takes, leads_to: Some(to) }
            })
        })
    }
}

/// Where a leader to a place leaves the words that take such a box.
fn start(takes: Rect, to: Point) -> Point {
    let low = takes.y1 - 0.2 * NAME_MM;
    Point::new(to.x.clamp(takes.x0, takes.x1), to.y.clamp(takes.y0, low))
}

/// The places at a zone, the best first.
fn beside(itself: Rect, size: Size) -> impl Iterator<Item = Offer> {
    let middle = itself.center().x - 0.5 * size.width;
    let across = [middle, itself.x0, itself.x1 - size.width];
    let (above, below) = (itself.y0 - size.height - 0.3, itself.y1 + 0.3);
    let level = itself.center().y - 0.5 * size.height;
    let corners = across.into_iter().flat_map(move |x| [(x, above), (x, below)]);
    let corners = corners.chain([(itself.x1 + 0.5, level), (itself.x0 - 0.5 - size.width, level)]);
    corners.map(move |corner| Offer { takes: Rect::from_origin_size(corner, size), leads_to: None })
}
