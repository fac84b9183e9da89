//! The machine with the work in it.
//!
//! [`Rig`] says which word is along, across, turn and focus, carries places on the wall to words
//! and words to the wall, and knows counts, limits and the rules of feeds. [`Beam`] says which
//! moves burn. [`MadeFor`] is what line 1 of a program says it was made for. [`Zones`] are the
//! patches of the wall that must not burn, [`Reach`] where the beam cannot. [`Clearance`] follows
//! the head over the work, [`LateLight`] where what burns falls.
//!
//! What a step burns, how it is cut, what is wrong with it and how long it takes is said above.
//!
//! ```
//! use stave_rig::{ROTARY, Rig};
//!
//! # let blank = stave_setup::read_blank(
//! #     "[[station]]\nat = 0\ndiameter = 80\n[[station]]\nat = 100\ndiameter = 60\n",
//! #     "cone.toml")?;
//! # let machine = stave_setup::read_machine(
//! #     "[x]\nspeed = 500\nacceleration = 5000\n[y]\nspeed = 500\nacceleration = 5000\n\
//! #      [rotary]\nword = \"A\"\nunits_per_turn = 360\nspeed = 360\nacceleration = 2000\n",
//! #      "bench.toml")?;
//! # let job = stave_setup::read_job("", "job.toml")?;
//! # let setup = stave_setup::Setup::new(blank, machine, job)?;
//! // A cone on a machine that turns it by A, in degrees: X 25, A 90 is a quarter of a turn round.
//! let rig = Rig::of_setup(&setup);
//! let mut words = [0.0; 4];
//! (words[rig.along], words[ROTARY]) = (25.0, 90.0);
//! let place = rig.place(&words, &mut 0);
//! assert!((place.at_mm - 25.0).abs() < 1e-9 && (place.radius_mm - 37.5).abs() < 1e-9);
//! assert!((place.turn_rad.to_degrees() - 90.0).abs() < 1e-9);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

#![deny(
    clippy::cast_possible_truncation,
    clippy::cast_possible_wrap,
    clippy::cast_precision_loss,
    clippy::cast_sign_loss,
    clippy::panic
)]

mod beam;
mod bed;
mod clearance;
mod feed;
mod focus;
mod knots;
mod late;
mod line_one;
mod made_for;
mod meant;
mod misfit;
mod play;
mod reach;
mod rig;
mod set_up;
mod zone;

pub use beam::Beam;
pub use bed::{Lowest, lowest};
pub use clearance::{
    Clearance, CrestLine, Head, HeadOverWork, HeadPart, LeastGap, Nearest, OverFacet, PartBeside,
    Pose, obstacle_across_mm, obstacle_along_mm,
};
pub use feed::{FeedRule, SAME_FEED};
pub use focus::{FOLLOW_TOLERANCE_MM, Focus, FocusAt, height_where_focused_mm};
pub use late::LateLight;
pub use line_one::{CAUTIONS, FIRST_WORDS, Header};
pub use made_for::{
    DURATION_UNKNOWN, MadeFor, Stamp, Swatch, TIME_UNKNOWN, duration_field, time_field,
};
pub use meant::Meant;
pub use misfit::Misfit;
pub use play::{Play, play_of};
pub use reach::{Reach, SAME_PLACE_MM};
pub use rig::{
    AXES, ROTARY, Rig, X, Y, Z, axis_letter, axis_limits, other_rotary, words_of, written_s,
};
pub use set_up::SetUp;
pub use zone::{InZone, Keeps, WallZone, Zones};
