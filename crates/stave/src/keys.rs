//! The keys of the files as data.

use serde::Serialize;
use stave_setup::{Key, SettingsFile, schema};

/// A key as JSON has it.
#[derive(Serialize)]
struct KeyData<'a> {
    file: SettingsFile,
    key: &'a str,
    #[serde(rename = "type")]
    kind: String,
    unit: Option<String>,
    default: Option<&'a str>,
    range: Option<String>,
    needed: bool,
    example: Option<&'a str>,
    text: &'a str,
}

/// Keys as a JSON list of `file`, `key`, `type`, `unit`, `default`, `range`, `needed`, `example`
/// and `text`; defaults and examples as they would be written in the file.
///
/// # Errors
/// None that is known: numbers and texts can always be written.
pub fn keys_to_json(keys: &[&Key]) -> Result<String, serde_json::Error> {
    let data = keys.iter().map(|key| KeyData {
        file: key.file,
        key: key.key,
        kind: key.type_name(),
        unit: key.unit_name(),
        default: key.default_text(),
        range: key.range(),
        needed: key.is_needed(),
        example: key.example(),
        text: key.text,
    });
    serde_json::to_string_pretty(&data.collect::<Vec<_>>())
}

/// The JSON Schema of a file, as text.
///
/// # Errors
/// None that is known: numbers and texts can always be written.
pub fn schema_to_json(file: SettingsFile) -> Result<String, serde_json::Error> {
    serde_json::to_string_pretty(&schema(file))
}
