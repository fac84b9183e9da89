//! What an EXIF block (EXIF 2.32, CIPA DC-008; TIFF 6.0) says of how a picture lies and how large
//! it is.

use super::MM_PER_INCH;

const ORIENTATION: u16 = 0x0112;
const X_RESOLUTION: u16 = 0x011a;
const Y_RESOLUTION: u16 = 0x011b;
const RESOLUTION_UNIT: u16 = 0x0128;

/// What is heeded of an EXIF block.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Exif {
    /// 1 to 8; 0 where it is not said.
    pub(super) orientation: u16,
    pub(super) pixel_mm: Option<(f64, f64)>,
}

/// Reads the first directory of a block; what is broken says nothing.
pub(super) fn read(block: &[u8]) -> Exif {
    // In JPEG files the block has a head of its own; decoders cut it off or not.
    let block = block.strip_prefix(b"Exif\0\0").unwrap_or(block);
    directory(block).unwrap_or_default()
}

struct Tiff<'a> {
    bytes: &'a [u8],
    little: bool,
}

impl Tiff<'_> {
    fn short(&self, at: usize) -> Option<u16> {
        let bytes = self.bytes.get(at..at.checked_add(2)?)?.try_into().ok()?;
        Some(if self.little { u16::from_le_bytes(bytes) } else { u16::from_be_bytes(bytes) })
    }

    fn long(&self, at: usize) -> Option<u32> {
        let bytes = self.bytes.get(at..at.checked_add(4)?)?.try_into().ok()?;
        Some(if self.little { u32::from_le_bytes(bytes) } else { u32::from_be_bytes(bytes) })
    }

    fn ratio(&self, at: usize) -> Option<f64> {
        let (over, under) = (f64::from(self.long(at)?), f64::from(self.long(at.checked_add(4)?)?));
        Some(over / under).filter(|ratio| ratio.is_finite() && *ratio > 0.0)
    }
}

fn directory(bytes: &[u8]) -> Option<Exif> {
    let little = match bytes.get(..4)? {
        b"II*\0" => true,
        b"MM\0*" => false,
        _ => return None,
    };
    let tiff = Tiff { bytes, little };
    let first = tiff.long(4)? as usize;
    let count = usize::from(tiff.short(first)?);
    let (mut exif, mut x, mut y, mut unit) = (Exif::default(), None, None, 2);
    for k in 0..count {
        let at = first.checked_add(2 + 12 * k)?;
        let Some(tag) = tiff.short(at) else { break };
        let value = at + 8;
        let far = || tiff.ratio(tiff.long(value)? as usize);
        match tag {
            ORIENTATION => exif.orientation = tiff.short(value).unwrap_or(0),
            X_RESOLUTION => x = far(),
            Y_RESOLUTION => y = far(),
            RESOLUTION_UNIT => unit = tiff.short(value).unwrap_or(0),
            _ => {}
        }
    }
    let unit_mm = match unit {
        2 => Some(MM_PER_INCH),
        3 => Some(10.0),
        _ => None,
    };
    exif.pixel_mm = unit_mm.and_then(|mm| Some((mm / x?, mm / y?)));
    Some(exif)
}
