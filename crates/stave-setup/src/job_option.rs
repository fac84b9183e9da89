//! Job settings from the command line.

use std::sync::Arc;

use crate::bounds::Bounds;
use crate::job::{JobAnchor, JobFile};
use crate::job_file::{COORDINATE, DIAMETER, TILT_DEG, TOLERANCE, TURN_DEG};
use crate::list::{allowed_words, listed_keys};
use crate::nearest::nearest;
use crate::quantity::{degrees, length_mm};
use crate::word::Word;
use crate::{Fault, Given, LengthUnit, Source};

/// The options that give a job setting, without their dashes.
pub const OPTION_NAMES: [&str; 15] = [
    "lay",
    "anchor",
    "tilt",
    "tolerance",
    "dose",
    "zones",
    "focus",
    "stands",
    "toward",
    "reference-diameter",
    "set-diameter",
    "place-at",
    "place-turn",
    "zero-at",
    "zero-turn",
];

impl JobFile {
    /// Sets what the command-line option `name` (one of [`OPTION_NAMES`]) gives.
    ///
    /// # Units
    /// Lengths are mm unless they end in `in`: `88`, `88mm`, `3.5in`, `-2in`. Angles are degrees:
    /// `-3`, `3deg`. An anchor is `drawing`, `piece` or two lengths, `-10,5`.
    ///
    /// # Errors
    /// What was found and what is allowed; for an unknown name, the nearest known one. Nothing is
    /// set then.
    ///
    /// # Examples
    /// ```
    /// use stave_setup::JobFile;
    /// let mut options = JobFile::default();
    /// options.set_option("place-at", "3.5in")?;
    /// assert_eq!(options.place_at_mm.as_ref().map(|at| at.value), Some(88.9));
    /// let fault = options.set_option("lay", "flat").unwrap_err();
    /// assert_eq!(
    ///     fault.to_string(),
    ///     r#"--lay: "flat" is given, but must be "even-angle", "true-width", "true-shape" or "label""#
    /// );
    /// # Ok::<(), stave_setup::Fault>(())
    /// ```
    pub fn set_option(&mut self, name: &str, value: &str) -> Result<(), Fault> {
        let option = JobOption { name, value };
        match name {
            "lay" => self.lay = Some(option.word()?),
            "anchor" => self.anchor = Some(option.anchor()?),
            "tilt" => self.tilt_rad = Some(option.angle(TILT_DEG)?),
            "tolerance" => self.tolerance_mm = Some(option.length(TOLERANCE)?),
            "dose" => self.dose = Some(option.word()?),
            "zones" => self.zones = Some(option.word()?),
            "focus" => self.focus = Some(option.word()?),
            "stands" => self.stands = Some(option.word()?),
            "toward" => self.toward = Some(option.word()?),
            "reference-diameter" => self.reference_diameter_mm = Some(option.length(DIAMETER)?),
            "set-diameter" => self.set_diameter_mm = Some(option.length(DIAMETER)?),
            "place-at" => self.place_at_mm = Some(option.length(COORDINATE)?),
            "place-turn" => self.place_turn_rad = Some(option.angle(TURN_DEG)?),
            "zero-at" => self.zero_at_mm = Some(option.length(COORDINATE)?),
            "zero-turn" => self.zero_turn_rad = Some(option.angle(TURN_DEG)?),
            _ => {
                let advice = match nearest(name, OPTION_NAMES.into_iter()) {
                    Some(known) => format!("did you mean `{known}`?"),
                    None => format!("known are {}", listed_keys(OPTION_NAMES.into_iter())),
                };
                return Err(option.fault(format!("is not an option for a job setting; {advice}")));
            }
        }
        Ok(())
    }
}

struct JobOption<'a> {
    name: &'a str,
    value: &'a str,
}

impl JobOption<'_> {
    fn source(&self) -> Source {
        Source::Option { name: Arc::from(shown(self.name).as_str()) }
    }

    fn given<T>(&self, value: T) -> Given<T> {
        Given { value, from: Some(self.source()) }
    }

    fn fault(&self, message: String) -> Fault {
        Fault::new(Some(self.source()), message)
    }

    fn must_be(&self, allowed: &str) -> Fault {
        self.fault(format!("\"{}\" is given, but must be {allowed}", shown(self.value)))
    }

    fn word<W: Word>(&self) -> Result<Given<W>, Fault> {
        W::from_word(self.value.trim())
            .map(|word| self.given(word))
            .ok_or_else(|| self.must_be(&allowed_words::<W>()))
    }

    fn length(&self, bounds: Bounds) -> Result<Given<f64>, Fault> {
        match length_mm(self.value) {
            Some(value) if bounds.hold(value) => Ok(self.given(value)),
            Some(value) => Err(self.must_be(&bounds.text(Some(LengthUnit::Mm), Some(value)))),
            None => {
                let range = bounds.text(Some(LengthUnit::Mm), None);
                let allowed = format!("a length such as 88, 88mm or 3.5in, {range}");
                Err(self.must_be(allowed.trim_end_matches(", ")))
            }
        }
    }

    fn angle(&self, bounds: Bounds) -> Result<Given<f64>, Fault> {
        match degrees(self.value) {
            Some(value) if bounds.hold(value) => Ok(self.given(value.to_radians())),
            found => {
                Err(self.must_be(&format!("an angle in degrees, {}", bounds.text(None, found))))
            }
        }
    }

    fn anchor(&self) -> Result<Given<JobAnchor>, Fault> {
        let anchor = match self.value.trim() {
            "drawing" => Some(JobAnchor::Drawing),
            "piece" => Some(JobAnchor::Piece),
            text => text.split_once(',').and_then(|(u, v)| {
                let (u_mm, v_mm) = (length_mm(u)?, length_mm(v)?);
                (COORDINATE.hold(u_mm) && COORDINATE.hold(v_mm))
                    .then_some(JobAnchor::Point { u_mm, v_mm })
            }),
        };
        anchor
            .map(|anchor| self.given(anchor))
            .ok_or_else(|| self.must_be("\"drawing\", \"piece\" or a point \"u,v\" such as -10,5"))
    }
}

/// What was typed, cut where it is long, without control characters.
fn shown(text: &str) -> String {
    let mut shown: String =
        text.chars().take(60).map(|c| if c.is_control() { ' ' } else { c }).collect();
    if text.chars().nth(60).is_some() {
        shown.push('…');
    }
    shown
}
