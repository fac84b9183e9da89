//! The sheets of an order: every piece small, and all texts large, to be read over and signed.
//!
//! The pages are laid out on A4 (ISO 216), and what stands on them keeps within Letter too (216 by
//! 279 mm), so that they print at full size on either.

mod html;

pub use html::{Turned, order_html};

use stave_toolpath::number::fixed;

use super::ProofParts;
use super::customer::UNLISTED;
use super::elevation::{self, Art, Elevation};
use super::on_ware::{FlatPlace, Seen};
use super::png::PngError;
use super::unrolled::Unrolled;
use crate::draw::{Drawing, HAIR, INK, SOFT, SheetSize, broken, broken_to, dated, text_width_mm};
use crate::svg::{isolated, mm};

const LEFT: f64 = 14.0;
const RIGHT: f64 = 196.0;
const TOP: f64 = 30.0;
/// The lowest that a letter sheet shows, its own margin kept.
const BOTTOM: f64 = 266.0;
/// Cards on a page.
const ACROSS: usize = 3;
const DOWN: usize = 3;
const CARD: (f64, f64) = ((RIGHT - LEFT) / 3.0, 78.6);
/// How high a picture on it may be, and how wide words are.
const PICTURE_MM: f64 = 42.0;
const WORDS_MM: f64 = CARD.0 - 4.0;
/// Pixels a mm in the pictures of cards: 150 to the inch.
const DOTS_PER_MM: f64 = 5.9;
/// The font size of what a card tells, and what is left free in its lines of ware and size:
/// the longest word may be carried over.
const TOLD_MM: f64 = 2.6;
const CARRIED_MM: f64 = 14.0;
/// From line to line of it, and how many there is room for.
const TOLD_LINE_MM: f64 = 3.3;
const TOLD_LINES: usize = 6;
/// The font sizes of a name in one line, and in two.
const NAME_MM: f64 = 3.8;
const LONG_NAME_MM: f64 = 3.0;
/// The font size of texts that are read over, and what a line of it takes.
const READ_MM: f64 = 6.4;
const READ_LINE_MM: f64 = 9.0;
/// How wide such a line may be.
const READ_WIDTH_MM: f64 = RIGHT - LEFT - 14.0;

/// A piece of an order on its sheets.
#[derive(Clone, Debug, Default)]
pub struct Card {
    /// Its row.
    pub row: usize,
    /// Its name.
    pub name: String,
    /// How many there are.
    pub count: u32,
    /// Its texts as they will be burned.
    pub texts: Vec<String>,
    /// Whether it is burned from a program, whose texts cannot be listed.
    pub is_program: bool,
    /// Why it cannot be made, if it cannot.
    pub refused: Option<String>,
    /// The picture, in mm of a card; empty where there is none.
    pub picture: String,
    /// Blank, size and place, a line each.
    pub told: Vec<String>,
}

impl ProofParts<'_> {
    /// The piece as it faces what burns, as large as a card has room for.
    #[must_use]
    pub fn card_picture(&self) -> String {
        let (width, height) = elevation::extent(self.blank, self.stands);
        let room = (CARD.0 - 8.0, PICTURE_MM);
        let art = Art::new(
            (self.map, None),
            self.map.top_density(),
            Some(self.blank.look.unwrap_or_default()),
        );
        if let Some(place) = self.plane {
            return self.card_of_plane(&art, place, room);
        }
        let view = Elevation {
            blank: self.blank,
            stands: self.stands,
            facing_rad: self.facing_deg().to_radians(),
            scale: (room.0 / width).min(room.1 / height),
            middle: (CARD.0 / 2.0, 2.0 + room.1 / 2.0),
            dots_per_mm: DOTS_PER_MM,
            plain: true,
        };
        view.draw(&art).out
    }

    /// A flat place on its ware, and beside that larger.
    fn card_of_plane(&self, art: &Art<'_>, place: FlatPlace<'_>, room: (f64, f64)) -> String {
        let view = self.on_ware(place, Seen::Facing);
        let (share, (width, height)) = (0.4 * room.0, view.seen());
        let view = Elevation {
            scale: (share / width).min(room.1 / height),
            middle: (4.0 + 0.5 * share, 2.0 + 0.5 * room.1),
            dots_per_mm: DOTS_PER_MM,
            plain: true,
            ..view
        };
        let mut paper = view.draw_with_place(art, place.facet);
        let rest = room.0 - share - 3.0;
        let (mut plane, size) = Unrolled::of_plane(self, (rest, room.1));
        let middle = CARD.0 - 4.0 - 0.5 * rest;
        plane.corner = (middle - 0.5 * size.0, 2.0 + 0.5 * (room.1 - size.1));
        paper.out.push_str(&plane.draw(art, &[]).out);
        paper.out
    }

    /// Blank, size and place in words, and how the picture is turned.
    #[must_use]
    pub fn card_words(&self) -> Vec<String> {
        let ware = self.ware_within((TOLD_MM, 2.4 * WORDS_MM - CARRIED_MM));
        let mut words = vec![ware, self.engraved()];
        if let Some((from, to)) = self.lies.burned_at_mm(self.blank) {
            let unit = self.blank.unit();
            let (from, to) = (unit.figure(from, 1), unit.told(to, 1));
            words.push(format!("from {from} to {to} along the axis"));
        }
        let facing_deg = self.facing_deg();
        if facing_deg != 0.0 && self.plane.is_none() {
            words.push(format!("seen from turn {}°", fixed(facing_deg, 0)));
        }
        words
    }
}

/// The pages of an order as SVG, in mm: cards, then all texts in large letters, a line to sign at
/// the end, the date at the head of each, if there is one. For the customer, why a piece cannot be
/// made is left out.
#[must_use]
pub fn order_pages(
    title: &str,
    date: &str,
    sheet: SheetSize,
    cards: &[Card],
    for_customer: bool,
) -> Vec<String> {
    let mut pages: Vec<Drawing> = Vec::new();
    let numbered: Vec<(usize, &Card)> = cards.iter().enumerate().collect();
    for part in numbered.chunks(ACROSS * DOWN) {
        let mut paper = Drawing::default();
        for (place, (index, card)) in part.iter().enumerate() {
            let corner =
                (LEFT + CARD.0 * (place % ACROSS) as f64, TOP + CARD.1 * (place / ACROSS) as f64);
            draw(&mut paper, card, (corner, index + 1), for_customer);
        }
        pages.push(paper);
    }
    read_over(&mut pages, cards);
    let count = pages.len();
    let page = |(index, paper): (usize, Drawing)| {
        let mut head = Drawing::default();
        // Bold comes out wider by 1.14.
        let wide = 120.0 / 1.14;
        let is_short = text_width_mm(title, 6.0) <= wide;
        let (size, first) = if is_short { (6.0, 18.0) } else { (4.2, 13.6) };
        for (line, words) in broken_to(title, size, wide, 2).iter().enumerate() {
            let y = first + 5.4 * line as f64;
            head.text((LEFT, y), size, "font-weight=\"bold\"", &isolated(words));
        }
        let number = format!("page {} of {count}", index + 1);
        let told = dated(&number, date, 3.2, 60.0);
        head.text((RIGHT, 18.0), 3.2, &format!("text-anchor=\"end\" fill=\"{SOFT}\""), &told);
        head.line(
            &[(LEFT, 22.0), (RIGHT, 22.0)],
            &format!("stroke=\"{HAIR}\" stroke-width=\"0.25\""),
        );
        head.out.push_str(&paper.out);
        let carried = head.carried(sheet.standing_transform().as_deref());
        carried.document(sheet.size_mm(), &format!("Proof: {title}, {number}"))
    };
    pages.into_iter().enumerate().map(page).collect()
}

/// A page as PNG, at so many pixels to the inch (20 to 1200, clamped); the second value is false
/// where this machine has no font to set its words with.
///
/// # Errors
/// Where memory does not suffice.
pub fn order_page_png(page: &str, dots_per_inch: f64) -> Result<(Vec<u8>, bool), PngError> {
    super::png::render(page, dots_per_inch.clamp(20.0, 1200.0) / 25.4)
}

/// A drawing of ours with ids that no other piece on the page has: of two alike a browser takes the
/// first for both. Words in it hold no quotes as they are, so that none is taken for an id.
fn with_own_ids(svg: &str, number: usize) -> String {
    svg.replace(" id=\"", &format!(" id=\"p{number}-"))
        .replace("\"url(#", &format!("\"url(#p{number}-"))
}

fn draw(
    paper: &mut Drawing,
    card: &Card,
    ((x, y), number): ((f64, f64), usize),
    for_customer: bool,
) {
    let soft = format!("fill=\"{SOFT}\"");
    paper.out.push_str(&format!(
        "<g class=\"card\" transform=\"translate({} {})\">\n{}</g>\n",
        mm(x),
        mm(y),
        with_own_ids(&card.picture, number)
    ));
    let number = if card.count == 1 {
        format!("{}", card.row)
    } else {
        format!("{}  ({} pieces)", card.row, card.count)
    };
    paper.text((x + 2.0, y + 48.6), TOLD_MM, &soft, &number);
    // Bold comes out wider by 1.14.
    let bold_mm = WORDS_MM / 1.14;
    let is_short = text_width_mm(&card.name, NAME_MM) <= bold_mm;
    let size = if is_short { NAME_MM } else { LONG_NAME_MM };
    let mut at = y + if is_short { 53.2 } else { 52.4 };
    for line in broken_to(&card.name, size, bold_mm, 2) {
        paper.text((x + 2.0, at), size, "font-weight=\"bold\"", &isolated(&line));
        at += 1.2 * size;
    }
    let refused = match (&card.refused, for_customer) {
        (None, _) => None,
        (Some(_), true) => Some("not settled yet: we shall ask you about it".to_owned()),
        (Some(why), false) => Some(format!("not fit: {why}")),
    };
    if let Some(refused) = refused {
        for line in broken_to(&refused, TOLD_MM, bold_mm, TOLD_LINES) {
            let style = "font-weight=\"bold\" class=\"refused\"";
            paper.text((x + 2.0, at), TOLD_MM, style, &line);
            at += TOLD_LINE_MM;
        }
        return;
    }
    let mut left = TOLD_LINES;
    for told in &card.told {
        let lines = broken_to(told, TOLD_MM, WORDS_MM, left);
        left -= lines.len();
        for line in lines {
            paper.text((x + 2.0, at), TOLD_MM, &soft, &line);
            at += TOLD_LINE_MM;
        }
    }
}

/// All texts in large letters: spelling is what goes wrong.
fn read_over(pages: &mut Vec<Drawing>, cards: &[Card]) {
    let mut paper = Drawing::default();
    let mut y = TOP;
    let heading = |paper: &mut Drawing| {
        let words = "Every text as it will be engraved. Please read each letter.";
        paper.text((LEFT, TOP), 3.4, "font-weight=\"bold\"", words);
    };
    heading(&mut paper);
    y += 10.0;
    for card in cards {
        let lines: Vec<String> =
            card.texts.iter().flat_map(|text| broken(text, READ_MM, READ_WIDTH_MM)).collect();
        let settled = card.refused.is_none();
        let needed = READ_LINE_MM * (lines.len().max(1) + usize::from(!settled)) as f64;
        if y + needed > BOTTOM - 24.0 && y > TOP + 10.0 {
            pages.push(std::mem::take(&mut paper));
            heading(&mut paper);
            y = TOP + 10.0;
        }
        paper.text((LEFT, y), 3.0, &format!("fill=\"{SOFT}\""), &card.row.to_string());
        for line in &lines {
            let style = "class=\"read\" xml:space=\"preserve\"";
            paper.text((LEFT + 14.0, y), READ_MM, style, &isolated(line));
            y += READ_LINE_MM;
        }
        if lines.is_empty() {
            let words = if card.is_program { UNLISTED } else { "no text" };
            paper.text((LEFT + 14.0, y), 3.0, &format!("fill=\"{SOFT}\""), words);
            y += READ_LINE_MM;
        }
        if !settled {
            // Nobody signs for what is not engraved.
            let words = "not settled yet: this one will not be engraved as it stands here";
            paper.text((LEFT + 14.0, y - 3.0), 3.0, "font-weight=\"bold\"", words);
            y += 0.5 * READ_LINE_MM;
        }
        let style = format!("stroke=\"{HAIR}\" stroke-width=\"0.12\"");
        paper.line(&[(LEFT, y - 5.6), (RIGHT, y - 5.6)], &style);
    }
    let y = BOTTOM - 8.0;
    let style = format!("stroke=\"{INK}\" stroke-width=\"0.3\"");
    paper.line(&[(LEFT, y), (LEFT + 106.0, y)], &style);
    paper.line(&[(LEFT + 118.0, y), (RIGHT, y)], &style);
    let soft = format!("fill=\"{SOFT}\"");
    paper.text(
        (LEFT, y + 4.5),
        3.0,
        &soft,
        "Approved as shown and spelled here (name and signature)",
    );
    paper.text((LEFT + 118.0, y + 4.5), 3.0, &soft, "Date");
    pages.push(paper);
}

#[cfg(test)]
mod tests;
