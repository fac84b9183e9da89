//! The JSON Schemas: held against the published meta-schema, and every fixture against its schema.
//!
//! Source of the meta-schema: JSON Schema draft 2020-12 (json-schema.org/draft/2020-12/schema), as
//! the crate `jsonschema` carries it; that crate is also the one that judges the fixtures.
#![expect(clippy::unwrap_used, reason = "a panic in a test is a failed test")]

use std::path::{Path, PathBuf};

use jsonschema::Validator;
use serde_json::{Value, json};
use stave_setup::{LengthUnit, SettingsFile, fresh_file, schema};

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..")
}

fn validator(file: SettingsFile) -> Validator {
    jsonschema::draft202012::new(&schema(file)).unwrap()
}

fn of_toml(text: &str) -> Value {
    serde_json::to_value(toml::from_str::<toml::Table>(text).unwrap()).unwrap()
}

/// What a file is: by what only such a file has.
fn kind(text: &str) -> Option<SettingsFile> {
    let has = |head: &str| text.lines().any(|line| line.starts_with(head));
    if has("[[station]]") {
        Some(SettingsFile::Blank)
    } else if has("[rotary]") {
        Some(SettingsFile::Machine)
    } else if has("[[make]]") {
        Some(SettingsFile::Order)
    } else if has("[[row]]") || has("[[zone]]") {
        None
    } else {
        Some(SettingsFile::Job)
    }
}

fn toml_files(folder: &Path, found: &mut Vec<PathBuf>) {
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            toml_files(&path, found);
        } else if path.extension().is_some_and(|end| end == "toml") {
            found.push(path);
        }
    }
}

#[test]
fn they_are_schemas_by_the_published_meta_schema() {
    for file in SettingsFile::ALL {
        assert!(jsonschema::draft202012::meta::is_valid(&schema(file)), "{}", file.as_str());
    }
    // The meta-schema does say no.
    assert!(!jsonschema::draft202012::meta::is_valid(&json!({ "type": "nonsense" })));
}

#[test]
fn every_fixture_is_as_its_schema_says() {
    let mut files = Vec::new();
    toml_files(&root().join("fixtures"), &mut files);
    let mut looked_at = 0;
    for path in files {
        let text = std::fs::read_to_string(&path).unwrap();
        let Some(kind) = kind(&text) else { continue };
        let value = of_toml(&text);
        let validator = validator(kind);
        let errors: Vec<String> = validator
            .iter_errors(&value)
            .map(|error| format!("{error} at {}", error.instance_path))
            .collect();
        assert!(errors.is_empty(), "{}: {errors:#?}", path.display());
        looked_at += 1;
    }
    assert!(looked_at >= 18, "{looked_at} files");
}

#[test]
fn new_files_are_as_their_schemas_say() {
    for file in SettingsFile::ALL {
        for unit in [LengthUnit::Mm, LengthUnit::Inch] {
            let text = fresh_file(file, unit, |_| None);
            assert!(validator(file).is_valid(&of_toml(&text)), "{text}");
        }
    }
}

#[test]
fn what_the_readers_refuse_they_refuse() {
    let good = "[[station]]\nat = 0\ndiameter = 70\n[[station]]\nat = 9\ncircumference = 70\n";
    let blank = validator(SettingsFile::Blank);
    assert!(blank.is_valid(&of_toml(good)));
    for (from, to) in [
        ("diameter = 70", "diameter = -1"),
        ("diameter = 70", "diametre = 70"),
        ("diameter = 70", "diameter = 70\ncircumference = 219"),
        ("diameter = 70", ""),
        ("at = 9", "at = \"9\""),
    ] {
        assert!(!blank.is_valid(&of_toml(&good.replacen(from, to, 1))), "{to}");
    }
    let job = validator(SettingsFile::Job);
    let operation = "[[operation]]\nname = \"a\"\nwork = \"line\"\nspeed = 1\npower = 1\n";
    for (pick, fits) in [
        ("pick = { id = \"a\" }", true),
        ("pick = { id = \"a\", fill = \"red\" }", false),
        ("pick = { }", false),
        ("pick = { id = \"a\" }\npasses = 0", false),
        ("pick = { id = \"a\" }\npasses = 1.5", false),
        ("pick = { id = \"a\" }\nline_spacing = 0.1", true),
        ("pick = { id = \"a\" }\nline_spacing = 0.1\nlines_per_inch = 300", false),
    ] {
        let text = format!("lay = \"label\"\n{operation}{pick}\n");
        assert_eq!(job.is_valid(&of_toml(&text)), fits, "{pick}");
    }
}

/// Editors find them by the first lines of files: `#:schema ../schemas/blank.json`.
#[test]
fn those_beside_the_fixtures_are_these() {
    for file in SettingsFile::ALL {
        let path = root().join(format!("fixtures/schemas/{}.json", file.as_str()));
        let text = serde_json::to_string_pretty(&schema(file)).unwrap() + "\n";
        let kept = std::fs::read_to_string(&path).unwrap_or_default();
        let name = file.as_str();
        assert!(kept == text, "stave schema {name} -o fixtures/schemas/{name}.json");
    }
}
