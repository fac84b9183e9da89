//! The head and the rotary as pictures show them.

use stave_picture::proof::{BesideShape, HeadShape};
use stave_rig::{Head, HeadPart, obstacle_across_mm, obstacle_along_mm};
use stave_setup::{Blank, Machine, Nozzle, ObstacleShape, Toward};

/// What of the head stands above the tip of a nozzle, as the front of the machine shows it.
pub(crate) fn head(nozzle: Option<&Nozzle>, machine: &Machine, toward: Toward) -> Vec<HeadShape> {
    let Some(nozzle) = nozzle else { return Vec::new() };
    let parts = Head::of(nozzle, machine, toward).side_view();
    let above = parts.into_iter().filter(|part| part.part != HeadPart::Tip);
    above
        .map(|part| HeadShape {
            carriage: part.part == HeadPart::Carriage,
            along_mm: part.along_mm,
            across_mm: part.across_mm,
            above_mm: part.above_mm,
        })
        .collect()
}

/// What of the rotary stands up beside the work, the chuck's face at a place along the axis, mm.
pub(crate) fn beside(blank: &Blank, machine: &Machine, held_at_mm: f64) -> Vec<BesideShape> {
    let wall = &blank.wall;
    let shape = |obstacle: &stave_setup::Obstacle| BesideShape {
        name: obstacle.name.clone(),
        at_mm: obstacle_along_mm(wall, obstacle.along_mm, held_at_mm),
        form: match obstacle.shape {
            ObstacleShape::Still { across_mm, height_mm } => ObstacleShape::Still {
                across_mm: obstacle_across_mm(wall, across_mm, held_at_mm),
                height_mm,
            },
            turning @ ObstacleShape::Turning { .. } => turning,
        },
    };
    machine.obstacles.iter().map(shape).collect()
}
