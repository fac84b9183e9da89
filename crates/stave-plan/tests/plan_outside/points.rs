//! The planner against tables of point-to-point motion, where the model is exact.
//!
//! Sources of the tables: `fixtures/reference/README.md`.

use crate::table::{Table, axis, burn, plan, seconds};
use stave_plan::{Asked, AxisLimit};

fn assert_close(found: f64, expected: f64, what: &str) {
    assert!((found - expected).abs() <= 1e-9 * expected, "{what}: {found} instead of {expected}");
}

#[test]
fn rest_to_rest() {
    for row in Table::read("E_ptp_trapezoid").rows() {
        let limits = axis(row.number("v_max"), row.number("a_max"));
        let found = plan([limits], 0.02, &[burn([row.number("distance")], Asked::Limits)]);
        assert_close(seconds(&found), row.number("duration"), row.text("distance"));
        assert_close(
            found[0].peak_squared.sqrt(),
            row.number("peak_velocity"),
            row.text("distance"),
        );
        // The same speed asked of a faster axis.
        let faster = axis(1e6, row.number("a_max"));
        let asked = burn([row.number("distance")], Asked::Speed(row.number("v_max")));
        assert_close(
            seconds(&plan([faster], 0.02, &[asked])),
            row.number("duration"),
            row.text("distance"),
        );
    }
}

#[test]
fn rest_to_rest_with_jerk() {
    for row in Table::read("E_ptp_jerk").rows() {
        let limits = AxisLimit {
            jerk_per_s3: Some(row.number("j_max")),
            ..axis(row.number("v_max"), row.number("a_max"))
        };
        let found = plan([limits], 0.02, &[burn([row.number("distance")], Asked::Limits)]);
        assert_close(seconds(&found), row.number("duration"), row.text("distance"));
    }
}

#[test]
fn lines_of_several_axes() {
    for row in Table::read("E_multi_axis_line").rows() {
        let mut delta = row.numbers("delta");
        let (mut v, mut a) = (row.numbers("v_max"), row.numbers("a_max"));
        for (list, rest) in [(&mut delta, 0.0), (&mut v, 1.0), (&mut a, 1.0)] {
            list.resize(3, rest);
        }
        let axes = [axis(v[0], a[0]), axis(v[1], a[1]), axis(v[2], a[2])];
        let line = [delta[0], delta[1], delta[2]];
        let found = plan(axes, 0.02, &[burn(line, Asked::Limits)]);
        assert_close(seconds(&found), row.number("duration"), row.text("name"));
        assert_close(found[0].length, row.number("line_length"), row.text("name"));
        if row.text("info_shape") == "trapezoid" {
            assert_close(found[0].peak_squared.sqrt(), row.number("line_v"), row.text("name"));
        }
        // In pieces, with moves between them that move nothing.
        let pieces: Vec<_> = (0..10)
            .flat_map(|_| {
                [burn(line.map(|d| d / 10.0), Asked::Limits), burn([0.0; 3], Asked::Duration(9.0))]
            })
            .collect();
        assert_close(seconds(&plan(axes, 0.02, &pieces)), row.number("duration"), row.text("name"));
    }
}

/// An axis here has one acceleration for both ways, so a row with two is cut where its peak is
/// first reached, and each half is planned with its own. The speed at an end is had by a neighbour
/// that is asked to go at it.
#[test]
fn speeds_at_the_ends() {
    for row in Table::read("E_ptp_boundary_speeds").rows() {
        let n = |name: &str| row.number(name);
        let (v, peak, start, end) = (n("v_max"), n("peak_velocity"), n("v_start"), n("v_end"));
        let up = (peak * peak - start * start) / (2.0 * n("acc"));
        let parts = if n("acc") == n("dec") {
            vec![(n("distance"), n("acc"), start, end)]
        } else {
            vec![(up, n("acc"), start, peak), (n("distance") - up, n("dec"), peak, end)]
        };
        let mut found = 0.0;
        for (distance, acceleration, from, to) in parts {
            if distance <= 0.0 {
                continue;
            }
            // Long enough to stop in; left out where the end is at rest.
            let neighbour = |speed: f64| {
                (speed > 0.0).then(|| burn([speed * speed / acceleration], Asked::Speed(speed)))
            };
            let before = neighbour(from);
            let index = usize::from(before.is_some());
            let moves: Vec<_> = before
                .into_iter()
                .chain([burn([distance], Asked::Speed(v))])
                .chain(neighbour(to))
                .collect();
            let settled = plan([axis(1e6, acceleration)], 0.02, &moves)[index];
            assert!((settled.entry_squared.sqrt() - from).abs() < 1e-9);
            assert!((settled.exit_squared.sqrt() - to).abs() < 1e-9);
            assert_close(settled.peak_squared.sqrt(), peak, "peak");
            found += settled.duration_s;
        }
        assert_close(found, n("duration"), row.text("distance"));
    }
}
