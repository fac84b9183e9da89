//! The blanks, machines and jobs that the targets lay their input on: the first byte chooses.

use stave::{Setup, setup};

/// Blanks, and where on them the art's origin is put, mm.
const BLANKS: [(&str, f64); 4] = [
    (include_str!("../../../fixtures/blanks/cup.toml"), 30.0),
    (include_str!("../../../fixtures/blanks/bottle.toml"), 40.0),
    (include_str!("../../../fixtures/blanks/tumbler.toml"), 40.0),
    (include_str!("../../../fixtures/blanks/ornament.toml"), -10.0),
];

const MACHINES: [&str; 2] = [
    include_str!("../../../fixtures/machines/degrees.toml"),
    include_str!("../../../fixtures/machines/swapped.toml"),
];

const LAYS: [&str; 4] = ["even-angle", "true-width", "true-shape", "label"];

/// A setup for a byte: two bits of blank, two of lay, one each of machine, dose, zones and feed.
pub(crate) fn chosen(byte: u8) -> Setup {
    let bit = |n: u8| usize::from(byte >> n & 1);
    let two = |n: u8| usize::from(byte >> n & 3);
    let (blank, at_mm) = BLANKS[two(0)];
    let job = format!(
        "lay = \"{}\"\ndose = \"{}\"\nzones = \"{}\"\ntilt = {}\n[place]\nat = {at_mm:?}\n",
        LAYS[two(2)],
        ["even", "as-given"][bit(5)],
        ["refuse", "mask"][bit(6)],
        [0.0, -2.0][bit(7)],
    );
    let blank = setup::read_blank(blank, "blank.toml").expect("a fixture");
    let machine = setup::read_machine(MACHINES[bit(4)], "machine.toml").expect("a fixture");
    Setup::new(blank, machine, setup::read_job(&job, "job.toml").expect("a job")).expect("a setup")
}

/// The setup that the first byte chooses, and what is left.
pub(crate) fn parted(data: &[u8]) -> Option<(Setup, &[u8])> {
    let (first, rest) = data.split_first()?;
    Some((chosen(*first), rest))
}
