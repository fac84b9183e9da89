//! What a person should know of a layout.

use std::collections::{BTreeMap, BTreeSet, HashMap, HashSet};

use kurbo::Shape as _;
use stave_check::{Code, Finding};
use stave_setup::{Colour, Job, Operation, OperationRule, Pick};
use stave_toolpath::art::{
    Art, Asked, Boxes, Choice, Division, Element, Part, Rgb, Shape, Why, Work, meet,
};

use super::{PlacedOperation, burn};
use crate::nothing::NO_AREA_MM2;

/// How many names one sentence lists.
const MOST_NAMES: usize = 20;

/// Ids in `[[piece]]` entries that nothing drawn has.
pub(super) fn unknown_pieces(division: &Division, job: &Job) -> Vec<String> {
    let id = |&(rule, index): &(usize, usize)| {
        Some(job.pieces.get(rule)?.ids.get(index)?.value.as_str())
    };
    let unknown: Vec<&str> = division.unknown.iter().filter_map(id).collect();
    if unknown.is_empty() {
        return Vec::new();
    }
    vec![format!("[[piece]] names what is not drawn: {}", listed(&unknown))]
}

/// Elements that no operation picks: a finding for each way in which they are painted, with the
/// colour nearest to it that is picked.
pub(super) fn unpicked(art: &Art, choice: &Choice, rules: &[Operation]) -> Vec<Finding> {
    // Shades are told by what they are.
    let mut painted = vec![None; art.elements.len()];
    for (_, shape) in art.shapes.iter().enumerate().filter(|(k, _)| !art.is_shaded(*k)) {
        if let Some(paint) = painted.get_mut(shape.element).filter(|_| shape.is_dark()) {
            paint.get_or_insert(Paint::of(shape));
        }
    }
    let mut alike = Alike::default();
    for left in choice.left_out.iter().filter(|left| left.why == Why::Unpicked) {
        let paint = painted.get(left.element).copied().flatten();
        let (Some(paint), Some(element)) = (paint, art.elements.get(left.element)) else {
            continue;
        };
        alike.put((paint, false), &element.name);
    }
    for (element, paint) in unpicked_parts(art, choice, rules) {
        if let Some(element) = art.elements.get(element) {
            alike.put((paint, true), &element.name);
        }
    }
    let finding = |(key, names): &(Key, Vec<&str>)| {
        let these = listed(names);
        let message = match key {
            Some((paint, is_part)) => {
                let part = match (paint.fill, paint.stroke) {
                    _ if !is_part => "",
                    (Some(_), None) => "the fill of ",
                    (None, _) => "the outline of ",
                    (Some(_), Some(_)) => "a part of ",
                };
                format!(
                    "no operation picks {part}{these}, {paint}: left out{}",
                    paint.nearest(rules).unwrap_or_default()
                )
            }
            None => format!("no operation picks these, painted in other ways: {these}"),
        };
        let finding = Finding::new(Code::Unpicked, message);
        names.first().map_or(finding.clone(), |first| finding.of_element(first))
    };
    alike.0.iter().map(finding).collect()
}

/// How something is painted, and whether that is a part of it; `None` for the rest.
type Key = Option<(Paint, bool)>;

/// Names by how they are painted.
#[derive(Default)]
struct Alike<'a>(Vec<(Key, Vec<&'a str>)>);

impl<'a> Alike<'a> {
    /// Of more kinds than anyone looks at one by one the rest are one.
    fn put(&mut self, key: (Paint, bool), name: &'a str) {
        let known = self.0.iter().position(|(of, _)| *of == Some(key));
        let of = known.unwrap_or(self.0.len()).min(MOST_NAMES);
        if of == self.0.len() {
            self.0.push((Some(key).filter(|_| of < MOST_NAMES), Vec::new()));
        }
        // The shapes of an element come one after another.
        if let Some((_, names)) =
            self.0.get_mut(of).filter(|(_, names)| names.last() != Some(&name))
        {
            names.push(name);
        }
    }
}

/// Of elements of which something burns the fills and outlines that no operation picks.
fn unpicked_parts(art: &Art, choice: &Choice, rules: &[Operation]) -> Vec<(usize, Paint)> {
    if rules.is_empty() {
        return Vec::new();
    }
    let mut burned = vec![(false, false); art.shapes.len()];
    for (chosen, operation) in choice.operations.iter().zip(rules) {
        // A line along the middle of a stroke stands for the edge of the fill too.
        let by_id = matches!(operation.rule.pick.value, Pick::Id(_));
        for one in chosen {
            let Some((fill, stroke)) = burned.get_mut(one.shape) else { continue };
            match one.part {
                Part::Fill | Part::Outline => *fill = true,
                Part::StrokeArea => *stroke = true,
                Part::StrokeMiddle => (*fill, *stroke) = (*fill || by_id, true),
            }
        }
    }
    let mut whole = vec![false; art.elements.len()];
    for left in &choice.left_out {
        if let Some(whole) = whole.get_mut(left.element) {
            *whole = true;
        }
    }
    let missing = |(index, shape): (usize, &Shape)| {
        if whole.get(shape.element) == Some(&true) || art.is_shaded(index) {
            return None;
        }
        let (fill, stroke) = *burned.get(index)?;
        // SVG fills a line black unless it says otherwise: without an inside nothing is seen of it.
        let has_inside = || crate::nothing::closed(&shape.path).area().abs() > NO_AREA_MM2;
        let paint = Paint {
            fill: shape.fill.filter(|one| !fill && !one.is_bare()).map(|one| one.colour),
            stroke: shape.stroke.as_ref().filter(|o| !stroke && !o.is_bare()).map(|o| o.colour),
        };
        let paint = Paint { fill: paint.fill.filter(|_| has_inside()), ..paint };
        (paint.fill.is_some() || paint.stroke.is_some()).then_some((shape.element, paint))
    };
    art.shapes.iter().enumerate().filter_map(missing).collect()
}

/// How a shape is painted.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
struct Paint {
    fill: Option<Rgb>,
    stroke: Option<Rgb>,
}

impl Paint {
    fn of(shape: &Shape) -> Self {
        let stroke = shape.stroke.as_ref().map(|stroke| stroke.colour);
        Self { fill: shape.fill.map(|fill| fill.colour), stroke }
    }

    /// The colour most like it that an operation picks, as the end of a sentence.
    fn nearest(&self, rules: &[Operation]) -> Option<String> {
        let picked = rules.iter().filter_map(|operation| {
            let (own, colour, what) = match &operation.rule.pick.value {
                Pick::Fill(colour) => (self.fill?, *colour, "fill"),
                Pick::Stroke(colour) => (self.stroke?, *colour, "outline"),
                Pick::Id(_) | Pick::Input => return None,
            };
            Some((far(own, colour), colour, what, &operation.rule.name))
        });
        let (_, colour, what, name) = picked.min_by_key(|(far, ..)| *far)?;
        Some(format!("; the nearest {what} that is picked is {colour}, by operation \"{name}\""))
    }
}

impl std::fmt::Display for Paint {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match (self.fill, self.stroke) {
            (Some(fill), Some(stroke)) => {
                write!(f, "filled with {fill} and outlined with {stroke}")
            }
            (Some(fill), None) => write!(f, "filled with {fill}"),
            (None, Some(stroke)) => write!(f, "outlined with {stroke}"),
            (None, None) => f.write_str("painted with nothing"),
        }
    }
}

/// How unlike a colour is to one that is asked: the square of their distance.
fn far(colour: Rgb, asked: Colour) -> u32 {
    let off = |a: u8, b: u8| u32::from(a.abs_diff(b)).pow(2);
    off(colour.red, asked.red) + off(colour.green, asked.green) + off(colour.blue, asked.blue)
}

/// Elements that are bare ware, and those that only make lighter what lies beneath them.
pub(super) fn bare(art: &Art, choice: &Choice) -> Vec<Finding> {
    let these = choice.left_out.iter().filter(|left| left.why == Why::White);
    let veils = veils(art);
    let (over, plain): (Vec<_>, Vec<_>) = these
        .filter_map(|left| Some((left.element, art.elements.get(left.element)?)))
        .partition(|(element, _)| veils.contains(element));
    let finding = |message: &str, of: &[(usize, &Element)]| {
        let names: Vec<&str> = of.iter().map(|(_, element)| element.name.as_str()).collect();
        let first = names.first()?;
        let message = format!("{message}: {}", listed(&names));
        Some(Finding::new(Code::Bare, message).of_element(first))
    };
    let white = "white and near-white are bare ware, and these are not burned";
    let veil = "these are white that is seen through, and what lies beneath them burns as dark as \
                without; draw that in the grey that is seen";
    finding(white, &plain).into_iter().chain(finding(veil, &over)).collect()
}

/// Elements with bare paint that is seen through, and lies over something that is not bare.
fn veils(art: &Art) -> HashSet<usize> {
    let boxes = art.bounds_of_shapes();
    // So faint, and nobody sees a difference.
    const FAINTEST: f64 = 0.02;
    let is_veil = |hides: bool, opacity: f64| !hides && opacity > FAINTEST;
    let mut dark = Boxes::default();
    let mut veils = HashSet::new();
    for (index, (shape, bounds)) in art.shapes.iter().zip(&boxes).enumerate() {
        let Some(bounds) = *bounds else { continue };
        if shape.is_dark() || art.is_shaded(index) {
            dark.put(index, bounds);
            continue;
        }
        let seen_through = shape.fill.is_some_and(|fill| is_veil(fill.hides(), fill.opacity))
            || shape.stroke.as_ref().is_some_and(|one| is_veil(one.hides(), one.opacity));
        let covers = |beneath: &usize| {
            let beneath = boxes.get(*beneath).copied().flatten();
            beneath.and_then(|beneath| meet(beneath, bounds)).is_some_and(|both| both.area() > 0.0)
        };
        if seen_through && dark.meeting(bounds).iter().any(covers) {
            veils.insert(shape.element);
        }
    }
    veils
}

/// Operations that pick nothing, and need to pick something.
pub(super) fn idle_operations(
    art: &Art,
    operations: &[PlacedOperation],
    rules: &[Operation],
) -> Vec<Finding> {
    let idle = operations.iter().zip(rules.iter().map(|operation| &operation.rule));
    // What is picked and left out for its shades is told so.
    let of_shades = |rule: &OperationRule| {
        let asked = Asked { cuts_shades: true, ..burn::asked(rule) };
        rule.work == Work::Area && !art.choose(&[asked]).operations.concat().is_empty()
    };
    idle.filter(|(placed, rule)| placed.parts.is_empty() && !rule.optional && !of_shades(rule))
        .map(|(placed, rule)| {
            let fills = art.shapes.iter().filter_map(|shape| Some(shape.fill?.colour));
            let strokes = art.shapes.iter().filter_map(|s| Some(s.stroke.as_ref()?.colour));
            let (what, there) = match &rule.pick.value {
                Pick::Fill(colour) => {
                    (format!("is filled with {colour}"), colours("fills", fills, *colour))
                }
                Pick::Stroke(colour) => {
                    (format!("is outlined with {colour}"), colours("outlines", strokes, *colour))
                }
                Pick::Id(id) => (format!("has the id \"{id}\""), ids(art, id)),
                Pick::Input => (
                    "has shades".to_owned(),
                    "without a `pick` it takes pictures, gradients and patterns; plain \
                     greys are picked by fill, stroke or id"
                        .to_owned(),
                ),
            };
            let message = format!(
                "operation \"{}\" burns nothing: nothing drawn {what}; {there}; correct its \
                 `pick`, or say `optional = true`",
                placed.name
            );
            Finding::new(Code::NoMatch, message)
        })
        .collect()
}

/// The colours that are there, those most like the one asked first.
fn colours(what: &str, there: impl Iterator<Item = Rgb>, asked: Colour) -> String {
    let mut all: Vec<Rgb> = there.collect::<BTreeSet<_>>().into_iter().collect();
    all.sort_by_key(|colour| far(*colour, asked));
    let names: Vec<String> = all.iter().map(Rgb::to_string).collect();
    match names.is_empty() {
        true => format!("it has no {what}"),
        false => format!("its {what} are {}", listed(&strs(&names))),
    }
}

/// The ids that are there, the one most like the one asked first.
fn ids(art: &Art, asked: &str) -> String {
    let mut all: Vec<&str> = Vec::new();
    let mut seen = BTreeSet::new();
    let of_elements = art.elements.iter().flat_map(|element| &element.ids);
    for id in of_elements.chain(art.groups.iter().flat_map(|group| &group.ids)) {
        if seen.insert(id.as_str()) {
            all.push(id);
        }
    }
    if let Some(near) = stave_setup::nearest(asked, all.iter().copied()) {
        all.retain(|id| *id != near);
        all.insert(0, near);
    }
    match all.is_empty() {
        true => "it has no ids".to_owned(),
        false => format!("its ids are {}", listed(&all)),
    }
}

fn strs(names: &[String]) -> Vec<&str> {
    names.iter().map(String::as_str).collect()
}

/// Dots of strokes, which a line operation cannot burn.
pub(super) fn dots(art: &Art, operations: &[PlacedOperation]) -> Vec<Finding> {
    let of = |operation: &PlacedOperation| {
        let lines = operation.parts.iter().filter(|part| part.part == Part::StrokeMiddle);
        let shapes = lines.filter_map(|part| art.shapes.get(part.shape));
        let names: Vec<&str> = shapes
            .filter(|shape| shape.has_dots())
            .filter_map(|shape| art.elements.get(shape.element))
            .map(|element| element.name.as_str())
            .collect();
        let first = *names.first()?;
        let message = format!(
            "operation \"{}\" burns along lines, and these hold dots, which have no length and are \
             left out: {}; burn them with `work = \"area\"`",
            operation.name,
            listed(&names)
        );
        Some(Finding::new(Code::LeftOut, message).of_element(first))
    };
    operations.iter().filter_map(of).collect()
}

/// Areas that two operations burn, one after the other.
pub(super) fn twice(art: &Art, operations: &[PlacedOperation]) -> Vec<String> {
    if operations.iter().filter(|operation| operation.work != Work::Line).count() < 2 {
        return Vec::new();
    }
    let mut first: BTreeMap<(usize, Part), usize> = BTreeMap::new();
    let mut both: Vec<((usize, usize), Vec<&str>)> = Vec::new();
    for (number, operation) in operations.iter().enumerate() {
        for one in operation.parts.iter().filter(|_| operation.work != Work::Line) {
            let &mut before = first.entry((one.shape, one.part)).or_insert(number);
            let element = art.shapes.get(one.shape).and_then(|s| art.elements.get(s.element));
            let Some(element) = element.filter(|_| before != number) else { continue };
            let known = both.iter().position(|(pair, _)| *pair == (before, number));
            let at = known.unwrap_or(both.len());
            if at == both.len() {
                both.push(((before, number), Vec::new()));
            }
            if let Some((_, names)) = both.get_mut(at) {
                names.push(&element.name);
            }
        }
    }
    let name = |number: usize| operations.get(number).map_or("", |one| one.name.as_str());
    let sentence = |((one, other), names): &((usize, usize), Vec<&str>)| {
        format!(
            "operations \"{}\" and \"{}\" both pick these, which burn in each: {}",
            name(*one),
            name(*other),
            listed(names)
        )
    };
    both.iter().map(sentence).collect()
}

/// Names with commas, what has one name counted, the many cut short.
pub(crate) fn listed(names: &[&str]) -> String {
    let mut counted: Vec<(&str, usize)> = Vec::new();
    let mut known: HashMap<&str, usize> = HashMap::new();
    for name in names {
        let index = *known.entry(name).or_insert(counted.len());
        match counted.get_mut(index) {
            Some((_, count)) => *count += 1,
            None => counted.push((name, 1)),
        }
    }
    let shown = counted.iter().take(MOST_NAMES).map(|(name, count)| match count {
        1 => (*name).to_owned(),
        count => format!("{name} × {count}"),
    });
    let mut text = shown.collect::<Vec<_>>().join(", ");
    let left: usize = counted.iter().skip(MOST_NAMES).map(|(_, count)| count).sum();
    if left > 0 {
        text.push_str(&format!(" and {left} more"));
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_has_one_name_is_counted_and_not_repeated() {
        assert_eq!(listed(&["spot", "spot", "moon", "spot"]), "spot × 3, moon");
        let many: Vec<String> = (0..MOST_NAMES + 2).map(|k| format!("n{k}")).collect();
        let mut many: Vec<&str> = many.iter().map(String::as_str).collect();
        many.push("n0");
        let told = listed(&many);
        assert!(told.starts_with("n0 × 2, n1, ") && told.ends_with(" and 2 more"), "{told}");
    }
}
