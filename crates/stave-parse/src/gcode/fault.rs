//! A problem and where on its line it is.

use super::problem::Problem;
use super::words::letters;

/// Where on a raw line something is.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(super) enum Place {
    /// An offset in bytes.
    Byte(u32),
    /// The first word with one of these letters (bits as in [`letters`]), or the first word at all.
    Letters(u32),
}

/// A refused line.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Fault {
    pub(super) place: Place,
    // Boxed so that the way through without a fault stays narrow.
    pub(super) problem: Box<Problem>,
}

impl Fault {
    #[cold]
    pub(super) fn at(byte: u32, problem: Problem) -> Self {
        Self { place: Place::Byte(byte), problem: Box::new(problem) }
    }

    #[cold]
    pub(super) fn letter(letter: u8, problem: Problem) -> Self {
        Self { place: Place::Letters(letters(&[letter])), problem: Box::new(problem) }
    }
}

/// Why a line was not carried out to its end.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Stop<E> {
    /// The line is at fault.
    Fault(Fault),
    /// The sink refused the event of the words at this place.
    Sink(Place, E),
}

impl<E> From<Fault> for Stop<E> {
    fn from(fault: Fault) -> Self {
        Self::Fault(fault)
    }
}

impl Place {
    /// The offset in bytes if it is one, else `otherwise`.
    pub(super) fn offset_or(self, otherwise: u32) -> u32 {
        match self {
            Self::Byte(byte) => byte,
            Self::Letters(_) => otherwise,
        }
    }

    /// The offset in bytes on the raw line.
    pub(super) fn offset(self, line: &[u8]) -> usize {
        match self {
            Self::Byte(byte) => byte as usize,
            Self::Letters(wanted) => find(line, wanted).unwrap_or_else(|| first_byte(line)),
        }
        .min(line.len())
    }
}

/// The first byte that is not blank.
fn first_byte(line: &[u8]) -> usize {
    line.iter().position(|b| !matches!(b, b' ' | b'\t')).unwrap_or(0)
}

/// The first of the wanted letters outside comments and expressions.
fn find(line: &[u8], wanted: u32) -> Option<usize> {
    let mut in_comment = false;
    let mut depth = 0_u32;
    for (at, &byte) in line.iter().enumerate() {
        match byte {
            b'(' => in_comment = true,
            b')' => in_comment = false,
            _ if in_comment => {}
            b';' => return None,
            b'[' => depth += 1,
            b']' => depth = depth.saturating_sub(1),
            _ if depth == 0 && byte.is_ascii_alphabetic() && letters(&[byte]) & wanted != 0 => {
                return Some(at);
            }
            _ => {}
        }
    }
    None
}
