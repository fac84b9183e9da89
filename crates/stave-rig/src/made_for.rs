//! What line 1 of a wrapped program says it was wrapped for, written and read back.

use stave_setup::{Blank, Digests, FocusMode, Machine, SettingsFile, Setup, Toward, Values};
use stave_toolpath::number::fixed;
use stave_wall::LayKind;

use crate::focus::FocusAt;
use crate::line_one::Header;

const DECIMALS: u32 = 6;

/// What line 1 says of a program's time until it is known. Hours, minutes and seconds take its
/// place, as many bytes.
pub const TIME_UNKNOWN: &str = "----:--:--";

/// A time in the form of [`TIME_UNKNOWN`], rounded up to a whole second; `None` for ten thousand
/// hours or more.
///
/// ```
/// assert_eq!(stave_rig::time_field(641.2).as_deref(), Some("0000:10:42"));
/// ```
#[must_use]
pub fn time_field(seconds: f64) -> Option<String> {
    let whole = seconds.ceil();
    if !(0.0..36e6).contains(&whole) {
        return None;
    }
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "checked above")]
    let whole = whole as u64;
    Some(format!("{:04}:{:02}:{:02}", whole / 3600, whole / 60 % 60, whole % 60))
}

/// What line 1 of an order's program says of its time in seconds until it is known.
pub const DURATION_UNKNOWN: &str = "--------.-";

/// A time in the form of [`DURATION_UNKNOWN`], seconds to a tenth; `None` where it does not go in.
///
/// ```
/// assert_eq!(stave_rig::duration_field(641.25).as_deref(), Some("00000641.3"));
/// ```
#[must_use]
pub fn duration_field(seconds: f64) -> Option<String> {
    let tenths = (seconds * 10.0).round();
    if !(0.0..1e9).contains(&tenths) {
        return None;
    }
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "checked above")]
    let tenths = tenths as u64;
    Some(format!("{:08}.{}", tenths / 10, tenths % 10))
}

/// What a swatch tries.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Swatch {
    /// Patches of powers against speeds or spacings.
    Table,
    /// Which way the work is held, and which way it turns.
    Arrow,
    /// Units of a turn, and the rotary's play.
    Turn,
    /// The time between a word and its light.
    Lag,
    /// The height of the focus.
    FocusLadder,
    /// How dark so many powers come out.
    Wedge,
}

impl Swatch {
    /// All of them.
    pub const ALL: [Self; 6] =
        [Self::Table, Self::Arrow, Self::Turn, Self::Lag, Self::FocusLadder, Self::Wedge];

    /// Its name, as line 1 and the report of a swatch have it.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Table => "table",
            Self::Arrow => "arrow",
            Self::Turn => "turn",
            Self::Lag => "lag",
            Self::FocusLadder => "focus-ladder",
            Self::Wedge => "wedge",
        }
    }

    /// The one of that name.
    #[must_use]
    pub fn named(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|swatch| swatch.as_str() == name)
    }

    /// True where single ticks are burned instead of areas: how far apart they lie says nothing.
    #[must_use]
    pub fn burns_ticks(self) -> bool {
        matches!(self, Self::Arrow | Self::Turn | Self::Lag | Self::FocusLadder)
    }
}

/// What the program of an order says besides of what it was made with.
#[derive(Clone, Debug, Default, Eq, PartialEq)]
pub struct Stamp {
    /// The version that made it.
    pub version: String,
    /// A digest of whatever else it hangs on: fonts, what is accepted; `-` for nothing.
    pub with: String,
    /// The digest of what was burned, fields and all.
    pub input: String,
}

/// What a program was wrapped for, as its line 1 says; or, for one without it, what is taken in its
/// place.
#[derive(Clone, Debug, PartialEq)]
pub struct MadeFor {
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
    /// Where a roller touches, mm along the axis; `None` is where the wall is widest.
    pub contact_at_mm: Option<f64>,
    /// The flat place of the ware that it burns, and the word at which the rotary stands for it,
    /// rotary units; `None` for its wall.
    pub facet: Option<(String, f64)>,
    /// In how many set-ups it burns, each begun by the comment of a [`SetUp`](crate::SetUp); `None`
    /// for one.
    pub set_ups: Option<u32>,
    /// Where the chuck's face is, mm along the axis, which the rotary's obstacles count from;
    /// `None` where there are none, or it does not say.
    pub held_at_mm: Option<f64>,
    /// The lens and the nozzle fitted, where they are not those that the machine names first;
    /// cleaned, and shortened where they are long.
    pub fitted: (Option<String>, Option<String>),
    /// True for a walk: it goes round what another program burns.
    pub walk: bool,
    /// What a swatch tries; `None` for any other program.
    pub swatch: Option<Swatch>,
    /// Height of the focus where it does not hang on what burns: where the job says it, and of a
    /// walk that of the program it was made from; mm, as
    /// [`stave_wall::Crest::height_mm`] has it.
    pub focus_height_mm: Option<f64>,
    /// Where the head was focused: of a walk, and of the rest of a program that was broken off,
    /// which burns only a part of what that was set by; and on ware that is not round or does not
    /// run true wherever the height is said.
    pub focus_at: Option<FocusAt>,
    /// The digests of the files it was made from; `None` where it does not say.
    pub files: Option<Digests>,
    /// What the program of an order says besides; `None` for any other.
    pub stamp: Option<Stamp>,
}

impl MadeFor {
    /// Reads the first comment of a program; `None` where it is none of ours.
    ///
    /// # Errors
    /// A line that begins as ours and cannot be meant: a sentence that names the word.
    ///
    /// ```
    /// use stave_rig::MadeFor;
    /// let line = "stave wrapped 1 blank=mug machine=bench lay=true-width tilt=3 place=10,0 zero=10,90 toward=x+ focus=fixed";
    /// let wrapped = MadeFor::parse(line.as_bytes()).unwrap()?;
    /// assert_eq!(wrapped.blank, "mug");
    /// assert_eq!(wrapped.zero, (10.0, std::f64::consts::FRAC_PI_2));
    /// assert!(MadeFor::parse(b"some other comment").is_none());
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
            contact_at_mm: optional("contact_at")?,
            facet: match header.get("facet") {
                Some(name) => Some((name.to_owned(), number("index", word("index")?)?)),
                None => None,
            },
            set_ups: match header.get("parts") {
                Some(found) => Some(found.parse().map_err(|_| odd("parts", found))?),
                None => None,
            },
            held_at_mm: optional("held_at")?,
            fitted: (
                header.get("lens").map(str::to_owned),
                header.get("nozzle").map(str::to_owned),
            ),
            walk: header.get("walk").is_some(),
            swatch: match header.get("swatch") {
                Some(found) => Some(Swatch::named(found).ok_or_else(|| odd("swatch", found))?),
                None => None,
            },
            focus_height_mm: optional("focus_height")?,
            focus_at: match (optional("focus_at")?, optional("focus_turn")?) {
                (Some(at_mm), turn_deg) => {
                    Some(FocusAt { at_mm, turn_rad: turn_deg.map(f64::to_radians) })
                }
                (None, _) => None,
            },
            files: match header.get("files") {
                Some(found) => Some(found.parse().map_err(|()| odd("files", found))?),
                None => None,
            },
            stamp: header.get("version").map(|version| Stamp {
                version: version.to_owned(),
                with: header.get("with").unwrap_or("-").to_owned(),
                input: String::new(),
            }),
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
            contact_at_mm: None,
            facet: None,
            set_ups: None,
            held_at_mm: None,
            fitted: (None, None),
            walk: false,
            swatch: None,
            focus_height_mm: None,
            focus_at: None,
            files: None,
            stamp: None,
        }
    }

    /// What a program that is wrapped by a setup says.
    #[must_use]
    pub fn of_setup(setup: &Setup) -> Self {
        let (job, blank) = (&setup.job, &setup.blank);
        let zero = (job.zero.at_mm, job.zero.turn_rad);
        let focus_at = FocusAt::asked(setup, job.focus, zero);
        let focus_at = focus_at.filter(|_| job.focus == FocusMode::Fixed);
        Self {
            blank: setup.blank.name.clone(),
            machine: setup.machine.name.clone(),
            lay: Some(job.lay),
            tilt_rad: job.tilt_rad,
            place: (job.place.at_mm, job.place.turn_rad),
            zero,
            toward: job.toward,
            focus: job.focus,
            // A roller's word is mm of surface where it touches: without the place it cannot be
            // read back.
            contact_at_mm: setup.contact_at_mm(),
            facet: setup.facet.as_ref().map(|on| (on.facet.name.clone(), on.index)),
            set_ups: job.set_ups,
            held_at_mm: (!setup.whole().1.obstacles.is_empty()).then_some(job.held_at_mm),
            fitted: fitted(setup),
            walk: false,
            swatch: None,
            focus_at: focus_at.filter(|place| place.turn_rad.is_some()),
            focus_height_mm: focus_at
                .map(|place| place.height_mm(blank, job.tilt_rad, job.zero.turn_rad)),
            files: Some(setup.digests()),
            stamp: None,
        }
    }

    /// Bears a stamp from here on.
    pub fn stamped(&mut self, stamp: &Stamp) {
        if let Some(files) = &mut self.files {
            files.input.clone_from(&stamp.input);
        }
        self.stamp = Some(stamp.clone());
    }

    /// The words of line 1: places are `at,turn` in mm and degrees.
    #[must_use]
    pub fn header(&self) -> Header {
        let number = |value: f64| fixed(value, DECIMALS);
        let place =
            |(at, turn): (f64, f64)| format!("{},{}", number(at), number(turn.to_degrees()));
        let mut header = Header::default();
        header.add("blank", self.blank.clone());
        header.add("machine", self.machine.clone());
        if let Some(lay) = self.lay {
            header.add("lay", lay.to_string());
        }
        header.add("tilt", number(self.tilt_rad.to_degrees()));
        header.add("place", place(self.place));
        header.add("zero", place(self.zero));
        header.add("toward", if self.toward == Toward::XMinus { "x-" } else { "x+" }.to_owned());
        let follows = self.focus == FocusMode::Follow;
        header.add("focus", if follows { "follow" } else { "fixed" }.to_owned());
        if let Some(at_mm) = self.contact_at_mm {
            header.add("contact_at", number(at_mm));
        }
        if let Some((name, index)) = &self.facet {
            header.add("facet", name.clone());
            header.add("index", number(*index));
        }
        if let Some(count) = self.set_ups {
            header.add("parts", count.to_string());
        }
        if let Some(at_mm) = self.held_at_mm {
            header.add("held_at", number(at_mm));
        }
        let (lens, nozzle) = &self.fitted;
        for (key, name) in [("lens", lens), ("nozzle", nozzle)] {
            if let Some(name) = name {
                header.add(key, name.clone());
            }
        }
        if let Some(height_mm) = self.focus_height_mm {
            header.add("focus_height", number(height_mm));
        }
        if let Some(place) = self.focus_at {
            header.add("focus_at", number(place.at_mm));
            if let Some(turn_deg) = place.turn_deg() {
                header.add("focus_turn", number(turn_deg));
            }
        }
        if let Some(files) = &self.files {
            header.add("files", files.to_string());
        }
        if let Some(stamp) = &self.stamp {
            header.add("version", stamp.version.clone());
            header.add("with", stamp.with.clone());
        }
        if let Some(swatch) = self.swatch {
            header.add("swatch", swatch.as_str().to_owned());
        }
        header
    }

    /// As [`MadeFor::header`], with room for the time the program will take: known only when all of
    /// it is written.
    #[must_use]
    pub fn header_with_time(&self) -> Header {
        let mut header = self.header();
        header.add("time", TIME_UNKNOWN.to_owned());
        if self.stamp.is_some() {
            header.add("duration", DURATION_UNKNOWN.to_owned());
        }
        header
    }

    /// What the head of a program says it was made for; `None` where it is none of ours. Before the
    /// line that says so there may be a byte order mark, blank lines, percent signs and comments.
    ///
    /// # Errors
    /// A line that begins as ours and cannot be meant: a sentence that names the word.
    ///
    /// ```
    /// use stave_rig::MadeFor;
    /// let head = b"\xef\xbb\xbf%\n\n(from the shop)\n(stave wrapped 1 blank=mug tilt=0 place=0,0 zero=0,0)\nG21\n";
    /// assert_eq!(MadeFor::of_head(head).unwrap()?.blank, "mug");
    /// assert!(MadeFor::of_head(b"G21\n(stave wrapped 1)\n").is_none());
    /// # Ok::<(), String>(())
    /// ```
    #[must_use]
    pub fn of_head(head: &[u8]) -> Option<Result<Self, String>> {
        let head = head.strip_prefix(b"\xef\xbb\xbf").unwrap_or(head);
        for line in head.split(|byte| matches!(byte, b'\n' | b'\r')) {
            let line = line.trim_ascii();
            let inside = line.strip_prefix(b"(").and_then(|line| line.strip_suffix(b")"));
            if let Some(found) = inside.and_then(Self::parse) {
                return Some(found);
            }
            let passes = line.is_empty()
                || line.iter().all(|byte| *byte == b'%')
                || line.starts_with(b";")
                || inside.is_some_and(|inside| !inside.contains(&b')'));
            if !passes {
                return None;
            }
        }
        None
    }

    /// What does not agree with the blank and machine at hand, a sentence each.
    #[must_use]
    pub fn differences(&self, blank: Option<&Blank>, machine: &Machine) -> Vec<String> {
        let named = |what: &str, found: &str, name: &str| {
            (!Header::names(found, name) && !found.is_empty()).then(|| {
                format!(
                    "the program was wrapped for the {what} \"{found}\", and this one is \"{name}\""
                )
            })
        };
        let blank = blank.and_then(|blank| named("blank", &self.blank, &blank.name));
        blank.into_iter().chain(named("machine", &self.machine, &machine.name)).collect()
    }

    /// Which of the files at hand say something else than those that the program was wrapped for, a
    /// sentence each; a job that says nothing is not compared.
    #[must_use]
    pub fn changed(
        &self,
        blank: Option<&Blank>,
        machine: &Machine,
        job: Option<&Values>,
    ) -> Vec<(SettingsFile, String)> {
        let Some(files) = &self.files else { return Vec::new() };
        let differs = |file: SettingsFile, was: &str, values: &Values| {
            let is = values.digest();
            (was != "-" && is != "-" && was != is).then(|| {
                let what = file.as_str();
                let message = format!(
                    "the {what} is not what the program was wrapped for: its digest was {was} and \
                     is {is}; --was with the file as it was names the keys"
                );
                (file, message)
            })
        };
        let blank = blank.and_then(|one| differs(SettingsFile::Blank, &files.blank, one.values()));
        let machine = differs(SettingsFile::Machine, &files.machine, machine.values());
        let job = job.and_then(|one| differs(SettingsFile::Job, &files.job, one));
        [blank, machine, job].into_iter().flatten().collect()
    }

    /// All that does not agree with what is at hand, a sentence each.
    #[must_use]
    pub fn disagreements(
        &self,
        blank: Option<&Blank>,
        machine: &Machine,
        job: Option<&Values>,
    ) -> Vec<String> {
        let mut all = self.differences(blank, machine);
        all.extend(self.changed(blank, machine, job).into_iter().map(|(_, message)| message));
        all
    }
}

/// The names of the lens and the nozzle of a setup, where they are not the machine's first.
fn fitted(setup: &Setup) -> (Option<String>, Option<String>) {
    let (job, machine) = (&setup.job, &setup.machine);
    let lens = job.lens.as_ref().filter(|lens| machine.lenses.first() != Some(*lens));
    let nozzle = job.nozzle.as_ref().filter(|one| machine.nozzles.first() != Some(*one));
    (lens.map(|lens| lens.name.clone()), nozzle.map(|nozzle| nozzle.name.clone()))
}
