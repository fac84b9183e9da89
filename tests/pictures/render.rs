//! Drawings as resvg shows them, at 96 dots an inch.
//!
//! ```text
//! cargo run -p stave-tests --example render -- FOLDER FILE.svg …
//! ```
//!
//! Each is put into the folder as PNG under its own name. `renderers.py` holds them against what a
//! browser shows.

use std::path::Path;
use std::process::ExitCode;
use std::sync::Arc;

use resvg::{tiny_skia, usvg};

fn main() -> ExitCode {
    let mut words = std::env::args().skip(1);
    let Some(folder) = words.next() else {
        eprintln!("render FOLDER FILE.svg …");
        return ExitCode::from(2);
    };
    let mut options = usvg::Options::default();
    Arc::make_mut(&mut options.fontdb).load_system_fonts();
    let mut worst = ExitCode::SUCCESS;
    for name in words {
        if let Err(error) = one(Path::new(&folder), Path::new(&name), &options) {
            eprintln!("{name}: {error}");
            worst = ExitCode::FAILURE;
        }
    }
    worst
}

fn one(folder: &Path, path: &Path, options: &usvg::Options<'_>) -> Result<(), String> {
    let svg = std::fs::read(path).map_err(|error| error.to_string())?;
    let tree = usvg::Tree::from_data(&svg, options).map_err(|error| error.to_string())?;
    let size = tree.size().to_int_size();
    let mut pixels =
        tiny_skia::Pixmap::new(size.width(), size.height()).ok_or("too many pixels")?;
    pixels.fill(tiny_skia::Color::WHITE);
    resvg::render(&tree, tiny_skia::Transform::identity(), &mut pixels.as_mut());
    let stem = path.file_stem().ok_or("no name")?;
    let out = folder.join(stem).with_extension("png");
    pixels.save_png(out).map_err(|error| error.to_string())
}
