//! Flat moves to machine moves.
//!
//! [`Wrapper`] takes the moves of a flat program one by one, lays each on the wall, cuts burns so
//! that what the machine burns stays within the tolerance of the exact image, times every move by
//! its speed on the wall and hands [`stave_toolpath::Step`]s to a sink. It keeps no more
//! than the place it has come to, so a program may be endless.
//!
//! [`plan_art`] takes a whole drawing: what of it is seen becomes scan lines and lines, in an order
//! that keeps travel short, and [`ArtPlan::burn`] makes the moves.

mod area;
mod around;
mod art;
mod burns;
mod curve;
mod cut;
mod dose;
mod drive;
mod emit;
mod halt;
mod lettering;
mod line;
mod order;
mod patch;
mod redraw;
mod scene;
mod stats;
mod wrapper;

pub use around::{Around, is_corner};
pub use art::{ArtPlan, ArtSink, Burned, HatchFigures, Hit, OperationFigures, plan_art};
pub use burns::{Burns, Operation, Part};
pub use curve::{Curve, FlatPoint};
pub use halt::Halt;
pub use lettering::{text_strokes, text_width_mm};
pub use patch::{Patch, PatchLines, patch_lines, run_up_mm};
pub use redraw::{Extent, Redraw, ZoneHit};
pub use stats::Stats;
pub use stave_rig::Misfit;
pub use wrapper::{Burn, Wrapper, lay_of};
