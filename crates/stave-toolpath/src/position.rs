//! Where a program's machine stands.

/// A position of all six axes in machine coordinates.
///
/// # Units
/// `x`, `y`, `z` in mm; `a`, `b`, `c` in degrees, growing without limit (never folded into a turn).
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Position {
    /// Along X, mm.
    pub x: f64,
    /// Along Y, mm.
    pub y: f64,
    /// Along Z, mm.
    pub z: f64,
    /// About X, degrees.
    pub a: f64,
    /// About Y, degrees.
    pub b: f64,
    /// About Z, degrees.
    pub c: f64,
}

impl Position {
    /// The distance to `other` in X, Y and Z, mm.
    ///
    /// ```
    /// use stave_toolpath::Position;
    /// let from = Position::default();
    /// let to = Position { x: 3.0, y: 4.0, ..from };
    /// assert_eq!(from.linear_distance_mm(&to), 5.0);
    /// ```
    #[must_use]
    pub fn linear_distance_mm(&self, other: &Self) -> f64 {
        let (dx, dy, dz) = (other.x - self.x, other.y - self.y, other.z - self.z);
        (dx * dx + dy * dy + dz * dz).sqrt()
    }

    /// The Euclidean norm of the rotary differences to `other`, degrees (RS274/NGC 2.1.2.5 C).
    #[must_use]
    pub fn rotary_distance_deg(&self, other: &Self) -> f64 {
        let (da, db, dc) = (other.a - self.a, other.b - self.b, other.c - self.c);
        (da * da + db * db + dc * dc).sqrt()
    }
}
