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

/// The factor for 95 % at so many degrees of freedom, at least one. Between those of the table the
/// logarithm of the factor goes evenly with one over the degrees (GUM G.4.1 leaves it open to
/// interpolate); cut down to whole degrees, 1.8 would be 1, and the factor more than twice as much.
pub(super) fn factor_95(degrees: f64) -> f64 {
    let after = TABLE.partition_point(|(from, _)| *from <= degrees);
    match (TABLE.get(after.wrapping_sub(1)), TABLE.get(after)) {
        (Some(below), Some(above)) => {
            let share = (1.0 / below.0 - 1.0 / degrees) / (1.0 / below.0 - 1.0 / above.0);
            below.1 * (above.1 / below.1).powf(share)
        }
        (Some(last), None) => last.1,
        _ => TABLE[0].1,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn is_the_table_at_its_rows() {
        assert_eq!(factor_95(0.3), 12.71);
        assert!(TABLE.iter().all(|row| (factor_95(row.0) - row.1).abs() < 1e-12));
    }

    /// Source: `scipy.stats.t.ppf(0.975, df)` of SciPy 1.17.1.
    #[test]
    fn between_the_rows_it_is_no_less_and_little_more() {
        let scipy = [
            (1.1, 10.276_801_3),
            (1.3, 7.500_529_3),
            (1.5, 6.016_663_1),
            (1.78, 4.854_684_7),
            (2.5, 3.574_654_8),
            (3.5, 2.940_088_6),
            (4.5, 2.658_912_3),
            (11.0, 2.200_985_2),
            (25.0, 2.059_538_6),
        ];
        for (degrees, factor) in scipy {
            let ours = factor_95(degrees);
            // The table has three figures.
            assert!(ours > factor - 0.005 && ours < 1.035 * factor, "{degrees}: {ours}");
        }
    }
}
