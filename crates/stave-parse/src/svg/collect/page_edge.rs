//! What a viewer does not show: all that lies off the page.

use kurbo::{Rect, Shape as _};
use stave_toolpath::art::{Clip, ClipArea, Rule, Stroke};

use super::{Collected, Over};
use crate::svg::NoticeKind;

/// The farthest that a stroke reaches from its path, mm: by a mitre, or a square cap.
pub(super) fn reach_mm(stroke: &Stroke) -> f64 {
    // The greater singular value of a map that keeps areas.
    let squares = stroke.pen.as_coeffs()[..4].iter().map(|c| c * c).sum::<f64>().max(2.0);
    let pen = ((squares + (squares * squares - 4.0).sqrt()) / 2.0).sqrt();
    let farthest = match stroke.join {
        kurbo::Join::Miter => stroke.miter_limit.max(std::f64::consts::SQRT_2),
        _ => std::f64::consts::SQRT_2,
    };
    0.5 * stroke.width_mm * farthest * pen
}

/// Leaves out what lies off the page, and confines to it what crosses its edge: that is what a
/// viewer shows.
pub(super) fn cut_to_page(collected: &mut Collected, tints: &mut Vec<Over>) {
    // The 32 bits of the resolved points, and the rounding of exporters.
    const SLACK_MM: f64 = 1e-3;
    // What reaches off by less is cut without a word: no tolerance is finer.
    const TOLD_MM: f64 = 0.01;
    let page = Rect::new(0.0, 0.0, collected.art.page.width_mm, collected.art.page.height_mm);
    let with_slack = page.inflate(SLACK_MM, SLACK_MM);
    let page_clip = collected.art.clips.len();
    let boxes = collected.art.bounds_of_shapes();
    let mut shapes = std::mem::take(&mut collected.art.shapes);
    let mut cut = false;
    let mut boxes = boxes.into_iter();
    let mut kept_tints = Vec::with_capacity(tints.len());
    let mut of_shapes = std::mem::take(tints).into_iter();
    shapes.retain_mut(|shape| {
        let over = of_shapes.next().unwrap_or_default();
        let entry = collected.entry_of.get(shape.element).copied().unwrap_or_default();
        // Clipped away whole: drawn, and nothing to see.
        let Some(bounds) = boxes.next().flatten() else {
            kept_tints.push(over);
            return true;
        };
        // Its pen may reach the page, or off it, where its path does not.
        let pen_mm = shape.stroke.as_ref().map_or(0.0, reach_mm);
        let drawn = bounds.inflate(pen_mm, pen_mm);
        let meets = |one: Rect| {
            one.x1 >= with_slack.x0
                && one.x0 <= with_slack.x1
                && one.y1 >= with_slack.y0
                && one.y0 <= with_slack.y1
        };
        // Where a mitre might reach the page, the stroke itself is looked at.
        let pen_meets = || {
            let area = shape.stroke_area(TOLD_MM).map(|area| area.bounding_box());
            meets(drawn) && area.is_some_and(meets)
        };
        if !(meets(bounds) || pen_meets()) {
            collected.fates[entry].off_page = true;
            return false;
        }
        kept_tints.push(over);
        let is_filtered = over.tint.is_some_and(|tint| tint.kind == NoticeKind::Filter);
        let told = page.inflate(TOLD_MM, TOLD_MM);
        // Filters reach farther than what they show.
        collected.fates[entry].crosses_edge |= told.union(bounds) != told && !is_filtered;
        if with_slack.union(drawn) != with_slack {
            shape.clips.push(page_clip);
            cut = true;
        }
        true
    });
    collected.art.shapes = shapes;
    *tints = kept_tints;
    if cut {
        let area =
            ClipArea { path: page.to_path(SLACK_MM), rule: Rule::NonZero, clips: Vec::new() };
        collected.art.clips.push(Clip { areas: vec![area], within: Vec::new() });
    }
}
