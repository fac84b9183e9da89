//! Energy per area, and the unit that it is told in.

/// Energy per area in J/cm², of one told in percent of a beam's full power times seconds a mm²,
/// under a beam of so many watts.
///
/// ```
/// // 40 % of 50 W are 20 W; at 200 mm/s and 0.1 mm from line to line they go over 20 mm² each
/// // second: 1 J/mm², and 100 times that on a cm².
/// let percent_s_per_mm2 = 40.0 / (200.0 * 0.1);
/// assert!((stave_toolpath::j_per_cm2(percent_s_per_mm2, 50.0) - 100.0).abs() < 1e-9);
/// ```
#[must_use]
pub fn j_per_cm2(percent_s_per_mm2: f64, watts: f64) -> f64 {
    // A hundred mm² are a cm², and a hundred percent are the watts.
    percent_s_per_mm2 * watts
}
