//! The figures beside the picture, and how the ware lies.

use std::f64::consts::{PI, TAU};

use stave_check::{LeastGap, focus_at_mid_strip};
use stave_picture::proof::{BurnMap, Figure, Lies};
use stave_setup::{FocusMode, JobAnchor, Setup, Toward};
use stave_toolpath::clock;
use stave_toolpath::number::{fixed, push_counts, significant};
use stave_wall::{Anchor, Crest, Distortion, Lay, LaySetting};

use super::gather::Found;
use super::{Laid, ProofOptions};

use crate::estimate::Estimate;
use crate::header::WrappedFor;

/// Of the burned cells one in so many is looked at for the lay's distortion.
const OMEGA_STEP: usize = 37;

/// How the ware lies under the beam, from what the program was wrapped for and what it burns.
pub(super) fn lies(setup: &Setup, wrapped: &WrappedFor, found: &Found) -> Lies {
    let wall = &setup.blank.wall;
    let crest = Crest::new(wrapped.tilt_rad);
    let height = |at_mm: f64| crest.height_mm(&wall.section(wall.s_of_at(at_mm), &mut 0));
    let focus_height_mm = (wrapped.focus == FocusMode::Fixed).then(|| {
        setup.job.focus_at_mm.map_or_else(
            || {
                let (from, to) = found.burned_s_mm.unwrap_or((0.0, wall.length_mm()));
                focus_at_mid_strip(wall, from, to, wrapped.tilt_rad).height_mm
            },
            height,
        )
    });
    let lens = setup.job.lens.as_ref();
    let nozzle = setup.job.nozzle.as_ref();
    let lies = Lies {
        tilt_rad: wrapped.tilt_rad,
        focus_height_mm,
        half_depth_mm: lens.and_then(|lens| {
            lens.half_depth_of_focus_mm(setup.machine.beam.as_ref(), stave_setup::SPOT_GROWTH)
        }),
        nozzle_mm: nozzle.map(|nozzle| (nozzle.radius_mm, nozzle.gap_mm)),
        nozzle_s_mm: 0.0,
        burned_s_mm: found.burned_s_mm,
        mirrored: wrapped.toward == Toward::XMinus,
    };
    let nearest = least_gap(setup, wrapped, found, &lies).map(|gap| gap.at_mm);
    let (from, to) = found.burned_s_mm.unwrap_or((0.0, wall.length_mm()));
    Lies { nozzle_s_mm: nearest.map_or(0.5 * (from + to), |at_mm| wall.s_of_at(at_mm)), ..lies }
}

/// The least gap between nozzle and work over the whole program.
pub(super) fn least_gap(
    setup: &Setup,
    wrapped: &WrappedFor,
    found: &Found,
    lies: &Lies,
) -> Option<LeastGap<u64>> {
    let nozzle = setup.job.nozzle.as_ref()?;
    let wall = &setup.blank.wall;
    // Where Z follows the crest, the head is focused by hand at the zero and its words are reckoned
    // from there.
    let zero = wall.section(wall.s_of_at(wrapped.zero.0), &mut 0);
    let height =
        lies.focus_height_mm.unwrap_or_else(|| Crest::new(wrapped.tilt_rad).height_mm(&zero));
    found.clearance.as_ref()?.least(height, nozzle.gap_mm)
}

/// How far the crest strays from the focus at worst, mm, and where, mm of meridian.
pub(super) fn worst_defocus(setup: &Setup, lies: &Lies) -> Option<(f64, f64)> {
    let (from, to) = lies.burned_s_mm?;
    let height = lies.focus_height_mm?;
    let crest = Crest::new(lies.tilt_rad);
    let sections = setup.blank.wall.sections_between(from, to);
    let off = sections.iter().map(|(s, section)| ((crest.height_mm(section) - height).abs(), *s));
    off.max_by(|a, b| a.0.total_cmp(&b.0))
}

/// The greatest error of an angle where anything burns, rad.
fn worst_omega(setup: &Setup, map: &BurnMap, laid: Laid) -> Option<f64> {
    match laid {
        Laid::Unknown => None,
        Laid::Art { omega_rad } => Some(omega_rad),
        Laid::Drawing => {
            let job = &setup.job;
            let wall = &setup.blank.wall;
            let anchor = match job.anchor {
                Some(JobAnchor::Point { u_mm, v_mm }) => Anchor::Point { u_mm, v_mm },
                _ => Anchor::Drawing,
            };
            let setting = LaySetting {
                kind: job.lay,
                origin_s_mm: wall.s_of_at(job.place.at_mm),
                origin_turn_rad: job.place.turn_rad,
                reference_radius_mm: job.reference_radius_mm,
                anchor,
            };
            let lay = Lay::new(wall, setting).ok()?;
            let (rows, columns) = map.size();
            let burned = (0..rows * columns).filter(|cell| map.first(*cell).is_some());
            let omegas = burned.step_by(OMEGA_STEP).filter_map(|cell| {
                let place = map.place(cell);
                // The map is folded into the turn about 0, and so, nearly always, is what was laid
                // about its place.
                let from = place.turn_rad - job.place.turn_rad;
                let turn_rad = job.place.turn_rad + (from + PI).rem_euclid(TAU) - PI;
                let (u, v) = lay.flat(wall, place.s_mm, turn_rad)?;
                Some(Distortion::of_jacobian(lay.jacobian(wall, u, v)).omega_rad)
            });
            omegas.filter(|omega| omega.is_finite()).reduce(f64::max)
        }
    }
}

/// What the program was made for, one sentence.
pub(super) fn made_for(setup: &Setup, wrapped: &WrappedFor) -> String {
    let lay = wrapped.lay.map_or_else(String::new, |lay| format!(", lay {lay}"));
    let turn = |rad: f64| fixed(rad.to_degrees(), 2);
    let mut out = format!(
        "wrapped for {} on {}{lay}, tilt {}°, place {} mm {}°, zero {} mm {}°",
        wrapped.blank,
        wrapped.machine,
        turn(wrapped.tilt_rad),
        fixed(wrapped.place.0, 2),
        turn(wrapped.place.1),
        fixed(wrapped.zero.0, 2),
        turn(wrapped.zero.1),
    );
    if !wrapped.differences(Some(&setup.blank), &setup.machine).is_empty() {
        out.push_str(&format!("; shown on {} and {}", setup.blank.name, setup.machine.name));
    }
    out
}

/// The table.
pub(super) fn all(
    setup: &Setup,
    estimate: &Estimate,
    map: &BurnMap,
    found: &Found,
    lies: &Lies,
    least_gap_mm: Option<f64>,
    options: &ProofOptions,
) -> Vec<Figure> {
    let mut figures = Vec::new();
    let mut add = |name: &str, value: String| figures.push(Figure { name: name.to_owned(), value });
    let mm = |value: f64| format!("{} mm", fixed(value, 1));
    add("time", clock(estimate.duration_s));
    let parts = format!("{} and {}", clock(estimate.burn_s), clock(estimate.travel_s));
    add("of it burning and travelling", parts);
    if let (Some(burn), Some(travel)) = (estimate.burn_mm, estimate.travel_mm) {
        add("burned and travelled", format!("{} and {}", mm(burn), mm(travel)));
    }
    add("wall burned", format!("{} cm²", fixed(map.burned_mm2() / 100.0, 2)));
    if let (Some(s), Some(turn)) = (found.burned_s_mm, found.burned_turn_rad) {
        let at = |s: f64| fixed(setup.blank.wall.at_of_s(s), 1);
        add("burned along", format!("{} to {} mm", at(s.0), at(s.1)));
        let deg = |rad: f64| fixed(rad.to_degrees(), 1);
        add("burned around", format!("turn {}° to {}°", deg(turn.0), deg(turn.1)));
    }
    if let Some((least, most)) = found.power_percent {
        let one = most - least < 0.05;
        let text =
            if one { fixed(most, 1) } else { format!("{} to {}", fixed(least, 1), fixed(most, 1)) };
        add("power", format!("{text} %"));
    }
    if let (Some(mean), Some(most)) =
        (estimate.surface_speed_mean_mm_per_s, estimate.surface_speed_max_mm_per_s)
    {
        add(
            "speed on the wall, mean and most",
            format!("{} and {} mm/s", fixed(mean, 1), fixed(most, 1)),
        );
    }
    if map.top_density() > 0.0 {
        add("energy on the wall, nearly the most", format!("{} %·s/mm²", three(map.top_density())));
    }
    if let Some((defocus, _)) = worst_defocus(setup, lies) {
        let depth =
            lies.half_depth_mm.map_or(String::new(), |depth| format!(" of ±{}", fixed(depth, 2)));
        add("out of focus at worst", format!("±{} mm{depth}", fixed(defocus, 2)));
    }
    if let Some((least, most)) = options.spacing_mm {
        let one = most - least < 5e-5;
        let text =
            if one { fixed(most, 4) } else { format!("{} to {}", fixed(least, 4), fixed(most, 4)) };
        add("spacing of scan lines", format!("{text} mm"));
    }
    if let Some(gap) = least_gap_mm {
        add("least gap between nozzle and work", format!("{} mm", fixed(gap, 1)));
    }
    if let Some(omega) = worst_omega(setup, map, options.laid) {
        add("worst error of an angle burned, ω", format!("{}°", fixed(omega.to_degrees(), 1)));
    }
    figures
}

/// A figure to three digits.
fn three(value: f64) -> String {
    let mut out = Vec::new();
    match significant(value, 3) {
        Some((counts, decimals)) => push_counts(&mut out, counts, decimals),
        None => out.push(b'?'),
    }
    String::from_utf8_lossy(&out).into_owned()
}
