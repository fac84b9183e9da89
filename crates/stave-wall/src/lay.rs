//! Carrying flat points to the wall.

use std::sync::Arc;

use crate::label::Label;
use crate::label_table::LabelTable;
use crate::{LabelRoom, LayError, LayKind, Section, Wall};

/// The point of the flat plane from which a lay is reckoned.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Anchor {
    /// The flat origin; the drawing is true in size where the wall has the reference radius.
    Drawing,
    /// A point of the flat plane, such as the centre of a piece; true in size where it lands.
    Point {
        /// Along the axis, mm.
        u_mm: f64,
        /// Around, mm.
        v_mm: f64,
    },
}

/// What fixes a lay.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LaySetting {
    /// The rule.
    pub kind: LayKind,
    /// Where the flat origin sits along the meridian, mm.
    pub origin_s_mm: f64,
    /// Where the flat origin sits around, rad.
    pub origin_turn_rad: f64,
    /// The radius at which a drawing is true in size, mm.
    pub reference_radius_mm: f64,
    /// The point the lay is reckoned from.
    pub anchor: Anchor,
}

/// A flat point laid on the wall.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Laid {
    /// Length along the meridian, mm; past the ends of the wall too.
    pub s_mm: f64,
    /// Turn about the axis, rad, never folded into one turn.
    pub turn_rad: f64,
    /// The span of the wall that holds it.
    pub span: usize,
    /// The wall there.
    pub section: Section,
}

/// The rule that carries flat points `(u, v)`, mm, to the wall.
///
/// `u` runs along the axis, `v` around it, right-handed seen from outside. With the anchor `(u_a,
/// v_a)`, its image `(s_a, θ_a)` and the radius `r_a` (the wall's there, or the reference radius
/// for [`Anchor::Drawing`]):
///
/// | lay | rule | cartographer's name |
/// | --- | --- | --- |
/// | even-angle | `s = s_a + (u−u_a)`, `θ = θ_a + (v−v_a)/r_a` | equidistant cylindrical |
/// | true-width | `s = s_a + (u−u_a)`, `θ = θ_a + (v−v_a)/r(s)` | sinusoidal |
/// | true-shape | `∫ds/r = (u−u_a)/r_a`, `θ = θ_a + (v−v_a)/r_a` | Mercator |
/// | label | the point at geodesic distance `ρ` and azimuth `α` | azimuthal equidistant |
///
/// with `ρ = hypot(u−u_a, v−v_a)` and `α = atan2(v−v_a, u−u_a)`, reckoned from the meridian.
///
/// The label lay lies as a paper label does: exact on a cone, true distances from the anchor
/// elsewhere. Where a geodesic goes round without end (a label of many metres), [`Lay::map`] gives
/// no number.
///
/// # References
/// J. P. Snyder, *Map Projections: A Working Manual*, USGS Professional Paper 1395 (1987): eqs 12-1
/// to 12-2, 30-8 to 30-9, 7-6 to 7-8, read backwards and for any meridian.
///
/// ```
/// use stave_wall::{Anchor, Lay, LayKind, LaySetting, Station, Wall, WallShape};
///
/// let can = [Station { at_mm: 0.0, radius_mm: 40.0 }, Station { at_mm: 100.0, radius_mm: 40.0 }];
/// let wall = Wall::from_stations(&can, WallShape::Straight)?;
/// let lay = Lay::new(&wall, LaySetting {
///     kind: LayKind::TrueWidth,
///     origin_s_mm: 10.0,
///     origin_turn_rad: 0.0,
///     reference_radius_mm: 40.0,
///     anchor: Anchor::Drawing,
/// })?;
/// let laid = lay.map(&wall, 5.0, 20.0, &mut 0);
/// assert_eq!((laid.s_mm, laid.turn_rad), (15.0, 0.5));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone)]
pub struct Lay {
    setting: LaySetting,
    anchor_u_mm: f64,
    anchor_v_mm: f64,
    anchor_s_mm: f64,
    anchor_turn_rad: f64,
    anchor_conformal: f64,
    radius_mm: f64,
    per_radius: f64,
    /// Of a label on a curved wall.
    table: Option<Arc<LabelTable>>,
}

impl Lay {
    /// Fixes a lay on a wall. The same wall must be given to every later call.
    ///
    /// # Errors
    /// A setting that is not finite, or a reference radius that is not above 0.
    pub fn new(wall: &Wall, setting: LaySetting) -> Result<Lay, LayError> {
        let (anchor_u_mm, anchor_v_mm) = match setting.anchor {
            Anchor::Drawing => (0.0, 0.0),
            Anchor::Point { u_mm, v_mm } => (u_mm, v_mm),
        };
        let numbers = [
            (setting.origin_s_mm, "the origin along the meridian"),
            (setting.origin_turn_rad, "the origin's turn"),
            (setting.reference_radius_mm, "the reference radius"),
            (anchor_u_mm, "the anchor along the axis"),
            (anchor_v_mm, "the anchor around"),
        ];
        for (value, what) in numbers {
            if !value.is_finite() {
                return Err(LayError::NotFinite { what });
            }
        }
        let reference_mm = setting.reference_radius_mm;
        if reference_mm <= 0.0 || !reference_mm.recip().is_finite() {
            return Err(LayError::ReferenceRadius { radius_mm: reference_mm });
        }
        let anchor_s_mm = setting.origin_s_mm + anchor_u_mm;
        let radius_mm = match setting.anchor {
            Anchor::Drawing => reference_mm,
            Anchor::Point { .. } => wall.section(anchor_s_mm, &mut 0).radius_mm,
        };
        Ok(Lay {
            setting,
            anchor_u_mm,
            anchor_v_mm,
            anchor_s_mm,
            anchor_turn_rad: setting.origin_turn_rad + anchor_v_mm / reference_mm,
            anchor_conformal: wall.conformal(anchor_s_mm),
            radius_mm,
            per_radius: radius_mm.recip(),
            table: (setting.kind == LayKind::Label && wall.is_curved())
                .then(|| Arc::new(LabelTable::new())),
        })
    }

    /// The settings it was made from.
    pub fn setting(&self) -> &LaySetting {
        &self.setting
    }

    /// The flat point from which the lay is reckoned, mm.
    #[inline]
    pub fn anchor_mm(&self) -> (f64, f64) {
        (self.anchor_u_mm, self.anchor_v_mm)
    }

    /// Where along the meridian that point lands, mm.
    #[inline]
    pub fn anchor_s_mm(&self) -> f64 {
        self.anchor_s_mm
    }

    /// The turn at which that point lands, rad.
    #[inline]
    pub fn anchor_turn_rad(&self) -> f64 {
        self.anchor_turn_rad
    }

    /// The radius `r_a` at which the drawing is true in size, mm.
    #[inline]
    pub fn true_radius_mm(&self) -> f64 {
        self.radius_mm
    }

    /// The image of a flat point. Past the ends the wall is a cylinder. `hint` is the caller's, 0
    /// at first.
    // Inlined whatever its size, as `Wall::locate` is.
    #[allow(clippy::inline_always)]
    #[inline(always)]
    pub fn map(&self, wall: &Wall, u_mm: f64, v_mm: f64, hint: &mut usize) -> Laid {
        let along_mm = u_mm - self.anchor_u_mm;
        let around_mm = v_mm - self.anchor_v_mm;
        match self.setting.kind {
            LayKind::EvenAngle => {
                let s_mm = self.anchor_s_mm + along_mm;
                let (section, span) = wall.locate(s_mm, hint);
                Laid {
                    s_mm,
                    turn_rad: self.anchor_turn_rad + around_mm * self.per_radius,
                    span,
                    section,
                }
            }
            LayKind::TrueWidth => {
                let s_mm = self.anchor_s_mm + along_mm;
                let (section, span) = wall.locate(s_mm, hint);
                Laid {
                    s_mm,
                    turn_rad: self.anchor_turn_rad + around_mm / section.radius_mm,
                    span,
                    section,
                }
            }
            LayKind::TrueShape => {
                let q = self.anchor_conformal + along_mm * self.per_radius;
                let (s_mm, section, span) = wall.locate_conformal(q, hint);
                Laid {
                    s_mm,
                    turn_rad: self.anchor_turn_rad + around_mm * self.per_radius,
                    span,
                    section,
                }
            }
            LayKind::Label => {
                let (s_mm, turn_rad) = self.label().map(wall, along_mm, around_mm);
                let (section, span) = wall.locate(s_mm, hint);
                Laid { s_mm, turn_rad: self.anchor_turn_rad + turn_rad, span, section }
            }
        }
    }

    /// As [`Lay::map`], to within 5e-5 mm: for looks along a label on a curved wall, of which many
    /// lie near each other. They are taken from a table that fills as it is asked, instead of
    /// integrating a geodesic each.
    #[inline]
    pub fn look(&self, wall: &Wall, u_mm: f64, v_mm: f64, hint: &mut usize) -> Laid {
        let looked = self.table.as_ref().and_then(|table| {
            let (along_mm, around_mm) = (u_mm - self.anchor_u_mm, v_mm - self.anchor_v_mm);
            table.look(&self.label(), wall, along_mm, around_mm)
        });
        let Some((s_mm, turn_rad)) = looked else { return self.map(wall, u_mm, v_mm, hint) };
        let (section, span) = wall.locate(s_mm, hint);
        Laid { s_mm, turn_rad: self.anchor_turn_rad + turn_rad, span, section }
    }

    /// Where along the meridian `u` lands, mm, whatever `v`: the inverse of [`Lay::u_of_s`].
    #[inline]
    pub fn s_of_u(&self, wall: &Wall, u_mm: f64) -> Option<f64> {
        let along_mm = u_mm - self.anchor_u_mm;
        match self.setting.kind {
            LayKind::EvenAngle | LayKind::TrueWidth => Some(self.anchor_s_mm + along_mm),
            LayKind::TrueShape => {
                Some(wall.s_of_conformal(self.anchor_conformal + along_mm * self.per_radius))
            }
            LayKind::Label => None,
        }
    }

    /// The `u` that lands at `s`, for the lays that keep level lines level; `None` for `label`.
    pub fn u_of_s(&self, wall: &Wall, s_mm: f64) -> Option<f64> {
        match self.setting.kind {
            LayKind::EvenAngle | LayKind::TrueWidth => {
                Some(self.anchor_u_mm + (s_mm - self.anchor_s_mm))
            }
            LayKind::TrueShape => Some(
                self.anchor_u_mm + (wall.conformal(s_mm) - self.anchor_conformal) * self.radius_mm,
            ),
            LayKind::Label => None,
        }
    }

    /// The flat point `(u, v)`, mm, that lands at a place of the wall: the inverse of [`Lay::map`].
    /// `turn_rad` is not folded. `None` where no flat point lands.
    pub fn flat(&self, wall: &Wall, s_mm: f64, turn_rad: f64) -> Option<(f64, f64)> {
        if self.setting.kind == LayKind::Label {
            let (along_mm, around_mm) =
                self.label().flat(wall, s_mm, turn_rad - self.anchor_turn_rad)?;
            return Some((self.anchor_u_mm + along_mm, self.anchor_v_mm + around_mm));
        }
        let u_mm = self.u_of_s(wall, s_mm)?;
        let radius_mm = match self.setting.kind {
            LayKind::TrueWidth => wall.section(s_mm, &mut 0).radius_mm,
            _ => self.radius_mm,
        };
        let v_mm = self.anchor_v_mm + (turn_rad - self.anchor_turn_rad) * radius_mm;
        (u_mm.is_finite() && v_mm.is_finite()).then_some((u_mm, v_mm))
    }

    /// As [`Lay::flat`], where the flat point of a place near by is known, mm: a label finds it in
    /// fewer steps from there.
    #[must_use]
    pub fn flat_near(
        &self,
        wall: &Wall,
        s_mm: f64,
        turn_rad: f64,
        near: (f64, f64),
    ) -> Option<(f64, f64)> {
        if self.setting.kind != LayKind::Label {
            return self.flat(wall, s_mm, turn_rad);
        }
        let place = (s_mm, turn_rad - self.anchor_turn_rad);
        let near = (near.0 - self.anchor_u_mm, near.1 - self.anchor_v_mm);
        let (along_mm, around_mm) = self.label().flat_near(wall, place, near)?;
        Some((self.anchor_u_mm + along_mm, self.anchor_v_mm + around_mm))
    }

    /// The Jacobian of [`Lay::map`] into the orthonormal frame of the wall: rows `(ds, r dθ)`,
    /// columns `(du, dv)`.
    pub fn jacobian(&self, wall: &Wall, u_mm: f64, v_mm: f64) -> [[f64; 2]; 2] {
        let wall_there = || self.map(wall, u_mm, v_mm, &mut 0).section;
        match self.setting.kind {
            LayKind::EvenAngle => [[1.0, 0.0], [0.0, wall_there().radius_mm * self.per_radius]],
            LayKind::TrueWidth => {
                let Section { radius_mm, sin_slope, .. } = wall_there();
                [[1.0, 0.0], [-(v_mm - self.anchor_v_mm) * sin_slope / radius_mm, 1.0]]
            }
            LayKind::TrueShape => {
                let scale = wall_there().radius_mm * self.per_radius;
                [[scale, 0.0], [0.0, scale]]
            }
            LayKind::Label => {
                self.label().jacobian(wall, u_mm - self.anchor_u_mm, v_mm - self.anchor_v_mm)
            }
        }
    }

    /// How far a label reaches from this lay's anchor before it folds, meets itself or leaves the
    /// wall; `None` for the other lays, which never fold.
    ///
    /// It looks along several hundred geodesics: some milliseconds.
    pub fn label_room(&self, wall: &Wall) -> Option<LabelRoom> {
        (self.setting.kind == LayKind::Label).then(|| LabelRoom::look(wall, self.anchor_s_mm))
    }

    /// Whether a label with these flat points, mm, lies on the wall without folding, meeting itself
    /// or leaving it. Always so for the other lays, which have no such bounds.
    ///
    /// # Errors
    /// [`LayError::LabelTooLarge`], which tells how far the label reaches and how far it may.
    pub fn check_label(
        &self,
        wall: &Wall,
        points: impl IntoIterator<Item = (f64, f64)>,
    ) -> Result<(), LayError> {
        let Some(room) = self.label_room(wall) else { return Ok(()) };
        self.check_label_in(&room, points)
    }

    /// [`Lay::check_label`] within a room that was looked for before, for many labels about one
    /// anchor.
    ///
    /// # Errors
    /// As [`Lay::check_label`].
    pub fn check_label_in(
        &self,
        room: &LabelRoom,
        points: impl IntoIterator<Item = (f64, f64)>,
    ) -> Result<(), LayError> {
        room.check(
            points
                .into_iter()
                .map(|(u_mm, v_mm)| (u_mm - self.anchor_u_mm, v_mm - self.anchor_v_mm)),
        )
    }

    /// As [`Lay::check_label_in`], for flat straight lines, mm: all of each, not its ends only.
    ///
    /// # Errors
    /// As [`Lay::check_label`].
    pub fn check_label_lines_in(
        &self,
        room: &LabelRoom,
        lines: impl IntoIterator<Item = [(f64, f64); 2]>,
    ) -> Result<(), LayError> {
        let from_anchor =
            |(u_mm, v_mm): (f64, f64)| (u_mm - self.anchor_u_mm, v_mm - self.anchor_v_mm);
        room.check_lines(lines.into_iter().map(|line| line.map(from_anchor)))
    }

    fn label(&self) -> Label {
        Label { anchor_s_mm: self.anchor_s_mm }
    }
}
