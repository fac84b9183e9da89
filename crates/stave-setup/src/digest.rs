//! What a file says, key by key, and its digest: comments, layout, the order of keys and defaults
//! that are written out make no difference.

use std::collections::BTreeMap;
use std::fmt;

use sha2::{Digest, Sha256};
use stave_toolpath::number::fixed;
use toml::de::{DeTable, DeValue};

use crate::job::{JobAnchor, JobFile, Pick};
use crate::job_option::JOB_OPTIONS;
use crate::keys::{Key, SettingsFile};
use crate::{Given, LengthUnit, Scan, Work};

/// Decimals of a value here: more than any file means.
const DECIMALS: u32 = 9;
/// Larger numbers have fewer: they are no lengths.
const LARGE: f64 = 1e6;
const DECIMALS_OF_LARGE: u32 = 3;
/// How many of a digest's hexadecimal digits are kept: enough to tell one's own files apart.
const DIGITS: usize = 8;

/// What a file says: every key that has not its default, with its value. Lengths are mm, angles
/// degrees.
#[derive(Clone, Debug, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(transparent))]
pub struct Values {
    said: BTreeMap<String, String>,
    /// Whether the file's lengths are in inches.
    #[cfg_attr(feature = "serde", serde(skip))]
    pub(crate) are_inches: bool,
}

/// The unit of a file is no value of it.
impl PartialEq for Values {
    fn eq(&self, other: &Self) -> bool {
        self.said == other.said
    }
}

impl Eq for Values {}

/// A key that two files of a kind do not agree on.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct Difference {
    /// The key, with the number of its section where there are several: `station.2.at`.
    pub key: String,
    /// What it was; `None` where it was left out, or had its default.
    pub was: Option<String>,
    /// What it is.
    pub is: Option<String>,
}

impl fmt::Display for Difference {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let said = |value: &Option<String>| match value {
            Some(value) => value.clone(),
            None => "not given".to_owned(),
        };
        write!(f, "`{}` was {} and is {}", self.key, said(&self.was), said(&self.is))
    }
}

impl Values {
    /// Those of a file's table.
    pub(crate) fn of_table(file: SettingsFile, table: &DeTable<'_>, unit: LengthUnit) -> Self {
        let mut values = Self { are_inches: unit == LengthUnit::Inch, ..Self::default() };
        values.walk(&file.keys(), table, ("", ""), unit);
        values
    }

    /// Whether any of them is a length, or hangs on the unit of lengths.
    pub(crate) fn have_lengths(&self, file: SettingsFile) -> bool {
        let keys = file.keys();
        self.said.keys().any(|shown| {
            let parts = shown.split('.').filter(|part| part.parse::<u32>().is_err());
            let path = parts.collect::<Vec<_>>().join(".");
            keys.iter().any(|key| key.key == path && key.is_length())
        })
    }

    fn walk(
        &mut self,
        keys: &[&Key],
        table: &DeTable<'_>,
        (section, shown): (&str, &str),
        unit: LengthUnit,
    ) {
        let dotted = |before: &str, name: &str| match before {
            "" => name.to_owned(),
            before => format!("{before}.{name}"),
        };
        for (name, value) in table {
            let (path, shown) = (dotted(section, name.get_ref()), dotted(shown, name.get_ref()));
            let Some(key) = keys.iter().find(|key| key.key == path) else { continue };
            match value.get_ref() {
                DeValue::Table(inner) => self.walk(keys, inner, (&path, &shown), unit),
                DeValue::Array(list) if key.is_list() => {
                    for (index, item) in list.iter().enumerate() {
                        let DeValue::Table(inner) = item.get_ref() else { continue };
                        let shown = format!("{shown}.{}", index + 1);
                        self.walk(keys, inner, (&path, &shown), unit);
                    }
                }
                value => self.put(key, shown, text(value, key.is_length().then_some(unit))),
            }
        }
    }

    /// Notes a value, unless it is the default. The unit of a file is no value of it: lengths are
    /// all in mm here. Nor is how the ware looks: no program hangs on it.
    fn put(&mut self, key: &Key, shown: String, value: String) {
        let is_value = key.key != "units" && !key.key.starts_with("look");
        if is_value && key.default_value().map(of_default).as_ref() != Some(&value) {
            self.said.insert(shown, value);
        }
    }

    /// Those of a job, wherever they were given. What only names files, and what is merely
    /// accepted, is none.
    pub(crate) fn of_job(job: &JobFile) -> Self {
        let keys = SettingsFile::Job.keys();
        let mut values = Self::default();
        let mut put = |path: &str, shown: String, value: Option<String>| {
            let key = keys.iter().find(|key| key.key == path);
            if let (Some(key), Some(value)) = (key, value) {
                values.put(key, shown, value);
            }
        };
        for option in JOB_OPTIONS {
            let path = option.path();
            put(&path, path.clone(), option.value(job));
        }
        let fonts: Vec<&str> = job.fonts.iter().map(|font| font.value.as_str()).collect();
        put("fonts", "fonts".to_owned(), (!fonts.is_empty()).then(|| fonts.join(",")));
        for (index, piece) in job.pieces.iter().enumerate() {
            let mut own = |name: &str, value: Option<String>| {
                put(&format!("piece.{name}"), format!("piece.{}.{name}", index + 1), value);
            };
            let ids: Vec<&str> = piece.ids.iter().map(|id| id.value.as_str()).collect();
            own("id", Some(ids.join(",")));
            own("lay", piece.lay.map(|lay| lay.to_string()));
            own("anchor", piece.anchor.as_ref().map(show::anchor));
        }
        for (index, operation) in job.operations.iter().enumerate() {
            let mut own = |name: &str, value: Option<String>| {
                put(&format!("operation.{name}"), format!("operation.{}.{name}", index + 1), value);
            };
            own("name", Some(operation.name.clone()));
            match &operation.pick.value {
                Pick::Fill(colour) => own("pick.fill", Some(colour.to_string())),
                Pick::Stroke(colour) => own("pick.stroke", Some(colour.to_string())),
                Pick::Id(id) => own("pick.id", Some(id.clone())),
                Pick::Input => {}
            }
            let shading = &operation.shading;
            own("one_way", Some(operation.one_way.to_string()));
            // What is none leaves the digest of files without the key as it was.
            let scan = Some(operation.scan).filter(|scan| *scan != Scan::Along);
            own("scan", scan.as_ref().map(show::word));
            own(
                "cross",
                Some(operation.cross).filter(|cross| *cross).map(|cross| cross.to_string()),
            );
            let some = |mm: f64| Some(mm).filter(|mm| *mm != 0.0).as_ref().map(show::length);
            own("fade", some(operation.fade_mm));
            own("defocus", some(operation.defocus_mm));
            own("tone", Some(show::word(&shading.tone)));
            own("invert", Some(shading.invert.to_string()));
            own("gamma", Some(show::length(&shading.gamma)));
            own("power_floor", Some(show::length(&shading.power_floor_percent)));
            own("threshold", Some(show::length(&shading.threshold_percent)));
            if shading.has_threshold && operation.work == Work::Area {
                own("cut", Some(true.to_string()));
            }
            if !shading.tone_curve.is_empty() {
                let points = shading.tone_curve.iter().flat_map(|(power, dark)| [*power, *dark]);
                let points: Vec<String> = points.map(number).collect();
                own("tone_curve", Some(points.join(",")));
            }
            own("work", Some(show::word(&operation.work)));
            own("coating", operation.coating.as_ref().map(|coating| coating.value.clone()));
            own("speed", operation.speed_mm_per_s.as_ref().map(show::length));
            own("power", operation.power_percent.as_ref().map(show::length));
            own("line_spacing", operation.line_spacing_mm.as_ref().map(show::length));
            own("passes", Some(operation.passes.to_string()));
            own("air", operation.air.as_ref().map(|air| air.value.to_string()));
            own("lay", operation.lay.map(|lay| lay.to_string()));
            own("anchor", operation.anchor.as_ref().map(show::anchor));
            own("dose", operation.dose.map(|dose| dose.to_string()));
            own("optional", Some(operation.optional.to_string()));
        }
        values
    }

    /// True where a key is given and has not its default.
    #[must_use]
    pub fn has(&self, key: &str) -> bool {
        self.said.contains_key(key)
    }

    /// True where nothing is said that is not the default.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.said.is_empty()
    }

    /// The first 8 hexadecimal digits of the SHA-256 (FIPS 180-4) of the keys and values, sorted;
    /// `-` where there are none.
    #[must_use]
    pub fn digest(&self) -> String {
        if self.is_empty() {
            return "-".to_owned();
        }
        let mut hash = InputDigest::default();
        for (key, value) in &self.said {
            hash.take(format!("{key}={value}\n").as_bytes());
        }
        hash.text()
    }

    /// The digests of these with the first so many sections of a list, none to all: what they may
    /// have been before sections were added.
    #[must_use]
    pub fn digests_before(&self, list: &str) -> Vec<String> {
        let number = |key: &str| -> Option<usize> {
            let rest = key.strip_prefix(list)?.strip_prefix('.')?;
            rest.split('.').next()?.parse().ok()
        };
        let count = self.said.keys().filter_map(|key| number(key)).max().unwrap_or_default();
        let with = |sections: usize| {
            let mut values = self.clone();
            values.said.retain(|key, _| number(key).is_none_or(|number| number <= sections));
            values.digest()
        };
        (0..=count).map(with).collect()
    }

    /// Where these and what was before them do not agree, in the order of the keys.
    #[must_use]
    pub fn differences(&self, was: &Self) -> Vec<Difference> {
        let keys: std::collections::BTreeSet<&String> =
            self.said.keys().chain(was.said.keys()).collect();
        keys.into_iter()
            .filter(|key| self.said.get(*key) != was.said.get(*key))
            .map(|key| Difference {
                key: key.clone(),
                was: was.said.get(key).cloned(),
                is: self.said.get(key).cloned(),
            })
            .collect()
    }
}

/// The digest of an input, taken in as it comes.
#[derive(Clone, Debug, Default)]
pub struct InputDigest(Sha256);

impl InputDigest {
    /// The next bytes.
    pub fn take(&mut self, bytes: &[u8]) {
        self.0.update(bytes);
    }

    /// The first 8 hexadecimal digits of its SHA-256.
    ///
    /// ```
    /// // The example of FIPS 180-2, B.1: its digest begins so.
    /// let mut digest = stave_setup::InputDigest::default();
    /// digest.take(b"abc");
    /// assert_eq!(digest.text(), "ba7816bf");
    /// ```
    #[must_use]
    pub fn text(&self) -> String {
        let mut text: String =
            self.0.clone().finalize().iter().map(|byte| format!("{byte:02x}")).collect();
        text.truncate(DIGITS);
        text
    }
}

/// The digests of the files of a program: what it was made from. `-` stands for one that is not
/// there, or not known.
#[derive(Clone, Debug, Eq, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Digests {
    /// Of the blank's values.
    pub blank: String,
    /// Of the machine's.
    pub machine: String,
    /// Of the job's, options among them.
    pub job: String,
    /// Of the drawing or program, its bytes.
    pub input: String,
}

impl fmt::Display for Digests {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{},{},{},{}", self.blank, self.machine, self.job, self.input)
    }
}

impl std::str::FromStr for Digests {
    type Err = ();

    fn from_str(text: &str) -> Result<Self, ()> {
        let sound = |one: &str| {
            one == "-" || (one.len() == DIGITS && one.bytes().all(|byte| byte.is_ascii_hexdigit()))
        };
        let parts: Vec<&str> = text.split(',').collect();
        match parts.as_slice() {
            [blank, machine, job, input] if parts.iter().all(|one| sound(one)) => Ok(Self {
                blank: (*blank).to_owned(),
                machine: (*machine).to_owned(),
                job: (*job).to_owned(),
                input: (*input).to_owned(),
            }),
            _ => Err(()),
        }
    }
}

fn number(value: f64) -> String {
    fixed(value, if value.abs() < LARGE { DECIMALS } else { DECIMALS_OF_LARGE })
}

/// A value of a file as it is compared: numbers by their size, however they are written.
fn text(value: &DeValue<'_>, unit: Option<LengthUnit>) -> String {
    match value {
        DeValue::String(text) => text.to_string(),
        DeValue::Boolean(flag) => flag.to_string(),
        DeValue::Array(list) => {
            let list: Vec<String> = list.iter().map(|item| text(item.get_ref(), unit)).collect();
            list.join(",")
        }
        other => match crate::values::number_of(other) {
            Some(found) => number(unit.map_or(found, |unit| unit.to_mm(found))),
            None => String::new(),
        },
    }
}

/// A default of the tables, in the same form.
fn of_default(default: &str) -> String {
    match default.parse::<f64>() {
        Ok(found) => number(found),
        Err(_) => default.trim_matches('"').to_owned(),
    }
}

/// The values of job settings, one function for each kind of setting.
pub(crate) mod show {
    use super::{Given, JobAnchor, number};
    use crate::word::Word;

    pub(crate) fn length(value: &f64) -> String {
        number(*value)
    }

    pub(crate) fn angle(rad: &f64) -> String {
        number(rad.to_degrees())
    }

    #[allow(clippy::ptr_arg, reason = "as the others, by the type of the setting")]
    pub(crate) fn name(name: &String) -> String {
        name.clone()
    }

    pub(crate) fn word<W: Word>(value: &W) -> String {
        let found = W::WORDS.iter().find(|(_, meaning)| meaning == value);
        found.map_or_else(String::new, |(word, _)| (*word).to_owned())
    }

    pub(crate) fn anchor(anchor: &JobAnchor) -> String {
        match anchor {
            JobAnchor::Drawing => "drawing".to_owned(),
            JobAnchor::Piece => "piece".to_owned(),
            JobAnchor::Point { u_mm, v_mm } => format!("{},{}", length(u_mm), length(v_mm)),
        }
    }

    /// The value that was given, in the form of `shown`.
    pub(crate) fn given<T>(value: Option<&Given<T>>, shown: fn(&T) -> String) -> Option<String> {
        value.map(|given| shown(&given.value))
    }
}

#[cfg(test)]
mod tests {
    use crate::{read_blank, read_job, read_machine};

    #[test]
    fn only_what_is_meant_makes_a_difference() {
        let one = "units = \"mm\"\nname = \"jar\"\n[[station]]\nat = 0\ndiameter = 63.5\n\
                   [[station]]\nat = 25.4\ndiameter = 63.5\n";
        let same = "# again\nwall = 'straight'\nname = \"jar\"\nunits = \"in\"\n\
                    station = [{ diameter = 2.5, at = 0.0 }, { at = 1.0, diameter = 25e-1 }]\n";
        let other = one.replace("25.4", "25.5");
        let values = |text: &str| read_blank(text, "jar.toml").unwrap().values().clone();
        assert_eq!(values(one), values(same));
        assert_eq!(values(one).digest(), values(same).digest());
        assert_ne!(values(one).digest(), values(&other).digest());
        let told: Vec<String> =
            values(&other).differences(&values(one)).iter().map(ToString::to_string).collect();
        assert_eq!(told, ["`station.2.at` was 25.4 and is 25.5"]);
    }

    #[test]
    fn options_count_as_the_file_does() {
        let file = read_job("tilt = 3\nlay = \"true-width\"\nanchor = [1, 2]", "job.toml").unwrap();
        let mut typed = read_job("", "job.toml").unwrap();
        for (option, value) in [("tilt", "3"), ("anchor", "1,2"), ("place-turn", "0")] {
            typed.set_option(option, value).unwrap();
        }
        assert_eq!(file.values(), typed.values());
        assert_eq!(read_job("", "job.toml").unwrap().values().digest(), "-");
        let picked = |id: &str| {
            let text = format!(
                "[[operation]]\nname = \"a\"\nwork = \"line\"\nspeed = 1\npower = 1\n\
                 pick = {{ id = \"{id}\" }}\n"
            );
            read_job(&text, "job.toml").unwrap().values()
        };
        assert_eq!(picked("b").differences(&picked("c"))[0].key, "operation.1.pick.id");
    }

    #[test]
    fn a_digest_of_a_machine_is_known() {
        let machine = "name = \"bench\"\n[x]\nspeed = 500\nacceleration = 5000\n[y]\nspeed = 500\n\
                       acceleration = 3000\n[rotary]\nword = \"A\"\nunits_per_turn = 360\n\
                       speed = 360\nacceleration = 2000\n";
        let values = read_machine(machine, "bench.toml").unwrap().values().clone();
        // `printf 'name=bench\nrotary.acceleration=2000\n…' | sha256sum`, the keys sorted.
        assert_eq!(values.digest(), "0a9f4ca3");
    }
}
