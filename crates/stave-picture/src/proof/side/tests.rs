//! What the view from the side shows.

use super::*;
use kurbo::{Point, Rect};

/// Between two pieces nothing burns, and no thick line says that it does.
#[test]
fn what_burns_is_drawn_with_its_gaps() {
    let blank = stave_setup::read_blank(super::super::sample::CAN, "can.toml").unwrap();
    let mut lies = Lies {
        focus_height_mm: Some(35.0),
        half_depth_mm: Some(1.0),
        burned_s_mm: Some((10.0, 90.0)),
        ..Lies::default()
    };
    let thick = |lies: &Lies| {
        let out = draw(&blank, lies, (0.0, 0.0), (100.0, 100.0)).out;
        ["burned", "sharp"].map(|class| out.matches(&format!("class=\"{class}\"")).count())
    };
    assert_eq!(thick(&lies), [1, 1]);
    lies.stretches_s_mm = vec![(10.0, 30.0), (60.0, 90.0)];
    assert_eq!(thick(&lies), [2, 2]);
    let sharp = View::new(&blank, &lies, (0.0, 0.0), (100.0, 100.0)).sharp_s_mm();
    assert_eq!(sharp, lies.stretches_s_mm);
}

/// Where nothing burns only what of the wall comes into the focus is called sharp, and how far
/// the beam goes is drawn.
#[test]
fn a_walk_is_sharp_where_the_wall_is() {
    let text = "[[station]]\nat = 0\ndiameter = 60\n[[station]]\nat = 50\ndiameter = 60\n\
                [[station]]\nat = 60\ndiameter = 80\n[[station]]\nat = 100\ndiameter = 80\n";
    let blank = stave_setup::read_blank(text, "step.toml").unwrap();
    let wall = &blank.wall;
    let lies = Lies {
        focus_height_mm: Some(40.0),
        half_depth_mm: Some(1.0),
        walked_s_mm: Some((wall.s_of_at(70.0), wall.s_of_at(90.0))),
        ..Lies::default()
    };
    let view = View::new(&blank, &lies, (0.0, 0.0), (100.0, 100.0));
    let bands = view.bands((0.0, wall.length_mm()), 1.0);
    assert_eq!(bands.len(), 1);
    let (from, to) = (bands[0][0].0, bands[0][1].0);
    // From where the step, of 45°, is 1 mm lower than the upper part to the end.
    let long = (to - from) / view.scale;
    assert!((long - 41.0).abs() < 0.1, "{long}");
    let drawn = draw(&blank, &lies, (0.0, 0.0), (100.0, 100.0)).out;
    assert!(drawn.contains("class=\"walked\"") && caption(&blank, &lies).contains("beam goes"));
}

/// A handle's two bosses beside the nozzle, wherever it stands: none runs through its name.
#[test]
fn what_sticks_out_keeps_off_the_nozzle_s_name() {
    let text = "[[station]]\nat = 0\ndiameter = 80\n[[station]]\nat = 120\ndiameter = 84\n\
                [[zone]]\nname = \"lower\"\nat = [66, 78]\nturn = [165, 195]\nrise = 28\n\
                [[zone]]\nname = \"upper\"\nat = [100, 112]\nturn = [165, 195]\nrise = 28\n";
    let blank = stave_setup::read_blank(text, "mug.toml").unwrap();
    let (corner, size) = ((132.0, 134.0), (64.0, 56.0));
    for nozzle_s_mm in [20.0, 55.0, 60.0, 90.0, 112.0] {
        for mirrored in [false, true] {
            let lies = Lies {
                focus_height_mm: Some(41.0),
                nozzle_mm: Some((6.0, 8.0)),
                nozzle_s_mm,
                burned_s_mm: Some((30.0, 95.0)),
                mirrored,
                ..Lies::default()
            };
            let drawn = draw(&blank, &lies, corner, size);
            let (name, _) = drawn.words.first().unwrap();
            let sheet = Rect::new(corner.0 - 8.0, corner.1, 204.0, corner.1 + size.1);
            assert!(sheet.contains_rect(*name), "{nozzle_s_mm} mm: {name:?}");
            for rise in View::new(&blank, &lies, corner, size).rises() {
                let points = || rise.iter().map(|at| Point::from(*at));
                let first = Rect::from_points(points().next().unwrap(), rise[0]);
                let around = points().fold(first, |all, at| all.union_pt(at));
                assert!(name.intersect(around).area() <= 0.0, "{nozzle_s_mm} mm, {mirrored}");
            }
        }
    }
}
