use super::*;
use crate::draw::assert_words_apart;
use crate::proof::{BesideShape, HeadShape};
use kurbo::Rect;
use stave_setup::ObstacleShape;

#[test]
fn no_words_meet_at_any_tilt() {
    let text = "[[station]]\nat = 0\ndiameter = 60\n[[station]]\nat = 90\ndiameter = 90\n";
    let blank = stave_setup::read_blank(text, "cup.toml").unwrap();
    for tilt_deg in [-15.0, -3.0, 0.0, 0.5, 12.0_f64] {
        for mirrored in [false, true] {
            let lies = Lies {
                tilt_rad: tilt_deg.to_radians(),
                focus_height_mm: Some(34.0),
                half_depth_mm: Some(1.5),
                nozzle_mm: Some((9.0, 6.0)),
                nozzle_s_mm: 30.0,
                burned_s_mm: Some((10.0, 60.0)),
                burned_turn_rad: None,
                burned_around_mm: None,
                mirrored,
                ..Lies::default()
            };
            let words = LevelWords {
                title: "a cup of a name that goes on and on, and then on for longer".into(),
                date: "2026-11-30".into(),
                lines: vec!["one line of figures".into(); 2],
                support_span_mm: Some(180.0),
                nozzle: Some("long barrel".into()),
                lens: Some("medium".into()),
            };
            let page = Rect::new(0.0, 0.0, SIZE_MM.0, SIZE_MM.1);
            assert_words_apart(&drawn(&blank, &lies, &words), page);
        }
    }
}

/// Steps, a carriage and what is beside the work are drawn to scale, named, and words keep
/// apart.
#[test]
fn the_head_and_the_rotary_are_drawn_and_named() {
    let text = "[[station]]\nat = 0\ndiameter = 60\n[[station]]\nat = 90\ndiameter = 60\n";
    let blank = stave_setup::read_blank(text, "can.toml").unwrap();
    let beside = |name: &str, at_mm, form| BesideShape { name: name.into(), at_mm, form };
    let still = ObstacleShape::Still { across_mm: (-20.0, 20.0), height_mm: 35.0 };
    let turning = |radius_mm, turn_rad| ObstacleShape::Turning { radius_mm, turn_rad };
    for (mirrored, tilt_deg) in [(false, 0.0_f64), (true, 0.0), (false, 8.0), (true, -8.0)] {
        let shape = |carriage, along_mm, above_mm| HeadShape {
            carriage,
            along_mm,
            across_mm: (-14.0, 14.0),
            above_mm,
        };
        let step = shape(false, (-14.0, 14.0), 12.0);
        let carriage = shape(true, (-30.0, 40.0), 30.0);
        let lies = Lies {
            tilt_rad: tilt_deg.to_radians(),
            focus_height_mm: Some(30.0),
            half_depth_mm: Some(1.5),
            nozzle_mm: Some((9.0, 6.0)),
            nozzle_s_mm: 45.0,
            burned_s_mm: Some((10.0, 60.0)),
            mirrored,
            head: vec![step, carriage],
            beside: vec![
                beside("chuck jaws", (-20.0, 12.0), turning(40.0, None)),
                beside("a bolt", (-16.0, -10.0), turning(46.0, Some((0.0, 1.0)))),
                beside("tailstock", (88.0, 400.0), still),
            ],
            ..Lies::default()
        };
        let words = LevelWords {
            title: "a can".into(),
            lines: vec!["one line of figures".into()],
            nozzle: Some("long barrel".into()),
            ..LevelWords::default()
        };
        let drawing = drawn(&blank, &lies, &words);
        assert_words_apart(&drawing, Rect::new(0.0, 0.0, SIZE_MM.0, SIZE_MM.1));
        for name in ["chuck jaws", "a bolt", "tailstock", "carriage", "long barrel"] {
            assert!(drawing.words.iter().any(|(_, word)| word == name), "{name}");
        }
        let view = View::new(&blank, &lies, (40.0, 22.0), (120.0, 80.0));
        let wide = |corners: &[(f64, f64); 4]| (corners[1].0 - corners[0].0).abs() / view.scale;
        let widths: Vec<f64> = view.head().iter().map(|(_, corners)| wide(corners)).collect();
        let expected = [18.0, 28.0, 70.0];
        assert!(widths.iter().zip(expected).all(|(a, b)| (a - b).abs() < 1e-9), "{widths:?}");
        // What goes far past the ware is drawn to a third of its length and a little.
        let tail = view.beside()[2].1;
        let long = (tail[1].0 - tail[0].0).hypot(tail[1].1 - tail[0].1) / view.scale;
        assert!((long - (90.0 + 0.35 * 90.0 - 88.0)).abs() < 1e-9, "{long}");
    }
}

/// A ridge of 10 mm, the focus at half its height: sharp on its two flanks alone, and not from
/// one end of the wall to the other. By similar triangles: 45° over 5 mm of radius, so ±1 mm of
/// height is ±1 mm along the axis.
#[test]
fn every_stretch_that_is_sharp_is_told_and_no_other() {
    let text = "[[station]]\nat = 0\ndiameter = 60\n[[station]]\nat = 40\ndiameter = 60\n\
                [[station]]\nat = 45\ndiameter = 70\n[[station]]\nat = 50\ndiameter = 60\n\
                [[station]]\nat = 90\ndiameter = 60\n[[zone]]\nname = \"boss\"\n\
                at = [10, 20]\nturn = [0, 10]\nrise = 5\n";
    let blank = stave_setup::read_blank(text, "can.toml").unwrap();
    let lies = Lies {
        focus_height_mm: Some(32.5),
        half_depth_mm: Some(1.0),
        burned_s_mm: Some((0.0, blank.wall.length_mm())),
        ..Lies::default()
    };
    let words = LevelWords { lens: Some("medium".into()), ..LevelWords::default() };
    let svg = level(&blank, &lies, &words);
    assert_eq!(svg.matches("class=\"sharp\"").count(), 2);
    let told = "blue: lens medium is sharp, within ±1 mm of the focus: 41.5 to 43.5, 46.5 to \
                48.5 mm";
    assert!(svg.contains(told), "{svg}");
    assert!(!svg.contains("sharp from") && svg.contains("dashed: boss, turned up"), "{svg}");
    // Of one stretch both ends are led to.
    let flat = Lies { focus_height_mm: Some(30.5), ..lies.clone() };
    let svg = level(&blank, &flat, &words);
    assert!(svg.contains("0 to 41.5, 48.5 to 90 mm"), "{svg}");
    let whole = Lies { half_depth_mm: Some(6.0), ..lies };
    let svg = level(&blank, &whole, &words);
    assert!(svg.contains("sharp from 0 mm") && svg.contains("sharp to 90 mm"), "{svg}");
}

#[test]
fn the_block_is_the_span_times_the_sine() {
    let text = "[[station]]\nat = 0\ndiameter = 60\n[[station]]\nat = 90\ndiameter = 60\n";
    let blank = stave_setup::read_blank(text, "can.toml").unwrap();
    let lies = Lies { tilt_rad: -30_f64.to_radians(), ..Lies::default() };
    let words = LevelWords { support_span_mm: Some(180.0), ..LevelWords::default() };
    // 180 mm times the sine of 30° are 90 mm; a falling larger end leaves the other to be raised.
    assert!(level(&blank, &lies, &words).contains("raise the end at 0 mm by 90 mm"));
}
