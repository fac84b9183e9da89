//! JPEG files.

mod blocks;
mod codes;
mod whole;

use zune_jpeg::JpegDecoder;
use zune_jpeg::zune_core::bytestream::ZCursor;
use zune_jpeg::zune_core::colorspace::ColorSpace;
use zune_jpeg::zune_core::options::DecoderOptions;

use super::{
    Image, ImageError, MM_PER_INCH, Pixels, bounded, colour_8, exif, grey_8, room, upright,
};

/// JFIF 1.02, `units`: dots per inch, dots per cm.
const PER_INCH: u8 = 1;
const PER_CM: u8 = 2;

pub(super) fn read(bytes: &[u8]) -> Result<Image, ImageError> {
    let options = DecoderOptions::default().set_max_width(65_535).set_max_height(65_535);
    let mut decoder = JpegDecoder::new_with_options(ZCursor::new(bytes), options);
    let broken = |error: zune_jpeg::errors::DecodeErrors| {
        if is_cut(bytes) { ImageError::CutShort } else { ImageError::Broken(error.to_string()) }
    };
    decoder.decode_headers().map_err(broken)?;
    let Some(info) = decoder.info() else { return Err(ImageError::CutShort) };
    let size = bounded(info.width.into(), info.height.into())?;
    // A decoder that gets no more bytes fills up with grey: that is no picture.
    if is_cut(bytes) {
        return Err(ImageError::CutShort);
    }
    whole::check(bytes)?;
    let exif = decoder.exif().map(|block| exif::read(block)).unwrap_or_default();
    let mut told = Vec::new();
    let mut is_plain = exif.orientation <= 1;
    let input = decoder.input_colorspace();
    if matches!(input, Some(ColorSpace::CMYK | ColorSpace::YCCK)) {
        is_plain = false;
        told.push(
            "the picture is in CMYK, inks for paper: its greys are near, not exact; save it as \
             RGB or grey to be sure"
                .to_owned(),
        );
    }
    let is_grey = input == Some(ColorSpace::Luma);
    let output = if is_grey { ColorSpace::Luma } else { ColorSpace::RGB };
    decoder.set_options(options.jpeg_set_out_colorspace(output));
    let pixels = decoder.decode().map_err(broken)?;
    let mut luminance = room(size.0, size.1)?;
    if is_grey {
        luminance.extend(pixels.iter().map(|value| grey_8(*value)));
    } else {
        luminance.extend(pixels.chunks_exact(3).map(|p| colour_8([p[0], p[1], p[2]])));
    }
    drop(pixels);
    // The decoder leaves out what the file says of its pixels' size.
    let own = jfif_pixel_mm(bytes);
    let pixel_mm = own.or(exif.pixel_mm);
    let pixels = Pixels { luminance, ..Pixels::default() };
    let (shades, pixel_mm) = upright(size, pixels, pixel_mm, exif.orientation)?;
    Ok(Image { shades, pixel_mm, told, is_plain })
}

/// Width and height of a pixel, mm, as the JFIF segment says (JFIF 1.02, "APP0 marker"): it comes
/// before the picture, among segments that tell their lengths (T.81, B.1.1.4).
fn jfif_pixel_mm(bytes: &[u8]) -> Option<(f64, f64)> {
    let mut rest = bytes.strip_prefix(&[0xff, 0xd8])?;
    loop {
        let [0xff, marker, high, low, ..] = *rest else { return None };
        // Before a marker there may be more of 0xff.
        if marker == 0xff {
            rest = rest.get(1..)?;
            continue;
        }
        let segment = rest.get(4..2 + usize::from(u16::from_be_bytes([high, low])))?;
        match (marker, segment) {
            (0xe0, [b'J', b'F', b'I', b'F', 0, _, _, unit, x0, x1, y0, y1, ..]) => {
                let unit_mm = match *unit {
                    PER_INCH => MM_PER_INCH,
                    PER_CM => 10.0,
                    _ => return None,
                };
                let pixel = |bytes: [u8; 2]| {
                    let density = f64::from(u16::from_be_bytes(bytes));
                    (density > 0.0).then(|| unit_mm / density)
                };
                return Some((pixel([*x0, *x1])?, pixel([*y0, *y1])?));
            }
            (0xda, _) => return None,
            _ => rest = rest.get(4 + segment.len()..)?,
        }
    }
}

/// Whether the file ends before its picture does: no end of image after the last start of scan
/// (T.81, B.1.1.3). Within a scan neither marker can stand.
fn is_cut(bytes: &[u8]) -> bool {
    let last = |marker: [u8; 2]| bytes.windows(2).rposition(|pair| pair == marker);
    match (last([0xff, 0xda]), last([0xff, 0xd9])) {
        (Some(scan), Some(end)) => end < scan,
        _ => true,
    }
}
