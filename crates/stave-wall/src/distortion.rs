//! What a lay costs at a point.

/// Tissot's indicatrix of a lay at a point: how the wall differs from the flat plane there.
///
/// `a ≥ b` are the singular values of the Jacobian into the orthonormal frame of the wall, `ω` the
/// greatest error of any angle, `a·b` the area scale.
///
/// # References
/// J. P. Snyder, *Map Projections: A Working Manual*, USGS Professional Paper 1395 (1987), ch. 4,
/// eqs 4-9 to 4-13; there the scales are of the map over the surface, here of the wall over the
/// flat plane.
///
/// ```
/// use stave_wall::Distortion;
/// let squeezed = Distortion::of_jacobian([[1.0, 0.0], [0.0, 0.5]]);
/// assert_eq!((squeezed.a, squeezed.b, squeezed.area), (1.0, 0.5, 0.5));
/// assert!((squeezed.omega_rad - 2.0 * (1.0_f64 / 3.0).asin()).abs() < 1e-15);
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Distortion {
    /// The greatest stretch in any direction, wall over flat.
    pub a: f64,
    /// The least stretch in any direction; negative where the lay turns the art inside out.
    pub b: f64,
    /// The greatest error of any angle, rad: `2 asin((a − b)/(a + b))`.
    pub omega_rad: f64,
    /// Area on the wall over area in the flat plane: `a·b`.
    pub area: f64,
}

impl Distortion {
    /// From the Jacobian of a lay, rows `(ds, r dθ)`, columns `(du, dv)`.
    pub fn of_jacobian(j: [[f64; 2]; 2]) -> Distortion {
        // A 2 × 2 matrix is a turn times a + b plus a mirrored turn times a − b; hypot keeps both
        // exact.
        let sum = (j[0][0] + j[1][1]).hypot(j[1][0] - j[0][1]);
        let difference = (j[0][0] - j[1][1]).hypot(j[1][0] + j[0][1]);
        let omega_rad =
            if sum > 0.0 { 2.0 * (difference / sum).min(1.0).asin() } else { std::f64::consts::PI };
        Distortion {
            a: 0.5 * (sum + difference),
            b: 0.5 * (sum - difference),
            omega_rad,
            area: j[0][0] * j[1][1] - j[0][1] * j[1][0],
        }
    }

    /// Whether all four figures are finite.
    pub fn is_finite(&self) -> bool {
        self.a.is_finite()
            && self.b.is_finite()
            && self.omega_rad.is_finite()
            && self.area.is_finite()
    }
}
