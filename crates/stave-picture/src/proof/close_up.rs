//! What is engraved, larger than on the rest of the customer's sheet, and true to scale: it is
//! signed.

use std::f64::consts::{PI, TAU};

use kurbo::{Rect, Vec2};
use stave_setup::{Blank, Stands};
use stave_toolpath::number::fixed;

use super::ProofParts;
use super::burn_map::WallPlace;
use super::customer::LOWEST;
use super::elevation::Art;
use super::sheet::{DOTS_PER_MM, LEFT, RIGHT};
use super::unrolled::{pictured, true_across_mm};
use crate::draw::{Drawing, INK, SOFT, scale_bar};

/// What of the ware is seen around it, mm of it.
const BESIDE_MM: f64 = 2.0;
/// How many times as large it is drawn at least, or not at all, and at most.
const LEAST_TIMES: f64 = 1.3;
const MOST_TIMES: f64 = 4.0;
/// What its name takes, and the bar beside it.
const CAPTION_MM: f64 = 9.0;
/// What goes farther around than this shears too far aside where widths are kept, rad.
const MOST_TRUE_RAD: f64 = PI;

/// How a turn becomes a width.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Across {
    /// By the wall's own radius at each height: widths are true at every one.
    Own,
    /// By one radius all along, mm: true where the wall has it.
    One(f64),
}

/// A part of the wall rolled out about its own middle.
struct CloseUp<'a> {
    blank: &'a Blank,
    stands: Stands,
    across: Across,
    /// Its middle, which lies at the paper's origin.
    middle: WallPlace,
    /// mm of paper for a mm of wall.
    scale: f64,
}

impl<'a> CloseUp<'a> {
    /// About the middle of what is burned, where anything is.
    fn of(proof: &'a ProofParts<'_>) -> Option<Self> {
        let (s_mm, turn_rad) = (proof.lies.burned_s_mm?, proof.lies.burned_turn_rad?);
        let middle =
            WallPlace { s_mm: 0.5 * (s_mm.0 + s_mm.1), turn_rad: 0.5 * (turn_rad.0 + turn_rad.1) };
        let across = match turn_rad.1 - turn_rad.0 <= MOST_TRUE_RAD {
            true => Across::Own,
            false => Across::One(proof.blank.wall.section(middle.s_mm, &mut 0).radius_mm),
        };
        let (blank, stands) = (proof.blank, proof.stands);
        Some(Self { blank, stands, across, middle, scale: 1.0 })
    }

    fn radius_mm(&self, s_mm: f64, hint: &mut usize) -> f64 {
        match self.across {
            Across::Own => self.blank.wall.section(s_mm, hint).radius_mm,
            Across::One(radius_mm) => radius_mm,
        }
    }

    /// The box on the paper around all that is burned.
    fn around(&self, proof: &ProofParts<'_>) -> Option<Rect> {
        let (from, to) = proof.lies.burned_s_mm?;
        let mut hint = 0;
        let widths = proof.map.burned_places().map(|place| {
            let from_middle = (place.turn_rad - self.middle.turn_rad + PI).rem_euclid(TAU) - PI;
            from_middle * self.radius_mm(place.s_mm, &mut hint)
        });
        let ends = (f64::INFINITY, f64::NEG_INFINITY);
        let (low, high) = widths.fold(ends, |ends, mm| (ends.0.min(mm), ends.1.max(mm)));
        let corner = |s_mm: f64, across_mm: f64| {
            let (along, across) = (self.scale * (s_mm - self.middle.s_mm), self.scale * across_mm);
            match self.stands {
                Stands::Lying => (along, -across),
                Stands::Inverted => (across, along),
                Stands::Upright => (-across, -along),
            }
        };
        (low <= high).then(|| Rect::from_points(corner(from, low), corner(to, high)))
    }

    /// The wall's place of a point of the paper; `None` past the ends of the wall or once around.
    fn wall(&self, x: f64, y: f64, hint: &mut usize) -> Option<WallPlace> {
        let (along, across) = match self.stands {
            Stands::Lying => (x, -y),
            Stands::Inverted => (y, x),
            Stands::Upright => (-y, -x),
        };
        let s_mm = self.middle.s_mm + along / self.scale;
        let off_rad = across / (self.scale * self.radius_mm(s_mm, hint));
        let is_on = (0.0..=self.blank.wall.length_mm()).contains(&s_mm) && off_rad.abs() <= PI;
        is_on.then_some(WallPlace { s_mm, turn_rad: self.middle.turn_rad + off_rad })
    }

    /// Drawn with a corner of `window_mm` at a place of the sheet.
    fn draw(&self, art: &Art<'_>, window_mm: Rect, by: Vec2) -> Drawing {
        let mut paper = Drawing::default();
        let there = window_mm + by;
        let corners = [
            (there.x0, there.y0),
            (there.x1, there.y0),
            (there.x1, there.y1),
            (there.x0, there.y1),
        ];
        let ware = self.blank.look.unwrap_or_default().ware.to_string();
        paper.shape(&corners, &format!("fill=\"{ware}\" stroke=\"none\""));
        let mut hint = 0;
        let wall = |x: f64, y: f64| self.wall(x - by.x, y - by.y, &mut hint);
        pictured(&mut paper, art, there, DOTS_PER_MM, wall);
        paper.shape(&corners, &format!("fill=\"none\" stroke=\"{INK}\" stroke-width=\"0.3\""));
        paper
    }

    /// What is said of its widths, if there is anything to say.
    fn said(&self) -> String {
        match self.across {
            _ if true_across_mm(self.blank).is_none() => String::new(),
            Across::Own => ", true in width and height".to_owned(),
            Across::One(radius_mm) => format!(
                ", unrolled: true in width where the ware is {} mm across",
                fixed(2.0 * radius_mm, 1)
            ),
        }
    }
}

impl ProofParts<'_> {
    /// Where there is nothing to read over and room is left: what is engraved, larger than at
    /// `small` mm of paper for one of ware.
    pub(super) fn close_to(&self, paper: &mut Drawing, art: &Art<'_>, small: f64, top: f64) {
        let Some(mut close) = CloseUp::of(self) else { return };
        let Some(bare) = close.around(self).map(|bare| bare.inflate(BESIDE_MM, BESIDE_MM)) else {
            return;
        };
        let room = (RIGHT - LEFT, LOWEST - top - CAPTION_MM);
        let scale = (room.0 / bare.width()).min(room.1 / bare.height());
        let times = (scale / small).min(MOST_TIMES);
        if !(times >= LEAST_TIMES && bare.is_finite()) {
            return;
        }
        close.scale = times * small;
        let window = bare.scale_from_origin(close.scale);
        let by = Vec2::new(0.5 * (LEFT + RIGHT) - window.center().x, top - window.y0);
        paper.group("class=\"detail\"", close.draw(art, window, by));
        let below = window.y1 + by.y + 4.6;
        let centred = format!("text-anchor=\"middle\" fill=\"{SOFT}\"");
        let times = fixed(times, 1);
        let words = format!("the engraving, {times} times as large as above{}", close.said());
        paper.text((0.5 * (LEFT + RIGHT), below), 3.0, &centred, &words);
        scale_bar(paper, (LEFT, below - 1.0), 10.0 * close.scale, "scale-detail", "10 mm here");
    }
}

#[cfg(test)]
mod tests {
    use super::super::sample::parts;
    use super::super::{BurnMap, Burns};
    use super::*;

    /// A circle is as wide as it is high wherever it lies on a cup that tapers or a ball, at either
    /// end of which equal turns would stretch or squeeze it.
    #[test]
    fn a_circle_stays_one() {
        let cup = "[[station]]\nat = 0\ndiameter = 50\n[[station]]\nat = 100\ndiameter = 90\n";
        let ball = "wall = \"smooth\"\n[[station]]\nat = 0\ndiameter = 20\n[[station]]\n\
                    at = 20\ndiameter = 60\n[[station]]\nat = 60\ndiameter = 80\n";
        for text in [cup, ball] {
            let blank = stave_setup::read_blank(text, "ware.toml").unwrap();
            let (mut map, burns) = (BurnMap::new(&blank.wall, 0.2), Burns::new(&blank.wall, 0.2));
            let (middle_mm, radius_mm) = (14.0, 6.0);
            let on = |deg: i32| {
                let (sin, cos) = f64::from(deg).to_radians().sin_cos();
                let s_mm = middle_mm + radius_mm * sin;
                let r = blank.wall.section(s_mm, &mut 0).radius_mm;
                WallPlace { s_mm, turn_rad: 1.0 + radius_mm * cos / r }
            };
            (0..360).for_each(|deg| map.burn(on(deg), on(deg + 1), 1.0, 0.0, 0));
            let mut parts = parts(&blank, (&map, &burns));
            parts.lies.burned_s_mm = Some((middle_mm - radius_mm, middle_mm + radius_mm));
            parts.lies.burned_turn_rad = Some((on(180).turn_rad, on(0).turn_rad));
            for stands in [Stands::Upright, Stands::Inverted, Stands::Lying] {
                parts.stands = stands;
                let close = CloseUp::of(&parts).unwrap();
                let found = close.around(&parts).unwrap();
                let wanted = 2.0 * radius_mm;
                assert!((found.width() - wanted).abs() < 0.5, "{stands:?}: {found:?}");
                assert!((found.height() - wanted).abs() < 0.5, "{stands:?}: {found:?}");
                // There and back.
                let place = close.wall(found.x1, 0.5 * found.y1, &mut 0).unwrap();
                assert!(parts.blank.wall.length_mm() > place.s_mm);
            }
            let sheet = parts.sheet_svg(true);
            assert!(sheet.contains("times as large as above, true in width and height"), "{text}");
            assert!(sheet.contains("drawn too wide where the ware is less than"), "{text}");
        }
    }

    /// What goes all around is true in one width, and the sheet says in which.
    #[test]
    fn a_band_is_true_at_its_middle() {
        let text = "[[station]]\nat = 0\ndiameter = 50\n[[station]]\nat = 30\ndiameter = 90\n";
        let blank = stave_setup::read_blank(text, "bowl.toml").unwrap();
        let (mut map, burns) = (BurnMap::new(&blank.wall, 0.2), Burns::new(&blank.wall, 0.2));
        let place = |turn_rad: f64| WallPlace { s_mm: 18.0, turn_rad };
        map.burn(place(-2.0), place(2.0), 1.0, 0.0, 0);
        let mut parts = parts(&blank, (&map, &burns));
        parts.lies.burned_s_mm = Some((17.0, 19.0));
        parts.lies.burned_turn_rad = Some((-2.0, 2.0));
        let close = CloseUp::of(&parts).unwrap();
        let radius_mm = blank.wall.section(18.0, &mut 0).radius_mm;
        assert_eq!(close.across, Across::One(radius_mm));
        let said =
            format!("true in width where the ware is {} mm across", fixed(2.0 * radius_mm, 1));
        assert!(close.said().contains(&said), "{}", close.said());
        assert!((close.around(&parts).unwrap().width() - 4.0 * radius_mm).abs() < 0.5);
    }
}
