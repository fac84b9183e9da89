//! What is seen, and how much of it burns.

use stave_toolpath::StepKind;
use stave_toolpath::art::{Art, Part, Rgb, Rule};
use stave_transform::{BurnOperation, ScanWay};
use stave_wall::{Anchor, LayKind};

use crate::bench::{
    Back, DRUM, NAVY, ROUND, STEPPED, area, art, burned, filled, lay, on_drum, one, setup, stroked,
    window,
};

const SQUARE: &str = "M0 0H10V10H0Z";
const SPACING_MM: f64 = 0.02;

#[track_caller]
fn burns(art: &Art, chosen: &[(usize, Part)], expected_mm2: f64) {
    let chosen: Vec<_> = chosen.iter().map(|&(shape, part)| one(shape, part)).collect();
    for scan in [ScanWay::Along, ScanWay::Around] {
        let operation = BurnOperation { scan, ..area(SPACING_MM, &chosen) };
        let (record, figures) = on_drum(art, operation);
        let hatch = figures.hatch.unwrap();
        assert_eq!(hatch.way, scan);
        // By what the moves burned, not by what the plan says it would: along, or around at the
        // drum's radius.
        let mm = |b: &crate::bench::Step| match scan {
            ScanWay::Along => (b.to.0 - b.from.0).abs(),
            ScanWay::Around => (b.to.1 - b.from.1).abs().to_radians() * 150.0,
        };
        let by_moves: f64 = record.burns().map(mm).sum::<f64>() * hatch.spacing_mm;
        let slack = 0.002 * expected_mm2.max(10.0);
        let off = (by_moves - expected_mm2).abs();
        assert!(off < slack, "{scan:?}: burned {by_moves} mm² for {expected_mm2}");
        assert!((figures.area_mm2 - by_moves).abs() < slack);
    }
}

/// Areas of paths computed to 30 digits; see fixtures/reference/README.md for the source.
#[test]
fn areas_agree_with_the_table() {
    let table = std::fs::read_to_string("../../fixtures/reference/D_path_metrics.csv").unwrap();
    let mut checked = 0;
    for row in table.lines().skip(1) {
        let mut cells = row.split(',');
        let (_name, d, closed, _length, area) = (
            cells.next().unwrap(),
            cells.next().unwrap(),
            cells.next().unwrap(),
            cells.next(),
            cells.next().unwrap(),
        );
        if closed != "True" || d.contains("100 100 L 300") {
            continue;
        }
        let area: f64 = area.parse().unwrap();
        let art = art(vec![filled(d, NAVY, Rule::NonZero)]);
        burns(&art, &[(0, Part::Fill)], area.abs());
        checked += 1;
    }
    assert_eq!(checked, 6);
}

#[test]
fn white_over_black_is_a_hole() {
    let hole = "M2 2H6V6H2Z";
    let drawn =
        art(vec![filled(SQUARE, NAVY, Rule::NonZero), filled(hole, Rgb::WHITE, Rule::NonZero)]);
    burns(&drawn, &[(0, Part::Fill)], 84.0);
    // The other way around it is covered.
    let drawn =
        art(vec![filled(hole, Rgb::WHITE, Rule::NonZero), filled(SQUARE, NAVY, Rule::NonZero)]);
    burns(&drawn, &[(1, Part::Fill)], 100.0);
    // And navy over white over navy is navy again.
    let shapes = [(SQUARE, NAVY), (hole, Rgb::WHITE), ("M3 3H5V5H3Z", NAVY)];
    let drawn = art(shapes.map(|(d, colour)| filled(d, colour, Rule::NonZero)).to_vec());
    burns(&drawn, &[(0, Part::Fill), (2, Part::Fill)], 88.0);
}

#[test]
fn what_is_translucent_hides_nothing() {
    let mut glass = filled("M2 2H6V6H2Z", Rgb::WHITE, Rule::NonZero);
    if let Some(fill) = &mut glass.fill {
        fill.opacity = 0.5;
    }
    let drawn = art(vec![filled(SQUARE, NAVY, Rule::NonZero), glass]);
    burns(&drawn, &[(0, Part::Fill)], 100.0);
}

#[test]
fn both_rules_of_filling() {
    // Two squares wound the same way: nonzero fills both, even-odd leaves a hole. A pentagram
    // likewise has a hole in its middle.
    let nested = "M0 0H10V10H0ZM2 2H6V6H2Z";
    burns(&art(vec![filled(nested, NAVY, Rule::NonZero)]), &[(0, Part::Fill)], 100.0);
    burns(&art(vec![filled(nested, NAVY, Rule::EvenOdd)]), &[(0, Part::Fill)], 84.0);
    // Wound the other way it is a hole by either.
    let counter = "M0 0H10V10H0ZM2 2V6H6V2Z";
    burns(&art(vec![filled(counter, NAVY, Rule::NonZero)]), &[(0, Part::Fill)], 84.0);
    burns(&art(vec![filled(counter, NAVY, Rule::EvenOdd)]), &[(0, Part::Fill)], 84.0);
}

#[test]
fn overlapping_shapes_burn_once() {
    let shapes = [SQUARE, "M5 5H15V15H5Z", "M0 0H10V10H0Z"];
    let drawn = art(shapes.map(|d| filled(d, NAVY, Rule::NonZero)).to_vec());
    burns(&drawn, &[(0, Part::Fill), (1, Part::Fill), (2, Part::Fill)], 175.0);
    // Two translucent ones do not hide each other, and still burn once.
    let mut drawn = drawn;
    for shape in &mut drawn.shapes {
        if let Some(fill) = &mut shape.fill {
            fill.opacity = 0.5;
        }
    }
    burns(&drawn, &[(0, Part::Fill), (1, Part::Fill), (2, Part::Fill)], 175.0);
}

#[test]
fn clips_confine_what_burns_and_what_hides() {
    let mut drawn =
        art(vec![filled(SQUARE, NAVY, Rule::NonZero), filled(SQUARE, Rgb::WHITE, Rule::NonZero)]);
    drawn.clips = vec![window("M0 0H10V5H0Z"), window("M8 0H20V20H8Z")];
    drawn.shapes[0].clips = vec![0];
    drawn.shapes[1].clips = vec![1];
    burns(&drawn, &[(0, Part::Fill)], 40.0);
    // A clip within a clip.
    drawn.clips[1].within = vec![0];
    drawn.shapes.pop();
    drawn.shapes[0].clips = vec![1];
    burns(&drawn, &[(0, Part::Fill)], 10.0);
}

#[test]
fn strokes_burn_and_hide_by_their_width() {
    let drawn = art(vec![stroked("M0 0H10V10H0Z", NAVY, 1.0)]);
    burns(&drawn, &[(0, Part::StrokeArea)], 40.0);
    // A white stroke across a square cuts it in two.
    let mut drawn =
        art(vec![filled(SQUARE, NAVY, Rule::NonZero), stroked("M-5 5H15", Rgb::WHITE, 2.0)]);
    burns(&drawn, &[(0, Part::Fill)], 80.0);
    // A fill under its own stroke shows inside it, and over its own stroke whole.
    drawn.shapes.truncate(1);
    drawn.shapes[0].stroke = stroked(SQUARE, Rgb::WHITE, 2.0).stroke;
    burns(&drawn, &[(0, Part::Fill)], 64.0);
    drawn.shapes[0].stroke_first = true;
    burns(&drawn, &[(0, Part::Fill)], 100.0);
}

#[test]
fn a_stroke_burned_along_its_middle_hides_nothing() {
    let mut drawn = art(vec![filled(SQUARE, NAVY, Rule::NonZero)]);
    drawn.shapes[0].stroke = stroked(SQUARE, Rgb::default(), 2.0).stroke;
    let setup = setup(DRUM, &[("place-at", "0")]);
    let operations = vec![
        area(SPACING_MM, &[one(0, Part::Fill)]),
        crate::bench::line(&[one(0, Part::StrokeMiddle)]),
    ];
    let lay = lay(&setup, LayKind::TrueWidth, Anchor::Drawing);
    let (_, burned) = burned(&setup, &drawn, lay, operations).unwrap();
    assert!((burned.operations[0].area_mm2 - 100.0).abs() < 0.1);
    assert!((burned.operations[1].burn_mm - 40.0).abs() < 0.01);
}

/// On a wall that is no cylinder the area of the image is the integral of the lay's area scale; for
/// true widths the area itself.
#[test]
fn true_widths_keep_every_area() {
    for blank in [STEPPED, ROUND] {
        let setup = setup(blank, &[("place-at", "70")]);
        let circle = "M0 -12A12 12 0 0 1 0 12A12 12 0 0 1 0 -12Z";
        let drawn = art(vec![filled(circle, NAVY, Rule::NonZero)]);
        let anchor = Anchor::Point { u_mm: 0.0, v_mm: 0.0 };
        let operations = vec![area(0.05, &[one(0, Part::Fill)])];
        let (_, burned) =
            burned(&setup, &drawn, lay(&setup, LayKind::TrueWidth, anchor), operations).unwrap();
        let expected = std::f64::consts::PI * 144.0;
        let found = burned.operations[0].area_mm2;
        assert!((found / expected - 1.0).abs() < 1e-3, "{found} for {expected}");
    }
}

/// Where a burn is dark or lit is told by the S word alone: the axis must have its speed before and
/// keep it after.
#[test]
fn every_line_has_its_run_up_and_run_out() {
    let setup = setup(STEPPED, &[("place-at", "85"), ("tilt", "3")]);
    let drawn = art(vec![filled("M0 -8H30V8H0Z", NAVY, Rule::NonZero)]);
    let operations = vec![area(0.2, &[one(0, Part::Fill)])];
    let lay = lay(&setup, LayKind::EvenAngle, Anchor::Drawing);
    let (record, _) = burned(&setup, &drawn, lay, operations).unwrap();
    let mut lines = 0;
    for k in 1..record.steps.len() - 1 {
        let (before, this, after) = (&record.steps[k - 1], &record.steps[k], &record.steps[k + 1]);
        if this.made.kind != StepKind::Burn {
            continue;
        }
        assert_eq!(this.from.1, this.to.1, "lines keep their turn");
        let speed = (this.to.0 - this.from.0).abs() / this.made.time_s;
        for dark in [before, after].into_iter().filter(|step| step.made.kind == StepKind::Dark) {
            let way = (dark.to.0 - dark.from.0).abs();
            // The along word's speed at the burn's end, with the burn's middle a per cent away.
            assert!(way >= 0.98 * speed * speed / (2.0 * 5000.0), "{way} mm at {speed} mm/s");
            assert!((way / dark.made.time_s / speed - 1.0).abs() < 0.02);
            assert!((dark.to.0 - dark.from.0) * (this.to.0 - this.from.0) > 0.0);
            lines += 1;
        }
        assert!(before.made.kind != StepKind::Travel && after.made.kind != StepKind::Travel);
    }
    assert_eq!(lines % 2, 0);
    assert!(lines > 100);
}

#[test]
fn lines_run_there_and_back_and_keep_to_the_art() {
    let setup = setup(ROUND, &[("place-at", "40")]);
    let drawn = art(vec![filled("M0 -8H50V8H0Z", NAVY, Rule::NonZero)]);
    let lay = lay(&setup, LayKind::EvenAngle, Anchor::Drawing);
    let (record, _) = burned(&setup, &drawn, lay, vec![area(0.5, &[one(0, Part::Fill)])]).unwrap();
    let back = Back::new(&setup);
    let start = setup.blank.wall.s_of_at(40.0);
    let mut directions = Vec::new();
    for (k, step) in
        record.steps.iter().enumerate().filter(|(_, step)| step.made.kind == StepKind::Burn)
    {
        let s = [step.from.0, step.to.0].map(|word| back.s_mm(word));
        assert!(s.iter().all(|s| *s > start - 0.01 && *s < start + 50.01));
        if record.steps[k - 1].made.kind == StepKind::Dark {
            directions.push(s[1] > s[0]);
        }
    }
    assert!(directions.windows(2).all(|pair| pair[0] != pair[1]));
}

/// The step to the next line is made on the way out where that does not slow the burn before it:
/// fast lines have no travel between them, slow ones have, and both burn the same.
#[test]
fn fast_lines_step_on_the_way_out() {
    let drawn = art(vec![filled("M0 -8H30L34 8H0Z", NAVY, Rule::NonZero)]);
    let made = |speed_mm_per_s: f64| {
        let operation = BurnOperation { speed_mm_per_s, ..area(0.2, &[one(0, Part::Fill)]) };
        on_drum(&drawn, operation).0
    };
    let (fast, slow) = (made(200.0), made(20.0));
    let travels = |record: &crate::bench::Record| {
        record.steps.iter().filter(|step| step.made.kind == StepKind::Travel).count()
    };
    assert_eq!(travels(&fast), 1);
    assert_eq!(travels(&slow), slow.burns().count());
    let burns = |record: &crate::bench::Record| -> Vec<_> {
        record.burns().map(|burn| (burn.from, burn.to)).collect()
    };
    assert_eq!(burns(&fast), burns(&slow));
    // Where the work turns nothing burns, and it turns by one line at a time.
    for step in fast.steps.iter().filter(|step| step.from.1 != step.to.1).skip(1) {
        assert_eq!(step.made.kind, StepKind::Dark);
        let along_mm = (step.to.0 - step.from.0).abs();
        assert!(along_mm >= 0.999 * 200.0 * 200.0 / (2.0 * 5000.0), "{along_mm}");
    }
}
