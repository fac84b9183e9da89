//! Pictures as PNG: those inside the drawings, and whole sheets.

use std::sync::Arc;

use kurbo::Rect;
use resvg::{tiny_skia, usvg};

use crate::draw::Drawing;

/// Why a sheet could not be made a PNG.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum PngError {
    /// The drawing could not be read back.
    #[error("the drawing of the proof could not be read back: {0}")]
    Drawing(String),
    /// Too large for memory, or the encoder failed.
    #[error("the picture could not be made: {0}")]
    Picture(String),
}

/// Pixels of a cell each way: as finely as it is kept where a picture shows anything.
const CELL: usize = 4;

/// Colours with cover, row by row.
pub(crate) struct Picture {
    pub(crate) width: usize,
    pub(crate) height: usize,
    rgba: Vec<u8>,
    inked: Vec<bool>,
}

impl Picture {
    /// An empty picture; sides are rounded up to whole pixels, within 1 to 4096.
    pub(crate) fn new(width: f64, height: f64) -> Self {
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        let side = |length: f64| length.ceil().clamp(1.0, 4096.0) as usize;
        let (width, height) = (side(width), side(height));
        let cells = width.div_ceil(CELL) * height.div_ceil(CELL);
        Self { width, height, rgba: vec![0; 4 * width * height], inked: vec![false; cells] }
    }

    pub(crate) fn set(&mut self, column: usize, row: usize, [r, g, b]: [u8; 3], cover: f64) {
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        let alpha = (255.0 * cover.clamp(0.0, 1.0)).round() as u8;
        let at = 4 * (row * self.width + column);
        self.rgba[at..at + 4].copy_from_slice(&[r, g, b, alpha]);
        if alpha > 0 {
            self.inked[row / CELL * self.width.div_ceil(CELL) + column / CELL] = true;
        }
    }

    /// Where anything shows, in rows of cells of some pixels each way, and how many of them the
    /// picture is wide and high: the last ones are there in part.
    pub(crate) fn inked(&self) -> (impl Iterator<Item = &[bool]>, (f64, f64)) {
        let cells = |pixels: usize| pixels as f64 / CELL as f64;
        let rows = self.inked.chunks(self.width.div_ceil(CELL));
        (rows, (cells(self.width), cells(self.height)))
    }

    /// Puts what of it shows, with a bare cell about it, onto a drawing, of which all of it would
    /// cover a box: most of a picture shows nothing.
    pub(crate) fn draw_on(&self, paper: &mut Drawing, box_mm: Rect) {
        let across = self.width.div_ceil(CELL);
        let inked = || {
            let cells = self.inked.iter().enumerate().filter(|(_, is_inked)| **is_inked);
            cells.map(|(cell, _)| (cell % across, cell / across))
        };
        let reach = |of: fn((usize, usize)) -> usize, pixels: usize| {
            let first = inked().map(of).min()?.saturating_sub(1) * CELL;
            let end = (inked().map(of).max()? + 2) * CELL;
            Some(first..end.min(pixels))
        };
        let (columns, rows) = (reach(|cell| cell.0, self.width), reach(|cell| cell.1, self.height));
        let Some((columns, rows)) = columns.zip(rows) else { return };
        let of_row = |row: usize| {
            let from = 4 * (row * self.width + columns.start);
            &self.rgba[from..from + 4 * columns.len()]
        };
        let rgba: Vec<u8> = rows.clone().flat_map(of_row).copied().collect();
        let png = encode_raw(columns.len(), rows.len(), png::ColorType::Rgba, &rgba);
        let pixel_mm = (box_mm.width() / self.width as f64, box_mm.height() / self.height as f64);
        let corner = |column: usize, row: usize| {
            (box_mm.x0 + column as f64 * pixel_mm.0, box_mm.y0 + row as f64 * pixel_mm.1)
        };
        let size = (columns.len() as f64 * pixel_mm.0, rows.len() as f64 * pixel_mm.1);
        paper.image(corner(columns.start, rows.start), size, &png);
    }
}

/// Bytes as PNG of eight bits a channel. An encoder that fails leaves nothing: the sizes are ours,
/// and memory is all it writes to.
pub(crate) fn encode_raw(
    width: usize,
    height: usize,
    colour: png::ColorType,
    bytes: &[u8],
) -> Vec<u8> {
    let mut out = Vec::new();
    let (Ok(width), Ok(height)) = (u32::try_from(width), u32::try_from(height)) else { return out };
    let mut encoder = png::Encoder::new(&mut out, width, height);
    encoder.set_color(colour);
    encoder.set_depth(png::BitDepth::Eight);
    encoder.set_compression(png::Compression::Balanced);
    // The page reads rows as they are.
    if colour == png::ColorType::Grayscale {
        encoder.set_filter(png::Filter::NoFilter);
    }
    let written = encoder.write_header().and_then(|mut writer| writer.write_image_data(bytes));
    if written.is_err() {
        out.clear();
    }
    out
}

/// An SVG of ours as PNG, at so many pixels a mm, on white. Words are set in the machine's own sans
/// serif; without any font they are left out, and the second value is false.
pub(crate) fn render(svg: &str, dots_per_mm: f64) -> Result<(Vec<u8>, bool), PngError> {
    let mut options = usvg::Options { dpi: 25.4, ..usvg::Options::default() };
    let fonts = Arc::make_mut(&mut options.fontdb);
    fonts.load_system_fonts();
    let sans = ["DejaVu Sans", "Liberation Sans", "Noto Sans", "Arial", "Helvetica"];
    let known = |name: &str| {
        fonts.faces().any(|face| face.families.iter().any(|(family, _)| family == name))
    };
    let family = sans.iter().find(|name| known(name)).map(|name| (*name).to_owned());
    let family = family.or_else(|| {
        fonts.faces().next().and_then(|face| face.families.first().map(|(name, _)| name.clone()))
    });
    let has_font = family.is_some();
    if let Some(family) = family {
        fonts.set_sans_serif_family(family);
    }
    let tree = usvg::Tree::from_str(svg, &options)
        .map_err(|error| PngError::Drawing(error.to_string()))?;
    #[allow(clippy::cast_possible_truncation)]
    let scale = dots_per_mm as f32;
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    let side = |length: f32| (length * scale).round().clamp(1.0, 20_000.0) as u32;
    let mut pixmap = tiny_skia::Pixmap::new(side(tree.size().width()), side(tree.size().height()))
        .ok_or_else(|| PngError::Picture("too many pixels".into()))?;
    pixmap.fill(tiny_skia::Color::WHITE);
    resvg::render(&tree, tiny_skia::Transform::from_scale(scale, scale), &mut pixmap.as_mut());
    let rgb: Vec<u8> =
        pixmap.data().chunks_exact(4).flat_map(|pixel| [pixel[0], pixel[1], pixel[2]]).collect();
    let out =
        encode_raw(pixmap.width() as usize, pixmap.height() as usize, png::ColorType::Rgb, &rgb);
    if out.is_empty() {
        return Err(PngError::Picture("the encoder failed".into()));
    }
    Ok((out, has_font))
}
