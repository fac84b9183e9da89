//! Clip paths of the drawing, laid as what they confine is laid.

use std::collections::HashMap;
use std::io::{self, Write};

use stave_transform::{Extent, Redraw};
use stave_write::svg::{ClipOutline, ClipRegion, SvgWriter};

use super::sheet::{Names, Sheet};
use crate::layout::Layout;

/// The regions written so far.
pub(super) struct Clips<'l, 'a> {
    layout: &'l Layout,
    redraw: &'l Redraw<'a>,
    sheet: &'l Sheet,
    known: HashMap<(Vec<usize>, usize), String>,
}

impl<'l, 'a> Clips<'l, 'a> {
    pub(super) fn new(layout: &'l Layout, redraw: &'l Redraw<'a>, sheet: &'l Sheet) -> Self {
        Self { layout, redraw, sheet, known: HashMap::new() }
    }

    /// The id of the region that several clips of the drawing share, under a lay; written where it
    /// is new. `None` where nothing confines.
    pub(super) fn confine<W: Write>(
        &mut self,
        writer: &mut SvgWriter<W>,
        names: &mut Names,
        clips: &[usize],
        lay: usize,
    ) -> io::Result<Option<String>> {
        let mut clips = clips.to_vec();
        clips.sort_unstable();
        clips.dedup();
        // Clips refer to earlier ones alone: the last of them is taken apart, and what is left is
        // of earlier ones.
        let Some((&last, rest)) = clips.split_last() else { return Ok(None) };
        if let Some(id) = self.known.get(&(clips.clone(), lay)) {
            return Ok(Some(id.clone()));
        }
        let layout = self.layout;
        let Some(clip) = layout.art.clips.get(last) else { return Ok(None) };
        let earlier =
            |list: &[usize]| list.iter().copied().filter(|&c| c < last).collect::<Vec<_>>();
        let mut within = rest.to_vec();
        within.extend(earlier(&clip.within));
        let within = self.confine(writer, names, &within, lay)?;
        let mut areas = Vec::with_capacity(clip.areas.len());
        for area in &clip.areas {
            let alone = self.confine(writer, names, &earlier(&area.clips), lay)?;
            let flat = layout.to_flat * area.path.clone();
            let laid = layout
                .lays
                .get(lay)
                .and_then(|lay| self.redraw.path(lay, &flat, &mut Extent::NOTHING.clone()).ok());
            areas.push(ClipOutline {
                path: self.sheet.place(&laid.unwrap_or_default()),
                rule: area.rule,
                within: alone,
            });
        }
        let id = names.make("stave-clip");
        writer.clip(&ClipRegion { id: &id, areas: &areas, within: within.as_deref() })?;
        self.known.insert((clips, lay), id.clone());
        Ok(Some(id))
    }
}
