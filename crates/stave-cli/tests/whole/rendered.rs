//! Shades in drawings: pictures, gradients and the like, burned as pictures or cut into areas, and
//! looked at again from the words alone.

use crate::case::Case;
use crate::command::{Outcome, run_in};
use crate::lay::LAYS;
use crate::pictures::{WIDTH_MM, darkness, photo, png, replay, seen, similarity};
use crate::program;
use std::path::Path;

/// The page that the pictures of these tests fill.
const HEIGHT_MM: f64 = 30.0;
const SPACING_MM: f64 = 0.1;

fn page(inside: &str) -> String {
    format!(
        "<svg xmlns='http://www.w3.org/2000/svg' width='{WIDTH_MM}mm' height='{HEIGHT_MM}mm' \
         viewBox='0 0 {WIDTH_MM} {HEIGHT_MM}'>{inside}</svg>"
    )
}

/// A data URL (RFC 2397) of bytes in base64 (RFC 4648, 4).
pub(crate) fn data_url(kind: &str, bytes: &[u8]) -> String {
    const LETTERS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let mut text = format!("data:{kind};base64,");
    for three in bytes.chunks(3) {
        let all = three.iter().fold(0_u32, |all, byte| all << 8 | u32::from(*byte));
        let all = all << (8 * (3 - three.len()));
        for k in 0..4 {
            let letter = LETTERS[(all >> (18 - 6 * k)) as usize & 63];
            text.push(if k <= three.len() { letter as char } else { '=' });
        }
    }
    text
}

fn operation(pick: &str, work: &str, more: &str) -> String {
    format!(
        "[[operation]]\nname = \"{work}\"\npick = {{ {pick} }}\nwork = \"{work}\"\nspeed = 250\n\
         power = 60\nline_spacing = {SPACING_MM}\n{more}\n"
    )
}

/// Wraps a drawing that lies in a folder.
fn wrapped_in(folder: &Path, case: &Case, svg: &str, operations: &str, more: &[&str]) -> Outcome {
    std::fs::write(folder.join("job.toml"), case.job_file() + operations).unwrap();
    std::fs::write(folder.join("art.svg"), svg).unwrap();
    let (blank, machine) = (case.blank.display().to_string(), case.machine.display().to_string());
    let arguments = ["wrap", "art.svg", "-b", &blank, "-m", &machine, "-j", "job.toml"];
    let all: Vec<&str> = arguments.into_iter().chain(more.iter().copied()).collect();
    run_in(folder, &all, b"")
}

fn wrapped(case: &Case, svg: &str, operations: &str) -> Outcome {
    wrapped_in(tempfile::tempdir().unwrap().path(), case, svg, operations, &[])
}

fn cases() -> Vec<Case> {
    let wares = [("cup", 40.0, 0.0), ("bottle", 75.0, 3.0), ("ornament", -15.0, 0.0)];
    let lays = LAYS.iter().cycle().skip(1);
    let case = |(blank, place, tilt): (&str, f64, f64), lay| Case {
        anchor: Some((HEIGHT_MM / 2.0, 0.0)),
        even_dose: true,
        ..Case::new(blank, "degrees", lay, tilt, place)
    };
    wares.into_iter().zip(lays).map(|(ware, lay)| case(ware, *lay)).collect()
}

#[test]
fn an_image_of_a_drawing_burns_as_the_picture_it_is() {
    let (columns, rows) = (320_u32, 240_u32);
    let source: Vec<f64> =
        (0..columns * rows).map(|k| darkness(photo(k % columns, k / columns))).collect();
    let url = data_url("image/png", &png(columns, rows, photo));
    // An opaque black ground under it burns nowhere.
    let svg = page(&format!(
        "<rect width='{WIDTH_MM}' height='{HEIGHT_MM}'/><image id='photo' width='{WIDTH_MM}' \
         height='{HEIGHT_MM}' href='{url}'/>"
    ));
    for case in cases() {
        let bench = case.bench();
        let outcome = wrapped(&case, &svg, &operation("id = \"photo\"", "picture", "")).done();
        let lines = replay(&bench, &program::read(outcome.out_text()));
        let pixel = WIDTH_MM / f64::from(columns);
        let place = |k: u32| (f64::from(k) + 0.5) * pixel;
        let found: Vec<f64> = (0..columns * rows)
            .map(|k| seen(&bench, &lines, place(k % columns), place(k / columns)))
            .collect();
        let alike = similarity(&found, &source, columns as usize, rows as usize);
        assert!(alike > 0.98, "{case:?}: {alike}");
    }
}

/// SVG 2, 14.2.4: between stops colours go evenly in sRGB.
#[test]
fn a_gradient_burns_as_dark_as_it_is_at_each_place() {
    let stops = "<stop stop-color='#000'/><stop offset='1' stop-color='#fff'/>";
    let svg = page(&format!(
        "<linearGradient id='g'>{stops}</linearGradient><rect id='sky' width='{WIDTH_MM}' \
         height='{HEIGHT_MM}' fill='url(#g)'/>"
    ));
    for case in cases() {
        let bench = case.bench();
        let outcome = wrapped(&case, &svg, &operation("id = \"sky\"", "picture", "")).done();
        let lines = replay(&bench, &program::read(outcome.out_text()));
        for k in 0..16 {
            let x = (f64::from(k) + 0.5) / 16.0 * WIDTH_MM;
            let grey = (255.0 * x / WIDTH_MM).round() as u8;
            let rows = |y: f64| (0..9).map(move |j| y + f64::from(j));
            let mean = |y: f64| rows(y).map(|y| seen(&bench, &lines, x, y)).sum::<f64>() / 9.0;
            let found = f64::midpoint(mean(4.0), mean(16.0));
            // Eight bits of sRGB are 0.009 of darkness at most, and the spacing a step of it.
            assert!((found - darkness(grey)).abs() < 0.025, "{case:?} {x}: {found}");
        }
    }
}

/// A drawing of nothing but plain fills and strokes has greys too, however they are picked.
#[test]
fn plain_greys_burn_as_dark_as_they_are() {
    let svg = page(&format!(
        "<rect id='pale' width='{WIDTH_MM}' height='10' fill='#808080'/><path id='bar' \
         d='M0 15H{WIDTH_MM}' fill='none' stroke='#404040' stroke-width='6'/><rect id='full' \
         y='20' width='{WIDTH_MM}' height='10'/>"
    ));
    let picks = [
        ("fill = \"#808080\"", [darkness(0x80), 0.0, 0.0]),
        ("stroke = \"#404040\"", [0.0, darkness(0x40), 0.0]),
        ("id = \"full\"", [0.0, 0.0, 1.0]),
    ];
    let allow = ["--allow", "unpicked"];
    for case in cases() {
        let bench = case.bench();
        let folder = tempfile::tempdir().unwrap();
        for (pick, due) in picks {
            let rules = operation(pick, "picture", "");
            let outcome = wrapped_in(folder.path(), &case, &svg, &rules, &allow).done();
            let lines = replay(&bench, &program::read(outcome.out_text()));
            for (y, due) in [5.0, 15.0, 25.0].into_iter().zip(due) {
                for x in [4.0, 19.0, 36.0] {
                    let found = seen(&bench, &lines, x, y);
                    assert!((found - due).abs() < 0.02, "{case:?} {pick} {x},{y}: {found}, {due}");
                }
            }
        }
    }
}

/// A picture shows nothing of what its operation does not pick: no other paint of the shape, and
/// nothing that lies over it, whether or not it has a style of its own.
#[test]
fn a_picture_shows_nothing_that_it_does_not_pick() {
    let case = &cases()[0];
    let bench = case.bench();
    let folder = tempfile::tempdir().unwrap();
    for style in ["", "style='opacity:1'"] {
        let svg = page(&format!(
            "<rect id='sky' x='3' y='3' width='34' height='24' fill='#ccc' stroke='#00f' \
             stroke-width='6' {style}/><path d='M18 0h4v30h-4z' fill='none' stroke='#000' \
             stroke-width='2' stroke-opacity='0.999' {style}/>"
        ));
        // By its id the operation has both paints; by its fill the fill alone, which the stroke
        // hides that nothing burns.
        for (pick, edge) in [("id = \"sky\"", 0.9278), ("fill = \"#ccc\"", 0.0)] {
            let rules = operation(pick, "picture", "");
            let allow = ["--allow", "unpicked,left-out"];
            let outcome = wrapped_in(folder.path(), case, &svg, &rules, &allow).done();
            let lines = replay(&bench, &program::read(outcome.out_text()));
            for (x, due) in [(4.0, edge), (10.0, darkness(0xcc)), (18.5, darkness(0xcc))] {
                let found = seen(&bench, &lines, x, 15.0);
                assert!((found - due).abs() < 0.02, "{pick} {style} {x}: {found}, {due}");
            }
        }
        // Along its middle a stroke burns over the fill, which reaches it: not in its colour.
        let line = "[[operation]]\nname = \"edge\"\npick = { stroke = \"#00f\" }\nwork = \
                    \"line\"\nspeed = 100\npower = 10\n";
        let rules = operation("fill = \"#ccc\"", "picture", "") + line;
        let allow = ["--allow", "unpicked,left-out"];
        let outcome = wrapped_in(folder.path(), case, &svg, &rules, &allow).done();
        let powers = outcome.out_text().split(" S").skip(1);
        let powers = powers.filter_map(|rest| rest.split_whitespace().next()?.parse::<f64>().ok());
        let most = powers.fold(0.0, f64::max);
        assert!(most < 0.5 * 600.0, "{style}: {most}");
    }
}

#[test]
fn shades_are_cut_where_they_are_dark_enough_and_plain_fills_burn_whole() {
    let stops = "<stop stop-color='#000'/><stop offset='1' stop-color='#fff'/>";
    let svg = page(&format!(
        "<linearGradient id='g'>{stops}</linearGradient><g id='all'><rect width='{WIDTH_MM}' \
         height='20' fill='url(#g)'/><rect x='30' y='22' width='10' height='8' fill='#eee'/></g>"
    ));
    let case = &cases()[0];
    let bench = case.bench();
    let pick = "id = \"all\"";
    let outcome = wrapped(case, &svg, &operation(pick, "area", "threshold = 50")).done();
    let lines = replay(&bench, &program::read(outcome.out_text()));
    // Darkness 0.5 is linear light 0.5: by IEC 61966-2-1 an sRGB value of 0.7354.
    let edge = 0.7354 * WIDTH_MM;
    for y in [3.0, 9.0, 17.0] {
        // Across lines of constant turn an edge is told to half a spacing.
        let near = 0.5 * SPACING_MM + 0.04;
        assert!(seen(&bench, &lines, edge - near, y) > 0.9, "{y}");
        assert_eq!(seen(&bench, &lines, edge + near, y), 0.0, "{y}");
        assert!(seen(&bench, &lines, 1.0, y) > 0.9);
    }
    assert!(seen(&bench, &lines, 35.0, 26.0) > 0.9, "a plain fill burns whole");
    // The other way: along the lines, where edges lie to a part of a pixel.
    let turned = svg.replace("id='g'", "id='g' x2='0' y2='1'");
    let outcome = wrapped(case, &turned, &operation(pick, "area", "threshold = 50")).done();
    let lines = replay(&bench, &program::read(outcome.out_text()));
    let edge = 0.7354 * 20.0;
    for x in [5.0, 20.0, 33.0] {
        assert!(seen(&bench, &lines, x, edge - 0.05) > 0.9, "{x}");
        assert_eq!(seen(&bench, &lines, x, edge + 0.05), 0.0, "{x}");
    }
}

#[test]
fn shades_that_no_operation_takes_are_left_out_by_name_and_hide_what_lies_beneath() {
    let folder = tempfile::tempdir().unwrap();
    let url = data_url("image/png", &png(8, 6, |_, _| 200));
    let svg = page(&format!(
        "<rect id='ground' width='{WIDTH_MM}' height='{HEIGHT_MM}'/><image id='photo' x='4' y='3' \
         width='32' height='24' href='{url}'/><rect id='mist' width='9' height='3' fill='#123' \
         opacity='.4'/>"
    ));
    let case = &cases()[0];
    let areas = operation("fill = \"#000\"", "area", "");
    let outcome = wrapped_in(folder.path(), case, &svg, &areas, &[]);
    assert_eq!(outcome.status, Some(1), "{}", outcome.err);
    for words in ["left-out", "photo: a picture, which no operation", "mist: it is translucent"] {
        assert!(outcome.err.contains(words), "{words}: {}", outcome.err);
    }
    let outcome = wrapped_in(folder.path(), case, &svg, &areas, &["--allow", "left-out"]).done();
    let bench = case.bench();
    let lines = replay(&bench, &program::read(outcome.out_text()));
    assert!(seen(&bench, &lines, 2.0, 15.0) > 0.9);
    assert_eq!(seen(&bench, &lines, 20.0, 15.0), 0.0, "nothing burns in a picture's stead");
}

#[test]
fn pictures_are_read_from_the_folder_of_the_drawing_and_from_nowhere_else() {
    let above = tempfile::tempdir().unwrap();
    let folder = above.path().join("art");
    std::fs::create_dir_all(folder.join("in")).unwrap();
    let picture = png(8, 6, |_, _| 90);
    std::fs::write(above.path().join("secret.png"), &picture).unwrap();
    std::fs::write(folder.join("in/my photo.png"), &picture).unwrap();
    std::fs::write(folder.join("broken.png"), &picture[..picture.len() - 20]).unwrap();
    #[cfg(unix)]
    std::os::unix::fs::symlink(above.path().join("secret.png"), folder.join("link.png")).unwrap();
    let case = &cases()[0];
    let shows = |href: &str| {
        let svg = page(&format!("<image id='photo' width='32' height='24' href='{href}'/>"));
        let takes = operation("id = \"photo\"", "picture", "");
        wrapped_in(&folder, case, &svg, &takes, &[])
    };
    let outcome = shows("in/my%20photo.png");
    assert_eq!(outcome.status, Some(0), "{}", outcome.err);
    let away = above.path().join("secret.png").display().to_string();
    for (href, words) in [
        ("../secret.png", "leads out of the drawing's folder"),
        ("in/../../secret.png", "leads out of the drawing's folder"),
        (&away, "leads out of the drawing's folder"),
        #[cfg(unix)]
        ("link.png", "leads out of the drawing's folder"),
        ("gone.png", "is not there"),
        ("in", "is no file"),
        ("broken.png", "breaks off"),
        ("art.svg", "no PNG or JPEG"),
        ("https://example.org/a.png", "nothing is ever fetched"),
        ("file:///etc/hosts", "nothing is ever fetched"),
    ] {
        let outcome = shows(href);
        assert_eq!(outcome.status, Some(1), "{href}: {}", outcome.err);
        let told = outcome.err.contains(words) && outcome.err.contains("left-out");
        assert!(told, "{href}: {}", outcome.err);
    }
}

/// Small files that would take hours or terabytes to render.
#[test]
fn what_would_never_be_rendered_is_left_out() {
    let case = &cases()[0];
    let mut nested = String::from(
        "<pattern id='p0' width='1' height='1' patternUnits='userSpaceOnUse'><rect width='.5' height='.5'/></pattern>",
    );
    for k in 1..7 {
        let many = format!("<rect width='1' height='1' fill='url(#p{})'/>", k - 1).repeat(6);
        nested += &format!(
            "<pattern id='p{k}' width='1' height='1' patternUnits='userSpaceOnUse'>{many}</pattern>"
        );
    }
    for (defs, paint) in [
        (nested, "fill='url(#p6)'"),
        (
            "<pattern id='p' width='1e7' height='1e7' patternUnits='userSpaceOnUse'><rect \
             width='9' height='9'/></pattern>"
                .to_owned(),
            "fill='url(#p)'",
        ),
        (
            "<filter id='f'><feMorphology operator='dilate' radius='900'/></filter>".to_owned(),
            "filter='url(#f)'",
        ),
    ] {
        let svg = page(&format!("{defs}<rect id='it' width='39' height='29' {paint}/>"));
        let outcome = wrapped(case, &svg, &operation("id = \"it\"", "picture", ""));
        assert_ne!(outcome.status, Some(0), "{paint}");
        assert!(outcome.err.contains("too"), "{paint}: {}", outcome.err);
    }
}

/// On a cylinder the drawing that comes out is the drawing that went in, moved: each place as dark.
#[test]
fn shades_are_carried_through_to_a_drawing_and_never_black() {
    let stops = "<stop stop-color='#000'/><stop offset='1' stop-color='#fff'/>";
    let url = data_url("image/png", &png(320, 240, photo));
    let svg = page(&format!(
        "<linearGradient id='g'>{stops}</linearGradient><rect id='sky' width='20' height='12' \
         fill='url(#g)'/><image id='photo' y='14' width='20' height='15' href='{url}'/><circle \
         id='ring' cx='30' cy='8' r='6' fill='none' stroke='url(#g)' stroke-width='2'/><rect \
         id='mist' x='24' y='18' width='9' height='9' opacity='.4'/><g opacity='.5'><rect id='low' \
         x='34' y='16' width='4' height='8'/><rect id='high' x='35' y='20' width='4' \
         height='9'/><circle id='hole' cx='36' cy='21' r='1' fill='#fff'/></g>"
    ));
    let case = Case { even_dose: true, ..Case::new("can", "degrees", LAYS[0], 0.0, 20.0) };
    let folder = tempfile::tempdir().unwrap();
    let operations = operation("id = \"sky\"", "picture", "");
    let outcome = wrapped_in(folder.path(), &case, &svg, &operations, &["--to", "svg"]).done();
    let shown = |svg: &str, from_mm: (f64, f64)| {
        let tree = resvg::usvg::Tree::from_str(svg, &resvg::usvg::Options::default()).unwrap();
        let mut pixels = resvg::tiny_skia::Pixmap::new(400, 300).unwrap();
        pixels.fill(resvg::tiny_skia::Color::WHITE);
        let scale = (10.0 * 25.4 / 96.0) as f32;
        let shift = (-10.0 * from_mm.0, -10.0 * from_mm.1);
        let to = resvg::tiny_skia::Transform::from_row(
            scale,
            0.0,
            0.0,
            scale,
            shift.0 as f32,
            shift.1 as f32,
        );
        resvg::render(&tree, to, &mut pixels.as_mut());
        pixels
    };
    let before = shown(&svg, (0.0, 0.0));
    // Where the page of the drawing lies on that of the controller, from its top left corner: the
    // page's middle is turn 0, its bottom edge the X word's 0, which is the place.
    let out = outcome.out_text();
    let size = |name: &str| -> f64 {
        let at = out.find(&format!(" {name}=\"")).unwrap() + name.len() + 3;
        out[at..].split("mm").next().unwrap().parse().unwrap()
    };
    let corner = (0.5 * (size("width") - WIDTH_MM), size("height") - HEIGHT_MM);
    let after = shown(out, corner);
    let (mut sum, mut worst): (f64, u32) = (0.0, 0);
    for (a, b) in before.pixels().iter().zip(after.pixels()) {
        let off = u32::from(a.green().abs_diff(b.green()));
        sum += f64::from(off);
        worst += u32::from(off > 40);
    }
    let count = f64::from(400 * 300);
    assert!(sum / count < 3.0, "{} grey levels", sum / count);
    assert!(f64::from(worst) < 0.01 * count, "{worst} pixels");
    // A group that is seen through as one is one picture: no darker where two of it meet.
    assert_eq!(out.matches("<image").count(), 5);
    assert!(f64::from(worst) < 0.001 * count, "{worst} pixels");
    // Who sent colours reads that they are greys now.
    let told = "pictures of greys stand for these, whatever their colours: sky, photo, ring, mist, \
                low, high, hole";
    assert!(outcome.err.contains(told), "{}", outcome.err);
}
