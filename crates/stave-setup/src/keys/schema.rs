//! JSON Schemas (draft 2020-12) of the files, for editors.

use serde_json::{Map, Value, json};

use super::{Default, Key, Kind, Need, SettingsFile, Unit};
use crate::bounds::Bounds;
use crate::unit::MM_PER_INCH;
use crate::values::MOST_NAME_CHARS;

/// The dialect the schemas are written in.
const DIALECT: &str = "https://json-schema.org/draft/2020-12/schema";

/// The JSON Schema of a file: its keys, their types, words and ranges, and what each means.
///
/// What only shows when keys or files meet is not in it. The range of a length is that of a file in
/// either unit, so that it refuses nothing that the reader takes.
///
/// ```
/// let schema = stave_setup::schema(stave_setup::SettingsFile::Blank);
/// assert_eq!(schema["properties"]["wall"]["enum"][1], "smooth");
/// ```
#[must_use]
pub fn schema(file: SettingsFile) -> Value {
    let mut schema = section(&file.keys(), "");
    if let Some(map) = schema.as_object_mut() {
        map.insert("$schema".to_owned(), DIALECT.into());
        map.insert("title".to_owned(), format!("Stave {}", file.as_str()).into());
    }
    schema
}

/// The table that `path` names.
fn section(all: &[&Key], path: &str) -> Value {
    let keys: Vec<&Key> = all.iter().filter(|key| key.section() == path).copied().collect();
    let mut properties = Map::new();
    for key in &keys {
        let mut value = match key.kind {
            Kind::Table(_) => section(all, key.key),
            Kind::Tables(_) => json!({ "type": "array", "items": section(all, key.key) }),
            _ => of_value(key),
        };
        if let Some(map) = value.as_object_mut() {
            map.insert("description".to_owned(), described(key).into());
            if key.key == "station" {
                map.insert("minItems".to_owned(), 2.into());
            }
        }
        properties.insert(key.name().to_owned(), value);
    }
    let mut table = Map::new();
    table.insert("type".to_owned(), "object".into());
    table.insert("properties".to_owned(), properties.into());
    table.insert("additionalProperties".to_owned(), false.into());
    let needed: Vec<&str> =
        keys.iter().filter(|key| key.is_needed()).map(|key| key.name()).collect();
    if !needed.is_empty() {
        table.insert("required".to_owned(), needed.into());
    }
    let (mut either, mut not_both) = (Vec::new(), Vec::new());
    for (index, key) in keys.iter().enumerate() {
        let (Need::Or(other) | Need::Not(other)) = key.need else { continue };
        // Each of the two names the other: once is enough.
        if keys[..index].iter().any(|before| before.name() == other) {
            continue;
        }
        let both = json!({ "required": [key.name(), other] });
        if let Need::Or(_) = key.need {
            either.push(json!({ "required": [key.name()] }));
            either.push(json!({ "required": [other] }));
        } else {
            not_both.push(both);
        }
    }
    if !either.is_empty() {
        table.insert("oneOf".to_owned(), either.into());
    }
    if !not_both.is_empty() {
        table.insert("not".to_owned(), json!({ "anyOf": not_both }));
    }
    if let Some(other) = keys.iter().find_map(|key| match key.need {
        Need::Unless(other) => Some(other),
        _ => None,
    }) {
        let without = keys.iter().filter(|key| key.need == Need::Unless(other));
        let without: Vec<&str> = without.map(|key| key.name()).collect();
        let any = json!([{ "required": without }, { "required": [other] }]);
        table.insert("anyOf".to_owned(), any);
    }
    if keys.iter().any(|key| key.need == Need::Alone) {
        table.insert("minProperties".to_owned(), 1.into());
        table.insert("maxProperties".to_owned(), 1.into());
    }
    table.into()
}

fn described(key: &Key) -> String {
    let mut text = key.text.to_owned();
    if let Some(unit) = key.unit_name() {
        text += &format!(" ({unit})");
    }
    if let Default::Told(words) = key.default {
        text += &format!("; default: {words}");
    }
    text
}

fn of_value(key: &Key) -> Value {
    let length = matches!(key.unit, Unit::Length(_));
    let text = || json!({ "type": "string", "minLength": 1, "maxLength": MOST_NAME_CHARS });
    let pair = |bounds| {
        let item = number(bounds, length);
        json!({ "type": "array", "items": item, "minItems": 2, "maxItems": 2 })
    };
    let mut value = match key.kind {
        Kind::Number(bounds) => number(bounds, length),
        Kind::Whole(low, high) => json!({ "type": "integer", "minimum": low, "maximum": high }),
        Kind::Flag => json!({ "type": "boolean" }),
        Kind::Word(words) => json!({ "enum": words() }),
        Kind::Text => text(),
        Kind::Texts => json!({ "anyOf": [text(), { "type": "array", "items": text() }] }),
        Kind::Colour => json!({ "type": "string" }),
        Kind::Pair(bounds) => pair(bounds),
        Kind::Pairs => pairs(),
        Kind::SomePairs(bounds) => {
            json!({ "type": "array", "items": pair(bounds), "minItems": 1 })
        }
        Kind::NumberOrPairs(bounds) => json!({ "anyOf": [number(bounds, length), pairs()] }),
        Kind::WordOrPair(words, bounds) => json!({ "anyOf": [{ "enum": words() }, pair(bounds)] }),
        Kind::Count => json!({ "anyOf": [{ "type": "integer", "minimum": 1 }, text()] }),
        Kind::Record => record(),
        Kind::Records => json!({ "type": "array", "items": record() }),
        Kind::Table(_) | Kind::Tables(_) => json!({}),
    };
    let default = match key.default {
        Default::Value(text) => as_json(text),
        _ => None,
    };
    if let (Some(map), Some(default)) = (value.as_object_mut(), default) {
        map.insert("default".to_owned(), default);
    }
    value
}

/// A table of texts and numbers under any names.
fn record() -> Value {
    json!({ "type": "object", "additionalProperties": { "type": ["string", "number", "boolean"] } })
}

/// A list of pairs of numbers.
fn pairs() -> Value {
    let pair = json!({
        "type": "array", "items": { "type": "number" }, "minItems": 2, "maxItems": 2
    });
    json!({ "type": "array", "items": pair, "minItems": 1 })
}

/// A number within bounds. Those of a length are widened by the size of an inch where they are not
/// zero: the file may be in inches.
fn number(bounds: Bounds, length: bool) -> Value {
    let mut map = Map::new();
    map.insert("type".to_owned(), "number".into());
    let (low, low_open) = bounds.low();
    let (high, high_open) = bounds.high();
    let low = if length && low > 0.0 { low / MM_PER_INCH } else { low };
    let word = if low_open { "exclusiveMinimum" } else { "minimum" };
    map.insert(word.to_owned(), low.into());
    let word = if high_open { "exclusiveMaximum" } else { "maximum" };
    map.insert(word.to_owned(), high.into());
    map.into()
}

/// A value of a TOML file as JSON: those of the tables are words, numbers and flags.
fn as_json(text: &str) -> Option<Value> {
    serde_json::from_str(text).ok()
}
