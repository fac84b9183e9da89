//! The words of a line that carry plain values.

/// The values of a line's words by letter; a bit says which are there, so that clearing costs
/// nothing.
#[derive(Clone, Debug)]
pub(super) struct Words {
    present: u32,
    // 32, so that an index of five bits needs no check.
    value: [f64; 32],
}

/// The set of the given letters (either case) as bits.
#[expect(clippy::indexing_slicing, reason = "the loop ends with the list")]
pub(super) const fn letters(list: &[u8]) -> u32 {
    let mut set = 0;
    let mut i = 0;
    while i < list.len() {
        set |= 1 << ((list[i] | 0x20) - b'a');
        i += 1;
    }
    set
}

/// The axis letters.
pub(super) const AXES: u32 = letters(b"XYZABC");
/// The axis letters in the order of [`stave_toolpath::Position`].
pub(super) const AXIS_LETTERS: [u8; 6] = *b"XYZABC";
/// The arc centre offsets.
pub(super) const OFFSETS: u32 = letters(b"IJK");

impl Words {
    pub(super) fn new() -> Self {
        Self { present: 0, value: [0.0; 32] }
    }

    #[inline]
    pub(super) fn clear(&mut self) {
        self.present = 0;
    }

    /// Every letter that is there, as bits.
    #[inline]
    pub(super) fn present(&self) -> u32 {
        self.present
    }

    #[inline]
    pub(super) fn any(&self, set: u32) -> bool {
        self.present & set != 0
    }

    /// The value of a letter, upper case.
    #[inline]
    #[expect(clippy::indexing_slicing, reason = "five bits are below 32")]
    pub(super) fn get(&self, letter: u8) -> Option<f64> {
        let index = usize::from(letter.wrapping_sub(b'A')) & 31;
        (self.present >> index & 1 != 0).then(|| self.value[index])
    }

    /// Sets the word with the given index (A is 0); false where it was there already.
    #[inline]
    #[expect(clippy::indexing_slicing, reason = "five bits are below 32")]
    pub(super) fn set(&mut self, index: usize, value: f64) -> bool {
        let index = index & 31;
        let bit = 1_u32 << index;
        if self.present & bit != 0 {
            return false;
        }
        self.present |= bit;
        self.value[index] = value;
        true
    }
}
