//! The numbered parameters #1 to #5399 (3.2.1).

use super::problem::Problem;

/// The number of parameters plus one; they are numbered from 1.
const COUNT: usize = 5400;

/// The largest length or angle in a program, mm or degrees: a thousand kilometres, farther than any
/// machine goes.
pub(super) use stave_toolpath::number::MOST_WORD as FARTHEST;

/// The first of the six G28 home parameters.
pub(super) const HOME_G28: u16 = 5161;
/// The first of the six G30 home parameters.
pub(super) const HOME_G30: u16 = 5181;
/// The first of the six G92 offset parameters.
pub(super) const ORIGIN_OFFSETS: u16 = 5211;
/// The number of the coordinate system in use.
pub(super) const SYSTEM: u16 = 5220;

/// The first of the six parameters of coordinate system `number` (1 to 9).
pub(super) fn system_origin(number: u8) -> u16 {
    5201 + 20 * u16::from(number)
}

/// The store. Lengths of the machine's tables (homes, offsets, origins) are kept in mm, so that a
/// change of units does not move them; programs read and set them in the units in use.
#[derive(Clone)]
pub(super) struct Parameters {
    value: Box<[f64]>,
    /// Which of the homes were ever set: G28's in bits 0 to 5, G30's in bits 6 to 11.
    homes: u16,
}

impl Parameters {
    pub(super) fn new() -> Self {
        let mut new = Self { value: vec![0.0; COUNT].into_boxed_slice(), homes: 0 };
        new.store(SYSTEM, 1.0);
        new
    }

    /// The value as stored: mm for table lengths. Zero where nothing was set.
    pub(super) fn stored(&self, index: u16) -> f64 {
        self.value.get(usize::from(index)).copied().unwrap_or(0.0)
    }

    /// Six values from `first` on, as stored.
    pub(super) fn six(&self, first: u16) -> [f64; 6] {
        let mut six = [0.0; 6];
        for (slot, index) in six.iter_mut().zip(first..) {
            *slot = self.stored(index);
        }
        six
    }

    /// Stores six values from `first` on, lengths in mm.
    pub(super) fn store_six(&mut self, first: u16, six: &[f64; 6]) {
        for (value, index) in six.iter().zip(first..) {
            self.store(index, *value);
        }
    }

    /// Stores a value, lengths in mm. Indices out of range are ignored: they are checked when
    /// parsed.
    pub(super) fn store(&mut self, index: u16, value: f64) {
        if let Some(slot) = self.value.get_mut(usize::from(index)) {
            *slot = value;
        }
        self.homes |= home_bit(index);
    }

    /// The value as a program reads it, with `scale` mm to its unit.
    pub(super) fn get(&self, index: u16, scale: f64) -> f64 {
        let stored = self.stored(index);
        if is_length(index) { stored / scale } else { stored }
    }

    /// Sets a value as a program does, with `scale` mm to its unit.
    pub(super) fn set(&mut self, index: u16, value: f64, scale: f64) -> Result<(), Problem> {
        if index == SYSTEM && !super::code::whole(value).is_some_and(|n| (1..=9).contains(&n)) {
            return Err(Problem::BadSystemParameter(value));
        }
        let value = if is_length(index) { value * scale } else { value };
        if is_table(index) && value.abs() > FARTHEST {
            return Err(Problem::ParameterLength(index));
        }
        self.store(index, value);
        Ok(())
    }

    /// True where the home parameter was set.
    pub(super) fn home_known(&self, index: u16) -> bool {
        self.homes & home_bit(index) != 0
    }
}

impl std::fmt::Debug for Parameters {
    /// Only what is not zero: the whole table would drown everything around it.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_map().entries(self.value.iter().enumerate().filter(|(_, v)| **v != 0.0)).finish()
    }
}

/// The index, if `value` is one (3.3.2.2).
pub(super) fn index(value: f64) -> Result<u16, Problem> {
    super::code::whole(value)
        .and_then(|n| u16::try_from(n).ok())
        .filter(|&n| n >= 1 && usize::from(n) < COUNT)
        .ok_or(Problem::BadParameter(value))
}

fn home_bit(index: u16) -> u16 {
    match index {
        5161..=5166 => 1 << (index - HOME_G28),
        5181..=5186 => 1 << (index - HOME_G30 + 6),
        _ => 0,
    }
}

/// The place of the parameter in a row of six axis values, if it is one of the machine's tables.
fn axis_of(index: u16) -> Option<u16> {
    let first = match index {
        5061..=5066 => 5061,
        5161..=5166 => HOME_G28,
        5181..=5186 => HOME_G30,
        5211..=5216 => ORIGIN_OFFSETS,
        5221..=5386 if (index - 5221) % 20 < 6 => return Some((index - 5221) % 20),
        _ => return None,
    };
    Some(index - first)
}

fn is_table(index: u16) -> bool {
    axis_of(index).is_some()
}

fn is_length(index: u16) -> bool {
    axis_of(index).is_some_and(|axis| axis < 3)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tables() {
        assert!(is_length(5221) && is_length(5383) && !is_length(5384) && is_table(5386));
        assert!(!is_table(5227) && !is_table(5387) && !is_table(3) && !is_table(5220));
        assert_eq!(system_origin(1), 5221);
        assert_eq!(system_origin(9), 5381);
    }

    #[test]
    fn lengths_keep_their_size_in_other_units() {
        let mut p = Parameters::new();
        p.set(5222, 1.0, 25.4).unwrap();
        assert_eq!(p.get(5222, 1.0), 25.4);
        p.set(7, 1.0, 25.4).unwrap();
        assert_eq!(p.get(7, 1.0), 1.0);
    }

    #[test]
    fn homes_are_known_once_set() {
        let mut p = Parameters::new();
        assert!(!p.home_known(5161));
        p.set(5161, 0.0, 1.0).unwrap();
        assert!(p.home_known(5161) && !p.home_known(5181) && !p.home_known(5162));
    }
}
