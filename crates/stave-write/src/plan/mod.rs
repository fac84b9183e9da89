//! How long moves take: a streaming planner with full look-ahead.

mod corner;
mod limits;
mod line;
mod planner;
mod profile;
mod ramp;
mod runs;
mod settled;
mod totals;
mod trapezoid;
mod window;

pub use corner::COLLINEAR_RAD;
pub use limits::{AxisLimit, LIMIT_RANGE, PlanError};
pub use planner::{Asked, Corners, Move, Planner, Pushed, WINDOW};
pub use runs::{PUSH_RANGE, SPEED_STEP};
pub use settled::{ASKED, MoveKind, Settle, Settled};
pub use totals::{Sum, Totals};
