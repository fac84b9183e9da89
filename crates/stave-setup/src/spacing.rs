//! How far scan lines lie apart: `lines_per_inch` or `line_spacing`.

use crate::bounds::Bounds;
use crate::section::Section;
use crate::unit::MM_PER_INCH;

/// Scan lines to the inch.
pub(crate) const LINES_PER_INCH: Bounds = Bounds::closed(1.0, 25_400.0);
/// Between scan lines, mm.
pub(crate) const LINE_SPACING: Bounds = Bounds::closed(0.001, 25.4);

/// The spacing, mm on the wall; a fault where both are given, or where `needed` and neither is.
pub(crate) fn line_spacing(table: &mut Section<'_, '_, '_>, needed: bool) -> Option<f64> {
    let per_inch = table.number("lines_per_inch", LINES_PER_INCH);
    let spacing = table.length("line_spacing", LINE_SPACING);
    match (table.has("lines_per_inch"), table.has("line_spacing")) {
        (true, true) => {
            if let Some(entry) = table.entry("line_spacing") {
                let message = "give either `lines_per_inch` or `line_spacing`, not both";
                table.reader.fault(&entry.span(), message.to_owned());
            }
            None
        }
        (true, false) => per_inch.map(|lines| MM_PER_INCH / lines.value),
        (false, true) => spacing.map(|spacing| spacing.value),
        (false, false) => {
            if needed {
                table.missing("`lines_per_inch` (or `line_spacing`)");
            }
            None
        }
    }
}
