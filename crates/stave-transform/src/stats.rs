//! What a wrap did, in figures.

/// Figures of a wrap so far.
#[derive(Clone, Debug)]
pub struct Stats {
    /// Flat moves taken, burns and travels.
    pub moves_in: u64,
    /// Machine moves given.
    pub moves_out: u64,
    /// Flat burns taken.
    pub burns_in: u64,
    /// Least place along the axis burned, mm; infinite while nothing burned.
    pub at_min_mm: f64,
    /// Greatest place along the axis burned, mm.
    pub at_max_mm: f64,
    /// Least turn burned, radians.
    pub turn_min_rad: f64,
    /// Greatest turn burned, radians.
    pub turn_max_rad: f64,
    /// Moves slowed because the axis along the work could not follow.
    pub slowed_along: u64,
    /// Moves slowed because the rotary could not follow.
    pub slowed_rotary: u64,
    /// Moves slowed because the focus axis could not follow.
    pub slowed_z: u64,
    /// Moves slowed because an even dose would have needed more than full power.
    pub slowed_power: u64,
    /// Moves whose even dose lies below the power from which anything marks.
    pub below_least_power: u64,
    /// The rotary's greatest speed, units per second.
    pub rotary_speed_max: f64,
    /// The farthest any burn strays from the exact image, mm on the wall: measured where moves were
    /// cut, bounded elsewhere.
    pub chord_error_max_mm: f64,
    /// Burns and dark moves at their asked speeds, seconds; no travels, no dwells.
    pub nominal_s: f64,
    /// The same as slowed to what the axes and the dose allow, seconds.
    pub at_feeds_s: f64,
    /// Burned length on the wall, mm.
    pub burn_mm: f64,
    /// Burned length that a mask left dark, mm.
    pub masked_mm: f64,
    /// The program goes to heights that the machine has no axis for.
    pub z_left_out: bool,
}

impl Default for Stats {
    fn default() -> Self {
        Self {
            moves_in: 0,
            moves_out: 0,
            burns_in: 0,
            at_min_mm: f64::INFINITY,
            at_max_mm: f64::NEG_INFINITY,
            turn_min_rad: f64::INFINITY,
            turn_max_rad: f64::NEG_INFINITY,
            slowed_along: 0,
            slowed_rotary: 0,
            slowed_z: 0,
            slowed_power: 0,
            below_least_power: 0,
            rotary_speed_max: 0.0,
            chord_error_max_mm: 0.0,
            nominal_s: 0.0,
            at_feeds_s: 0.0,
            burn_mm: 0.0,
            masked_mm: 0.0,
            z_left_out: false,
        }
    }
}

impl Stats {
    /// How far the burned turn goes beyond one whole turn, radians.
    #[must_use]
    pub fn overlap_rad(&self) -> f64 {
        (self.turn_max_rad - self.turn_min_rad - std::f64::consts::TAU).max(0.0)
    }

    /// True where anything burned.
    #[must_use]
    pub fn burned(&self) -> bool {
        self.at_max_mm >= self.at_min_mm
    }
}
