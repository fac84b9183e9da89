//! The page that is written: how large it is, where it lies, and what stands on it in which order.

use std::collections::HashSet;
use std::f64::consts::PI;
use std::io::{self, Write};

use kurbo::{Affine, BezPath, Point, Rect};
use stave_setup::{Setup, Stands, Toward, ZoneRule};
use stave_toolpath::art::{Art, Fill, Page, Rgb, Rule, Shape, Stroke};
use stave_toolpath::number::fixed;
use stave_transform::Redraw;
use stave_write::svg::{ClipOutline, ClipRegion, Drawn, Front, Pixels, SvgWriter};

use super::clips::Clips;
use crate::layout::Layout;

/// What lies less than this beyond an edge does not move it, mm.
const SLACK_MM: f64 = 0.001;
/// The group of the shapes that cover zones.
const ZONES_ID: &str = "stave-zones";

/// A shape on the page of the controller: X word along, turn × told radius around, mm.
#[derive(Clone, Debug)]
pub(super) struct LaidShape {
    /// The shape, an index into the art's.
    pub(super) shape: usize,
    /// What stands in place of its inks where it is shades: the greys of its fill and stroke.
    pub(super) pixels: Vec<LaidPixels>,
    /// Greys stand for it, its own or those that it shares with what lies under it.
    pub(super) in_greys: bool,
    /// The box around what clips leave of its outline; `None` for nothing.
    pub(super) bounds: Option<Rect>,
    pub(super) element: usize,
    pub(super) lay: usize,
    pub(super) clips: Vec<usize>,
    pub(super) stroke_first: bool,
    /// A stroke of it has become an area.
    pub(super) outlined: bool,
    /// The lowest first.
    pub(super) inks: Vec<Ink>,
}

impl LaidShape {
    pub(super) fn nothing(shape: &Shape) -> Self {
        Self {
            shape: 0,
            pixels: Vec::new(),
            in_greys: false,
            bounds: None,
            element: shape.element,
            lay: 0,
            clips: Vec::new(),
            stroke_first: false,
            outlined: false,
            inks: Vec::new(),
        }
    }
}

/// Greys on the page.
#[derive(Clone, Debug)]
pub(super) struct LaidPixels {
    /// Where they lie.
    pub(super) frame: Rect,
    /// The bytes of a PNG file.
    pub(super) png: Vec<u8>,
    /// The exact edge of what they show, and where its inside is; none where they show several
    /// things, each with an edge of its own, which renderers do not join alike.
    pub(super) edge: Option<(BezPath, Rule)>,
}

/// One path with one fill and one stroke.
#[derive(Clone, Debug)]
pub(super) struct Ink {
    pub(super) path: BezPath,
    pub(super) fill: Option<Fill>,
    pub(super) stroke: Option<Stroke>,
}

/// The page and where it lies.
#[derive(Clone, Debug)]
pub(super) struct Sheet {
    pub(super) page: Page,
    /// The X word at the edge where it is least, mm.
    pub(super) along_from_mm: f64,
    /// Half of what the page shows around, mm.
    pub(super) around_half_mm: f64,
    to_page: Affine,
    title: String,
    masked: bool,
}

impl Sheet {
    /// A page for all that is laid: from X 0 to the end of the wall and once around, more where
    /// something lies beyond.
    pub(super) fn new(
        setup: &Setup,
        redraw: &Redraw<'_>,
        laid: &[LaidShape],
        warnings: &mut Vec<String>,
    ) -> Sheet {
        let all = laid.iter().filter_map(|one| one.bounds).reduce(|one, other| one.union(other));
        let all = all.unwrap_or(Rect::ZERO);
        let wall_end_mm = redraw.wall_on_page().1;
        let along_from_mm = if all.x0 < -SLACK_MM { all.x0.floor() } else { 0.0 };
        let along_to_mm = if all.x1 > wall_end_mm + SLACK_MM { all.x1.ceil() } else { wall_end_mm };
        let along_to_mm = along_to_mm.max(along_from_mm + 1.0);
        let half_mm = PI * setup.job.set_radius_mm;
        let reach_mm = all.y1.max(-all.y0);
        if along_from_mm < 0.0 {
            let edge = match setup.job.stands {
                Stands::Upright => "bottom",
                Stands::Inverted => "top",
                Stands::Lying => "left",
            };
            // X words of a work that points to x- fall with growing `at`.
            let remedy =
                if setup.job.toward == Toward::XMinus { "at the far end" } else { "lower" };
            warnings.push(format!(
                "the art reaches below X 0, and so the page's {edge} edge lies at X {}: set \
                 `zero.at` {remedy} to have it at X 0",
                fixed(along_from_mm, 0)
            ));
        }
        if reach_mm > half_mm + SLACK_MM {
            warnings.push(format!(
                "the art reaches {} mm past half a turn from the rotary's zero, off the page, \
                 which is one turn wide: turn the zero toward the middle of the art, see `zero.turn`",
                fixed(reach_mm - half_mm, 2)
            ));
        }
        let (along_mm, around_mm) = (along_to_mm - along_from_mm, 2.0 * half_mm);
        let standing = Page { width_mm: around_mm, height_mm: along_mm };
        let lying = Page { width_mm: along_mm, height_mm: around_mm };
        let (page, stands) = match setup.job.stands {
            Stands::Upright => (standing, standing.upright_to_flat()),
            Stands::Inverted => (standing, standing.inverted_to_flat()),
            Stands::Lying => (lying, lying.lying_to_flat()),
        };
        Sheet {
            page,
            along_from_mm,
            around_half_mm: half_mm,
            to_page: stands.inverse() * Affine::translate((-along_from_mm, 0.0)),
            title: format!(
                "{}, laid for a diameter of {} mm",
                setup.blank.name,
                fixed(2.0 * setup.job.set_radius_mm, 3)
            ),
            masked: setup.job.zones == ZoneRule::Mask && !setup.blank.zones.is_empty(),
        }
    }

    /// From a place of the page to X word and turn × told radius.
    pub(super) fn told_at(&self, page: Point) -> Point {
        self.to_page.inverse() * page
    }

    /// From where X word and turn × told radius are told, to the page.
    pub(super) fn place(&self, path: &BezPath) -> BezPath {
        self.to_page * path.clone()
    }

    pub(super) fn write<W: Write>(
        &self,
        output: W,
        layout: &Layout,
        redraw: &Redraw<'_>,
        laid: &[LaidShape],
        note: &[String],
    ) -> io::Result<()> {
        let mut writer =
            SvgWriter::new(output, &Front { page: self.page, title: &self.title, note })?;
        let mut names = Names::new(&layout.art);
        let mut clips = Clips::new(layout, redraw, self);
        let mut open: Vec<usize> = Vec::new();
        let mut rest = laid;
        while let Some(first) = rest.first() {
            let run = rest.iter().take_while(|one| one.element == first.element).count();
            let (these, after) = rest.split_at(run);
            rest = after;
            self.enter(&mut writer, &mut names, layout, &mut open, first.element)?;
            self.element(&mut writer, &mut names, &mut clips, layout, these)?;
        }
        while open.pop().is_some() {
            writer.close_group()?;
        }
        if self.masked {
            self.covers(&mut writer, &mut names, redraw)?;
        }
        writer.end().map(drop)
    }

    /// Closes and opens groups until those around an element are open.
    fn enter<W: Write>(
        &self,
        writer: &mut SvgWriter<W>,
        names: &mut Names,
        layout: &Layout,
        open: &mut Vec<usize>,
        element: usize,
    ) -> io::Result<()> {
        let innermost = layout.art.elements.get(element).and_then(|element| element.group);
        let mut around: Vec<usize> =
            layout.art.groups_around(innermost).map(|(index, _)| index).collect();
        around.reverse();
        let shared = open.iter().zip(&around).take_while(|(one, other)| one == other).count();
        while open.len() > shared {
            writer.close_group()?;
            open.pop();
        }
        for &index in around.iter().skip(shared) {
            let group = layout.art.groups.get(index);
            let id = group.and_then(|group| names.take(&group.ids));
            writer
                .open_group(id.as_deref(), group.and_then(|group| group.data_piece.as_deref()))?;
            open.push(index);
        }
        Ok(())
    }

    /// The shapes of one element: a path where there is one, else a group.
    fn element<W: Write>(
        &self,
        writer: &mut SvgWriter<W>,
        names: &mut Names,
        clips: &mut Clips<'_, '_>,
        layout: &Layout,
        shapes: &[LaidShape],
    ) -> io::Result<()> {
        let Some(first) = shapes.first() else { return Ok(()) };
        let element = layout.art.elements.get(first.element);
        let id = element.and_then(|element| names.take(&element.ids));
        let data_piece = element.and_then(|element| element.data_piece.as_deref());
        let mut confined = Vec::with_capacity(shapes.len());
        for shape in shapes {
            let around = clips.confine(writer, names, &shape.clips, shape.lay)?;
            let mut own = Vec::with_capacity(shape.pixels.len());
            for pixels in &shape.pixels {
                let Some((path, rule)) = pixels.edge.clone() else {
                    own.push(None);
                    continue;
                };
                let id = names.make("stave-clip");
                let areas = [ClipOutline { path, rule, within: None }];
                writer.clip(&ClipRegion { id: &id, areas: &areas, within: around.as_deref() })?;
                own.push(Some(id));
            }
            confined.push((around, own));
        }
        let inks = shapes.iter().map(|s| s.inks.len() + s.pixels.len()).sum::<usize>();
        let grouped = inks != 1;
        if grouped {
            writer.open_group(id.as_deref(), data_piece)?;
        }
        for (shape, (clip, own)) in shapes.iter().zip(&confined) {
            for (pixels, clip) in shape.pixels.iter().zip(own) {
                writer.pixels(&Pixels {
                    id: id.as_deref().filter(|_| !grouped),
                    data_piece: data_piece.filter(|_| !grouped),
                    frame: pixels.frame,
                    png: &pixels.png,
                    clip: clip.as_deref(),
                })?;
            }
            for ink in &shape.inks {
                writer.path(&Drawn {
                    id: id.as_deref().filter(|_| !grouped),
                    data_piece: data_piece.filter(|_| !grouped),
                    path: &self.place(&ink.path),
                    fill: ink.fill,
                    stroke: ink.stroke.as_ref(),
                    stroke_first: shape.stroke_first,
                    clip: clip.as_deref(),
                })?;
            }
        }
        if grouped {
            writer.close_group()?;
        }
        Ok(())
    }

    /// White over the zones.
    fn covers<W: Write>(
        &self,
        writer: &mut SvgWriter<W>,
        names: &mut Names,
        redraw: &Redraw<'_>,
    ) -> io::Result<()> {
        writer.open_group(names.take(&[ZONES_ID.to_owned()]).as_deref(), None)?;
        for (zone, cover) in redraw.zone_covers(-self.around_half_mm, self.around_half_mm) {
            let id = names.take(&[format!("zone {zone}")]);
            writer.path(&Drawn {
                id: id.as_deref(),
                data_piece: None,
                path: &self.place(&cover),
                fill: Some(Fill { colour: Rgb::WHITE, rule: Rule::NonZero, opacity: 1.0 }),
                stroke: None,
                stroke_first: false,
                clip: None,
            })?;
        }
        writer.close_group()
    }
}

/// The ids of a document, each given once.
pub(super) struct Names {
    taken: HashSet<String>,
    /// Those that the drawing has, which nothing made up may take.
    drawn: HashSet<String>,
    /// How many were made up so far.
    made: u32,
}

impl Names {
    fn new(art: &Art) -> Names {
        let of_groups = art.groups.iter().flat_map(|group| &group.ids);
        let of_elements = art.elements.iter().flat_map(|element| &element.ids);
        Names {
            taken: HashSet::new(),
            drawn: of_groups.chain(of_elements).cloned().collect(),
            made: 0,
        }
    }

    /// The first of some ids that nothing has yet.
    fn take(&mut self, ids: &[String]) -> Option<String> {
        ids.iter().find(|id| self.taken.insert((*id).clone())).cloned()
    }

    /// An id that nothing has or will have.
    pub(super) fn make(&mut self, stem: &str) -> String {
        loop {
            self.made = self.made.saturating_add(1);
            let id = format!("{stem}-{}", self.made);
            if !self.drawn.contains(&id) && self.taken.insert(id.clone()) {
                return id;
            }
        }
    }
}
