//! Energy: even over diameter, slope and speed.

use stave_toolpath::art::{Part, Rule};
use stave_wall::{Anchor, LayKind};

use crate::bench::{
    Back, NAVY, ROUND, STEPPED, area, art, burned, filled, lay, line, one, setup, stroked,
};

/// Spacing on the wall at the middle of a burn, from its neighbours' turn and the radius under its
/// X word; energy per area from power and time.
#[test]
fn areas_get_the_same_energy_everywhere() {
    for (blank, tilt, speed, power) in [
        (STEPPED, "0", 200.0, 50.0),
        (STEPPED, "4", 700.0, 30.0),
        (ROUND, "-3", 200.0, 50.0),
        (ROUND, "0", 450.0, 97.0),
    ] {
        for kind in LayKind::ALL.into_iter().filter(|kind| *kind != LayKind::Label) {
            let setup = setup(blank, &[("place-at", "82"), ("tilt", tilt)]);
            let drawn = art(vec![filled("M0 -6L40 -3V3L0 6Z", NAVY, Rule::NonZero)]);
            let mut operation = area(0.1, &[one(0, Part::Fill)]);
            (operation.speed_mm_per_s, operation.power_percent) = (speed, power);
            let lay = lay(&setup, kind, Anchor::Point { u_mm: 20.0, v_mm: 0.0 });
            let (record, burned) = burned(&setup, &drawn, lay, vec![operation]).unwrap();
            let hatch = burned.operations[0].hatch.unwrap();
            let back = Back::new(&setup);
            let step_rad = hatch.spacing_mm / largest_radius(&setup, &record, &back);
            // What was asked: power over speed and spacing.
            let asked = power * 10.0 / (speed * 0.1);
            let mut checked = 0;
            for burn in record.burns() {
                let (s0, s1) = (back.s_mm(burn.from.0), back.s_mm(burn.to.0));
                if (s1 - s0).abs() < 0.05 {
                    continue;
                }
                let radius = setup.blank.wall.section(0.5 * (s0 + s1), &mut 0).radius_mm;
                let speed = (s1 - s0).abs() / burn.made.time_s;
                let energy = burn.made.power_s.unwrap() / (speed * step_rad * radius);
                assert!(
                    (energy / asked - 1.0).abs() < 0.02,
                    "{kind}: {energy} for {asked} at s {s0}"
                );
                assert!(burn.made.power_s.unwrap() <= 1000.0);
                checked += 1;
            }
            assert!(checked > 50);
        }
    }
}

fn largest_radius(setup: &stave_setup::Setup, record: &crate::bench::Record, back: &Back) -> f64 {
    let wall = &setup.blank.wall;
    let ends = record.burns().flat_map(|b| [b.from.0, b.to.0]).map(|word| back.s_mm(word));
    ends.map(|s| wall.section(s, &mut 0).radius_mm).fold(0.0, f64::max)
}

#[test]
fn where_full_power_would_not_do_the_operation_is_slowed() {
    let setup = setup(STEPPED, &[("place-at", "60")]);
    let drawn = art(vec![filled("M0 -6H20V6H0Z", NAVY, Rule::NonZero)]);
    let mut operation = area(0.1, &[one(0, Part::Fill)]);
    // No motor steps are known, so the spacing is as asked and full power just enough.
    operation.power_percent = 100.0;
    let lay = lay(&setup, LayKind::TrueWidth, Anchor::Drawing);
    let (record, burned) = burned(&setup, &drawn, lay, vec![operation]).unwrap();
    assert!((burned.operations[0].speed_mm_per_s - 200.0).abs() < 1e-6);
    let most = record.burns().map(|b| b.made.power_s.unwrap()).fold(0.0, f64::max);
    assert!(most <= 1000.0 && most > 995.0);
}

#[test]
fn as_given_leaves_power_alone() {
    let setup = setup(STEPPED, &[("place-at", "82")]);
    let drawn = art(vec![filled("M0 -6H20V6H0Z", NAVY, Rule::NonZero)]);
    let mut operation = area(0.1, &[one(0, Part::Fill)]);
    operation.even_dose = false;
    let lay = lay(&setup, LayKind::TrueWidth, Anchor::Drawing);
    let (record, _) = burned(&setup, &drawn, lay, vec![operation]).unwrap();
    assert!(record.burns().all(|b| b.made.power_s == Some(500.0)));
}

#[test]
fn lines_get_the_same_energy_per_length_even_where_an_axis_is_slow() {
    // Around the work at 400 mm/s the rotary of 360 degrees a second cannot follow: 43 mm × 2π a
    // second is 270 mm/s.
    let setup = setup(STEPPED, &[("place-at", "120")]);
    let drawn = art(vec![stroked("M0 -20V20H20", NAVY, 0.2)]);
    let mut operation = line(&[one(0, Part::StrokeMiddle)]);
    operation.speed_mm_per_s = 400.0;
    let lay = lay(&setup, LayKind::TrueWidth, Anchor::Drawing);
    let (record, burned) = burned(&setup, &drawn, lay, vec![operation]).unwrap();
    assert!(burned.stats.slowed_rotary > 0);
    for burn in record.burns() {
        let energy = burn.made.power_s.unwrap() * burn.made.time_s / burn.made.length_mm;
        assert!((energy / (500.0 / 400.0) - 1.0).abs() < 0.01);
    }
}
