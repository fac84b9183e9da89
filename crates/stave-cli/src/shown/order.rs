//! An order as people read it, and as their books do.

use stave::number::fixed;
use stave::{OrderQuote, OrderRow, RowState, clock};

use super::name;
use super::table::{COLUMNS, beginning, left, width};

/// What a blank's name takes of the table at most, and what all but names takes.
const MOST_OF_BLANK: usize = 16;
const REST: usize = 40;

/// The columns of the table for the books.
const CSV_HEADER: &str = "row,line,name,blank,count,file,state,fit,duration_s,message\r\n";

/// The rows, then what they come to.
pub(crate) fn order(rows: &[OrderRow], quote: Option<&OrderQuote>) -> String {
    let widest = |value: &dyn Fn(&OrderRow) -> &String, head: &str, most: usize| {
        let widths = rows.iter().map(|row| width(&name(value(row))));
        widths.max().unwrap_or(0).max(head.len()).min(most)
    };
    let blanks = widest(&|row| &row.blank, "blank", MOST_OF_BLANK);
    let names = widest(&|row| &row.name, "piece", COLUMNS - REST - blanks);
    let mut out = format!(
        "{:>4} {:<names$} {:<blanks$} {:>5} {:<10} {:<3} {:>12}\n",
        "row", "piece", "blank", "count", "state", "fit", "time"
    );
    for row in rows {
        let fit = row.fit.map_or("-", |fit| if fit { "yes" } else { "no" });
        let time = row.duration_s.map_or_else(|| "-".to_owned(), clock);
        out.push_str(&format!(
            "{:>4} {} {} {:>5} {:<10} {fit:<3} {time:>12}\n",
            row.row,
            left(&beginning(&name(&row.name), names), names),
            left(&beginning(&name(&row.blank), blanks), blanks),
            row.count,
            row.state.as_str(),
        ));
        let message = row.message.as_deref().filter(|_| row.state != RowState::Made);
        if let Some(message) = message {
            let line = if row.line > 0 { format!("line {}: ", row.line) } else { String::new() };
            out.push_str(&format!("      {line}{}\n", message.replace('\n', "\n      ")));
        }
    }
    let count = |state| rows.iter().filter(|row| row.state == state).count();
    let told: Vec<String> =
        [RowState::Made, RowState::Kept, RowState::WouldMake, RowState::Failed, RowState::Left]
            .into_iter()
            .filter(|state| count(*state) > 0)
            .map(|state| format!("{} {}", count(state), state.as_str()))
            .collect();
    out.push_str(&format!("\n{}\n", told.join(", ")));
    if let Some(quote) = quote {
        out.push_str(&format!("\nprice of {} pieces\n", quote.pieces));
        for line in &quote.lines {
            out.push_str(&format!("  {:<9} {} = {}\n", line.name, line.reckoned, line.amount));
        }
        match count(RowState::Failed) {
            0 => {}
            1 => out.push_str("  the row that failed is not in it\n"),
            failed => out.push_str(&format!("  the {failed} rows that failed are not in it\n")),
        }
    }
    out
}

/// The rows as a table by RFC 4180.
pub(crate) fn order_csv(rows: &[OrderRow]) -> String {
    let mut out = CSV_HEADER.to_owned();
    for row in rows {
        let fields = [
            row.row.to_string(),
            row.line.to_string(),
            row.name.clone(),
            row.blank.clone(),
            row.count.to_string(),
            row.file.clone().unwrap_or_default(),
            row.state.as_str().to_owned(),
            row.fit.map_or(String::new(), |fit| fit.to_string()),
            row.duration_s.map_or_else(String::new, |seconds| fixed(seconds, 1)),
            row.message.clone().unwrap_or_default(),
        ];
        let fields: Vec<String> = fields.iter().map(|field| quoted(field)).collect();
        out.push_str(&fields.join(","));
        out.push_str("\r\n");
    }
    out
}

fn quoted(field: &str) -> String {
    if field.contains(['"', ',', '\n', '\r']) {
        format!("\"{}\"", field.replace('"', "\"\""))
    } else {
        field.to_owned()
    }
}
