//! The project's own wrap: the blanks, machine and jobs that the benches use.

use stave::{Setup, setup};

const MACHINE: &str = include_str!("../../fixtures/machines/degrees.toml");
/// mm from the foot of the cup to the flat origin.
pub const PLACE_AT_MM: f64 = 30.0;

/// A wall to lay things on.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Ware {
    /// A cylinder.
    Can,
    /// One frustum, so that the hand-written loop has the same to do.
    Cup,
    /// Five spans, one of them steep, and two zones at its back that nothing touches.
    Bottle,
    /// The same stations under `wall = "smooth"`.
    SmoothBottle,
    /// A ball by its stations, smooth.
    Ball,
}

impl Ware {
    /// Every wall.
    pub const ALL: [Self; 5] = [Self::Can, Self::Cup, Self::Bottle, Self::SmoothBottle, Self::Ball];

    /// A word for tables.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Can => "can",
            Self::Cup => "cup",
            Self::Bottle => "bottle",
            Self::SmoothBottle => "smooth bottle",
            Self::Ball => "ball",
        }
    }

    /// The blank's file.
    fn blank(self) -> String {
        match self {
            Self::Can => include_str!("../../fixtures/blanks/can.toml").to_owned(),
            Self::Cup => include_str!("../../fixtures/blanks/cup.toml").to_owned(),
            Self::Bottle => include_str!("../../fixtures/blanks/bottle.toml").to_owned(),
            Self::SmoothBottle => include_str!("../../fixtures/blanks/bottle.toml")
                .replace("wall = \"straight\"", "wall = \"smooth\""),
            Self::Ball => include_str!("../../fixtures/blanks/ornament.toml").to_owned(),
        }
    }

    /// Where the flat origin is put, so that 60 mm of art and its step lie on the wall.
    fn place_at_mm(self) -> f64 {
        match self {
            Self::Bottle | Self::SmoothBottle => 70.0,
            Self::Ball => -30.0,
            Self::Can | Self::Cup => PLACE_AT_MM,
        }
    }
}

/// The tapered cup on the rotary in degrees, true-width, everything else as it comes.
///
/// # Errors
/// Where the fixtures are not what the project reads.
pub fn bench_setup() -> Result<Setup, Box<dyn std::error::Error>> {
    setup_on(Ware::Cup, "lay = \"true-width\"\n")
}

/// A wall on the rotary in degrees under a job's first lines.
///
/// # Errors
/// Where the fixtures or the lines are not what the project reads.
pub fn setup_on(ware: Ware, job: &str) -> Result<Setup, Box<dyn std::error::Error>> {
    let job = format!("{job}[place]\nat = {:?}\n", ware.place_at_mm());
    let blank = setup::read_blank(&ware.blank(), ware.name())?;
    let machine = setup::read_machine(MACHINE, "degrees.toml")?;
    Ok(Setup::new(blank, machine, setup::read_job(&job, "bench.toml")?)?)
}
