//! The machine with the work in it.
//!
//! [`Rig`] says which word is along, across, turn and focus, carries places on the wall to words
//! and words to the wall, and knows counts, limits and the rules of feeds. [`Beam`] says which
//! moves burn. [`MadeFor`] is what line 1 of a program says it was made for. [`Zones`] are the
//! patches of the wall that must not burn, [`Reach`] where the beam cannot. [`Clearance`] follows
//! the head over the work.
//!
//! What a step burns, how it is cut, what is wrong with it and how long it takes is said above.

mod beam;
mod bed;
mod clearance;
mod focus;
mod knots;
mod line_one;
mod made_for;
mod misfit;
mod reach;
mod rig;
mod zone;

pub use beam::Beam;
pub use bed::{Lowest, lowest};
pub use clearance::{Clearance, CrestLine, LeastGap, Nearest, Pose};
pub use focus::{FOLLOW_TOLERANCE_MM, Focus};
pub use line_one::{CAUTIONS, FIRST_WORDS, Header};
pub use made_for::{MadeFor, TIME_UNKNOWN, time_field};
pub use misfit::Misfit;
pub use reach::{Reach, SAME_PLACE_MM};
pub use rig::{
    AXES, ROTARY, Rig, X, Y, Z, axis_letter, axis_limits, other_rotary, words_of, written_s,
};
pub use zone::{InZone, Zones};
