//! A drawing laid out: what is burned where, before any move is made.
//!
//! From bytes and the setup to the flat plane: which piece every shape belongs to, which operation
//! burns it how, and by which lay it goes to the wall. What is made of it (a program, a drawing, a
//! table of lays, a picture) is the callers' business.

mod burn;
mod cut;
mod fold;
mod notices;
mod page;
mod picture;
mod place;
mod read_over;
pub(crate) mod rendered;
mod words;

pub(crate) use burn::PlacedOperation;
pub use picture::PictureSize;
pub(crate) use words::listed;

use kurbo::{Affine, BezPath, Point, Rect, Shape as _};
use stave_check::{Code, Finding};
use stave_parse::svg;
use stave_setup::Setup;
use stave_toolpath::Shades;
use stave_toolpath::art::{Art, Part, Rule, Work, meet};
use stave_wall::{Lay, LayKind};

use crate::error::{Error, SourceFault};
use crate::source::{Options, Source};
use place::Lays;
pub(crate) use place::anchor_of;

/// How close outlines are followed where only their reach counts, mm.
const LOOK_MM: f64 = 0.05;

/// The most pieces of a drawing. Each is laid by itself and looked at against what lies near it:
/// twice as many take four times as long, and this many some seconds.
const MOST_PIECES: usize = 10_000;

/// What a layout is wanted for.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(crate) enum Purpose {
    /// To be burned: art without speed and power is refused.
    Burn,
    /// To be looked at: such art has no operation.
    Show,
    /// To be drawn anew: the same, and shades are carried along, burned or not.
    Redraw,
}

/// What the input is.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(crate) enum Kind {
    Drawing,
    Path,
    #[cfg_attr(not(feature = "image"), expect(dead_code, reason = "only the decoders make it"))]
    Picture,
}

/// A drawing laid out for a setup.
#[derive(Clone, Debug)]
pub(crate) struct Layout {
    /// What is drawn, on its page. Later shapes hide earlier ones, whether or not anything burns
    /// them.
    pub(crate) art: Art,
    /// From the page, mm, to the flat plane `(u, v)`, mm: a turn or a mirrored turn, and a shift.
    /// It keeps lengths.
    pub(crate) to_flat: Affine,
    /// The pieces, by their first shapes.
    pub(crate) pieces: Vec<PlacedPiece>,
    /// For each shape its piece, an index into `pieces`.
    pub(crate) piece_of_shape: Vec<usize>,
    /// What is burned, in order. One that picks nothing has no parts.
    pub(crate) operations: Vec<PlacedOperation>,
    /// The lays there are, each once.
    pub(crate) lays: Vec<Lay>,
    /// The greys of a picture that the input is; its page is that of the art.
    pub(crate) shades: Option<Shades>,
    /// What renders the shades of a drawing.
    pub(crate) shaded: rendered::Shaded,
    /// What is said of shades that nothing burns.
    pub(crate) left_out: Vec<svg::Notice>,
    /// What can be read of the drawing, burned or not.
    pub(crate) words: Vec<svg::Words>,
    /// What a person should know, a sentence each.
    pub(crate) warnings: Vec<String>,
    /// What is found of the drawing and of what the job asks of it, whatever the moves come to.
    pub(crate) findings: Vec<Finding>,
}

/// A piece where it lies in the flat plane.
#[derive(Clone, Debug)]
pub(crate) struct PlacedPiece {
    /// Its id, unlike every other.
    pub(crate) id: String,
    /// The `[[piece]]` that made it, an index into the job's.
    pub(crate) rule: Option<usize>,
    /// Its shapes in the order of the drawing, indices into the art's.
    pub(crate) shapes: Vec<usize>,
    /// The centre of its box, from which it is laid where the anchor is "piece": mm in the flat
    /// plane. The flat origin where there is no box.
    pub(crate) centre_flat: Point,
    /// The box around what is drawn of it, white parts left out where there are others, without the
    /// width of strokes: mm in the flat plane. `None` where clips leave nothing.
    pub(crate) bounds_flat: Option<Rect>,
    /// The lay it has where no operation says otherwise, an index into the layout's.
    pub(crate) lay: usize,
}

/// A part of a shape that an operation burns.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(crate) struct PlacedPart {
    /// The shape, an index into the art's.
    pub(crate) shape: usize,
    /// What of it.
    pub(crate) part: Part,
    /// Its piece, an index into the layout's.
    pub(crate) piece: usize,
    /// Its lay, an index into the layout's.
    pub(crate) lay: usize,
}

impl Layout {
    /// Reads a drawing, bare path data or a picture and lays it out; a path is a line, unless the
    /// job has an operation.
    ///
    /// # Errors
    /// Where it cannot be read, or (to be burned) where nothing says with what speed and power; a
    /// program.
    pub(crate) fn read(
        source: &Source<'_>,
        setup: &Setup,
        options: &Options,
        purpose: Purpose,
    ) -> Result<Layout, Error> {
        match source {
            Source::Program { name, .. } => Err(Error::of_source(name, SourceFault::NotADrawing)),
            Source::Drawing { svg, name, linked } => {
                let drawing = svg::read_svg_linked(svg, &options.fonts, linked)
                    .map_err(|error| Error::of_source(name, SourceFault::Svg(error)))?;
                let svg::Drawing { art, mut notices, shades, view, words, .. } = drawing;
                let renders = setup.job.operations.iter().any(|one| one.rule.work == Work::Picture);
                let view = (renders || !shades.is_empty()).then_some(view);
                let seen = rendered::Shaded::new(view, shades);
                let mut layout = Layout::of(art, setup, purpose, (name, Kind::Drawing), seen)?;
                layout.words = words;
                notices.append(&mut layout.left_out);
                notices.sort_by_key(|notice| notice.line);
                let (found, told) = notices::of_notices(name, &notices);
                let sized = found.iter().any(|finding| finding.code == Code::Page);
                layout.findings.splice(0..0, found);
                layout.warnings.splice(0..0, told);
                layout.findings.extend(page::against_blank(&layout.art.page, setup, sized));
                Ok(layout)
            }
            Source::Path(data) => {
                let art = svg::read_path(data)
                    .map_err(|error| Error::of_source("--path", SourceFault::Path(error)))?;
                let plain = rendered::Shaded::default();
                Layout::of(art, setup, purpose, (source.name(), Kind::Path), plain)
            }
            Source::Picture { bytes, size, name } => {
                Layout::read_picture(bytes, *size, name, setup, purpose)
            }
        }
    }

    fn of(
        mut art: Art,
        setup: &Setup,
        purpose: Purpose,
        (name, kind): (&str, Kind),
        mut seen: rendered::Shaded,
    ) -> Result<Layout, Error> {
        let rules = burn::rules(&setup.job, kind);
        let mut choice = burn::choose(&art, rules, kind);
        seen.cover(&mut art, &choice);
        cut::cut(&mut art, &mut choice, &mut seen, rules, setup);
        let division = place::divide(&art, &setup.job);
        if division.pieces.len() > MOST_PIECES {
            let (found, most) = (division.pieces.len(), MOST_PIECES);
            return Err(Error::of_source(name, SourceFault::Pieces { found, most }));
        }
        let mut warnings = words::unknown_pieces(&division, &setup.job);
        let boxes = place::piece_boxes(&art, &division);
        let to_flat = place::to_flat(&art, &boxes, &setup.job);
        let mut lays = Lays::new(setup);
        let mut pieces = Vec::with_capacity(division.pieces.len());
        for (piece, bounds) in division.pieces.into_iter().zip(boxes) {
            let bounds_flat = bounds.map(|bounds| to_flat.transform_rect_bbox(bounds));
            let mut placed = PlacedPiece {
                id: piece.id,
                rule: piece.rule,
                shapes: piece.shapes,
                centre_flat: bounds_flat.map_or(Point::ORIGIN, |bounds| bounds.center()),
                bounds_flat,
                lay: 0,
            };
            placed.lay = lays.of(&placed, None)?;
            pieces.push(placed);
        }
        let how = burn::Asked { name, art: &art, setup, rules, kind, purpose };
        let mut operations = burn::operations(&how, &choice, |operation, chosen| {
            let piece = division.of_shape.get(chosen.shape).copied().unwrap_or_default();
            let lay = match pieces.get(piece) {
                Some(placed) => lays.of(placed, operation)?,
                None => 0,
            };
            Ok(PlacedPart { shape: chosen.shape, part: chosen.part, piece, lay })
        })?;
        // Looking at every line of what cannot be meant takes minutes and all memory there is.
        for operation in operations.iter().filter(|operation| operation.work == Work::Picture) {
            for part in &operation.parts {
                let bounds = pieces.get(part.piece).and_then(|piece| piece.bounds_flat);
                if let Some(message) = bounds.and_then(|bounds| picture::vast(bounds, setup)) {
                    return Err(Error::of_source(name, SourceFault::PictureSize(message)));
                }
            }
        }
        if kind == Kind::Drawing {
            let burns =
                |o: &&mut PlacedOperation| o.work == Work::Picture && purpose != Purpose::Redraw;
            for operation in operations.iter_mut().filter(burns) {
                rendered::render(operation, &art, &mut seen, to_flat);
            }
        }
        let left_out = match purpose {
            Purpose::Redraw => Vec::new(),
            Purpose::Burn | Purpose::Show => seen.left_out(&operations),
        };
        warnings.extend(words::twice(&art, &operations));
        let mut findings = words::idle_operations(&art, &operations, rules);
        findings.extend(words::unpicked(&art, &choice, rules));
        findings.extend(words::bare(&art, &choice));
        findings.extend(words::dots(&art, &operations));
        findings.extend(crate::narrow::grey(&art, &operations, rules));
        Ok(Layout {
            art,
            to_flat,
            pieces,
            piece_of_shape: division.of_shape,
            operations,
            lays: lays.list,
            shades: None,
            left_out,
            shaded: seen,
            words: Vec::new(),
            warnings,
            findings,
        })
    }

    /// The outline of a part in the flat plane, mm: the area to be filled, or the line to be
    /// followed. Curves stay curves; what covers it is not cut away.
    pub(crate) fn outline_flat(&self, part: &PlacedPart, tolerance_mm: f64) -> BezPath {
        let Some(shape) = self.art.shapes.get(part.shape) else { return BezPath::new() };
        let path = match part.part {
            Part::Fill | Part::Outline => Some(shape.path.clone()),
            Part::StrokeMiddle => shape.stroke_middle().cloned(),
            Part::StrokeArea => shape.stroke_area(tolerance_mm),
        };
        self.to_flat * path.unwrap_or_default()
    }

    /// By which rule a part is filled; `None` for what burns as lines.
    pub(crate) fn rule_of(&self, part: &PlacedPart) -> Option<Rule> {
        match part.part {
            Part::Fill => Some(self.art.shapes.get(part.shape)?.fill?.rule),
            Part::StrokeArea => Some(Rule::NonZero),
            Part::StrokeMiddle | Part::Outline => None,
        }
    }

    /// The box of what a part's clips, whose boxes on the page are given, leave of its outline in
    /// the flat plane; `None` where they leave nothing.
    pub(crate) fn seen_flat(
        &self,
        part: &PlacedPart,
        flat: &BezPath,
        clips: &[Option<Rect>],
    ) -> Option<Rect> {
        let shape = self.art.shapes.get(part.shape)?;
        shape.clips.iter().try_fold(flat.bounding_box(), |seen, &clip| {
            meet(seen, self.to_flat.transform_rect_bbox((*clips.get(clip)?)?))
        })
    }

    /// The lay of a piece, where no operation says otherwise.
    pub(crate) fn kind_of(&self, piece: &PlacedPiece, setup: &Setup) -> LayKind {
        self.lays.get(piece.lay).map_or(setup.job.lay, |lay| lay.setting().kind)
    }

    /// All that is to be laid: what the operations burn, or all that is drawn where there are none.
    pub(crate) fn parts(&self) -> Vec<PlacedPart> {
        if !self.operations.is_empty() {
            return self
                .operations
                .iter()
                .flat_map(|operation| operation.parts.iter().copied())
                .collect();
        }
        let mut parts = Vec::new();
        for (piece, placed) in self.pieces.iter().enumerate() {
            for &shape in &placed.shapes {
                let Some(drawn) = self.art.shapes.get(shape) else { continue };
                let mut add = |part| parts.push(PlacedPart { shape, part, piece, lay: placed.lay });
                if drawn.fill.is_some() {
                    add(Part::Fill);
                }
                if drawn.stroke.is_some() {
                    add(Part::StrokeMiddle);
                }
            }
        }
        parts
    }
}

#[cfg(test)]
mod tests;
