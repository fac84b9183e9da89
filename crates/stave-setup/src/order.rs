//! An order: which rows make which pieces, and what they cost.

use rust_decimal::Decimal;
use stave_toolpath::field::{FieldText, Fields};

use crate::{Fault, Faults, Given, Row, Rows, file_name, folded};

/// An order as its file says it.
#[derive(Clone, Debug)]
pub struct Order {
    /// The machine's file, seen from the order's; `None` where the jobs name theirs.
    pub machine: Option<Given<String>>,
    /// Where its rows come from.
    pub rows: RowsFrom,
    /// The folder of results, seen from the order's file.
    pub out: String,
    /// What each piece's file is called, with fields.
    pub name: Given<FieldText>,
    /// What is made; the first that fits a row makes its piece.
    pub makes: Vec<Make>,
    /// The terms of its price, if it has any.
    pub price: Option<PriceTerms>,
    /// What a person should know.
    pub warnings: Vec<Fault>,
}

/// Where the rows of an order come from.
#[derive(Clone, Debug)]
pub enum RowsFrom {
    /// A table, seen from the order's file; `-` is standard input.
    File(Given<String>),
    /// The order itself.
    Here(Rows),
}

/// What makes the pieces of some rows.
#[derive(Clone, Debug)]
pub struct Make {
    /// The values that a row must have, field by field.
    pub when: Vec<(String, String)>,
    /// The blank's file, seen from the order's; `None` where the job names it.
    pub blank: Option<Given<String>>,
    /// The job's file, likewise.
    pub job: Option<Given<String>>,
    /// What is burned; `None` where the job names it.
    pub input: Option<Given<String>>,
    /// How many pieces a row is, with fields.
    pub count: Given<FieldText>,
    /// The price of one blank.
    pub material: Decimal,
}

impl Make {
    /// Whether it makes the piece of a row.
    #[must_use]
    pub fn fits(&self, fields: &Fields) -> bool {
        self.when.iter().all(|(name, value)| fields.get(name) == Some(value))
    }
}

/// The terms of a price: money in the order's own currency.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct PriceTerms {
    /// The price of an hour of machine and hands.
    pub rate: Decimal,
    /// Seconds of setting up, once for each blank.
    pub set_up_s: Decimal,
    /// Seconds of loading, aligning and cleaning a piece.
    pub handling_s: Decimal,
    /// Percent of the pieces that are expected to be spoiled.
    pub spoilage_percent: Decimal,
    /// Percent put on the cost.
    pub markup_percent: Decimal,
    /// From so many pieces, so many percent off; pieces rising.
    pub discount: Vec<(u32, Decimal)>,
    /// Percent of tax.
    pub tax_percent: Decimal,
    /// Decimals of the currency.
    pub decimals: u32,
}

/// The piece of a row.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct OrderPiece {
    /// The row, counted from 1 without the header.
    pub row: usize,
    /// The line that it begins on.
    pub line: u64,
    /// Its fields.
    pub fields: Fields,
    /// What its file is called, without folder and ending.
    pub name: String,
    /// Which of the order's makes makes it, or why none does: a sentence.
    pub make: Result<usize, String>,
    /// How many there are, or why that cannot be told: a sentence.
    pub count: Result<u32, String>,
}

/// The most pieces of a row.
const MOST_COUNT: u32 = 1_000_000;

impl Order {
    /// The pieces of its rows. What is wrong with one row is told with that row, and spoils no
    /// other.
    ///
    /// # Errors
    /// A field that the order names and the rows have not; two rows whose files would be one.
    /// `table` is what messages call the rows.
    pub fn pieces(&self, rows: &Rows, table: &str) -> Result<Vec<OrderPiece>, Faults> {
        self.check_fields(rows, table)?;
        let mut pieces: Vec<OrderPiece> = Vec::with_capacity(rows.rows.len());
        let mut names = std::collections::HashMap::new();
        let mut faults = Vec::new();
        for (index, row) in rows.rows.iter().enumerate() {
            let piece = self.piece(index + 1, row, rows.fields(row));
            let place = |piece: &OrderPiece| match piece.line {
                0 => format!("row {}", piece.row),
                line => format!("row {} (line {line})", piece.row),
            };
            if let Some(&known) = names.get(&folded(&piece.name)) {
                let other: &OrderPiece = &pieces[known];
                faults.push(Fault::new(
                    self.name.from.clone(),
                    format!(
                        "{} and {} of {table} would both be written to \"{}\": let `name` tell \
                         them apart",
                        place(other),
                        place(&piece),
                        piece.name
                    ),
                ));
            } else {
                names.insert(folded(&piece.name), pieces.len());
            }
            pieces.push(piece);
        }
        if faults.is_empty() { Ok(pieces) } else { Err(faults.into()) }
    }

    fn piece(&self, row: usize, from: &Row, fields: Fields) -> OrderPiece {
        // All fields are there, as was seen before.
        let name = file_name(&self.name.value.filled(&fields).unwrap_or_default());
        let make = self.makes.iter().position(|make| make.fits(&fields)).ok_or_else(|| {
            let named = self.makes.iter().flat_map(|make| &make.when).map(|(name, _)| name);
            let mut said: Vec<String> = Vec::new();
            for name in named {
                let value = fields.get(name).map_or("", String::as_str);
                let one = format!("{name} is \"{}\"", shown(value));
                if !said.contains(&one) {
                    said.push(one);
                }
            }
            format!("no [[make]] of the order fits it: {}", said.join(", "))
        });
        let count = match &make {
            Ok(make) => {
                self.makes.get(*make).map_or(Ok(1), |make| count(&make.count.value, &fields))
            }
            Err(_) => Ok(1),
        };
        OrderPiece { row, line: from.line, fields, name, make, count }
    }

    /// Every field that the order names must be there.
    fn check_fields(&self, rows: &Rows, table: &str) -> Result<(), Faults> {
        let mut faults = Vec::new();
        let mut ask = |name: &str, from: &Option<crate::Origin>, key: &str| {
            if !rows.header.iter().any(|field| field == name) {
                let near = crate::nearest(name, rows.header.iter().map(String::as_str));
                let advice = match near {
                    Some(near) => format!("did you mean `{{{near}}}`?"),
                    None => format!("its fields are {}", listed(&rows.header)),
                };
                let message = format!("`{key}`: {table} has no field `{{{name}}}`; {advice}");
                faults.push(Fault::new(from.clone(), message));
            }
        };
        self.name.value.names().for_each(|name| ask(name, &self.name.from, "name"));
        for make in &self.makes {
            make.when.iter().for_each(|(name, _)| ask(name, &make.count.from, "when"));
            make.count.value.names().for_each(|name| ask(name, &make.count.from, "count"));
        }
        if faults.is_empty() { Ok(()) } else { Err(faults.into()) }
    }
}

fn listed(header: &[String]) -> String {
    const MOST: usize = 12;
    let more = if header.len() > MOST { ", …" } else { "" };
    let names: Vec<String> =
        header.iter().take(MOST).map(|name| format!("`{}`", shown(name))).collect();
    names.join(", ") + more
}

fn shown(value: &str) -> String {
    const MOST: usize = 40;
    let mut text: String = value.chars().take(MOST).collect();
    if value.chars().nth(MOST).is_some() {
        text.push('…');
    }
    text
}

fn count(text: &FieldText, fields: &Fields) -> Result<u32, String> {
    let filled = text.filled(fields).unwrap_or_default();
    let plain = filled.trim();
    let digits = !plain.is_empty() && plain.bytes().all(|byte| byte.is_ascii_digit());
    match plain.parse::<u32>() {
        Ok(count) if digits && (1..=MOST_COUNT).contains(&count) => Ok(count),
        _ => Err(format!(
            "its count is \"{}\", but must be a whole number from 1 to {MOST_COUNT}",
            shown(&filled)
        )),
    }
}
