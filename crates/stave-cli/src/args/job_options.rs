//! Job settings as options: the list, what each may be and what it means are stave-setup's.

use std::ffi::OsStr;

use clap::builder::{PossibleValue, StringValueParser, TypedValueParser};
use clap::{Arg, ArgMatches, Args, Command, FromArgMatches};
use stave::setup::{JOB_OPTIONS, JobOption};

const HEADING: &str = "Job settings (an option beats the job file; bare lengths are mm, 3.5in is \
                       taken, angles are degrees)";

/// The job settings that were typed, as they were typed: they are read with the job file, so that
/// all that is wrong is told at once.
#[derive(Clone, Debug, Default)]
pub(crate) struct JobOptions {
    given: Vec<(&'static str, String)>,
}

impl JobOptions {
    /// The options given, by the names the job's settings have.
    pub(crate) fn given(&self) -> impl Iterator<Item = (&'static str, &str)> {
        self.given.iter().map(|(name, value)| (*name, value.as_str()))
    }

    /// Whether a setting was given as an option.
    pub(crate) fn has(&self, name: &str) -> bool {
        self.given.iter().any(|(known, _)| *known == name)
    }
}

impl Args for JobOptions {
    fn augment_args(command: Command) -> Command {
        command.args(JOB_OPTIONS.iter().map(|option| {
            Arg::new(option.name)
                .long(option.name)
                .value_name(option.value_name)
                .help(option.help)
                .help_heading(HEADING)
                .allow_hyphen_values(true)
                .value_parser(Shown(option))
        }))
    }

    fn augment_args_for_update(command: Command) -> Command {
        Self::augment_args(command)
    }
}

impl FromArgMatches for JobOptions {
    fn from_arg_matches(matches: &ArgMatches) -> Result<Self, clap::Error> {
        let given = JOB_OPTIONS.iter().filter_map(|option| {
            let value = matches.get_one::<String>(option.name)?;
            Some((option.name, value.clone()))
        });
        Ok(Self { given: given.collect() })
    }

    fn update_from_arg_matches(&mut self, matches: &ArgMatches) -> Result<(), clap::Error> {
        *self = Self::from_arg_matches(matches)?;
        Ok(())
    }
}

/// Takes any text, and shows the words of a setting that has some.
#[derive(Clone)]
struct Shown(&'static JobOption);

impl TypedValueParser for Shown {
    type Value = String;

    fn parse_ref(
        &self,
        command: &Command,
        arg: Option<&Arg>,
        value: &OsStr,
    ) -> Result<String, clap::Error> {
        StringValueParser::new().parse_ref(command, arg, value)
    }

    fn possible_values(&self) -> Option<Box<dyn Iterator<Item = PossibleValue> + '_>> {
        let words = self.0.words();
        if words.is_empty() {
            return None;
        }
        Some(Box::new(words.into_iter().map(PossibleValue::new)))
    }
}

#[cfg(test)]
mod tests {
    use clap::{CommandFactory, Parser};

    use super::*;
    use crate::args::{Args as Typed, Command as Typing};

    #[test]
    fn every_command_line_holds_together() {
        Typed::command().debug_assert();
    }

    #[test]
    fn help_lists_every_setting_with_its_words() {
        let mut command = Typed::command();
        for name in ["wrap", "lays", "check", "template", "proof", "swatch", "walk", "estimate"] {
            let one = command.find_subcommand_mut(name).expect("a command");
            let help = one.render_long_help().to_string();
            for option in JOB_OPTIONS {
                let head = format!("--{} <{}>", option.name, option.value_name);
                let (_, rest) = help.split_once(&head).expect(option.name);
                let own = rest.split("\n      --").next().unwrap_or_default();
                let own = own.split_whitespace().collect::<Vec<_>>().join(" ");
                let words = option.words();
                if words.is_empty() {
                    assert!(!own.contains("[possible values"), "{name} {head}: {own}");
                } else {
                    let list = format!("[possible values: {}]", words.join(", "));
                    assert!(own.contains(&list), "{name} {head}: {own}");
                }
            }
        }
    }

    #[test]
    fn what_was_typed_is_kept_as_it_was_typed() {
        let line = ["stave", "wrap", "-b", "b", "-m", "m", "--tilt", "-3", "--lay", "flat"];
        let typed = Typed::try_parse_from(line.into_iter().chain(["--focus-at", "-2in"])).unwrap();
        let Typing::Wrap(wrap) = typed.command else { panic!("a wrap") };
        let given: Vec<_> = wrap.job.given().collect();
        // A word that is none is told with all else that is wrong, not here.
        assert_eq!(given, [("lay", "flat"), ("tilt", "-3"), ("focus-at", "-2in")]);
        assert!(wrap.job.has("tilt") && !wrap.job.has("place-at"));
    }
}
