//! What line 1 of a wrapped program says it was wrapped for.

use stave_setup::{FocusMode, Setup, Toward};
use stave_toolpath::number::fixed;
use stave_write::gcode::Header;

const DECIMALS: u32 = 6;

/// The words of line 1: places are `at,turn` in mm and degrees.
pub(crate) fn header(setup: &Setup) -> Header {
    let job = &setup.job;
    let place = |at_mm: f64, turn_rad: f64| {
        format!("{},{}", fixed(at_mm, DECIMALS), fixed(turn_rad.to_degrees(), DECIMALS))
    };
    let field = |key: &str, value: String| (key.to_owned(), value);
    Header {
        fields: vec![
            field("blank", setup.blank.name.clone()),
            field("machine", setup.machine.name.clone()),
            field("lay", job.lay.to_string()),
            field("tilt", fixed(job.tilt_rad.to_degrees(), DECIMALS)),
            field("place", place(job.place.at_mm, job.place.turn_rad)),
            field("zero", place(job.zero.at_mm, job.zero.turn_rad)),
            field("toward", if job.toward == Toward::XMinus { "x-" } else { "x+" }.to_owned()),
            field("focus", if job.focus == FocusMode::Follow { "follow" } else { "fixed" }.to_owned()),
            field("reference_diameter", fixed(2.0 * job.reference_radius_mm, DECIMALS)),
        ],
    }
}
