//! Reading `order.toml`.

use rust_decimal::Decimal;
use stave_toolpath::field::FieldText;
use toml::de::DeValue;

use crate::bounds::Bounds;
use crate::order::{Make, Order, PriceTerms, RowsFrom};
use crate::reader::read_file;
use crate::section::{Entry, Section};
use crate::{Faults, Given, Row, Rows, SettingsFile};

/// Money and seconds.
pub(crate) const AMOUNT: Bounds = Bounds::closed(0.0, 1e9);
/// A share of pieces, or what is taken off a price.
pub(crate) const SHARE: Bounds = Bounds::closed(0.0, 100.0);
/// What is put on a price.
pub(crate) const PERCENT_ON: Bounds = Bounds::closed(0.0, 1e4);
/// No currency has more decimals than four (ISO 4217); six are for those who reckon in parts.
pub(crate) const MOST_DECIMALS: u32 = 6;

/// Reads an order's file. `file` is what messages call it.
///
/// # Errors
/// All faults of the file at once, each with its place.
///
/// # Examples
/// ```
/// let text = "rows = \"members.csv\"\nname = \"{number}\"\n[[make]]\njob = \"cup.toml\"\n";
/// let order = stave_setup::read_order(text, "order.toml")?;
/// assert_eq!(order.out, "made");
/// let faults = stave_setup::read_order("nmae = \"{number\"", "order.toml").unwrap_err();
/// assert!(faults.to_string().contains("did you mean `name`?"));
/// # Ok::<(), stave_setup::Faults>(())
/// ```
pub fn read_order(text: &str, file: &str) -> Result<Order, Faults> {
    let (mut order, warnings, _) = read_file(text, file, SettingsFile::Order, order)?;
    order.warnings = warnings;
    Ok(order)
}

fn order(section: &mut Section<'_, '_, '_>) -> Option<Order> {
    let machine = section.name("machine");
    let rows = rows(section);
    let out = section.name("out").map_or_else(|| "made".to_owned(), |out| out.value);
    let name = section.entry("name").and_then(|entry| field_text(section, &entry, false));
    let name = section.required("name", name);
    let makes = section.tables("make", make);
    if !section.has("make") {
        section.missing("the section [[make]]");
    }
    let price = section.table("price", price);
    Some(Order { machine, rows: rows?, out, name: name?, makes, price, warnings: Vec::new() })
}

fn rows(section: &mut Section<'_, '_, '_>) -> Option<RowsFrom> {
    let (file, here) = (section.name("rows"), section.entry("row"));
    match (section.has("rows"), here) {
        (true, Some(entry)) => {
            let message = "`row` does not go with `rows`: the rows stand in one place".to_owned();
            section.reader.fault(&entry.span(), message);
            None
        }
        (true, None) => file.map(RowsFrom::File),
        (false, Some(entry)) => rows_here(section, &entry).map(RowsFrom::Here),
        (false, None) => {
            section.missing("`rows`");
            None
        }
    }
}

/// The rows that stand in the order itself: what one of them has not is empty there.
fn rows_here(section: &mut Section<'_, '_, '_>, entry: &Entry<'_>) -> Option<Rows> {
    const ALLOWED: &str = "a list of tables of texts and numbers, each headed [[row]]";
    let Some(items) = section.list_in(entry) else {
        section.must_be(entry, ALLOWED);
        return None;
    };
    let mut rows = Rows::default();
    let mut tables = Vec::new();
    for item in &items {
        let DeValue::Table(table) = item.value else {
            section.must_be(item, ALLOWED);
            return None;
        };
        for (name, value) in table {
            if scalar(value.get_ref()).is_none() {
                let message = format!("`{}` must be a text or a number", name.get_ref());
                section.reader.fault(&value.span(), message);
            }
            if !rows.header.iter().any(|known| known == name.get_ref()) {
                rows.header.push(name.get_ref().to_string());
            }
        }
        let line = match section.source(&item.span()) {
            crate::Origin::File { line, .. } => line,
            crate::Origin::Option { .. } => 0,
        };
        tables.push((line, table));
    }
    for (line, table) in tables {
        let value = |name: &String| {
            let found = table.iter().find(|(key, _)| key.get_ref() == name.as_str());
            found.and_then(|(_, value)| scalar(value.get_ref())).unwrap_or_default()
        };
        rows.rows.push(Row { line, values: rows.header.iter().map(value).collect() });
    }
    Some(rows)
}

/// A value as text.
fn scalar(value: &DeValue<'_>) -> Option<String> {
    match value {
        DeValue::String(text) => Some(text.to_string()),
        DeValue::Integer(number) if number.radix() == 10 => Some(number.as_str().to_owned()),
        DeValue::Integer(number) => {
            i128::from_str_radix(number.as_str(), number.radix()).ok().map(|n| n.to_string())
        }
        DeValue::Float(number) => Some(number.as_str().to_owned()),
        DeValue::Boolean(flag) => Some(flag.to_string()),
        DeValue::Datetime(time) => Some(time.to_string()),
        DeValue::Array(_) | DeValue::Table(_) => None,
    }
}

/// A text with fields; with `whole`, a whole number will do.
fn field_text(
    section: &mut Section<'_, '_, '_>,
    entry: &Entry<'_>,
    whole: bool,
) -> Option<Given<FieldText>> {
    let text = match entry.value {
        DeValue::String(text) if !text.trim().is_empty() => text.to_string(),
        DeValue::Integer(_) if whole => scalar(entry.value)?,
        _ => {
            let allowed = if whole {
                "a whole number, or a text with fields such as \"{count}\""
            } else {
                "a text with fields such as \"{number}-{name}\""
            };
            section.must_be(entry, allowed);
            return None;
        }
    };
    match FieldText::read(&text) {
        Ok(text) => section.given(entry, text),
        Err(fault) => {
            section.must_be(entry, &format!("a text with fields: {fault}"));
            None
        }
    }
}

fn make(make: &mut Section<'_, '_, '_>) -> Option<Make> {
    let mut when = Vec::new();
    if let Some(entry) = make.entry("when") {
        match entry.value {
            DeValue::Table(table) if !table.is_empty() => {
                for (name, value) in table {
                    match scalar(value.get_ref()) {
                        Some(text) => when.push((name.get_ref().to_string(), text)),
                        None => {
                            let message =
                                format!("`{}` must be a text or a number", name.get_ref());
                            make.reader.fault(&value.span(), message);
                        }
                    }
                }
            }
            _ => make.must_be(&entry, "fields and their values, such as { ware = \"cup\" }"),
        }
    }
    let (blank, job, input) = (make.name("blank"), make.name("job"), make.name("input"));
    let count = match make.entry("count") {
        Some(entry) => field_text(make, &entry, true)?,
        None => {
            let one = FieldText::read("1").unwrap_or_default();
            Given { value: one, from: Some(make.source(&make.span())) }
        }
    };
    let material = decimal(make, "material", AMOUNT).unwrap_or_default();
    Some(Make { when, blank, job, input, count, material })
}

fn price(price: &mut Section<'_, '_, '_>) -> Option<PriceTerms> {
    let rate = decimal(price, "rate", AMOUNT);
    let rate = price.required("rate", rate);
    let mut amount = |key, bounds| decimal(price, key, bounds).unwrap_or_default();
    let (set_up_s, handling_s) = (amount("set_up", AMOUNT), amount("handling", AMOUNT));
    let spoilage_percent = amount("spoilage", SHARE);
    let markup_percent = amount("markup", PERCENT_ON);
    let tax_percent = amount("tax", PERCENT_ON);
    let discount = discount(price).unwrap_or_default();
    let decimals = price.whole("decimals", 0, MOST_DECIMALS).map_or(2, |decimals| decimals.value);
    Some(PriceTerms {
        rate: rate?,
        set_up_s,
        handling_s,
        spoilage_percent,
        markup_percent,
        discount,
        tax_percent,
        decimals,
    })
}

fn discount(price: &mut Section<'_, '_, '_>) -> Option<Vec<(u32, Decimal)>> {
    const ALLOWED: &str = "a list of pairs, pieces and percent from 0 to 100, pieces rising";
    let entry = price.entry("discount")?;
    let Some(pairs) = price.list_in(&entry) else {
        price.must_be(&entry, ALLOWED);
        return None;
    };
    let mut steps: Vec<(u32, Decimal)> = Vec::new();
    for pair in &pairs {
        let step = match price.list_in(pair).as_deref() {
            Some([pieces, percent]) => match (pieces.value, exact(percent.value, SHARE)) {
                (DeValue::Integer(number), Some(percent)) => {
                    u32::from_str_radix(number.as_str(), number.radix())
                        .ok()
                        .map(|pieces| (pieces, percent))
                }
                _ => None,
            },
            _ => None,
        };
        match step {
            Some(step) if steps.last().is_none_or(|last| last.0 < step.0) => steps.push(step),
            _ => {
                price.must_be(pair, ALLOWED);
                return None;
            }
        }
    }
    Some(steps)
}

/// A decimal number, as it is written.
fn decimal(
    section: &mut Section<'_, '_, '_>,
    key: &'static str,
    bounds: Bounds,
) -> Option<Decimal> {
    let entry = section.entry(key)?;
    // Tells what is wrong with it, if it is no number or out of bounds.
    section.number_in(&entry, bounds, None)?;
    let value = exact(entry.value, bounds);
    if value.is_none() {
        section.must_be(&entry, "a decimal number of at most 28 digits");
    }
    value
}

/// The value of a number, digit by digit: no binary fraction takes its place.
fn exact(value: &DeValue<'_>, bounds: Bounds) -> Option<Decimal> {
    let text = match value {
        DeValue::Integer(_) => scalar(value)?,
        DeValue::Float(number) => number.as_str().replace('_', ""),
        _ => return None,
    };
    let text = text.trim_start_matches('+');
    let decimal = Decimal::from_str_exact(text).or_else(|_| Decimal::from_scientific(text)).ok()?;
    bounds.hold(crate::values::number_of(value)?).then_some(decimal)
}
