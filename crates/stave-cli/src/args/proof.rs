//! What can be typed for `proof`.

use std::path::PathBuf;

use clap::Args as ClapArgs;

use super::template::SheetWord;
use super::{FieldOptions, FontFiles, JobOptions, PictureOptions, Reading, SetupFiles};

/// See the finished piece before a blank is spent: a picture computed from the wrapped program
/// itself.
///
/// The ending of OUT says what is drawn: .svg or .png is a sheet, .html a page to turn the piece in
/// and to play the program. A flat program or a drawing is wrapped first; a wrapped program is
/// taken as it is, so files given here that are not those it was wrapped for show what a wrong
/// set-up would burn. Of an order (.toml) all pieces are drawn and every text in large letters, on
/// several sheets or on one page that turns through them. What is found goes to standard error; the
/// picture is made all the same, with status 0, unless art lies off the wall or past reach: that
/// has no place to be drawn at.
#[derive(Debug, ClapArgs)]
pub(crate) struct ProofArgs {
    /// A wrapped program, a flat one, a drawing, a picture (PNG, JPEG), or an order (.toml); `-` is
    /// standard input, and so is nothing where --wrapped is not given and the job names none
    pub(crate) input: Option<PathBuf>,
    #[command(flatten)]
    pub(crate) files: SetupFiles,
    /// A blank, machine or job file as it was when the program was wrapped: the keys that differ
    /// are named; repeat it for several
    #[arg(long, value_name = "FILE")]
    pub(crate) was: Vec<PathBuf>,
    #[command(flatten)]
    pub(crate) fonts: FontFiles,
    #[command(flatten)]
    pub(crate) job: JobOptions,
    #[command(flatten)]
    pub(crate) reading: Reading,
    #[command(flatten)]
    pub(crate) size: PictureOptions,
    #[command(flatten)]
    pub(crate) fields: FieldOptions,
    /// Draw what this program burns, whatever wrapped it, and show where that differs from INPUT
    #[arg(long, value_name = "FILE")]
    pub(crate) wrapped: Option<PathBuf>,
    /// The beam's full power, W: energy per area is then told in J/cm²
    #[arg(long, value_name = "W", allow_hyphen_values = true, conflicts_with = "for_customer")]
    pub(crate) watts: Option<f64>,
    /// Leave out what concerns the machine: the picture, the size, the name, and a line to sign
    #[arg(long)]
    pub(crate) for_customer: bool,
    /// The name of the piece on the picture; the input's name where not given
    #[arg(long, value_name = "NAME")]
    pub(crate) title: Option<String>,
    /// Bare path data instead of INPUT: one unit to the mm, y down
    #[arg(long, value_name = "DATA", conflicts_with = "input", allow_hyphen_values = true)]
    pub(crate) path: Option<String>,
    /// Write here: a name that ends in .svg, .png or .html
    #[arg(short, long, value_name = "OUT")]
    pub(crate) output: PathBuf,
    /// The paper that a sheet is laid out for (.svg, .png); a page prints on either
    #[arg(long, value_name = "SHEET", default_value = "a4")]
    pub(crate) sheet: SheetWord,
    /// Pixels to the inch of a .png
    #[arg(
        long,
        value_name = "N",
        default_value = "200",
        value_parser = clap::value_parser!(u16).range(20..=1200)
    )]
    pub(crate) dpi: u16,
    /// Say nothing on standard error but errors
    #[arg(short, long)]
    pub(crate) quiet: bool,
}
