//! Clip paths of usvg to clips of the art, each shared by all that it confines.

use std::collections::HashMap;

use kurbo::Affine;
use stave_toolpath::art::{Clip, ClipArea};

use super::convert;
use super::unit::MM_PER_PX;

/// The clips met so far.
#[derive(Debug, Default)]
pub(super) struct Clips {
    pub(super) list: Vec<Clip>,
    /// By the clip path's address, which stays while the tree lives, and the transform it stands
    /// in.
    known: HashMap<(usize, [u64; 6]), usize>,
}

impl Clips {
    /// The clip for a clip path that stands in a space carried to px by `to_px`.
    pub(super) fn add(&mut self, clip: &usvg::ClipPath, to_px: Affine) -> usize {
        let key = (std::ptr::from_ref(clip) as usize, to_px.as_coeffs().map(f64::to_bits));
        if let Some(&known) = self.known.get(&key) {
            return known;
        }
        // usvg has broken circles of clip paths, so that these recursions end.
        let within = clip.clip_path().map(|outer| self.add(outer, to_px)).into_iter().collect();
        let inside = to_px * convert::affine(clip.transform());
        let mut areas = Vec::new();
        self.areas(clip.root(), inside, &mut Vec::new(), &mut areas);
        self.list.push(Clip { areas, within });
        let index = self.list.len() - 1;
        self.known.insert(key, index);
        index
    }

    fn areas(
        &mut self,
        group: &usvg::Group,
        root_to_px: Affine,
        clips: &mut Vec<usize>,
        out: &mut Vec<ClipArea>,
    ) {
        let depth = clips.len();
        if let Some(clip) = group.clip_path() {
            let here = root_to_px * convert::affine(group.abs_transform());
            clips.push(self.add(clip, here));
        }
        for node in group.children() {
            match node {
                usvg::Node::Group(group) => self.areas(group, root_to_px, clips, out),
                usvg::Node::Text(text) => self.areas(text.flattened(), root_to_px, clips, out),
                usvg::Node::Path(path) => {
                    let (true, Some(fill)) = (path.is_visible(), path.fill()) else { continue };
                    let to_page = Affine::scale(MM_PER_PX)
                        * root_to_px
                        * convert::affine(path.abs_transform());
                    if let Some(outline) = convert::path(path.data(), to_page) {
                        let rule = convert::rule(fill.rule());
                        out.push(ClipArea { path: outline, rule, clips: clips.clone() });
                    }
                }
                usvg::Node::Image(_) => {}
            }
        }
        clips.truncate(depth);
    }
}
