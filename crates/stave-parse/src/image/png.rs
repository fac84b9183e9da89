//! PNG files.

use std::io::{Cursor, ErrorKind};

use png::{
    BitDepth, ColorType, DecodeOptions, Decoder, DecodingError, Limits, Transformations, Unit,
};

use stave_toolpath::{Shades, srgb_of_linear};

use super::{
    Image, ImageError, Pixels, bounded, colour_8, colour_8_over_white, colour_16,
    colour_16_over_white, exif, grey_8, grey_16, room, upright,
};

/// What the decoder may hold beside the rows, bytes: chunks of text, profiles.
const MOST_BYTES: usize = 64 << 20;

/// Writes greys and how much of each pixel is there.
pub(super) fn write(shades: &Shades) -> Result<Vec<u8>, ImageError> {
    let (columns, rows) = shades.size();
    let mut pixels: Vec<u8> = Vec::new();
    let count = columns as usize * rows as usize * 2;
    pixels
        .try_reserve_exact(count)
        .map_err(|_| ImageError::Memory { columns: columns.into(), rows: rows.into() })?;
    for pixel in 0..count / 2 {
        let (luminance, cover) = shades.pixel(pixel);
        pixels.extend([grey_of(luminance), cover]);
    }
    let mut file = Vec::new();
    let mut encoder = png::Encoder::new(&mut file, columns, rows);
    encoder.set_color(ColorType::GrayscaleAlpha);
    encoder.set_depth(BitDepth::Eight);
    let broken = |error: png::EncodingError| ImageError::Broken(error.to_string());
    let mut writer = encoder.write_header().map_err(broken)?;
    writer.write_image_data(&pixels).map_err(broken)?;
    writer.finish().map_err(broken)?;
    Ok(file)
}

/// The sRGB value of a luminance of 0 to 1, of 8 bits.
#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "0 to 255")]
fn grey_of(luminance: f64) -> u8 {
    (255.0 * srgb_of_linear(luminance)).round().clamp(0.0, 255.0) as u8
}

pub(super) fn read(bytes: &[u8]) -> Result<Image, ImageError> {
    // By itself the decoder looks past sums that do not come out: those of the pixels, and those of
    // chunks that say how large or how clear they are.
    let mut options = DecodeOptions::default();
    options.set_ignore_checksums(false);
    options.set_skip_ancillary_crc_failures(false);
    options.set_ignore_text_chunk(true);
    let mut decoder = Decoder::new_with_options(Cursor::new(bytes), options);
    decoder.set_limits(Limits { bytes: usize::MAX });
    let size = {
        let info = decoder.read_header_info().map_err(|error| failed(&error))?;
        bounded(info.width.into(), info.height.into())?
    };
    // A pixel is at most 8 bytes; an interlaced picture is held whole.
    let whole = size.0 as usize * size.1 as usize * 8;
    decoder.set_limits(Limits { bytes: whole.saturating_add(MOST_BYTES) });
    decoder.set_transformations(Transformations::EXPAND);
    let mut reader = decoder.read_info().map_err(|error| failed(&error))?;
    let (colour, depth) = reader.output_color_type();
    let mut told = Vec::new();
    if reader.info().animation_control.is_some() {
        told.push("the picture moves: only its first picture is burned".to_owned());
    }
    let mut pixels = Pixels { luminance: room(size.0, size.1)?, ..Pixels::default() };
    if matches!(colour, ColorType::GrayscaleAlpha | ColorType::Rgba) {
        pixels.cover = Some(room(size.0, size.1)?);
    }
    if colour == ColorType::Rgba {
        pixels.over_white = Some(room(size.0, size.1)?);
    }
    if reader.info().interlaced {
        let count = reader.output_buffer_size().ok_or(ImageError::CutShort)?;
        let mut all: Vec<u8> = Vec::new();
        all.try_reserve_exact(count)
            .map_err(|_| ImageError::Memory { columns: size.0.into(), rows: size.1.into() })?;
        all.resize(count, 0);
        reader.next_frame(&mut all).map_err(|error| failed(&error))?;
        take(&all, colour, depth, &mut pixels);
    } else {
        for _ in 0..size.1 {
            match reader.next_row() {
                Ok(Some(row)) => take(row.data(), colour, depth, &mut pixels),
                Ok(None) => return Err(ImageError::CutShort),
                Err(error) => return Err(failed(&error)),
            }
        }
    }
    // What follows the rows is looked at too: a file without its end was cut.
    reader.finish().map_err(|error| failed(&error))?;
    let info = reader.info();
    let exif = info.exif_metadata.as_ref().map(|block| exif::read(block)).unwrap_or_default();
    let per_metre = info.pixel_dims.filter(|dims| dims.unit == Unit::Meter);
    let own = per_metre.filter(|dims| dims.xppu > 0 && dims.yppu > 0);
    let own = own.map(|dims| (1000.0 / f64::from(dims.xppu), 1000.0 / f64::from(dims.yppu)));
    let pixel_mm = own.or(exif.pixel_mm);
    let (shades, pixel_mm) = upright(size, pixels, pixel_mm, exif.orientation)?;
    Ok(Image { shades, pixel_mm, told, is_plain: exif.orientation <= 1 })
}

/// Takes in the pixels of rows.
fn take(row: &[u8], colour: ColorType, depth: BitDepth, pixels: &mut Pixels) {
    let wide = depth == BitDepth::Sixteen;
    let word = |pair: &[u8]| u16::from_be_bytes([pair[0], pair[1]]);
    let words = |p: &[u8]| [word(&p[0..]), word(&p[2..]), word(&p[4..])];
    let luminance = &mut pixels.luminance;
    match (colour, wide) {
        (ColorType::Grayscale, false) => luminance.extend(row.iter().map(|v| grey_8(*v))),
        (ColorType::GrayscaleAlpha, false) => {
            luminance.extend(row.chunks_exact(2).map(|p| grey_8(p[0])));
        }
        (ColorType::Rgba, false) => {
            luminance.extend(row.chunks_exact(4).map(|p| colour_8([p[0], p[1], p[2]])));
        }
        // Palettes were expanded.
        (ColorType::Rgb | ColorType::Indexed, false) => {
            luminance.extend(row.chunks_exact(3).map(|p| colour_8([p[0], p[1], p[2]])));
        }
        (ColorType::Grayscale, true) => {
            luminance.extend(row.chunks_exact(2).map(|p| grey_16(word(p))));
        }
        (ColorType::GrayscaleAlpha, true) => {
            luminance.extend(row.chunks_exact(4).map(|p| grey_16(word(p))));
        }
        (ColorType::Rgb | ColorType::Indexed, true) => {
            luminance.extend(row.chunks_exact(6).map(|p| colour_16(words(p))));
        }
        (ColorType::Rgba, true) => {
            luminance.extend(row.chunks_exact(8).map(|p| colour_16(words(p))));
        }
    }
    if let Some(cover) = &mut pixels.cover {
        // The last channel; of 16 bits the upper 8.
        match (colour, wide) {
            (ColorType::GrayscaleAlpha, false) => cover.extend(row.chunks_exact(2).map(|p| p[1])),
            (ColorType::GrayscaleAlpha, true) => cover.extend(row.chunks_exact(4).map(|p| p[2])),
            (ColorType::Rgba, false) => cover.extend(row.chunks_exact(4).map(|p| p[3])),
            (ColorType::Rgba, true) => cover.extend(row.chunks_exact(8).map(|p| p[6])),
            _ => {}
        }
    }
    if let Some(over_white) = &mut pixels.over_white {
        let of_8 = |p: &[u8]| colour_8_over_white([p[0], p[1], p[2]], p[3]);
        let of_16 = |p: &[u8]| colour_16_over_white(words(p), word(&p[6..]));
        match wide {
            false => over_white.extend(row.chunks_exact(4).map(of_8)),
            true => over_white.extend(row.chunks_exact(8).map(of_16)),
        }
    }
}

fn failed(error: &DecodingError) -> ImageError {
    match error {
        DecodingError::IoError(error) if error.kind() == ErrorKind::UnexpectedEof => {
            ImageError::CutShort
        }
        DecodingError::LimitsExceeded => {
            ImageError::Broken("its chunks need more memory than a picture does".to_owned())
        }
        other => ImageError::Broken(other.to_string()),
    }
}
