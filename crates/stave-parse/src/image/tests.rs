//! Pictures made here byte by byte, or by the encoder of the `png` crate.

use super::{ImageError, read_image};
use stave_toolpath::linear_of_srgb;

/// A PNG of these samples.
fn png(
    (columns, rows): (u32, u32),
    colour: ::png::ColorType,
    depth: ::png::BitDepth,
    data: &[u8],
    with: impl FnOnce(&mut ::png::Info<'static>),
) -> Vec<u8> {
    let mut bytes = Vec::new();
    let mut info = ::png::Info::with_size(columns, rows);
    (info.color_type, info.bit_depth) = (colour, depth);
    with(&mut info);
    let encoder = ::png::Encoder::with_info(&mut bytes, info).unwrap();
    encoder.write_header().unwrap().write_image_data(data).unwrap();
    bytes
}

fn darkness(bytes: &[u8]) -> Vec<f64> {
    burned(bytes, false)
}

fn burned(bytes: &[u8], invert: bool) -> Vec<f64> {
    let image = read_image(bytes).unwrap();
    let (columns, rows) = image.shades.size();
    let picture =
        stave_toolpath::Picture::of_shades(&image.shades, kurbo::Affine::IDENTITY, invert, 1.0);
    let level = |row: u32, column: u32| {
        f64::from(picture.run_at(i64::from(row), f64::from(column) + 0.5, 0).level) / 65535.0
    };
    (0..rows)
        .flat_map(|row| (0..columns).map(move |column| (row, column)))
        .map(|(r, c)| level(r, c))
        .collect()
}

fn close(found: &[f64], wanted: &[f64]) {
    assert_eq!(found.len(), wanted.len());
    for (a, b) in found.iter().zip(wanted) {
        assert!((a - b).abs() < 2e-5, "{found:?} {wanted:?}");
    }
}

#[test]
fn every_kind_of_png_gives_its_greys() {
    use ::png::{
        BitDepth::{Eight, One, Sixteen},
        ColorType::{Grayscale, GrayscaleAlpha, Indexed, Rgb, Rgba},
    };
    let d = |value: f64| 1.0 - linear_of_srgb(value);
    let none = |_: &mut ::png::Info<'static>| {};
    close(&darkness(&png((2, 1), Grayscale, Eight, &[255, 51], none)), &[0.0, d(0.2)]);
    close(&darkness(&png((3, 1), Grayscale, One, &[0b0100_0000], none)), &[1.0, 0.0, 1.0]);
    close(&darkness(&png((1, 1), Grayscale, Sixteen, &[0x33, 0x33], none)), &[d(0.2)]);
    // A fifth of black over white.
    close(&darkness(&png((2, 1), GrayscaleAlpha, Eight, &[0, 255, 0, 51], none)), &[1.0, d(0.8)]);
    // Rec. 709: 0.2126, 0.7152, 0.0722.
    let rgb = [255, 0, 0, 0, 255, 0, 0, 0, 255];
    close(&darkness(&png((3, 1), Rgb, Eight, &rgb, none)), &[0.7874, 0.2848, 0.9278]);
    let wide: Vec<u8> = rgb.iter().flat_map(|v| [*v, *v]).collect();
    close(&darkness(&png((3, 1), Rgb, Sixteen, &wide, none)), &[0.7874, 0.2848, 0.9278]);
    close(&darkness(&png((1, 1), Rgba, Eight, &[0, 255, 0, 0], none)), &[0.0]);
    let palette = png((2, 1), Indexed, Eight, &[1, 0], |info| {
        info.palette = Some(vec![0, 0, 0, 255, 255, 255].into());
    });
    close(&darkness(&palette), &[0.0, 1.0]);
}

/// What shines through is as dark as it looks over white, channel by channel in sRGB; inverted it
/// is as light as it is by itself, as far as it is there (weights of ITU-R BT.709-6, 3.2).
#[test]
fn what_shines_through_is_seen_over_white() {
    use ::png::{
        BitDepth::{Eight, Sixteen},
        ColorType::{GrayscaleAlpha, Rgba},
    };
    // Red of which two fifths are there, and blue of which nothing is.
    let (light, there) = (linear_of_srgb(0.6), 0.4);
    let seen = [1.0 - (0.2126 + 0.7874 * light), 0.0];
    let inverted = [0.2126 * there, 0.0];
    let pixels = [255, 0, 0, 102, 0, 0, 255, 0];
    let wide: Vec<u8> = pixels.iter().flat_map(|v| [*v, *v]).collect();
    let turn = |info: &mut ::png::Info<'static>| info.exif_metadata = Some(exif(3).into());
    for (depth, pixels) in [(Eight, &pixels[..]), (Sixteen, &wide)] {
        let plain = png((2, 1), Rgba, depth, pixels, |_| {});
        close(&burned(&plain, false), &seen);
        close(&burned(&plain, true), &inverted);
        let turned = png((2, 1), Rgba, depth, pixels, turn);
        close(&burned(&turned, false), &[seen[1], seen[0]]);
        close(&burned(&turned, true), &[inverted[1], inverted[0]]);
    }
    let grey = png((1, 1), GrayscaleAlpha, Eight, &[51, 102], |_| {});
    close(&burned(&grey, false), &[1.0 - linear_of_srgb(1.0 - 0.4 * 0.8)]);
    close(&burned(&grey, true), &[0.4 * linear_of_srgb(0.2)]);
    let wide = png((1, 1), GrayscaleAlpha, Sixteen, &[51, 51, 102, 102], |_| {});
    close(&burned(&wide, false), &[1.0 - linear_of_srgb(1.0 - 0.4 * 0.8)]);
}

#[test]
fn size_comes_from_the_file() {
    let bytes = png((2, 1), ::png::ColorType::Grayscale, ::png::BitDepth::Eight, &[0, 0], |info| {
        info.pixel_dims =
            Some(::png::PixelDimensions { xppu: 10_000, yppu: 5_000, unit: ::png::Unit::Meter });
    });
    assert_eq!(read_image(&bytes).unwrap().pixel_mm, Some((0.1, 0.2)));
}

#[test]
fn size_comes_from_a_jpegs_own_segment() {
    let whole = include_bytes!("../../../../fixtures/photos/ramp.jpg");
    assert_eq!(whole[..4], [0xff, 0xd8, 0xff, 0xe0], "its own JFIF segment comes first");
    let rest = &whole[4 + usize::from(u16::from_be_bytes([whole[4], whole[5]]))..];
    let size = |unit: u8, before: &[u8]| {
        let density = [1, 0x2c, 0, 0x7f];
        let jfif = [b"\xff\xe0\0\x10JFIF\0\x01\x02", &[unit][..], &density, &[0, 0]].concat();
        read_image(&[b"\xff\xd8", before, &jfif, rest].concat()).unwrap().pixel_mm
    };
    // 300 by 127 to the inch, to the cm, and as shares of each other alone.
    assert_eq!(size(1, &[]), Some((25.4 / 300.0, 25.4 / 127.0)));
    assert_eq!(size(2, &[]), Some((10.0 / 300.0, 10.0 / 127.0)));
    assert_eq!(size(0, &[]), None);
    // A comment and filling before it.
    assert_eq!(size(1, b"\xff\xfe\0\x05abc\xff\xff"), size(1, &[]));
}

/// An EXIF block with an orientation and a resolution of 254 to the inch.
fn exif(orientation: u8) -> Vec<u8> {
    let mut block = b"MM\0*\0\0\0\x08\0\x04".to_vec();
    block.extend([1, 0x12, 0, 3, 0, 0, 0, 1, 0, orientation, 0, 0]);
    block.extend([1, 0x1a, 0, 5, 0, 0, 0, 1, 0, 0, 0, 62]);
    block.extend([1, 0x1b, 0, 5, 0, 0, 0, 1, 0, 0, 0, 62]);
    block.extend([1, 0x28, 0, 3, 0, 0, 0, 1, 0, 2, 0, 0]);
    block.extend([0, 0, 0, 0, 0, 0, 0, 254, 0, 0, 0, 1]);
    block
}

#[test]
fn a_picture_is_turned_the_way_it_was_taken() {
    // a b
    // c d
    // e f
    let [a, b, c, d, e, f] = [0_u8, 40, 80, 120, 160, 200];
    let seen = [
        vec![a, b, c, d, e, f],
        vec![b, a, d, c, f, e],
        vec![f, e, d, c, b, a],
        vec![e, f, c, d, a, b],
        vec![a, c, e, b, d, f],
        vec![e, c, a, f, d, b],
        vec![f, d, b, e, c, a],
        vec![b, d, f, a, c, e],
    ];
    for (orientation, seen) in (1..=8).zip(seen) {
        let bytes = png(
            (2, 3),
            ::png::ColorType::Grayscale,
            ::png::BitDepth::Eight,
            &[a, b, c, d, e, f],
            |info| {
                info.exif_metadata = Some(exif(orientation).into());
            },
        );
        let image = read_image(&bytes).unwrap();
        assert_eq!(image.shades.size(), if orientation >= 5 { (3, 2) } else { (2, 3) });
        let (x, y) = image.pixel_mm.unwrap();
        assert!((x - 0.1).abs() < 1e-12 && (y - 0.1).abs() < 1e-12);
        let wanted: Vec<f64> =
            seen.iter().map(|v| 1.0 - linear_of_srgb(f64::from(*v) / 255.0)).collect();
        close(&darkness(&bytes), &wanted);
    }
}

#[test]
fn what_is_no_picture_is_told() {
    assert_eq!(read_image(b"GIF89a").unwrap_err(), ImageError::Unknown);
    let whole = png((9, 9), ::png::ColorType::Grayscale, ::png::BitDepth::Eight, &[7; 81], |_| {});
    for end in [8, 20, 40, 60] {
        assert_eq!(read_image(&whole[..end]).unwrap_err(), ImageError::CutShort, "{end}");
    }
    // 40,000 x 40,000 by the header, and nothing after it.
    let mut huge = whole[..33].to_vec();
    huge[16..24].copy_from_slice(&[0, 0, 0x9c, 0x40, 0, 0, 0x9c, 0x40]);
    let crc = crc32(&huge[12..29]);
    huge[29..33].copy_from_slice(&crc.to_be_bytes());
    assert_eq!(
        read_image(&huge).unwrap_err(),
        ImageError::TooLarge { columns: 40_000, rows: 40_000 }
    );
    // T.81, B.2.2: a frame of 60,000 x 60,000.
    let frame = [0xff, 0xd8, 0xff, 0xc0, 0, 11, 8, 0xea, 0x60, 0xea, 0x60, 1, 1, 0x11, 0];
    assert!(read_image(&frame).is_err());
}

/// Where the coded data of a JPEG's first scan begins.
fn coded(jpeg: &[u8]) -> usize {
    let head = jpeg.windows(2).position(|pair| pair == [0xff, 0xda]).unwrap();
    head + 2 + usize::from(u16::from_be_bytes([jpeg[head + 2], jpeg[head + 3]]))
}

fn damage(jpeg: &[u8]) -> String {
    let error = read_image(jpeg).unwrap_err();
    assert!(matches!(error, ImageError::Damaged { .. }), "{error}");
    error.to_string()
}

const RAMP: &[u8] = include_bytes!("../../../../fixtures/photos/ramp.jpg");
const RESTARTS: &[u8] = include_bytes!("../../../../fixtures/photos/hills-restarts.jpg");
const PROGRESSIVE: &[u8] = include_bytes!("../../../../fixtures/photos/hills-progressive.jpg");

/// A decoder makes some picture of any bytes; what cannot be one is refused. How much of the damage
/// that is can be found hangs on the picture: codes fall into step again (of the waves with restart
/// markers, whose blocks are long, two thirds of it is another picture as good as the first).
#[test]
fn a_jpeg_damaged_within_is_told() {
    for (jpeg, most_passed) in [(RAMP, 0.01), (PROGRESSIVE, 0.02)] {
        assert!(read_image(jpeg).is_ok());
        let (start, end) = (coded(jpeg), jpeg.len() - 14);
        let (mut tried, mut passed) = (0.0, 0.0);
        for at in start..end {
            let without = [&jpeg[..at], &jpeg[at + 5..]].concat();
            let zeroed = [&jpeg[..at], &[0; 12], &jpeg[at + 12..]].concat();
            for damaged in [without, zeroed] {
                tried += 1.0;
                passed += f64::from(u8::from(read_image(&damaged).is_ok()));
            }
        }
        assert!(passed / tried < most_passed, "{passed} of {tried}");
    }
}

#[test]
fn what_is_wrong_in_a_jpeg_is_named_with_its_place() {
    // Half of what is coded is gone, then the end comes as it should.
    let middle = usize::midpoint(coded(RAMP), RAMP.len());
    let short = damage(&[&RAMP[..middle], &[0xff, 0xd9][..]].concat());
    assert!(short.contains("ends before its last block; copy or export it again"), "{short}");
    assert!(short.contains(&format!("at byte {middle}, near row ")), "{short}");
    assert!(short.contains(" of 32: "), "{short}");
    // More than there are blocks for.
    let end = RAMP.len() - 2;
    let long = damage(&[&RAMP[..end], &[0x55, 0xaa, 0x55, 0xaa], &RAMP[end..]].concat());
    assert!(long.contains("left over after the last block"), "{long}");
    // A restart marker (T.81, B.1.1.2) that is another, and one that is gone.
    let at = coded(RESTARTS);
    let found = RESTARTS[at..].windows(2).position(|pair| pair == [0xff, 0xd0]).unwrap() + at;
    let mut other = RESTARTS.to_vec();
    other[found + 1] = 0xd3;
    let none = [&RESTARTS[..found], &RESTARTS[found + 2..]].concat();
    for damaged in [other, none] {
        let told = damage(&damaged);
        assert!(told.contains("restart marker is missing or out of order"), "{told}");
    }
    // Without its last scan it comes out, only coarser than it was meant; without its second (what
    // the tables of codes before it are for) too.
    let scans: Vec<usize> = PROGRESSIVE
        .windows(2)
        .enumerate()
        .filter(|(_, pair)| *pair == [0xff, 0xda])
        .map(|(at, _)| at)
        .collect();
    let last = *scans.last().unwrap();
    let coarse = damage(&[&PROGRESSIVE[..last], &[0xff, 0xd9][..]].concat());
    assert!(coarse.contains("scans are missing"), "{coarse}");
    let gap = damage(&[&PROGRESSIVE[..scans[1]], &PROGRESSIVE[last..]].concat());
    assert!(gap.contains("a scan is missing or comes twice"), "{gap}");
}

/// Headers that stand where a decoder that has read those before the first scan looks no more.
#[test]
fn what_no_encoder_writes_after_the_first_scan_is_refused() {
    let end = RAMP.len() - 2;
    let with = |more: &[u8]| damage(&[&RAMP[..end], more, &RAMP[end..]].concat());
    // A frame of nothing (T.81, B.2.2), a scan of nothing (B.2.3).
    let frame = [0xff, 0xc0, 0, 8, 8, 0, 8, 0, 8, 0];
    let scan = [0xff, 0xda, 0, 6, 0, 0, 63, 0];
    let twice = with(&[&frame[..], &scan].concat());
    assert!(twice.contains("frame header comes twice"), "{twice}");
    let nothing = with(&scan);
    assert!(nothing.contains("header of a scan is broken"), "{nothing}");
    // Steps of nothing (B.2.4.1), before it.
    let at = RAMP.windows(2).position(|pair| pair == [0xff, 0xda]).unwrap();
    let steps = [&[0xff, 0xdb, 0, 67, 0][..], &[0; 64]].concat();
    let flat = damage(&[&RAMP[..at], &steps, &RAMP[at..]].concat());
    assert!(flat.contains("a table of steps is broken"), "{flat}");
    // The bit before the last again and again (G.1.1.1.1).
    let last = PROGRESSIVE.windows(2).rposition(|pair| pair == [0xff, 0xda]).unwrap();
    let after = last + 1 + usize::from(PROGRESSIVE[last + 3]);
    let mut again = PROGRESSIVE.to_vec();
    again[after] = again[after] & 0xf0 | again[after] >> 4;
    assert!(again != PROGRESSIVE);
    let told = damage(&again);
    assert!(told.contains("a scan is missing or comes twice"), "{told}");
}

/// Sums that do not come out: of the pixels (RFC 1950, ADLER32), and of chunks, those that only say
/// more of the picture too; and a file that breaks off, whichever way its rows come.
#[test]
fn a_png_whose_sums_do_not_come_out_is_refused() {
    let of = |with: fn(&mut ::png::Info<'static>)| {
        png((9, 9), ::png::ColorType::Grayscale, ::png::BitDepth::Eight, &[7; 81], with)
    };
    let whole = of(|info| {
        info.pixel_dims =
            Some(::png::PixelDimensions { xppu: 9000, yppu: 9000, unit: ::png::Unit::Meter });
    });
    assert!(read_image(&whole).is_ok());
    let place = |kind: &[u8; 4]| whole.windows(4).position(|four| four == kind).unwrap();
    let length = |at: usize| {
        u32::from_be_bytes([whole[at - 4], whole[at - 3], whole[at - 2], whole[at - 1]]) as usize
    };
    for kind in [b"pHYs", b"IDAT"] {
        let mut changed = whole.clone();
        changed[place(kind) + 6] ^= 1;
        let told = read_image(&changed).unwrap_err().to_string();
        assert!(told.contains("copy or export it again"), "{told}");
    }
    // The sum of the pixels is the last of their data; the sum over the chunk is made to fit.
    let at = place(b"IDAT");
    let end = at + 4 + length(at);
    let mut changed = whole.clone();
    changed[end - 1] ^= 1;
    let crc = crc32(&changed[at..end]).to_be_bytes();
    changed[end..end + 4].copy_from_slice(&crc);
    assert!(matches!(read_image(&changed).unwrap_err(), ImageError::Broken(_)));
}

/// ISO/IEC 15948, annex D.
fn crc32(bytes: &[u8]) -> u32 {
    let mut crc = u32::MAX;
    for byte in bytes {
        crc ^= u32::from(*byte);
        for _ in 0..8 {
            crc = if crc & 1 == 1 { 0xedb8_8320 ^ (crc >> 1) } else { crc >> 1 };
        }
    }
    !crc
}
