//! Moves of the machine that turns the blank, as they will be written.

/// What a machine move is for.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum MoveKind {
    /// G0: at the axes' own limits, beam dark.
    Travel,
    /// G1 with the beam dark: a gap in a scan line, a run-up.
    Dark,
    /// G1 with the beam on.
    Burn,
}

/// The axes a wrapped program can move.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub enum Axis {
    /// The linear axis along the work (X, or Y where the work lies along Y).
    Along,
    /// The rotary.
    Rotary,
    /// The focus axis.
    Z,
}

/// One straight move of the machine.
///
/// # Units
/// `along`, `rotary` and `z` are where the move ends, as whole counts of `10^-decimals` mm (rotary:
/// of the machine's rotary units). `time_s` is how long the move is to take, for
/// [`MoveKind::Travel`] zero: a travel takes what the axes take. `wall_mm` is the length on the
/// wall.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MachineMove {
    /// What it is for.
    pub kind: MoveKind,
    /// End along the work's axis, counts.
    pub along: i64,
    /// End of the rotary, counts, never folded into one turn.
    pub rotary: i64,
    /// End of Z, counts; `None` where the program does not drive Z.
    pub z: Option<i64>,
    /// Asked duration of a burn or dark move, seconds.
    pub time_s: f64,
    /// Length on the wall, mm.
    pub wall_mm: f64,
    /// Power, in the controller's S counts; `None` where the program gives no S. Zero unless a
    /// burn.
    pub power: Option<f64>,
}
