//! What can be typed for `estimate`.

use std::path::PathBuf;

use clap::Args as ClapArgs;

use super::{FieldOptions, FontFiles, JobOptions, PictureOptions, Reading};

/// Tell how long programs take, flat or wrapped, and what a batch costs.
///
/// The time is that of a controller with look-ahead that keeps every axis within the limits of the
/// machine file.
#[derive(Debug, ClapArgs)]
pub(crate) struct EstimateArgs {
    /// The programs, drawings or pictures, one after the other; `-` is standard input, and so is
    /// nothing where the job names none. A drawing or picture is wrapped first, and needs the blank
    #[arg(value_name = "INPUT")]
    pub(crate) inputs: Vec<PathBuf>,
    /// The machine: its axes and limits (TOML); needed unless the job names it
    #[arg(short, long, value_name = "MACHINE")]
    pub(crate) machine: Option<PathBuf>,
    /// The blank a rotary program is for (TOML): lengths and speeds are then those on its wall
    #[arg(short, long, value_name = "BLANK")]
    pub(crate) blank: Option<PathBuf>,
    /// The job by which a drawing is wrapped (TOML); an option beats it. It may name blank, machine
    /// and input
    #[arg(short, long, value_name = "JOB")]
    pub(crate) job: Option<PathBuf>,
    /// Print JSON instead of a table
    #[arg(long)]
    pub(crate) json: bool,
    /// A blank, machine or job file as it was when the program was wrapped: the keys that differ
    /// are named; repeat it for several
    #[arg(long, value_name = "FILE")]
    pub(crate) was: Vec<PathBuf>,
    #[command(flatten)]
    pub(crate) fonts: FontFiles,
    #[command(flatten)]
    pub(crate) settings: JobOptions,
    #[command(flatten)]
    pub(crate) reading: Reading,
    #[command(flatten)]
    pub(crate) size: PictureOptions,
    #[command(flatten)]
    pub(crate) fields: FieldOptions,
    #[command(flatten)]
    pub(crate) terms: TermOptions,
}

/// What is needed for a quote. One piece is all the inputs together.
#[derive(Debug, ClapArgs)]
#[command(
    next_help_heading = "Quote (one piece is all the programs together; prices are in your own \
                         currency)"
)]
pub(crate) struct TermOptions {
    /// The price of an hour of machine and hands
    #[arg(long, value_name = "PRICE", value_parser = amount, allow_negative_numbers = true)]
    pub(crate) rate: Option<f64>,
    /// Seconds of loading, aligning and cleaning a piece
    #[arg(long, value_name = "SECONDS", value_parser = amount, allow_negative_numbers = true)]
    pub(crate) handling: Option<f64>,
    /// Seconds of setting up, once a batch
    #[arg(long, value_name = "SECONDS", value_parser = amount, allow_negative_numbers = true)]
    pub(crate) set_up: Option<f64>,
    /// Pieces in the batch
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..))]
    pub(crate) pieces: Option<u32>,
    /// The price of what one piece is made of
    #[arg(long, value_name = "PRICE", value_parser = amount, allow_negative_numbers = true)]
    pub(crate) material: Option<f64>,
    /// Percent put on the cost to make the price
    #[arg(long, value_name = "PERCENT", value_parser = amount, allow_negative_numbers = true)]
    pub(crate) markup: Option<f64>,
    /// When the batch is begun, to tell when it is done
    #[arg(long, value_name = "HH:MM", value_parser = time_of_day)]
    pub(crate) start: Option<u32>,
}

/// A number of seconds, percent or money: zero or more.
fn amount(text: &str) -> Result<f64, String> {
    let value: f64 =
        text.parse().map_err(|_| "this must be a number, such as 45 or 12.50".to_owned())?;
    if (0.0..=1e9).contains(&value) {
        Ok(value)
    } else {
        Err("this must be from 0 to 1e9".to_owned())
    }
}

/// Minutes after midnight.
fn time_of_day(text: &str) -> Result<u32, String> {
    let not_a_time = || "this must be a time of day, such as 08:30".to_owned();
    let (hours, minutes) = text.split_once(':').ok_or_else(not_a_time)?;
    let number = |digits: &str, below: u32| {
        let plain = (1..=2).contains(&digits.len()) && digits.bytes().all(|b| b.is_ascii_digit());
        digits.parse::<u32>().ok().filter(|value| plain && *value < below).ok_or_else(not_a_time)
    };
    Ok(number(hours, 24)? * 60 + number(minutes, 60)?)
}
