//! What is wrong, or worth a look, with its place on the wall.

use std::f64::consts::TAU;

use stave_check::Nearest;
use stave_picture::proof::{BurnMap, Finding, Lies, Severity, WallPlace};
use stave_setup::{Setup, Zone};
use stave_toolpath::number::fixed;

use super::figures::{least_gap, worst_defocus};
use super::gather::Found;
use crate::header::WrappedFor;

/// Differences smaller than this are a spot's edge here and there, mm².
const DIFFERENCE_MM2: f64 = 0.5;

/// All that is found in one program.
pub(super) fn all(
    setup: &Setup,
    wrapped: &WrappedFor,
    map: &BurnMap,
    found: &Found,
    lies: &Lies,
) -> Vec<Finding> {
    let mut findings: Vec<Finding> = Vec::new();
    let mut add =
        |severity, message: String, place| findings.push(Finding { severity, message, place });
    if found.burns == 0 {
        add(Severity::Error, "nothing burns".into(), None);
    }
    for difference in wrapped.differences(Some(&setup.blank), &setup.machine) {
        add(Severity::Warning, difference, None);
    }
    if let Some(place) = found.off_wall {
        let message = format!(
            "{} mm are burned past the ends of the wall, where nothing was measured",
            fixed(found.off_wall_mm, 1)
        );
        add(Severity::Error, message, Some(place));
    }
    for zone in &setup.blank.zones {
        if let Some((place, area)) = burned_in(zone, setup, map) {
            let kept = if setup.zone_margin_mm(zone) > 0.0 { ", its margin counted" } else { "" };
            let message =
                format!("{} mm² are burned in the zone \"{}\"{kept}", fixed(area, 1), zone.name);
            add(Severity::Error, message, Some(place));
        }
    }
    if let Some((low, high)) = found.burned_turn_rad
        && high - low > TAU * 1.001
    {
        let over = fixed((high - low - TAU).to_degrees(), 1);
        let message = format!(
            "the burns go {over}° further than once around: there the wall may be burned twice"
        );
        add(Severity::Warning, message, None);
    }
    if let Some(gap) = least_gap(setup, wrapped, found, lies) {
        let what = match gap.nearest {
            Nearest::Zone(k) => {
                setup.blank.zones.get(k).map_or("a zone", |zone| zone.name.as_str())
            }
            Nearest::Wall => "the wall",
        };
        let place = WallPlace { s_mm: setup.blank.wall.s_of_at(gap.at_mm), turn_rad: gap.turn_rad };
        if gap.gap_mm < 0.0 {
            let message = format!(
                "the nozzle strikes {what}, {} mm deep, by line {}",
                fixed(-gap.gap_mm, 1),
                gap.mark
            );
            add(Severity::Error, message, Some(place));
        }
    }
    if let (Some((defocus, s_mm)), Some(depth)) = (worst_defocus(setup, lies), lies.half_depth_mm)
        && defocus > depth
    {
        let message = format!(
            "the wall is {} mm out of focus, and the lens holds ±{} mm sharp: see `stave level`",
            fixed(defocus, 2),
            fixed(depth, 2)
        );
        let turn_rad = found.burned_turn_rad.map_or(0.0, |(low, high)| 0.5 * (low + high));
        add(Severity::Warning, message, Some(WallPlace { s_mm, turn_rad }));
    }
    for (axis, count) in &found.held {
        let message = format!(
            "{count} of {} burns are slower than asked: {axis} cannot go faster",
            found.burns
        );
        add(Severity::Note, message, None);
    }
    findings
}

/// How much is burned in a zone or its margin, mm², and where.
fn burned_in(zone: &Zone, setup: &Setup, map: &BurnMap) -> Option<(WallPlace, f64)> {
    let wall = &setup.blank.wall;
    // A cell at the very edge of the margin belongs to a burn that keeps clear of it.
    let margin = (setup.zone_margin_mm(zone) - 0.5 * setup.spot_mm().unwrap_or(0.0)).max(0.0);
    let (low, high) = (wall.s_of_at(zone.at_mm.0) - margin, wall.s_of_at(zone.at_mm.1) + margin);
    let (rows, columns) = map.size();
    let mut found: Option<(WallPlace, f64)> = None;
    for row in 0..rows {
        let s_mm = map.place(row * columns).s_mm;
        if s_mm < low || s_mm > high {
            continue;
        }
        let wide = margin / wall.section(s_mm, &mut 0).radius_mm;
        let width = zone.turn_rad.1 - zone.turn_rad.0 + 2.0 * wide;
        for column in 0..columns {
            let cell = row * columns + column;
            let place = map.place(cell);
            let into = (place.turn_rad - (zone.turn_rad.0 - wide)).rem_euclid(TAU);
            if into <= width && map.first(cell).is_some() {
                let (_, area) = found.get_or_insert((place, 0.0));
                *area += map.cell_area_mm2(row);
            }
        }
    }
    found.filter(|(_, area)| *area > DIFFERENCE_MM2 / 5.0)
}

/// Where two maps differ.
pub(super) fn differences(burned: &BurnMap, meant: &BurnMap) -> Vec<Finding> {
    let (stray, missing) = (burned.beyond(meant), meant.beyond(burned));
    let told = [(stray, "burned that were not meant"), (missing, "not burned that were meant")];
    told.into_iter()
        .filter_map(|(found, words)| {
            let (place, area) = found.filter(|(_, area)| *area > DIFFERENCE_MM2)?;
            Some(Finding {
                severity: Severity::Error,
                message: format!("{} mm² are {words}", fixed(area, 1)),
                place: Some(place),
            })
        })
        .collect()
}
