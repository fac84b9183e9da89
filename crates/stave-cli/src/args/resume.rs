//! What can be typed for `resume`.

use std::path::PathBuf;

use clap::{ArgGroup, Args as ClapArgs};

use super::CAUTION;

/// Write what is left of a program that stopped on its way.
///
/// The new program starts dark, goes to the place with the rotary coming from the side from which
/// it last came, restores modes, power and air, and burns the rest: with what is burned already it
/// makes the whole, no gap and nothing twice.
#[derive(Debug, ClapArgs)]
#[command(after_help = CAUTION)]
#[command(group(ArgGroup::new("where").required(true).args(["line", "piece", "at"])))]
pub(crate) struct ResumeArgs {
    /// The program that stopped, as Stave wrote it; `-` is standard input
    pub(crate) program: PathBuf,
    /// The machine: its axes and limits (TOML)
    #[arg(short, long, value_name = "MACHINE")]
    pub(crate) machine: PathBuf,
    /// Go on with the move of this line, from its start
    #[arg(long, value_name = "N")]
    pub(crate) line: Option<u64>,
    /// Go on with this piece: at the first comment that names it
    #[arg(long, value_name = "NAME")]
    pub(crate) piece: Option<String>,
    /// Go on where the program was after so long, in seconds or h:mm:ss, pauses not counted; the
    /// move under way is cut there
    #[arg(long, value_name = "TIME", value_parser = seconds, allow_negative_numbers = true)]
    pub(crate) at: Option<f64>,
    /// Accept what `check` calls an error, by its code, and say so: `wrong-rig` for a machine whose
    /// file has changed since
    #[arg(long, value_name = "CODE", value_delimiter = ',')]
    pub(crate) allow: Vec<String>,
    /// Write here instead of to standard output: whole, or not at all
    #[arg(short, long, value_name = "OUT")]
    pub(crate) output: Option<PathBuf>,
}

/// Seconds, or hours, minutes and seconds.
fn seconds(text: &str) -> Result<f64, String> {
    let not_a_time =
        || "this must be seconds, such as 754.5, or h:mm:ss, such as 0:12:34".to_owned();
    let number = |text: &str| {
        let plain = text.bytes().all(|byte| byte.is_ascii_digit() || byte == b'.');
        text.parse::<f64>().ok().filter(|_| plain).ok_or_else(not_a_time)
    };
    let whole = |text: &str| {
        let plain = (1..=6).contains(&text.len()) && text.bytes().all(|byte| byte.is_ascii_digit());
        text.parse::<u32>().ok().filter(|_| plain).map(f64::from).ok_or_else(not_a_time)
    };
    match *text.split(':').collect::<Vec<_>>() {
        [seconds] => number(seconds),
        [hours, minutes, seconds] => {
            let (minutes, seconds) = (whole(minutes)?, number(seconds)?);
            if minutes < 60.0 && seconds < 60.0 {
                Ok(whole(hours)? * 3600.0 + minutes * 60.0 + seconds)
            } else {
                Err(not_a_time())
            }
        }
        _ => Err(not_a_time()),
    }
}
