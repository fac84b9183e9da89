//! `stave keys`.

use std::process::ExitCode;

use stave::setup::{Key, SettingsFile, keys_named};

use crate::args::KeysArgs;
use crate::failure::Failure;
use crate::files::Files;
use crate::output::Carries;
use crate::shown;

pub(crate) fn run(args: &KeysArgs) -> Result<ExitCode, Failure> {
    let keys: Vec<&Key> = match &args.key {
        None => SettingsFile::ALL.into_iter().flat_map(SettingsFile::keys).collect(),
        Some(name) => keys_named(name).map_err(|near| {
            let advice = near.map_or_else(
                || "`stave keys` lists them".to_owned(),
                |near| format!("did you mean `{near}`?"),
            );
            Failure::bad(format!("there is no key `{}`: {advice}", shown::name(name)))
        })?,
    };
    let text = if args.json {
        stave::keys_to_json(&keys).map_err(|error| Failure::bad(error.to_string()))? + "\n"
    } else {
        shown::keys(&keys)
    };
    let mut output = Files::default().writes("the result", None, Carries::Text)?;
    output.all(text.as_bytes())?;
    Ok(ExitCode::SUCCESS)
}
