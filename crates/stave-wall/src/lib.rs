//! A surface of revolution, and the lays that carry a flat plane to it.
//!
//! Pure geometry: this crate knows no beam, no file and no G-code. Lengths are millimetres, angles
//! are radians, everything is `f64`, and nothing panics whatever the input.
//!
//! * [`Wall`] is the outer surface of a blank, from measured [`Station`]s or from a parametric
//!   curve. Length along its meridian is `s`, from 0 at the end with the smaller `at`.
//! * [`Section`] is what the wall is like at one `s`: place along the axis, radius, slope.
//! * [`Crest`] is the uppermost line of the wall when the rotary is tilted.
//! * [`Bends`] says what a smooth wall does between two places at the most.
//! * [`Lay`] carries flat points `(u, v)` to the wall, [`Distortion`] says what that costs, and
//!   [`LabelRoom`] how large a label may be.
//! * [`Strip`] is the narrowest level strip that holds a stretch of the meridian, [`LeastLine`] the
//!   straight line nearest to points, [`Development`] the flat sheet of a straight run,
//!   [`Silhouette`] the radii in a side view.
//! * [`TrueRunning`] is how far real ware lies from such a surface, [`OutOfRound`] that at one
//!   place.
//!
//! ```
//! use stave_wall::{Anchor, Lay, LayKind, LaySetting, Station, Wall, WallShape};
//!
//! let station = |at_mm, radius_mm| Station { at_mm, radius_mm };
//! let cone = Wall::from_stations(&[station(0.0, 30.0), station(40.0, 40.0)], WallShape::Straight)?;
//! let setting = LaySetting {
//!     kind: LayKind::EvenAngle,
//!     origin_s_mm: 0.0,
//!     origin_turn_rad: 0.0,
//!     reference_radius_mm: 40.0,
//!     anchor: Anchor::Drawing,
//! };
//! // 20 mm around are half a radian where the cone is widest, and so everywhere under this lay.
//! let laid = Lay::new(&cone, setting)?.map(&cone, 10.0, 20.0, &mut 0);
//! assert!((laid.s_mm - 10.0).abs() < 1e-9 && (laid.turn_rad - 0.5).abs() < 1e-9);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

#![deny(clippy::panic)]

mod bends;
mod crest;
mod curve;
mod development;
mod distortion;
mod error;
mod fit;
mod frustum;
mod geodesic;
mod knots;
mod label;
mod label_room;
mod label_table;
mod lay;
mod lay_kind;
mod least_line;
mod monotone;
mod out_of_round;
mod piece;
mod quadrature;
mod section;
mod silhouette;
mod strip;
mod wall;

pub use bends::{Bends, Bounds, LeastMost};
pub use crest::Crest;
pub use curve::ParametricPoint;
pub use development::Development;
pub use distortion::Distortion;
pub use error::{LayError, WallError};
pub use label_room::{LabelLimit, LabelRoom};
pub use lay::{Anchor, Laid, Lay, LaySetting};
pub use lay_kind::LayKind;
pub use least_line::LeastLine;
pub use out_of_round::{OutOfRound, TrueRunning};
pub use section::Section;
pub use silhouette::{Side, Silhouette, SilhouetteError, silhouette, thin_out};
pub use strip::Strip;
pub use wall::{Station, Wall, WallShape};
