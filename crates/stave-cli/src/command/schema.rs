//! `stave schema`.

use std::process::ExitCode;

use crate::args::SchemaArgs;
use crate::failure::Failure;
use crate::files::Files;
use crate::output::{Carries, keep};

pub(crate) fn run(args: &SchemaArgs) -> Result<ExitCode, Failure> {
    let text = stave::schema_to_json(args.file.file())
        .map_err(|error| Failure::bad(error.to_string()))?
        + "\n";
    let mut output = Files::default().writes("-o", args.output.as_deref(), Carries::Text)?;
    output.all(text.as_bytes())?;
    keep([output])?;
    Ok(ExitCode::SUCCESS)
}
