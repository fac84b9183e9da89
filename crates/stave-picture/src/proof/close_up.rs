//! What is engraved, larger than on the rest of the customer's sheet, and true to scale: it is
//! signed.

use std::f64::consts::{PI, TAU};

use kurbo::{Rect, Vec2};
use stave_setup::{Blank, Stands};
use stave_toolpath::number::fixed;

use super::ProofParts;
use super::burn_map::WallPlace;
use super::elevation::Art;
use super::sheet::DOTS_PER_MM;
use super::unrolled::{pictured, true_across_mm};
use crate::draw::{Drawing, INK, SOFT, bar_told, broken, scale_bar, short_bar_mm, text_width_mm};

/// What of the ware is seen around it, mm of it.
const BESIDE_MM: f64 = 2.0;
/// How many times as large as in the views it is drawn at least, or not at all.
const LEAST_TIMES: f64 = 1.3;
/// How many times as large it is drawn at most: as in the views, or as on the ware, whichever is
/// more.
const MOST_TIMES: f64 = 4.0;
const MOST_OF_WARE: f64 = 2.5;
/// The size of its name, from line to line of it, and what the first and the bar take.
const NAME_MM: f64 = 3.0;
const LINE_MM: f64 = 4.0;
const ROW_MM: f64 = 5.0;
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
pub(super) struct CloseUp<'a> {
    blank: &'a Blank,
    stands: Stands,
    across: Across,
    /// Its middle, which lies at the paper's origin.
    middle: WallPlace,
    /// mm of paper for a mm of wall.
    scale: f64,
    /// The box around what is burned, and a little of the ware, at scale 1.
    bare: Rect,
}

impl<'a> CloseUp<'a> {
    /// Of what is burned, where anything is.
    pub(super) fn around(proof: &'a ProofParts<'_>) -> Option<Self> {
        let mut close = Self::about(proof)?;
        close.bare = close.burned(proof)?.inflate(BESIDE_MM, BESIDE_MM);
        close.bare.is_finite().then_some(close)
    }

    /// About the middle of what is burned.
    fn about(proof: &'a ProofParts<'_>) -> Option<Self> {
        let (s_mm, turn_rad) = (proof.lies.burned_s_mm?, proof.lies.burned_turn_rad?);
        let middle =
            WallPlace { s_mm: 0.5 * (s_mm.0 + s_mm.1), turn_rad: 0.5 * (turn_rad.0 + turn_rad.1) };
        let across = match turn_rad.1 - turn_rad.0 <= MOST_TRUE_RAD {
            true => Across::Own,
            false => Across::One(proof.blank.wall.section(middle.s_mm, &mut 0).radius_mm),
        };
        let (blank, stands) = (proof.blank, proof.stands);
        Some(Self { blank, stands, across, middle, scale: 1.0, bare: Rect::ZERO })
    }

    fn radius_mm(&self, s_mm: f64, hint: &mut usize) -> f64 {
        match self.across {
            Across::Own => self.blank.wall.section(s_mm, hint).radius_mm,
            Across::One(radius_mm) => radius_mm,
        }
    }

    /// The box on the paper around all that is burned.
    fn burned(&self, proof: &ProofParts<'_>) -> Option<Rect> {
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
                ", unrolled: true in width where the ware is {} across",
                self.blank.unit().told(2.0 * radius_mm, 1)
            ),
        }
    }
}

impl CloseUp<'_> {
    /// How it is named where it is so many times as large as in the views.
    fn name(&self, times: f64) -> String {
        format!("the engraving, {} times as large as in the views{}", fixed(times, 1), self.said())
    }

    /// Larger than at `small` mm of paper for one of ware, in that of the rooms that are left which
    /// holds it largest, if one holds it larger at all: its scale and its room.
    pub(super) fn fitted(&self, small: f64, rooms: &[Rect]) -> Option<(f64, Rect)> {
        let most = (MOST_TIMES * small).max(MOST_OF_WARE);
        let fits = |room: &Rect| {
            let below = self.under(&self.name(most / small), most, *room).1;
            let (wide, tall) = (self.bare.width(), self.bare.height());
            let scale = (room.width() / wide).min((room.height() - below) / tall);
            (scale.min(most), *room)
        };
        // Of rooms alike the first.
        let larger = |a: (f64, Rect), b: (f64, Rect)| if b.0 > a.0 + 1e-9 { b } else { a };
        let found = rooms.iter().map(fits).reduce(larger);
        found.filter(|(scale, _)| scale / small >= LEAST_TIMES)
    }

    pub(super) fn draw_within(
        mut self,
        paper: &mut Drawing,
        art: &Art<'_>,
        small: f64,
        rooms: &[Rect],
    ) {
        let Some((scale, room)) = self.fitted(small, rooms) else { return };
        self.scale = scale;
        let window = self.bare.scale_from_origin(scale);
        let middle = room.center().x;
        let by = Vec2::new(middle - window.center().x, room.y0 - window.y0);
        paper.group("class=\"detail\"", self.draw(art, window, by));
        let below = window.y1 + by.y;
        let words = self.name(scale / small);
        let (is_beside, _) = self.under(&words, scale, room);
        let centred = format!("text-anchor=\"middle\" fill=\"{SOFT}\"");
        let lines = broken(&words, NAME_MM, room.width());
        for (k, line) in lines.iter().enumerate() {
            let y = below + ROW_MM - 0.4 + LINE_MM * k as f64;
            paper.text((middle, y), NAME_MM, &centred, line);
        }
        // Beside its name where there is room, else below it.
        let (x, y) = match is_beside {
            true => (room.x0, below + ROW_MM - 1.4),
            false => {
                let long = self.bar_and_words_mm(scale);
                (middle - 0.5 * long, below + ROW_MM - 1.4 + LINE_MM * lines.len() as f64)
            }
        };
        let (bar_mm, words) = self.bar();
        scale_bar(paper, (x, y), bar_mm * scale, "scale-detail", &words);
    }

    /// The bar, mm of ware, and what stands beside it.
    fn bar(&self) -> (f64, String) {
        let unit = self.blank.unit();
        let long_mm = short_bar_mm(unit);
        (long_mm, format!("{} here", bar_told(unit, long_mm)))
    }

    /// How long the bar and what stands beside it come out.
    fn bar_and_words_mm(&self, scale: f64) -> f64 {
        let (long_mm, words) = self.bar();
        long_mm * scale + 2.5 + text_width_mm(&words, 2.5)
    }

    /// Whether the bar stands beside the name of what is drawn, and what both take below it, mm.
    fn under(&self, words: &str, scale: f64, room: Rect) -> (bool, f64) {
        let lines = broken(words, NAME_MM, room.width()).len() as f64;
        let half_mm = 0.5 * text_width_mm(words, NAME_MM);
        let is_beside = self.bar_and_words_mm(scale) + 3.0 < 0.5 * room.width() - half_mm;
        (is_beside, ROW_MM + 1.0 + LINE_MM * (lines - if is_beside { 1.0 } else { 0.0 }))
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
                let close = CloseUp::about(&parts).unwrap();
                let found = close.burned(&parts).unwrap();
                let wanted = 2.0 * radius_mm;
                assert!((found.width() - wanted).abs() < 0.5, "{stands:?}: {found:?}");
                assert!((found.height() - wanted).abs() < 0.5, "{stands:?}: {found:?}");
                // There and back.
                let place = close.wall(found.x1, 0.5 * found.y1, &mut 0).unwrap();
                assert!(parts.blank.wall.length_mm() > place.s_mm);
            }
            let sheet = parts.sheet_svg(true);
            // However its name is broken into lines.
            let words = sheet.split("</text>").filter_map(|part| part.rsplit('>').next());
            let words = words.collect::<Vec<_>>().join(" ");
            let said = "times as large as in the views, true in width and height";
            assert!(words.contains(said), "{words}");
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
        let close = CloseUp::about(&parts).unwrap();
        let radius_mm = blank.wall.section(18.0, &mut 0).radius_mm;
        assert_eq!(close.across, Across::One(radius_mm));
        let said =
            format!("true in width where the ware is {} mm across", fixed(2.0 * radius_mm, 1));
        assert!(close.said().contains(&said), "{}", close.said());
        assert!((close.burned(&parts).unwrap().width() - 4.0 * radius_mm).abs() < 0.5);
    }
}
