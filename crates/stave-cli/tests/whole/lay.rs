//! The lays once more: flat plane to wall.

use crate::meridian::Meridian;

#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum LayKind {
    EvenAngle,
    TrueWidth,
    TrueShape,
}

pub const LAYS: [LayKind; 3] = [LayKind::EvenAngle, LayKind::TrueWidth, LayKind::TrueShape];

impl LayKind {
    pub fn name(self) -> &'static str {
        match self {
            Self::EvenAngle => "even-angle",
            Self::TrueWidth => "true-width",
            Self::TrueShape => "true-shape",
        }
    }
}

#[derive(Clone, Copy, Debug)]
pub struct Lay {
    kind: LayKind,
    /// The anchor in the flat plane and on the wall, and the radius by which it is reckoned.
    u: f64,
    v: f64,
    s: f64,
    turn: f64,
    radius: f64,
    q: f64,
}

impl Lay {
    /// `place`: distance along the axis in mm and turn in degrees. Reference diameter: the wall's
    /// largest.
    pub fn new(
        wall: &Meridian,
        kind: LayKind,
        place: (f64, f64),
        anchor: Option<(f64, f64)>,
    ) -> Self {
        let reference = wall.largest_radius();
        let (u, v) = anchor.unwrap_or((0.0, 0.0));
        let s = wall.s_of_z(place.0) + u;
        let radius = if anchor.is_some() { wall.at_s(s).r } else { reference };
        Self {
            kind,
            u,
            v,
            s,
            turn: place.1.to_radians() + v / reference,
            radius,
            q: wall.q_of_s(s),
        }
    }

    /// `s` in mm and turn in radians.
    pub fn image(&self, wall: &Meridian, u: f64, v: f64) -> [f64; 2] {
        let (du, dv) = (u - self.u, v - self.v);
        match self.kind {
            LayKind::EvenAngle => [self.s + du, self.turn + dv / self.radius],
            LayKind::TrueWidth => [self.s + du, self.turn + dv / wall.at_s(self.s + du).r],
            LayKind::TrueShape => {
                [wall.s_of_q(self.q + du / self.radius), self.turn + dv / self.radius]
            }
        }
    }
}
