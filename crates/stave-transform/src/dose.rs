//! How much more or less power a place on the wall needs than the flat plane did.

use stave_wall::{Lay, Wall};

use crate::curve::{Curve, FlatPoint};

/// The share by which power may change within one move, of itself.
pub(crate) const POWER_STEP: f64 = 0.01;

/// `det J / |J t|` at a point of a burn: the spacing between neighbouring lines on the wall over
/// their spacing in the flat plane.
///
/// `J` is the lay's Jacobian, `t` the unit direction of the burn. `P = P_asked · (v_wall/v_asked) ·
/// det J / |J t|` then keeps energy per area.
pub(crate) fn spacing_ratio(
    lay: &Lay,
    wall: &Wall,
    curve: &Curve<'_>,
    at: FlatPoint,
    t: f64,
) -> f64 {
    let (du, dv) = curve.direction(t);
    let length = du.hypot(dv);
    if length == 0.0 {
        return 1.0;
    }
    let (du, dv) = (du / length, dv / length);
    let j = lay.jacobian(wall, at.u, at.v);
    let stretch = (j[0][0] * du + j[0][1] * dv).hypot(j[1][0] * du + j[1][1] * dv);
    let area = (j[0][0] * j[1][1] - j[0][1] * j[1][0]).abs();
    if stretch > 0.0 { area / stretch } else { 1.0 }
}
