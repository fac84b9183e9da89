//! What the written drawing says of itself, in its metadata.

use stave_rig::{CAUTIONS, MadeFor};
use stave_setup::{Setup, Stands, ZoneRule};
use stave_toolpath::number::fixed;
use stave_wall::Anchor;

use super::sheet::Sheet;
use crate::layout::Layout;

/// What was done, and the cautions, a line each.
pub(super) fn note(setup: &Setup, layout: &Layout, sheet: &Sheet, outlined: bool) -> Vec<String> {
    let job = &setup.job;
    let n = |value: f64| fixed(value, 3);
    let (edge, middle) = match job.stands {
        Stands::Upright => ("bottom edge", "middle"),
        Stands::Inverted => ("top edge", "middle"),
        Stands::Lying => ("left edge", "half its height"),
    };
    let mut note = vec![
        MadeFor::of_setup(setup).header().first_line().trim_matches(['(', ')']).to_owned(),
        format!(
            "This drawing was laid on the wall of the blank: its widths and places are no longer \
             those of the art. It is for a controller that \
             is told a diameter of {} mm and turns widths on the page to turns by it. Do not lay it again on the same blank.",
            n(2.0 * job.set_radius_mm)
        ),
        format!(
            "Page: its {edge} is X {} (X 0 is at {} mm along the work), along the axis it has the \
             X word under a tilt of {} degrees; its {middle} \
             is turn {} of the work.",
            n(sheet.along_from_mm),
            n(job.zero.at_mm),
            n(job.tilt_rad.to_degrees()),
            n(job.zero.turn_rad.to_degrees()),
        ),
    ];
    for lay in &layout.lays {
        let setting = lay.setting();
        let anchor = match setting.anchor {
            Anchor::Drawing => "the drawing".to_owned(),
            Anchor::Point { u_mm, v_mm } => {
                format!("{} mm along and {} mm around the flat plane", n(u_mm), n(v_mm))
            }
        };
        note.push(format!("Lay: {}, from {anchor}.", setting.kind));
    }
    note.push(format!(
        "Curves lie within {} mm of their exact images on the wall.",
        n(job.tolerance_mm)
    ));
    if outlined {
        note.push(
            "Strokes that are burned with their width were turned into filled outlines: pick them \
             by fill."
                .into(),
        );
    }
    if !setup.blank.zones.is_empty() {
        note.push(
            match job.zones {
                ZoneRule::Refuse => "Zones: nothing drawn here burns in one.",
                ZoneRule::Mask => {
                    "Zones: white shapes lie over them, which hide what is beneath from a \
                     controller that burns what is seen. One that \
                     follows outlines burns beneath them all the same."
                }
                ZoneRule::Ignore => "Zones: not looked at.",
            }
            .into(),
        );
    }
    note.extend(CAUTIONS.map(|line| format!("{line}.")));
    note
}
