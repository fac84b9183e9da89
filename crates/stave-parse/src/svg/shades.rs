//! What of a drawing is shades: no plain fill or stroke, to be burned as a picture or cut at a
//! threshold.

use stave_toolpath::art::Shaded;

use super::collect::{Collected, Tint};
use super::document::Entries;
use super::{Notice, NoticeKind};

/// A shaded shape of the art, and what is to be said where it is not burned.
#[derive(Clone, Debug, PartialEq)]
pub struct Shades {
    /// The shape, an index into the art's.
    pub shape: usize,
    /// What makes it shades, and where that is said.
    pub notice: Notice,
    /// How wide a pixel of a picture is on the page, mm; without end for what has none.
    pub pixel_mm: f64,
    /// The element of the document that it comes from.
    pub(super) entry: usize,
}

/// Tells the art which of its shapes are shades.
pub(super) fn shade(collected: &mut Collected, tints: &[Option<Tint>], entries: &Entries<'_, '_>) {
    for (shape, tint) in tints.iter().enumerate() {
        let (Some(tint), Some(drawn)) = (tint, collected.art.shapes.get(shape)) else { continue };
        let is_blend = tint.kind == NoticeKind::Blend;
        let may_be_dark = !tint.has_colour || is_blend;
        collected.art.shaded.push(Shaded { shape, has_colour: tint.has_colour, may_be_dark });
        let entry = collected.entry_of.get(drawn.element).copied().unwrap_or_default();
        let cause = &entries.list[tint.entry];
        // What a use draws is called by the use.
        let own = collected.art.elements.get(drawn.element).filter(|_| tint.entry == entry);
        let notice = Notice {
            kind: tint.kind,
            name: own.map_or(&cause.name, |element| &element.name).clone(),
            line: cause.line,
            message: what(tint.kind).to_owned(),
        };
        collected.shades.push(Shades { shape, notice, pixel_mm: tint.pixel_mm, entry });
    }
}

fn what(kind: NoticeKind) -> &'static str {
    match kind {
        NoticeKind::Image => "a picture",
        NoticeKind::Gradient => "a gradient",
        NoticeKind::Pattern => "a pattern",
        NoticeKind::Mask => "a mask of shades lies over it",
        NoticeKind::Filter => "a filter lies over it",
        NoticeKind::Blend => "its blend mode makes shades of it",
        _ => "it is translucent",
    }
}
