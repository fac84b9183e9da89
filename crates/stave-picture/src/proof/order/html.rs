//! The page of an order, to turn through its pieces.

use super::super::customer::UNLISTED;
use super::super::page::{filled, script_hash};
use super::{Card, with_own_ids};
use crate::svg::{escaped, isolated};

/// A piece on the page of its order: its card, and its sheet as SVG.
#[derive(Clone, Debug)]
pub struct Turned {
    /// The card.
    pub card: Card,
    /// The sheet that is shown for it.
    pub sheet: String,
}

/// The page that turns through the pieces of an order, one HTML file that needs no network: each on
/// its sheet, by button, arrow key or number, and all texts in large letters at the end.
#[must_use]
pub fn order_html(title: &str, date: &str, pieces: &[Turned], for_customer: bool) -> String {
    let drawn = match date {
        "" => String::new(),
        date => format!("<p>Drawn {}</p>", escaped(date)),
    };
    let title = escaped(&isolated(title));
    let mut sheets = String::new();
    let mut list = String::new();
    let mut texts = String::new();
    for (index, piece) in pieces.iter().enumerate() {
        let card = &piece.card;
        let name = escaped(&isolated(&card.name));
        let refused = match (&card.refused, for_customer) {
            (None, _) => String::new(),
            (Some(_), true) => {
                "<p class=\"refused\">Not settled yet: we shall ask you about it.</p>".to_owned()
            }
            (Some(why), false) => {
                format!("<p class=\"refused\">Not fit: {}</p>", escaped(why))
            }
        };
        let shown = if index == 0 { "" } else { " hidden" };
        let count = match card.count {
            1 => String::new(),
            count => format!(" ({count} pieces)"),
        };
        sheets.push_str(&format!(
            "<section id=\"piece-{row}\" aria-label=\"Piece {row}, {name}\"{shown}>\n\
             <h2>{row}. {name}{count}</h2>\n{refused}<div class=\"sheet\" role=\"group\" \
             aria-label=\"Sheet of piece {row}\" tabindex=\"0\">\n{}\n</div>\n</section>\n",
            with_own_ids(&piece.sheet, index + 1),
            row = card.row,
        ));
        list.push_str(&format!("<option value=\"{index}\">{}. {name}</option>\n", card.row));
        let lines: Vec<String> = card
            .texts
            .iter()
            .map(|text| format!("<p dir=\"auto\">{}</p>", escaped(text)))
            .collect();
        let settled = match card.refused {
            None => "",
            Some(_) => {
                "<p class=\"refused\">Not settled yet: this one will not be engraved as it stands \
                 here.</p>"
            }
        };
        let lines = if card.is_program && lines.is_empty() {
            format!("<p>{UNLISTED}</p>")
        } else {
            lines.concat()
        };
        texts.push_str(&format!("<li value=\"{}\">{lines}{settled}</li>\n", card.row));
    }
    let script = PAGE.split_once("<script>").and_then(|(_, rest)| rest.split_once("</script>"));
    let hash = script_hash(script.map_or("", |(script, _)| script));
    filled(
        PAGE,
        &[
            ("{{script_hash}}", &hash),
            ("{title}", &title),
            ("{drawn}", &drawn),
            ("{list}", &list),
            ("{texts}", &texts),
            ("{sheets}", &sheets),
        ],
    )
}

const PAGE: &str = include_str!("../../../page/order.html");
