//! The keys of an order.

use super::{Key, Kind, SettingsFile, Usual, key};
use crate::order_file::{AMOUNT, MOST_DECIMALS, PERCENT_ON, SHARE};

const fn of(name: &'static str, kind: Kind, text: &'static str) -> Key {
    key(SettingsFile::Order, name, kind, text)
}

pub(super) static GROUPS: &[&[Key]] = &[TOP, MAKE, PRICE];

static TOP: &[Key] = &[
    of("machine", Kind::Text, "The machine's file, seen from this file")
        .told("the one that the job names")
        .usual()
        .like("\"bench.toml\""),
    of(
        "rows",
        Kind::Text,
        "The table of the rows, CSV by RFC 4180 or .tsv, whose header names the fields; \"-\" is \
         standard input",
    )
    .or("row")
    .like("\"members.csv\""),
    of("row", Kind::Records, "The rows themselves, a table each with its fields")
        .or("rows")
        .like("[{ number = \"01\", name = \"Ada Quill\" }]"),
    of("out", Kind::Text, "The folder of what is made, seen from this file").default("\"made\""),
    of("name", Kind::Text, "What the file of a piece is called, with fields of its row")
        .needed()
        .like("\"{number}-{name}\""),
];

static MAKE: &[Key] = &[
    of(
        "make",
        Kind::Tables(Usual::Yes),
        "What makes the pieces of the rows that it fits; the \
        first that fits a row makes its piece",
    )
    .needed(),
    of("make.when", Kind::Record, "The fields that a row must have, and their values")
        .told("every row")
        .like("{ ware = \"cup\" }"),
    of("make.blank", Kind::Text, "The blank's file, seen from this file")
        .told("the one that the job names")
        .usual()
        .like("\"cup.toml\""),
    of("make.job", Kind::Text, "The job's file, seen from this file").usual().like("\"job.toml\""),
    of("make.input", Kind::Text, "The drawing, seen from this file; fields of the row fill it")
        .told("the one that the job names")
        .usual()
        .like("\"crest.svg\""),
    of("make.count", Kind::Count, "How many pieces a row is: a number, or a text with fields")
        .told("1")
        .like("\"{count}\""),
    of("make.material", Kind::Number(AMOUNT), "The price of one blank")
        .unit("money")
        .default("0.0")
        .like("6.35"),
];

static PRICE: &[Key] = &[
    of("price", Kind::Table(Usual::No), "The terms of the price"),
    of("price.rate", Kind::Number(AMOUNT), "An hour of machine and hands")
        .unit("money")
        .needed()
        .like("45.0"),
    of("price.set_up", Kind::Number(AMOUNT), "Setting up, once for each blank")
        .unit("s")
        .default("0.0")
        .like("900.0"),
    of("price.handling", Kind::Number(AMOUNT), "Loading, aligning and cleaning a piece")
        .unit("s")
        .default("0.0")
        .like("75.0"),
    of("price.spoilage", Kind::Number(SHARE), "Pieces that are expected to be spoiled")
        .unit("percent")
        .default("0.0")
        .like("2.0"),
    of("price.markup", Kind::Number(PERCENT_ON), "Put on the cost")
        .unit("percent")
        .default("0.0")
        .like("30.0"),
    of(
        "price.discount",
        Kind::Pairs,
        "From so many pieces, so many percent off; the last that is reached counts",
    )
    .like("[[12, 5.0], [50, 10.0]]"),
    of("price.tax", Kind::Number(PERCENT_ON), "Tax on the net price")
        .unit("percent")
        .default("0.0")
        .like("20.0"),
    of("price.decimals", Kind::Whole(0, MOST_DECIMALS), "Decimals of the currency").default("2"),
];
