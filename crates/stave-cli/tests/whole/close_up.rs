//! The engraving as a customer sees it once more, larger, where there is nothing to read.

use crate::command::{LAID, fixture, run_in};
use kurbo::Rect;
use resvg::tiny_skia::{Pixmap, Transform};
use resvg::usvg;
use std::fs;

/// Where the picture of a group lies on its sheet, mm.
fn image_in(sheet: &str, class: &str) -> Rect {
    let group = sheet.split(&format!("class=\"{class}\"")).nth(1).unwrap();
    let image = group.split("<image ").nth(1).unwrap();
    let [x, y, width, height] = ["x", "y", "width", "height"].map(|key| {
        let value = image.split(&format!("{key}=\"")).nth(1).unwrap().split('"').next().unwrap();
        value.parse::<f64>().unwrap()
    });
    Rect::from_origin_size((x, y), (width, height))
}

/// The box around what is dark and grey of a part of a sheet, mm, its frame left out.
fn dark(sheet: &str, part: Rect) -> Rect {
    const DOTS: f64 = 8.0;
    let tree = usvg::Tree::from_str(sheet, &usvg::Options::default()).unwrap();
    let own = DOTS * 25.4 / 96.0;
    let size = part.size() * DOTS;
    let mut pixels = Pixmap::new(size.width as u32, size.height as u32).unwrap();
    let shift = (-part.x0 * DOTS, -part.y0 * DOTS);
    let to = Transform::from_row(own as f32, 0.0, 0.0, own as f32, shift.0 as f32, shift.1 as f32);
    resvg::render(&tree, to, &mut pixels.as_mut());
    let (columns, frame) = (pixels.width(), (0.6 * DOTS) as u32);
    let inside = |k: u32, most: u32| (frame..most - frame).contains(&k);
    let mut found: Option<Rect> = None;
    for (k, pixel) in (0..).zip(pixels.pixels()) {
        let (x, y) = (k % columns, k / columns);
        if !(inside(x, columns) && inside(y, pixels.height()) && pixel.red() < 110) {
            continue;
        }
        let (least, most) = (pixel.red().min(pixel.blue()), pixel.red().max(pixel.blue()));
        assert!(most - least < 20, "{pixel:?} is a colour");
        let at = Rect::from_origin_size((f64::from(x), f64::from(y)), (1.0, 1.0));
        found = Some(found.map_or(at, |all| all.union(at)));
    }
    let found = found.unwrap();
    Rect::new(found.x0 / DOTS, found.y0 / DOTS, found.x1 / DOTS, found.y1 / DOTS)
        + part.origin().to_vec2()
}

/// Where no text is to be read over there is room for the engraving itself: so much larger as the
/// words under it say, true in width, and wholly on the sheet. Ware that tells no colours is
/// light and burned dark, not coloured by energy.
#[test]
fn the_customer_sees_the_engraving_larger() {
    let folder = tempfile::tempdir().unwrap();
    let (blank, machine) = (fixture("blanks/cup.toml"), fixture("machines/degrees.toml"));
    let art = "<svg xmlns='http://www.w3.org/2000/svg' width='30mm' height='20mm' viewBox='0 0 30 \
               20'><path d='M0 0H30V20H0Z'/></svg>";
    fs::write(folder.path().join("art.svg"), art).unwrap();
    // 30 by 20 mm, over the seam of the picture as well as before it.
    for turn in ["0", "170"] {
        let art = ["proof", "art.svg", "--place-at", "40", "--place-turn", turn];
        let files = ["-b", blank.to_str().unwrap(), "-m", machine.to_str().unwrap()];
        let rest = ["--for-customer", "-o", "sheet.svg"];
        run_in(folder.path(), &[&art[..], &files, &rest, &LAID].concat(), b"").done();
        let sheet = fs::read_to_string(folder.path().join("sheet.svg")).unwrap();
        let [unrolled, detail] = ["unrolled", "detail"].map(|class| image_in(&sheet, class));
        let said = sheet.split("the engraving, ").nth(1).unwrap();
        let times: f64 = said.split(' ').next().unwrap().parse().unwrap();
        let (small, large) = (dark(&sheet, unrolled), dark(&sheet, detail));
        assert!((small.height() * times - large.height()).abs() < 0.6, "{small:?} {large:?}");
        // 30 by 20 mm at every height of the cup, wherever the unrolled wall is drawn too wide.
        assert!((large.width() / large.height() - 1.5).abs() < 0.02, "{small:?} {large:?}");
        assert!(turn != "0" || small.width() > 1.7 * small.height(), "{small:?}");
        assert!((detail.center().x - large.center().x).abs() < 0.3, "{detail:?} {large:?}");
        assert!(detail.x0 > 8.0 && detail.x1 < 290.0 && detail.y0 > 90.0 && detail.y1 < 182.0);
    }
}
