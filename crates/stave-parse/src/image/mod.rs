//! Picture files: PNG (ISO/IEC 15948) and JPEG (ITU-T T.81, JFIF, EXIF), to greys.
//!
//! What counts is how light each pixel is: its relative luminance, linear, by the weights of ITU-R
//! BT.709, sRGB taken for what the file holds. How a camera was held is heeded, so that up is up.

mod exif;
mod jpeg;
mod png;

use std::sync::LazyLock;

use stave_toolpath::{Shades, linear_of_srgb};

/// The most pixels of a picture; its header tells before anything is decoded.
pub const MOST_PIXELS: u64 = 200_000_000;

/// By definition since 1959 (NIST SP 811, appendix B.6).
const MM_PER_INCH: f64 = 25.4;

/// Shares of red, green and blue in luminance (ITU-R BT.709-6, 3.2).
const WEIGHTS: [f64; 3] = [0.2126, 0.7152, 0.0722];

/// A picture as its file has it, the way it is to be looked at.
#[derive(Clone, Debug)]
pub struct Image {
    /// Its greys.
    pub shades: Shades,
    /// How wide and high a pixel is, mm, where the file says.
    pub pixel_mm: Option<(f64, f64)>,
    /// What a person should know, a sentence each.
    pub told: Vec<String>,
    /// Whether every decoder shows it so: it is not turned by a word of its camera, nor in inks.
    pub is_plain: bool,
}

/// What is wrong with a picture file.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum ImageError {
    /// Neither PNG nor JPEG.
    #[error("this is no PNG or JPEG picture; save it as one of the two")]
    Unknown,
    /// More pixels than are taken.
    #[error(
        "the picture has {columns} x {rows} pixels, more than the {} million that are taken; make \
         it smaller: at 500 lines per inch, 200 mm are 3,937 pixels",
        MOST_PIXELS / 1_000_000
    )]
    TooLarge {
        /// Columns.
        columns: u64,
        /// Rows.
        rows: u64,
    },
    /// It breaks off.
    #[error("the picture breaks off: the file is cut short; copy or export it again")]
    CutShort,
    /// What it codes cannot be: bytes of it were lost or changed.
    #[error(
        "the picture is damaged at byte {byte}, near row {row} of {rows}: {what}; copy or export \
         it again"
    )]
    Damaged {
        /// The byte of the file, or one soon after it.
        byte: usize,
        /// The row of pixels, as the file counts them.
        row: u32,
        /// How many rows there are.
        rows: u32,
        /// What is wrong there.
        what: &'static str,
    },
    /// Anything else that its decoder found.
    #[error("the picture cannot be read: {0}; copy or export it again")]
    Broken(String),
    /// No memory for it.
    #[error("there is not enough memory for a picture of {columns} x {rows} pixels")]
    Memory {
        /// Columns.
        columns: u64,
        /// Rows.
        rows: u64,
    },
}

/// Reads a PNG or JPEG picture.
///
/// # Errors
/// Another kind of file; a picture of more than [`MOST_PIXELS`]; one that breaks off or is broken.
pub fn read_image(bytes: &[u8]) -> Result<Image, ImageError> {
    if bytes.starts_with(b"\x89PNG\r\n\x1a\n") {
        png::read(bytes)
    } else if bytes.starts_with(b"\xff\xd8") {
        jpeg::read(bytes)
    } else {
        Err(ImageError::Unknown)
    }
}

/// Writes greys as a PNG file, 8 bits each for how light a pixel is and how much of it is there.
///
/// # Errors
/// Where there is no memory for it.
pub fn to_png(shades: &Shades) -> Result<Vec<u8>, ImageError> {
    png::write(shades)
}

/// Refuses what has too many pixels.
fn bounded(columns: u64, rows: u64) -> Result<(u32, u32), ImageError> {
    let many = columns.saturating_mul(rows) > MOST_PIXELS;
    match (u32::try_from(columns), u32::try_from(rows)) {
        (Ok(wide), Ok(high)) if !many && wide > 0 && high > 0 => Ok((wide, high)),
        _ => Err(ImageError::TooLarge { columns, rows }),
    }
}

/// Room for something of every pixel, if it can be had.
fn room<T>(columns: u32, rows: u32) -> Result<Vec<T>, ImageError> {
    let mut all = Vec::new();
    all.try_reserve_exact(columns as usize * rows as usize)
        .map_err(|_| ImageError::Memory { columns: columns.into(), rows: rows.into() })?;
    Ok(all)
}

/// Luminance by the value of a channel, of all of `u16`: the value itself where it is grey, and
/// what red, green and blue add.
struct Luminance {
    linear: [f64; 256],
}

static EIGHT_BITS: LazyLock<Luminance> = LazyLock::new(|| Luminance {
    #[allow(clippy::cast_precision_loss)]
    linear: std::array::from_fn(|value| linear_of_srgb(value as f64 / 255.0)),
});

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
fn level(luminance: f64) -> u16 {
    (luminance * f64::from(u16::MAX)).round().clamp(0.0, f64::from(u16::MAX)) as u16
}

fn grey_8(value: u8) -> u16 {
    level(EIGHT_BITS.linear[usize::from(value)])
}

fn colour_8(red: u8, green: u8, blue: u8) -> u16 {
    let linear = &EIGHT_BITS.linear;
    let [r, g, b] = [red, green, blue].map(|value| linear[usize::from(value)]);
    level(WEIGHTS[0] * r + WEIGHTS[1] * g + WEIGHTS[2] * b)
}

fn grey_16(value: u16) -> u16 {
    level(linear_of_srgb(f64::from(value) / f64::from(u16::MAX)))
}

fn colour_16(red: u16, green: u16, blue: u16) -> u16 {
    let linear = |value: u16| linear_of_srgb(f64::from(value) / f64::from(u16::MAX));
    level(WEIGHTS[0] * linear(red) + WEIGHTS[1] * linear(green) + WEIGHTS[2] * linear(blue))
}

/// Greys and the size of a pixel, turned the way the picture was taken (EXIF 2.32, tag 274).
fn upright(
    (columns, rows): (u32, u32),
    luminance: Vec<u16>,
    cover: Option<Vec<u8>>,
    pixel_mm: Option<(f64, f64)>,
    orientation: u16,
) -> Result<(Shades, Option<(f64, f64)>), ImageError> {
    if !(2..=8).contains(&orientation) {
        return Ok((Shades::new(columns, rows, luminance, cover), pixel_mm));
    }
    let (wide, high) = (columns as usize, rows as usize);
    let on_its_side = orientation >= 5;
    let (new_wide, new_high) = if on_its_side { (high, wide) } else { (wide, high) };
    // Where the pixel that is to be seen at (x, y) stands in the file.
    let from = |x: usize, y: usize| {
        let (x, y) = match orientation {
            2 => (wide - 1 - x, y),
            3 => (wide - 1 - x, high - 1 - y),
            4 => (x, high - 1 - y),
            5 => (y, x),
            6 => (y, high - 1 - x),
            7 => (wide - 1 - y, high - 1 - x),
            _ => (wide - 1 - y, x),
        };
        y * wide + x
    };
    let mut turned = room(columns, rows)?;
    let mut turned_cover = match &cover {
        Some(_) => Some(room(columns, rows)?),
        None => None,
    };
    for y in 0..new_high {
        for x in 0..new_wide {
            let at = from(x, y);
            turned.push(luminance[at]);
            if let (Some(new), Some(old)) = (&mut turned_cover, &cover) {
                new.push(old[at]);
            }
        }
    }
    let (columns, rows) = if on_its_side { (rows, columns) } else { (columns, rows) };
    let pixel_mm = pixel_mm.map(|(x, y)| if on_its_side { (y, x) } else { (x, y) });
    Ok((Shades::new(columns, rows, turned, turned_cover), pixel_mm))
}

#[cfg(test)]
mod tests;
