//! What must not burn, and what cannot.

use stave_toolpath::art::{Part, Rule};
use stave_transform::Misfit;
use stave_wall::{Anchor, LayKind};

use crate::bench::{NAVY, area, art, burned, filled, lay, line, one, setup, stroked};

const BOSSES: &str = "station = [{ at = 0.0, diameter = 80.0 }, { at = 100.0, diameter = 80.0 }]\n\
    zone = [{ name = \"boss\", at = [40.0, 50.0], turn = [-10.0, 10.0], margin = 0.5 }, \
    { name = \"mark\", at = [70.0, 80.0], turn = [20.0, 30.0], margin = 0.0 }]";

fn drawing() -> stave_toolpath::art::Art {
    art(vec![
        filled("M20 -20H60V20H20Z", NAVY, Rule::NonZero),
        stroked("M10 0H60", NAVY, 0.1),
        filled("M66 10H90V24H66Z", NAVY, Rule::NonZero),
        filled("M3 -20H9V20H3Z", NAVY, Rule::NonZero),
    ])
}

fn operations() -> Vec<stave_transform::BurnOperation> {
    let fills = [one(0, Part::Fill), one(2, Part::Fill), one(3, Part::Fill)];
    vec![area(0.1, &fills), line(&[one(1, Part::StrokeMiddle)])]
}

#[test]
fn every_hit_is_told() {
    let setup = setup(BOSSES, &[]);
    let hits =
        burned(&setup, &drawing(), lay(&setup, LayKind::TrueWidth, Anchor::Drawing), operations())
            .map(|_| ());
    let hits = hits.unwrap_err();
    let found: Vec<_> = hits
        .iter()
        .map(|hit| match &hit.misfit {
            Misfit::Zone { name, at_mm, turn_deg } => {
                // The place it tells lies in the zone.
                assert!((39.5..=50.5).contains(at_mm) || (70.0..=80.0).contains(at_mm));
                assert!(turn_deg.abs() < 31.0);
                (hit.operation, hit.piece, name.as_str())
            }
            other => panic!("{other}"),
        })
        .collect();
    assert_eq!(found, [(0, 0, "boss"), (0, 2, "mark"), (1, 1, "boss")]);
}

#[test]
fn a_mask_cuts_exactly_at_the_margin() {
    let setup = setup(BOSSES, &[("zones", "mask")]);
    let (record, burned) =
        burned(&setup, &drawing(), lay(&setup, LayKind::TrueWidth, Anchor::Drawing), operations())
            .unwrap();
    let half_deg = 10.0 + (0.5_f64 / 40.0).to_degrees();
    for burn in record.burns() {
        let (low, high) = (burn.from.0.min(burn.to.0), burn.from.0.max(burn.to.0));
        let inside = burn.to.1.abs() < half_deg - 1e-4 && low < 50.5 - 1e-4 && high > 39.5 + 1e-4;
        assert!(!inside, "{burn:?}");
    }
    // Exactly: of the fill and of the line what lies inside is dark, no more.
    let boss_mm2 = 11.0 * (2.0 * half_deg).to_radians() * 40.0;
    let mark_mm2 = 10.0 * 10_f64.to_radians() * 40.0;
    let whole = 1600.0 + 24.0 * 14.0 + 240.0;
    let lit = burned.operations[0].area_mm2;
    assert!((lit - (whole - boss_mm2 - mark_mm2)).abs() < 2.0, "{lit}");
    assert!((burned.operations[1].masked_mm - 11.0).abs() < 1e-3);
    assert!((burned.operations[1].burn_mm - 39.0).abs() < 1e-3);
}

/// What is left dark is told as what burns is: of all passes, and of the pass across too.
#[test]
fn what_is_left_dark_counts_every_pass() {
    let dark = |passes: u32, cross: bool| {
        let of = |zones: &str| {
            let setup = setup(BOSSES, &[("zones", zones)]);
            let lay = lay(&setup, LayKind::TrueWidth, Anchor::Drawing);
            let mut operations = operations();
            for operation in &mut operations {
                (operation.passes, operation.cross) = (passes, cross);
            }
            burned(&setup, &drawing(), lay, operations).unwrap().1
        };
        let (masked, all) = (of("mask"), of("ignore"));
        for (masked, all) in masked.operations.iter().zip(&all.operations) {
            let lost_mm = all.burn_mm - masked.burn_mm;
            assert!((masked.masked_mm - lost_mm).abs() < 1e-3 * lost_mm, "{masked:?}");
        }
        masked.stats.masked_mm
    };
    let once_mm = dark(1, false);
    assert!((dark(3, false) - 3.0 * once_mm).abs() < 1e-6);
    assert!(dark(1, true) > 1.5 * once_mm);
}

#[test]
fn ignored_zones_burn() {
    let setup = setup(BOSSES, &[("zones", "ignore")]);
    let (_, burned) =
        burned(&setup, &drawing(), lay(&setup, LayKind::TrueWidth, Anchor::Drawing), operations())
            .unwrap();
    assert_eq!(burned.operations[1].masked_mm, 0.0);
    assert!((burned.operations[1].burn_mm - 50.0).abs() < 1e-3);
}

#[test]
fn off_the_wall_and_out_of_reach() {
    let steep = "station = [{ at = 0.0, diameter = 60.0 }, { at = 50.0, diameter = 60.0 }, { at = \
                 51.0, diameter = 80.0 }, \
        { at = 100.0, diameter = 80.0 }]";
    let setup = setup(steep, &[]);
    let drawn = art(vec![
        filled("M-3 0H10V5H-3Z", NAVY, Rule::NonZero),
        stroked("M45 0H70", NAVY, 0.1),
        filled("M20 0H30V5H20Z", NAVY, Rule::NonZero),
    ]);
    let operations = vec![
        area(0.1, &[one(0, Part::Fill), one(2, Part::Fill)]),
        line(&[one(1, Part::StrokeMiddle)]),
    ];
    let lay = lay(&setup, LayKind::TrueWidth, Anchor::Drawing);
    let hits = burned(&setup, &drawn, lay, operations).map(|_| ()).unwrap_err();
    let found: Vec<_> =
        hits.iter().map(|hit| (hit.operation, hit.piece, hit.misfit.code())).collect();
    assert_eq!(found, [(0, 0, "off-wall"), (1, 1, "reach")]);
}
