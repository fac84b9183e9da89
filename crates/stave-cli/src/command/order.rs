//! `stave order`.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::io::{self, Read};
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use stave::setup::{Faults, Order, OrderPiece, Rows, RowsFrom, Separator, read_order, read_rows};
use stave::{
    Code, Finding, OrderQuote, OrderRow, PricedPiece, RowState, Severity, order_to_json, price,
    sentence,
};

use crate::args::{OrderArgs, of_rows};
use crate::cores::on_all_cores;
use crate::failure::{Failure, say};
use crate::files::{Files, folder_of, same_file};
use crate::output::{Carries, keep};
use crate::piece_of_order::{Doing, Maker, Shop, program_of};
use crate::recognised::Settings;
use crate::{input, shown};

pub(crate) fn run(args: &OrderArgs) -> Result<ExitCode, Failure> {
    let Opened { order, rows, folder, table, table_path } = open(&args.order)?;
    let pieces = order.pieces(&rows, &table).map_err(Failure::from)?;
    for warning in &order.warnings {
        say(&format!("note: {warning}"));
    }
    let only = match &args.only {
        Some(list) => Some(listed(list, pieces.len())?),
        None => None,
    };
    let is_asked = |piece: &OrderPiece| only.as_ref().is_none_or(|only| only.contains(&piece.row));
    let wanted = |make: usize| {
        pieces.iter().any(|piece| piece.make.as_ref() == Ok(&make) && is_asked(piece))
    };
    let mut files = Files::default().reads("the order", &args.order);
    if let Some(path) = &table_path {
        files = files.reads("the rows", path);
    }
    let makers = makers(&order, &folder, wanted)?;
    files = makers.iter().flatten().fold(files, |files, maker| maker.reads(files));
    files = named_by(&order, &folder, files);
    let out = folder.join(&order.out);
    let mut csv = match &args.csv {
        Some(path) => {
            let mut made = pieces.iter().map(|piece| program_of(&out, piece));
            if let Some(made) = made.find(|made| same_file(made, path)) {
                return Err(Failure::bad(format!(
                    "{} (--csv) is the program of a piece; nothing was written: name another file \
                     to write to",
                    input::name(&made)
                )));
            }
            Some(files.writes("--csv", Some(path), Carries::Text)?)
        }
        None => None,
    };
    let mut output = files.writes("the result", None, Carries::Text)?;
    let doing = match (args.check, args.dry_run, args.verify) {
        (true, ..) => Doing::Check,
        (_, true, _) => Doing::DryRun,
        (.., true) => Doing::Verify,
        _ => Doing::Make,
    };
    if doing == Doing::Make {
        fs::create_dir_all(&out).map_err(|error| {
            Failure::bad(format!("cannot make the folder {}: {error}", input::name(&out)))
        })?;
    }
    let shop = Shop { makers: &makers, out: &out, out_name: &order.out, files: &files, doing };
    let rows = on_all_cores("order", &pieces, |piece| shop.row(piece, is_asked(piece)));
    strangers(&out, &pieces);
    tell_warnings(&rows);
    let quote = quoted(&order, &rows, &pieces, doing)?;
    if let Some(file) = &mut csv {
        file.all(shown::order_csv(&rows).as_bytes())?;
    }
    let text = if args.json {
        order_to_json(&rows, quote.as_ref()).map_err(|error| Failure::bad(error.to_string()))?
            + "\n"
    } else {
        shown::plain(&shown::order(&rows, quote.as_ref()))
    };
    output.all(text.as_bytes())?;
    keep(csv)?;
    let any = |state| rows.iter().any(|row| row.state == state);
    let is_short = match doing {
        Doing::DryRun => false,
        Doing::Verify => any(RowState::Failed) || any(RowState::WouldMake),
        Doing::Make | Doing::Check => any(RowState::Failed),
    };
    Ok(if is_short { ExitCode::from(1) } else { ExitCode::SUCCESS })
}

/// An order and its rows.
pub(crate) struct Opened {
    pub(crate) order: Order,
    pub(crate) rows: Rows,
    /// The folder that its paths are seen from.
    pub(crate) folder: PathBuf,
    /// What messages call the rows.
    pub(crate) table: String,
    pub(crate) table_path: Option<PathBuf>,
}

/// Reads an order and its rows.
pub(crate) fn open(path: &Path) -> Result<Opened, Failure> {
    let text = input::settings(path, Settings::Order)?;
    let order = read_order(&text, &input::name(path)).map_err(Failure::from)?;
    let folder = folder_of(path).to_path_buf();
    let (rows, table, table_path) = match &order.rows {
        RowsFrom::Here(rows) => (rows.clone(), "the order".to_owned(), None),
        RowsFrom::File(file) if file.value == "-" => {
            let name = input::name(Path::new("-"));
            (rows_of(io::stdin(), &name)?, name, None)
        }
        RowsFrom::File(file) => {
            let path = folder.join(&file.value);
            let name = input::name(&path);
            let opened =
                fs::File::open(&path).map_err(|error| input::cannot_read(&name, &error))?;
            (rows_of(opened, &name)?, name, Some(path))
        }
    };
    Ok(Opened { order, rows, folder, table, table_path })
}

fn rows_of(input: impl Read, name: &str) -> Result<Rows, Failure> {
    read_rows(input, name, Separator::of_name(name), None).map_err(|error| of_rows(name, error))
}

/// With every file that an order names, whether a row is asked for that needs it or not.
fn named_by(order: &Order, folder: &Path, files: Files) -> Files {
    let of_makes = order.makes.iter().flat_map(|make| [&make.blank, &make.job, &make.input]);
    of_makes
        .chain([&order.machine])
        .flatten()
        .fold(files, |files, named| files.reads("what the order names", &folder.join(&named.value)))
}

/// What makes the pieces, for each [[make]] that is wanted.
pub(crate) fn makers(
    order: &Order,
    folder: &Path,
    wanted: impl Fn(usize) -> bool,
) -> Result<Vec<Option<Maker>>, Failure> {
    let mut makers = Vec::new();
    for (index, make) in order.makes.iter().enumerate() {
        makers.push(match wanted(index) {
            true => Some(Maker::open(make, order.machine.as_ref(), folder)?),
            false => None,
        });
    }
    Ok(makers)
}

/// Tells what was warned of: of each kind the first, and in how many rows there is more of it.
fn tell_warnings(rows: &[OrderRow]) {
    let mut told: BTreeMap<Code, (&OrderRow, &Finding, usize)> = BTreeMap::new();
    for row in rows {
        let warned = row.findings.iter().filter(|found| found.severity == Severity::Warning);
        let mut codes = BTreeSet::new();
        for finding in warned.filter(|finding| codes.insert(finding.code)) {
            told.entry(finding.code).or_insert((row, finding, 0)).2 += 1;
        }
    }
    for (row, finding, count) in told.values() {
        let others = match count - 1 {
            0 => String::new(),
            1 => "; another row has such".to_owned(),
            more => format!("; {more} more rows have such"),
        };
        say(&format!("row {}: {}{others}", row.row, sentence(finding)));
    }
}

/// Names the files in the folder that belong to no row.
fn strangers(out: &Path, pieces: &[OrderPiece]) {
    let Ok(entries) = fs::read_dir(out) else { return };
    let ours: BTreeSet<String> = pieces.iter().map(|piece| format!("{}.nc", piece.name)).collect();
    let names = entries.flatten().map(|entry| entry.file_name().to_string_lossy().into_owned());
    let strange: BTreeSet<String> =
        names.filter(|name| name.ends_with(".nc") && !ours.contains(name)).collect();
    for name in strange {
        let path = input::name(&out.join(name));
        say(&format!("note: {path} belongs to no row of the order"));
    }
}

/// The price of what is there or would be made; none where times are not known.
fn quoted(
    order: &Order,
    rows: &[OrderRow],
    pieces: &[OrderPiece],
    doing: Doing,
) -> Result<Option<OrderQuote>, Failure> {
    let Some(terms) = order.price.as_ref().filter(|_| doing != Doing::Check) else {
        return Ok(None);
    };
    let mut priced = Vec::new();
    for (row, piece) in rows.iter().zip(pieces) {
        match (row.state, row.duration_s, &piece.make) {
            (RowState::Failed | RowState::Left, ..) => {}
            (_, Some(duration_s), Ok(make)) => priced.push(PricedPiece {
                count: row.count,
                duration_s,
                material: order.makes.get(*make).map(|make| make.material).unwrap_or_default(),
                blank: row.blank.clone(),
            }),
            _ => return Ok(None),
        }
    }
    price(terms, &priced).map(Some).map_err(|error| Failure::bad(error.to_string()))
}

/// The rows of a list such as 7,12-15.
pub(crate) fn listed(list: &str, rows: usize) -> Result<BTreeSet<usize>, Failure> {
    let bad = |found: &str| {
        Failure::bad(format!(
            "--only: `{found}` must be the number of a row, or two with - between, such as \
             7,12-15; the order has {rows} rows"
        ))
    };
    let mut all = BTreeSet::new();
    for part in list.split(',') {
        let number = |text: &str| {
            let plain = text.trim();
            let digits = !plain.is_empty() && plain.bytes().all(|byte| byte.is_ascii_digit());
            plain.parse::<usize>().ok().filter(|n| digits && (1..=rows).contains(n))
        };
        let (from, to) = part.split_once('-').unwrap_or((part, part));
        match (number(from), number(to)) {
            (Some(from), Some(to)) if from <= to => all.extend(from..=to),
            _ => return Err(bad(part)),
        }
    }
    Ok(all)
}

/// The faults of several files in one failure.
impl From<Vec<Faults>> for Failure {
    fn from(files: Vec<Faults>) -> Self {
        Self::of_faults(files.into_iter().map(Some))
    }
}
