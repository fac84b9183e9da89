//! `stave new`.

use std::io::{self, BufRead, IsTerminal, Write};
use std::path::Path;
use std::process::ExitCode;

use stave::setup::{Asked, LengthUnit, fresh_file};

use crate::args::{NewArgs, UnitWord};
use crate::failure::Failure;
use crate::files::Files;
use crate::output::{Carries, keep};
use crate::{input, shown};

pub(crate) fn run(args: &NewArgs) -> Result<ExitCode, Failure> {
    let unit = match args.units {
        UnitWord::Mm => LengthUnit::Mm,
        UnitWord::In => LengthUnit::Inch,
    };
    let path = args.output.as_deref().filter(|path| *path != Path::new("-"));
    if let Some(path) = path.filter(|path| path.is_file()) {
        let name = input::name(path);
        return Err(Failure::bad(format!("{name} is there already: name another file")));
    }
    let mut output = Files::default().writes("-o", path, Carries::Text)?;
    let (stdin, stderr) = (io::stdin(), io::stderr());
    let text = if stdin.is_terminal() && stderr.is_terminal() {
        let mut questions = Questions { from: stdin.lock(), to: stderr, unit, over: false };
        fresh_file(args.file.file(), unit, |asked| questions.ask(asked))
    } else {
        fresh_file(args.file.file(), unit, |_| None)
    };
    output.all(text.as_bytes())?;
    keep([output])?;
    Ok(ExitCode::SUCCESS)
}

/// Asks a person, line by line.
struct Questions<R, W> {
    from: R,
    to: W,
    unit: LengthUnit,
    /// Nothing more will be answered.
    over: bool,
}

impl<R: BufRead, W: Write> Questions<R, W> {
    /// The answer as it is to be written; nothing where the example will do. What cannot be meant
    /// is told and asked again.
    fn ask(&mut self, asked: &Asked<'_>) -> Option<String> {
        let key = asked.key;
        let unit = asked.unit.as_ref().map_or_else(String::new, |unit| format!(", {unit}"));
        while !self.over {
            // It does not matter whether the question is seen.
            let _ = write!(self.to, "{} ({}{unit}) [{}]: ", key.key, key.text, asked.example);
            let _ = self.to.flush();
            let mut line = String::new();
            match self.from.read_line(&mut line) {
                Ok(count) if count > 0 => {}
                // At the end of what is typed the rest stays as it is.
                _ => self.over = true,
            }
            if line.trim().is_empty() {
                return None;
            }
            let value = key.written(&line);
            match key.refusal(&value, self.unit) {
                None => return Some(value),
                Some(why) => {
                    let _ = writeln!(self.to, "{}", shown::plain(&why));
                }
            }
        }
        None
    }
}

#[cfg(test)]
mod tests {
    use stave::setup::{SettingsFile, read_blank};

    use super::*;

    #[test]
    fn what_is_answered_is_written_and_what_cannot_be_is_asked_again() {
        let typed = b"jar 7\"\n\n-1\n3.25\n6,5\n6.5\n" as &[u8];
        let mut said = Vec::new();
        let mut questions =
            Questions { from: typed, to: &mut said, unit: LengthUnit::Inch, over: false };
        let text = fresh_file(SettingsFile::Blank, LengthUnit::Inch, |asked| questions.ask(asked));
        let blank = read_blank(&text, "jar.toml").expect(&text);
        assert_eq!(blank.name, "jar 7\"");
        assert_eq!(blank.stations[0].radius_mm, 3.25 * 25.4 / 2.0);
        assert_eq!(blank.stations[1].at_mm, 6.5 * 25.4);
        let said = String::from_utf8(said).unwrap();
        assert!(said.contains("`diameter` is -1, but must be at least 0.001 in"), "{said}");
    }
}
