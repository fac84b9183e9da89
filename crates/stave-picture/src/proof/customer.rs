//! The customer's sheet: the piece from three sides and unrolled, all at one scale, its texts to
//! read over, and a line to sign.

use kurbo::Rect;

use super::close_up::CloseUp;
use super::elevation::{self, Art};
use super::on_ware::{self, Seen};
use super::sheet::{DOTS_PER_MM, LEFT, RIGHT};
use super::unrolled::{self, Unrolled};
use super::{ProofParts, Remark};
use crate::draw::{
    Drawing, INK, SOFT, bar_told, broken, broken_to, check_bar_mm, cut, scale_bar, short_bar_mm,
    text_width_mm,
};
use crate::svg::isolated;

/// Where the pictures begin, and how high they may be.
const TOP: f64 = 37.0;
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
/// The lowest that texts and pictures may stand.
const LOWEST: f64 = 179.0;
/// The name of the unrolled wall.
const UNROLLED: &str = "all around, unrolled; the front is in the middle";
/// What is narrower or lower is no room for a picture.
const LEAST_ROOM: f64 = 15.0;

impl ProofParts<'_> {
    pub(super) fn customer(&self, paper: &mut Drawing, art: &Art<'_>) {
        let soft = format!("fill=\"{SOFT}\"");
        let wide = RIGHT - LEFT;
        paper.text(
            (LEFT, 20.0),
            8.0,
            "font-weight=\"bold\"",
            &isolated(&cut(&self.name, 8.0, wide / 1.14)),
        );
        paper.text((LEFT, 27.0), 3.6, &soft, &self.customer_size_within((3.6, wide)));
        if let Some(place) = self.engraved_place() {
            paper.text((LEFT, 32.0), 3.6, &soft, &place);
        }
        if self.plane.is_some() {
            let below = self.plane_and_ware(paper, art);
            self.to_read(paper, below + 9.0);
            return self.to_sign(paper);
        }
        let close = CloseUp::around(self);
        let larger = |laid: &Laid| {
            let close = close.as_ref().and_then(|close| close.fitted(laid.scale, &laid.rooms));
            close.map_or(laid.scale, |(scale, _)| scale)
        };
        let beside = self.laid(false);
        // Where there is nothing to read over, low ware has the unrolled wall below the views, if
        // what is engraved is no smaller for it.
        let stacked = self.texts.is_empty().then(|| self.laid(true));
        let stacked = stacked.filter(|laid| laid.scale > 1.1 * beside.scale);
        let laid = match stacked.filter(|laid| larger(laid) >= larger(&beside)) {
            Some(stacked) => stacked,
            None => beside,
        };
        self.pictures(paper, art, &laid);
        self.to_read(paper, laid.below + 16.0);
        if let Some(close) = close {
            close.draw_within(paper, art, laid.scale, &laid.rooms);
        }
        self.to_sign(paper);
    }

    /// Views and unrolled wall, this below or beside them.
    fn laid(&self, stacked: bool) -> Laid {
        let wide = RIGHT - LEFT;
        let view = elevation::extent(self.blank, self.stands);
        let flat = unrolled::extent(self.blank, self.stands);
        let scale = if stacked {
            let across = ((wide - 3.0 * GAP) / (3.0 * view.0)).min(wide / flat.0);
            across.min((LOWEST - TOP - 2.0 * CAPTION - BAR) / (view.1 + flat.1))
        } else {
            ((wide - 4.0 * GAP) / (3.0 * view.0 + flat.0)).min(TALL / view.1.max(flat.1))
        };
        let views = if stacked { wide } else { 3.0 * (view.0 * scale + GAP) };
        let size = (scale * flat.0, scale * flat.1);
        let tall = if stacked { scale * view.1 } else { scale * view.1.max(flat.1) };
        let corner = match stacked {
            true => (0.5 * (LEFT + RIGHT - size.0), TOP + tall + CAPTION),
            false => (LEFT + views + GAP, TOP + 0.5 * (tall - size.1)),
        };
        let below = if stacked { corner.1 + size.1 } else { TOP + tall } + 4.6;
        let middle = corner.0 + 0.5 * size.0;
        // By equal turns: nobody is to sign for a width that is not so.
        let not_true = unrolled::true_across_mm(self.blank).map(|across| {
            let across = self.blank.unit().told(across, 1);
            format!("drawn too wide where the ware is less than {across} across")
        });
        let not_true = not_true.map(|words| {
            let half = 0.5 * text_width_mm(&words, NOT_TRUE_MM);
            (middle.min(RIGHT - half), half, words)
        });
        let named = middle + 0.5 * text_width_mm(UNROLLED, 3.0);
        let right = (corner.0 + size.0).max(named);
        let right = not_true.iter().fold(right, |right, (x, half, _)| right.max(x + half));
        let lowest = LOWEST - if self.texts_are_listed { 0.0 } else { 2.0 };
        let above = if self.texts.is_empty() { lowest } else { below + 11.0 };
        let mut rooms = match self.to_read(&mut Drawing::default(), below + 16.0) {
            None => vec![Rect::new(LEFT, below + 12.0, RIGHT, lowest)],
            // Under the texts, or beside them.
            Some(read) => vec![
                Rect::new(LEFT, read.y1 + 5.0, RIGHT, lowest),
                Rect::new(read.x1 + 2.0 * GAP, below + 12.0, RIGHT, lowest),
            ],
        };
        rooms.push(Rect::new(right + 2.0 * GAP, TOP, RIGHT, above));
        rooms.retain(|room| room.x1 - room.x0 > LEAST_ROOM && room.y1 - room.y0 > LEAST_ROOM);
        let views = (views, tall + 7.0);
        Laid { scale, views, corner, middle, below, not_true, rooms }
    }

    fn pictures(&self, paper: &mut Drawing, art: &Art<'_>, laid: &Laid) {
        self.views(paper, art, ((LEFT, TOP), laid.views), true);
        let unrolled = Unrolled {
            blank: self.blank,
            stands: self.stands,
            margins_mm: &self.margins_mm,
            scale: laid.scale,
            corner: laid.corner,
            dots_per_mm: DOTS_PER_MM,
            plain: true,
            plane: false,
        };
        paper.group("class=\"unrolled\"", unrolled.draw(art, &[]));
        let centred = format!("text-anchor=\"middle\" fill=\"{SOFT}\"");
        paper.text((laid.middle, laid.below), 3.0, &centred, UNROLLED);
        let bar_mm = check_bar_mm(self.blank.unit());
        let mut bar = format!("{} on the ware", bar_told(self.blank.unit(), bar_mm));
        if let Some((x, _, words)) = &laid.not_true {
            paper.text((*x, laid.below + 3.6), NOT_TRUE_MM, &centred, words);
            bar.push_str(" as seen from the three sides");
        }
        scale_bar(paper, (LEFT, laid.below + 7.0), bar_mm * laid.scale, "scale", &bar);
    }

    /// A flat place on its ware, and beside that larger, seen from above; where the pictures and
    /// their bars end, mm down the paper.
    fn plane_and_ware(&self, paper: &mut Drawing, art: &Art<'_>) -> f64 {
        let ware = (0.3 * (RIGHT - LEFT), TALL + CAPTION);
        let (scale, _) =
            self.draw_on_ware(paper, (art, true), &[((LEFT, TOP), Seen::Facing)], ware);
        let left = LEFT + ware.0 + 4.0 * GAP;
        let (mut plane, size) = Unrolled::of_plane(self, (RIGHT - left, TALL));
        plane.corner = (left + 0.5 * (RIGHT - left - size.0), TOP);
        paper.group("class=\"unrolled\"", plane.draw(art, &[]));
        let centred = format!("text-anchor=\"middle\" fill=\"{SOFT}\"");
        let (middle, named) = (0.5 * (left + RIGHT), TOP + size.1 + 4.6);
        paper.text((middle, named), 2.6, &centred, "the flat place, larger");
        let below = TOP + TALL + CAPTION + 3.0;
        let unit = self.blank.unit();
        on_ware::bar(paper, ((LEFT, below), unit), scale, "scale-on-ware");
        let bar_mm = short_bar_mm(unit);
        let bar = format!("{} on the flat place", bar_told(unit, bar_mm));
        scale_bar(paper, (left, below), bar_mm * plane.scale, "scale", &bar);
        below
    }

    /// The texts, as large as there is room for: spelling is what goes wrong. What of the paper
    /// they take, where there are any.
    fn to_read(&self, paper: &mut Drawing, top: f64) -> Option<Rect> {
        if self.texts.is_empty() {
            return None;
        }
        let heading = "Every text as it will be engraved. Please read each letter.";
        paper.text((LEFT, top), 3.2, "font-weight=\"bold\"", heading);
        let first = top + 2.0;
        let set = SETTINGS.map(|(size, columns)| self.set(size, columns, LOWEST - first));
        let all = self.texts.len();
        let best = set.iter().find(|set| set.texts == all).or(set.last())?;
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
        let (lines, long) = (best.lines.len(), 1.14 * text_width_mm(heading, 3.2));
        let columns = lines.div_ceil(best.rows) as f64;
        let right = LEFT + columns * (column_mm(best.columns) + GAP) - GAP;
        let bottom = first + LEADING * best.size_mm * (lines.min(best.rows) as f64 + 0.3);
        Some(Rect::new(LEFT, top - 3.2, right.max(LEFT + long), bottom))
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
                let words = isolated(words);
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

/// Where the pictures lie, and what is left.
struct Laid {
    /// mm of paper for a mm of ware.
    scale: f64,
    /// How much the three views take, from the left end of the paper.
    views: (f64, f64),
    /// The upper left corner of the unrolled wall, and the middle across of its name.
    corner: (f64, f64),
    middle: f64,
    /// Where that name stands, below all pictures.
    below: f64,
    /// What is said of widths, if anything: about which middle, half how wide.
    not_true: Option<(f64, f64, String)>,
    /// Where the engraving may be shown larger.
    rooms: Vec<Rect>,
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
    use super::super::sample::{CAN, MUG, parts};
    use super::super::{BurnMap, Burns, FlatPlace, Weight};
    use super::*;
    use stave_setup::Stands;

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
        crate::draw::assert_words_apart(&paper, Rect::new(0.0, 0.0, 297.0, 210.0));
    }

    /// What is signed for is seen large wherever the paper has room for it: below the views, beside
    /// them, and with texts to read over; no words meet, and where it lies is told.
    #[test]
    fn the_engraving_is_enlarged_wherever_there_is_room() {
        let station =
            |(at, across): (f64, f64)| format!("[[station]]\nat = {at}\ndiameter = {across}\n");
        for (ware, s_mm, where_to) in [
            ([(0.0, 80.0), (340.0, 30.0)], (60.0, 130.0), ">210.4 mm from the rim and 59.8 mm"),
            ([(0.0, 96.0), (70.0, 96.0)], (20.0, 44.0), ">26 mm from the rim and 20 mm"),
        ] {
            let text: String = ware.into_iter().map(station).collect();
            let blank = stave_setup::read_blank(&text, "ware.toml").unwrap();
            let (mut map, burns) = (BurnMap::new(&blank.wall, 0.2), Burns::new(&blank.wall, 0.2));
            let place = |s_mm, turn_rad| super::super::WallPlace { s_mm, turn_rad };
            map.burn(place(s_mm.0, -0.3), place(s_mm.1, 0.5), 1.0, 0.0, 0);
            let (none, some) = (&[][..], &["one", "two", "three"][..]);
            for (stands, texts) in [
                (Stands::Upright, none),
                (Stands::Upright, some),
                (Stands::Inverted, some),
                (Stands::Lying, none),
            ] {
                let mut parts = parts(&blank, (&map, &burns));
                parts.stands = stands;
                parts.texts = texts.iter().map(|text| (*text).to_owned()).collect();
                parts.lies.burned_s_mm = Some(s_mm);
                parts.lies.burned_turn_rad = Some((-0.3, 0.5));
                let mut paper = Drawing::default();
                let art = Art::new((&map, None), 0.0, Some(Default::default()));
                parts.customer(&mut paper, &art);
                let page = Rect::new(0.0, 0.0, 297.0, 210.0);
                crate::draw::assert_words_apart(&paper, page);
                assert!(paper.out.contains("\"detail\""), "{ware:?} {stands:?} {texts:?}");
                let told = stands != Stands::Upright || paper.out.contains(where_to);
                assert!(told, "{}", parts.engraved_place().unwrap());
            }
        }
    }

    /// Which way is told as it is seen: what turns on lies to the left of ware that stands.
    #[test]
    fn where_it_lies_is_told_as_it_is_seen() {
        let blank = stave_setup::read_blank(CAN, "can.toml").unwrap();
        let (map, burns) = (BurnMap::new(&blank.wall, 0.2), Burns::new(&blank.wall, 0.2));
        let mut parts = parts(&blank, (&map, &burns));
        assert_eq!(parts.engraved_place(), None);
        parts.lies.burned_s_mm = Some((10.0, 40.0));
        let told = |parts: &ProofParts<'_>| parts.engraved_place().unwrap();
        let along = "60 mm from the rim and 10 mm from the foot, measured along";
        assert_eq!(told(&parts), along);
        parts.lies.burned_turn_rad = Some((0.1, 0.5));
        let left = "; its middle 10.5 mm around, to the left of the front";
        assert_eq!(told(&parts), format!("{along}{left}"));
        parts.stands = Stands::Inverted;
        let over = "60 mm from the foot and 10 mm from the rim, measured along";
        let right = "; its middle 10.5 mm around, to the right of the front";
        assert_eq!(told(&parts), format!("{over}{right}"));
        parts.stands = Stands::Lying;
        assert_eq!(told(&parts), format!("{along}; its middle 10.5 mm around, above the front"));
        parts.lies.burned_turn_rad = Some((-0.2, 0.2));
        assert_eq!(told(&parts), format!("{along}; in the middle of the front"));
        // All around there is no middle.
        parts.lies.burned_turn_rad = Some((-3.2, 3.2));
        assert_eq!(told(&parts), along);
        assert!(parts.page_html(true).contains(along) && !parts.page_html(false).contains(along));
        let ware = stave_setup::read_blank(MUG, "mug.toml").unwrap();
        parts.plane = Some(FlatPlace { facet: &ware.facets[0], ware: &ware });
        parts.stands = Stands::Upright;
        parts.lies.burned_turn_rad = Some((0.1, 0.5));
        let flat = "60 mm from the upper edge and 10 mm from the lower edge; its middle 10.5 mm to \
                    the left of that of the flat place";
        assert_eq!(told(&parts), flat);
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
