//! The page's size, exact where the document says it in lengths.

use stave_toolpath::art::Page;

use super::document::Entries;
use super::error::SvgError;
use super::limits::FARTHEST_MM;
use super::unit::{MM_PER_PX, length_mm};

/// The page, mm: as usvg resolved it, but in 64 bits where width or height is a plain length.
///
/// # Errors
/// One larger than art may lie far.
pub(super) fn page(entries: &Entries<'_, '_>, tree: &usvg::Tree) -> Result<Page, SvgError> {
    let root = entries.list.first().map(|e| e.node);
    let exact = |name: &str, resolved_px: f32| {
        let resolved_mm = f64::from(resolved_px) * MM_PER_PX;
        let said_mm = root.and_then(|r| r.attribute(name)).and_then(length_mm);
        // A style sheet may have overruled the attribute.
        said_mm.filter(|mm| (mm - resolved_mm).abs() <= 1e-5 * resolved_mm).unwrap_or(resolved_mm)
    };
    let size = tree.size();
    let (width_mm, height_mm) = (exact("width", size.width()), exact("height", size.height()));
    if width_mm.max(height_mm) > FARTHEST_MM {
        return Err(SvgError::LargePage { width_mm, height_mm });
    }
    Ok(Page { width_mm, height_mm })
}

/// Whether the document leaves its size to whoever shows it.
pub(super) fn has_no_size(entries: &Entries<'_, '_>) -> bool {
    let root = entries.list.first().map(|e| e.node);
    let said = |name: &str| root.and_then(|r| r.attribute(name)).and_then(length_mm).is_some();
    !said("width") && !said("height")
}

/// Whether what lies off the page is to be seen.
pub(super) fn shows_overflow(entries: &Entries<'_, '_>) -> bool {
    let root = entries.list.first().map(|e| e.node);
    root.and_then(|r| r.attribute("overflow")) == Some("visible")
}
