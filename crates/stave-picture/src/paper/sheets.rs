//! The patterns parted onto sheets that an office printer takes.

use kurbo::{BezPath, Rect, Shape as _};
use stave_setup::{Blank, LengthUnit};

use super::{Drawn, bar, drawn};
use crate::draw::{Drawing, HAIR, SOFT, SheetSize, dated, scale_bar, text_width_mm};
use crate::svg::mm;

/// What no office printer reaches at a sheet's edges, mm.
const MARGIN_MM: f64 = 10.0;
/// How far sheets lie over each other when they are glued.
const OVERLAP_MM: f64 = 10.0;
/// What the words under the frame take of the sheet, mm.
const FOOT_MM: f64 = 11.0;
const WORDS_MM: f64 = 2.8;
/// Nobody glues more, and every sheet holds the whole drawing.
const MOST_SHEETS: u32 = 200;

/// Why there are no sheets.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum PaperError {
    /// A smooth wall cannot be laid out flat.
    #[error(
        "a smooth wall is curved both ways and has no flat pattern; measure it with wall = \
         \"straight\" to have one for every span"
    )]
    Smooth,
    /// More than anybody glues together.
    #[error(
        "the patterns are {width_mm:.0} by {height_mm:.0} mm, more than {most} sheets: have them \
         plotted in one piece, without --sheet"
    )]
    TooMany {
        /// Of all patterns together.
        width_mm: f64,
        /// Of all patterns together.
        height_mm: f64,
        /// How many sheets are the most.
        most: u32,
    },
}

/// The patterns of [`super::paper`] on as many sheets as they need, each an SVG document that
/// prints true: neighbours overlap by 10 mm, as far as the dashed lines. A pattern that a sheet
/// holds is not parted between one row of sheets and the next. Each bears the date, if one is
/// given.
///
/// # Errors
/// A smooth wall has no patterns; 200 sheets are the most.
///
/// ```
/// use stave_picture::{SheetSize, paper_sheets};
/// let text = "[[station]]\nat = 0\ndiameter = 80\n[[station]]\nat = 90\ndiameter = 80\n";
/// let blank = stave_setup::read_blank(text, "mug.toml")?;
/// // A turn of 251 mm is wider than a sheet: two of them.
/// assert_eq!(paper_sheets(&blank, SheetSize::A4, "2026-11-30")?.len(), 2);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn paper_sheets(
    blank: &Blank,
    sheet: SheetSize,
    date: &str,
) -> Result<Vec<String>, PaperError> {
    let (across, down) = sheet.size_mm();
    let room = (across - 2.0 * MARGIN_MM, down - 2.0 * MARGIN_MM - FOOT_MM);
    let patterns = super::patterns(blank).ok_or(PaperError::Smooth)?;
    // What a sheet holds lies on one row: rows need no gluing then.
    let whole = patterns.iter().all(|pattern| pattern.tall_mm() + super::NAME_MM <= room.1);
    let row_overlap = if whole { 0.0 } else { OVERLAP_MM };
    let drawn = drawn(&blank.name, date, &patterns, whole.then_some(room.1));
    let (width, height) = drawn.size;
    let steps = (room.0 - OVERLAP_MM, room.1 - row_overlap);
    let (columns, rows) = (count(width, room.0, steps.0), count(height, room.1, steps.1));
    if columns.saturating_mul(rows) > MOST_SHEETS {
        return Err(PaperError::TooMany { width_mm: width, height_mm: height, most: MOST_SHEETS });
    }
    let places = (0..rows).flat_map(|row| (0..columns).map(move |column| (column, row)));
    let unit = blank.unit();
    let tiles = places.map(|at| Tile { room, steps, at, of: (columns, rows), unit });
    // Nobody prints a sheet with nothing on it.
    let tiles: Vec<Tile> = tiles.filter(|tile| tile.shows(&drawn)).collect();
    let sheets = tiles.iter().enumerate().map(|(k, tile)| {
        let name = tile.name(k + 1, tiles.len());
        let title = format!("{}: flat patterns, {name}", blank.name);
        let sheet = tile.draw(&drawn.drawing.out, &name, (&blank.name, date));
        sheet.document((across, down), &title)
    });
    Ok(sheets.collect())
}

/// How many sheets a length takes.
fn count(length_mm: f64, room_mm: f64, step_mm: f64) -> u32 {
    let more = (length_mm - room_mm).max(0.0) / step_mm;
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    let more = more.ceil().min(1000.0) as u32;
    1 + more
}

struct Tile {
    room: (f64, f64),
    /// From sheet to sheet, across and down, mm.
    steps: (f64, f64),
    at: (u32, u32),
    of: (u32, u32),
    /// In which its bar is told.
    unit: LengthUnit,
}

impl Tile {
    fn name(&self, number: usize, count: usize) -> String {
        let ((column, row), (columns, rows)) = (self.at, self.of);
        format!(
            "sheet {number} of {count}: row {} of {rows}, column {} of {columns}",
            row + 1,
            column + 1
        )
    }

    /// What of the page it shows, mm.
    fn view(&self) -> Rect {
        let from = |k: u32, step: f64| f64::from(k) * step;
        let corner = (from(self.at.0, self.steps.0), from(self.at.1, self.steps.1));
        Rect::from_origin_size(corner, self.room)
    }

    /// Whether any of a pattern or of the words lies in it.
    fn shows(&self, drawn: &Drawn) -> bool {
        let view = self.view();
        let meets = |one: Rect| view.overlaps(one);
        let is_crossed = |path: &BezPath| {
            path.segments().any(|chord| meets(chord.bounding_box().inflate(0.1, 0.1)))
        };
        let is_on = |path: &BezPath| is_crossed(path) || path.contains(view.center());
        drawn.drawing.words.iter().any(|(words, _)| meets(*words))
            || drawn.outlines.iter().any(is_on)
    }

    fn draw(&self, all: &str, sheet: &str, (name, date): (&str, &str)) -> Drawing {
        let ((wide, high), (column, row)) = (self.room, self.at);
        let view = self.view();
        let mut out = Drawing::default();
        // What lies outside the inner view is cut off, as SVG has it for all but the outermost.
        out.out.push_str(&format!(
            "<svg x=\"{m}\" y=\"{m}\" width=\"{w}\" height=\"{h}\" viewBox=\"{} {} {w} {h}\" \
             overflow=\"hidden\">\n{all}</svg>\n",
            mm(view.x0),
            mm(view.y0),
            m = mm(MARGIN_MM),
            w = mm(wide),
            h = mm(high),
        ));
        let frame = Rect::new(MARGIN_MM, MARGIN_MM, MARGIN_MM + wide, MARGIN_MM + high);
        out.rect(frame, &format!("fill=\"none\" stroke=\"{HAIR}\" stroke-width=\"0.1\""));
        let dashed = format!(
            "class=\"overlap\" stroke=\"{SOFT}\" stroke-width=\"0.15\" stroke-dasharray=\"2 2\""
        );
        if column > 0 {
            let x = frame.x0 + OVERLAP_MM;
            out.line(&[(x, frame.y0), (x, frame.y1)], &dashed);
        }
        let rows_overlap = self.steps.1 < high;
        if row > 0 && rows_overlap {
            let y = frame.y0 + OVERLAP_MM;
            out.line(&[(frame.x0, y), (frame.x1, y)], &dashed);
        }
        let mut words = sheet.to_owned();
        if self.of.0 > 1 || (self.of.1 > 1 && rows_overlap) {
            words.push_str("; glue neighbours over each other as far as the dashed lines");
        }
        let style = format!("fill=\"{SOFT}\"");
        let foot = frame.y1 + 4.2;
        let name = dated(name, date, WORDS_MM, wide - text_width_mm(&words, WORDS_MM) - 4.0);
        out.text((MARGIN_MM, foot), WORDS_MM, &style, &words);
        let style = format!("text-anchor=\"end\" {style}");
        out.text((frame.x1, foot), WORDS_MM, &style, &name);
        // Each comes out of the printer by itself.
        let (bar_mm, bar_words) = bar(self.unit);
        scale_bar(&mut out, (MARGIN_MM, foot + 4.0), bar_mm, "sheet-bar", &bar_words);
        out
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;

    #[test]
    fn every_point_of_the_patterns_is_on_a_sheet() {
        for (length, room) in [(100.0, 190.0), (190.0, 190.0), (191.0, 190.0), (1000.0, 277.0)] {
            let sheets = f64::from(count(length, room, room - OVERLAP_MM));
            let reach = room + (sheets - 1.0) * (room - OVERLAP_MM);
            assert!(reach >= length && (sheets < 2.0 || reach - (room - OVERLAP_MM) < length));
        }
    }

    /// A wide pattern above and a narrow one below: beside the narrow one there is nothing.
    #[test]
    fn no_sheet_is_empty_and_each_has_its_bar() {
        let stations: String = [(0.0, 30.0), (240.0, 30.0), (250.0, 130.0), (270.0, 130.0)]
            .iter()
            .map(|(at, d)| format!("[[station]]\nat = {at}\ndiameter = {d}\n"))
            .collect();
        let blank = stave_setup::read_blank(&stations, "flask.toml").unwrap();
        let sheets = paper_sheets(&blank, SheetSize::Letter, "").unwrap();
        let patterns = super::super::patterns(&blank).unwrap();
        let room = (215.9 - 2.0 * MARGIN_MM, 279.4 - 2.0 * MARGIN_MM - FOOT_MM);
        let page = drawn("", "", &patterns, Some(room.1)).size;
        let all = count(page.0, room.0, room.0 - OVERLAP_MM) * count(page.1, room.1, room.1);
        assert!(sheets.len() < all as usize, "{} of {all}", sheets.len());
        for (k, sheet) in sheets.iter().enumerate() {
            assert!(sheet.contains(&format!("sheet {} of {}: ", k + 1, sheets.len())));
            assert_eq!(sheet.matches("id=\"sheet-bar\"").count(), 1);
        }
    }

    #[test]
    fn a_blank_as_large_as_a_house_is_not_parted() {
        let text =
            "[[station]]\nat = 0\ndiameter = 9000\n[[station]]\nat = 9000\ndiameter = 9000\n";
        let blank = stave_setup::read_blank(text, "tank.toml").unwrap();
        let found = paper_sheets(&blank, SheetSize::A4, "");
        assert!(matches!(found, Err(PaperError::TooMany { most: MOST_SHEETS, .. })));
    }
}
