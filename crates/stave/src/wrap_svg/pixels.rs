//! Shades carried to the page of the controller: rendered, laid and sampled again, pixel by pixel.

use std::collections::{BTreeSet, HashMap};

use kurbo::{BezPath, Point, Rect, Shape as _};
use stave_check::{Code, Finding};
use stave_setup::Setup;
use stave_toolpath::Shades;
use stave_toolpath::art::{Part, Rule, Shape};
use stave_transform::{Extent, Redraw};

use super::STROKE_TOLERANCE_MM;
use super::sheet::{LaidPixels, LaidShape, Sheet};
use crate::layout::Layout;

/// Pixels are as wide where nothing says how far apart lines are, mm.
const PIXEL_MM: f64 = 0.1;
/// The most pixels of one picture; beyond, they are coarser.
const MOST_PIXELS: f64 = 40e6;

/// Puts greys in place of the inks of every shape that is shades; what cannot be carried is a
/// finding, and nothing stands in its place. Shapes that are seen through as one are one picture,
/// which stands in place of the lowest: two of them over each other would be darker where they
/// meet.
pub(super) fn carry(
    layout: &Layout,
    redraw: &Redraw<'_>,
    sheet: &Sheet,
    setup: &Setup,
    laid: &mut [LaidShape],
) -> Vec<Finding> {
    let mut lost = Vec::new();
    let mut seen = layout.shaded.clone();
    for Together { lay, members, parts } in together(layout, laid) {
        let shapes: BTreeSet<usize> = parts.iter().map(|(shape, _)| *shape).collect();
        let spacings = shapes.iter().map(|&shape| pixel_mm(layout, setup, shape));
        let pixel_mm = spacings.fold(f64::INFINITY, f64::min);
        let work = Work { layout, redraw, sheet, lay, parts: &parts };
        match work.pixels(pixel_mm, &mut seen) {
            Ok(Some(pixels)) => {
                for index in &members {
                    laid.get_mut(*index).into_iter().for_each(|one| one.in_greys = true);
                }
                let lowest = members.first().and_then(|&index| laid.get_mut(index));
                lowest.into_iter().for_each(|one| one.pixels.push(pixels.clone()));
            }
            Ok(None) => {}
            Err(()) => {
                let notices = shapes.iter().filter_map(|&shape| seen.lost(shape));
                lost.extend(notices.map(|notice| {
                    Finding::new(Code::LeftOut, notice.to_string()).of_element(&notice.name)
                }));
            }
        }
    }
    for one in laid.iter_mut().filter(|one| layout.art.is_shaded(one.shape)) {
        one.inks.clear();
    }
    lost
}

/// What is rendered together.
struct Together {
    lay: usize,
    /// Indices into what is laid, the lowest first.
    members: Vec<usize>,
    parts: Vec<(usize, Part)>,
}

/// What is rendered together, in the order of the lowest of each.
fn together(layout: &Layout, laid: &[LaidShape]) -> Vec<Together> {
    let mut all: Vec<Together> = Vec::new();
    let mut known: HashMap<(usize, usize), usize> = HashMap::new();
    for (index, one) in laid.iter().enumerate() {
        let shape = layout.art.shapes.get(one.shape);
        let Some(shape) = shape.filter(|_| layout.art.is_shaded(one.shape)) else { continue };
        let mut parts = Vec::new();
        if shape.fill.is_some() {
            parts.push((one.shape, Part::Fill));
        }
        if shape.stroke.is_some() {
            parts.push((one.shape, Part::StrokeArea));
        }
        if shape.stroke_first {
            parts.reverse();
        }
        let Some(as_one) = layout.shaded.as_one(one.shape) else {
            let (lay, members) = (one.lay, vec![index]);
            all.extend(parts.into_iter().map(|part| {
                let (members, parts) = (members.clone(), vec![part]);
                Together { lay, members, parts }
            }));
            continue;
        };
        let at = *known.entry((as_one, one.lay)).or_insert_with(|| {
            all.push(Together { lay: one.lay, members: Vec::new(), parts: Vec::new() });
            all.len() - 1
        });
        if let Some(group) = all.get_mut(at) {
            group.members.push(index);
            group.parts.append(&mut parts);
        }
    }
    all
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
    parts: &'a [(usize, Part)],
}

impl Work<'_> {
    /// The greys of the parts on the page; nothing where clips leave nothing of them.
    fn pixels(
        &self,
        pixel_mm: f64,
        seen: &mut crate::layout::rendered::Shaded,
    ) -> Result<Option<LaidPixels>, ()> {
        let art = &self.layout.art;
        let Some(lay) = self.layout.lays.get(self.lay) else { return Ok(None) };
        let parts = self.parts;
        let Some(region) = crate::layout::rendered::region(art, parts) else { return Ok(None) };
        let Some(one) = seen.see(art, parts, pixel_mm, true) else { return Err(()) };
        // What clips leave of it, as it comes to lie.
        let corners = self.layout.to_flat * region.to_path(STROKE_TOLERANCE_MM);
        let place = |flat: &BezPath| {
            let laid = self.redraw.path(lay, flat, &mut Extent::NOTHING.clone());
            laid.map(|laid| self.sheet.place(&laid)).map_err(drop)
        };
        let mut edges = Vec::with_capacity(parts.len());
        for (shape, part) in parts {
            let Some(shape) = art.shapes.get(*shape) else { continue };
            let (flat, rule) = outline(shape, *part);
            let path = place(&(self.layout.to_flat * flat))?;
            edges.push((path, rule));
        }
        let boxes = edges.iter().map(|(path, _)| path.bounding_box());
        let Some(around) = boxes.reduce(|one, other| one.union(other)) else { return Ok(None) };
        let frame = place(&corners)?.bounding_box().intersect(around);
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
        let edge = if edges.len() > 1 { None } else { edges.pop() };
        Ok(Some(LaidPixels { frame, png, edge }))
    }
}

/// What a part of a shape covers, on the drawing's page.
fn outline(shape: &Shape, part: Part) -> (BezPath, Rule) {
    match part {
        Part::Fill | Part::Outline => {
            (shape.path.clone(), shape.fill.map_or(Rule::NonZero, |fill| fill.rule))
        }
        Part::StrokeArea | Part::StrokeMiddle => {
            (shape.stroke_area(STROKE_TOLERANCE_MM).unwrap_or_default(), Rule::NonZero)
        }
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
