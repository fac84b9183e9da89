//! The customer's sheet: the piece from three sides and unrolled, all at one scale, its texts to
//! read over, and a line to sign.

use stave_toolpath::number::fixed;

use super::elevation::{self, Art};
use super::sheet::{DOTS_PER_MM, LEFT, RIGHT};
use super::unrolled::{self, Unrolled};
use super::{ProofParts, Remark};
use crate::draw::{Drawing, INK, SOFT, broken, broken_to, cut, scale_bar, text_width_mm};

/// Where the pictures begin, and how high they may be.
const TOP: f64 = 33.0;
const TALL: f64 = 100.0;
/// What a name under a picture takes, and the bar.
const CAPTION: f64 = 9.0;
const BAR: f64 = 8.0;
/// Between pictures.
const GAP: f64 = 4.0;
/// How the texts may be set, the first that holds them all: their size, mm, and columns.
const SETTINGS: [(f64, usize); 4] = [(4.6, 2), (4.6, 3), (3.6, 3), (2.8, 4)];
/// From line to line, in sizes.
const LEADING: f64 = 1.32;
/// What stands above the line to sign, and below it.
pub(super) const CHECK: &str =
    "Please check the picture and the words in it. We engrave it as shown here.";
pub(super) const APPROVED: &str = "Approved (name and signature)";
/// What stands in their stead where it cannot be engraved so.
pub(super) const NOT_SETTLED: &str =
    "Not settled yet: it will not be engraved as it stands here. We shall ask you about it.";
/// What stands in the stead of a list of texts where there is none to be had.
pub(super) const UNLISTED: &str =
    "Words cannot be listed from a program: please read those in the picture.";
/// The size of the words that say where a picture is not true in width.
const NOT_TRUE_MM: f64 = 2.6;
/// The size of the line that tells when it was drawn, and from which files.
const DRAWN_MM: f64 = 2.4;
/// The lowest that texts may stand.
pub(super) const LOWEST: f64 = 179.0;

impl ProofParts<'_> {
    pub(super) fn customer(&self, paper: &mut Drawing, art: &Art<'_>) {
        let soft = format!("fill=\"{SOFT}\"");
        let wide = RIGHT - LEFT;
        paper.text((LEFT, 20.0), 8.0, "font-weight=\"bold\"", &cut(&self.name, 8.0, wide / 1.14));
        paper.text((LEFT, 27.0), 3.6, &soft, &self.customer_size_within((3.6, wide)));
        if self.plane.is_some() {
            let below = self.plane_alone(paper, art);
            self.to_read(paper, below + 9.0);
            return self.to_sign(paper);
        }
        let view = elevation::extent(self.blank, self.stands);
        let flat = unrolled::extent(self.blank, self.stands);
        let beside = ((wide - 4.0 * GAP) / (3.0 * view.0 + flat.0)).min(TALL / view.1.max(flat.1));
        // Where there is nothing to read over, low ware has the unrolled wall below the views.
        let across = ((wide - 3.0 * GAP) / (3.0 * view.0)).min(wide / flat.0);
        let below = across.min((LOWEST - TOP - 2.0 * CAPTION - BAR) / (view.1 + flat.1));
        let stacked = self.texts.is_empty() && below > 1.1 * beside;
        let scale = if stacked { below } else { beside };
        let views = if stacked { wide } else { 3.0 * (view.0 * scale + GAP) };
        let size = (scale * flat.0, scale * flat.1);
        let tall = if stacked { scale * view.1 } else { scale * view.1.max(flat.1) };
        self.views(paper, art, ((LEFT, TOP), (views, tall + 7.0)), true);
        let corner = match stacked {
            true => (0.5 * (LEFT + RIGHT - size.0), TOP + tall + CAPTION),
            false => (LEFT + views + GAP, TOP + 0.5 * (tall - size.1)),
        };
        let unrolled = Unrolled {
            blank: self.blank,
            stands: self.stands,
            margins_mm: &self.margins_mm,
            scale,
            corner,
            dots_per_mm: DOTS_PER_MM,
            plain: true,
            plane: false,
        };
        paper.group("class=\"unrolled\"", unrolled.draw(art, &[]));
        let below = if stacked { corner.1 + size.1 } else { TOP + tall } + 4.6;
        let centred = format!("text-anchor=\"middle\" {soft}");
        let words = "all around, unrolled; the front is in the middle";
        let middle = corner.0 + 0.5 * size.0;
        paper.text((middle, below), 3.0, &centred, words);
        let mut bar = "50 mm on the ware";
        if let Some(across) = unrolled::true_across_mm(self.blank) {
            // By equal turns: nobody is to sign for a width that is not so.
            let words = format!(
                "drawn too wide where the ware is less than {} mm across",
                fixed(across, 1)
            );
            let half = 0.5 * text_width_mm(&words, NOT_TRUE_MM);
            let middle = middle.min(RIGHT - half);
            paper.text((middle, below + 3.6), NOT_TRUE_MM, &centred, &words);
            bar = "50 mm on the ware as seen from the three sides";
        }
        scale_bar(paper, (LEFT, below + 7.0), 50.0 * scale, "scale", bar);
        self.to_read(paper, below + 16.0);
        if self.texts.is_empty() {
            self.close_to(paper, art, scale, below + 12.0);
        }
        self.to_sign(paper);
    }

    /// A flat place, seen from above; where the picture and its bar end, mm down the paper.
    fn plane_alone(&self, paper: &mut Drawing, art: &Art<'_>) -> f64 {
        let (mut plane, size) = Unrolled::of_plane(self, (RIGHT - LEFT, TALL));
        plane.corner = (0.5 * (LEFT + RIGHT - size.0), TOP);
        paper.group("class=\"unrolled\"", plane.draw(art, &[]));
        let below = TOP + size.1 + 8.0;
        scale_bar(paper, (LEFT, below), 10.0 * plane.scale, "scale", "10 mm on the ware");
        below
    }

    /// The texts, as large as there is room for: spelling is what goes wrong.
    fn to_read(&self, paper: &mut Drawing, top: f64) {
        if self.texts.is_empty() {
            return;
        }
        let heading = "Every text as it will be engraved. Please read each letter.";
        paper.text((LEFT, top), 3.2, "font-weight=\"bold\"", heading);
        let first = top + 2.0;
        let set = SETTINGS.map(|(size, columns)| self.set(size, columns, LOWEST - first));
        let all = self.texts.len();
        let Some(best) = set.iter().find(|set| set.texts == all).or(set.last()) else { return };
        for (k, line) in best.lines.iter().enumerate() {
            let x = LEFT + (column_mm(best.columns) + GAP) * (k / best.rows) as f64;
            let y = first + LEADING * best.size_mm * (1 + k % best.rows) as f64;
            paper.text((x, y), best.size_mm, "xml:space=\"preserve\" class=\"read\"", line);
        }
        if best.texts < all {
            let words =
                format!("and {} more, on the page that goes with this sheet", all - best.texts);
            let style = "font-weight=\"bold\" text-anchor=\"end\"";
            paper.text((RIGHT, top), 3.2, style, &words);
        }
    }

    /// The texts in columns so tall, as many as they hold.
    fn set(&self, size_mm: f64, columns: usize, tall_mm: f64) -> Set {
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        let rows = (tall_mm / (LEADING * size_mm)).floor().max(1.0) as usize;
        let mut set = Set { size_mm, columns, rows, lines: Vec::new(), texts: 0 };
        for text in &self.texts {
            let number = format!("{}. ", set.texts + 1);
            let room = column_mm(columns) - text_width_mm("    ", size_mm);
            let own = broken(text, size_mm, room - text_width_mm(&number, size_mm));
            if set.lines.len() + own.len() > columns * rows {
                break;
            }
            set.lines.extend(own.iter().enumerate().map(|(line, words)| {
                if line == 0 { format!("{number}{words}") } else { format!("    {words}") }
            }));
            set.texts += 1;
        }
        set
    }

    /// Whether it can be engraved as it is shown.
    pub(super) fn is_settled(&self) -> bool {
        Remark::refusing(&self.findings).is_none()
    }

    fn to_sign(&self, paper: &mut Drawing) {
        let soft = format!("fill=\"{SOFT}\"");
        let wide = RIGHT - LEFT;
        // So long that two lines hold it wherever a name that has no blanks is carried over.
        let drawn = self.drawn_within(true, (DRAWN_MM, 1.5 * wide));
        let drawn = broken_to(&drawn, DRAWN_MM, wide, 2);
        let y = if drawn.len() > 1 { 193.0 } else { 196.0 };
        if !self.texts_are_listed {
            paper.text((LEFT, 179.8), 3.0, "font-weight=\"bold\"", UNLISTED);
        }
        if self.is_settled() {
            paper.text((LEFT, 184.0), 3.4, "", CHECK);
            let style = format!("stroke=\"{INK}\" stroke-width=\"0.3\"");
            paper.line(&[(LEFT, y), (150.0, y)], &style);
            paper.line(&[(165.0, y), (230.0, y)], &style);
            paper.text((LEFT, y + 4.5), 3.0, &soft, APPROVED);
            paper.text((165.0, y + 4.5), 3.0, &soft, "Date");
        } else {
            // Nobody signs for what is not engraved.
            paper.text((LEFT, 184.0), 3.4, "font-weight=\"bold\"", NOT_SETTLED);
        }
        for (line, words) in drawn.iter().enumerate() {
            paper.text((LEFT, y + 8.8 + 3.0 * line as f64), DRAWN_MM, &soft, words);
        }
    }
}

/// Texts set in columns.
struct Set {
    size_mm: f64,
    columns: usize,
    /// Lines in a column.
    rows: usize,
    lines: Vec<String>,
    /// How many of the texts they are.
    texts: usize,
}

fn column_mm(columns: usize) -> f64 {
    (RIGHT - LEFT + GAP) / columns as f64 - GAP
}

#[cfg(test)]
mod tests {
    use super::super::sample::{CAN, parts};
    use super::super::{BurnMap, Burns, Weight};
    use super::*;

    /// Where no texts can be listed the sheet and the page say so, over whatever room is left.
    #[test]
    fn a_program_s_words_are_said_to_be_unlisted() {
        let blank = stave_setup::read_blank(CAN, "can.toml").unwrap();
        let (map, burns) = (BurnMap::new(&blank.wall, 0.2), Burns::new(&blank.wall, 0.2));
        let mut parts = parts(&blank, (&map, &burns));
        for drawn in [parts.sheet_svg(true), parts.page_html(true)] {
            assert!(!drawn.contains(UNLISTED));
        }
        parts.texts_are_listed = false;
        let sheet = parts.sheet_svg(true);
        assert!(sheet.contains(UNLISTED) && parts.page_html(true).contains(UNLISTED));
        assert!(!parts.sheet_svg(false).contains(UNLISTED));
        parts.lies.burned_s_mm = Some((40.0, 60.0));
        parts.lies.burned_turn_rad = Some((-0.5, 0.5));
        let mut paper = Drawing::default();
        let art = Art::new((&map, None), 0.0, Some(Default::default()));
        parts.customer(&mut paper, &art);
        crate::draw::assert_words_apart(&paper, kurbo::Rect::new(0.0, 0.0, 297.0, 210.0));
    }

    /// What nobody accepted as it is, nobody signs for: neither on the sheet nor on the page.
    #[test]
    fn a_piece_that_is_not_fit_has_no_line_to_sign() {
        let blank = stave_setup::read_blank(CAN, "can.toml").unwrap();
        let (map, burns) = (BurnMap::new(&blank.wall, 0.2), Burns::new(&blank.wall, 0.2));
        let mut parts = parts(&blank, (&map, &burns));
        let mut found = |severity: Weight| {
            let message = "zone: a burn lies on the kettle-lid".to_owned();
            parts.findings = vec![Remark { severity, message, place: None }];
            [parts.sheet_svg(true), parts.page_html(true)]
        };
        for drawn in found(Weight::Error) {
            assert!(drawn.contains(NOT_SETTLED) && !drawn.contains("kettle-lid"));
            assert!(!drawn.contains(CHECK) && !drawn.contains("signature"));
        }
        for severity in [Weight::Accepted, Weight::Warning] {
            for drawn in found(severity) {
                assert!(drawn.contains(CHECK) && drawn.contains(APPROVED));
                assert!(!drawn.contains(NOT_SETTLED));
            }
        }
    }
}
