//! The page to draw on, rendered by an outside renderer (resvg) and measured with a ruler of
//! pixels.

#![expect(clippy::unwrap_used, reason = "a panic in a test is a failed test")]

use resvg::{tiny_skia, usvg};
use stave_picture::{TemplateSetting, paper, template};
use stave_setup::{Blank, Stands, read_blank};

/// Pixels a mm of paper.
const SCALE: f32 = 20.0;

fn blank() -> Blank {
    read_blank(
        "name = \"step\"\n[[station]]\nat = 0\ndiameter = 60\n[[station]]\nat = 50\ndiameter = \
         60\n[[station]]\nat = 56\ndiameter = 76\n\
         [[station]]\nat = 90\ndiameter = 76\n",
        "step.toml",
    )
    .unwrap()
}

/// The document as a picture of so many pixels a mm, by its own size in mm, which usvg gives in px
/// of 1/96 in.
fn rendered(svg: &str) -> tiny_skia::Pixmap {
    let tree = usvg::Tree::from_str(svg, &usvg::Options::default()).unwrap();
    let per_px = SCALE * 25.4 / 96.0;
    let size = tree.size();
    let mut pixmap = tiny_skia::Pixmap::new(
        (size.width() * per_px).round() as u32,
        (size.height() * per_px).round() as u32,
    )
    .unwrap();
    resvg::render(&tree, tiny_skia::Transform::from_scale(per_px, per_px), &mut pixmap.as_mut());
    pixmap
}

/// The longest unbroken run of ink along any row that is as dark as `least` and at most so many
/// pixels long.
fn longest_run(pixmap: &tiny_skia::Pixmap, most: usize) -> usize {
    let width = pixmap.width() as usize;
    let mut longest = 0;
    for row in pixmap.pixels().chunks(width) {
        let mut run = 0;
        for pixel in
            row.iter().chain(std::iter::once(&tiny_skia::PremultipliedColorU8::TRANSPARENT))
        {
            if pixel.alpha() > 128 && pixel.red() < 60 && pixel.green() < 60 && pixel.blue() < 60 {
                run += 1;
            } else {
                longest = if run <= most { longest.max(run) } else { longest };
                run = 0;
            }
        }
    }
    longest
}

#[test]
fn page_and_bar_measure_what_they_say() {
    let setting = TemplateSetting {
        title: "page".into(),
        date: "2026-11-30".into(),
        reference_radius_mm: 38.0,
        stands: Stands::Upright,
        narrows: false,
        ten_mm: Vec::new(),
        lay: "true-width".into(),
        is_plane: false,
        margin_mm: 0.0,
        sharp: None,
        frames: Vec::new(),
    };
    let pixmap = rendered(&template(&blank(), &setting));
    // π · 76 mm around; the meridian's length along: 50 + hypot(6, 8) + 34.
    let mm = |pixels: u32| f64::from(pixels) / f64::from(SCALE);
    assert!(
        (mm(pixmap.width()) - std::f64::consts::PI * 76.0).abs() < 0.05,
        "{}",
        mm(pixmap.width())
    );
    assert!((mm(pixmap.height()) - 94.0).abs() < 0.05, "{}", mm(pixmap.height()));
    // The bar of 50 mm, its ends' strokes of 0.3 mm included, is the longest dark line but for the
    // page's own edge.
    let bar = longest_run(&pixmap, 60 * SCALE as usize) as f64 / f64::from(SCALE);
    assert!((bar - 50.3).abs() < 0.15, "{bar}");
}

#[test]
fn the_bar_of_the_patterns_measures_fifty_millimetres() {
    let pixmap = rendered(&paper(&blank(), "").unwrap());
    let bar = longest_run(&pixmap, 60 * SCALE as usize) as f64 / f64::from(SCALE);
    assert!((bar - 50.4).abs() < 0.15, "{bar}");
}
