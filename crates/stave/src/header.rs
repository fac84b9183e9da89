//! What line 1 of a wrapped program says it was wrapped for, written and read back.

use stave_setup::{Blank, Drive, FocusMode, Machine, Setup, Toward};
use stave_toolpath::number::fixed;
use stave_wall::LayKind;
use stave_write::gcode::Header;

const DECIMALS: u32 = 6;

/// The words of line 1: places are `at,turn` in mm and degrees.
pub(crate) fn header(setup: &Setup) -> Header {
    let job = &setup.job;
    let place = |at_mm: f64, turn_rad: f64| {
        format!("{},{}", fixed(at_mm, DECIMALS), fixed(turn_rad.to_degrees(), DECIMALS))
    };
    let field = |key: &str, value: String| (key.to_owned(), value);
    let mut header = Header {
        fields: vec![
            field("blank", setup.blank.name.clone()),
            field("machine", setup.machine.name.clone()),
            field("lay", job.lay.to_string()),
            field("tilt", fixed(job.tilt_rad.to_degrees(), DECIMALS)),
            field("place", place(job.place.at_mm, job.place.turn_rad)),
            field("zero", place(job.zero.at_mm, job.zero.turn_rad)),
            field("toward", if job.toward == Toward::XMinus { "x-" } else { "x+" }.to_owned()),
            field(
                "focus",
                if job.focus == FocusMode::Follow { "follow" } else { "fixed" }.to_owned(),
            ),
            field("reference_diameter", fixed(2.0 * job.reference_radius_mm, DECIMALS)),
        ],
    };
    if setup.machine.rotary.drive == Drive::Roller {
        // A roller's word is mm of surface where it touches: without the place it cannot be read
        // back.
        header.fields.push(field("contact_at", fixed(job.contact_at_mm, DECIMALS)));
    }
    header
}

/// As [`header`], with room for the time the program will take: known only when all of it is
/// written.
pub(crate) fn header_with_time(setup: &Setup) -> Header {
    let mut header = header(setup);
    header.fields.push(("time".to_owned(), crate::timed::TIME_UNKNOWN.to_owned()));
    header
}

/// What a program was wrapped for, as its line 1 says; or, for one without it, what is taken in its
/// place.
#[derive(Clone, Debug, PartialEq)]
pub struct WrappedFor {
    /// The blank's name; brackets in it are square ones.
    pub blank: String,
    /// The machine's name, likewise.
    pub machine: String,
    /// The lay of the job; parts of the art may have had their own.
    pub lay: Option<LayKind>,
    /// The rotary's tilt, rad; positive raises the end with the larger `at`.
    pub tilt_rad: f64,
    /// Where the flat origin lies: mm along the axis, and turn, rad.
    pub place: (f64, f64),
    /// Where the X and rotary words are zero: mm along the axis, and turn, rad.
    pub zero: (f64, f64),
    /// Where the end of the work with the larger `at` points.
    pub toward: Toward,
    /// Who keeps the focus.
    pub focus: FocusMode,
    /// The radius at which a drawing is true, mm.
    pub reference_radius_mm: Option<f64>,
    /// Where a roller touches, mm along the axis; `None` is where the wall is widest.
    pub contact_at_mm: Option<f64>,
}

impl WrappedFor {
    /// Reads the first comment of a program; `None` where it is none of ours.
    ///
    /// # Errors
    /// A line that begins as ours and cannot be meant: a sentence that names the word.
    ///
    /// ```
    /// use stave::WrappedFor;
    /// let line = "stave wrapped 1 blank=mug machine=bench lay=true-width tilt=3 place=10,0 zero=10,90 toward=x+ focus=fixed";
    /// let wrapped = WrappedFor::parse(line.as_bytes()).unwrap()?;
    /// assert_eq!(wrapped.blank, "mug");
    /// assert_eq!(wrapped.zero, (10.0, std::f64::consts::FRAC_PI_2));
    /// assert!(WrappedFor::parse(b"some other comment").is_none());
    /// # Ok::<(), String>(())
    /// ```
    #[must_use]
    pub fn parse(comment: &[u8]) -> Option<Result<Self, String>> {
        let text = std::str::from_utf8(comment).ok()?;
        Some(Self::of(&Header::parse(text)?))
    }

    fn of(header: &Header) -> Result<Self, String> {
        let word =
            |key: &str| header.get(key).ok_or_else(|| format!("line 1 does not say {key}=…"));
        let odd =
            |key: &str, found: &str| format!("line 1 says {key}={found}, which cannot be meant");
        let number = |key: &str, found: &str| {
            found
                .parse::<f64>()
                .ok()
                .filter(|value| value.is_finite())
                .ok_or_else(|| odd(key, found))
        };
        let place = |key: &str| {
            let found = word(key)?;
            let (at, turn) = found.split_once(',').ok_or_else(|| odd(key, found))?;
            Ok::<_, String>((number(key, at)?, number(key, turn)?.to_radians()))
        };
        let optional = |key: &str| header.get(key).map(|found| number(key, found)).transpose();
        let tilt = number("tilt", word("tilt")?)?;
        if tilt.abs() >= 90.0 {
            return Err(odd("tilt", word("tilt")?));
        }
        Ok(Self {
            blank: header.get("blank").unwrap_or_default().to_owned(),
            machine: header.get("machine").unwrap_or_default().to_owned(),
            lay: header.get("lay").and_then(|name| name.parse().ok()),
            tilt_rad: tilt.to_radians(),
            place: place("place")?,
            zero: place("zero")?,
            toward: match header.get("toward") {
                None | Some("x+") => Toward::XPlus,
                Some("x-") => Toward::XMinus,
                Some(found) => return Err(odd("toward", found)),
            },
            focus: match header.get("focus") {
                None | Some("fixed") => FocusMode::Fixed,
                Some("follow") => FocusMode::Follow,
                Some(found) => return Err(odd("focus", found)),
            },
            reference_radius_mm: optional("reference_diameter")?.map(|diameter| diameter / 2.0),
            contact_at_mm: optional("contact_at")?,
        })
    }

    /// For a rotary program without our line 1: zero at the first station and turn 0, no tilt.
    #[must_use]
    pub fn assumed(blank: &Blank, machine: &Machine) -> Self {
        let zero = (blank.wall.at_range_mm().0, 0.0);
        Self {
            blank: blank.name.clone(),
            machine: machine.name.clone(),
            lay: None,
            tilt_rad: 0.0,
            place: zero,
            zero,
            toward: Toward::XPlus,
            focus: FocusMode::Fixed,
            reference_radius_mm: None,
            contact_at_mm: None,
        }
    }

    /// What does not agree with the blank and machine at hand, a sentence each.
    #[must_use]
    pub fn differences(&self, blank: Option<&Blank>, machine: &Machine) -> Vec<String> {
        let named = |what: &str, found: &str, name: &str| {
            let header = Header { fields: vec![(what.to_owned(), name.to_owned())] };
            let clean = Header::parse(header.first_line().trim_matches(['(', ')']));
            let same = clean.is_some_and(|clean| clean.get(what) == Some(found));
            (!same && !found.is_empty()).then(|| {
                format!(
                    "the program was wrapped for the {what} \"{found}\", and this one is \"{name}\""
                )
            })
        };
        let blank = blank.and_then(|blank| named("blank", &self.blank, &blank.name));
        blank.into_iter().chain(named("machine", &self.machine, &machine.name)).collect()
    }
}
