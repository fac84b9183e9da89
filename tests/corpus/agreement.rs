//! How far what drawings burn agrees with what resvg shows of them.
//!
//! ```text
//! cargo run -p stave-tests --example agreement -- [--areas|--picture] FILE.svg …
//! ```
//!
//! Shades are cut where they are darker than bare ware; left out with `--areas`, and burned as
//! pictures with `--picture`.
//! One line a file: the share of points away from edges that agree, the codes of what was found,
//! the name. Ends with status 1 if one agrees on less than 99.5 % and nothing says what is left
//! out. `packages.py` runs it over packages of icons.
#![expect(unreachable_pub, reason = "shared with the test beside it")]

mod burned;

use std::collections::BTreeSet;
use std::process::ExitCode;

use burned::{BARE, How};
use stave::Code;

/// Points along the longer side of a page: first few, then, where those disagree, more. Detail
/// finer than a point is a haze for the renderer, and for a scan line it is there or it is not.
const POINTS: [f64; 3] = [192.0, 768.0, 1536.0];
/// What must agree where nothing is named.
const DEMAND: f64 = 0.995;

fn main() -> ExitCode {
    let mut worst = ExitCode::SUCCESS;
    let mut how = How::Cut(100.0 * BARE);
    for name in std::env::args().skip(1) {
        match name.as_str() {
            "--areas" => how = How::Areas,
            "--picture" => how = How::Picture,
            _ => {}
        }
        if name.starts_with("--") {
            continue;
        }
        let line = match one(&name, how) {
            Ok((share, codes)) => {
                let told = codes.contains(&Code::LeftOut) || codes.contains(&Code::Font);
                if share < DEMAND && !told {
                    worst = ExitCode::FAILURE;
                }
                let codes: Vec<&str> = codes.iter().map(|code| code.as_str()).collect();
                format!("{share:.4}\t{}\t{name}", codes.join(","))
            }
            Err(error) => format!("refused\t{}\t{name}", error.replace(['\n', '\t'], " ")),
        };
        println!("{line}");
    }
    worst
}

fn one(name: &str, how: How) -> Result<(f64, BTreeSet<Code>), String> {
    let svg = std::fs::read(name).map_err(|error| error.to_string())?;
    let text = String::from_utf8(svg).map_err(|error| error.to_string())?;
    let tree = resvg::usvg::Tree::from_str(&text, &resvg::usvg::Options::default())
        .map_err(|error| error.to_string())?;
    let size_mm = f64::from(tree.size().width().max(tree.size().height())) * 25.4 / 96.0;
    let named = named_all(&text)?;
    let (mut share, mut codes) = (0.0, BTreeSet::new());
    for points in POINTS {
        let compared = burned::compare(named.as_bytes(), text.as_bytes(), size_mm / points, how)?;
        share = compared.share();
        codes = compared.findings.iter().map(|finding| finding.code).collect();
        if share >= DEMAND {
            break;
        }
    }
    Ok((share, codes))
}

/// The drawing with the id that the operation picks on its root.
fn named_all(text: &str) -> Result<String, String> {
    let root = text.find("<svg").ok_or("no <svg> in it")?;
    let end = root + text[root..].find('>').ok_or("the root does not end")?;
    let head = &text[root..end];
    let without = match head.find(" id=") {
        Some(at) => {
            let quote = head[at + 4..].chars().next().ok_or("the root does not end")?;
            let close = head[at + 5..].find(quote).ok_or("the root does not end")?;
            format!("{}{}", &head[..at], &head[at + 6 + close..])
        }
        None => head.to_owned(),
    };
    let rest = without.strip_prefix("<svg").unwrap_or_default();
    Ok(format!("{}<svg id=\"all\"{rest}{}", &text[..root], &text[end..]))
}
