//! Which words of a drawing come to be read on the ware, for a person to look over.

use std::cell::Cell;

use kurbo::{BezPath, PathEl, Point, Rect, Shape as _};
use stave_parse::svg::{Painted, Words, WordsOf};
use stave_rig::{Keeps, Zones};
use stave_setup::Setup;
use stave_toolpath::art::{Art, Boxes, Part, Shape, Stroke};

use super::{Layout, PlacedPart};

impl Layout {
    /// The words that are read on the ware, in the order of the drawing: of texts that burn, of
    /// those that stand bare in what burns, and those in whose shape something that burns is cut.
    ///
    /// A text is looked at where its outlines have their points: those that something opaque
    /// covers, that a clip cuts away or that lie in a masked zone are not to be seen, and a text
    /// that has no other is left out.
    pub(crate) fn read_over(&self, words: &[Words], setup: &Setup) -> Vec<String> {
        if words.is_empty() {
            return Vec::new();
        }
        let look = Look::new(self, setup);
        let read = |words: &Words| match &words.of {
            WordsOf::Element(element) => look.element(*element, &words.runs),
            WordsOf::Clip { clip, points } => {
                look.clip(*clip, points).then(|| in_line(words.runs.iter()))
            }
        };
        words.iter().filter_map(read).filter(|text| !text.is_empty()).collect()
    }
}

/// Parts of a text in one line.
fn in_line<'r>(runs: impl Iterator<Item = &'r Painted>) -> String {
    let all: String = runs.map(|run| run.text.as_str()).collect();
    let words = all.split_whitespace().collect::<Vec<_>>().join(" ");
    words.trim_matches(['/', ' ']).to_owned()
}

/// How much of a shape is to be seen.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
enum Shown {
    Whole,
    InPart,
    No,
}

/// What is known of a layout to tell what is to be seen of it.
struct Look<'a> {
    layout: &'a Layout,
    setup: &'a Setup,
    /// Zones that stay dark.
    zones: Zones,
    /// For each shape its box, where clips leave anything of it.
    boxes: Vec<Option<Rect>>,
    /// The same by where they lie.
    places: Boxes,
    /// For each shape what of it burns.
    burned: Vec<Vec<PlacedPart>>,
    /// Shapes of each element, by rising index.
    of_element: Vec<Vec<usize>>,
    /// What looking may still cost, in parts of outlines: past it all is taken for seen.
    left: Cell<u64>,
}

/// What looking at all of a drawing's texts may cost, in parts of outlines: some seconds.
const MOST_WORK: u64 = 300_000_000;
/// What it costs to find a place on the wall.
const PLACE_WORK: usize = 100;

/// Shapes that may hide a shape, and those that it may lie over, the highest first.
struct Near {
    over: Vec<usize>,
    beneath: Vec<usize>,
}

impl<'a> Look<'a> {
    fn new(layout: &'a Layout, setup: &'a Setup) -> Self {
        let mut burned = vec![Vec::new(); layout.art.shapes.len()];
        for part in layout.operations.iter().flat_map(|operation| &operation.parts) {
            if let Some(parts) = burned.get_mut(part.shape) {
                parts.push(*part);
            }
        }
        let mut of_element = vec![Vec::new(); layout.art.elements.len()];
        for (index, shape) in layout.art.shapes.iter().enumerate() {
            if let Some(shapes) = of_element.get_mut(shape.element) {
                shapes.push(index);
            }
        }
        let boxes = layout.art.bounds_of_shapes();
        let mut places = Boxes::default();
        for (index, bounds) in boxes.iter().enumerate() {
            bounds.iter().for_each(|bounds| places.put(index, *bounds));
        }
        let (zones, left) = (Zones::new(setup), Cell::new(MOST_WORK));
        Self { layout, setup, zones, boxes, places, burned, of_element, left }
    }

    fn shape(&self, index: usize) -> Option<&'a Shape> {
        self.layout.art.shapes.get(index)
    }

    /// What is read of a text that is an element; `None` for nothing.
    fn element(&self, element: usize, runs: &[Painted]) -> Option<String> {
        let shapes = self.of_element.get(element).map_or(&[][..], Vec::as_slice);
        let each = shapes.iter().filter_map(|&index| Some((self.shape(index)?, self.shown(index))));
        let each: Vec<(&Shape, Shown)> = each.collect();
        let painted = |run: &Painted, shape: &Shape| {
            let (fill, stroke) = (shape.fill.map(|f| f.colour), shape.stroke.as_ref());
            let own = [fill, stroke.map(|stroke| stroke.colour)];
            own.into_iter().flatten().any(|own| [run.fill, run.stroke].contains(&Some(own)))
        };
        let how = |run: &Painted| {
            let own = || each.iter().filter(|(shape, _)| painted(run, shape)).map(|(_, how)| *how);
            let all = |is: Shown| own().all(|how| how == is);
            match (all(Shown::No), all(Shown::Whole)) {
                (true, _) => Shown::No,
                (false, true) => Shown::Whole,
                (false, false) => Shown::InPart,
            }
        };
        // A blank stands for what is not read, so that what is does not run together.
        let blank = Painted { text: " ".to_owned(), fill: None, stroke: None };
        let read = runs.iter().map(|run| (run, how(run)));
        let text = in_line(read.clone().map(|(run, how)| match how {
            Shown::No => &blank,
            Shown::Whole | Shown::InPart => run,
        }));
        let in_part = read.filter(|(run, _)| !run.text.trim().is_empty());
        let in_part = in_part.into_iter().any(|(_, how)| how == Shown::InPart);
        let text = if in_part { format!("{text} (in part)") } else { text };
        (!text.is_empty()).then_some(text)
    }

    /// How much is seen of a shape of a text: it burns, or stands bare in what burns.
    fn shown(&self, index: usize) -> Shown {
        let (Some(shape), Some(near)) = (self.shape(index), self.near(index)) else {
            return Shown::No;
        };
        let is_seen = |at: Point| {
            self.let_through(&shape.clips, at)
                && !self.is_hidden(&near, at)
                && self.reads(index, &near, at)
        };
        let mut seen = points(&shape.path).map(is_seen);
        let Some(first) = seen.next() else { return Shown::No };
        match (first, seen.all(|is| is == first)) {
            (true, true) => Shown::Whole,
            (false, true) => Shown::No,
            (_, false) => Shown::InPart,
        }
    }

    /// Whether anything that a clip shapes burns, or is bare in what does, at letters of a text.
    fn clip(&self, clip: usize, letters: &[Point]) -> bool {
        let art = &self.layout.art;
        let has = |shape: &Shape| shape.clips.iter().any(|&one| reaches(art, one, clip));
        let clipped = art.shapes.iter().enumerate().filter(|(_, shape)| has(shape));
        clipped.into_iter().any(|(index, shape)| {
            let Some(near) = self.near(index) else { return false };
            let inside =
                |at: &&Point| self.covers_whole(shape, **at) && !self.is_hidden(&near, **at);
            letters.iter().filter(inside).any(|&at| self.reads(index, &near, at))
        })
    }

    /// What may lie over a shape and beneath it; `None` where nothing of it is to be seen.
    fn near(&self, index: usize) -> Option<Near> {
        let own = self.boxes.get(index).copied().flatten()?;
        let art = &self.layout.art;
        let element = self.shape(index)?.element;
        let hides = |k: &usize| {
            let hides = |over: &Shape| {
                over.element != element && over.fill.is_some_and(|fill| fill.hides())
            };
            !art.is_shaded(*k) && self.shape(*k).is_some_and(hides)
        };
        let (mut beneath, mut over): (Vec<usize>, Vec<usize>) =
            self.places.meeting(own).into_iter().filter(|k| *k != index).partition(|k| *k < index);
        over.retain(hides);
        beneath.reverse();
        Some(Near { over, beneath })
    }

    /// Whether something that costs so much may still be looked at.
    fn may(&self, cost: usize) -> bool {
        let left = self.left.get().checked_sub(cost as u64);
        self.left.set(left.unwrap_or(0));
        left.is_some()
    }

    fn let_through(&self, clips: &[usize], at: Point) -> bool {
        let art = &self.layout.art;
        let cost = |&clip: &usize| {
            let areas = art.clips.get(clip).map_or(&[][..], |clip| &clip.areas);
            areas.iter().map(|area| area.path.elements().len()).sum::<usize>()
        };
        clips.iter().all(|clip| !self.may(cost(clip)) || lets_through(art, *clip, at))
    }

    fn is_hidden(&self, near: &Near, at: Point) -> bool {
        near.over.iter().any(|&k| self.covers(k, at))
    }

    /// Whether a place of a shape burns, or stands bare in what does.
    fn reads(&self, index: usize, near: &Near, at: Point) -> bool {
        match self.burned.get(index).is_some_and(|parts| !parts.is_empty()) {
            true => self.burns_at(index, at),
            false => self.stands_in_a_burn(index, near, at),
        }
    }

    /// Whether a place lies in what is seen of a shape's inside.
    fn covers(&self, index: usize, at: Point) -> bool {
        let near = self.boxes.get(index).copied().flatten().is_some_and(|near| near.contains(at));
        let seen =
            |shape: &Shape| self.covers_whole(shape, at) && self.let_through(&shape.clips, at);
        near && self.shape(index).is_some_and(seen)
    }

    /// Whether a place lies in a shape's inside.
    fn covers_whole(&self, shape: &Shape, at: Point) -> bool {
        self.may(shape.path.elements().len()) && holds(shape, at)
    }

    /// Whether what burns of a shape burns at a place: not where a zone is left dark.
    fn burns_at(&self, index: usize, at: Point) -> bool {
        let parts = self.burned.get(index).map_or(&[][..], Vec::as_slice);
        self.zones.is_empty()
            || !self.may(PLACE_WORK)
            || parts.iter().any(|part| !self.is_masked(part, at))
    }

    fn is_masked(&self, part: &PlacedPart, at: Point) -> bool {
        let Some(lay) = self.layout.lays.get(part.lay) else { return false };
        let flat = self.layout.to_flat * at;
        let place = lay.map(&self.setup.blank.wall, flat.x, flat.y, &mut 0);
        self.zones.holds(&place).is_some_and(|zone| zone.keeps == Keeps::Masked)
    }

    /// Whether a shape that does not burn hides what would burn beneath it.
    fn stands_in_a_burn(&self, index: usize, near: &Near, at: Point) -> bool {
        let hides = self.shape(index).is_some_and(|shape| {
            shape.fill.is_some_and(|fill| fill.hides())
                || shape.stroke.as_ref().is_some_and(Stroke::hides)
        });
        let fills = |part: &PlacedPart| part.part == Part::Fill;
        hides
            && near.beneath.iter().find(|&&k| self.covers(k, at)).is_some_and(|&k| {
                self.burned.get(k).is_some_and(|parts| parts.iter().any(fills))
                    && self.burns_at(k, at)
            })
    }
}

/// The points of an outline, mm on the page.
fn points(path: &BezPath) -> impl Iterator<Item = Point> {
    path.elements().iter().filter_map(PathEl::end_point)
}

fn holds(shape: &Shape, at: Point) -> bool {
    shape.fill.is_some_and(|fill| fill.rule.holds(shape.path.winding(at)))
}

/// Whether a clip is another, or one within which that applies.
fn reaches(art: &Art, clip: usize, meant: usize) -> bool {
    let within = || art.clips.get(clip).map_or(&[][..], |clip| &clip.within);
    clip == meant || within().iter().any(|&outer| outer < clip && reaches(art, outer, meant))
}

/// Whether a clip lets a place through.
fn lets_through(art: &Art, clip: usize, at: Point) -> bool {
    let Some(shown) = art.clips.get(clip) else { return true };
    // Clips refer to earlier ones alone.
    let all =
        |clips: &[usize]| clips.iter().all(|&outer| outer >= clip || lets_through(art, outer, at));
    all(&shown.within)
        && shown.areas.iter().any(|area| area.rule.holds(area.path.winding(at)) && all(&area.clips))
}
