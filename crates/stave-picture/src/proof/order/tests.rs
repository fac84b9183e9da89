//! The sheets of an order, held to what they are for.

use super::super::sample::{CAN, parts};
use super::super::{BurnMap, Burns};
use super::*;

fn card(row: usize, name: &str, text: &str) -> Card {
    Card {
        row,
        name: name.to_owned(),
        count: 1,
        texts: vec![text.to_owned()],
        told: vec!["cup: 114.3 mm measured along".to_owned()],
        ..Card::default()
    }
}

/// Every piece has its card and every letter of every text its place, on A4 and on Letter
/// (ANSI/ASME Y14.1: 8.5 by 11 inches).
#[test]
fn all_pieces_and_all_letters_are_on_the_pages() {
    let long = "Maximiliana ".repeat(20);
    let cards: Vec<Card> = (1..=20)
        .map(|row| card(row, &format!("<{row}> & co"), if row == 7 { &long } else { "Søn & {x}" }))
        .collect();
    let pages = order_pages("Cups & tins", "2026-11-30", SheetSize::A4, &cards, true);
    let all = pages.concat();
    assert_eq!(all.matches("class=\"card\"").count(), 20);
    assert_eq!(all.matches("Søn &amp; {x}").count(), 19);
    assert_eq!(all.matches("Maximiliana").count(), 20);
    assert!(
        all.contains("&lt;20&gt; &amp; co") && all.contains(&format!("page 1 of {}", pages.len()))
    );
    assert_eq!(all.matches("Approved as shown").count(), 1);
    for page in &pages {
        let tree = resvg::usvg::Tree::from_str(page, &resvg::usvg::Options::default()).unwrap();
        let mm = 25.4 / 96.0;
        assert!((f64::from(tree.size().width()) * mm - 210.0).abs() < 0.01);
        for attribute in page.split(" y=\"").skip(1) {
            let y: f64 = attribute.split('"').next().unwrap().parse().unwrap();
            assert!(y < 279.0 - 6.0, "{y}");
        }
    }
}

/// However long a name is and whichever way it is read, it stays on its card, larger than half of
/// it is told, nothing meets, and what is read from the right keeps to itself.
#[test]
fn no_name_leaves_its_card() {
    let names = [
        "WilhelminaKonstantinopolitanischeDudelsackspfeifenmachergesellschaft".to_owned(),
        "東京都千代田区丸の内一丁目永楽高等学校漕艇部創立百周年記念品贈呈式典実行委員会".repeat(2),
        "אגודת החותרים של נהר הקנים העליון (1924) קבוצת הנוער".to_owned(),
        "Reedwater Rowing Club, the committee of the summer regatta on the island".to_owned(),
        "Ada Quill".to_owned(),
    ];
    for name in &names {
        for (refused, told) in [(None, 4), (None, 1), (Some(format!("too-long: {name}")), 1)] {
            let told =
                vec!["cup: 114.3 mm measured along, 63.5 to 88.9 mm across".to_owned(); told];
            let card = Card { refused, told, ..card(1, name, "x") };
            let mut paper = Drawing::default();
            draw(&mut paper, &card, ((LEFT, TOP), 1), false);
            let room = kurbo::Rect::from_origin_size((LEFT, TOP), CARD);
            crate::draw::assert_words_apart(&paper, room);
            let shown: Vec<&str> = paper.words.iter().map(|(_, words)| words.as_str()).collect();
            let shown = shown.concat().replace(['\u{2068}', '\u{2069}', '…', ' '], "");
            let begins: String = name.replace(' ', "").chars().take(20).collect();
            assert!(shown.contains(&begins), "{shown}");
        }
    }
    let pages = order_pages(&names[2], "", SheetSize::A4, &[card(1, &names[2], &names[2])], true);
    let pages = pages.concat();
    let isolated = pages.matches('\u{2068}').count();
    assert!(isolated >= 5 && isolated == pages.matches('\u{2069}').count(), "{isolated}");
}

#[test]
fn the_customer_is_not_told_of_the_machine() {
    let refused = Card { refused: Some("too-long: shorten it".to_owned()), ..card(1, "A", "A") };
    let bench = order_pages("t", "", SheetSize::A4, std::slice::from_ref(&refused), false).concat();
    let customer =
        order_pages("t", "", SheetSize::A4, std::slice::from_ref(&refused), true).concat();
    assert!(bench.contains("not fit: too-long"), "{bench}");
    assert!(!customer.contains("too-long") && customer.contains("not settled yet"), "{customer}");
    let turned = Turned { card: refused, sheet: "<svg></svg>".to_owned() };
    let page = order_html("{texts} <b>", "2026-11-30", std::slice::from_ref(&turned), true);
    assert!(!page.contains("too-long") && page.contains("{texts} &lt;b&gt;"), "{page}");
    assert!(order_html("t", "", &[turned], false).contains("Not fit: too-long"));
}

/// A piece that is burned from a program has words that nobody listed, not none.
#[test]
fn the_words_of_a_program_are_not_said_to_be_none() {
    let bare = Card { texts: Vec::new(), ..card(1, "A", "") };
    let program = Card { is_program: true, ..bare.clone() };
    let pages = |card: &Card| {
        let turned = Turned { card: card.clone(), sheet: String::new() };
        let sheets = order_pages("t", "", SheetSize::A4, std::slice::from_ref(card), true).concat();
        (sheets, order_html("t", "", &[turned], true))
    };
    let (sheets, page) = pages(&program);
    assert!(sheets.contains(UNLISTED) && page.contains(UNLISTED) && !sheets.contains("no text"));
    let (sheets, page) = pages(&bare);
    assert!(!sheets.contains(UNLISTED) && !page.contains(UNLISTED) && sheets.contains("no text"));
}

/// Every id of a page once, and what is referred to by one is there.
fn assert_own_ids(page: &str) {
    let after = |mark: &'static str, end: char| -> Vec<&str> {
        page.split(mark).skip(1).filter_map(move |rest| rest.split(end).next()).collect()
    };
    let all = after(" id=\"", '"');
    for (k, id) in all.iter().enumerate() {
        assert!(!all[..k].contains(id), "{id} is there twice");
    }
    let used = after("\"url(#", ')');
    assert!(!used.is_empty());
    for id in used {
        assert!(all.contains(&id), "{id} is not there");
    }
}

/// Two wares of other colours on one page: neither is drawn in those of the other.
#[test]
fn each_piece_has_its_own_colours() {
    let (mut pieces, mut sheets) = (Vec::new(), Vec::new());
    for (row, ware) in [(1, "#204060"), (2, "#a03020")] {
        let blank = format!("{CAN}[look]\nware = \"{ware}\"\nburn = \"#ffffff\"\n");
        let blank = stave_setup::read_blank(&blank, "can.toml").unwrap();
        let burns = (BurnMap::new(&blank.wall, 0.2), Burns::new(&blank.wall, 0.2));
        let parts = parts(&blank, (&burns.0, &burns.1));
        let card = Card { picture: parts.card_picture(), ..card(row, "id=\"a\"", "url(#b)") };
        sheets.push(card.clone());
        pieces.push(Turned { card, sheet: parts.sheet_svg(true) });
    }
    for page in order_pages("t", "", SheetSize::A4, &sheets, true) {
        if page.contains("\"url(#") {
            assert_own_ids(&page);
        }
        assert!(!page.contains(">url(#") || page.contains(">url(#b)<"), "a text is changed");
    }
    assert_own_ids(&order_html("t", "", &pieces, true));
    // The ware itself, beside the art that is not there.
    let page = order_pages("t", "", SheetSize::A4, &sheets, true).swap_remove(0);
    let tree = resvg::usvg::Tree::from_str(&page, &resvg::usvg::Options::default()).unwrap();
    let scale = 2.0 * 25.4 / 96.0;
    let mut pixels = resvg::tiny_skia::Pixmap::new(420, 594).unwrap();
    let by = resvg::tiny_skia::Transform::from_scale(scale, scale);
    resvg::render(&tree, by, &mut pixels.as_mut());
    let red_of = |card: f64| {
        let at = (2.0 * (LEFT + CARD.0 * (card + 0.5)), 2.0 * (TOP + 25.0));
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        let pixel = pixels.pixel(at.0 as u32, at.1 as u32).unwrap();
        pixel.red()
    };
    assert!(red_of(0.0) < 80 && red_of(1.0) > 120, "{} and {}", red_of(0.0), red_of(1.0));
}
