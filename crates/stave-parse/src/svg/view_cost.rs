//! What rendering a drawing would cost, reckoned before it is done: a small file can ask for
//! patterns within patterns, or filters that look at thousands of pixels for each.

use resvg::tiny_skia::Transform;
use usvg::filter::Kind;
use usvg::{Group, Node, Paint, Tree};

/// The most pixels that are painted, each as often as it is.
const MOST_PAINTED: f64 = 6e9;
/// The most pixels of one tile of a pattern.
const LARGEST_TILE: f64 = 60e6;
/// A layer of the renderer is at most so many times the canvas.
const LAYER: f64 = 4.0;

/// Whether a drawing can be rendered within seconds and a bounded memory, on a canvas of so many
/// pixels to which `to_pixels` carries it.
pub(super) fn is_fair(tree: &Tree, to_pixels: Transform, (width, height): (u32, u32)) -> bool {
    let canvas = f64::from(width) * f64::from(height);
    let mut cost = Cost { canvas, painted: 0.0 };
    cost.group(tree.root(), to_pixels).is_some()
}

struct Cost {
    canvas: f64,
    painted: f64,
}

impl Cost {
    /// `None` as soon as it is too much.
    fn paint(&mut self, pixels: f64) -> Option<()> {
        self.painted += pixels;
        (self.painted <= MOST_PAINTED).then_some(())
    }

    fn group(&mut self, group: &Group, around: Transform) -> Option<()> {
        let here = around.pre_concat(group.transform());
        let scale = here.get_scale();
        let scale = f64::from(scale.0.max(scale.1));
        if group.should_isolate() {
            let bounds = group.layer_bounding_box();
            let pixels = f64::from(bounds.width()) * f64::from(bounds.height()) * scale * scale;
            let layer = pixels.min(LAYER * self.canvas);
            self.paint(layer)?;
            for filter in group.filters() {
                for primitive in filter.primitives() {
                    self.paint(layer * looks(primitive.kind(), scale))?;
                    if let Kind::Image(image) = primitive.kind() {
                        self.group(image.root(), here)?;
                    }
                }
            }
        }
        if let Some(clip) = group.clip_path() {
            self.paint(self.canvas.min(1e6))?;
            let mut clip = Some(clip);
            while let Some(one) = clip {
                self.group(one.root(), here.pre_concat(one.transform()))?;
                clip = one.clip_path();
            }
        }
        let mut mask = group.mask();
        while let Some(one) = mask {
            self.paint(self.canvas)?;
            self.group(one.root(), here)?;
            mask = one.mask();
        }
        for node in group.children() {
            match node {
                Node::Group(group) => self.group(group, here)?,
                Node::Path(path) => {
                    self.path(path, here)?;
                }
                Node::Text(text) => self.group(text.flattened(), here)?,
                Node::Image(_) => self.paint(self.canvas)?,
            }
        }
        Some(())
    }

    fn path(&mut self, path: &usvg::Path, here: Transform) -> Option<()> {
        self.paint(100.0)?;
        let fill = path.fill().map(usvg::Fill::paint);
        let stroke = path.stroke().map(usvg::Stroke::paint);
        for paint in [fill, stroke].into_iter().flatten() {
            let Paint::Pattern(pattern) = paint else { continue };
            let (x, y) = here.pre_concat(pattern.transform()).get_scale();
            let rect = pattern.rect();
            let tile = f64::from(rect.width() * x) * f64::from(rect.height() * y);
            if tile.is_nan() || tile > LARGEST_TILE {
                return None;
            }
            self.paint(tile)?;
            self.group(pattern.root(), Transform::from_scale(x, y))?;
        }
        Some(())
    }
}

/// How many pixels a filter looks at for each.
fn looks(kind: &Kind, scale: f64) -> f64 {
    match kind {
        Kind::ConvolveMatrix(matrix) => {
            f64::from(matrix.matrix().columns()) * f64::from(matrix.matrix().rows())
        }
        Kind::Morphology(morphology) => {
            let side = |radius: f32| 2.0 * f64::from(radius) * scale + 1.0;
            side(morphology.radius_x().get()) * side(morphology.radius_y().get())
        }
        Kind::Turbulence(turbulence) => 8.0 * (1.0 + f64::from(turbulence.num_octaves())),
        Kind::GaussianBlur(_) | Kind::DropShadow(_) => 8.0,
        _ => 2.0,
    }
}
