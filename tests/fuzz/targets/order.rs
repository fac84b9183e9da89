//! Orders and their rows: any bytes are read or refused with a place; every piece has a file of
//! its own in the order's folder; the price is a sum.

use std::io::{self, Read};

use stave::setup::{Order, Rows, RowsError, RowsFrom, Separator, read_order, read_rows};
use stave::{PricedPiece, price};

const ORDER: &str = include_str!("../../../fixtures/orders/order.toml");

/// So many bytes at a time, as pipes give them.
struct Slowly<'a>(&'a [u8], usize);

impl Read for Slowly<'_> {
    fn read(&mut self, room: &mut [u8]) -> io::Result<usize> {
        let n = self.1.min(room.len()).min(self.0.len());
        let (now, later) = self.0.split_at(n);
        room[..n].copy_from_slice(now);
        self.0 = later;
        Ok(n)
    }
}

fn read(bytes: &[u8], chunk: usize, separator: Separator) -> Result<Rows, RowsError> {
    read_rows(Slowly(bytes, chunk), "rows", separator, None)
}

/// What the order makes of the rows: files in its folder, none twice, and a price.
fn made(order: &Order, rows: &Rows) {
    let Ok(pieces) = order.pieces(rows, "rows") else { return };
    assert_eq!(pieces.len(), rows.rows.len(), "a row is lost");
    let mut names = std::collections::HashSet::new();
    for piece in &pieces {
        let name = &piece.name;
        let is_plain = !name.is_empty()
            && !name.starts_with(['.', '-'])
            && !name.contains(|c: char| c == '/' || c == '\\' || c.is_control());
        assert!(is_plain && name.len() < 250, "a file called {name:?}");
        assert!(names.insert(name.to_lowercase()), "two files called {name:?}");
    }
    let Some(terms) = &order.price else { return };
    let priced: Vec<PricedPiece> = pieces
        .iter()
        .filter_map(|piece| {
            let count = *piece.count.as_ref().ok()?;
            let material = order.makes.get(*piece.make.as_ref().ok()?)?.material;
            let blank = "blank".to_owned();
            Some(PricedPiece { count, duration_s: 61.25, material, blank })
        })
        .collect();
    if let Ok(quote) = price(terms, &priced) {
        assert!(!format!("{quote:?}").contains("NaN"), "{quote:?}");
    }
}

/// The separator by the first byte, then a table.
pub(crate) fn rows(data: &[u8]) {
    let Some((first, table)) = data.split_first() else { return };
    let separator = if first % 2 == 0 { Separator::Comma } else { Separator::Tab };
    let whole = read(table, usize::MAX, separator);
    let bitwise = read(table, 1 + usize::from(first / 2), separator);
    assert_eq!(
        format!("{whole:?}"),
        format!("{bitwise:?}"),
        "the table hangs on how its bytes arrive"
    );
    match whole {
        Ok(rows) => made(&read_order(ORDER, "order.toml").expect("a fixture"), &rows),
        Err(error) => {
            let text = error.to_string();
            assert!(!text.is_empty() && !text.contains('\u{1b}'), "{text:?}");
        }
    }
}

/// An order with its rows within.
pub(crate) fn order(data: &[u8]) {
    let Ok(text) = std::str::from_utf8(data) else { return };
    match read_order(text, "order.toml") {
        Ok(order) => {
            if let RowsFrom::Here(rows) = &order.rows {
                made(&order, rows);
            }
        }
        Err(faults) => {
            assert!(!faults.as_slice().is_empty(), "refused without a fault");
            assert!(!faults.to_string().contains('\u{1b}'), "an escape reaches the terminal");
        }
    }
}
