//! From the page of a controller back to the flat plane: what is made of pixels is carried that
//! way, pixel by pixel.

use kurbo::Point;
use stave_wall::{Laid, Lay};

use super::Redraw;

/// How close to each other places of the wall are looked at, mm: between them the way back is
/// straight, which on the tightest wall strays by far less than a pixel.
const LOOK_MM: f64 = 0.05;
/// A wall is looked at in no more places than this.
const MOST_LOOKS: f64 = 200_000.0;

/// The way back from a page.
#[derive(Clone, Debug)]
pub struct Back {
    /// Places on the page along it, rising, and where on the wall each is, mm.
    along: Vec<(f64, f64)>,
    /// The turn at the middle of the page, rad, and how it grows over the page, rad a mm.
    turn_rad: (f64, f64),
}

impl Redraw<'_> {
    /// The way back from the page to the wall.
    #[must_use]
    pub fn back(&self) -> Back {
        let length_mm = self.wall.length_mm();
        let looks = (length_mm / LOOK_MM).ceil().clamp(2.0, MOST_LOOKS);
        let mut hint = 0;
        let mut on_page = |s_mm: f64, turn_rad: f64| {
            let section = self.wall.section(s_mm, &mut hint);
            self.on_page(&Laid { s_mm, turn_rad, span: 0, section })
        };
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "bounded")]
        let count = looks as u32;
        let mut along: Vec<(f64, f64)> = (0..=count)
            .map(|k| {
                let s_mm = length_mm * f64::from(k) / f64::from(count);
                (on_page(s_mm, 0.0).x, s_mm)
            })
            .collect();
        along.sort_by(|a, b| a.0.total_cmp(&b.0));
        let (zero, one) = (on_page(0.0, 0.0).y, on_page(0.0, 1.0).y);
        let per_mm = 1.0 / (one - zero);
        Back { along, turn_rad: (-zero * per_mm, per_mm) }
    }

    /// The flat point that comes to lie at a place of the page under a lay; `None` off the wall,
    /// and where nothing comes to lie.
    #[must_use]
    pub fn flat(&self, back: &Back, lay: &Lay, on_page: Point) -> Option<Point> {
        let turn_rad = back.turn_rad.0 + on_page.y * back.turn_rad.1;
        let after = back.along.partition_point(|(along, _)| *along < on_page.x);
        let &(to, s_to) = back.along.get(after)?;
        let s_mm = match after.checked_sub(1).and_then(|before| back.along.get(before)) {
            Some(&(from, s_from)) if to > from => {
                s_from + (s_to - s_from) * (on_page.x - from) / (to - from)
            }
            _ => s_to,
        };
        let (u_mm, v_mm) = lay.flat(self.wall, s_mm, turn_rad)?;
        Some(Point::new(u_mm, v_mm))
    }
}
