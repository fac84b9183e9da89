//! The sheet as text and as pixels.

use std::path::Path;

use stave_picture::SheetSize;
use stave_setup::Stands;

use crate::ware::{letter, low_tin, proof};

/// Look at what is drawn: `STAVE_LOOK=folder cargo test -p stave-picture --test proof` leaves the
/// sheets there.
fn left_to_look_at(name: &str, png: &[u8]) {
    if let Some(folder) = std::env::var_os("STAVE_LOOK") {
        std::fs::write(Path::new(&folder).join(name), png).unwrap();
    }
}

#[test]
fn a_sheet_can_be_looked_at() {
    let burned = letter(1.0);
    for (stands, name) in
        [(Stands::Upright, "upright"), (Stands::Lying, "lying"), (Stands::Inverted, "inverted")]
    {
        let (png, _) = proof(&burned, None, stands).sheet_png(false, 150.0).unwrap();
        left_to_look_at(&format!("{name}.png"), &png);
        assert_eq!(&png[1..4], b"PNG");
    }
    let (png, _) = proof(&burned, None, Stands::Upright).sheet_png(true, 150.0).unwrap();
    left_to_look_at("customer.png", &png);
    let mirrored = letter(-1.0);
    let (png, _) =
        proof(&mirrored, Some(&burned), Stands::Upright).sheet_png(false, 150.0).unwrap();
    left_to_look_at("mirrored.png", &png);
}

/// The sheet's text, the pictures in it left out.
fn lines(svg: &str) -> String {
    let mut out = String::new();
    for (i, part) in svg.split("data:image/png;base64,").enumerate() {
        let rest = if i == 0 { part } else { part.split_once('"').map_or("", |(_, rest)| rest) };
        if i > 0 {
            out.push_str("…\"");
        }
        out.push_str(rest);
    }
    out
}

#[test]
fn the_sheet_as_text() {
    let burned = letter(1.0);
    insta::assert_snapshot!(lines(&proof(&burned, None, Stands::Upright).sheet_svg(false)));
}

#[test]
fn the_customers_sheet_has_no_figures_of_the_machine() {
    let burned = letter(1.0);
    let mut shown = proof(&burned, None, Stands::Upright);
    // What is not fit has no line to sign.
    shown.findings.remove(0);
    let sheet = lines(&shown.sheet_svg(true));
    for word in ["Figures", "Findings", "3 min 12 s", "upper boss", "nozzle", "class=\"flag\""] {
        assert!(!sheet.contains(word), "{word}");
    }
    for word in ["club letter", "175 mm measured along, 66 to 88 mm across", "signature"] {
        assert!(sheet.contains(word), "{word}");
    }
}

/// However many texts there are, each stands on the customer's sheet, or the sheet says that it
/// does not.
#[test]
fn every_text_is_on_the_customers_sheet() {
    let burned = letter(1.0);
    let mut shown = proof(&burned, None, Stands::Upright);
    for count in [1, 9, 20, 500] {
        shown.texts = (1..=count).map(|k| format!("text {k:03} of a list to be read")).collect();
        let sheet = shown.sheet_svg(true);
        let read = sheet.matches("class=\"read\"").count();
        if count <= 20 {
            assert_eq!(read, count);
            assert!(sheet.contains(&format!("text {count:03} of")));
        } else {
            assert!(sheet.contains(&format!("and {} more", count - read)), "{read}");
        }
    }
    shown.texts.clear();
    assert!(!shown.sheet_svg(true).contains("Every text"));
}

/// Low ware with nothing to read over is drawn as large as the sheet holds it, the unrolled wall
/// below the views; with texts all stand in a row above them.
#[test]
fn low_ware_is_drawn_larger_where_there_is_nothing_to_read() {
    let burned = low_tin();
    let mut shown = proof(&burned, None, Stands::Upright);
    let mut bar_mm = |texts: &[&str]| {
        shown.texts = texts.iter().map(|text| (*text).to_owned()).collect();
        let sheet = shown.sheet_svg(true);
        let bar = sheet.split("id=\"scale\"").next().unwrap().rsplit("d=\"").next().unwrap();
        let x = |part: &str| part.split(' ').next().unwrap().parse::<f64>().unwrap();
        let places: Vec<f64> = bar.split(['M', 'L']).skip(1).map(x).collect();
        places.iter().copied().fold(0.0, f64::max) - places[0]
    };
    // 277 mm of paper hold three views of 80 mm, or the 251 mm of the wall unrolled, at full size;
    // beside each other they are 491 mm.
    let (alone, read) = (bar_mm(&[]), bar_mm(&["a text"]));
    assert!(alone > 48.0 && alone < 60.0, "{alone}");
    assert!((read - 50.0 * (277.0 - 16.0) / (240.0 + 80.0 * std::f64::consts::PI)).abs() < 0.1);
}

/// Letter, lying, is 11 by 8.5 inches (ANSI/ASME Y14.1, size A): all of it stands inside margins of
/// 9 mm, and reaches them to a millimetre.
#[test]
fn a_sheet_for_letter_paper_keeps_its_margins() {
    let burned = letter(1.0);
    let mut shown = proof(&burned, None, Stands::Upright);
    shown.sheet = SheetSize::Letter;
    for for_customer in [false, true] {
        let (png, _) = shown.sheet_png(for_customer, 50.8).unwrap();
        let mut reader = png::Decoder::new(std::io::Cursor::new(&png)).read_info().unwrap();
        let mut data = vec![0; reader.output_buffer_size().unwrap()];
        let info = reader.next_frame(&mut data).unwrap();
        let (width, height) = (info.width as usize, info.height as usize);
        assert!(width.abs_diff(559) <= 1 && height.abs_diff(432) <= 1, "{width} × {height}");
        let inked = |k: &usize| data[3 * k..3 * k + 3].iter().any(|part| *part < 200);
        let all: Vec<usize> = (0..width * height).filter(inked).collect();
        // Two pixels to the mm.
        let columns = || all.iter().map(|k| k % width);
        let (left, right) = (columns().min().unwrap(), columns().max().unwrap());
        assert!((18..=22).contains(&left) && right < width - 18, "{left} to {right}");
        let (top, bottom) = (all[0] / width, all[all.len() - 1] / width);
        assert!(top > 18 && bottom < height - 18, "{top} to {bottom}");
    }
}

#[test]
fn names_cannot_leave_the_text_they_stand_in() {
    let burned = letter(1.0);
    let mut shown = proof(&burned, None, Stands::Upright);
    shown.name = "<script>&\"".into();
    let sheet = shown.sheet_svg(false);
    assert!(sheet.contains("&lt;script&gt;&amp;&quot;") && !sheet.contains("<script>"));
}

#[test]
fn the_page_holds_all_it_needs() {
    let burned = letter(1.0);
    let mut shown = proof(&burned, None, Stands::Upright);
    shown.name = "</script><b>".into();
    let page = shown.page_html(false);
    left_to_look_at("page.html", page.as_bytes());
    assert!(!page.contains("{{") && !page.contains("http://") && !page.contains("https://"));
    assert_eq!(page.matches("</script>").count(), 2, "a name cannot end the data");
    let customer = shown.page_html(true);
    left_to_look_at("customer.html", customer.as_bytes());
    let text = "Reedwater &lt;Rowing&gt; Club";
    assert!(customer.contains(text) && !page.contains(text), "texts are the customer's to read");
    for word in ["3 min 12 s", "a burn lies in the zone", "never leave a running job"] {
        assert!(page.contains(word) && !customer.contains(word), "{word}");
    }
}

/// The mean grey of cells of 3 mm of the pictures on a sheet, its words on the right left out:
/// fonts differ from machine to machine.
fn greys(png: &[u8]) -> Vec<u8> {
    let mut reader = png::Decoder::new(std::io::Cursor::new(png)).read_info().unwrap();
    let mut data = vec![0; reader.output_buffer_size().unwrap()];
    let info = reader.next_frame(&mut data).unwrap();
    // 50.8 pixels to the inch are two to the mm.
    let (width, height) = (info.width as usize, info.height as usize);
    assert_eq!((width, height), (594, 420));
    let mut out = Vec::new();
    for row in (52..height - 6).step_by(6) {
        for column in (0..396).step_by(6) {
            let cells = (0..36).map(|k| 3 * ((row + k / 6) * width + column + k % 6));
            let sum: u32 = cells
                .map(|at| data[at..at + 3].iter().map(|part| u32::from(*part)).sum::<u32>())
                .sum();
            out.push(u8::try_from(sum / 108).unwrap());
        }
    }
    out
}

#[test]
fn the_sheet_as_pixels_stays_as_it_was() {
    let (png, _) = proof(&letter(1.0), None, Stands::Upright).sheet_png(false, 50.8).unwrap();
    let found = greys(&png);
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/proof/sheet.pgm");
    if std::env::var_os("STAVE_KEEP").is_some() {
        let rows: Vec<String> = found
            .chunks(66)
            .map(|row| row.iter().map(ToString::to_string).collect::<Vec<_>>().join(" "))
            .collect();
        std::fs::write(&path, format!("P2\n66 {}\n255\n{}\n", rows.len(), rows.join("\n")))
            .unwrap();
    }
    let text = std::fs::read_to_string(path).unwrap();
    let kept: Vec<u8> = text.split_whitespace().skip(4).map(|word| word.parse().unwrap()).collect();
    assert_eq!(found.len(), kept.len());
    let apart: Vec<u8> = found.iter().zip(&kept).map(|(a, b)| a.abs_diff(*b)).collect();
    let mean = apart.iter().map(|one| f64::from(*one)).sum::<f64>() / apart.len() as f64;
    assert!(mean < 1.5, "{mean} apart on the mean");
    // A mirrored letter is another picture.
    let (png, _) = proof(&letter(-1.0), None, Stands::Upright).sheet_png(false, 50.8).unwrap();
    let strayed = greys(&png).iter().zip(&kept).filter(|(a, b)| a.abs_diff(**b) > 25).count();
    assert!(strayed > 10, "{strayed} cells");
}
