//! `stave proof` of an order: all its pieces on sheets, to be read over and signed.

use std::path::Path;
use std::process::ExitCode;

use stave::setup::OrderPiece;
use stave::{Card, ProofOptions, Turned, order_html, order_page_png, order_pages, proof};

use super::order::{Opened, makers, open};
use super::proof::{Form, stem};
use crate::args::ProofArgs;
use crate::cores::on_all_cores;
use crate::failure::{Failure, say};
use crate::files::Files;
use crate::output::{Carries, keep, numbered};
use crate::piece_of_order::Maker;
use crate::today::today;
use crate::{input, settings};

/// Whether an input is an order: by the ending of its name.
pub(crate) fn is_order(path: &Path) -> bool {
    path.extension().is_some_and(|end| end.eq_ignore_ascii_case("toml"))
}

pub(crate) fn run(args: &ProofArgs, path: &Path, form: Form) -> Result<ExitCode, Failure> {
    let given = &args.files;
    if given.blank.is_some() || given.machine.is_some() || given.job.is_some() {
        return Err(Failure::bad(format!(
            "{}: an order names its own blanks, machine and jobs: leave -b, -m and -j out",
            input::name(path)
        )));
    }
    if args.watts.is_some() && form != Form::Html {
        return Err(Failure::bad(
            "--watts: the cards of an order tell no energies; its page does: -o proof.html",
        ));
    }
    settings::watts(args.watts)?;
    let Opened { order, rows, folder, table, table_path } = open(path)?;
    let pieces = order.pieces(&rows, &table).map_err(Failure::from)?;
    let wanted = |make: usize| pieces.iter().any(|piece| piece.make.as_ref() == Ok(&make));
    let mut makers = makers(&order, &folder, wanted)?;
    let date = today()?;
    for maker in makers.iter_mut().flatten() {
        maker.options.date.clone_from(&date);
    }
    let mut files =
        Files::default().reads("the order", path).may_read("the rows", table_path.as_deref());
    files = makers.iter().flatten().fold(files, |files, maker| maker.reads(files));
    let turned = on_all_cores("proof", &pieces, |piece| {
        // Its name as it is written, not as its file is called.
        let name = order.name.value.filled(&piece.fields).unwrap_or_default();
        of_piece(piece, name, &makers, args, form)
    });
    let title = args.title.clone().unwrap_or_else(|| stem(&input::name(path)));
    if form == Form::Html {
        let page = order_html(&title, &date, &turned, args.for_customer);
        let mut output = files.writes("-o", Some(&args.output), Carries::Text)?;
        output.all(page.as_bytes())?;
        keep([output])?;
        return Ok(ExitCode::SUCCESS);
    }
    let cards: Vec<Card> = turned.into_iter().map(|piece| piece.card).collect();
    let pages = order_pages(&title, &date, args.sheet.into(), &cards, args.for_customer);
    let mut outputs = Vec::with_capacity(pages.len());
    let mut worded = true;
    for (index, page) in pages.iter().enumerate() {
        let path = numbered(&args.output, index + 1);
        let mut output = files.writes("-o", Some(&path), Carries::Text)?;
        if form == Form::Png {
            let (png, has_font) = order_page_png(page, f64::from(args.dpi))
                .map_err(|e| Failure::bad(e.to_string()))?;
            worded &= has_font;
            output.all(&png)?;
        } else {
            output.all(page.as_bytes())?;
        }
        outputs.push(output);
    }
    keep(outputs)?;
    if !worded {
        say("note: no font is installed here, so the pictures have no words; -o proof.svg or \
             proof.html has");
    }
    if !args.quiet {
        say(&format!("{} pages", pages.len()));
    }
    Ok(ExitCode::SUCCESS)
}

/// A piece as it is shown; what keeps it from being shown is told on its card.
fn of_piece(
    piece: &OrderPiece,
    name: String,
    makers: &[Option<Maker>],
    args: &ProofArgs,
    form: Form,
) -> Turned {
    let mut card = Card {
        row: piece.row,
        name,
        count: piece.count.as_ref().map_or(1, |count| *count),
        ..Card::default()
    };
    let mut sheet = String::new();
    let maker = piece.make.as_ref().ok().and_then(|make| makers.get(*make)?.as_ref());
    let shown = match (&piece.make, &piece.count, maker) {
        (Err(why), ..) | (_, Err(why), _) => Err(Failure::bad(why.clone())),
        (.., Some(maker)) => picture(piece, maker, args, form, (&mut card, &mut sheet)),
        (.., None) => Ok(()),
    };
    if let Err(failure) = shown {
        card.refused = Some(failure.text());
    }
    Turned { card, sheet }
}

fn picture(
    piece: &OrderPiece,
    maker: &Maker,
    args: &ProofArgs,
    form: Form,
    (card, sheet): (&mut Card, &mut String),
) -> Result<(), Failure> {
    let (source, _) = maker.source(piece)?;
    let title = card.name.clone();
    let options = ProofOptions {
        title,
        finished: false,
        files: maker.file_names(),
        sheet: args.sheet.into(),
        watts: args.watts,
    };
    let shown = proof(source, &maker.setup, &maker.options, &options)?;
    card.texts = shown.texts().to_vec();
    card.is_program = !shown.texts_are_listed();
    card.refused = shown.refused();
    card.told = shown.card_words();
    if form == Form::Html {
        *sheet = shown.sheet_svg(args.for_customer);
    } else {
        card.picture = shown.card_picture();
    }
    Ok(())
}
