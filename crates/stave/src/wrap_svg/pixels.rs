//! Shades carried to the page of the controller: rendered, laid and sampled again, pixel by pixel.

use kurbo::{BezPath, Point, Rect, Shape as _};
use stave_check::{Code, Finding};
use stave_setup::Setup;
use stave_toolpath::Shades;
use stave_toolpath::art::{Part, Rule};
use stave_transform::{Extent, Redraw};

use super::STROKE_TOLERANCE_MM;
use super::sheet::{LaidPixels, LaidShape, Sheet};
use crate::layout::Layout;

/// Pixels are as wide where nothing says how far apart lines are, mm.
const PIXEL_MM: f64 = 0.1;
/// The most pixels of one picture; beyond, they are coarser.
const MOST_PIXELS: f64 = 40e6;

/// Puts greys in place of the inks of every shape that is shades; what cannot be carried is a
/// finding, and nothing stands in its place.
pub(super) fn carry(
    layout: &Layout,
    redraw: &Redraw<'_>,
    sheet: &Sheet,
    setup: &Setup,
    laid: &mut [LaidShape],
) -> Vec<Finding> {
    let mut lost = Vec::new();
    let mut seen = layout.shaded.clone();
    for one in laid.iter_mut().filter(|one| layout.art.is_shaded(one.shape)) {
        one.inks.clear();
        let Some(shape) = layout.art.shapes.get(one.shape) else { continue };
        let mut parts = Vec::new();
        if shape.fill.is_some() {
            parts.push(Part::Fill);
        }
        if shape.stroke.is_some() {
            parts.push(Part::StrokeArea);
        }
        if shape.stroke_first {
            parts.reverse();
        }
        for part in parts {
            let work = Work { layout, redraw, sheet, lay: one.lay, shape: one.shape, part };
            match work.pixels(pixel_mm(layout, setup, one.shape), &mut seen) {
                Ok(pixels) => one.pixels.extend(pixels),
                Err(()) => lost.extend(seen.lost(one.shape).map(|notice| {
                    Finding::new(Code::LeftOut, notice.to_string()).of_element(&notice.name)
                })),
            }
        }
    }
    lost
}

/// How wide a pixel is to be: the spacing of the lines that would burn it.
fn pixel_mm(layout: &Layout, setup: &Setup, shape: usize) -> f64 {
    let takes = layout.operations.iter().find(|o| o.parts.iter().any(|part| part.shape == shape));
    let of_machine = || setup.machine.picture.as_ref().map(|picture| picture.line_spacing_mm);
    takes.and_then(|operation| operation.line_spacing_mm).or_else(of_machine).unwrap_or(PIXEL_MM)
}

struct Work<'a> {
    layout: &'a Layout,
    redraw: &'a Redraw<'a>,
    sheet: &'a Sheet,
    lay: usize,
    shape: usize,
    part: Part,
}

impl Work<'_> {
    /// The greys of the part on the page; nothing where clips leave nothing of it.
    fn pixels(
        &self,
        pixel_mm: f64,
        seen: &mut crate::layout::rendered::Shaded,
    ) -> Result<Option<LaidPixels>, ()> {
        let art = &self.layout.art;
        let (Some(shape), Some(lay)) = (art.shapes.get(self.shape), self.layout.lays.get(self.lay))
        else {
            return Ok(None);
        };
        let (flat, rule) = match self.part {
            Part::Fill | Part::Outline => {
                (shape.path.clone(), shape.fill.map_or(Rule::NonZero, |fill| fill.rule))
            }
            Part::StrokeArea | Part::StrokeMiddle => {
                (shape.stroke_area(STROKE_TOLERANCE_MM).unwrap_or_default(), Rule::NonZero)
            }
        };
        let parts = [(self.shape, self.part)];
        let Some(region) = crate::layout::rendered::region(art, &parts) else { return Ok(None) };
        let Some(one) = seen.see(art, &parts, pixel_mm, true) else { return Err(()) };
        // What clips leave of it, as it comes to lie.
        let corners = self.layout.to_flat * region.to_path(STROKE_TOLERANCE_MM);
        let place = |flat: &BezPath| {
            let laid = self.redraw.path(lay, flat, &mut Extent::NOTHING.clone());
            laid.map(|laid| self.sheet.place(&laid)).map_err(drop)
        };
        let edge = place(&(self.layout.to_flat * flat))?;
        let frame = place(&corners)?.bounding_box().intersect(edge.bounding_box());
        let page = Rect::new(0.0, 0.0, self.sheet.page.width_mm, self.sheet.page.height_mm);
        let frame = frame.intersect(page);
        if !(frame.width() > 0.0 && frame.height() > 0.0) {
            return Ok(None);
        }
        let coarser = (frame.area() / (pixel_mm * pixel_mm) / MOST_PIXELS).sqrt().max(1.0);
        let count = |length: f64| (length / pixel_mm / coarser).ceil().max(1.0);
        let (columns, rows) = (count(frame.width()), count(frame.height()));
        let back = self.redraw.back();
        let to_raster = one.to_page.inverse() * self.layout.to_flat.inverse();
        let grey = |column: f64, row: f64| {
            let x = frame.x0 + frame.width() * (column + 0.5) / columns;
            let y = frame.y0 + frame.height() * (row + 0.5) / rows;
            let flat = self.redraw.flat(&back, lay, self.sheet.told_at(Point::new(x, y)));
            flat.map_or((1.0, 0.0), |flat| {
                let at = to_raster * flat;
                one.raster.between(at.x, at.y)
            })
        };
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "bounded")]
        let (wide, high) = (columns as u32, rows as u32);
        let (mut luminance, mut cover) = (Vec::new(), Vec::new());
        for row in 0..high {
            for column in 0..wide {
                let (light, there) = grey(column.into(), row.into());
                luminance.push(of_all(light, u16::MAX.into()));
                #[expect(clippy::cast_possible_truncation, reason = "of all of u8")]
                cover.push(of_all(there, u8::MAX.into()) as u8);
            }
        }
        let greys = Shades::new(wide, high, luminance, Some(cover));
        let png = to_png(&greys).ok_or(())?;
        Ok(Some(LaidPixels { frame, png, edge, rule }))
    }
}

#[cfg(feature = "image")]
fn to_png(greys: &Shades) -> Option<Vec<u8>> {
    stave_parse::image::to_png(greys).ok()
}

#[cfg(not(feature = "image"))]
fn to_png(_: &Shades) -> Option<Vec<u8>> {
    None
}

#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "within all")]
fn of_all(share: f64, all: f64) -> u16 {
    (share * all).round().clamp(0.0, all) as u16
}
