//! The page against the blank it is to lie on.

use std::f64::consts::{PI, TAU};

use stave_check::{Code, Finding};
use stave_setup::{PlaceOf, Setup, Stands};
use stave_toolpath::art::Page;
use stave_toolpath::number::fixed;

/// Sizes nearer than this share, or this many mm, are meant to be the same: pages are rounded.
const SAME_SHARE: f64 = 0.005;
const SAME_MM: f64 = 0.5;

/// A page that is meant to be the blank's and is not: larger than the blank; as large one way and
/// not the other; of the same shape at another scale; in px. One that is smaller and of another
/// shape is a drawing's own, which the job places, and nothing to be told, nor is a page of which
/// only the art counts.
pub(super) fn against_blank(page: &Page, setup: &Setup, by_px: bool) -> Option<Finding> {
    let wall = &setup.blank.wall;
    let (around_mm, along_mm) = match setup.job.stands {
        Stands::Lying => (page.height_mm, page.width_mm),
        Stands::Upright | Stands::Inverted => (page.width_mm, page.height_mm),
    };
    // A flat place is as wide as it is; all else goes once around.
    let facet = setup.facet.as_ref().map(|on| &on.facet);
    let turn_mm = facet.map_or(TAU * setup.job.reference_radius_mm, |facet| facet.width_mm);
    let largest_mm = facet.map_or(TAU * wall.largest_radius_mm(), |facet| facet.width_mm);
    let widest_mm = largest_mm.max(turn_mm);
    let (from, to) = wall.at_range_mm();
    let length_mm = wall.length_mm().max(to - from);
    let past = |size: f64, room: f64| size > room * (1.0 + SAME_SHARE) + SAME_MM;
    let (wide, long) = (past(around_mm, widest_mm), past(along_mm, length_mm));
    let same = |a: f64, b: f64| (a - b).abs() <= b * SAME_SHARE + SAME_MM;
    let turns = [turn_mm, largest_mm];
    let around_same = turns.into_iter().any(|turn| same(around_mm, turn));
    let along_same = [wall.length_mm(), to - from].into_iter().any(|long| same(along_mm, long));
    let scaled = ((around_mm * length_mm) / (along_mm * turn_mm) - 1.0).abs() <= SAME_SHARE;
    let fits = around_same && along_same;
    let meant = wide || long || by_px || scaled || around_same || along_same;
    if fits || !meant || setup.job.place.of == PlaceOf::Art {
        return None;
    }
    let n = |value: f64| fixed(value, 2);
    let mut message = match facet {
        Some(facet) => format!(
            "the page is {} mm across and {} mm along, the flat place \"{}\" {} mm across and {} \
             mm along",
            n(around_mm),
            n(along_mm),
            facet.name,
            n(turn_mm),
            n(length_mm)
        ),
        None => format!(
            "the page is {} mm around and {} mm along, the blank {} mm around (diameter {} mm) \
             and {} mm along",
            n(around_mm),
            n(along_mm),
            n(turn_mm),
            n(turn_mm / PI),
            n(length_mm)
        ),
    };
    if by_px {
        message.push_str("; its px were taken at 96 to the inch: give width and height in mm");
    } else {
        message.push_str("; draw on the page of `stave template`");
    }
    let (value, limit) = if !around_same { (around_mm, turn_mm) } else { (along_mm, length_mm) };
    Some(Finding::new(Code::Page, message).figures(value, limit))
}
