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

#[cfg(test)]
mod tests {
    use super::*;

    /// Whether a drawing of 100 x 100 with these contents is fair at a scale on a canvas.
    #[track_caller]
    fn fair(contents: &str, scale: f32, canvas: (u32, u32)) -> bool {
        let text = format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"100\" height=\"100\">\
             {contents}</svg>"
        );
        let tree = Tree::from_str(&text, &usvg::Options::default()).unwrap();
        is_fair(&tree, Transform::from_scale(scale, scale), canvas)
    }

    const SQUARE: &str = "<rect width=\"100\" height=\"100\" fill=\"url(#p)\"/>";
    /// A thousand million pixels.
    const LARGE: (u32, u32) = (40_000, 25_000);

    fn pattern(attributes: &str, inside: &str) -> String {
        format!(
            "<pattern id=\"p\" patternUnits=\"userSpaceOnUse\" width=\"100\" height=\"100\" \
             {attributes}><rect width=\"9\" height=\"9\"/>{inside}</pattern>"
        )
    }

    #[test]
    fn a_tile_has_bounds() {
        let plain = pattern("", "") + SQUARE;
        // 7,700 pixels along a side are 59.3 million, 7,800 are 60.8.
        assert!(fair(&plain, 77.0, (10, 10)) && !fair(&plain, 78.0, (10, 10)));
        let turned = pattern("patternTransform=\"scale(2 1)\"", "") + SQUARE;
        assert!(fair(&turned, 54.0, (10, 10)) && !fair(&turned, 55.5, (10, 10)));
        // Of a stroke as of a fill.
        let stroke =
            pattern("", "") + "<rect width=\"50\" height=\"50\" fill=\"none\" stroke=\"url(#p)\"/>";
        assert!(fair(&stroke, 77.0, (10, 10)) && !fair(&stroke, 78.0, (10, 10)));
    }

    #[test]
    fn what_is_painted_adds_up() {
        // Tiles of 30 million pixels, and a hundred for each shape.
        let many = |count: usize| pattern("", "") + &SQUARE.repeat(count);
        assert!(fair(&many(199), 54.77, (10, 10)) && !fair(&many(201), 54.77, (10, 10)));
        // Patterns within a pattern: each of its tiles is painted for each of the outer ones.
        let nested = |outer: usize, inner: usize| {
            let small = "<pattern id=\"q\" patternUnits=\"userSpaceOnUse\" width=\"100\" \
                         height=\"100\"><rect width=\"9\" height=\"9\"/></pattern>";
            let inside = "<rect width=\"50\" height=\"50\" fill=\"url(#q)\"/>".repeat(inner);
            small.to_owned() + &pattern("", &inside) + &SQUARE.repeat(outer)
        };
        assert!(fair(&nested(10, 18), 54.77, (10, 10)) && !fair(&nested(10, 20), 54.77, (10, 10)));
        assert!(fair(&nested(18, 10), 54.77, (10, 10)) && !fair(&nested(20, 10), 54.77, (10, 10)));
    }

    /// A shape costs a little too: sixty million of them, by patterns within patterns, are a few
    /// lines of a drawing.
    #[test]
    fn every_shape_counts() {
        let dots = |count: usize| {
            let pattern = |id: &str, inside: String| {
                format!(
                    "<pattern id=\"{id}\" patternUnits=\"userSpaceOnUse\" width=\"1\" \
                     height=\"1\">{inside}</pattern>"
                )
            };
            let of = |fill: &str, count: usize| {
                format!("<rect width=\"9\" height=\"9\" fill=\"{fill}\"/>").repeat(count)
            };
            let drawing = pattern("a", of("red", 1000))
                + &pattern("b", of("url(#a)", count))
                + &pattern("c", of("url(#b)", count));
            fair(&(drawing + &of("url(#c)", count)), 1.0, (10, 10))
        };
        assert!(dots(38) && !dots(40));
    }

    /// A shape under a filter whose layer is so many units wide and high.
    fn filtered(side: u32, primitives: &str) -> String {
        format!(
            "<filter id=\"f\" filterUnits=\"userSpaceOnUse\" x=\"0\" y=\"0\" width=\"{side}\" \
             height=\"{side}\">{primitives}</filter><rect width=\"{side}\" height=\"{side}\" \
             filter=\"url(#f)\"/>"
        )
    }

    /// How many pixels a primitive looks at for each, here of 100 million.
    #[test]
    fn filters_cost_what_they_look_at() {
        let fits = |primitives: &str| fair(&filtered(100, primitives), 100.0, LARGE);
        let convolve = |columns: usize, rows: usize| {
            let kernel = "1 ".repeat(columns * rows);
            fits(&format!(
                "<feConvolveMatrix order=\"{columns} {rows}\" kernelMatrix=\"{kernel}\"/>"
            ))
        };
        assert!(convolve(29, 2) && convolve(2, 29) && !convolve(30, 2) && !convolve(2, 30));
        // A radius reaches to both sides: 59 of 60 allowed.
        let radius = |x: f64, y: f64| {
            fits(&format!("<feMorphology operator=\"dilate\" radius=\"{x} {y}\"/>"))
        };
        assert!(radius(0.03, 0.03) && !radius(0.04, 0.03));
        assert!(radius(0.09, 0.005) && !radius(0.15, 0.005) && !radius(0.005, 0.15));
        let octaves = |count: u32| {
            fits(&format!("<feTurbulence baseFrequency=\"0.1\" numOctaves=\"{count}\"/>"))
        };
        assert!(octaves(6) && !octaves(7));
        let repeated = |primitive: &str, count: usize| fits(&primitive.repeat(count));
        let blur = "<feGaussianBlur stdDeviation=\"1\"/>";
        assert!(repeated(blur, 7) && !repeated(blur, 8));
        let shadow = "<feDropShadow dx=\"1\" dy=\"1\" stdDeviation=\"1\"/>";
        assert!(repeated(shadow, 7) && !repeated(shadow, 8));
        let offset = "<feOffset dx=\"1\"/>";
        assert!(repeated(offset, 29) && !repeated(offset, 30));
    }

    /// A group that is drawn by itself first is a layer, whatever it is for.
    #[test]
    fn a_layer_costs_its_size() {
        let layers = |count: usize| {
            let layer = "<g opacity=\"0.5\"><rect width=\"100\" height=\"100\"/></g>";
            fair(&layer.repeat(count), 100.0, LARGE)
        };
        assert!(layers(59) && !layers(60));
    }

    /// A layer is no larger than four canvases, nor than what it holds.
    #[test]
    fn a_layer_is_bounded_by_its_canvas_and_by_what_it_holds() {
        // Four million pixels, and a side of 37 or 39 looked at for each.
        let radius = |r: f64| {
            let morphology = format!("<feMorphology operator=\"dilate\" radius=\"{r}\"/>");
            fair(&filtered(100, &morphology), 100.0, (1000, 1000))
        };
        assert!(radius(0.18) && !radius(0.19));
        let small = |side: u32| {
            let blurs = "<feGaussianBlur stdDeviation=\"1\"/>".repeat(70);
            fair(&filtered(side, &blurs), 100.0, LARGE)
        };
        assert!(small(32) && !small(34));
    }

    /// Masks, the masks of masks, and pictures are painted over all of the canvas.
    #[test]
    fn masks_and_pictures_cost_a_canvas_each() {
        let masked = |count: usize| {
            "<mask id=\"m\"><rect width=\"50\" height=\"50\" fill=\"white\"/></mask>".to_owned()
                + &"<rect width=\"1\" height=\"1\" mask=\"url(#m)\"/>".repeat(count)
        };
        assert!(fair(&masked(5), 1.0, LARGE) && !fair(&masked(6), 1.0, LARGE));
        let twice = |count: usize| {
            "<mask id=\"n\"><rect width=\"50\" height=\"50\" fill=\"white\"/></mask><mask id=\"m\" \
             mask=\"url(#n)\"><rect width=\"50\" height=\"50\" fill=\"white\"/></mask>"
                .to_owned()
                + &"<rect width=\"1\" height=\"1\" mask=\"url(#m)\"/>".repeat(count)
        };
        assert!(fair(&twice(2), 1.0, LARGE) && !fair(&twice(3), 1.0, LARGE));
        // One white pixel.
        let png = "iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAAAAAA6fptVAAAACklEQVR4nGP4DwABAQEAsTj2FAAAAABJ\
                   RU5ErkJggg==";
        let picture =
            format!("<image width=\"1\" height=\"1\" href=\"data:image/png;base64,{png}\"/>");
        let pictures = |count: usize| fair(&picture.repeat(count), 1.0, LARGE);
        // Six are just what may be.
        assert!(pictures(6) && !pictures(7));
    }

    /// What is within a mask, a clip path or a group counts as what is beside it.
    #[test]
    fn what_is_within_counts() {
        let tiles = |count: usize| SQUARE.repeat(count);
        let within = |before: &str, after: &str, count: usize| {
            let drawing = pattern("", "") + before + &tiles(count) + after;
            fair(&drawing, 54.77, (10, 10))
        };
        for (before, after) in [
            ("<g opacity=\"0.5\">", "</g>"),
            ("<g transform=\"scale(1)\">", "</g>"),
            ("<mask id=\"m\">", "</mask><rect width=\"1\" height=\"1\" mask=\"url(#m)\"/>"),
        ] {
            assert!(within(before, after, 198), "{before}");
            assert!(!within(before, after, 201), "{before}");
        }
        // What a filter shows.
        let shown = |count: usize| {
            let all = format!("<defs>{}<g id=\"t\">{}</g></defs>", pattern("", ""), tiles(count));
            fair(&(all + &filtered(1, "<feImage href=\"#t\"/>")), 54.77, (10, 10))
        };
        assert!(shown(198) && !shown(201));
        // The scale of what is around counts with it.
        assert!(!within("<g transform=\"scale(1.1)\">", "</g>", 198));
        // A clip path is a million pixels, or the canvas, and its shapes a hundred each.
        let clipped = |count: usize, canvas: (u32, u32)| {
            let clip = "<clipPath id=\"c\"><rect width=\"50\" height=\"50\"/></clipPath>";
            let one = "<rect width=\"1\" height=\"1\" clip-path=\"url(#c)\"/>";
            fair(&(clip.to_owned() + &one.repeat(count)), 1.0, canvas)
        };
        assert!(clipped(5998, LARGE) && !clipped(6000, LARGE) && clipped(6000, (900, 1000)));
        // What is clipped within a clip path is so for every one that it clips.
        let twice = |count: usize| {
            let inner = "<clipPath id=\"d\"><rect width=\"50\" height=\"50\"/></clipPath>";
            let one = "<rect width=\"1\" height=\"1\" clip-path=\"url(#d)\"/>".repeat(count);
            let used = "<rect width=\"1\" height=\"1\" clip-path=\"url(#c)\"/>".repeat(2);
            fair(&format!("{inner}<clipPath id=\"c\">{one}</clipPath>{used}"), 1.0, LARGE)
        };
        assert!(twice(2900) && !twice(2999));
    }
}
