//! The wall as it lies under the beam at a tilt: what `level` found, drawn.

use stave_setup::Blank;

use crate::proof::Lies;
use crate::proof::side_view;
use crate::svg::{escaped, mm};

/// The sheet, mm: it fits a landscape A5.
const SIZE_MM: (f64, f64) = (200.0, 140.0);
const EDGE_MM: f64 = 10.0;
/// What is kept for the title above and the words below the view.
const ABOVE_MM: f64 = 12.0;
const LINE_MM: f64 = 4.6;

/// A view from the side: wall, the stretch and its focus band, nozzle; the title above, `lines` of
/// figures below.
///
/// ```
/// let text = "[[station]]\nat = 0\ndiameter = 60\n[[station]]\nat = 90\ndiameter = 70\n";
/// let blank = stave_setup::read_blank(text, "cup.toml")?;
/// let lies = stave_picture::proof::Lies {
///     half_depth_mm: Some(0.6),
///     focus_height_mm: Some(32.0),
///     ..Default::default()
/// };
/// let svg = stave_picture::level(&blank, &lies, "cup", &["tilt 0°".to_owned()]);
/// assert!(svg.contains("width=\"200mm\"") && svg.contains("tilt 0°"));
/// # Ok::<(), stave_setup::Faults>(())
/// ```
#[must_use]
pub fn level(blank: &Blank, lies: &Lies, title: &str, lines: &[String]) -> String {
    #[allow(clippy::cast_precision_loss)]
    let below = LINE_MM * lines.len() as f64 + 2.0;
    let corner = (EDGE_MM, EDGE_MM + ABOVE_MM);
    let size = (SIZE_MM.0 - 2.0 * EDGE_MM, SIZE_MM.1 - 2.0 * EDGE_MM - ABOVE_MM - below);
    let mut out = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{0}mm\" height=\"{1}mm\" viewBox=\"0 0 \
         {0} {1}\" \
         font-family=\"sans-serif\" fill=\"#1c1c1a\">\n<title>{2}</title>\n<rect width=\"{0}\" \
                       height=\"{1}\" fill=\"#ffffff\"/>\n\
         <text x=\"{3}\" y=\"{4}\" font-size=\"5\" font-weight=\"bold\">{2}</text>\n",
        mm(SIZE_MM.0),
        mm(SIZE_MM.1),
        escaped(title),
        mm(EDGE_MM),
        mm(EDGE_MM + 5.0)
    );
    out.push_str(&side_view(blank, lies, corner, size));
    let mut y = corner.1 + size.1 + 2.0;
    for line in lines {
        y += LINE_MM;
        out.push_str(&format!(
            "<text x=\"{}\" y=\"{}\" font-size=\"3.2\">{}</text>\n",
            mm(EDGE_MM),
            mm(y),
            escaped(line)
        ));
    }
    out.push_str("</svg>\n");
    out
}
