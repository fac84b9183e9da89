//! Pieces: what of a drawing belongs together and is laid as one.

use std::collections::HashMap;

use kurbo::Rect;

use super::{Art, join};

/// A part of the art that is laid as one.
#[derive(Clone, Debug, PartialEq)]
pub struct Piece {
    /// Its id: the rule's first, the `data-piece`, its group's, or its first element's; never
    /// empty, and no two alike.
    pub id: String,
    /// The rule that made it, an index into the rules given to [`Art::pieces`].
    pub rule: Option<usize>,
    /// Its shapes in the order of the drawing, indices into [`Art::shapes`]; at least one.
    pub shapes: Vec<usize>,
    /// The box around them on the page, mm: paths without the width of strokes, within the boxes of
    /// their clips. `None` where clips leave nothing.
    pub bounds: Option<Rect>,
}

/// How a drawing parts into pieces.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Division {
    /// The pieces, by their first shapes.
    pub pieces: Vec<Piece>,
    /// For each shape its piece, an index into `pieces`.
    pub of_shape: Vec<usize>,
    /// Ids of rules that nothing drawn has: which rule, and which of its ids.
    pub unknown: Vec<(usize, usize)>,
}

/// What makes shapes one piece.
#[derive(Clone, Debug, Eq, Hash, PartialEq)]
enum Bond {
    Rule(usize),
    Data(String),
    Group(usize),
    /// Loose elements that lie near each other: the number of their cluster.
    Loose(usize),
}

/// Loose elements whose boxes come this near to each other are one piece, mm: letters of a word.
const NEAR_MM: f64 = 5.0;
/// With more loose elements than this they are one piece together: looking at all pairs of them
/// would take long, and nobody lays so many by themselves.
const MOST_APART: usize = 10_000;

impl Art {
    /// Parts the drawing into pieces.
    ///
    /// `rules` are lists of ids, each list one piece: of elements, of groups around them, or values
    /// of `data-piece`. Where several rules apply, the one nearest to the element counts. What no
    /// rule names goes by its nearest `data-piece`, the same value being one piece. What is left
    /// goes by its top-level group; a lone group that holds all the art is entered, and again.
    /// Elements outside any group are one piece where their boxes come within 5 mm of each other,
    /// so that the letters of a word keep their gaps, and pieces of their own where not.
    ///
    /// ```
    /// use stave_toolpath::art::{Art, Element, Shape};
    /// let shape = |element| Shape {
    ///     element,
    ///     path: kurbo::BezPath::new(),
    ///     fill: None,
    ///     stroke: None,
    ///     stroke_first: false,
    ///     clips: vec![],
    /// };
    /// let named = |name: &str| Element {
    ///     ids: vec![name.into()],
    ///     name: name.into(),
    ///     ..Element::default()
    /// };
    /// let elements = vec![named("R"), named("C"), named("oar")];
    /// let art = Art { elements, shapes: (0..3).map(shape).collect(), ..Art::default() };
    /// // Shapes without a box are near to all.
    /// let parted = art.pieces(&[vec!["oar".to_owned()]]);
    /// let ids: Vec<_> = parted.pieces.iter().map(|p| p.id.as_str()).collect();
    /// assert_eq!(ids, ["R", "oar"]);
    /// assert_eq!(parted.of_shape, [0, 0, 1]);
    /// ```
    #[must_use]
    pub fn pieces(&self, rules: &[Vec<String>]) -> Division {
        let mut named: HashMap<&str, usize> = HashMap::new();
        for (rule, ids) in rules.iter().enumerate() {
            for id in ids {
                named.entry(id).or_insert(rule);
            }
        }
        let entered = self.entered();
        let mut bonds: Vec<Bond> =
            (0..self.elements.len()).map(|e| self.bond(e, &named, &entered)).collect();

        let boxes = self.bounds_of_shapes();
        self.part_loose(&boxes, &mut bonds);
        let mut division = Division { of_shape: vec![0; self.shapes.len()], ..Division::default() };
        let mut known: HashMap<&Bond, usize> = HashMap::new();
        for (index, shape) in self.shapes.iter().enumerate() {
            let bond = bonds.get(shape.element).unwrap_or(&Bond::Loose(0));
            let at = *known.entry(bond).or_insert_with(|| {
                division.pieces.push(Piece {
                    id: self.piece_id(bond, shape.element, rules, &entered),
                    rule: if let Bond::Rule(rule) = bond { Some(*rule) } else { None },
                    shapes: Vec::new(),
                    bounds: None,
                });
                division.pieces.len() - 1
            });
            division.of_shape[index] = at;
            let piece = &mut division.pieces[at];
            piece.shapes.push(index);
            piece.bounds = join(piece.bounds, boxes[index]);
        }
        make_unlike(&mut division.pieces);
        division.unknown = self.unknown(rules);
        division
    }

    /// The lone groups that hold all the art, the outermost first.
    fn entered(&self) -> Vec<usize> {
        let mut entered: Option<Vec<usize>> = None;
        let mut seen = vec![false; self.elements.len()];
        for shape in &self.shapes {
            let Some(element) = self.elements.get(shape.element) else { return Vec::new() };
            if std::mem::replace(&mut seen[shape.element], true) {
                continue;
            }
            let mut around: Vec<usize> =
                self.groups_around(element.group).map(|(i, _)| i).collect();
            around.reverse();
            entered = Some(match entered {
                None => around,
                Some(mut shared) => {
                    let same = shared.iter().zip(&around).take_while(|(a, b)| a == b).count();
                    shared.truncate(same);
                    shared
                }
            });
        }
        entered.unwrap_or_default()
    }

    fn bond(&self, element: usize, named: &HashMap<&str, usize>, entered: &[usize]) -> Bond {
        let Some(own) = self.elements.get(element) else { return Bond::Loose(0) };
        let rule_of = |ids: &[String], data: &Option<String>| {
            ids.iter().chain(data).find_map(|id| named.get(id.as_str()).copied())
        };
        let by_rule = rule_of(&own.ids, &own.data_piece).or_else(|| {
            self.groups_around(own.group)
                .find_map(|(_, group)| rule_of(&group.ids, &group.data_piece))
        });
        if let Some(rule) = by_rule {
            return Bond::Rule(rule);
        }
        let data = own.data_piece.as_ref().or_else(|| {
            self.groups_around(own.group).find_map(|(_, group)| group.data_piece.as_ref())
        });
        if let Some(data) = data {
            return Bond::Data(data.clone());
        }
        let top = self
            .groups_around(own.group)
            .map(|(i, _)| i)
            .take_while(|i| !entered.contains(i))
            .last();
        top.map_or(Bond::Loose(0), Bond::Group)
    }

    /// Numbers the clusters of loose elements. What clips leave nothing of goes with the first.
    fn part_loose(&self, boxes: &[Option<Rect>], bonds: &mut [Bond]) {
        let mut of_element: Vec<Option<Rect>> = vec![None; bonds.len()];
        for (shape, bounds) in self.shapes.iter().zip(boxes) {
            if let Some(of) = of_element.get_mut(shape.element) {
                *of = join(*of, *bounds);
            }
        }
        let mut loose: Vec<(usize, Rect)> = of_element
            .iter()
            .enumerate()
            .filter(|(element, _)| matches!(bonds[*element], Bond::Loose(_)))
            .filter_map(|(element, bounds)| Some((element, (*bounds)?)))
            .collect();
        if loose.len() > MOST_APART {
            return;
        }
        let first = loose.first().map(|(element, _)| *element);
        loose.sort_by(|a, b| a.1.x0.total_cmp(&b.1.x0));
        let mut lead: Vec<usize> = (0..loose.len()).collect();
        let mut open: Vec<usize> = Vec::new();
        for (index, (_, bounds)) in loose.iter().enumerate() {
            open.retain(|&other| loose[other].1.x1 + NEAR_MM >= bounds.x0);
            for &other in &open {
                if gap_mm(&loose[other].1, bounds) <= NEAR_MM {
                    let (a, b) = (lead_of(&mut lead, other), lead_of(&mut lead, index));
                    lead[a.max(b)] = a.min(b);
                }
            }
            open.push(index);
        }
        let mut clusters = vec![0; loose.len()];
        for (index, cluster) in clusters.iter_mut().enumerate() {
            *cluster = lead_of(&mut lead, index);
        }
        // The first element's cluster is number 0, that of elements without a box.
        let of_first = first.and_then(|first| loose.iter().position(|(e, _)| *e == first));
        let zero = of_first.map(|index| clusters[index]);
        for ((element, _), cluster) in loose.iter().zip(clusters) {
            let number = if Some(cluster) == zero { 0 } else { cluster + 1 };
            bonds[*element] = Bond::Loose(number);
        }
    }

    fn piece_id(
        &self,
        bond: &Bond,
        first: usize,
        rules: &[Vec<String>],
        entered: &[usize],
    ) -> String {
        let element = self.elements.get(first);
        let of_element = || element.map_or("art", |e| e.name.as_str());
        let of_group = |group: usize| self.groups.get(group).map_or("art", |g| g.name.as_str());
        let id = match bond {
            Bond::Rule(rule) => {
                rules.get(*rule).and_then(|ids| ids.first()).map_or("art", String::as_str)
            }
            Bond::Data(value) => value,
            Bond::Group(group) => of_group(*group),
            // A group that holds all the art and nothing but loose elements is the piece itself.
            Bond::Loose(_) if entered.last().is_some_and(|&g| self.all_directly_in(g)) => {
                entered.last().map_or("art", |&g| of_group(g))
            }
            Bond::Loose(_) => of_element(),
        };
        if id.is_empty() { "art".to_owned() } else { id.to_owned() }
    }

    fn all_directly_in(&self, group: usize) -> bool {
        let group_of =
            |shape: &super::Shape| self.elements.get(shape.element).and_then(|e| e.group);
        self.shapes.iter().all(|shape| group_of(shape) == Some(group))
    }

    fn unknown(&self, rules: &[Vec<String>]) -> Vec<(usize, usize)> {
        let mut known: std::collections::HashSet<&str> = std::collections::HashSet::new();
        let mut seen_groups = vec![false; self.groups.len()];
        for shape in &self.shapes {
            let Some(element) = self.elements.get(shape.element) else { continue };
            known.extend(element.ids.iter().chain(&element.data_piece).map(String::as_str));
            for (index, group) in self.groups_around(element.group) {
                if std::mem::replace(&mut seen_groups[index], true) {
                    break;
                }
                known.extend(group.ids.iter().chain(&group.data_piece).map(String::as_str));
            }
        }
        let each = rules
            .iter()
            .enumerate()
            .flat_map(|(r, ids)| ids.iter().enumerate().map(move |(i, id)| (r, i, id)));
        each.filter(|(_, _, id)| !known.contains(id.as_str())).map(|(r, i, _)| (r, i)).collect()
    }
}

/// How far two boxes are apart, mm: 0 where they meet.
fn gap_mm(a: &Rect, b: &Rect) -> f64 {
    let apart = |a0: f64, a1: f64, b0: f64, b1: f64| (b0 - a1).max(a0 - b1).max(0.0);
    apart(a.x0, a.x1, b.x0, b.x1).hypot(apart(a.y0, a.y1, b.y0, b.y1))
}

/// The first of a cluster, the way to it shortened.
fn lead_of(lead: &mut [usize], index: usize) -> usize {
    let mut at = index;
    while lead[at] != at {
        lead[at] = lead[lead[at]];
        at = lead[at];
    }
    at
}

/// A drawing may use an id twice: the second piece of a name gets a number.
fn make_unlike(pieces: &mut [Piece]) {
    let mut taken: HashMap<String, usize> = HashMap::new();
    for piece in pieces {
        let mut id = piece.id.clone();
        while taken.contains_key(&id) {
            let count = taken.entry(piece.id.clone()).or_insert(1);
            *count += 1;
            id = format!("{} ({count})", piece.id);
        }
        taken.insert(id.clone(), 1);
        piece.id = id;
    }
}
