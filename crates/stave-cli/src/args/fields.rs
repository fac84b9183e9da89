//! What can be typed to fill the fields of a drawing.

use std::fs::File;
use std::io::{self, Read};
use std::path::Path;

use clap::Args as ClapArgs;
use stave::FieldValues;
use stave::setup::{RowsError, Separator, read_rows};

use crate::failure::Failure;
use crate::input;

/// Values for fields such as `{name}`.
#[derive(Clone, Debug, Default, ClapArgs)]
pub(crate) struct FieldOptions {
    /// Fill the field {FIELD} of a drawing: repeat it. It beats --row
    #[arg(long, value_name = "FIELD=VALUE")]
    pub(crate) set: Vec<String>,
    /// Fill the fields of a drawing from row N of a table (CSV, or .tsv), counted from 1 without
    /// its header
    #[arg(long, value_name = "FILE:N")]
    pub(crate) row: Option<String>,
}

/// A table and the number of a row of it, from 1.
fn table_and_row(text: &str) -> Option<(&Path, usize)> {
    let (path, number) = text.rsplit_once(':').filter(|(path, _)| !path.is_empty())?;
    let plain = number.bytes().all(|byte| byte.is_ascii_digit());
    let number = number.parse().ok().filter(|number| plain && *number > 0)?;
    Some((Path::new(path), number))
}

impl FieldOptions {
    /// The table that a row is taken from.
    pub(crate) fn table(&self) -> Option<&Path> {
        Some(table_and_row(self.row.as_deref()?)?.0)
    }

    /// A title, whose fields are filled as the drawing's are. Without values braces are braces.
    pub(crate) fn title(&self, title: &str) -> Result<String, Failure> {
        if self.set.is_empty() && self.row.is_none() {
            return Ok(title.to_owned());
        }
        let filled = self.read()?.text(title);
        filled.map_err(|fault| Failure::bad(format!("--title: {fault}")))
    }

    /// The values that are meant.
    pub(crate) fn read(&self) -> Result<FieldValues, Failure> {
        let mut values = FieldValues::default();
        for text in &self.set {
            let (name, value) = match text.split_once('=') {
                Some((name, value)) if !name.is_empty() => (name, value),
                _ => {
                    return Err(Failure::bad(format!(
                        "--set: `{text}` must be a field and its value, such as name=Ada"
                    )));
                }
            };
            if values.set.insert(name.to_owned(), value.to_owned()).is_some() {
                return Err(Failure::bad(format!("--set: `{name}` is set twice")));
            }
        }
        if let Some(text) = &self.row {
            let Some((path, number)) = table_and_row(text) else {
                return Err(Failure::bad(format!(
                    "--row: `{text}` must be a table and the number of a row, such as members.csv:7"
                )));
            };
            let name = input::name(path);
            let input: Box<dyn Read> = if path == Path::new("-") {
                Box::new(io::stdin())
            } else {
                Box::new(File::open(path).map_err(|error| input::cannot_read(&name, &error))?)
            };
            let rows = read_rows(input, &name, Separator::of_name(&name), Some(number))
                .map_err(|error| of_rows(&name, error))?;
            let Some(row) = rows.rows.get(number - 1) else {
                return Err(Failure::bad(format!(
                    "--row: {name} has no row {number}: its rows end with {}",
                    rows.rows.len()
                )));
            };
            values.row = rows.fields(row);
        }
        Ok(values)
    }
}

/// What is told of a table that cannot be read.
pub(crate) fn of_rows(name: &str, error: RowsError) -> Failure {
    match error {
        RowsError::Io(error) => input::cannot_read(name, &error),
        other => Failure::bad(other.to_string()),
    }
}
