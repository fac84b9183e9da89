//! What can be typed of a picture, and of scan lines that are one.

use clap::{Args as ClapArgs, ValueEnum};
use stave::setup::{LengthUnit, option_length_mm};
use stave::{Options, PictureSize, ScanLines};

use crate::failure::Failure;

/// How large a picture is, and how scan lines are burned.
#[derive(Clone, Debug, Default, ClapArgs)]
pub(crate) struct PictureOptions {
    /// How wide a PNG or JPEG picture is around the work; bare lengths are mm, 3.5in is taken. Its
    /// own resolution says it where this and --height are not given
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    pub(crate) width: Option<String>,
    /// How high it is along the work
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    pub(crate) height: Option<String>,
    /// What becomes of scan lines in a flat program: laid move by move, scanned again on lines
    /// along which the work stands still, or the one that makes the rotary move less
    #[arg(long, value_enum, value_name = "HOW", default_value = "follow")]
    pub(crate) scan: ScanWord,
}

#[derive(Clone, Copy, Debug, Default, Eq, PartialEq, ValueEnum)]
pub(crate) enum ScanWord {
    Again,
    #[default]
    Follow,
    Auto,
}

impl PictureOptions {
    /// Options with what was asked of scan lines.
    pub(crate) fn scanning(&self, options: Options) -> Options {
        let scan = match self.scan {
            ScanWord::Again => ScanLines::Again,
            ScanWord::Follow => ScanLines::Follow,
            ScanWord::Auto => ScanLines::Auto,
        };
        Options { scan, ..options }
    }

    /// What is no picture file is as large as it says.
    pub(crate) fn refuse_for(&self, what: &str) -> Result<(), Failure> {
        let given = [("--width", &self.width), ("--height", &self.height)];
        match given.into_iter().find(|(_, text)| text.is_some()) {
            None => Ok(()),
            Some((name, _)) => Err(Failure::bad(format!(
                "{name} says how large a PNG or JPEG picture is; {what} has a size of its own: \
                 change it where it was drawn"
            ))),
        }
    }

    /// The size as it is meant.
    pub(crate) fn read(&self) -> Result<PictureSize, Failure> {
        let length = |name: &str, text: &Option<String>| match text {
            None => Ok(None),
            Some(text) => match option_length_mm(name, text, LengthUnit::Mm) {
                Ok(length) if length > 0.0 => Ok(Some(length)),
                Err(fault) if !text.trim_start().starts_with('-') => {
                    Err(Failure::bad(fault.to_string()))
                }
                _ => Err(Failure::bad(format!("--{name}: `{text}` must be more than 0"))),
            },
        };
        Ok(PictureSize {
            width_mm: length("width", &self.width)?,
            height_mm: length("height", &self.height)?,
        })
    }
}
