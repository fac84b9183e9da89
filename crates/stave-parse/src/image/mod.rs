//! Picture files: PNG (ISO/IEC 15948) and JPEG (ITU-T T.81, JFIF, EXIF), to greys.
//!
//! What counts is how light each pixel is: its relative luminance, linear, by the weights of ITU-R
//! BT.709, sRGB taken for what the file holds. How a camera was held is heeded, so that up is up.

mod exif;
mod jpeg;
mod png;

use stave_toolpath::{EightBits, Shades, linear_of_srgb, luminance, over_white};

/// The most pixels of a picture; its header tells before anything is decoded.
pub const MOST_PIXELS: u64 = 200_000_000;

/// By definition since 1959 (NIST SP 811, appendix B.6).
const MM_PER_INCH: f64 = 25.4;

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

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
fn level(luminance: f64) -> u16 {
    (luminance * f64::from(u16::MAX)).round().clamp(0.0, f64::from(u16::MAX)) as u16
}

fn grey_8(value: u8) -> u16 {
    level(EightBits::table().grey(value))
}

fn colour_8(parts: [u8; 3]) -> u16 {
    level(EightBits::table().colour(parts))
}

/// A colour over white, as far as it is there.
fn colour_8_over_white(parts: [u8; 3], cover: u8) -> u16 {
    let multiplied = parts.map(|part| EightBits::multiplied(part, cover));
    level(EightBits::table().over_white(multiplied, cover))
}

/// A value of 16 bits, 0 to 1.
fn share_16(value: u16) -> f64 {
    f64::from(value) / f64::from(u16::MAX)
}

fn grey_16(value: u16) -> u16 {
    level(linear_of_srgb(share_16(value)))
}

fn colour_16(parts: [u16; 3]) -> u16 {
    level(luminance(parts.map(share_16)))
}

/// A colour over white, as far as it is there.
fn colour_16_over_white(parts: [u16; 3], cover: u16) -> u16 {
    level(luminance(parts.map(|part| over_white(share_16(part), share_16(cover)))))
}

/// What is known of the pixels of a file.
#[derive(Default)]
struct Pixels {
    luminance: Vec<u16>,
    cover: Option<Vec<u8>>,
    /// Luminance over white, of colours that are seen through.
    over_white: Option<Vec<u16>>,
}

impl Pixels {
    fn shades(self, (columns, rows): (u32, u32)) -> Shades {
        let shades = Shades::new(columns, rows, self.luminance, self.cover);
        match self.over_white {
            Some(over_white) => shades.seen_over_white(over_white),
            None => shades,
        }
    }
}

/// What stands at places, put into a room for it.
fn taken<T: Copy>(of: &[T], places: impl Iterator<Item = usize>, room: Vec<T>) -> Vec<T> {
    let mut room = room;
    room.extend(places.map(|at| of[at]));
    room
}

/// Greys and the size of a pixel, turned the way the picture was taken (EXIF 2.32, tag 274).
fn upright(
    (columns, rows): (u32, u32),
    pixels: Pixels,
    pixel_mm: Option<(f64, f64)>,
    orientation: u16,
) -> Result<(Shades, Option<(f64, f64)>), ImageError> {
    if !(2..=8).contains(&orientation) {
        return Ok((pixels.shades((columns, rows)), pixel_mm));
    }
    let (wide, high) = (columns as usize, rows as usize);
    let on_its_side = orientation >= 5;
    let (new_wide, new_high) = if on_its_side { (high, wide) } else { (wide, high) };
    // Where the pixel that is to be seen at (x, y) stands in the file.
    let from = move |x: usize, y: usize| {
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
    let places = || (0..new_high).flat_map(|y| (0..new_wide).map(move |x| from(x, y)));
    let turned = Pixels {
        luminance: taken(&pixels.luminance, places(), room(columns, rows)?),
        cover: match &pixels.cover {
            Some(cover) => Some(taken(cover, places(), room(columns, rows)?)),
            None => None,
        },
        over_white: match &pixels.over_white {
            Some(over_white) => Some(taken(over_white, places(), room(columns, rows)?)),
            None => None,
        },
    };
    let (columns, rows) = if on_its_side { (rows, columns) } else { (columns, rows) };
    let pixel_mm = pixel_mm.map(|(x, y)| if on_its_side { (y, x) } else { (x, y) });
    Ok((turned.shades((columns, rows)), pixel_mm))
}

#[cfg(test)]
mod tests;
