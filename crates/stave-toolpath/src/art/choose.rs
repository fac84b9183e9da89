//! Which fills and strokes an operation burns.

use super::{Art, Rgb, Shape};

/// Which elements an operation takes.
#[derive(Clone, Debug, Eq, PartialEq)]
pub enum Pick {
    /// Those filled with a colour.
    Fill(Rgb),
    /// Those stroked with a colour.
    Stroke(Rgb),
    /// Those with an id: their own, or that of a group around them.
    Id(String),
    /// Those that are no plain fill or stroke: pictures, gradients, patterns, what shines through.
    Shaded,
}

/// How an operation burns what it takes.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "kebab-case"))]
pub enum Work {
    /// As areas: fills, and strokes with their width.
    Area,
    /// As lines: strokes along their middle, and the outlines of fills.
    Line,
    /// As a picture: whatever is seen of it, shade by shade.
    Picture,
}

/// What an operation asks for.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct Asked {
    /// Which elements.
    pub pick: Pick,
    /// How they are burned.
    pub work: Work,
    /// Whether areas are made of shades, cut where they are dark enough. Pictures always take
    /// them, lines never.
    pub cuts_shades: bool,
    /// Whether pictures burn what is light: then white is as much a part of a group as black is.
    pub burns_light: bool,
}

impl Asked {
    /// An operation that makes no areas of shades.
    #[must_use]
    pub fn new(pick: Pick, work: Work) -> Asked {
        Asked { pick, work, cuts_shades: false, burns_light: false }
    }

    /// Whether white is meant too where a group is.
    fn takes_white(&self) -> bool {
        self.work == Work::Picture && self.burns_light
    }

    fn takes_shades(&self) -> bool {
        self.work == Work::Picture || (self.work == Work::Area && self.cuts_shades)
    }
}

/// What of a shape is burned.
#[derive(Clone, Copy, Debug, Eq, Ord, PartialEq, PartialOrd)]
pub enum Part {
    /// The area inside.
    Fill,
    /// The area that the stroke covers.
    StrokeArea,
    /// A line along the middle of the stroke, dashes and all.
    StrokeMiddle,
    /// A line along the edge of the inside.
    Outline,
}

/// A part of a shape that an operation burns.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub struct Chosen {
    /// The shape, an index into [`Art::shapes`].
    pub shape: usize,
    /// What of it.
    pub part: Part,
}

/// What the operations burn, and what nobody burns.
#[derive(Clone, Debug, Default, Eq, PartialEq)]
pub struct Choice {
    /// For each operation what it burns, in the order of the drawing.
    pub operations: Vec<Vec<Chosen>>,
    /// Elements of which no part is burned, in the order of the drawing.
    pub left_out: Vec<LeftOut>,
}

/// An element of which nothing is burned.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub struct LeftOut {
    /// The element, an index into [`Art::elements`].
    pub element: usize,
    /// Why.
    pub why: Why,
}

/// Why nothing of an element is burned.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Why {
    /// No operation picks it.
    Unpicked,
    /// All of it is white or near to it, which is bare ware where no operation asks for it.
    White,
}

impl Art {
    /// What each operation burns. An operation burns all that it picks, even what another picks
    /// too: a fill and a pass along its edge are two operations on one element.
    ///
    /// White is bare ware, so that white over black is a hole: an id picks the white parts of an
    /// element only where it is the element's own, or where a picture burns what is light; a colour
    /// picks what has it.
    ///
    /// ```
    /// use stave_toolpath::art::{Art, Asked, Element, Fill, Part, Pick, Rgb, Rule, Shape, Work};
    /// let navy = Rgb::new(0, 0, 128);
    /// let fill = Fill { colour: navy, rule: Rule::NonZero, opacity: 1.0 };
    /// let shape = Shape { element: 0, path: kurbo::BezPath::new(), fill: Some(fill), stroke: None,
    ///     stroke_first: false, clips: vec![] };
    /// let art = Art { elements: vec![Element::default()], shapes: vec![shape], ..Art::default() };
    /// let choice = art.choose(&[Asked::new(Pick::Fill(navy), Work::Line)]);
    /// assert_eq!(choice.operations[0][0].part, Part::Outline);
    /// assert!(choice.left_out.is_empty());
    /// ```
    #[must_use]
    pub fn choose(&self, operations: &[Asked]) -> Choice {
        let burns = operations.iter().map(|asked| self.picked(asked)).collect();
        self.with_left_out(burns)
    }

    /// What is burned where no operation is named: fills as areas (the first list), strokes as
    /// lines (the second), but not what is white; what has shades as pictures (the third).
    #[must_use]
    pub fn choose_by_default(&self) -> Choice {
        let mut burns =
            vec![Vec::new(), Vec::new(), self.picked(&Asked::new(Pick::Shaded, Work::Picture))];
        for (index, shape) in self.shapes.iter().enumerate() {
            if self.is_shaded(index) {
                continue;
            }
            if shape.fill.is_some_and(|fill| !fill.is_bare()) {
                burns[0].push(Chosen { shape: index, part: Part::Fill });
            }
            if shape.stroke.as_ref().is_some_and(|stroke| !stroke.is_bare()) {
                burns[1].push(Chosen { shape: index, part: Part::StrokeMiddle });
            }
        }
        self.with_left_out(burns)
    }

    /// What is burned of bare path data where no operation is named: every outline as a line (the
    /// second list), no areas.
    #[must_use]
    pub fn choose_outlines(&self) -> Choice {
        let outline = |shape| Chosen { shape, part: Part::Outline };
        let lines = (0..self.shapes.len()).map(outline).collect();
        self.with_left_out(vec![Vec::new(), lines, Vec::new()])
    }

    fn picked(&self, asked: &Asked) -> Vec<Chosen> {
        let (pick, work) = (&asked.pick, asked.work);
        let mut chosen = Vec::new();
        for (index, shape) in self.shapes.iter().enumerate() {
            let shades = self.shades_of(index);
            let by_colour = matches!(pick, Pick::Fill(_) | Pick::Stroke(_));
            // Shades have no one power to be burned with, and few have a colour to be picked by.
            if shades.is_some_and(|s| !asked.takes_shades() || (by_colour && !s.has_colour)) {
                continue;
            }
            let (fill, stroke) = match pick {
                Pick::Shaded if shades.is_none() => (false, false),
                Pick::Shaded if asked.takes_white() => all_parts(shape),
                Pick::Shaded => self.dark_parts(index, shape),
                Pick::Fill(colour) => {
                    let fill = shape.fill.is_some_and(|fill| fill.colour == *colour);
                    (fill, self.is_lettering(shape) && stroked(shape, *colour))
                }
                Pick::Stroke(colour) => (false, stroked(shape, *colour)),
                Pick::Id(id) => self.picked_by_id(index, shape, id, asked.takes_white()),
            };
            let mut burn = |part| chosen.push(Chosen { shape: index, part });
            match work {
                Work::Area | Work::Picture => {
                    if fill {
                        burn(Part::Fill);
                    }
                    if stroke {
                        burn(Part::StrokeArea);
                    }
                }
                // The outline of a shape with fill and stroke is one line, not two.
                Work::Line if stroke => burn(Part::StrokeMiddle),
                Work::Line if fill => burn(Part::Outline),
                Work::Line => {}
            }
        }
        chosen
    }

    /// Letters of single lines have no fill: the colour that the drawing fills them with is that of
    /// their strokes.
    fn is_lettering(&self, shape: &Shape) -> bool {
        self.elements.get(shape.element).is_some_and(|element| element.is_lettering)
    }

    /// Whether more than bare ware may be seen of a shape's fill, and of its stroke.
    fn dark_parts(&self, index: usize, shape: &Shape) -> (bool, bool) {
        let anyway = self.shades_of(index).is_some_and(|shades| shades.may_be_dark);
        let fill = shape.fill.is_some_and(|fill| anyway || !fill.is_bare());
        let stroke = shape.stroke.as_ref().is_some_and(|stroke| anyway || !stroke.is_bare());
        (fill, stroke)
    }

    fn picked_by_id(&self, index: usize, shape: &Shape, id: &str, white: bool) -> (bool, bool) {
        if !self.ids_of_element(shape.element).any(|other| other == id) {
            return (false, false);
        }
        let own =
            self.elements.get(shape.element).is_some_and(|e| e.ids.iter().any(|other| other == id));
        match own || white {
            true => all_parts(shape),
            false => self.dark_parts(index, shape),
        }
    }

    fn with_left_out(&self, operations: Vec<Vec<Chosen>>) -> Choice {
        let mut burned = vec![false; self.elements.len()];
        for chosen in operations.iter().flatten() {
            let element = self.shapes.get(chosen.shape).map(|shape| shape.element);
            if let Some(burned) = element.and_then(|e| burned.get_mut(e)) {
                *burned = true;
            }
        }
        let mut drawn = vec![None; self.elements.len()];
        for shape in &self.shapes {
            if let Some(drawn) = drawn.get_mut(shape.element) {
                *drawn = Some(drawn.unwrap_or(false) || shape.is_dark());
            }
        }
        let left_out = burned
            .iter()
            .zip(&drawn)
            .enumerate()
            .filter(|(_, (burned, _))| !**burned)
            .filter_map(|(element, (_, drawn))| {
                drawn.map(|dark| LeftOut {
                    element,
                    why: if dark { Why::Unpicked } else { Why::White },
                })
            })
            .collect();
        Choice { operations, left_out }
    }
}

fn all_parts(shape: &Shape) -> (bool, bool) {
    (shape.fill.is_some(), shape.stroke.is_some())
}

fn stroked(shape: &Shape, colour: Rgb) -> bool {
    shape.stroke.as_ref().is_some_and(|stroke| stroke.colour == colour)
}
