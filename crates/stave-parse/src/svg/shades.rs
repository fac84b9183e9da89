//! What of a drawing is shades: no plain fill or stroke, to be burned as a picture or cut at a
//! threshold.

use std::collections::HashMap;

use kurbo::Rect;
use stave_toolpath::art::{Shaded, meet};

use super::collect::{Collected, Over, Tint};
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
    /// Shapes that share a number are seen through as one: what lies over another of them is not
    /// seen through twice.
    pub as_one: Option<usize>,
    /// The element of the document that it comes from.
    pub(super) entry: usize,
}

/// Tells the art which of its shapes are shades.
pub(super) fn shade(collected: &mut Collected, over: &mut [Over], entries: &Entries<'_, '_>) {
    tint_knock_outs(collected, over);
    for (shape, over) in over.iter().enumerate() {
        let (Some(tint), Some(drawn)) = (over.tint, collected.art.shapes.get(shape)) else {
            continue;
        };
        let is_blend = tint.kind == NoticeKind::Blend;
        let is_bare = tint.kind == NoticeKind::Translucent && !drawn.is_dark();
        let may_be_dark = !tint.has_colour || is_blend || is_bare;
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
        collected.shades.push(Shades {
            shape,
            notice,
            pixel_mm: tint.pixel_mm,
            as_one: over.as_one,
            entry,
        });
    }
}

/// White over another shape of a group that is seen through as one knocks out of it: then it is
/// shades as that is, though nothing of its own is more than bare ware.
fn tint_knock_outs(collected: &Collected, over: &mut [Over]) {
    let boxes = collected.art.bounds_of_shapes();
    let mut shaded: HashMap<usize, (Rect, Tint)> = HashMap::new();
    for ((over, shape), bounds) in over.iter_mut().zip(&collected.art.shapes).zip(boxes) {
        let (Some(group), Some(bounds)) = (over.as_one, bounds) else { continue };
        let beneath = shaded.get(&group).copied();
        if over.tint.is_none() && !shape.is_dark() {
            let met = beneath.filter(|(around, _)| meet(*around, bounds).is_some());
            over.tint = met.map(|(_, tint)| Tint {
                kind: NoticeKind::Translucent,
                has_colour: true,
                pixel_mm: f64::INFINITY,
                ..tint
            });
        }
        if let Some(tint) = over.tint {
            let all = beneath.map_or(bounds, |(around, _)| around.union(bounds));
            shaded.insert(group, (all, tint));
        }
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
