//! Clip paths of usvg to clips of the art, each shared by all that it confines.

use std::collections::HashMap;

use kurbo::{Affine, BezPath, Point, Rect, Shape as _};
use stave_toolpath::art::{Clip, ClipArea, Rgb, Rule};

use super::convert;
use super::rewrite::Rewritten;
use super::rings::rings;
use super::unit::MM_PER_PX;
use super::words::{Painted, Words, WordsOf, points, shown};

/// How far the ground that a cutout is cut from reaches past what a mask lets through, mm.
const PAST_MM: f64 = 1.0;

/// The clips met so far.
#[derive(Debug)]
pub(super) struct Clips<'r> {
    /// Tells the filters that do nothing and only mark what a `use` draws.
    rewritten: &'r Rewritten,
    pub(super) list: Vec<Clip>,
    /// The words that clips have the shape of.
    pub(super) words: Vec<Words>,
    /// Masks as clips, as below; `None` for those that are none.
    masks: HashMap<(usize, [u64; 6]), Option<usize>>,
    /// By the clip path's address, which stays while the tree lives, and the transform it stands
    /// in.
    known: HashMap<(usize, [u64; 6]), usize>,
}

impl<'r> Clips<'r> {
    pub(super) fn new(rewritten: &'r Rewritten) -> Clips<'r> {
        let (masks, known) = (HashMap::new(), HashMap::new());
        Clips { rewritten, list: Vec::new(), words: Vec::new(), masks, known }
    }

    /// The clip for a clip path that stands in a space carried to px by `to_px`.
    pub(super) fn add(&mut self, clip: &usvg::ClipPath, to_px: Affine) -> usize {
        let key = (std::ptr::from_ref(clip) as usize, to_px.as_coeffs().map(f64::to_bits));
        if let Some(&known) = self.known.get(&key) {
            return known;
        }
        // usvg has broken circles of clip paths, so that these recursions end.
        let within = clip.clip_path().map(|outer| self.add(outer, to_px)).into_iter().collect();
        let inside = to_px * convert::affine(clip.transform());
        let mut held = ClipInside::default();
        let around = (inside, usvg::Transform::identity());
        self.areas(clip.root(), around, &mut Vec::new(), &mut held);
        self.list.push(Clip { areas: held.areas, within });
        let index = self.list.len() - 1;
        self.words_of(index, held.words);
        self.known.insert(key, index);
        index
    }

    /// The clip that a mask is, in a space carried to px by `to_px`: one of opaque white shapes, or
    /// of opaque shapes for a mask by alpha, from which opaque black ones painted after them may
    /// cut. `None` for every other, which is shades.
    pub(super) fn add_mask(&mut self, mask: &usvg::Mask, to_px: Affine) -> Option<usize> {
        let key = (std::ptr::from_ref(mask) as usize, to_px.as_coeffs().map(f64::to_bits));
        if let Some(&known) = self.masks.get(&key) {
            return known;
        }
        let clip = self.mask(mask, to_px);
        self.masks.insert(key, clip);
        clip
    }

    fn mask(&mut self, mask: &usvg::Mask, to_px: Affine) -> Option<usize> {
        let outer = match mask.mask() {
            Some(outer) => Some(self.add_mask(outer, to_px)?),
            None => None,
        };
        let mut inside = ClipInside::default();
        let by_alpha = mask.kind() == usvg::MaskType::Alpha;
        let around = (to_px, usvg::Transform::identity());
        self.mask_areas(mask.root(), around, by_alpha, &mut Vec::new(), &mut inside)?;
        let mut within: Vec<usize> = outer.into_iter().collect();
        let r = mask.rect();
        let [x0, y0, x1, y1] = [r.left(), r.top(), r.right(), r.bottom()].map(f64::from);
        let region = Affine::scale(MM_PER_PX) * to_px * Rect::new(x0, y0, x1, y1).to_path(0.0);
        within.push(self.simple(ClipArea { path: region, rule: Rule::NonZero, clips: Vec::new() }));
        let boxes = inside.areas.iter().map(|area| area.path.bounding_box());
        let ground = boxes.reduce(|one, other| one.union(other)).unwrap_or(Rect::ZERO);
        for cutout in inside.cutouts {
            let ground = ground.union(cutout.bounding_box()).inflate(PAST_MM, PAST_MM);
            let mut path = ground.to_path(0.0);
            path.extend(cutout);
            within.push(self.simple(ClipArea { path, rule: Rule::EvenOdd, clips: Vec::new() }));
        }
        self.list.push(Clip { areas: inside.areas, within });
        let index = self.list.len() - 1;
        self.words_of(index, inside.words);
        Some(index)
    }

    fn words_of(&mut self, clip: usize, texts: Vec<(Vec<Painted>, Vec<Point>)>) {
        let of = |points| WordsOf::Clip { clip, points };
        self.words.extend(texts.into_iter().map(|(runs, points)| Words { runs, of: of(points) }));
    }

    /// A clip that is one area of the page, mm.
    pub(super) fn add_area(&mut self, path: BezPath, rule: Rule) -> usize {
        self.simple(ClipArea { path, rule, clips: Vec::new() })
    }

    fn simple(&mut self, area: ClipArea) -> usize {
        self.list.push(Clip { areas: vec![area], within: Vec::new() });
        self.list.len() - 1
    }

    /// What a group of a mask lets through; `None` where that is more than all or nothing.
    fn mask_areas(
        &mut self,
        group: &usvg::Group,
        (to_px, around): (Affine, usvg::Transform),
        by_alpha: bool,
        clips: &mut Vec<usize>,
        out: &mut ClipInside,
    ) -> Option<()> {
        let plain = group.opacity().get() >= 1.0
            && group.mask().is_none()
            && group.filters().iter().all(|filter| self.rewritten.is_mark(filter.id()))
            && group.blend_mode() == usvg::BlendMode::Normal;
        if !plain {
            return None;
        }
        let depth = clips.len();
        let own = convert::group_to_px(group, around);
        if let Some(clip) = group.clip_path() {
            clips.push(self.add(clip, to_px * convert::affine(own)));
        }
        for node in group.children() {
            match node {
                usvg::Node::Group(group) => {
                    self.mask_areas(group, (to_px, own), by_alpha, clips, out)?;
                }
                usvg::Node::Text(text) => {
                    out.read(text, to_px * convert::affine(own));
                    self.mask_areas(text.flattened(), (to_px, own), by_alpha, clips, out)?;
                }
                usvg::Node::Path(path) if path.is_visible() => {
                    let to_page = Affine::scale(MM_PER_PX) * to_px * convert::affine(own);
                    mask_area(path, to_page, by_alpha, clips, out)?;
                }
                usvg::Node::Path(_) => {}
                usvg::Node::Image(_) => return None,
            }
        }
        clips.truncate(depth);
        Some(())
    }

    fn areas(
        &mut self,
        group: &usvg::Group,
        (root_to_px, around): (Affine, usvg::Transform),
        clips: &mut Vec<usize>,
        out: &mut ClipInside,
    ) {
        let depth = clips.len();
        let own = convert::group_to_px(group, around);
        if let Some(clip) = group.clip_path() {
            let here = root_to_px * convert::affine(own);
            clips.push(self.add(clip, here));
        }
        for node in group.children() {
            match node {
                usvg::Node::Group(group) => self.areas(group, (root_to_px, own), clips, out),
                usvg::Node::Text(text) => {
                    out.read(text, root_to_px * convert::affine(own));
                    self.areas(text.flattened(), (root_to_px, own), clips, out);
                }
                usvg::Node::Path(path) => {
                    let (true, Some(fill)) = (path.is_visible(), path.fill()) else { continue };
                    let to_page = Affine::scale(MM_PER_PX) * root_to_px * convert::affine(own);
                    if let Some(outline) = convert::path(path.data(), to_page) {
                        let rule = convert::rule(fill.rule());
                        let clips = clips.clone();
                        out.areas.push(ClipArea { path: outline, rule, clips });
                    }
                }
                usvg::Node::Image(_) => {}
            }
        }
        clips.truncate(depth);
    }
}

/// What a clip path or a mask lets through, what a mask cuts from that, and the words they show.
#[derive(Default)]
struct ClipInside {
    areas: Vec<ClipArea>,
    cutouts: Vec<BezPath>,
    words: Vec<(Vec<Painted>, Vec<Point>)>,
}

impl ClipInside {
    /// Takes note of a text's words.
    fn read(&mut self, text: &usvg::Text, to_px: Affine) {
        let runs = shown(text);
        if !runs.is_empty() {
            let flat = text.flattened();
            let to_page = Affine::scale(MM_PER_PX) * to_px * convert::affine(flat.transform());
            self.words.push((runs, points(flat, to_page)));
        }
    }
}

/// A path of a mask; `None` where it is shades, or its part in the mask cannot be told.
fn mask_area(
    path: &usvg::Path,
    to_page: Affine,
    by_alpha: bool,
    clips: &[usize],
    out: &mut ClipInside,
) -> Option<()> {
    let fill = path.fill().filter(|_| path.stroke().is_none())?;
    let ink = convert::ink(fill.paint())?;
    let is_opaque = fill.opacity().get() >= 1.0 && ink.opacity >= 1.0 && !ink.is_gradient;
    if !is_opaque {
        return None;
    }
    let outline = convert::path(path.data(), to_page)?;
    let rule = convert::rule(fill.rule());
    if by_alpha || ink.colour == Rgb::WHITE {
        // White painted over a cutout would fill it again.
        if !out.cutouts.is_empty() {
            return None;
        }
        out.areas.push(ClipArea { path: outline, rule, clips: clips.to_vec() });
        return Some(());
    }
    if ink.colour != Rgb::new(0, 0, 0) {
        return None;
    }
    if out.areas.is_empty() {
        return Some(());
    }
    if !clips.is_empty() {
        return None;
    }
    // Outside and inside are told apart by the even-odd rule.
    out.cutouts.extend(rings(&outline, rule)?);
    Some(())
}
