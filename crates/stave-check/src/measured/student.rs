//! Student's t, for means of few readings.

/// The factor for 95 % of a normal distribution, both sides.
pub(super) const NORMAL_95: f64 = 1.96;

/// Two-sided 95 % points by degrees of freedom (GUM, table G.2, from memory; the printed table has
/// these figures).
const TABLE: [(f64, f64); 18] = [
    (1.0, 12.71),
    (2.0, 4.30),
    (3.0, 3.18),
    (4.0, 2.78),
    (5.0, 2.57),
    (6.0, 2.45),
    (7.0, 2.36),
    (8.0, 2.31),
    (9.0, 2.26),
    (10.0, 2.23),
    (12.0, 2.18),
    (14.0, 2.14),
    (16.0, 2.12),
    (20.0, 2.09),
    (30.0, 2.04),
    (50.0, 2.01),
    (100.0, 1.984),
    (f64::INFINITY, NORMAL_95),
];

/// The factor for 95 % at so many degrees of freedom, cut down to the next in the table, which is
/// the cautious side; at least one.
pub(super) fn factor_95(degrees: f64) -> f64 {
    TABLE.iter().rev().find(|(from, _)| degrees >= *from).map_or(TABLE[0].1, |row| row.1)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rounds_down_to_the_table() {
        assert_eq!(factor_95(0.3), 12.71);
        assert_eq!(factor_95(4.9), 2.78);
        assert_eq!(factor_95(11.0), 2.23);
        assert_eq!(factor_95(1e9), 1.984);
        assert_eq!(factor_95(f64::INFINITY), NORMAL_95);
    }
}
