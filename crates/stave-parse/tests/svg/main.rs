//! The drawing reader against outside tables, hostile documents and random ones.

// A panic in a test's helper is a failed test.
#![expect(clippy::unwrap_used, reason = "a panic in a test is a failed test")]

mod css_clips;
mod fields;
mod fit;
mod fixtures;
mod fonts;
mod hostile;
mod lettering;
mod paths;
mod properties;
mod resolved;

/// A table of `fixtures/reference`.
macro_rules! table {
    ($name:literal) => {
        include_str!(concat!("../../../../fixtures/reference/", $name))
    };
}
pub(crate) use table;

/// The rows of a CSV table under their headings; no field holds a quoted comma.
pub(crate) fn rows(table: &str) -> Vec<std::collections::HashMap<&str, &str>> {
    let mut lines = table.lines();
    let headings: Vec<&str> = lines.next().unwrap_or_default().split(',').collect();
    lines.map(|line| headings.iter().copied().zip(line.split(',')).collect()).collect()
}

/// A field of a row as a number.
pub(crate) fn number(row: &std::collections::HashMap<&str, &str>, name: &str) -> f64 {
    row[name].parse().unwrap_or_else(|_| panic!("{name} is no number in {row:?}"))
}
