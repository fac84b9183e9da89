//! Job settings, each declared once: its key in the file, its option, what it may be and what it
//! means.

use std::sync::Arc;

use stave_wall::LayKind;

use crate::bounds::{Bounds, LONGEST_MM, THINNEST_MM};
use crate::digest::show;
use crate::job::{JobAnchor, JobFile};
use crate::list::{allowed_words, listed_keys};
use crate::nearest::nearest;
use crate::plausible::is_bare_length;
use crate::quantity::{degrees, length_mm};
use crate::section::Section;
use crate::syntax::with_point;
use crate::values::{NAME_ALLOWED, is_name};
use crate::word::{Word, words_of};
use crate::{Dose, Fault, FocusMode, Given, LengthUnit, Origin, PlaceOf, Stands, Toward, ZoneRule};

/// A place along the axis or in the flat plane.
pub(crate) const COORDINATE: Bounds = Bounds::closed(-LONGEST_MM, LONGEST_MM);
pub(crate) const DIAMETER: Bounds = Bounds::closed(THINNEST_MM, LONGEST_MM);
/// Below a picometre no f64 wrap is exact; above 10 mm nothing is left of the art.
pub(crate) const TOLERANCE: Bounds = Bounds::closed(1e-6, 10.0);
pub(crate) const TILT_DEG: Bounds = Bounds::open(-90.0, 90.0);
/// A hundred turns: no art winds on farther, and the words stay exact.
pub(crate) const MOST_TURN_DEG: f64 = 36_000.0;
pub(crate) const TURN_DEG: Bounds = Bounds::closed(-MOST_TURN_DEG, MOST_TURN_DEG);

/// A job setting as a command line takes it.
#[derive(Clone, Debug)]
pub struct JobOption {
    /// Its name, without the dashes.
    pub name: &'static str,
    /// What its value is called.
    pub value_name: &'static str,
    /// What it means, without a full stop.
    pub help: &'static str,
    table: JobTable,
    key: &'static str,
    words: fn() -> Vec<&'static str>,
    read: fn(&mut Section<'_, '_, '_>, &'static str, &mut JobFile),
    set: fn(&Typed<'_>, &mut JobFile) -> Result<(), Fault>,
    shown: fn(&JobFile) -> Option<String>,
}

impl JobOption {
    /// The words it may be, in the order in which they are told; none where it is no word. (An
    /// anchor may be a point besides.)
    #[must_use]
    pub fn words(&self) -> Vec<&'static str> {
        (self.words)()
    }

    /// Its key in the job file, with its section.
    pub(crate) fn path(&self) -> String {
        match self.table {
            JobTable::Top => self.key.to_owned(),
            JobTable::Place => format!("place.{}", self.key),
            JobTable::Zero => format!("zero.{}", self.key),
        }
    }

    /// Its value in a job, where it was given.
    pub(crate) fn value(&self, job: &JobFile) -> Option<String> {
        (self.shown)(job)
    }
}

/// Where in a job file a setting stands.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(crate) enum JobTable {
    /// Above the sections.
    Top,
    /// In `[place]`.
    Place,
    /// In `[zero]`.
    Zero,
}

/// A setting of one field: the kind of its value has a method of this name for a key of the file
/// and for what was typed, which take the same bounds.
macro_rules! setting {
    (@words) => { Vec::new };
    (@words $words:path) => { $words };
    (
        $table:ident $key:literal, $name:literal $value_name:literal, $help:literal,
        $field:ident: word::<$word:ty>()
    ) => {
        JobOption {
            name: $name,
            value_name: $value_name,
            help: $help,
            table: JobTable::$table,
            key: $key,
            words: words_of::<$word>,
            read: |section, key, job| job.$field = section.word::<$word>(key),
            set: |typed, job| {
                job.$field = Some(typed.word::<$word>()?);
                Ok(())
            },
            shown: |job| show::given(job.$field.as_ref(), show::word::<$word>),
        }
    };
    (
        $table:ident $key:literal, $name:literal $value_name:literal, $help:literal,
        $field:ident: $kind:ident($($bounds:expr)?) $(or $words:path)?
    ) => {
        JobOption {
            name: $name,
            value_name: $value_name,
            help: $help,
            table: JobTable::$table,
            key: $key,
            words: setting!(@words $($words)?),
            read: |section, key, job| job.$field = section.$kind(key $(, $bounds)?),
            set: |typed, job| {
                job.$field = Some(typed.$kind($($bounds)?)?);
                Ok(())
            },
            shown: |job| show::given(job.$field.as_ref(), show::$kind),
        }
    };
}

/// The job settings that are one value: each a key of the job file, and an option of the same name.
#[rustfmt::skip]
pub static JOB_OPTIONS: &[JobOption] = &[
    setting!(Top "lay", "lay" "LAY",
        "The rule that carries the flat plane to the wall",
        lay: word::<LayKind>()),
    setting!(Top "anchor", "anchor" "ANCHOR",
        "The point a lay is reckoned from: one of the words, or a flat point U,V",
        anchor: anchor() or anchor_words),
    setting!(Top "reference_diameter", "reference-diameter" "LENGTH",
        "The diameter the art was drawn for",
        reference_diameter_mm: length(DIAMETER)),
    setting!(Top "tolerance", "tolerance" "LENGTH",
        "How far a burn may stray from the exact image, on the wall",
        tolerance_mm: length(TOLERANCE)),
    setting!(Top "tilt", "tilt" "ANGLE",
        "How far the rotary is raised; positive raises the end with the larger `at`",
        tilt_rad: angle(TILT_DEG)),
    setting!(Top "dose", "dose" "DOSE",
        "What power does where the lay changes lengths: even holds the energy per area",
        dose: word::<Dose>()),
    setting!(Top "zones", "zones" "RULE",
        "What to do with burns in a zone",
        zones: word::<ZoneRule>()),
    setting!(Top "focus", "focus" "FOCUS",
        "Who keeps the focus: the user once, or Z, which follows the crest",
        focus: word::<FocusMode>()),
    setting!(Top "focus_at", "focus-at" "AT",
        "Where along the axis the user focuses, where the focus is fixed",
        focus_at_mm: length(COORDINATE)),
    setting!(Top "stands", "stands" "HOW",
        "How the ware stands in the drawing",
        stands: word::<Stands>()),
    setting!(Top "toward", "toward" "WAY",
        "Which way the end with the larger `at` points",
        toward: word::<Toward>()),
    setting!(Top "lens", "lens" "NAME",
        "The lens fitted, by its name in the machine file",
        lens: name()),
    setting!(Top "nozzle", "nozzle" "NAME",
        "The nozzle fitted, by its name in the machine file",
        nozzle: name()),
    setting!(Top "set_diameter", "set-diameter" "LENGTH",
        "The diameter the controller is told, for --to svg",
        set_diameter_mm: length(DIAMETER)),
    setting!(Top "contact_at", "contact-at" "AT",
        "Where along the axis a roller touches the work",
        contact_at_mm: length(COORDINATE)),
    setting!(Place "at", "place-at" "AT",
        "Where the flat origin lands along the axis",
        place_at_mm: length(COORDINATE)),
    setting!(Place "turn", "place-turn" "TURN",
        "Where the flat origin lands around",
        place_turn_rad: angle(TURN_DEG)),
    setting!(Place "of", "place-of" "WHAT",
        "What of the drawing lands there: the page's bottom middle, or the centre of the art",
        place_of: word::<PlaceOf>()),
    setting!(Place "facet", "place-facet" "NAME",
        "The flat place of the blank that is burned, by its name",
        place_facet: name()),
    setting!(Place "held_at", "held-at" "AT",
        "Where along the axis the chuck's face is, which the rotary's obstacles count from",
        held_at_mm: length(COORDINATE)),
    setting!(Zero "at", "zero-at" "AT",
        "Where along the axis the machine's zero is",
        zero_at_mm: length(COORDINATE)),
    setting!(Zero "turn", "zero-turn" "TURN",
        "Where around the machine's zero is",
        zero_turn_rad: angle(TURN_DEG)),
];

/// Reads the settings that stand in one table of a job file.
pub(crate) fn read_settings(section: &mut Section<'_, '_, '_>, table: JobTable, job: &mut JobFile) {
    for option in JOB_OPTIONS.iter().filter(|option| option.table == table) {
        (option.read)(section, option.key, job);
    }
}

pub(crate) fn anchor_words() -> Vec<&'static str> {
    ANCHOR_WORDS.iter().map(|(word, _)| *word).collect()
}

/// The words of an anchor, which may be a point besides.
const ANCHOR_WORDS: [(&str, JobAnchor); 2] =
    [("drawing", JobAnchor::Drawing), ("piece", JobAnchor::Piece)];

/// The anchor that a word means.
fn anchor_of_word(word: &str) -> Option<JobAnchor> {
    ANCHOR_WORDS.iter().find(|(known, _)| *known == word).map(|(_, anchor)| *anchor)
}

impl Section<'_, '_, '_> {
    /// An anchor: a word or a point.
    pub(crate) fn anchor(&mut self, key: &'static str) -> Option<Given<JobAnchor>> {
        const ALLOWED: &str = "\"drawing\", \"piece\" or a point [u, v]";
        let entry = self.entry(key)?;
        let value = match self.text_in(&entry) {
            Some(word) => anchor_of_word(word).or_else(|| {
                self.must_be(&entry, ALLOWED);
                None
            })?,
            None => {
                let unit = self.reader.unit;
                let (u_mm, v_mm) = self.pair_in(&entry, COORDINATE, Some(unit), ALLOWED)?;
                JobAnchor::Point { u_mm, v_mm }
            }
        };
        self.given(&entry, value)
    }
}

impl JobFile {
    /// Sets what the command-line option `name` (the name of one of [`JOB_OPTIONS`]) gives.
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
    /// assert!(fault.to_string().starts_with(
    ///     r#"--lay: "flat" is given, but must be "even-angle", "true-width""#
    /// ));
    /// # Ok::<(), stave_setup::Fault>(())
    /// ```
    pub fn set_option(&mut self, name: &str, value: &str) -> Result<(), Fault> {
        let typed = Typed { name, value };
        let names = || JOB_OPTIONS.iter().map(|option| option.name);
        if let Some(option) = JOB_OPTIONS.iter().find(|option| option.name == name) {
            (option.set)(&typed, self)?;
            if matches!(option.value_name, "LENGTH" | "AT" | "ANCHOR") && is_bare_length(value) {
                self.bare_options.push((name.to_owned(), shown(value)));
            }
            if option.value_name == "LENGTH" && value.trim().ends_with("in") {
                self.inch_options.push(name.to_owned());
            }
            return Ok(());
        }
        let advice = match nearest(name, names()) {
            Some(known) => format!("did you mean `{known}`?"),
            None => format!("known are {}", listed_keys(names())),
        };
        Err(typed.fault(format!("is not an option for a job setting; {advice}")))
    }
}

/// What was typed for an option.
struct Typed<'a> {
    name: &'a str,
    value: &'a str,
}

impl Typed<'_> {
    fn source(&self) -> Origin {
        Origin::Option { name: Arc::from(shown(self.name).as_str()) }
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

    /// As [`Self::must_be`], of a single number.
    fn must_be_number(&self, allowed: &str) -> Fault {
        match with_point(self.value.trim()) {
            Some(number) => {
                self.must_be(&format!("{allowed}; the decimal sign is a point: write {number}"))
            }
            None => self.must_be(allowed),
        }
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
                Err(self.must_be_number(allowed.trim_end_matches(", ")))
            }
        }
    }

    fn angle(&self, bounds: Bounds) -> Result<Given<f64>, Fault> {
        match degrees(self.value) {
            Some(value) if bounds.hold(value) => Ok(self.given(value.to_radians())),
            found => {
                Err(self
                    .must_be_number(&format!("an angle in degrees, {}", bounds.text(None, found))))
            }
        }
    }

    fn name(&self) -> Result<Given<String>, Fault> {
        if is_name(self.value) {
            Ok(self.given(self.value.to_owned()))
        } else {
            Err(self.must_be(NAME_ALLOWED))
        }
    }

    fn anchor(&self) -> Result<Given<JobAnchor>, Fault> {
        let point = |text: &str| {
            let (u, v) = text.split_once(',')?;
            let (u_mm, v_mm) = (length_mm(u)?, length_mm(v)?);
            let hold = COORDINATE.hold(u_mm) && COORDINATE.hold(v_mm);
            hold.then_some(JobAnchor::Point { u_mm, v_mm })
        };
        let text = self.value.trim();
        anchor_of_word(text)
            .or_else(|| point(text))
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
