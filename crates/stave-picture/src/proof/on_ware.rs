//! A flat place on the ware that it belongs to: the whole piece, seen square to the place, and from
//! the side.

use std::f64::consts::FRAC_PI_2;

use stave_setup::{Blank, Facet, LengthUnit};
use stave_toolpath::number::fixed;

use super::ProofParts;
use super::elevation::{Art, Elevation};
use crate::draw::{Drawing, SOFT, bar_told, bars_mm, broken_to, scale_bar};

/// What the names under a view take, and the size of their letters, mm.
const CAPTION: f64 = 9.0;
const NAME_MM: f64 = 2.6;
/// From line to line of them, and how many there may be.
const LINE_MM: f64 = 3.2;
const MOST_LINES: usize = 2;
/// How long a bar may come out.
const MOST_BAR_MM: f64 = 22.0;

/// The flat place that is burned, and the whole of the ware that it is on.
#[derive(Clone, Copy, Debug)]
pub struct FlatPlace<'a> {
    /// The place.
    pub facet: &'a Facet,
    /// The ware.
    pub ware: &'a Blank,
}

/// From where the ware is seen.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(super) enum Seen {
    /// Square to the flat place.
    Facing,
    /// A quarter turn on: the place is a line.
    Aside,
}

impl ProofParts<'_> {
    /// A view of the ware with a flat place of it that faces the viewer or is seen from the side.
    pub(super) fn on_ware<'b>(&'b self, place: FlatPlace<'b>, seen: Seen) -> Elevation<'b> {
        let facing_rad = match seen {
            Seen::Facing => place.facet.turn_rad,
            Seen::Aside => place.facet.turn_rad + FRAC_PI_2,
        };
        Elevation {
            blank: place.ware,
            stands: self.stands,
            facing_rad,
            scale: 1.0,
            middle: (0.0, 0.0),
            dots_per_mm: super::sheet::DOTS_PER_MM,
            plain: false,
        }
    }

    /// The ware in boxes of the paper, upper left corners and a size, seen from one side each: all
    /// at one scale, each with its name under it. That scale, and where the lowest name stands.
    pub(super) fn draw_on_ware(
        &self,
        paper: &mut Drawing,
        (art, plain): (&Art<'_>, bool),
        boxes: &[((f64, f64), Seen)],
        size: (f64, f64),
    ) -> (f64, f64) {
        let Some(place) = self.plane else { return (1.0, 0.0) };
        let mut lowest = 0.0_f64;
        let room = (size.0, size.1 - CAPTION);
        let views = boxes.iter().map(|(corner, seen)| (*corner, *seen, self.on_ware(place, *seen)));
        let views: Vec<_> = views.collect();
        let scale = views.iter().fold(f64::INFINITY, |scale, (.., view)| {
            let (width, height) = view.seen();
            scale.min(room.0 / width).min(room.1 / height)
        });
        for (corner, seen, view) in views {
            let (_, height) = view.seen();
            let middle = (corner.0 + 0.5 * size.0, corner.1 + 0.5 * scale * height);
            let view = Elevation { scale, middle, plain, ..view };
            paper.group("class=\"on-ware\"", view.draw_with_place(art, place.facet));
            let below = corner.1 + scale * height + 1.4 * NAME_MM + 1.0;
            let name = named((place.facet, self.blank.unit()), seen, plain);
            let style = format!("text-anchor=\"middle\" fill=\"{SOFT}\"");
            for (k, line) in broken_to(&name, NAME_MM, size.0, MOST_LINES).iter().enumerate() {
                let y = below + LINE_MM * k as f64;
                paper.text((middle.0, y), NAME_MM, &style, line);
                lowest = lowest.max(y);
            }
        }
        (scale, lowest)
    }

    /// A picture of it by itself, for the page: so wide, mm; empty where there is no flat place.
    pub(super) fn on_ware_figure(&self, for_customer: bool) -> String {
        if self.plane.is_none() {
            return String::new();
        }
        let look = for_customer.then(|| self.blank.look.unwrap_or_default());
        let art = Art::new((self.map, None), self.map.top_density(), look);
        let (mut paper, size) = (Drawing::default(), (31.0, 46.0));
        let boxes = [((1.0, 1.0), Seen::Facing), ((35.0, 1.0), Seen::Aside)];
        let (scale, lowest) = self.draw_on_ware(&mut paper, (&art, for_customer), &boxes, size);
        bar(&mut paper, ((1.0, lowest + 4.5), self.blank.unit()), scale, "on-ware-bar");
        let picture = paper.document((67.0, lowest + 7.5), &self.name);
        format!(
            "<section id=\"on-ware\" aria-labelledby=\"on-ware-title\">\n\
             <h2 id=\"on-ware-title\">Where it is on the ware</h2>\n\
             <div role=\"img\" aria-label=\"The ware, facing the flat place and from the side\">\n\
             {picture}</div>\n</section>"
        )
    }
}

/// A bar on a picture of the ware.
pub(super) fn bar(paper: &mut Drawing, (at, unit): ((f64, f64), LengthUnit), scale: f64, id: &str) {
    let long_mm = bars_mm(unit).into_iter().skip(1).find(|long_mm| long_mm * scale <= MOST_BAR_MM);
    let long_mm = long_mm.unwrap_or(bars_mm(unit)[6]);
    let words = format!("{} on the ware", bar_told(unit, long_mm));
    scale_bar(paper, at, long_mm * scale, id, &words);
}

/// What a view is called.
fn named((facet, unit): (&Facet, LengthUnit), seen: Seen, plain: bool) -> String {
    match (seen, plain) {
        (Seen::Facing, true) => "on the ware".to_owned(),
        (Seen::Aside, true) => "from the side".to_owned(),
        (Seen::Facing, false) => {
            format!("facing it, from turn {}°", fixed(facet.turn_rad.to_degrees(), 1))
        }
        (Seen::Aside, false) => {
            format!("from the side: {} from the axis", unit.told(facet.height_mm, 2))
        }
    }
}

#[cfg(test)]
mod tests {
    use kurbo::Rect;
    use stave_setup::Stands;

    use super::super::sample::{MUG, parts};
    use super::super::{BurnMap, Burns, FlatPlace, WallPlace};
    use super::*;

    /// Whoever sets it up, signs it or turns it sees where on the ware the flat place is, its
    /// engraving in it, however the ware stands; no words meet.
    #[test]
    fn a_flat_place_is_shown_on_its_ware() {
        let ware = stave_setup::read_blank(MUG, "mug.toml").unwrap();
        let facet = &ware.facets[0];
        let plane = facet.page(&ware).unwrap();
        let (mut map, burns) = (BurnMap::new(&plane.wall, 0.2), Burns::new(&plane.wall, 0.2));
        let place = |s_mm, turn_rad| WallPlace { s_mm, turn_rad };
        map.burn(place(10.0, -0.5), place(10.0, 0.5), 1.0, 0.0, 0);
        for stands in [Stands::Upright, Stands::Inverted, Stands::Lying] {
            let mut parts = parts(&plane, (&map, &burns));
            parts.stands = stands;
            parts.plane = Some(FlatPlace { facet, ware: &ware });
            parts.lies.burned_s_mm = Some((10.0, 10.2));
            parts.lies.burned_turn_rad = Some((-0.5, 0.5));
            let page = Rect::new(0.0, 0.0, 297.0, 210.0);
            for for_customer in [false, true] {
                let look = for_customer.then(Default::default);
                let (art, mut paper) = (Art::new((&map, None), 0.0, look), Drawing::default());
                match for_customer {
                    true => parts.customer(&mut paper, &art),
                    false => parts.bench(&mut paper, &art),
                }
                crate::draw::assert_words_apart(&paper, page);
                let views: Vec<&str> = paper.out.split("<g class=\"on-ware\">").skip(1).collect();
                assert_eq!(views.len(), if for_customer { 1 } else { 2 }, "{stands:?}");
                // Nothing that edges the place lies over what burns.
                for picture in [views[0], paper.out.split("\"unrolled\"").nth(1).unwrap()] {
                    let burned = picture.find("<image").unwrap();
                    let edge = ["\"place\"", "\"frame\""].iter().filter_map(|s| picture.find(s));
                    assert!(edge.min().unwrap() < burned, "{stands:?}");
                }
                let page = parts.page_html(for_customer);
                assert!(page.contains("id=\"on-ware\"") && !page.contains("{{on_ware}}"));
                let cards = parts.card_picture();
                assert!(cards.contains("class=\"place\""));
            }
        }
        let parts = parts(&ware, (&map, &burns));
        assert!(!parts.page_html(false).contains("id=\"on-ware\""));
    }

    /// From the side it is a line as far from the axis as its plane is; from behind nothing is seen
    /// of it.
    #[test]
    fn a_flat_place_is_a_line_from_the_side() {
        let ware = stave_setup::read_blank(MUG, "mug.toml").unwrap();
        let facet = &ware.facets[0];
        let plane = facet.page(&ware).unwrap();
        let (map, burns) = (BurnMap::new(&plane.wall, 0.2), Burns::new(&plane.wall, 0.2));
        let parts = parts(&plane, (&map, &burns));
        let art = Art::new((&map, None), 0.0, None);
        let place = FlatPlace { facet, ware: &ware };
        let drawn = parts.on_ware(place, Seen::Aside).draw_with_place(&art, facet).out;
        // Upright ware: turns grow to the left, and it was turned by a quarter of one.
        assert!(drawn.contains("d=\"M33 30 L33 -20\" fill=\"none\" class=\"place\""), "{drawn}");
        let behind = Elevation {
            facing_rad: facet.turn_rad + 2.0 * FRAC_PI_2,
            ..parts.on_ware(place, Seen::Facing)
        };
        assert!(!behind.draw_with_place(&art, facet).out.contains("class=\"place\""));
        // What is behind it does not make it small: a handle shows no wider than the mug.
        assert_eq!(parts.on_ware(place, Seen::Facing).seen(), (70.0, 100.0));
        assert_eq!(parts.on_ware(place, Seen::Aside).seen().0, 2.0 * (35.0 + 20.0));
    }
}
