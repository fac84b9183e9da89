//! One way to draw: lines, words, dimension lines and leaders as SVG in mm, and labels that know
//! their size and keep apart.

mod clip;
mod dimension;
mod drawing;
mod ink;
mod paper;
mod room;
mod text;

pub(crate) use clip::share_within;
pub(crate) use dimension::{
    Dimension, FIGURE_MM, bar_told, bars_mm, check_bar_mm, dimension, dimensions_in_line, leader,
    scale_bar, short_bar_mm,
};
pub(crate) use drawing::Drawing;
#[cfg(test)]
pub(crate) use drawing::assert_words_apart;
pub(crate) use ink::{
    FACET, FRAME, HAIR, INK, MISSING, SOFT, STRAY, WARE, ZONE, ZONE_FILL, ZONE_INK,
};
pub use paper::SheetSize;
pub(crate) use room::{Room, meets, spread};
pub(crate) use text::{broken, broken_to, cut, dated, text_width_mm};
