//! What burns in shades: pictures, what a filter touches, paint that is seen through.

use std::collections::BTreeSet;

use kurbo::{Point, Rect, Shape as _};
use stave_toolpath::art::{Fill, Rgb, Rule, Shape};

use super::{Around, Tint, Walk};
use crate::svg::NoticeKind;
use crate::svg::convert::{self, Ink};

impl Walk<'_, '_, '_> {
    /// A picture: a frame that it fills.
    pub(super) fn image(&mut self, image: &usvg::Image, around: &Around) {
        let entry = self.entry("", around);
        self.meet(entry, around.instance);
        if !image.is_visible() {
            return;
        }
        if around.opacity <= 0.0 {
            self.fates[entry].transparent = true;
            return;
        }
        let to_page = convert::to_mm(around.to_px);
        let (width, height) = (image.size().width().into(), image.size().height().into());
        let path = to_page * Rect::new(0.0, 0.0, width, height).to_path(0.0);
        let picture = self.pictures.get(entry).and_then(|picture| picture.as_ref().ok());
        let is_opaque = picture.is_some_and(|p| p.is_opaque) && around.veil.is_none();
        let opacity = if is_opaque { around.opacity } else { 0.5 * around.opacity };
        let fill = Fill { colour: Rgb::default(), rule: Rule::NonZero, opacity };
        let pixel_mm = picture.map(|picture| {
            let across = (to_page * Point::new(width, 0.0)).distance(to_page * Point::ORIGIN);
            across / f64::from(picture.pixels.0.max(1))
        });
        let (kind, cause) = around.veil.unwrap_or((NoticeKind::Image, None));
        let tint = Tint {
            kind,
            entry: cause.unwrap_or(entry),
            has_colour: false,
            pixel_mm: pixel_mm.unwrap_or(f64::INFINITY),
        };
        self.fates[entry].shades = true;
        let element = self.instances.element(entry, around.instance);
        let clips = around.clips.clone();
        let frame =
            Shape { element, path, fill: Some(fill), stroke: None, stroke_first: false, clips };
        self.push(frame, Some(tint), around);
    }

    /// What lies under a filter: all that it may touch is one frame, since nothing of it keeps its
    /// place.
    pub(super) fn filtered(
        &mut self,
        group: &usvg::Group,
        region: Rect,
        around: &Around,
        own: Option<usize>,
    ) {
        let (first, met) = (self.shapes.len(), self.instances.elements.len());
        let read = self.words.len();
        for node in group.children() {
            match node {
                usvg::Node::Group(group) => self.group(group, around),
                usvg::Node::Path(path) => self.path(path, around),
                usvg::Node::Text(text) => self.text(text, around),
                usvg::Node::Image(image) => self.image(image, around),
            }
        }
        // Who picks a thing within means the whole.
        let mut ids: Vec<String> = Vec::new();
        let drawn = self.shapes.drain(first..).map(|shape| shape.element);
        let within: BTreeSet<usize> = drawn.chain(met..self.instances.elements.len()).collect();
        self.tints.truncate(first);
        let within_first = within.first().copied();
        for element in within {
            if let Some(&entry) = self.instances.entry_of.get(element) {
                self.fates[entry].shades = true;
            }
            if let Some(element) = self.instances.elements.get(element) {
                ids.extend(element.ids.iter().cloned());
            }
        }
        let first = within_first.and_then(|element| self.instances.entry_of.get(element).copied());
        let entry = own.or(first).unwrap_or_else(|| self.entry("", around));
        self.meet(entry, around.instance);
        self.fates[entry].shades = true;
        for (of, _) in self.words.iter_mut().skip(read) {
            *of = (entry, around.instance);
        }
        let element = self.instances.element(entry, around.instance);
        if let Some(element) = self.instances.elements.get_mut(element) {
            ids.retain(|id| !element.ids.contains(id));
            element.ids.extend(ids);
        }
        let to_page = convert::to_mm(around.to_px);
        let fill = Fill { colour: Rgb::default(), rule: Rule::NonZero, opacity: 0.5 };
        let frame = Shape {
            element,
            path: to_page * region.to_path(0.0),
            fill: Some(fill),
            stroke: None,
            stroke_first: false,
            clips: around.clips.clone(),
        };
        let tint =
            Tint { kind: NoticeKind::Filter, entry, has_colour: false, pixel_mm: f64::INFINITY };
        self.push(frame, Some(tint), around);
    }

    /// What stands for a paint that is seen through so much, opacity included, and what makes it
    /// shades. `None` where nothing is to be seen.
    pub(super) fn ink(
        &mut self,
        entry: usize,
        paint: &usvg::Paint,
        opacity: f64,
        around: &Around,
    ) -> Option<(Ink, Option<Tint>)> {
        let veil = around.veil.map(|(kind, cause)| (kind, cause.unwrap_or(entry)));
        let pattern =
            Ink { colour: Rgb::default(), opacity: 1.0, is_opaque: false, is_gradient: true };
        let ink = convert::ink(paint);
        let mut seen = ink.unwrap_or(pattern);
        seen.opacity *= opacity;
        if seen.opacity <= 0.0 {
            self.fates[entry].transparent = true;
            return None;
        }
        let kind = match ink {
            None => Some(NoticeKind::Pattern),
            Some(ink) if ink.is_gradient => Some(NoticeKind::Gradient),
            // So faint that it is bare ware: nothing is to be seen of it, in one shade or many.
            Some(ink) if ink.colour.is_bare(seen.opacity) => None,
            Some(_) if seen.opacity <= 0.999 => Some(NoticeKind::Translucent),
            Some(_) => None,
        };
        let (kind, cause) = match (veil, kind) {
            (Some(veil), _) => veil,
            (None, Some(kind)) => (kind, entry),
            (None, None) => return Some((seen, None)),
        };
        let has_colour = ink.is_some_and(|ink| !ink.is_gradient);
        if !has_colour {
            seen.colour = Rgb::default();
        }
        // What may shine through hides nothing.
        if veil.is_some() || !seen.is_opaque {
            seen.opacity *= 0.5;
        }
        self.fates[entry].shades = true;
        let tint = Tint { kind, entry: cause, has_colour, pixel_mm: f64::INFINITY };
        Some((seen, Some(tint)))
    }
}
