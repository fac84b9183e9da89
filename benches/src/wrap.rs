//! The project's own wrap, with the files that the benches use.

use stave::{Setup, setup};

/// The tapered cup: one frustum, so that the hand-written loop has the same to do.
const BLANK: &str = include_str!("../../fixtures/blanks/cup.toml");
const MACHINE: &str = include_str!("../../fixtures/machines/degrees.toml");
/// mm from the foot to the flat origin.
pub const PLACE_AT_MM: f64 = 30.0;

/// The tapered cup on the rotary in degrees, true-width, everything else as it comes.
///
/// # Errors
/// Where the fixtures are not what the project reads.
pub fn bench_setup() -> Result<Setup, Box<dyn std::error::Error>> {
    let job = format!("lay = \"true-width\"\n[place]\nat = {PLACE_AT_MM:?}\n");
    let blank = setup::read_blank(BLANK, "cup.toml")?;
    let machine = setup::read_machine(MACHINE, "degrees.toml")?;
    Ok(Setup::new(blank, machine, setup::read_job(&job, "bench.toml")?)?)
}
