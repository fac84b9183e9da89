//! Triangles as the page reads them.

use serde::Serialize;

use super::super::planes::{Planes, rounded, steps};
use super::Mesh;

/// The latest time: 0 is never.
const LAST_TIME: f64 = 65535.0;

/// The mesh as the page reads it.
#[derive(Serialize)]
pub(crate) struct Packed {
    /// For every corner its place along, around, its time, its energy, its section, one after the
    /// other, then the corners of the triangles.
    bytes: String,
    corners: usize,
    triangles: usize,
    /// mm of meridian, and rad, for one.
    steps: (f64, f64),
    /// The width of a line, mm.
    spot: f64,
}

/// Packs a mesh for a wall of this largest radius, with times as shares of a duration and energies
/// as shares of the top of the colours.
pub(crate) fn packed(mesh: &Mesh, radius_mm: f64, duration_s: f64, top: f64) -> Packed {
    let steps = steps(radius_mm);
    let corners = &mesh.corners;
    let share = |value: f64, of: f64| if of > 0.0 { (value / of).clamp(0.0, 1.0) } else { 0.0 };
    let mut planes = Planes::default();
    planes.add_in_steps(corners.iter().map(|(corner, _)| corner.s_mm), steps.0);
    planes.add_in_steps(corners.iter().map(|(corner, _)| corner.turn_rad), steps.1);
    planes.add(corners.iter().map(|(corner, _)| {
        rounded((1.0 + (LAST_TIME - 1.0) * share(corner.at_s, duration_s)).floor())
    }));
    planes.add(corners.iter().map(|(corner, _)| rounded(255.0 * share(corner.density, top))));
    planes.add(corners.iter().map(|(_, section)| i64::from((*section).min(255))));
    planes.add(mesh.triangles.iter().map(|corner| i64::from(*corner)));
    Packed {
        bytes: planes.packed(),
        corners: corners.len(),
        triangles: mesh.triangles.len() / 3,
        steps,
        spot: mesh.spot_mm,
    }
}
