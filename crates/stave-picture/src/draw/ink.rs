//! The colours of every picture.

/// Ink of lines and words.
pub(crate) const INK: &str = "#1c1c1a";
/// Words and lines of less weight; dark enough to read, 5.7 : 1 on white.
pub(crate) const SOFT: &str = "#5f5f5a";
/// Hair lines.
pub(crate) const HAIR: &str = "#b9b9b3";
/// The ware.
pub(crate) const WARE: &str = "#efeee9";
/// Zones.
pub(crate) const ZONE: &str = "#b34700";
/// A zone's name.
pub(crate) const ZONE_INK: &str = "#8a3400";
/// Inside a zone.
pub(crate) const ZONE_FILL: &str = "#f2d6c2";
/// Flat places.
pub(crate) const FACET: &str = "#5a3d8a";
/// The frame of art where it will be burned: a dark green, 6.6 : 1 on white.
pub(crate) const FRAME: &str = "#00684c";
/// Burned, but not meant: vermillion of the palette of Okabe and Ito ("Color Universal Design",
/// 2008; from memory), told apart by all eyes.
pub(crate) const STRAY: [u8; 3] = [0xd5, 0x5e, 0x00];
/// Meant, but not burned: sky blue of the same palette.
pub(crate) const MISSING: [u8; 3] = [0x56, 0xb4, 0xe9];
