//! The customer's sheet: the piece from three sides and unrolled, all at one scale, its texts to
//! read over, and a line to sign.

use super::Proof;
use super::elevation::{self, Art};
use super::sheet::{DOTS_PER_MM, LEFT, RIGHT};
use super::unrolled::{self, Unrolled};
use crate::draw::{Drawing, INK, SOFT, broken_to, cut, scale_bar, text_width_mm};

/// Where the pictures begin, and how high they may be.
const TOP: f64 = 33.0;
const TALL: f64 = 100.0;
/// Between pictures.
const GAP: f64 = 4.0;
/// Where the texts begin, how large they are, and how many lines there is room for.
const TEXTS: f64 = 150.0;
const READ_MM: f64 = 4.6;
const LINE_MM: f64 = 6.0;
const LINES: usize = 4;
const COLUMNS: usize = 2;

impl Proof<'_> {
    pub(super) fn customer(&self, paper: &mut Drawing, art: &Art<'_>) {
        let soft = format!("fill=\"{SOFT}\"");
        let wide = RIGHT - LEFT;
        paper.text((LEFT, 20.0), 8.0, "font-weight=\"bold\"", &cut(&self.name, 8.0, wide / 1.14));
        paper.text((LEFT, 27.0), 3.6, &soft, &cut(&self.customer_size(), 3.6, wide));
        let view = elevation::extent(self.blank, self.stands);
        let flat = unrolled::extent(self.blank, self.stands);
        let scale = ((wide - 4.0 * GAP) / (3.0 * view.0 + flat.0)).min(TALL / view.1.max(flat.1));
        let views = 3.0 * (view.0 * scale + GAP);
        self.views(paper, art, ((LEFT, TOP), (views, TALL + 7.0)), true);
        let size = (scale * flat.0, scale * flat.1);
        let corner = (LEFT + views + GAP, TOP + 0.5 * (TALL - size.1));
        let unrolled = Unrolled {
            blank: self.blank,
            stands: self.stands,
            margins_mm: &self.margins_mm,
            scale,
            corner,
            dots_per_mm: DOTS_PER_MM,
            plain: true,
        };
        paper.group("class=\"unrolled\"", unrolled.draw(art, &[]));
        let below = TOP + 0.5 * TALL + 0.5 * size.1.max(scale * view.1) + 4.6;
        let centred = format!("text-anchor=\"middle\" {soft}");
        paper.text((corner.0 + 0.5 * size.0, below), 3.0, &centred, "all around, unrolled");
        scale_bar(paper, (LEFT, TEXTS - 7.0), 50.0 * scale, "scale", "50 mm on the ware");
        self.to_read(paper);
        self.to_sign(paper);
    }

    /// The texts, large enough to read each letter: spelling is what goes wrong.
    fn to_read(&self, paper: &mut Drawing) {
        if self.texts.is_empty() {
            return;
        }
        let heading = "Every text as it will be engraved. Please read each letter.";
        paper.text((LEFT, TEXTS), 3.2, "font-weight=\"bold\"", heading);
        let wide = (RIGHT - LEFT - GAP) / COLUMNS as f64;
        let mut lines: Vec<String> = Vec::new();
        for (k, text) in self.texts.iter().enumerate() {
            let number = format!("{}. ", k + 1);
            let room = wide - text_width_mm(&number, READ_MM);
            let own = broken_to(text, READ_MM, room, LINES * COLUMNS);
            let left = self.texts.len() - k;
            // The last line tells what the sheet has no room for.
            let room = LINES * COLUMNS - usize::from(left > 1);
            if lines.len() + own.len() > room {
                lines.push(format!("and {left} more: the page (-o proof.html) has them all"));
                break;
            }
            let numbered = own.into_iter().enumerate();
            lines.extend(numbered.map(|(line, words)| {
                if line == 0 { format!("{number}{words}") } else { format!("    {words}") }
            }));
        }
        for (k, line) in lines.iter().enumerate() {
            let x = LEFT + (wide + GAP) * (k / LINES) as f64;
            let y = TEXTS + 2.0 + LINE_MM * (1 + k % LINES) as f64;
            paper.text((x, y), READ_MM, "xml:space=\"preserve\" class=\"read\"", line);
        }
    }

    fn to_sign(&self, paper: &mut Drawing) {
        let soft = format!("fill=\"{SOFT}\"");
        let y = 196.0;
        let words = "Please check the picture and the words in it. We engrave it as shown here.";
        paper.text((LEFT, y - 12.0), 3.4, "", words);
        let style = format!("stroke=\"{INK}\" stroke-width=\"0.3\"");
        paper.line(&[(LEFT, y), (150.0, y)], &style);
        paper.line(&[(165.0, y), (230.0, y)], &style);
        paper.text((LEFT, y + 4.5), 3.0, &soft, "Approved (name and signature)");
        paper.text((165.0, y + 4.5), 3.0, &soft, "Date");
    }
}
