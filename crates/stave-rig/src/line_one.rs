//! Line 1 of a program of ours, and the cautions that follow it.

use stave_toolpath::{LONGEST_LINE, printable, printable_within};

/// The keys whose values are names.
const NAMED: [&str; 5] = ["blank", "machine", "facet", "lens", "nozzle"];
/// Names are not shortened further than this, bytes.
const LEAST_NAME: usize = 8;

/// How the first line of every wrapped program begins, after its bracket.
pub const FIRST_WORDS: &str = "stave wrapped 1";

/// The cautions every wrapped program carries, a line each.
///
/// Common practice in laser shops; the standards behind them are named in the README.
pub const CAUTIONS: [&str; 8] = [
    "CAUTION: laser light blinds and sets fire. Never leave a running job",
    "Keep the enclosure shut, interlocks working and extraction on",
    "Know the coating before burning it: never PVC or other chlorinated plastic",
    "Keep hair, sleeves and fingers from turning work: handles sweep wide",
    "Never mark a closed vessel that holds liquid or vapour",
    "Walk the job with the beam off first: reach, clearance, sense of turning",
    "The maker's manual, local codes and licensed practice rule over this program",
    "This program plans paths: it cannot judge whether a set-up is safe",
];

/// What line 1 says the program was wrapped for: words and their values.
#[derive(Clone, Debug, Default)]
pub struct Header {
    /// Key and value, in the order they are written.
    pub fields: Vec<(String, String)>,
}

impl Header {
    /// One more word.
    pub fn add(&mut self, key: &str, value: String) {
        self.fields.push((key.to_owned(), value));
    }

    /// Line 1, without its line end: a comment of `key=value` words. Values are printable ASCII
    /// without equals signs, brackets or quotes; a value with blanks stands in quotes. The line
    /// keeps within 256 bytes: names give way, each to the same length.
    ///
    /// ```
    /// use stave_rig::Header;
    /// let header = Header { fields: vec![("blank".into(), "mug (blue)".into()), ("tilt".into(), "3".into())] };
    /// assert_eq!(header.first_line(), "(stave wrapped 1 blank=\"mug [blue]\" tilt=3)");
    /// ```
    #[must_use]
    pub fn first_line(&self) -> String {
        let mut most = LONGEST_LINE;
        loop {
            let line = self.line(most);
            if line.len() <= LONGEST_LINE || most <= LEAST_NAME {
                return line;
            }
            most -= 1;
        }
    }

    /// Line 1 with every name at most so long.
    fn line(&self, most: usize) -> String {
        let mut line = format!("({FIRST_WORDS}");
        for (key, value) in &self.fields {
            line.push(' ');
            line.push_str(key);
            line.push('=');
            let named = NAMED.contains(&key.as_str());
            line.push_str(&quoted(value, if named { most } else { LONGEST_LINE }));
        }
        line.push(')');
        line
    }

    /// Whether a name is the one that line 1 says, cleaned, and shortened where it is long.
    #[must_use]
    pub fn names(said: &str, name: &str) -> bool {
        let clean = Self::cleaned(name);
        match said.strip_suffix("...") {
            Some(begun) => clean.starts_with(begun),
            None => clean == said,
        }
    }

    /// What people are told of a name that line 1 says: the one at hand, letters and all, where
    /// line 1 says just that one or none; else what it says.
    #[must_use]
    pub fn known_as<'a>(said: &'a str, at_hand: &'a str) -> &'a str {
        if said.is_empty() || Self::names(said, at_hand) { at_hand } else { said }
    }

    /// What line 1 says of a value.
    #[must_use]
    pub fn cleaned(value: &str) -> String {
        printable(value).replace('"', "'").replace('=', "-")
    }

    /// Reads the text inside line 1's brackets back; `None` where it is not such a line.
    ///
    /// ```
    /// use stave_rig::Header;
    /// let header = Header::parse("stave wrapped 1 blank=\"mug [blue]\" tilt=3").unwrap();
    /// assert_eq!(header.get("blank"), Some("mug [blue]"));
    /// ```
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        let rest = text.trim().strip_prefix(FIRST_WORDS)?;
        if !(rest.is_empty() || rest.starts_with(' ')) {
            return None;
        }
        let mut fields = Vec::new();
        let mut rest = rest.trim_start();
        while !rest.is_empty() {
            let (key, after) = rest.split_once('=')?;
            let (value, after) = match after.strip_prefix('"') {
                Some(inside) => inside.split_once('"')?,
                None => after.split_once(' ').unwrap_or((after, "")),
            };
            fields.push((key.trim().to_owned(), value.to_owned()));
            rest = after.trim_start();
        }
        Some(Self { fields })
    }

    /// The value of `key`.
    #[must_use]
    pub fn get(&self, key: &str) -> Option<&str> {
        self.fields.iter().find(|(k, _)| k == key).map(|(_, v)| v.as_str())
    }
}

fn quoted(value: &str, most: usize) -> String {
    let clean = printable_within(&Header::cleaned(value), most);
    if clean.is_empty() || clean.contains(' ') { format!("\"{clean}\"") } else { clean }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn not_ours() {
        assert!(Header::parse("some other comment").is_none());
        assert!(Header::parse("stave wrapped 12 a=b").is_none());
    }

    proptest! {
        #[test]
        fn reads_back_what_it_wrote(value in "[ -~]{0,30}") {
            let header = Header { fields: vec![("blank".into(), value.clone()), ("place".into(), "1@2".into())] };
            let line = header.first_line();
            let inside = line.strip_prefix('(').and_then(|l| l.strip_suffix(')')).unwrap();
            prop_assert!(!inside.contains(['(', ')', '\n']));
            let back = Header::parse(inside).unwrap();
            let cleaned = Header::cleaned(&value);
            prop_assert_eq!(back.get("blank"), Some(cleaned.as_str()));
            prop_assert_eq!(back.get("place"), Some("1@2"));
        }
    }
}
